"""The report of a trial as a page: what it says, that no text becomes markup, that it needs nothing else, and how it prints."""

from __future__ import annotations

import csv
import os
import re
import stat
import subprocess
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gritfuncs import __version__, cli, demo
from gritfuncs.markup import element, table, text
from gritfuncs.reports import pdf
from gritfuncs.reports.trial import MEANS, trial_page
from gritfuncs.sheets.words import CAUTIONS
from gritfuncs.trial import read_trial

DAY = date(2026, 3, 4)
HOSTILE = "\"><script>alert(1)</script><img src=x onerror=alert(2)> & ' </title></style></svg>"
EMPTY_ELEMENTS = {"meta", "img", "br", "hr", "link", "input"}


class Read(HTMLParser):
    """A page as a reader of HTML sees it: its elements in order, their attributes, its words; every element must be closed."""

    def __init__(self, page):
        super().__init__()
        self.elements, self.attributes, self.words, self.open = [], [], [], []
        self.feed(page)
        self.close()
        assert not self.open

    def handle_starttag(self, tag, attributes):
        self.elements.append(tag)
        self.attributes += attributes
        if tag not in EMPTY_ELEMENTS:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.elements.append(tag)
        self.attributes += attributes

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, words):
        if self.open and self.open[-1] != "style":
            self.words.append(words)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


def trial_file(folder, notes=(), name="trial.csv", head="", damage=(), knee=True):
    """Readings of an invented wheel with a knee at 100 1/min, or with an energy that only falls."""
    lines = ["wheel diameter;8;in", "work diameter;20;mm", "infeed rate;0,6;mm/min", "wheel speed;22;m/s", "side;external"]
    lines += ["grit density;18,9;1/mm²", "shape ratio;10", "contact width;15;mm", "idle;0,5;kW"]
    rows = [[head]] if head else []
    rows += [*(line.split(";") for line in lines), ["rpm", "power [kW]", "note", "damage"]]
    for number, rpm in enumerate((40, 55, 70, 85, 100, 120, 140, 160, 180, 200)):
        fall = max(0.0, 1 - (rpm / 100) ** 0.25) if knee else 2 - (rpm / 100) ** 0.25
        power = 0.5 + 1.2 * (1 + 3 * fall + 0.004 * (-1) ** number)
        note, hurt = ((list(each) + [""] * 10)[number] for each in (notes, damage))
        rows.append([rpm, f"{power:.4f}".replace(".", ","), note, hurt])
    path = Path(folder) / name
    with path.open("w", encoding="utf-8", errors="replace", newline="") as file:
        csv.writer(file, delimiter=";").writerows(rows)
    return path


@pytest.fixture(scope="module")
def example(tmp_path_factory):
    path = tmp_path_factory.mktemp("report") / "readings.csv"
    path.write_text(demo.readings_text(), encoding="utf-8")
    return read_trial(path)


class TestMarkup:
    @given(st.text(alphabet=st.characters(exclude_categories=())))
    def test_a_text_comes_back_as_it_was_and_never_as_an_element(self, said):
        page = element("p", said, title=said)
        assert Read(page).elements == ["p"]
        root = ElementTree.fromstring(page)  # whole in XML, too
        assert not list(root)
        plain = "".join(sign for sign in said if sign in "\n\t" or sign.isprintable())
        assert re.sub("\ufffd", "", root.text or "").replace("\ufffd", "").count("<") == said.count("<")
        assert "".join(sign for sign in root.text or "" if sign in "\n\t" or sign.isprintable()).replace(
            "\ufffd", ""
        ) == plain.replace("\ufffd", "")

    def test_signs_that_no_document_may_hold_or_that_turn_the_text_are_replaced(self):
        assert text("a\x00b\udce4c\u202ed\x1b[31me\uffff") == "a\ufffdb\ufffdc\ufffdd\ufffd[31me\ufffd"
        assert text("a\ud800").encode("utf-8")

    def test_markup_that_was_made_here_stays(self):
        assert element("p", element("b", "<x>"), "<y>") == "<p><b>&lt;x&gt;</b>&lt;y&gt;</p>"
        assert table(["<h>"], [["<a>"]]).count("&lt;") == 2


