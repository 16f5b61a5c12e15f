"""From a file to the knee: invented trials whose knee is known because they are made from it."""

from __future__ import annotations

import json
import math
import random
import subprocess
import sys

import openpyxl
import pytest
import trial_workbook

from gritfuncs.trial import Setup, read_trial

KNEE, LEVEL, STEEPNESS = 1.4, 118.0, 250.0  # µm, J/mm³, J/mm³ per µm
SETUP = Setup(
    work_diameter=20,
    infeed_rate=0.6,
    wheel_speed=22,
    wheel_diameter=200,
    side="external",
    grit_density=18.9,
    shape_ratio=10,
    contact_width=15,
)
STEPS = (0, 10, -10, 20, -20, 0, 30, -30, 40, -40, 50, -50, 60, -60, 0)  # % of nominal rpm, in run order
IDLE = 0.86


def rows(nominal=120.0, scatter=0.0, knee=KNEE):
    noise = random.Random(7)
    for step in STEPS:
        rpm = nominal * (1 + step / 100)
        energy = LEVEL + STEEPNESS * max(0.0, knee - SETUP.depth(rpm))
        yield rpm, energy * (1 + noise.gauss(0, scatter)) * SETUP.removal_rate * 15 / 1000 + IDLE


def write(path, pairs, heading="rpm;power"):
    path.write_text("\n".join([heading] + [f"{rpm!r};{load!r}" for rpm, load in pairs]), encoding="utf-8")
    return path


def test_the_knee_the_trial_was_made_from_is_found_exactly(tmp_path):
    trial = read_trial(write(tmp_path / "trial.csv", rows()), setup=SETUP, idle=IDLE)
    assert trial.knee.verdict == "found"
    assert trial.knee.knee == pytest.approx(KNEE, rel=1e-9)
    assert trial.knee.level == pytest.approx(LEVEL, rel=1e-9)
    assert trial.knee.slope == pytest.approx(STEEPNESS, rel=1e-9)
    assert trial.knee_rpm == pytest.approx(SETUP.rpm_for(KNEE), rel=1e-8)


def test_with_scatter_the_interval_holds_the_knee_and_the_rpm_that_holds_it(tmp_path):
    trial = read_trial(write(tmp_path / "trial.csv", rows(scatter=0.01)), setup=SETUP, idle=IDLE)
    assert trial.knee.verdict == "found"
    assert trial.knee.low < KNEE < trial.knee.high
    assert trial.rpm_for(trial.knee.low) < SETUP.rpm_for(KNEE) < trial.rpm_for(trial.knee.high)


@pytest.mark.parametrize("heading, factor, offset", [("rpm;power", 1, 0), ("rpm;load %", 17, -3), ("rpm;A", 2.2, 1.5)])
def test_without_a_setup_the_same_rpm_is_found(tmp_path, heading, factor, offset):
    pairs = [(rpm, factor * load + offset) for rpm, load in rows(scatter=0.01)]
    trial = read_trial(write(tmp_path / "trial.csv", pairs, heading))
    known = read_trial(write(tmp_path / "known.csv", rows(scatter=0.01)), setup=SETUP, idle=IDLE)
    assert trial.depth_unit == "relative" and trial.depths[0] == 1
    assert trial.knee.verdict == "found"
    assert trial.knee_rpm == pytest.approx(known.knee_rpm, rel=1e-6)
    report = trial.report()
    assert "relative depth" in report and "µm" not in report and "this trial only" in report


def test_the_filled_trial_workbook_gives_the_knee(tmp_path):
    readings = [(rpm, load, IDLE) for rpm, load in rows()]
    path = trial_workbook.save(tmp_path / "trial.xlsx", readings, wheel_rpm=None, wheel_speed=22, grit_density=18.9)
    assert read_trial(path).knee.knee == pytest.approx(KNEE, rel=1e-9)
    assert read_trial(path).setup == SETUP


def test_no_rpm_is_given_without_a_knee(tmp_path):
    trial = read_trial(write(tmp_path / "trial.csv", rows(knee=2.5)), setup=SETUP, idle=IDLE)
    assert trial.knee.verdict == "still falling"
    assert trial.knee_rpm is None and "1/min in this setup" not in trial.report()
    assert f"above {SETUP.rpm_for(trial.knee.low):.4g} 1/min, if there is one" in trial.report()


def test_the_reading_out_of_line_is_named_by_its_row(tmp_path):
    pairs = list(rows(scatter=0.003))
    pairs[8] = (pairs[8][0], pairs[8][1] * 1.4)
    lines = ["Invented", "rpm;power", "no number;2"] + [f"{rpm!r};{load!r}" for rpm, load in pairs]
    path = tmp_path / "trial.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    trial = read_trial(path, setup=SETUP, idle=IDLE)
    assert trial.suspect.row == 12 and trial.suspect.work_rpm == pairs[8][0]
    assert "eading in row 12" in trial.report()
    assert trial.as_dict()["suspect_row"] == 12


def test_the_given_noise_reaches_the_knee(tmp_path):
    path = write(tmp_path / "trial.csv", rows())
    assert read_trial(path, setup=SETUP, idle=IDLE, noise=0.04).knee.noise_floor == 0.04


