"""gritfuncs log: what it prints and writes, when it ends with 0, and the pictures.  All logs are simulated."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from openpyxl import load_workbook
from simulated_logs import RPMS, pattern, simulate, write

import gritfuncs as gf
from gritfuncs.cli import main

SVG = "{http://www.w3.org/2000/svg}"
RPM_LIST = ",".join(f"{rpm:g}" for rpm in RPMS)
LOG = simulate(strokes=2)
DRESSED = gf.read_log(power=LOG.power, time=LOG.time)


@pytest.fixture
def path(tmp_path):
    return write(LOG, tmp_path / "shift.csv")


def names(folder):
    return sorted(each.name for each in folder.iterdir())


class TestCommand:
    def test_it_writes_readings_that_the_command_knee_reads(self, path, tmp_path, capsys):
        assert main(["log", str(path), "--rpm", RPM_LIST, "--parts", "2"]) == 0
        shown = capsys.readouterr()
        assert "14, of which 14 can be read" in shown.out and "short" in shown.out and shown.err == ""
        assert names(tmp_path) == ["shift-picture.svg", "shift-picture.xlsx", "shift-readings.csv", "shift.csv"]
        assert main(["knee", str(tmp_path / "shift-readings.csv")]) == 0
        assert "verdict    = found" in capsys.readouterr().out

    def test_a_file_that_is_not_there_is_named(self, path, tmp_path, capsys):
        assert main(["log", str(tmp_path / "none.csv")]) == 1
        assert capsys.readouterr().err == "gritfuncs log: none.csv: must be a file that exists\n"
        assert main(["log", str(path), str(tmp_path / "none.csv")]) == 1
        assert "none.csv: must be a file that exists" in capsys.readouterr().err

    def test_counts_that_differ_give_a_picture_and_no_readings(self, path, tmp_path, capsys):
        assert main(["log", str(path), "--rpm", RPM_LIST, "--parts", "3"]) == 1
        shown = capsys.readouterr()
        assert f"No readings written; picture: {tmp_path / 'shift-picture.svg'}, {tmp_path / 'shift-picture.xlsx'}" in shown.out
        assert "parts must be 21, 7 steps of 3 (got 14" in shown.err and shown.err.count("\n") == 1
        assert names(tmp_path) == ["shift-picture.svg", "shift-picture.xlsx", "shift.csv"]

    def test_what_was_written_stays_and_the_next_has_a_number(self, path, tmp_path, capsys):
        for _ in range(2):
            assert main(["log", str(path), "--rpm", RPM_LIST, "--parts", "2,2,2,2,2,2,2"]) == 0
        assert "shift-readings-2.csv" in names(tmp_path) and "shift-picture-2.svg" in names(tmp_path)

    def test_a_part_is_left_out_by_its_number(self, path, tmp_path):
        assert main(["log", str(path), "--rpm", RPM_LIST, "--parts", "2,2,2,1,2,2,2", "--not", "7"]) == 0
        trial = gf.read_trial(tmp_path / "shift-readings.csv")
        assert len(trial.used) == 13 and trial.counts["excluded"] == 1

    def test_a_trial_is_the_plan(self, path, tmp_path):
        rows = "\n".join(f"{rpm:g};" for rpm in np.repeat(RPMS, 2))
        plan = tmp_path / "plan.csv"
        plan.write_text("work_diameter;20;mm\nwork rpm [1/min];power [kW]\n" + rows, encoding="utf-8")
        assert main(["log", str(path), "--plan", str(plan)]) == 0
        assert [r.work_rpm for r in gf.read_trial(tmp_path / "shift-readings.csv").used] == list(np.repeat(RPMS, 2))

    def test_without_rpm_the_column_is_left_to_be_typed(self, path, tmp_path, capsys):
        assert main(["log", str(path)]) == 0
        assert "type them into the readings" in capsys.readouterr().out
        assert not gf.read_trial(tmp_path / "shift-readings.csv").used

    def test_what_is_no_grinding_ends_with_1_and_has_a_picture(self, tmp_path, capsys):
        time, power = pattern("spindle on and off")
        path = tmp_path / "milling.csv"
        path.write_text("time [s],power [kW]\n" + "\n".join(f"{t:.1f},{p:.4f}" for t, p in zip(time, power)), encoding="utf-8")
        assert main(["log", str(path), "--rpm", RPM_LIST]) == 1
        assert "power must rise and fall between idle and grinding" in capsys.readouterr().err
        assert names(tmp_path) == ["milling-picture.svg", "milling-picture.xlsx", "milling.csv"]

    @pytest.mark.parametrize(
        "arguments, text",
        [
            (["--rpm", "120,132,x"], "--rpm must be a number"),
            (["--rpm", "120,5"], "--rpm must be parted by semicolons"),
            (["--rpm", "120,-5,3"], "--rpm must be > 0 1/min"),
            (["--parts", "2.5"], "--parts must be a whole number"),
            (["--not", "a"], "--not must be a whole number"),
        ],
    )
    def test_a_command_line_that_is_not_understood_is_one_line(self, path, arguments, text, capsys):
        with pytest.raises(SystemExit) as caught:
            main(["log", str(path), *arguments])
        assert caught.value.code == 2
        assert text in (shown := capsys.readouterr().err) and shown.count("\n") == 1

    @pytest.mark.parametrize(
        "arguments, text",
        [
            (["--infeed-time", "0"], "--infeed-time must be > 0 s"),
            (["--between", "x"], "--between must be two times"),
            (["--power", "torque"], "--power must be the heading"),
            (["--rpm", "120", "--not", "99"], "--not must be numbers of parts"),
            (["--interval", "0"], "--interval must be > 0 s"),
            (["--plan", "none.csv"], "none.csv"),
        ],
    )
    def test_errors_name_the_option(self, path, arguments, text, capsys):
        assert main(["log", str(path), *arguments]) == 1
        assert text in (shown := capsys.readouterr().err) and shown.count("\n") == 1

    def test_semicolons_part_decimal_commas(self, path, tmp_path):
        assert main(["log", str(path), "--rpm", ";".join(f"{rpm:g},5" for rpm in RPMS), "--parts", "2"]) == 0
        assert gf.read_trial(tmp_path / "shift-readings.csv").used[0].work_rpm == 120.5


class TestPicture:
    def test_the_svg_shows_numbers_words_levels_and_idle(self, tmp_path):
        DRESSED.picture(tmp_path / "log.svg")
        root = ElementTree.parse(tmp_path / "log.svg").getroot()
        texts = ["".join(text.itertext()) for text in root.iter(f"{SVG}text")]
        assert {str(number) for number in range(1, 15)} <= set(texts)
        assert sum(text == "2 × short" for text in texts) == 4
        hatched = [box for box in root.iter(f"{SVG}rect") if box.get("fill") == "url(#hatch)"]
        assert len(hatched) == sum(stretch.word != "part" for stretch in DRESSED.stretches)
        lines = list(root.iter(f"{SVG}line"))
        assert sum(line.get("stroke-width") == "4" for line in lines) == 15  # a level each, and one in the large picture
        assert sum(line.get("stroke-dasharray") == "2 3" for line in lines) == 15
        assert any("± " in text for text in texts) and "power, kW" in texts
        upright = [line for line in lines if line.get("x1") == line.get("x2")]
        spans = [(line.get("x1"), float(line.get("y1")), float(line.get("y2"))) for line in upright]
        dots = [(dot.get("cx"), float(dot.get("cy"))) for dot in root.iter(f"{SVG}circle")]
        assert len(dots) == 14  # a net load each, in the middle of its two standard errors
        for x, y in dots:
            assert [below for at, below, above in spans if at == x and below > y > above and abs(below + above - 2 * y) < 0.3]

    def test_a_long_log_is_drawn_with_few_points_and_all_its_peaks(self, tmp_path):
        log = simulate(rate=50.0, infeed=10.0, rpms=RPMS[:4])
        power = log.power.copy()
        power[len(power) // 3] += 30
        gf.read_log(power=power, time=log.time).picture(tmp_path / "log.svg")
        root = ElementTree.parse(tmp_path / "log.svg").getroot()
        curve = next(root.iter(f"{SVG}polyline")).get("points").split()
        assert len(curve) <= 2002
        assert min(float(point.split(",")[1]) for point in curve) == 124  # cut at the upper edge of the panel

    def test_a_name_cannot_end_the_drawing(self, tmp_path):
        path = write(LOG, tmp_path / "a&b<c>.csv")
        gf.read_log(path).picture(tmp_path / "log.svg")
        texts = ["".join(text.itertext()) for text in ElementTree.parse(tmp_path / "log.svg").iter(f"{SVG}text")]
        assert any(text.startswith("a&b<c>.csv: 14 parts") for text in texts)

    def test_the_workbook_has_a_native_chart_and_the_tables(self, tmp_path):
        DRESSED.picture(tmp_path / "log.xlsx")
        book = load_workbook(tmp_path / "log.xlsx")
        assert book.sheetnames == ["Picture", "Parts", "Stretches", "Trace"]
        assert book["Parts"].max_row == 15 and book["Stretches"].max_row == 1 + len(DRESSED.stretches)
        assert book["Parts"]["F2"].value == pytest.approx(DRESSED.parts[0].net)
        assert len(book["Picture"]._charts) == 1
        assert book["Trace"].max_row <= 2002

    @pytest.mark.parametrize("name", ["log.png", "log", "log.SVGZ"])
    def test_other_endings_are_refused(self, name, tmp_path):
        with pytest.raises(ValueError, match="picture must end in .svg or .xlsx"):
            DRESSED.picture(tmp_path / name)

    @pytest.mark.parametrize("name", ["LOG.SVG", "LOG.XLSX"])
    def test_endings_may_be_capitals(self, name, tmp_path):
        DRESSED.picture(tmp_path / name)
        assert (tmp_path / name).read_bytes()[:2] == (b"PK" if name == "LOG.XLSX" else b"<s")

    @pytest.mark.parametrize("name", ["log.svg", "log.xlsx"])
    def test_nothing_is_written_over(self, name, tmp_path):
        (tmp_path / name).write_text("mine")
        with pytest.raises(ValueError, match="must not exist yet"):
            DRESSED.picture(tmp_path / name)
        assert (tmp_path / name).read_text() == "mine"


def test_the_report_says_what_was_read_and_what_two_errors_mean():
    text = DRESSED.report()
    assert re.search(r"\[\[Parts\]\] 14, of which 14 can be read; lag 0\.\d+ s", text)
    assert "two standard errors" in text and text.count("short: lasts") == 8
