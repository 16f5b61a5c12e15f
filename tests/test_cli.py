"""The command line as a shop uses it: in a process of its own, results on standard output, one clear line on failure."""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys

import pytest
from openpyxl import load_workbook

import gritfuncs as gf
from gritfuncs import demo, example, planning
from gritfuncs.addins.hosts import HOSTS
from gritfuncs.commands import COMMANDS
from gritfuncs.knee.next_reading import WANTED
from gritfuncs.record import read_record

TABLE = [
    "table",
    "--grit-depth",
    "1.1",
    "--work-diameters",
    "8,20",
    "--infeed-rates",
    "0.3,0.6",
    "--wheel-diameter",
    "200",
    "--wheel-speed",
    "22",
    "--marked-wheel-speed",
    "35",
    "--grit-density",
    "19",
    "--shape-ratio",
    "10",
]


def run(*arguments, cwd=None, code=0):
    ended = subprocess.run(
        [sys.executable, "-m", "gritfuncs", *map(str, arguments)],
        cwd=cwd,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=None,
        timeout=600,
    )
    assert ended.returncode == code, ended.stderr
    assert "Traceback" not in ended.stderr
    return ended.stdout if code == 0 else ended.stderr


def one_line_failure(*arguments, cwd=None):
    said = run(*arguments, cwd=cwd, code=1)
    assert said.count("\n") == 1
    return said


@pytest.fixture(scope="module")
def demo_folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    said = run("demo", cwd=folder)
    return folder, said


def test_demo_does_the_whole_job(demo_folder):
    folder, said = demo_folder
    made = folder / "gritfuncs-demo"
    names = ["knee_record.xlsx", "power-log.csv", "readings-report.html", "readings.csv", "speed_table.xlsx", "trial.xlsx"]
    assert sorted(path.name for path in made.iterdir()) == names
    assert load_workbook(made / "speed_table.xlsx", read_only=True).active.title == "Speed table"  # the page to pin up
    assert all(str(path.relative_to(folder)) in said for path in made.iterdir())
    assert all("nvented" in each for each in labels(made))
    assert "Invented example" in said and "verdict    = found" in said and "speed marked on" in said
    knee = float(re.search(r"knee {7}= ([\d.]+) µm", said)[1])
    assert knee == pytest.approx(example.TRUE_KNEE, rel=0.03)  # the truth behind the invented readings


def labels(folder):
    """What each file of the demonstration says of its numbers."""
    yield (folder / "readings-report.html").read_text(encoding="utf-8")
    for name in ("readings.csv", "power-log.csv"):
        yield (folder / name).read_text(encoding="utf-8").replace("imulated", "nvented")
    (entry,) = read_record(folder / "knee_record.xlsx").entries
    yield entry.values["note"]


def test_demo_tables_hold_the_knee(demo_folder):
    folder, said = demo_folder
    depth = round(gf.read_trial(folder / "gritfuncs-demo" / "readings.csv").knee.knee, 3)
    rows = re.findall(
        r"^ +(8|12|16|20|25|32) +([\d.]+)[a-z ] +([\d.]+)[a-z ]",
        said.partition("infeed rate on the radius, mm/min")[2],
        re.MULTILINE,
    )
    assert [float(row[0]) for row in rows] == list(example.WORK_DIAMETERS)
    for diameter, *rpms in rows:
        for rate, rpm in zip(example.INFEED_RATES, rpms):
            setup = {**example.setup(), "work_diameter": float(diameter), "infeed_rate": rate}
            assert gf.plunge_grit_depth(work_rpm=float(rpm), **setup) == pytest.approx(depth, rel=1e-3)


def test_demo_never_overwrites(demo_folder):
    folder, _ = demo_folder
    assert "gritfuncs-demo-2" in run("demo", cwd=folder)
    assert "must not exist yet" in one_line_failure("demo", "gritfuncs-demo", cwd=folder)


def test_knee_of_workbook_and_text_file_agree(demo_folder):
    folder = demo_folder[0] / "gritfuncs-demo"
    results = json.loads(run("knee", "readings.csv", "trial.xlsx", "--json", cwd=folder))
    assert [result["knee"]["verdict"] for result in results] == ["found", "found"]
    assert results[0]["knee"]["knee"] == pytest.approx(results[1]["knee"]["knee"], rel=1e-6)
    assert results[0]["knee_rpm"] == pytest.approx(results[1]["knee_rpm"], rel=1e-6)