class TestWhatItSays:
    def test_the_example(self, example):
        page = Read(trial_page(example, DAY))
        knee = example.knee
        for said in (
            f"{example.knee_rpm:.4g} 1/min work rpm holds {knee.knee:.4g} µm in this setup",
            f"the band {example.rpm_for(knee.low):.4g} to {example.rpm_for(knee.high):.4g} 1/min",
            f"found at grit depth {knee.knee:.4g} µm, interval {knee.low:.4g} to {knee.high:.4g} µm",
            MEANS["found"],
            "Invented example: carbide pin",
            "Report of 2026-03-04",
            f"gritfuncs {__version__}, Python 3.",
            "prefactor 4",
            *CAUTIONS,
        ):
            assert said in page.text, said
        for reading in example.readings:
            assert f"{reading.row} {reading.work_rpm:g} {reading.load:g} {reading.idle:g} {reading.depth:.4g}" in page.text

    def test_values_as_written_and_as_used(self, tmp_path):
        page = Read(trial_page(read_trial(trial_file(tmp_path)), DAY))
        assert "wheel diameter 8 in 203.2 mm" in page.text and "infeed rate on the radius 0.6 mm/min 0.6 mm/min" in page.text

    @pytest.mark.parametrize("written, side", [("external", "external"), ("internal", "internal"), ("1", "external")])
    def test_the_side_of_contact_is_named_as_it_is_used(self, written, side, tmp_path):
        path = trial_file(tmp_path)
        text_ = (
            path.read_text(encoding="utf-8")
            .replace("side;external", f"side;{written}")
            .replace("diameter;8;in", "diameter;15;mm")
        )
        path.write_text(text_, encoding="utf-8")
        assert f"side of contact {written} {side} " in Read(trial_page(read_trial(path), DAY)).text

    def test_an_infeed_rate_on_the_diameter_is_shown_as_written_and_halved(self, tmp_path):
        path = trial_file(tmp_path)
        path.write_text(
            path.read_text(encoding="utf-8").replace("infeed rate;0,6", "infeed rate on the diameter;0,6"), encoding="utf-8"
        )
        assert "infeed rate on the radius 0.6 mm/min on the diameter 0.3 mm/min" in Read(trial_page(read_trial(path), DAY)).text

    def test_a_setup_given_beside_the_file_is_not_said_to_be_in_it(self, tmp_path, example):
        path = tmp_path / "sheet.csv"
        path.write_text("rpm;power [kW]\n100;2\n120;1.9\n", encoding="utf-8")
        page = Read(trial_page(read_trial(path, setup=example.setup), DAY))
        assert "wheel diameter given beside the file 200 mm" in page.text

    def test_a_verdict_without_a_knee_sets_nothing(self, tmp_path):
        trial = read_trial(trial_file(tmp_path, knee=False))
        page = Read(trial_page(trial, DAY))
        assert trial.knee.verdict == "still falling" and MEANS["still falling"] in page.text
        assert f"Nothing yet. Next: {trial.knee.advice}." in page.text and "1/min work rpm" not in page.text

    def test_no_reading_at_all(self, tmp_path):
        path = tmp_path / "none.csv"
        path.write_text("rpm;power\n120;x\n", encoding="utf-8")
        page = Read(trial_page(read_trial(path), DAY))
        assert (
            "No reading can be used" in page.text and "left out: load is not a number" in page.text and "svg" not in page.elements
        )

    def test_every_row_is_there_with_what_became_of_it(self, tmp_path):
        path = tmp_path / "rows.csv"
        path.write_text("rpm;power;use?\n120;2;\n130;1.9;no\nx;1;\n120;2;\n", encoding="utf-8")
        page = Read(trial_page(read_trial(path), DAY))
        for said in ("excluded", "left out: rpm is not a number", "used, same as row 2", "2 used, 1 excluded, 1 left out"):
            assert said in page.text

    def test_relative_depths_are_not_called_micrometres(self, tmp_path):
        path = trial_file(tmp_path)
        bare = tmp_path / "bare.csv"
        bare.write_text("\n".join(path.read_text(encoding="utf-8").splitlines()[9:]), encoding="utf-8")
        page = Read(trial_page(read_trial(bare), DAY))
        assert "of this trial only" in page.text and "µm" not in page.text.partition("Setup")[0]

    def test_the_meaning_of_every_verdict_is_there(self):
        from gritfuncs.knee import VERDICTS

        assert set(MEANS) == set(VERDICTS)


