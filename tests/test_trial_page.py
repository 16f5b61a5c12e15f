"""A trial as tables: each row and what became of it, each value as given and as used, and the same in the report."""

from __future__ import annotations

import math
import re

import pytest

from gritfuncs.trial import page, read_trial
from gritfuncs.trial.picture import chart_of

SETUP = (
    "work_diameter;20\nwheel_diameter;200\nwheel_speed;25\nmarked speed;30\nside;external\ngrit_density;20\nshape_ratio;10\n"
    "contact width;15\ninfeed rate;0.6\nnoise;2\n"
)
# An infeed rate and a wheel speed of its own in one row; 1.55 kW at 0.628 mm³/(mm·s) and 15 mm are 164.5 J/mm³.
ROWS = (
    "rpm;power;idle;infeed rate;wheel speed;note;damage;use\n120;2.05;0.5;;;first;;\n132.25;2.1;0.5;0.72;24;;burn;\n\n"
    "144;1.9;0.5;0.6;;;;no\n150;x;0.5;0.6;;;;\n"
)


def read(folder, text, name="trial.csv", **options):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return read_trial(path, **options)


def cells(markup):
    return [re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row) for row in markup.split("<tr>")[1:]]


def test_each_row_that_is_not_blank_is_shown_with_what_became_of_it(tmp_path):
    heads, *rows = cells(page.readings_table(read(tmp_path, SETUP + ROWS)))
    assert heads == [
        *("row", "work rpm, 1/min", "infeed, mm/min", "wheel, m/s", "load, kW", "idle, kW", "grit depth, µm", "energy, J/mm³"),
        *("what became of it", "note"),
    ]
    assert rows == [
        ["12", "120", "-", "-", "2.05", "0.5", "1.291", "164.5", "used", "first"],
        ["13", "132.25", "0.72", "24", "2.1", "0.5", "1.413", "141.5", "used; <strong>DAMAGE SEEN: burn</strong>", ""],
        ["15", "144", "-", "-", "1.9", "0.5", "-", "-", "excluded", ""],
        ["16", "150", "-", "-", "-", "0.5", "-", "-", "left out: load is not a number", ""],
    ]


def test_damage_is_shown_at_rows_that_do_not_count_too(tmp_path):
    trial = read(tmp_path, "rpm;power;use;damage\n120;2;;\n132;1.9;no;burn\n144;x;;crack\n")
    _, *rows = cells(page.readings_table(trial))
    assert [row[6] for row in rows] == [
        "used",
        "excluded; <strong>DAMAGE SEEN: burn</strong>",
        "left out: load is not a number; <strong>DAMAGE SEEN: crack</strong>",
    ]


def test_readings_are_shown_with_as_many_figures_as_meters_have(tmp_path):
    rows = "rpm;power;idle;infeed rate;wheel speed\n120.12345;2.1234567;0.51234567;0.6123456;23.123456\n130;2;0.5;;\n"
    row = cells(page.readings_table(read(tmp_path, SETUP + rows)))[1]
    assert row[1:6] == ["120.12", "0.61235", "23.123", "2.12346", "0.512346"]


def test_a_load_meter_has_no_unit_and_a_trial_of_rpm_alone_no_other_columns(tmp_path):
    trial = read(tmp_path, "rpm;load\n120;20\n132;19\n")
    heads, *rows = cells(page.readings_table(trial))
    assert heads == [
        "row",
        "work rpm, 1/min",
        "load",
        "idle",
        "grit depth, relative",
        "energy, relative",
        "what became of it",
        "note",
    ]
    assert rows == [["2", "120", "20", "0", "1", "20", "used", ""], ["3", "132", "19", "0", "1.024", "19", "used", ""]]
    assert page.setup_table(trial) == ""


def test_the_reading_out_of_line_is_marked(tmp_path):
    readings = [f"{40 + 12 * step};{30 + 60 * max(0, 1 - (40 + 12 * step) / 100):.2f}" for step in range(14)]
    readings[8] = "136;60"
    trial = read(tmp_path, "rpm;load\n" + "\n".join(readings) + "\n")
    marked = [row[0] for row in cells(page.readings_table(trial)) if "<strong>out of line with the others</strong>" in row[6]]
    assert marked == ["10"] and trial.suspect.row == 10


def test_each_value_is_shown_as_given_and_as_used(tmp_path):
    expected = [
        ["what", "as given", "as used", "unit"],
        ["work diameter", "20", "20", "mm"],
        ["infeed rate on the radius", "0.6", "0.6", "mm/min"],
        ["wheel speed", "25", "25", "m/s"],
        ["wheel diameter", "200", "200", "mm"],
        ["side of contact", "external", "external", ""],
        ["active grits per area", "20", "20", "1/mm²"],
        ["chip width to thickness ratio", "10", "10", ""],
        ["grinding width", "15", "15", "mm"],
        ["marked wheel speed", "30", "30", "m/s"],
        ["noise", "2", "2", "%"],
    ]
    assert cells(page.setup_table(read(tmp_path, SETUP + ROWS))) == expected