def test_knee_reads_any_sheet_by_column(tmp_path):
    with open(tmp_path / "shop.csv", "w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(["Drehzahl", "Anzeige"])
        rows.writerows([rpm, power] for rpm, power, _ in example.readings())
    said = run(
        "knee", "shop.csv", "--column", "work_rpm=Drehzahl", "--column", "load=Anzeige", "--load-kind", "relative", cwd=tmp_path
    )
    assert "verdict    = found" in said and "1/min in this setup" in said


def test_one_bad_file_does_not_hide_the_others(demo_folder):
    folder = demo_folder[0] / "gritfuncs-demo"
    ended = subprocess.run(
        [sys.executable, "-m", "gritfuncs", "knee", "none.csv", "readings.csv"],
        cwd=folder,
        capture_output=True,
        text=True,
        encoding="utf-8",
    )
    assert ended.returncode == 1
    assert ended.stderr.count("\n") == 1 and "none.csv" in ended.stderr
    assert "verdict    = found" in ended.stdout


def test_table_as_text_and_json():
    said = run(*TABLE, "--highest-work-rpm", "100")
    cells = json.loads(run(*TABLE, "--highest-work-rpm", "100", "--json"))["rows"]
    rpm = gf.work_rpm_for(
        grit_depth=1.1,
        work_diameter=8.0,
        infeed_rate=0.3,
        wheel_speed=22.0,
        wheel_diameter=200.0,
        side=1,
        grit_density=19.0,
        shape_ratio=10.0,
    )
    assert cells[0][0]["work_rpm"] == pytest.approx(rpm) and cells[0][0]["broken"] == ["rpm too high"]
    assert f"{rpm:.1f}a" in said and "rpm too high: do not use" in said


@pytest.mark.parametrize(
    "changes, said",
    [
        (["--wheel-speed", "40"], "--wheel-speed must be <= --marked-wheel-speed, 35 m/s: never run a wheel above"),
        (["--grit-depth", "0"], "--grit-depth must be > 0 µm (got 0.0)"),
        (["--work-diameters", "-5"], "--work-diameters must be > 0 mm (got -5.0)"),
        (["--highest-work-rpm", "0"], "--highest-work-rpm must be > 0 1/min (got 0.0)"),
    ],
)
def test_table_refuses_in_one_line(changes, said):
    assert said in one_line_failure(*TABLE, *changes)


def test_plan_lists_steps_and_skips_what_the_machine_forbids():
    said = run("plan", "--nominal-rpm", "120", "--highest-work-rpm", "150")
    assert said.count("outside limits: skip") == 4
    plan = json.loads(run("plan", "--nominal-rpm", "120", "--json"))
    assert [reading["work_rpm"] for reading in plan][:3] == [120.0, 144.0, 96.0]


def test_templates_are_written_once(tmp_path):
    assert "trial.xlsx" in run("templates", tmp_path / "new")
    assert "must not exist yet" in one_line_failure("templates", tmp_path / "new")


def test_functions_lists_all_and_explains_one():
    said = run("functions")
    assert all(formula.name in said for formula in gf.catalogue)
    explained = run("functions", "h_m")
    assert "=GRIT_DEPTH(work_speed" in explained and "Kalpakjian" in explained
    assert "no function has 'zzz'" in one_line_failure("functions", "zzz")


def test_addins_are_made_and_nothing_is_overwritten(demo_folder, tmp_path):
    assert "gritfuncs.oxt" in run("addin", "calc", cwd=tmp_path)
    assert "must not exist yet" in one_line_failure("addin", "calc", cwd=tmp_path)
    assert "Import" in run("addin", "excel", cwd=tmp_path) and (tmp_path / "gritfuncs-excel" / "gritfuncs.xlsm").exists()
    book = demo_folder[0] / "gritfuncs-demo" / "trial.xlsx"
    assert "names" in run("addin", "names", book, "--output", tmp_path / "named.xlsx") and (tmp_path / "named.xlsx").exists()
    assert "BOOK must be given" in one_line_failure("addin", "names")


def test_check_names_every_host_and_a_next_step():
    said = run("check")
    assert all(host in said for host in ("xlwings", "Excel 365", "LibreOffice", "no add-in")) and said.count("next: ") == 3 + len(
        HOSTS
    )


def test_share_says_when_there_is_nothing_to_share(demo_folder):
    assert "must" in one_line_failure("share", "none.xlsx", cwd=demo_folder[0])


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)
def test_the_help_of_a_command_begins_with_its_sentence(command):
    shown = " ".join(run(command.name, "--help").split())
    first, rest = command.help[0], command.help[1:]
    assert f" {first.upper()}{rest}. " in shown


def test_help_says_in_percent_what_stands_where_no_share_is_given():
    assert WANTED == 0.05 and planning.BAND == 0.02
    assert all("good enough (default: ±5 %)" in " ".join(run(command, "--help").split()) for command in ("next", "confirm"))
    assert "(default: ±2 %)" in run("table", "--help")


def test_every_command_has_help():
    commands = re.findall(r"^    (\w+)(?: |$)", run("--help"), re.MULTILINE)
    assert commands == [command.name for command in COMMANDS]
    assert {"demo", "plan", "knee", "next", "table", "templates", "share", "addin", "check", "functions"} <= set(commands)
    for command in commands:
        assert "speed marked on" in " ".join(run(command, "--help").split())


def test_a_console_without_greek_letters_gets_question_marks_not_a_traceback():
    ended = subprocess.run(
        [sys.executable, "-m", "gritfuncs", "functions", "grit_depth"],
        capture_output=True,
        env={"PYTHONIOENCODING": "ascii", "PATH": "", "PYTHONPATH": ":".join(sys.path)},
    )
    assert ended.returncode == 0 and b"[?m]" in ended.stdout


def test_readings_file_carries_the_whole_setup(tmp_path):
    (tmp_path / "r.csv").write_text(demo.readings_text(), encoding="utf-8")
    trial = gf.read_trial(tmp_path / "r.csv")
    assert trial.energy_unit == "J/mm³" and trial.counts["used"] == 15