class TestNoTextBecomesMarkup:
    def elements(self, folder, **texts):
        folder.mkdir()
        return Read(trial_page(read_trial(trial_file(folder, **texts)), DAY))

    @pytest.mark.parametrize(
        "place", [dict(notes=[HOSTILE] * 10), dict(head=HOSTILE), dict(damage=[HOSTILE, "", HOSTILE])], ids=str
    )
    def test_of_a_file(self, tmp_path, place):
        harmless = {
            name: "harmless" if name == "head" else ["harmless" if each else "" for each in said] for name, said in place.items()
        }
        attacked, plain = self.elements(tmp_path / "a", **place), self.elements(tmp_path / "b", **harmless)
        assert attacked.elements == plain.elements
        assert [name for name, _ in attacked.attributes] == [name for name, _ in plain.attributes]
        assert "<script>alert(1)</script>" in attacked.text  # as words

    @pytest.mark.skipif(os.name == "nt", reason="no such names there")
    @pytest.mark.parametrize("name", ['<svg onload=alert(1)>"&.csv', "a\u202evsc.csv", "<!--.csv", "]]>.csv"])
    def test_of_a_file_name_in_head_and_chart(self, tmp_path, name):
        path = trial_file(tmp_path, name=name)
        page = trial_page(read_trial(path), DAY)
        assert Read(page).elements == Read(trial_page(read_trial(trial_file(tmp_path)), DAY)).elements
        svg = re.search("<svg.*</svg>", page, re.DOTALL)[0]
        assert not [found for found in ElementTree.fromstring(svg).iter() if "onload" in found.attrib]

    @given(st.text(min_size=1, max_size=30))
    def test_whatever_is_noted(self, tmp_path_factory, said):
        folder = tmp_path_factory.mktemp("noted")
        try:
            trial = read_trial(trial_file(folder, notes=[said] * 10))
        except ValueError:
            return
        assert set(Read(trial_page(trial, DAY)).elements).isdisjoint({"script", "img", "a", "iframe", "object", "form", "link"})


class TestItNeedsNothingElse:
    def test_nothing_is_loaded_and_nothing_runs(self, example):
        page = trial_page(example, DAY)
        read = Read(page)
        assert set(read.elements).isdisjoint({"script", "link", "img", "iframe", "object", "embed", "a", "base", "form"})
        assert {name for name, _ in read.attributes if name in ("src", "href", "xlink:href") or name.startswith("on")} == set()
        assert not re.search(r"@import|url\((?!#)", page)
        assert ("content", "default-src 'none'; style-src 'unsafe-inline'") in read.attributes

    def test_the_chart_is_whole_xml_and_says_in_words_what_its_shapes_are(self, example):
        svg = ElementTree.fromstring(re.search("<svg.*</svg>", trial_page(example, DAY), re.DOTALL)[0])
        said = [found.text for found in svg.iter() if found.tag.endswith("text")]
        assert {"readings", "fitted line", "grit depth, µm", "specific energy, J/mm³"} <= set(said)
        assert any(words.startswith("95 % interval of the knee: ") for words in said)
        assert sum(found.tag.endswith("circle") for found in svg.iter()) == len(example.used) + 1  # one in the key