def test_the_report_says_what_was_read_and_left_out(tmp_path):
    path = trial_workbook.save(tmp_path / "trial.xlsx")
    report = read_trial(path).report()
    for part in (
        "Trial: trial.xlsx",
        "Rows: 10 used, 1 excluded, 1 left out, 28 blank",
        "row 3: excluded (coolant off)",
        "row 8: left out: load is not a number",
        "row 13: used, same as row 1",
        "wheel diameter",
        "200 mm",
        "external",
        "1/min",
        "J/mm³",
        "verdict    = found",
        "1/min in this setup",
    ):
        assert part in report, part


def test_rows_that_are_left_out_for_one_reason_stand_in_one_line(tmp_path):
    """As where a sheet holds its numbers as texts; a row with a note of its own stands by itself."""
    rpms = (120, 144, 96, 168, 72, 84)
    table = [
        ["rpm", "load", "note"],
        *([rpm, "2.1", "hot" if rpm == 96 else None] for rpm in rpms),
        [108, 2.0, None],
        [132, "2", None],
    ]
    book = openpyxl.Workbook()
    for row in table:
        book.active.append(row)
    book.save(tmp_path / "text.xlsx")
    lines = read_trial(tmp_path / "text.xlsx").report().splitlines()
    assert lines[2:4] == [
        "    rows 2, 3, 5 to 7, 9: left out: load is not a number",
        "    row 4: left out: load is not a number (hot)",
    ]


def test_the_dictionary_is_ready_for_json_and_says_the_same(tmp_path):
    trial = read_trial(trial_workbook.save(tmp_path / "trial.xlsx"))
    found = json.loads(json.dumps(trial.as_dict(), allow_nan=False))
    assert found["setup"]["wheel_diameter"] == 200 and found["counts"] == trial.counts
    assert found["knee"]["knee"] == trial.knee.knee and found["knee_rpm"] == trial.knee_rpm
    assert [reading["status"] for reading in found["readings"]] == [reading.status for reading in trial.readings]
    empty = read_trial(trial_workbook.save(tmp_path / "empty.xlsx", [])).as_dict()
    assert empty["knee"] is None and json.dumps(empty)


def test_results_are_frozen_and_the_knee_is_found_once(tmp_path):
    trial = read_trial(write(tmp_path / "trial.csv", rows()), setup=SETUP)
    assert trial.knee is trial.knee
    with pytest.raises(AttributeError):
        trial.setup = None
    with pytest.raises(ValueError, match="grit_depth must be > 0"):
        trial.rpm_for(-1)


def test_readings_too_large_for_computing_are_refused_in_one_line(tmp_path):
    path = write(tmp_path / "trial.csv", [(120.0, 1e308), (1e300, 5.0)])
    try:
        trial = read_trial(path, setup=SETUP)
        assert all(map(math.isfinite, trial.depths + trial.energies))
    except ValueError as problem:
        assert "row " in str(problem) and "\n" not in str(problem)


def test_reading_text_loads_neither_numpy_nor_openpyxl(tmp_path):
    path = write(tmp_path / "trial.csv", rows())
    code = (
        f"import sys; from gritfuncs.trial import read_trial; read_trial({str(path)!r}).report(); "
        "print(sorted({'numpy', 'scipy', 'openpyxl'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip() == "[]"


def test_a_trial_prints_in_one_line(tmp_path):
    trial = read_trial(trial_workbook.save(tmp_path / "trial.xlsx"))
    assert repr(trial) == "<Trial trial.xlsx: 10 of 40 rows used, depth µm, energy J/mm³>"


@pytest.mark.parametrize("off, holds", [(0.019, True), (-0.019, True), (0.031, False), (-0.031, False)])
def test_depths_two_percent_off_the_fourth_root_still_give_an_rpm(tmp_path, off, holds):
    """Three readings, the last off by a share of its depth: a third of that moves the mean, two thirds remain."""
    path = write(tmp_path / "trial.csv", [], "rpm;grit depth;load")
    lines = [f"{rpm};{rpm**0.25 * (1 + 1.5 * off * (rpm == 81))!r};5" for rpm in (16, 256, 81)]
    path.write_text("\n".join(["rpm;grit depth;load", *lines]), encoding="utf-8")
    assert (read_trial(path).rpm_for(3) is not None) == holds


@pytest.mark.parametrize(
    "rpm, agrees", [(2400 * 1.009, True), (2400 * 0.991, True), (2400 * 1.012, False), (2400 * 0.988, False)]
)
def test_wheel_speed_and_wheel_rpm_agree_within_a_percent(tmp_path, rpm, agrees):
    path = tmp_path / "trial.csv"
    path.write_text(f"wheel_diameter;200\nwheel_speed;25.1327\nwheel_rpm;{rpm!r}\nrpm;power\n120;2\n", encoding="utf-8")
    if agrees:
        assert read_trial(path).used
    else:
        with pytest.raises(ValueError, match="wheel_speed must agree with wheel_rpm within 1 %"):
            read_trial(path)


def test_no_more_blank_rows_are_counted_in_one_place_than_a_trial_may_have(tmp_path):
    path = tmp_path / "trial.csv"
    path.write_text("rpm;load\n120;5\n" + "\n" * 3000 + "130;4\n", encoding="utf-8")
    trial = read_trial(path)
    assert trial.counts["blank"] == 500 and [reading.row for reading in trial.used] == [2, 3003]
