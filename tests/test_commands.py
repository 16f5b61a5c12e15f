"""The options of commands: what is typed is understood or refused by its own name, and every option has its effect."""

from __future__ import annotations

import argparse
import json
import os
import signal
import subprocess
import sys
from functools import partial

import pytest

import gritfuncs as gf
from gritfuncs import cli, demo
from gritfuncs.commands import COMMANDS, options
from gritfuncs.commands.command import Command
from gritfuncs.commands.parser import Parser
from gritfuncs.refused import Refused

TABLE = (
    "table --grit-depth 1.1 --work-diameters 8,20 --infeed-rates 0.3,0.6 --wheel-diameter 200 --wheel-speed 22 "
    "--marked-wheel-speed 35 --grit-density 19 --shape-ratio 10"
)


@pytest.fixture
def run(capsys):
    """Runs a command line; gives its exit code, standard output and error."""

    def run(*arguments):
        try:
            code = cli.main([str(word) for word in arguments])
        except SystemExit as end:
            code = end.code
        said = capsys.readouterr()
        assert "Traceback" not in said.err
        return code, said.out, said.err

    return run


@pytest.fixture
def command(monkeypatch):
    """Puts a command of the test's own into the list."""

    def put(run, add=lambda parser: None):
        monkeypatch.setattr(cli, "COMMANDS", (Command("try", "try something", add, run, example="gritfuncs try"),))

    return put