def test_where_values_came_from_is_shown_where_there_are_two_places(tmp_path):
    first, rest = SETUP.split("\n", 1)
    (tmp_path / "part.toml").write_text('work_diameter = "2 cm"\n', encoding="utf-8")
    trial = read(tmp_path, rest + ROWS, setup=tmp_path / "part.toml")
    table = cells(page.setup_table(trial))
    assert table[0] == ["what", "as given", "as used", "unit", "from"]
    assert ["work diameter", "2 cm", "20", "mm", "part.toml"] in table and ["noise", "2", "2", "%", "trial.csv"] in table
    report = trial.report().splitlines()
    assert "    work diameter                  =         20 mm       from part.toml" in report
    assert "    wheel speed                    =         25 m/s      from trial.csv" in report
    beside = read(tmp_path, ROWS.replace("wheel speed", "x"), setup=read(tmp_path, SETUP + ROWS).setup)
    assert ["wheel speed", "given beside the file", "25", "m/s"] in cells(page.setup_table(beside))


def test_a_designation_and_the_density_that_follows_are_told_apart(tmp_path):
    grits = SETUP.replace("grit_density;20", "grit;D126\nconcentration;100\nactive_fraction;0.5")
    table = cells(page.setup_table(read(tmp_path, grits + ROWS)))
    (row,) = [row for row in table if row[0] == "active grits per area"]
    assert (row[1], row[3]) == ("follows from the others", "1/mm²")
    expected = 1e6 * 0.5 * (6 * 0.25 / (math.pi * 115.5**3)) ** (2 / 3)  # D126 is 115.5 µm; 100 is a quarter of the volume
    assert float(row[2]) == pytest.approx(expected, rel=1e-5)
    assert any(row[1:] == ["D126", "D126", ""] for row in table)


def test_the_report_has_the_used_rows_with_their_own_settings(tmp_path):
    lines = read(tmp_path, SETUP + ROWS).report().splitlines()
    place = lines.index("[[Used]]")
    assert lines[place + 1 : place + 6] == [
        "           row       rpm    infeed     wheel      load      idle     depth    energy",
        "                   1/min    mm/min       m/s        kW        kW        µm     J/mm³",
        "            12       120       0.6        25      2.05       0.5     1.291     164.5",
        "            13    132.25      0.72        24       2.1       0.5     1.413     141.5",
        "[[Knee]]",
    ]
    assert lines[1:4] == [
        "Rows: 2 used, 1 excluded, 1 left out, 1 blank",
        "    row 15: excluded",
        "    row 16: left out: load is not a number",
    ]
    assert "    DAMAGE SEEN in row 13: burn" in lines and "    shape" not in lines
    place = lines.index("[[Setup]]")
    assert lines[place + 6 : place + 9] == [
        "    chip width to thickness ratio  =         10",
        "    grinding width                 =         15 mm",
        "    side of contact                =   external",
    ]


def test_a_trial_without_a_usable_reading_says_so_once(tmp_path):
    trial = read(tmp_path, "rpm;load\n120;\n132;x\n")
    said = "No reading can be used, so nothing can be said about a knee."
    assert page.chart(trial) == f"<p>{said}</p>" and page.answer(trial) == "" and trial.report().endswith(said)
    assert trial.report().splitlines()[1] == "Rows: 0 used, 2 left out"
    assert "[[Used]]" not in trial.report() and trial._repr_html_().count(said) == 1
    assert [row[-2] for row in cells(page.readings_table(trial))[1:]] == [
        "left out: load is blank",
        "left out: load is not a number",
    ]
    with pytest.raises(ValueError, match=r"\(row 2: left out: load is blank, and 1 more\)"):
        trial.knee  # noqa: B018
    with pytest.raises(ValueError, match="all rows are blank"):
        read(tmp_path, "rpm;load\n;\n").knee  # noqa: B018


def test_a_long_note_and_long_words_of_damage_are_cut_in_the_report(tmp_path):
    report = read(
        tmp_path, f"rpm;load;note;damage\n120;20;;{'b' * 61}\n132;19;{'n' * 60};\n144;;{'n' * 61};\n150;;{'n' * 60};\n"
    ).report()
    assert f"DAMAGE SEEN in row 2: {'b' * 57}...\n" in report
    assert (
        f"row 4: left out: load is blank ({'n' * 57}...)" in report and f"row 5: left out: load is blank ({'n' * 60})" in report
    )


# --- the chart ---

READINGS = "120;2.2\n132;2\n144;1.9\n160;1.88\n"