class TestCommand:
    def run(self, capsys, *arguments):
        code = cli.main(["report", *map(str, arguments)])
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    def test_a_page_each_in_the_current_folder(self, tmp_path, monkeypatch, capsys):
        (tmp_path / "here").mkdir()
        paths = [trial_file(tmp_path, name=name) for name in ("one.csv", "two.csv")]
        monkeypatch.chdir(tmp_path / "here")
        code, out, err = self.run(capsys, *paths)
        assert (code, err) == (0, "") and out == "report: one-report.html\nreport: two-report.html\n"
        assert Path("one-report.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")

    def test_nothing_is_overwritten(self, tmp_path, monkeypatch, capsys):
        path = trial_file(tmp_path)
        monkeypatch.chdir(tmp_path)
        Path("trial-report.html").write_text("mine")
        code, out, err = self.run(capsys, path)
        assert code == 1 and not out and err == "gritfuncs report: trial-report.html: must not exist yet\n"
        assert Path("trial-report.html").read_text() == "mine"

    def test_a_file_that_cannot_be_read_does_not_stop_the_others(self, tmp_path, monkeypatch, capsys):
        path = trial_file(tmp_path)
        monkeypatch.chdir(tmp_path)
        code, out, err = self.run(capsys, "nothing.csv", path)
        assert code == 1 and out == "report: trial-report.html\n" and err.count("\n") == 1 and "nothing.csv" in err

    def test_output_and_title(self, tmp_path, capsys):
        code, _, _ = self.run(capsys, trial_file(tmp_path), "--output", tmp_path / "page.html", "--title", "Wheel 7 <b>")
        assert code == 0 and "Wheel 7 <b>" in Read((tmp_path / "page.html").read_text(encoding="utf-8")).text

    @pytest.mark.parametrize(
        "more, said", [(["a.csv"], "--output must be left out for several files"), ([], "--output must end in .html")]
    )
    def test_output_that_cannot_be(self, tmp_path, capsys, more, said):
        code, out, err = self.run(capsys, trial_file(tmp_path), *more, "--output", tmp_path / "page.txt")
        assert code == 1 and not out and said in err and err.count("\n") == 1

    @pytest.mark.skipif(os.name == "nt", reason="a script of the shell")
    def test_pdf_by_a_browser_that_is_there(self, tmp_path, monkeypatch, capsys):
        program = tmp_path / "bin" / "chromium"
        program.parent.mkdir()
        program.write_text('#!/bin/sh\nfor each; do case "$each" in --print-to-pdf=*) echo printed > "${each#*=}";; esac; done\n')
        program.chmod(program.stat().st_mode | stat.S_IXUSR)
        monkeypatch.setenv("PATH", f"{program.parent}{os.pathsep}{os.environ['PATH']}")
        code, out, err = self.run(capsys, trial_file(tmp_path), "--output", tmp_path / "page.html", "--pdf")
        assert (code, err) == (0, "") and out.splitlines()[1] == f"PDF: {tmp_path / 'page.pdf'}"
        assert (tmp_path / "page.pdf").read_text() == "printed\n"

    def test_without_one_a_line_says_how_to_print_and_the_page_is_there(self, tmp_path, monkeypatch, capsys):
        monkeypatch.setattr(pdf, "browser", lambda: None)
        code, out, err = self.run(capsys, trial_file(tmp_path), "--output", tmp_path / "page.html", "--pdf")
        assert code == 1 and out.startswith("report: ") and err.count("\n") == 1 and "print it" in err
        assert (tmp_path / "page.html").exists()

    def test_paper(self, example, tmp_path):
        """Two A4 pages at most, by a real browser."""
        if pdf.browser() is None:
            pytest.skip("no browser of the Chromium family here")
        pdf.write_pdf(trial_page(example, DAY), tmp_path / "page.pdf")
        told = subprocess.run(["pdfinfo", str(tmp_path / "page.pdf")], capture_output=True, text=True, check=True).stdout
        assert 1 <= int(re.search(r"Pages:\s+(\d+)", told)[1]) <= 2 and "(A4)" in told


def test_depths_of_a_file_are_not_said_to_be_under_the_prefactor_of_the_library(tmp_path):
    path = tmp_path / "depths.csv"
    path.write_text(
        "grit depth [µm];specific energy [J/mm³]\n" + "".join(f"{1 + i / 10};{max(50, 90 - 10 * i)}\n" for i in range(10))
    )
    page = Read(trial_page(read_trial(path), DAY))
    assert "under which prefactor" in page.text and "prefactor 4" not in page.text


class TestDamage:
    """Noted within the interval of the knee, or where it cannot be placed, it takes the rpm away; elsewhere it warns."""

    def page(self, folder, row):
        return Read(trial_page(read_trial(trial_file(folder, damage=[""] * row + ["burn <x>"])), DAY))

    def test_at_the_knee(self, tmp_path):
        page = self.page(tmp_path, 4)
        assert "DAMAGE SEEN in this trial (row 15: burn <x>)." in page.text and "No rpm: damage was seen at the knee" in page.text
        assert "1/min work rpm" not in page.text and not re.search(r"\d 1/min", page.text.partition("Readings:")[0])

    def test_elsewhere(self, tmp_path):
        page = self.page(tmp_path, 0)
        assert (
            "None of it within the band about the knee: stay within the band" in page.text and "1/min work rpm holds" in page.text
        )
        assert page.text.index("DAMAGE SEEN") < page.text.index("1/min work rpm holds") < page.text.index("Verdict")

    def test_in_the_chart_by_shape_and_word(self, tmp_path):
        page = self.page(tmp_path, 0)
        assert "damage seen" in page.text and "row 11" in page.text


def test_what_each_value_came_from_where_there_are_several_places(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text(
        "contact width;15;mm\nrpm;power [kW]\n" + "".join(f"{rpm};2\n" for rpm in range(60, 160, 10)), encoding="utf-8"
    )
    setup = tmp_path / "press.toml"
    setup.write_text(
        'wheel_diameter = "8 in"\nwheel_rpm = 2100\nwork_diameter = 20\ninfeed_rate = 0.6\nside = "external"\n'
        'grit_density = 18.9\nshape_ratio = 10\nmachine = "press <7>"\n'
    )
    page = Read(trial_page(read_trial(path, setup=setup), DAY))
    assert "wheel diameter 8 in 203.2 mm press.toml" in page.text and "grinding width 15 mm 15 mm sheet.csv" in page.text
    assert "wheel speed follows from the others 22.343 m/s press.toml" in page.text and "press <7>" in page.text