@pytest.fixture
def readings(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text(demo.readings_text(), encoding="utf-8")
    return path


def _numbers(value):
    """The numbers and words inside of something read from JSON, in order."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        return [number for each in value for number in _numbers(each)]
    return [value] if isinstance(value, float) else []


def one_line(said):
    code, out, err = said
    assert code and not out and err.count("\n") == 1
    return err


class TestNumbers:
    @pytest.mark.parametrize(
        "typed, value",
        [("0.6", 0.6), ("0,6", 0.6), ("12,5", 12.5), ("-3", -3.0), ("1.250,5", 1250.5), ("1,250.5", 1250.5), ("1e3", 1000.0)],
    )
    def test_point_or_comma_is_understood(self, typed, value, run, command):
        seen = []
        command(
            lambda chosen: seen.append(chosen.depth) or 0, lambda parser: options.add_number(parser, "--depth", "mm", "a depth")
        )
        assert run("try", "--depth=" + typed)[0] == 0 and seen == [value]

    @pytest.mark.parametrize("typed", ["1,250", "x", "0x10", "1_000", "", "1 2", "0,3;0,6", "120 mm", "120 foo"])
    def test_anything_else_is_refused_under_its_name(self, typed, run):
        said = one_line(run("plan", "--nominal-rpm=" + typed))
        assert said.startswith("gritfuncs plan: --nominal-rpm must be a number") and repr(typed) in said

    @pytest.mark.parametrize("typed", ["nan", "inf", "-inf"])
    def test_what_is_no_finite_number_is_outside_the_limits(self, typed, run):
        assert f"--nominal-rpm must be > 0 1/min (got {typed})" in one_line(run("plan", "--nominal-rpm=" + typed))

    @pytest.mark.parametrize(
        "option, typed, same",
        [
            ("--infeed-rates", "5µm/s;8 µm/s", "0.3,0.48"),
            ("--infeed-rates", "0.2mm/min,0.5mm/min", "0.2,0.5"),
            ("--work-diameters", "0,5 in;1in", "12.7,25.4"),
            ("--wheel-speed", "1500 m/min", "25"),
            ("--wheel-diameter", "30 cm", "300"),
            ("--highest-work-rpm", "2 1/s", "120"),
            ("--highest-power", "0.2 hp", "0.14913997431645404"),
        ],
    )
    def test_a_unit_behind_a_number_is_converted(self, option, typed, same, run):
        words = TABLE.split() + ["--specific-energy", "40", "--contact-width", "10", "--json"]
        code, out, _ = run(*words, option, typed)
        expected = json.loads(run(*words, option, same)[1])
        assert code == 0 and json.loads(run(*words)[1]) != expected
        assert _numbers(json.loads(out)) == pytest.approx(_numbers(expected), rel=1e-12)

    def test_a_marked_speed_in_feet_stops_a_wheel_that_is_faster(self, run):
        said = one_line(run(*TABLE.split(), "--wheel-speed", "50", "--marked-wheel-speed", "8500 sfpm"))
        assert (
            "--wheel-speed must be <= --marked-wheel-speed, 43.18 m/s: never run a wheel above the speed marked on it (got 50 m/s)"
            in said
        )

    @pytest.mark.parametrize("typed", ["0.6 mm/rev", "0.6 furlong", "0.6 mm", "0.6,", "0.6 mm/min x"])
    def test_a_unit_that_does_not_fit_is_refused(self, typed, run):
        assert "--infeed-rates must be a number" in one_line(run(*TABLE.split(), "--infeed-rates", typed))

    def test_a_whole_number_is_whole(self, run):
        assert "--steps-each-side must be a whole number (got '1.5')" in one_line(
            run("plan", "--nominal-rpm", "120", "--steps-each-side", "1.5")
        )
        assert run("plan", "--nominal-rpm", "120", "--steps-each-side", "2")[1].count("\n") == 11

    @pytest.mark.parametrize(
        "typed, values",
        [
            ("0.3,0.6", [0.3, 0.6]),
            ("8,20", [8, 20]),
            ("0,6;0,8", [0.6, 0.8]),
            ("20;12,5", [20, 12.5]),
            ("0.6;0.8;", [0.6, 0.8]),
            ("12.5", [12.5]),
            ("2.5,1", [2.5, 1]),
        ],
    )
    def test_a_list_is_parted(self, typed, values):
        assert options.numbers_in_unit_of(gf.QUANTITIES["work_diameter"])(typed) == values

    @pytest.mark.parametrize(
        "typed", ["0,6", "0,3,0,6", "12,5", "8,5,12,5", "0.3,x", "0.3,,0.6", ",", "", ";", "1,250;2", "8 20", "0.3,0.6 in/min"]
    )
    def test_a_list_that_a_decimal_comma_may_have_split_is_refused(self, typed, run):
        said = one_line(run(*TABLE.split(), "--infeed-rates", typed))
        assert said.startswith("gritfuncs table: --infeed-rates must be ") and "got" in said


class TestNamesOfOptions:
    @pytest.mark.parametrize(
        "name, typed",
        [("infeed_rates", "--infeed-rates"), ("infeed_rate", "--infeed-rates"), ("noise", "--noise-percent"), ("other", "other")],
    )
    def test_a_refused_input_has_the_name_that_was_typed(self, name, typed, run, command):
        def refuse(chosen):
            raise Refused(name, "be > 0", "0.0")

        def add(parser):
            options.add_quantities(parser, "infeed_rates", "RATE", "rates")
            options.add_share(parser, "noise", "scatter")

        command(refuse, add)
        assert one_line(run("try", "--infeed-rates", "1")) == f"gritfuncs try: {typed} must be > 0 (got 0.0)\n"

    def test_an_input_from_a_file_keeps_its_own_name(self, run, command):
        def refuse(chosen):
            raise Refused("idle", "be >= 0 kW", "-1.0").at("row 3").at("trial.csv")

        command(refuse, lambda parser: options.add_number(parser, "--idle", options.OF_READINGS, "idle reading"))
        assert one_line(run("try")) == "gritfuncs try: trial.csv: row 3: idle must be >= 0 kW (got -1.0)\n"

    @pytest.mark.parametrize("percent", ["0", "-2", "100", "2,5 kW"])
    def test_a_percentage_is_one(self, percent, run, readings):
        assert "--noise-percent must be " in one_line(run("knee", readings, "--noise-percent=" + percent))

    def test_a_word_that_is_none_of_the_choices(self, run):
        said = one_line(run(*TABLE.split(), "--side", "outside"))
        assert said == "gritfuncs table: --side must be one of external, flat, internal (got 'outside')\n"

    def test_what_newer_pythons_raise_without_the_name_of_an_argument_is_one_line(self, run, monkeypatch):
        def parse(*given):
            raise argparse.ArgumentError(None, "the following arguments are required: FILE")

        monkeypatch.setattr(argparse.ArgumentParser, "parse_known_args", parse)
        assert run("knee") == (2, "", "gritfuncs: the following arguments are required: FILE; see gritfuncs --help\n")

    @pytest.mark.parametrize("words", [["knee"], ["zzz"], ["plan", "--nominal-rpm"], ["plan", "--nominal-rpm", "120", "--zzz"]])
    def test_a_line_that_is_not_understood_leads_to_the_help(self, words, run):
        code, out, err = run(*words)
        assert code == 2 and not out and err.count("\n") == 1 and "--help" in err

    @pytest.mark.parametrize("each", COMMANDS, ids=lambda each: each.name)
    def test_every_option_is_named_by_what_the_code_calls_it(self, each):
        parser = Parser()
        each.add(parser)
        assert parser.as_typed("zzz") == "zzz"
        for argument in parser.arguments:
            if argument.option_strings:
                assert parser.as_typed(argument.dest) in argument.option_strings


class TestEffects:
    """Each option changes what it is there for."""

    def knee(self, run, readings, *more):
        code, out, _ = run("knee", readings, "--json", *more)
        assert code == 0
        return json.loads(out)[0]

    def test_noise_is_a_percentage(self, run, readings):
        assert self.knee(run, readings)["noise"] is None
        told = self.knee(run, readings, "--noise-percent", "3")
        assert told["noise"] == pytest.approx(0.03)
        assert told["knee"]["low"] != self.knee(run, readings)["knee"]["low"]

    def test_idle_is_taken_off_where_the_file_has_none(self, run, tmp_path):
        path = tmp_path / "bare.csv"
        path.write_text("work rpm,power (kW)\n" + "".join(f"{rpm},{3 - rpm / 200}\n" for rpm in range(60, 200, 10)))
        energy = self.knee(run, path)["readings"][0]["energy"]
        assert self.knee(run, path, "--idle", "0,5")["readings"][0]["energy"] == pytest.approx(energy - 0.5)

    def test_the_row_of_headings_can_be_said(self, run, tmp_path):
        path = tmp_path / "two heads.csv"
        rows = "".join(f"{rpm},{3 - rpm / 200},{rpm / 100}\n" for rpm in range(60, 200, 10))
        path.write_text(f"work rpm,power (kW),temperature\nwork rpm,other,power (kW)\n{rows}")
        one, other = (self.knee(run, path, "--heading-row", row)["readings"][-1]["load"] for row in ("1", "2"))
        assert (one, other) == (pytest.approx(2.05), pytest.approx(1.9))
        assert "--heading-row must be " in one_line(run("knee", path, "--heading-row", "0"))
        assert "--heading-row must be a whole number" in one_line(run("knee", path, "--heading-row", "two"))

    def test_wanted_says_when_the_interval_is_good_enough(self, run, readings):
        def advice(*more):
            limits = ["--lowest-work-rpm", "20", "--highest-work-rpm", "400"]
            return json.loads(run("next", readings, *limits, "--json", *more)[1])

        assert advice("--wanted-percent", "20")["stop"]
        assert not advice("--wanted-percent", "0,5")["stop"]  # read as a share, 0.5 would be good enough

    def test_idle_power_counts_in_the_expected_power(self, run):
        words = TABLE.split() + ["--specific-energy", "40", "--contact-width", "10", "--json"]
        without = json.loads(run(*words)[1])["rows"][0][0]["power"]
        with_idle = json.loads(run(*words, "--idle-power", "0.7")[1])["rows"][0][0]["power"]
        assert with_idle == pytest.approx(without + 0.7)

    def test_band_is_a_percentage(self, run):
        cell = json.loads(run(*TABLE.split(), "--band-percent", "3", "--json")[1])["rows"][0][0]
        assert cell["highest_rpm"] == pytest.approx(cell["work_rpm"] * 1.03**4)


class TestKnee:
    def test_without_a_usable_reading_it_has_failed(self, run, tmp_path):
        path = tmp_path / "none.csv"
        path.write_text("work rpm,power (kW)\n120,\n132,\n108,x\n")
        for more in ([], ["--json"]):
            code, out, _ = run("knee", path, *more)
            assert code == cli.FAILED and out

    def test_json_has_an_entry_for_every_file(self, run, readings, tmp_path):
        bad = tmp_path / "bad.csv"
        bad.write_text("nothing to read\n")
        code, out, err = run("knee", tmp_path / "missing.csv", readings, bad, "--json")
        results = json.loads(out)
        assert code == cli.FAILED and err.count("\n") == 2
        assert [entry["source"] for entry in results] == ["missing.csv", "readings.csv", "bad.csv"]
        assert "must be a file that exists" in results[0]["error"] and "error" not in results[1] and results[2]["error"]

    def test_json_of_bad_files_alone_is_a_list(self, run, tmp_path):
        assert len(json.loads(run("knee", tmp_path / "missing.csv", "--json")[1])) == 1

    def test_wildcards_are_filled_in_where_the_shell_has_left_them(self, run, readings, tmp_path):
        (tmp_path / "other.csv").write_bytes(readings.read_bytes())
        code, out, _ = run("knee", tmp_path / "*.csv", "--json")
        assert code == 0 and [entry["source"] for entry in json.loads(out)] == ["other.csv", "readings.csv"]
        assert "must be a file that exists" in one_line(run("knee", tmp_path / "*.xyz"))

    @pytest.mark.skipif(os.name == "nt", reason="no file can have this name there")
    def test_a_file_whose_name_has_a_wildcard_in_it_is_itself(self, run, readings, tmp_path):
        (tmp_path / "read*.csv").write_bytes(readings.read_bytes())
        code, out, _ = run("knee", tmp_path / "read*.csv", "--json")
        assert [entry["source"] for entry in json.loads(out)] == ["read*.csv"]


class TestFrame:
    def test_alone_it_shows_the_help(self, run):
        code, out, err = run()
        assert code == 0 and not err and all(each.help.split()[0] in out for each in COMMANDS)

    def test_stopped_is_one_line(self, run, command):
        def stopped(chosen):
            raise KeyboardInterrupt

        command(stopped)
        assert run("try") == (130, "", "gritfuncs try: stopped\n")

    @pytest.mark.skipif(os.name == "nt", reason="signals as POSIX has them")
    def test_ctrl_c_ends_it_tidily(self, tmp_path):
        program = (
            "import sys, time, pathlib\nfrom gritfuncs import cli\nfrom gritfuncs.commands.command import Command\n"
            "def run(chosen):\n"
            "    try:\n        print('begun', flush=True); time.sleep(60)\n"
            "    finally:\n        pathlib.Path('tidied').touch()\n"
            "cli.COMMANDS = (Command('try', 'try it', lambda parser: None, run, ''),)\nsys.exit(cli.main(['try']))"
        )
        child = subprocess.Popen(
            [sys.executable, "-c", program],
            cwd=tmp_path,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
            preexec_fn=partial(signal.signal, signal.SIGINT, signal.SIG_DFL),  # a shell may start the tests with it ignored
        )
        assert child.stdout.readline() == "begun\n"
        child.send_signal(signal.SIGINT)
        _, err = child.communicate(timeout=600)
        assert err == "gritfuncs try: stopped\n" and child.returncode == 130
        assert (tmp_path / "tidied").exists()