@pytest.mark.parametrize(
    "text, options, across, up",
    [
        (SETUP + "rpm;power\n" + READINGS, {}, "grit depth, µm", "specific energy, J/mm³"),
        (SETUP.replace("contact width;15\n", "") + "rpm;power\n" + READINGS, {}, "grit depth, µm", "net load, kW"),
        ("rpm;current\n" + READINGS, {}, None, "net load, A"),
        ("rpm;load\n" + READINGS, {}, None, "net load, as the meter shows it"),
        ("grit depth;load\n" + READINGS.replace("1", "1."), {}, "grit depth, µm", "net load, as the meter shows it"),
    ],
)
def test_the_axes_of_the_chart_say_what_they_show_and_in_which_unit(tmp_path, text, options, across, up):
    drawn = chart_of(read(tmp_path, text, **options))
    relative = "grit depth, relative: (work rpm / first used work rpm)^(1/4)"
    assert (drawn.x_label, drawn.y_label, drawn.title) == (across or relative, up, "trial.csv")


def knee_text(head="", damage=()):
    """Invented loads that fall with the depth, the fourth root of the rpm, up to 100 1/min and stay at 30."""
    rows = [(rpm, 30 + 300 * max(0.0, 1 - (rpm / 100) ** 0.25)) for rpm in range(40, 200, 12)]
    return f"{head}rpm;load;damage\n" + "".join(f"{rpm};{load:.2f};{'burn' if rpm in damage else ''}\n" for rpm, load in rows)


def test_the_chart_draws_the_knee_with_its_rpm_and_the_damage_at_its_readings(tmp_path):
    trial = read(tmp_path, SETUP + knee_text(damage=(40, 184)))
    by_name = {getattr(layer, "label", None) or layer.word: layer for layer in chart_of(trial).layers}
    knee = by_name[f"knee {trial.knee.knee:.4g} µm, {trial.knee_rpm:.4g} 1/min"]
    assert knee.x == trial.knee.knee and trial.knee_rpm == pytest.approx(100, rel=1e-3)
    hurt = by_name["damage seen"]
    assert list(hurt.x) == [trial.setup.depth(40), trial.setup.depth(184)] and list(hurt.y) == [
        91.42,
        30,
    ]  # 300 (1 - 0.4^(1/4)) = 61.42
    assert list(hurt.words) == ["row 12", "row 24"] and hurt.shape == "cross"
    withdrawn = read(tmp_path, knee_text(damage=(100,)))
    names = [getattr(layer, "label", None) or layer.word for layer in chart_of(withdrawn).layers]
    assert names[-1] == f"knee {withdrawn.knee.knee:.4g}" and "µm" not in names[-1]  # no rpm where damage was seen
    sound = chart_of(read(tmp_path, knee_text())).layers
    assert "damage seen" not in [getattr(layer, "label", None) for layer in sound]


# --- the rpm at the end of the report ---

ONLY_HERE = "    Holds for the wheel, work, infeed rate and wheel speed of this trial only."


def test_the_report_ends_with_the_rpm_and_where_they_hold(tmp_path):
    for head, end in ((SETUP, []), ("", [ONLY_HERE])):
        trial = read(tmp_path, head + knee_text())
        low, high = (trial.rpm_for(depth) for depth in (trial.knee.low, trial.knee.high))
        lines = trial.report().splitlines()
        place = lines.index("[[Work rpm]]")
        assert lines[place + 1 :] == [
            f"    knee       = {trial.knee_rpm:.4g} 1/min in this setup",
            f"    interval   = {low:.4g} to {high:.4g} 1/min",
            *end,
        ]
        assert 90 < low < trial.knee_rpm < high < 110


def test_no_rpm_is_given_at_the_end_where_damage_withdraws_it_or_no_knee_was_found(tmp_path):
    hurt = [
        "    Damage was seen in this trial: no rpm of it is given to set a machine by.",
        "    Find what caused it, and take the depths without damage as the limit; then repeat the trial.",
    ]
    falling = "rpm;load;damage\n" + "".join(f"{rpm};{9000 / rpm:.2f};{{}}\n" for rpm in range(40, 200, 12))
    for text in (knee_text(damage=(100,)), falling.format("burn", *[""] * 20)):
        lines = read(tmp_path, text).report().splitlines()
        assert lines[lines.index("[[Work rpm]]") + 1 :] == hurt
    trial = read(tmp_path, falling.format(*[""] * 20))
    assert trial.knee.verdict == "still falling"
    assert trial.report().splitlines()[-1] == f"    knee       = above {trial.rpm_for(trial.knee.low):.4g} 1/min, if there is one"
    level = read(tmp_path, "rpm;load\n" + "".join(f"{rpm};30\n" for rpm in range(40, 200, 12)))
    assert level.knee.low is None and "[[Work rpm]]" not in level.report()
