"""What each command does with each of its options, in small trials of its own: the option has its effect, and a refusal names it."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import zipfile
from pathlib import Path
from types import SimpleNamespace

import openpyxl
import pytest
import trial_workbook
from share_books import stored
from test_commands import one_line, run  # noqa: F401  (run is a fixture)

from gritfuncs import __version__, cli, demo, example
from gritfuncs.addins import excel
from gritfuncs.commands import demo as demo_command
from gritfuncs.commands import log as log_command
from gritfuncs.commands import options, output
from gritfuncs.finder import ENTRIES, nearest
from gritfuncs.refused import Refused

TEXTS = ("--wheel", "w7", "--material", "carbide", "--machine", "m3", "--who", "AB", "--grit", "D126")
TABLE_WORDS = ("table", "--trial", "readings.csv", "--work-diameters", "20", "--infeed-rates", "0.6")


@pytest.fixture(scope="module")
def stock(tmp_path_factory):
    """Files of a shop: readings with a setup, readings without, and a workbook with two sheets of readings."""
    folder = tmp_path_factory.mktemp("stock")
    (folder / "readings.csv").write_text(demo.readings_text(), encoding="utf-8")
    (folder / "since.csv").write_text(demo.readings_text().replace("84,2.18", "84,2.2"), encoding="utf-8")
    rows = "\n".join(f"{rpm:g},{power:.2f}" for rpm, power, _ in example.readings())
    (folder / "bare.csv").write_text(f"rpm,power [kW]\n{rows}\n", encoding="utf-8")
    (folder / "few.csv").write_text("rpm,power [kW]\n120,2\nx,2\n132,1.9\n108,2.1\n", encoding="utf-8")
    book = openpyxl.Workbook()
    for title, more in (("Monday", 0), ("Tuesday", 1)):
        sheet = book.create_sheet(title)
        sheet.append(["rpm", "spindle", "motor"])
        for rpm, power, _ in example.readings():
            sheet.append([rpm, power + more, power + 10])
    del book["Sheet"]
    book.save(folder / "week.xlsx")
    return folder


@pytest.fixture(scope="module")
def recorded(stock, tmp_path_factory):
    """A record with two entries, made by the command."""
    path = tmp_path_factory.mktemp("recorded") / "own.xlsx"
    common = ["record", "add", str(stock / "readings.csv"), *TEXTS, "--file", str(path)]
    assert cli.main([*common, "--key", "A 1", "--date", "2026-02-20"]) == 0
    assert cli.main([*common, "--key", "B", "--date", "2026-02-21", "--note", "door side"]) == 0
    return path


@pytest.fixture
def shop(stock, tmp_path, monkeypatch, run):  # noqa: F811
    """Runs a command line, a text or words, in a folder with these files."""
    folder = tmp_path / "shop"
    shutil.copytree(stock, folder)
    monkeypatch.chdir(folder)
    return lambda *words: run(*(words[0].split() if len(words) == 1 else words))


def told(said):
    code, out, err = said
    assert code == 0, err
    return json.loads(out)


class TestHowATrialIsRead:
    def test_columns_and_sheet_are_those_that_were_named(self, shop):
        def first(*more):
            words = ("knee", "week.xlsx", "--json", "--column", "work_rpm=A", *more)
            (trial,) = told(shop(*words))
            return trial["readings"][0]["load"], trial["load_kind"]

        power = example.readings()[0][1]
        assert first("--sheet", "Monday", "--column", "load=spindle") == (pytest.approx(power), "relative")
        assert first("--sheet", "Tuesday", "--column", " load = spindle ")[0] == pytest.approx(power + 1)
        assert first("--sheet", "Tuesday", "--column", "load=C")[0] == pytest.approx(power + 10)
        assert first("--sheet", "Monday", "--column", "load=B", "--load-kind", "current")[1] == "current"
        assert "sheet must be" in shop("knee", "week.xlsx", "--sheet", "Friday")[2].replace("--sheet", "sheet")

    @pytest.mark.parametrize("typed", ["work_rpm", "work_rpm=", "load"])
    def test_a_column_without_its_place_is_refused(self, typed, shop):
        assert one_line(shop("knee", "bare.csv", "--column", typed)) == (
            f"gritfuncs knee: --column must be WORD=COLUMN, such as work_rpm=B (got {typed!r})\n"
        )

    def test_a_setup_file_of_two_goes_before_the_other(self, shop):
        Path("a.toml").write_text("shape_ratio = 5\nwheel_diameter = 180\n")
        Path("b.toml").write_text("shape_ratio = 7\n")
        shown = shop("setup --setup a.toml --setup b.toml --work-diameter 20")[1]
        assert [line.split() for line in shown.splitlines()[:3]] == [
            ["wheel_diameter", "=", "180", "from", "a.toml"],
            ["work_diameter", "=", "20", "from", "option"],
            ["shape_ratio", "=", "7", "from", "b.toml"],
        ]

    @pytest.mark.parametrize(
        "command", ["knee bare.csv", "report bare.csv --output a.html", "compare bare.csv bare.csv --same-wheel"]
    )
    def test_a_setup_from_a_file_and_options_counts(self, command, shop):
        """Depths are in µm, not relative."""

        def said(*more):
            out = shop(*command.split(), *more)[1]
            page = Path("a.html").read_text(encoding="utf-8") if "report" in command else out
            Path("a.html").unlink(missing_ok=True)
            return page

        bare, whole = said(), said("--setup", "readings.csv", "--idle", "0.86")
        assert "µm" in whole and "relative" in bare and "relative" not in whole
        assert said("--setup", "readings.csv", "--work-diameter", "30", "--idle", "0.86") != whole

    @pytest.mark.parametrize("command", ["knee", "report", "compare"])
    def test_a_scatter_that_is_known_counts(self, command, shop):
        def said(*more):
            files = ["readings.csv", "since.csv"] if command == "compare" else ["readings.csv"]
            page = ["--output", "a.html"] if command == "report" else []
            out = shop(command, *files, *page, *more)[1]
            return Path("a.html").read_text(encoding="utf-8") if page else out

        bare = said()
        Path("a.html").unlink(missing_ok=True)
        assert said("--noise-percent", "5") != bare

    @pytest.mark.parametrize(
        "words",
        [
            "knee week.xlsx",
            "report week.xlsx",
            "compare week.xlsx week.xlsx",
            "next week.xlsx",
            "confirm week.xlsx --record B --file own.xlsx",
            "record add week.xlsx --key C --file own.xlsx",
            "table --trial week.xlsx",
        ],
    )
    def test_every_command_that_reads_a_trial_reads_the_sheet_that_was_named(self, words, shop, recorded):
        shutil.copy(recorded, "own.xlsx")
        said = "week.xlsx: --sheet must be one of 'Monday', 'Tuesday' (got 'Friday')"
        assert one_line(shop(*words.split(), "--sheet", "Friday")) == f"gritfuncs {words.split()[0]}: {said}\n"

    def test_what_a_setup_lacks_is_asked_for_by_options_with_their_units(self, shop):
        lacking = [
            "--work-diameter MM",
            "--infeed-rate '... mm/min'",
            "--wheel-speed '... m/s'",
            "--wheel-diameter MM",
            "--side external|flat|internal",
            "--grit-density '... 1/mm²'",
            "--shape-ratio NUMBER",
        ]
        assert shop("knee bare.csv")[1].splitlines()[-2:] == [
            f"For depths in µm add: {' '.join(lacking)}",
            "    or --setup FILE; gritfuncs setup --new writes one",
        ]
        words = ", ".join(line.split()[0][2:].replace("-", "_") for line in lacking)
        assert shop("setup")[1] == f"missing: {words}\nadd: {' '.join(lacking)}\n"


class TestNumbersWithUnits:
    @pytest.mark.parametrize(
        "words, said",
        [
            ("knee readings.csv --idle", "--idle must be a number, in the unit of the readings (got '{}')"),
            ("log log.csv --idle", "--idle must be a number, in the unit of the readings (got '{}')"),
            ("log log.csv --infeed-time", "--infeed-time must be a number, in s or with a unit that converts (got '{}')"),
            ("log log.csv --interval", "--interval must be a number, in s or with a unit that converts (got '{}')"),
            (
                "plan --nominal-rpm 100 --step-percent",
                "--step-percent must be a number, in % or with a unit that converts (got '{}')",
            ),
        ],
    )
    def test_a_refusal_names_the_units_that_are_taken(self, words, said, shop):
        command = words.partition(" ")[0]
        assert one_line(shop(*words.split(), "0,8 kW")) == f"gritfuncs {command}: {said.format('0,8 kW')}\n"

    def test_time_may_have_its_unit(self, shop):
        def points(lag):
            return told(shop("plan", "--nominal-rpm", "100", "--sweep", lag, "--json"))["sweep"]

        assert points("2 s") == points("2") == points("2000 ms") != points("0,05 min")
        assert points("0,05 min")["lag"] == pytest.approx(3)

    @pytest.mark.parametrize(
        "words, said",
        [
            (
                "plan --nominal-rpm '120 mm'",
                "--nominal-rpm must be a number, in 1/min or with a unit that converts (got '120 mm')",
            ),
            ("setup --shape-ratio '10 mm'", "--shape-ratio must be a number, without a unit (got '10 mm')"),
            ("table --work-diameters '12;x'", "--work-diameters must be a number (got 'x')"),
            ("plan --nominal-rpm", "--nominal-rpm: expected one argument; see gritfuncs plan --help"),
            ("knee", "the following arguments are required: FILE; see gritfuncs knee --help"),
        ],
    )
    def test_what_is_not_understood_is_told_by_its_option(self, words, said, shop):
        assert shop(*shlex.split(words)) == (2, "", f"gritfuncs {words.split()[0]}: {said}\n")

    @pytest.mark.parametrize("typed", ["3", "3%", " 3 % ", "3,0"])
    def test_a_percentage_may_have_its_sign(self, typed, shop):
        assert told(shop("knee", "readings.csv", "--json", "--noise-percent", typed))[0]["noise"] == pytest.approx(0.03)

    def test_a_list_may_end_with_its_semicolon(self, shop):
        words = (*TABLE_WORDS[:-2], "--json", "--infeed-rates")
        assert told(shop(*words, "0,3;0,6; "))["infeed_rates"] == [0.3, 0.6]


class TestKnee:
    def test_a_picture_is_of_one_trial(self, shop):
        assert one_line(shop("knee readings.csv bare.csv --plot a.svg")) == (
            "gritfuncs knee: --plot must be given with one file (got 2 files)\n"
        )
        assert "--plot must end in .svg, .png, .pdf (got 'a.gif')" in one_line(shop("knee readings.csv --plot a.gif"))
        Path("a.svg").touch()
        assert one_line(shop("knee readings.csv --plot a.svg")) == "gritfuncs knee: a.svg: must not exist yet\n"

    def test_reports_of_several_files_are_parted_and_lead_on_where_the_setup_is_missing(self, shop):
        code, out, err = shop("knee bare.csv readings.csv")
        first, second = out.split("\n\n")
        assert (code, err) == (0, "") and first.startswith("Trial: bare.csv") and second.startswith("Trial: readings.csv")
        assert "or --setup FILE; gritfuncs setup --new writes one" in first and "or --setup" not in second

    def test_the_written_trial_is_named_but_in_json(self, shop, monkeypatch):
        written = []
        monkeypatch.setattr("gritfuncs.workbooks.trial.build.build", lambda values: values)
        monkeypatch.setattr(
            "gritfuncs.sheets.save.save_workbook", lambda values, path: written.append((values["wheel_diameter"], path))
        )
        assert shop("knee readings.csv --write a.xlsx")[1].endswith("\nwritten: a.xlsx\n")
        assert told(shop("knee readings.csv --write b.xlsx --json"))[0]["knee"]["verdict"] == "found"
        assert written == [(200, Path("a.xlsx")), (200, Path("b.xlsx"))]

    @pytest.mark.parametrize("percent", [None, 2.5])
    def test_the_scatter_that_was_given_stands_in_the_written_trial(self, shop, percent):
        shop("knee", "readings.csv", "--write", "w.xlsx", *([] if percent is None else ["--noise-percent", str(percent)]))
        book = openpyxl.load_workbook("w.xlsx")
        ((sheet, cell),) = book.defined_names["in_noise"].destinations
        assert book[sheet][cell.replace("$", "")].value == percent
        if percent:
            knees = [
                told(shop("knee", *words, "--json"))[0]["knee"]
                for words in (("w.xlsx",), ("readings.csv", "--noise-percent", "2.5"))
            ]
            assert knees[0] == knees[1]

    def test_one_file_that_cannot_be_read_makes_the_exit_code_whatever_follows(self, shop):
        for files in (("no.csv", "readings.csv"), ("readings.csv", "no.csv")):
            code, out, err = shop("knee", *files, "--json")
            assert code == 1 and err.startswith("gritfuncs knee: no.csv: ")
            assert ["error" in one for one in json.loads(out)] == [name == "no.csv" for name in files]

    def test_a_picture_beside_json_and_one_workbook_for_one_file(self, shop):
        assert told(shop("knee readings.csv --json --plot a.SVG"))[0]["knee"]["verdict"] == "found"
        assert Path("a.SVG").read_text(encoding="utf-8").startswith("<svg")
        assert one_line(shop("knee readings.csv bare.csv --write b.xlsx")) == (
            "gritfuncs knee: --write must be given with one file (got 2 files)\n"
        )
        assert one_line(shop("knee readings.csv --write week.xlsx")) == "gritfuncs knee: week.xlsx: must not exist yet\n"


class TestNext:
    LIMITS = ("--lowest-work-rpm", "20", "--highest-work-rpm", "400")

    def test_rows_that_do_not_count_are_named_before_the_answer(self, shop):
        lines = shop("next", "few.csv", *self.LIMITS)[1].splitlines()
        assert lines[0].startswith("row 3: ") and lines[-1].startswith("next: ") and "1/min" in lines[-1]
        assert len(lines) == 2
        assert len(shop("next", "few.csv", *self.LIMITS, "--wheel-speed", "250")[1].splitlines()) == 3
        assert shop("next", "few.csv", *self.LIMITS, "--wheel-speed", "250")[1].splitlines()[1].startswith("Check --wheel-speed")

    def test_how_far_a_step_goes_and_what_stops_it(self, shop):
        def rpm(*more):
            return told(shop("next", "few.csv", *self.LIMITS, "--json", *more))["work_rpm"]

        assert rpm() == pytest.approx(132 + 12) and rpm("--step-percent", "5") == pytest.approx(132 + 6)
        assert rpm("--damage-seen") is None
        assert "burn" in shop("next", "few.csv", *self.LIMITS, "--damage-seen")[1]

    def test_what_is_odd_is_named_before_the_answer(self, shop):
        """A slip in the setup shifts where the trial goes: it is said here as the command knee says it."""
        lines = shop("next", "readings.csv", *self.LIMITS, "--wheel-speed", "250", "--marked-wheel-speed", "300")[1].splitlines()
        assert "Check --wheel-speed: 250 m/s, usual is 10 to 80 m/s." in lines and lines[-1].startswith("stop: ")
        Path("slow.csv").write_text(Path("readings.csv").read_text().replace("work rpm [", "highest_power,2,kW\nwork rpm ["))
        assert "Outside the machine's limits, power too high: highest power is 2 kW" in shop("next", "slow.csv", *self.LIMITS)[1]
        Path("mark.csv").write_text(
            Path("slow.csv").read_text().replace("work rpm [", "label of the wheel says max,63,m/s\nwork rpm [")
        )
        assert "'label of the wheel says max' may be the highest speed marked" in shop("next", "mark.csv", *self.LIMITS)[1]
        assert "check" not in shop("next", "readings.csv", *self.LIMITS)[1].lower()

    @pytest.mark.parametrize(
        "more, said",
        [
            (
                "--highest-power 4",
                "--highest-power must be left out with --steps 'rpm': only --steps 'rpm and infeed' goes by it (got 4)",
            ),
            (
                "--lowest-infeed-rate 0.1 --steps rpm",
                "--lowest-infeed-rate must be left out with --steps 'rpm': only --steps 'rpm and infeed' goes by it (got 0.1)",
            ),
            ("--highest-speed-ratio 90", "--highest-speed-ratio must be left out: no steps go by it (got 90)"),
            (
                "--highest-speed-ratio 90 --steps 'rpm and infeed'",
                "--highest-speed-ratio must be left out: no steps go by it (got 90)",
            ),
        ],
    )
    def test_a_limit_that_the_steps_do_not_go_by_is_refused(self, more, said, shop):
        assert one_line(shop("next", "few.csv", *self.LIMITS, *shlex.split(more))) == f"gritfuncs next: {said}\n"

    def test_the_steps_that_are_typed_say_which_limits_count(self, shop):
        """few.csv was stepped by the rpm alone, both.csv by rpm and infeed."""
        Path("both.csv").write_text("rpm,power [kW],idle [kW],infeed rate [mm/min]\n120,2,1,0.6\n108,1.9,1,0.54\n")
        words = ("--highest-power", "4", "--json")
        assert "--highest-power must be left out with --steps 'rpm'" in shop("next", "both.csv", "--steps", "rpm", *words)[2]
        assert "--highest-power" not in shop("next", "few.csv", "--steps", "rpm and infeed", *words)[2]
        assert shop("next", "both.csv", *words)[0] == 0
        one = Path("one.csv").write_text("rpm,power [kW],idle [kW],infeed rate [mm/min]\n120,2,1,0.6\n") and (
            "next",
            "one.csv",
            "--json",
        )
        both, rpm = (told(shop(*one, "--steps", steps)) for steps in ("rpm and infeed", "rpm"))
        assert both["infeed_rate"] / both["work_rpm"] == pytest.approx(0.6 / 120) and rpm["infeed_rate"] is None

    def test_limits_of_infeed_and_power_are_for_steps_of_both(self, shop):
        rows = ["rpm,power [kW],idle [kW],infeed rate [mm/min]", "120,2,1,0.6", "108,1.9,1,0.54"]
        Path("both.csv").write_text("\n".join(rows))

        def infeed(*more):
            return told(shop("next", "both.csv", "--json", *more))["infeed_rate"]

        assert infeed() == 0.66
        assert infeed("--highest-infeed-rate", "0.63") == 0.63 and infeed("--highest-power", "2.06") == pytest.approx(
            0.63, abs=0.01
        )


class TestPlan:
    def plan(self, shop, *more):
        return [(each["step_percent"], each["work_rpm"]) for each in told(shop("plan", "--nominal-rpm", "100", "--json", *more))]

    def test_order_spacing_and_step(self, shop):
        steps = [step for step, _ in self.plan(shop, "--steps-each-side", "2", "--order", "alternating")]
        assert steps == [0, 10, -10, 0, 20, -20, 0]
        assert [step for step, _ in self.plan(shop, "--steps-each-side", "2")] == [0, 20, -20, 0, -10, 10, 0]
        assert {rpm for _, rpm in self.plan(shop, "--steps-each-side", "1", "--step-percent", "4")} == {96, 100, 104}
        even = sorted({rpm for _, rpm in self.plan(shop, "--steps-each-side", "2", "--spacing", "depth", "--step-percent", "30")})
        low, lower, nominal, higher, high = (rpm**0.25 for rpm in even)
        assert (even[0], even[2], even[4]) == (pytest.approx(40), 100, pytest.approx(160))
        assert lower - low == pytest.approx(nominal - lower) and higher - nominal == pytest.approx(high - higher)

    @pytest.mark.parametrize("option", ["--lowest-infeed-rate", "--highest-infeed-rate"])
    def test_limits_of_the_infeed(self, option, shop):
        words = ("plan", "--nominal-rpm", "100", "--steps", "infeed", "--infeed-rate", "0.6", "--json")
        rates = [each["infeed_rate"] for each in told(shop(*words, option, "0.6"))]
        assert None in rates and all(rate is None or (rate >= 0.6 if "lowest" in option else rate <= 0.6) for rate in rates)

    @pytest.mark.parametrize("of_file", [False, True])
    def test_limits_of_the_rpm(self, of_file, shop):
        words = ["--lowest-work-rpm", "85", "--highest-work-rpm", "115"]
        if of_file:
            Path("lathe.toml").write_text("nominal_rpm = 777\nlowest_work_rpm = 85\nhighest_work_rpm = 115\n")
            words = ["--setup", "lathe.toml"]

        def rpms(*more):
            plan = self.plan(shop, "--steps-each-side", "2", *words, *more)
            assert (-20, None) in plan and (20, None) in plan
            return sorted({round(rpm, 6) for _, rpm in plan if rpm is not None})

        assert rpms() == [90, 100, 110]
        assert rpms("--highest-work-rpm", "100") == [90, 100]  # what is typed last, or beside a file, goes before
        assert rpms("--lowest-work-rpm", "100") == [100, 110]

    def test_power_at_nominal_and_idle_keep_steps_below_the_limit(self, shop):
        words = "plan --nominal-rpm 100 --steps infeed --infeed-rate 0.6 --steps-each-side 2 --json --nominal-power 3 --highest-power 3.25"

        def highest(*more):
            return max(each["infeed_rate"] or 0 for each in told(shop(*words.split(), *more)))

        assert highest() == 0.6  # of 3 kW, 10 % are 0.3 kW
        assert highest("--idle-power", "1") == pytest.approx(0.66)  # of 2 kW, 0.2 kW
        assert highest("--highest-power", "4") == pytest.approx(0.72)

    @pytest.mark.parametrize(
        "words, said",
        [
            (
                "--highest-power 4",
                "--highest-power must be left out with --steps 'rpm': only --steps 'rpm and infeed' or 'infeed' goes by it (got 4)",
            ),
            ("--nominal-power 3 --highest-power 4", "--nominal-power must be left out with --steps 'rpm'"),
            ("--infeed-basis diameter", "--infeed-basis must be left out with --steps 'rpm': only --steps"),
            (
                "--wheel-speed 20",
                "--wheel-speed must be left out with --steps 'rpm': only --steps 'wheel speed' goes by it (got 20)",
            ),
            ("--steps infeed --infeed-rate 0.6 --wheel-rpm 900", "--wheel-rpm must be left out with --steps 'infeed'"),
            (
                "--steps infeed --infeed-rate 0.6 --highest-power 4",
                "--highest-power must be given together with --nominal-power, or",
            ),
            (
                "--steps infeed --infeed-rate 0.6 --idle-power 1",
                "--idle-power must be given together with --nominal-power, or be",
            ),
            (
                "--steps infeed --infeed-rate 0.6 --nominal-power 3",
                "--nominal-power must be given together with --highest-power, or",
            ),
        ],
    )
    def test_an_option_that_the_steps_do_not_go_by_is_refused(self, words, said, shop):
        assert one_line(shop(f"plan --nominal-rpm 100 {words}")).startswith(f"gritfuncs plan: {said}")

    @pytest.mark.parametrize("steps", ["rpm", "rpm and infeed", "infeed", "wheel speed"])
    @pytest.mark.parametrize(
        "option, value, goes_by",
        [
            *(
                (option, value, ("rpm and infeed", "infeed"))
                for option, value in {
                    "--infeed-rate": "0.6",
                    "--infeed-basis": "diameter",
                    "--lowest-infeed-rate": "0.1",
                    "--highest-infeed-rate": "5",
                    "--nominal-power": "3",
                    "--highest-power": "4",
                    "--idle-power": "1",
                }.items()
            ),
            *(
                (option, value, ("wheel speed",))
                for option, value in {
                    "--wheel-diameter": "200",
                    "--wheel-speed": "20",
                    "--wheel-rpm": "1900",
                    "--marked-wheel-speed": "30",
                }.items()
            ),
        ],
    )
    def test_each_option_is_for_the_steps_that_go_by_it_and_refused_with_the_others(self, steps, option, value, goes_by, shop):
        beside = {
            "--setup": "all.toml",
            **({"--nominal-power": "3"} if option in ("--highest-power", "--idle-power") and steps in goes_by else {}),
        }
        Path("all.toml").write_text(
            "infeed_rate = 0.6\nwheel_diameter = 200\nwheel_speed = 20\nmarked_wheel_speed = 30\nhighest_power = 4\n"
        )
        more = [word for pair in {**beside, option: value}.items() for word in pair]
        said = shop("plan", "--nominal-rpm", "100", "--steps", steps, *more)
        if steps in goes_by:
            assert said[0] == 0, said[2]
        else:
            only = " or ".join(f"'{each}'" for each in goes_by)
            assert one_line(said) == (
                f"gritfuncs plan: {option} must be left out with --steps '{steps}': only --steps {only} goes by it (got {value})\n"
            )

    def test_notes_and_remarks_are_printed_as_json_has_them(self, shop):
        words = ("plan", "--nominal-rpm", "1.2", "--steps", "rpm and infeed", "--infeed-rate", "0.6")
        told_, (rows, remarks) = told(shop(*words, "--json", "--log")), shop(*words)[1].split("\n\n")
        notes = [each["note"] for each in told_["readings"]]
        assert any(notes) and len(rows.splitlines()) == len(notes) + 1
        assert all(row.endswith(note) and row == row.rstrip() for row, note in zip(rows.splitlines()[1:], notes))
        assert remarks.splitlines() == told_["remarks"] and remarks.startswith("Check the work speed of rotation")

    def test_the_head_names_what_is_set_beside_the_rpm(self, shop):
        def head(*more):
            return shop("plan", "--nominal-rpm", "100", *more)[1].splitlines()[0]

        by_rpm, infeed = "reading   step, %   work rpm, 1/min", ("--steps", "infeed", "--infeed-rate", "0.6")
        assert head() == by_rpm and head(*infeed) == f"{by_rpm}   infeed on the radius, mm/min"
        assert head(*infeed, "--infeed-basis", "diameter") == f"{by_rpm}   infeed on the diameter, mm/min"
        wheel = ("--steps", "wheel speed", "--wheel-speed", "25", "--marked-wheel-speed", "30")
        assert head(*wheel) == f"{by_rpm}   wheel, m/s"

    def test_wheel_speeds_are_printed_as_they_are_set(self, shop):
        words = ("plan", "--nominal-rpm", "100", "--steps", "wheel speed", "--wheel-speed", "25", "--marked-wheel-speed", "30")
        speeds = [each["wheel_speed"] for each in told(shop(*words, "--json"))]
        printed = [
            line.split()[3] for line in shop(*words)[1].splitlines() if re.match(r"\s+\d+\s+-?[\d.]+\s+[\d.]+\s+[\d.]+", line)
        ]
        assert [float(number) for number in printed] == pytest.approx([speed for speed in speeds if speed], rel=1e-3)
        assert len(printed) > 3

    def test_what_the_steps_go_by_is_asked_for_by_its_options(self, shop):
        words = ("plan", "--nominal-rpm", "100", "--steps")
        wheel = one_line(shop(*words, "wheel speed"))
        assert wheel == (
            "gritfuncs plan: --wheel-speed, --marked-wheel-speed must be given with --steps 'wheel speed'; "
            "add --wheel-speed '... m/s' --marked-wheel-speed '... m/s', or a file with --setup\n"
        )
        for steps in ("infeed", "rpm and infeed"):
            assert one_line(shop(*words, steps)).startswith(
                f"gritfuncs plan: --infeed-rate must be given with --steps '{steps}'; add --infeed-rate"
            )
        by_rpm = ("--wheel-rpm", "1900", "--wheel-diameter", "200", "--marked-wheel-speed", "30")
        assert shop(*words, "wheel speed", *by_rpm)[0] == 0

    def test_what_a_setup_file_gives_beside_is_no_fault(self, shop):
        Path("press.toml").write_text('wheel_speed = 20\ninfeed_rate = 0.6\nhighest_power = 4\ninfeed_basis = "radius"\n')
        bare = shop("plan --nominal-rpm 100")[1]
        assert shop("plan --nominal-rpm 100 --setup press.toml")[1] == bare
        kept = told(shop("plan --nominal-rpm 100 --setup press.toml --steps infeed --nominal-power 3.9 --json"))
        assert max(each["infeed_rate"] or 0 for each in kept) == 0.6

    def test_it_says_how_to_log_and_how_to_sweep(self, shop):
        bare = shop("plan --nominal-rpm 100 --steps-each-side 1")[1]
        logged = shop("plan --nominal-rpm 100 --steps-each-side 1 --log")[1]
        swept = shop("plan --nominal-rpm 100 --steps-each-side 1 --sweep 2")[1]
        assert "gritfuncs log" not in bare and logged.startswith(bare) and "gritfuncs log LOG --plan TRIAL" in logged
        assert swept.startswith(bare) and "--sweep 90,110,90,110,90" in swept and "--plan TRIAL" not in swept
        assert shop("plan --nominal-rpm 100 --sweep 10")[0] == 0

    def test_json_holds_what_the_text_says_of_log_and_sweep(self, shop):
        line = "plan --nominal-rpm 100 --steps-each-side 1"
        bare = told(shop(f"{line} --json"))
        both, words = told(shop(f"{line} --json --log --sweep 2")), shop(f"{line} --log --sweep 2")[1]
        assert both["readings"] == bare and words.endswith(f"\n\n{both['sweep']['advice']}\n\n{both['log']}\n")
        assert all(f"{sentence}\n" in words for sentence in both["remarks"]) and both["remarks"]
        assert both["sweep"]["work_rpms"] == pytest.approx([90, 110, 90, 110, 90])
        assert (both["sweep"]["lag"], both["sweep"]["infeed_time"]) == (2, 80) and "110,90 --infeed-time 80" in words
        assert told(shop(f"{line} --json --log"))["sweep"] is None and told(shop(f"{line} --json --sweep 2"))["log"] is None

    @pytest.mark.parametrize("lag", ["0", "-1", "10.5"])
    def test_a_lag_that_cannot_be_is_refused_before_anything_is_printed(self, lag, shop):
        said = one_line(shop("plan", "--nominal-rpm", "100", "--sweep=" + lag))
        assert said == f"gritfuncs plan: --sweep must be > 0 and <= 10 s (got {lag})\n"

    def test_an_rpm_whose_decimal_sign_may_have_slipped_is_named(self, shop):
        assert (
            "\nCheck the work speed of rotation: usual is 5 to 2000 1/min (got 1.2 1/min).\n"
            in shop("plan --nominal-rpm 1.200")[1]
        )
        assert "Check" not in shop("plan --nominal-rpm 120")[1]

    def test_watts_that_were_taken_for_kilowatts_are_named(self, shop):
        words = (
            "plan --nominal-rpm 100 --steps infeed --infeed-rate 0.6 --nominal-power 2000 --highest-power 4000 --idle-power 860"
        )
        said = shop(words)[1]
        assert all(f"Check the {word} power: usual is 0 to " in said for word in ("nominal", "highest", "idle"))

    def test_much_for_an_idling_spindle_may_be_usual_under_load(self, shop):
        words = "plan --nominal-rpm 100 --steps infeed --infeed-rate 0.6 --nominal-power 80 --highest-power 90 --idle-power 60"
        said = [line for line in shop(words)[1].splitlines() if line.startswith("Check")]
        assert said == ["Check the idle power: usual is 0 to 50 kW (got 60 kW)."]

    def test_a_plan_at_one_rpm_has_no_sweep(self, shop):
        words = ("plan", "--nominal-rpm", "100", "--steps", "infeed", "--infeed-rate", "0.6", "--sweep", "2")
        assert "--sweep must be left out where the plan has one work rpm only" in one_line(shop(*words))
        between = "plan --nominal-rpm 100 --steps-each-side 1 --highest-work-rpm 105 --sweep 2"  # 90 and 100 1/min
        assert "--sweep 90,100,90" in shop(between)[1]

    @pytest.mark.parametrize(
        "words, said",
        [
            ("", "--nominal-rpm must be given: the work rpm where the trial starts; add --nominal-rpm NUMBER"),
            ("--nominal-rpm 100 --steps-each-side 19", "--steps-each-side must be a whole number from 1 to 18 (got 19)"),
            ("--nominal-rpm 100 --step-percent 20", "--step-percent must be > 0 and, times 6 steps, < 100 % of nominal (got 20"),
            ("--nominal-rpm 100 --step-percent 0", "--step-percent must be > 0 and, times 6 steps"),
        ],
    )
    def test_what_is_refused_is_named_as_it_was_typed(self, words, said, shop):
        assert one_line(shop(f"plan {words}")).startswith(f"gritfuncs plan: {said}")


class TestWithoutEffect:
    @pytest.mark.parametrize(
        "words, said",
        [
            (
                "knee few.csv --file other.xlsx",
                "knee: --file must be given together with --record, or be left out (got other.xlsx)",
            ),
            ("plan --nominal-rpm 100 --file other.xlsx", "plan: --file must be given together with --record, or be left out"),
            ("table --grit-depth 1 --sheet A", "table: --sheet must be given together with --trial, or be left out (got A)"),
            (
                "table --grit-depth 1 --heading-row 3",
                "table: --heading-row must be given together with --trial, or be left out (got 3",
            ),
            (
                "table --grit-depth 1 --column power=B",
                "table: --column must be given together with --trial, or be left out (got p",
            ),
            ("table --grit-depth 1 --load-kind power", "table: --load-kind must be given together with --trial, or be left out"),
            ("table --grit-depth 1 --idle 2", "table: --idle must be given together with --trial, or be left out (got 2"),
            (
                "table --grit-depth 1 --noise-percent 2",
                "table: --noise-percent must be given together with --trial, or be left out (got 2)",
            ),
            (
                "table --grit-depth 1 --infeed-basis diameter",
                "table: --infeed-basis must be given together with --infeed-rates, or",
            ),
        ],
    )
    def test_an_option_that_would_have_none_is_refused(self, words, said, shop):
        assert one_line(shop(words)).startswith(f"gritfuncs {said}")


class TestRecord:
    @pytest.fixture
    def own(self, recorded, shop):
        shutil.copy(recorded, "own.xlsx")
        return shop

    def test_an_entry_is_added_with_a_backup_and_says_how_to_go_on(self, own):
        code, out, _ = own("record", "add", "since.csv", *TEXTS, "--file", "own.xlsx", "--key", "C 3", "--date", "2026-02-22")
        first, backup, *_, last = out.splitlines()
        assert code == 0 and first.startswith("own.xlsx: added: C 3: 1.36") and first.endswith("w7, carbide, m3; 2026-02-22 (ok)")
        assert backup == "as it was before: own.backup-1.xlsx" and Path("own.backup-1.xlsx").exists()
        assert last == 'Next: gritfuncs table --record "C 3"'
        told_ = told(own("record", "add", "since.csv", *TEXTS, "--file", "own.xlsx", "--key", "D-4", "--json"))
        assert told_["backup"].endswith("own.backup-2.xlsx") and told_["entry"]["key"] == "D-4"

    def test_the_list_and_one_entry(self, own):
        first, second = own("record", "list", "--file", "own.xlsx")[1].splitlines()
        assert first.startswith("A 1: 1.36241 µm, 1.34") and second.endswith("; w7, carbide, m3; 2026-02-21 (ok)")
        shown = own("record", "show", "b", "--file", "own.xlsx")[1]
        assert shown.startswith("B: ok\n    wheel ") and "2026-02-21" in shown and "= door side" in shown
        assert "wheel diameter, mm" in shown and "= 200\n" in shown and "drift" not in shown  # what is blank is not shown
        assert told(own("record", "show", "B", "--file", "own.xlsx", "--json"))["date"] == "2026-02-21"

    def test_a_new_record_holds_all_that_was_typed(self, shop):
        texts = {
            "wheel": "w7",
            "bond": "resin",
            "material": "carbide",
            "machine": "m3",
            "coolant": "oil",
            "who": "AB",
            "grit": "D126",
            "note": "door side",
        }
        words = [word for name, text in texts.items() for word in (f"--{name}", text)]
        setup = ("--setup", "readings.csv", "--idle", "0.86", "--contact-width", "30")  # bare.csv has none of its own
        said = shop("record", "add", "bare.csv", *words, *setup, "--key", "A-1", "--date", " 2026-02-20 ", "--file", "new.xlsx")
        lines = said[1].splitlines()
        assert said[0] == 0 and lines[0].startswith("new.xlsx: new: A-1: 1.36") and len(lines) == 2
        assert lines[1] == "Next: gritfuncs table --record A-1"
        (entry,) = told(shop("record list --file new.xlsx --json"))
        assert {name: entry[name] for name in texts} == texts and entry["date"] == "2026-02-20"
        assert (entry["setup"]["contact_width"], entry["setup"]["wheel_diameter"]) == (30, 200)
        power = told(shop("knee", "readings.csv", "--json"))[0]["knee"]
        assert entry["knee"] == pytest.approx(power["knee"], rel=1e-5)
        assert entry["level"] == pytest.approx(power["level"] / 2, rel=1e-5)  # twice as wide

    def test_one_entry_is_shown_with_all_columns_that_hold_something(self, own):
        """Beside the workbook itself: headings, in their order, and values as the cells have them."""
        book = openpyxl.load_workbook("own.xlsx", data_only=True)
        cells = {}
        for title in ("Record", "Setups"):
            rows = [[cell.value for cell in row] for row in book[title].iter_rows()]
            top = next(number for number, row in enumerate(rows) if "key" in row)
            values = next(row for row in rows[top + 1 :] if row[rows[top].index("key")] == "B")
            cells.update(zip(rows[top][rows[top].index("key") + 1 :], values[rows[top].index("key") + 1 :]))
        held = {heading: value for heading, value in cells.items() if heading and value is not None}
        shown = dict(line.split(" = ") for line in own("record", "show", "B", "--file", "own.xlsx")[1].splitlines()[1:])
        assert [heading.strip() for heading in shown] == list(held) and len(held) > 20
        for (heading, value), said in zip(held.items(), shown.values()):
            if isinstance(value, (int, float)):
                assert float(said) == pytest.approx(value, rel=1e-5), heading
            else:
                assert said == str(value).removesuffix(" 00:00:00"), heading

    def test_a_record_without_entries_and_an_entry_without_key_are_listed_as_such(self, own):
        book = openpyxl.load_workbook("own.xlsx")
        sheet = book["Record"]
        heads = {cell.value: cell.column for row in sheet.iter_rows(1, 8) for cell in row}
        for row, heading in ((8, "key"), (9, "material"), (9, "low, µm")):
            sheet.cell(row, heads[heading]).value = None
        book.save("own.xlsx")
        first, second = own("record", "list", "--file", "own.xlsx")[1].splitlines()
        assert first.startswith("(no key): 1.36241 µm, ") and second.startswith("B: 1.36241 µm, - to 1.38")
        assert second.endswith("; w7, m3; 2026-02-21 (incomplete)")
        assert "own.xlsx: the entry B must be one that may be used (got incomplete: " in one_line(
            own("table", "--record", "B", "--file", "own.xlsx")
        )
        for row in (8, 9):
            for column in heads.values():
                if not str(sheet.cell(row, column).value).startswith("="):
                    sheet.cell(row, column).value = None
        book.save("own.xlsx")
        assert own("record", "list", "--file", "own.xlsx") == (0, "own.xlsx: no entries yet\n", "")

    def test_what_a_record_cannot_keep_is_said_of_the_entry(self, own):
        book = openpyxl.load_workbook("own.xlsx")
        del book["Setups"]
        book.save("own.xlsx")
        words = ("record", "add", "since.csv", *TEXTS, "--file", "own.xlsx", "--key")
        remark = "own.xlsx has no sheet Setups: wheel, part and limits of the trial are not kept there."
        assert own(*words, "C")[1].splitlines()[2] == remark
        assert remark in told(own(*words, "D", "--json"))["remarks"]

    def test_the_key_that_a_trial_workbook_has_needs_no_option(self, own):
        trial_workbook.save("mine.xlsx", key="K 7")
        words = ("record", "add", "mine.xlsx", *TEXTS, "--file", "own.xlsx", "--json")
        assert told(own(*words))["entry"]["key"] == "K 7"
        assert told(own(*words, "--key", "K 8"))["entry"]["key"] == "K 8"  # what is typed goes before

    def test_an_entry_that_is_not_to_be_used_says_why(self, own):
        book = openpyxl.load_workbook("own.xlsx")
        sheet = book["Record"]
        (column,) = [cell.column for row in sheet.iter_rows(1, 8) for cell in row if cell.value == "knee, µm"]
        sheet.cell(9, column).value = "thick"
        book.save("own.xlsx")
        shown = own("record", "show", "B", "--file", "own.xlsx")[1].splitlines()[0]
        assert shown.startswith("B: ") and "missing or wrong: " in shown and "knee" in shown
        assert own("table", "--record", "B", "--file", "own.xlsx")[0] == 1

    @pytest.mark.parametrize(
        "words, said",
        [
            ("add", "FILE must be given; gritfuncs record add FILE --key KEY"),
            ("add readings.csv", "--key must be given: a short name that is used once; gritfuncs record add FILE --key KEY"),
            ("show", "KEY must be given; gritfuncs record list shows the keys"),
            ("add readings.csv --date 2026-02-30", "--date must be a day such as 2026-03-01 (got '2026-02-30')"),
        ],
    )
    def test_what_is_missing_is_named(self, words, said, shop):
        assert one_line(shop(f"record {words}")) == f"gritfuncs record: {said}\n"

    @pytest.mark.parametrize(
        "words, said",
        [
            ("list --who AB", "--who must be left out with list: only add goes by it (got AB)"),
            ("list --key B", "--key must be left out with list: only add goes by it (got B)"),
            ("list B", "KEY must be left out with list: show takes the key of one entry (got B)"),
            ("show B --date 2026-02-21", "--date must be left out with show: only add goes by it (got 2026-02-21)"),
            ("show B --shape-ratio 7", "--shape-ratio must be left out with show: only add goes by it (got 7)"),
            (
                "show B --setup a.toml --setup b.toml",
                "--setup must be left out with show: only add goes by it (got a.toml, b.toml)",
            ),
            ("show B --column work_rpm=A", "--column must be left out with show: only add goes by it (got work_rpm=A)"),
            ("show B --noise-percent 2", "--noise-percent must be left out with show: only add goes by it (got 2)"),
        ],
    )
    def test_what_only_adding_goes_by_is_refused_elsewhere(self, words, said, own):
        assert one_line(own(*f"record {words} --file own.xlsx".split())) == f"gritfuncs record: {said}\n"

    def test_a_recorded_knee_is_asked_about_by_its_key(self, own):
        assert one_line(own("confirm")) == "gritfuncs confirm: --record must be given; gritfuncs record list shows the keys\n"
        words = ("confirm", "--record", "B", "--file", "own.xlsx")
        lines = own(*words)[1].splitlines()
        assert lines[0] == "B: 1.362 µm, 1.342 to 1.386 µm; new readings: 0"
        assert [line.split() for line in lines[1:3]] == [
            ["grit", "density", "18.9006", "from", "record", "B"],
            ["shape", "ratio", "10", "from", "record", "B"],
        ]
        assert lines[3].startswith("next: ") and "reading 1 of 4" in lines[3]
        for of_file in ((), ("since.csv",)):
            assert "changed: burn" in own("confirm", *of_file, *words[1:], "--damage-seen")[1]
        assert "new readings: 15" in own("confirm", "since.csv", *words[1:])[1]

    def test_grit_density_and_shape_ratio_of_the_record_go_before_those_of_a_setup_file(self, own):
        """The recorded depth is one of theirs: with others it would mean another rpm."""
        Path("other.toml").write_text("grit_density = 30\nshape_ratio = 12\ninfeed_rate = 0.5\n")
        said = [own("confirm", "--record", "B", "--file", "own.xlsx", *more)[1] for more in ((), ("--setup", "other.toml"))]
        assert all("grit density 18.9006 from record B" in one and "shape ratio 10 from record B" in one for one in said)
        assert said[0] != said[1]  # by the infeed rate

    def test_a_confirmation_names_what_is_unusual_before_the_rpm_that_follows(self, own):
        words = ("confirm", "--record", "B", "--file", "own.xlsx")
        lines = own(*words, "--infeed-rate", "0.005", "--work-diameter", "2")[1].splitlines()
        assert lines[3] == "    Check --infeed-rate: 0.005 mm/min, usual is 0.01 to 10 mm/min."
        assert (
            lines[4].startswith("    Check the work speed of rotation: usual is 5 to 2000 1/min (got ")
            and lines[5][:6] == "next: "
        )
        assert "Check" not in own(*words)[1]

    def test_a_confirmation_stops_at_the_width_that_was_wanted_and_for_damage_in_the_file(self, own):
        def word(path, *more):
            return told(own("confirm", path, "--record", "B", "--file", "own.xlsx", "--json", *more))["word"]

        assert word("since.csv") == "confirmed" != word("since.csv", "--wanted-percent", "0.1")
        Path("burnt.csv").write_text(
            demo.readings_text().replace("idle [kW]\n", "idle [kW],damage\n").replace("84,2.18,0.86", "84,2.2,0.86,burn")
        )
        assert word("burnt.csv") == "changed"

    def test_a_confirmation_stays_within_the_limits_and_says_where_its_numbers_came_from(self, own):
        words = ("confirm", "--record", "B", "--file", "own.xlsx", "--json")
        free = told(own(*words))
        assert free["sources"]["infeed_rate"] == free["sources"]["grit_density"] == "record B" and free["work_rpm"] > 112
        of_file = ("confirm", "few.csv", *words[1:])  # three readings: no knee of their own
        some = told(own(*of_file))
        assert (some["word"], some["n_readings"]) == ("go on", 3) and 60 < some["work_rpm"] < 100
        for line in (words, of_file):  # the knee is at 103 1/min: no depth beyond it can be set
            limited = told(own(*line, "--highest-work-rpm", "105"))
            assert limited["work_rpm"] is None and "the limits leave fewer than four depths" in limited["reason"]
        typed = told(own(*words, "--infeed-rate", "0.5"))
        assert typed["sources"]["infeed_rate"] == "option" and typed["work_rpm"] != free["work_rpm"]
        assert one_line(own(*words, "--idle", "2")) == (
            "gritfuncs confirm: --idle must be given together with FILE, or be left out (got 2)\n"
        )

    def test_a_confirmation_without_setup_names_the_options(self, own):
        book = openpyxl.load_workbook("own.xlsx")
        for sheet in book:
            for row in sheet.iter_rows(1, 9):
                for cell in row:
                    if cell.value == "work diameter, mm":
                        sheet.cell(9, cell.column).value = None
        book.save("own.xlsx")
        said = one_line(own("confirm", "--record", "B", "--file", "own.xlsx"))
        assert "setup must have work_diameter; add --work-diameter MM, or a file with --setup" in said

    def test_a_table_takes_the_idle_power_of_the_entry_too(self, own):
        def table(*more):
            return told(own("table", "--record", "B", "--file", "own.xlsx", "--json", *more))

        entry = table()
        power, without = (each["rows"][0][0]["power"] for each in (entry, table("--idle-power", "0")))
        assert entry["sources"]["idle_power"] == "record B" and power - without == pytest.approx(0.86)

    def test_a_scatter_that_is_known_goes_before_that_of_the_record(self, own):
        words = ("confirm", "since.csv", "--record", "B", "--file", "own.xlsx", "--json")
        assert told(own(*words)) != told(own(*words, "--noise-percent", "9"))

    def test_readings_that_differ_a_little_are_others(self, own):
        text = Path("readings.csv").read_text()
        Path("again.csv").write_text(text.replace("84,2.18", "84,2.181"))
        assert own("confirm", "again.csv", "--record", "B", "--file", "own.xlsx")[0] == 0
        Path("same.csv").write_text("# copied\n" + text)
        said = one_line(own("confirm", "same.csv", "--record", "B", "--file", "own.xlsx"))
        assert "same.csv must hold readings taken since the entry B was made (got those that it was made from)" in said

    @pytest.mark.parametrize("more", [[], ["--noise-percent", "5"]])
    def test_readings_never_confirm_themselves_whatever_scatter_is_known_since(self, more, own):
        """The interval is another one as soon as the record has a second trial of the machine, or a scatter is typed."""
        rows = [
            (rpm, power + (0.04 if number % 2 else -0.04), idle) for number, (rpm, power, idle) in enumerate(example.readings())
        ]
        text = Path("readings.csv").read_text()
        head = text[: text.index("120,1.99")]
        Path("other.csv").write_text(head + "".join(f"{rpm:g},{power:.3f},{idle}\n" for rpm, power, idle in rows))
        words = ("--file", "own.xlsx")
        assert own("record", "add", "other.csv", *TEXTS, *words, "--key", "C", "--date", "2026-03-01", *more)[0] == 0
        assert "other.csv must hold readings taken since" in one_line(own("confirm", "other.csv", "--record", "C", *words))
        for path, key in (("readings.csv", "B"), ("other.csv", "C")):
            said = f"{path} must hold readings taken since the entry {key} was made (got those that it was made from)"
            assert said in one_line(own("confirm", path, "--record", key, *words, *more))
        assert own("confirm", "since.csv", "--record", "B", *words, *more)[0] == 0


class TestShare:
    @pytest.fixture
    def book(self, tmp_path):
        """A call that is replaced and, if it is asked for, one that is not."""

        def book(*more, value=9.42477796076938):
            workbook = openpyxl.Workbook()
            workbook.active.append([20, 150, "=GRIT_WORK_SPEED(A1,B1)", *more])
            return stored(workbook, tmp_path / "shop" / "book.xlsx", {"Sheet": {"C1": value}})

        return book

    def test_a_terminal_sees_how_far_it_is(self, shop, book, monkeypatch):
        book()
        monkeypatch.setattr(output, "FIRST_PROGRESS", 0.0)
        monkeypatch.setattr(output, "NEXT_PROGRESS", 0.0)
        monkeypatch.setattr(output.sys.stderr, "isatty", lambda: True)
        shown = [each for each in shop("share book.xlsx")[2].split("\r") if each.strip()]
        assert shown[0] == "sharing: 0 %" != shown[-1] and all(re.fullmatch(r"sharing: \d+ %", each) for each in shown)

    def test_it_ends_with_0_only_when_all_is_replaced_and_nothing_changes(self, shop, book):
        book()
        code, out, err = shop("share book.xlsx")
        assert (
            (code, err) == (0, "") and out.startswith("book.xlsx -> book (shared).xlsx\n") and Path("book (shared).xlsx").exists()
        )
        book("=GRIT_VERSION()")
        code, out, _ = shop("share book.xlsx --output left.xlsx")
        assert code == 1 and "Not replaced: 1" in out and Path("left.xlsx").exists()
        book(value=9.5)
        assert shop("share book.xlsx --output other.xlsx")[0] == 1

    def test_another_spelling_is_asked_for_by_the_name_of_the_host(self, shop, book):
        book()
        assert shop("share book.xlsx --to calc")[0] == 0
        sheet = openpyxl.load_workbook("book (for Calc).xlsx").active
        assert sheet["C1"].value == "=ORG.GRITFUNCS.CELLS.GRIT_WORK_SPEED(A1,B1)"
        assert shop("share book.xlsx --to calc --output own.xlsx")[1].startswith("book.xlsx -> own.xlsx\n")
        assert openpyxl.load_workbook("own.xlsx").active["C1"].value == sheet["C1"].value
        assert "--to must be one of native, excel, calc (got 'numbers')" in one_line(shop("share book.xlsx --to numbers"))


class TestTable:
    def test_a_power_needs_a_width_and_an_energy_that_belong_to_it(self, shop):
        def power(*more):
            return told(shop(*TABLE_WORDS, "--json", *more))["rows"][0][0]["power"]

        idle = 0.86  # kW
        assert power("--contact-width", "30") == pytest.approx(power())  # twice as wide, half the energy of the same readings
        of_40 = power("--specific-energy", "40")
        assert power("--specific-energy", "80") - idle == pytest.approx(2 * (of_40 - idle))
        assert power("--specific-energy", "40", "--contact-width", "30") - idle == pytest.approx(2 * (of_40 - idle))
        assert power("--specific-energy", "40", "--idle-power", "1") - of_40 == pytest.approx(1 - idle)

    def test_an_energy_of_the_trial_without_a_width_gives_no_power(self, shop):
        text = Path("readings.csv").read_text().replace("contact_width,15,mm\n", "")
        Path("narrow.csv").write_text(text)
        words = ("table", "--trial", "narrow.csv", "--work-diameters", "20", "--infeed-rates", "0.6")
        assert told(shop(*words, "--json"))["rows"][0][0]["power"] is None
        assert "contact_width must be" in shop(*words, "--specific-energy", "40")[2].replace("--contact-width", "contact_width")

    @pytest.mark.parametrize("head, kind", [("load [%]", "relative"), ("current [A]", "current")])
    def test_the_level_of_a_load_that_is_no_power_is_no_energy(self, head, kind, shop):
        text = Path("readings.csv").read_text()
        Path("other.csv").write_text(text.replace("power [kW]", head).replace("idle [kW]", f"idle {head.split()[1]}"))
        assert told(shop("knee", "other.csv", "--json"))[0]["load_kind"] == kind
        words = ("table", "--trial", "other.csv", *TABLE_WORDS[3:])
        said = told(shop(*words, "--json"))
        assert said["rows"][0][0]["power"] is None and said["rows"][0][0]["work_rpm"] > 0

    def test_the_idle_power_is_that_of_the_trial_where_it_is_one_and_that_of_the_setup_without_a_trial(self, shop):
        def idle(words, *more):
            told_ = told(shop(*words, "--specific-energy", "40", "--json", *more))
            return told_["rows"][0][0]["power"], told_["sources"].get("idle_power")

        one, source = idle(TABLE_WORDS)
        assert source == "readings.csv"
        Path("idles.csv").write_text(Path("readings.csv").read_text().replace("84,2.18,0.86", "84,2.18,0.8"))
        assert idle(("table", "--trial", "idles.csv", *TABLE_WORDS[3:])) == (pytest.approx(one - 0.86), None)
        Path("press.toml").write_text("idle = 0.5\nload_kind = 'power'\n")
        words = ("table", "--grit-depth", "1.2", *TABLE_WORDS[3:], "--setup", "readings.csv")
        bare, source = idle(words)
        with_setup = idle(words, "--setup", "press.toml")
        assert source != "press.toml" and with_setup[1] == "press.toml"
        assert with_setup[0] - idle(words, "--idle-power", "0")[0] == pytest.approx(0.5)
        Path("meter.toml").write_text("idle = 20\nload_kind = 'relative'\n")
        assert idle(words, "--setup", "meter.toml")[0] == idle(words, "--idle-power", "0")[0]  # 20 % of a meter are no kW

    def test_no_power_is_promised_where_no_energy_is_known(self, shop):
        words = ("table", "--grit-depth", "1.2", *TABLE_WORDS[3:], "--setup", "readings.csv", "--idle-power", "0")
        assert "The idle power is not known" not in shop(*words)[1]
        assert "The idle power is not known" in shop(*words, "--specific-energy", "40")[1]

    def test_damage_far_from_the_knee_leaves_the_table(self, shop):
        def damaged(row):
            text = Path("readings.csv").read_text().replace("idle [kW]\n", "idle [kW],damage\n")
            Path("damaged.csv").write_text(text.replace(row, f"{row},burn"))
            return shop("table", "--trial", "damaged.csv", *TABLE_WORDS[3:])

        assert damaged("48,2.65,0.86")[0] == 0
        assert "no depth to hold: damage was seen (row " in one_line(damaged("108,1.98,0.86"))

    def test_the_depth_that_was_typed_needs_no_knee(self, shop):
        cell = told(shop(*TABLE_WORDS, "--grit-depth", "1.2", "--json"))
        assert cell["grit_depth"] == 1.2 and cell["sources"]["grit_depth"] == "option"
        assert cell["sources"]["wheel_speed"] == "readings.csv"
        words = ("table", "--trial", "few.csv", "--work-diameters", "20", "--infeed-rates", "0.6", "--grit-depth", "1.2")
        setup = "--wheel-diameter 200 --wheel-speed 22 --marked-wheel-speed 35 --grit-density 19 --shape-ratio 10"
        assert "no depth to hold" in one_line(shop(*words[:-2]))
        assert told(shop(*words, *setup.split(), "--json"))["grit_depth"] == 1.2

    def test_infeed_rates_count_on_what_is_said(self, shop):
        def rates(*more):
            return told(shop(*TABLE_WORDS[:-2], "--infeed-rates", "0.6;1.2", *more, "--json"))["infeed_rates"]

        assert rates() == rates("--infeed-basis", "radius") == [0.6, 1.2]
        assert rates("--infeed-basis", "diameter") == [0.3, 0.6]
        Path("lathe.toml").write_text("infeed_rate = 1.2\ninfeed_basis = 'diameter'\n")
        words = ("--setup", "lathe.toml")
        assert rates(*words, "--infeed-basis", "radius") == [0.6, 1.2] and rates(*words, "--infeed-basis", "diameter") == [
            0.3,
            0.6,
        ]
        own = told(shop(*TABLE_WORDS[:-2], *words, "--json"))
        assert own["infeed_rates"] == [0.6] and own["sources"]["infeed_rates"] == "lathe.toml"
        asked = "--infeed-basis must be given with --infeed-rates: the setup counts infeed on the diameter"
        assert asked in one_line(shop(*TABLE_WORDS, *words))

    def test_a_knee_that_is_no_depth_asks_for_the_setup(self, shop):
        said = one_line(shop("table --trial bare.csv --work-diameters 20 --infeed-rates 0.6 --marked-wheel-speed 35"))
        assert said.startswith("gritfuncs table: bare.csv: setup must have work_diameter, ") and "--wheel-diameter MM" in said

    def test_all_that_is_missing_is_named_with_what_supplies_it(self, shop):
        values = {
            "--grit-depth": "µm",
            "--work-diameters": "MM,MM",
            "--infeed-rates": "RATE,RATE",
            "--wheel-diameter": "MM",
            "--wheel-speed": "'... m/s'",
            "--marked-wheel-speed": "'... m/s'",
            "--grit-density": "'... 1/mm²'",
            "--shape-ratio": "NUMBER",
        }
        line = " ".join(map(" ".join, values.items()))
        assert one_line(shop("table")) == (
            f"gritfuncs table: {', '.join(values)} must be given; add {line}, or a file with --setup\n"
        )

    def test_what_was_typed_and_what_was_not_is_told_by_its_place(self, shop):
        first, blank = shop(*TABLE_WORDS)[1].splitlines()[:2]
        assert first.startswith("from readings.csv: ") and "grit depth" in first and "work diameters" not in first and not blank

    def test_every_value_of_a_table_is_told_with_its_place(self, shop, recorded):
        """The trial goes before the record, C and r of the record before those of a file, what is typed before all."""
        Path("press.toml").write_text("idle = 0.5\nload_kind = 'power'\nhighest_work_rpm = 90\nshape_ratio = 12\n")
        words = ["table", "--record", "B", "--file", str(recorded), "--setup", "press.toml"]
        own = dict.fromkeys(("wheel_diameter", "wheel_speed", "marked_wheel_speed", "side"), "since.csv")
        record = dict.fromkeys(("grit_density", "shape_ratio"), "record B")
        typed = ["--work-diameters", "12", "--contact-width", "10", "--specific-energy", "100"]
        both = told(shop(*words, "--trial", "since.csv", *typed, "--json"))
        assert both["sources"] == {
            **own,
            **record,
            **dict.fromkeys(("grit_depth", "idle_power", "infeed_rates"), "since.csv"),
            **dict.fromkeys(("work_diameters", "contact_width", "specific_energy"), "option"),
            "highest_work_rpm": "press.toml",
        }
        assert both["rows"][0][0]["broken"] == ["rpm too high"]
        assert shop(*words, "--trial", "since.csv", *typed)[1].splitlines()[:4] == [
            "from since.csv: wheel diameter, wheel speed, marked wheel speed, side, grit depth, idle power, infeed rates",
            "from record B: grit density, shape ratio",
            "from press.toml: highest work rpm",
            "",
        ]
        alone = told(shop(*words, "--grit-depth", "1.2", "--json"))
        assert (alone["grit_depth"], alone["work_diameters"], alone["infeed_rates"]) == (1.2, [20], [0.6])
        assert alone["sources"] == {
            **dict.fromkeys(own, "record B"),
            **record,
            **dict.fromkeys(("contact_width", "specific_energy", "work_diameters", "infeed_rates"), "record B"),
            "grit_depth": "option",
            **dict.fromkeys(("idle_power", "highest_work_rpm"), "press.toml"),
        }
        without = told(shop(*words, "--grit-depth", "1.2", "--idle-power", "0", "--json"))
        assert alone["rows"][0][0]["power"] - without["rows"][0][0]["power"] == pytest.approx(0.5)

    def test_the_idle_of_a_load_meter_is_no_idle_power(self, shop):
        text = Path("readings.csv").read_text()
        Path("meter.csv").write_text(text.replace("power [kW]", "load [%]").replace("idle [kW]", "idle [%]"))
        words = ("table", "--trial", "meter.csv", *TABLE_WORDS[3:], "--specific-energy", "40")
        meter, none = (told(shop(*words, *more, "--json")) for more in ((), ("--idle-power", "0")))
        assert meter["rows"] == none["rows"] and "idle_power" not in meter["sources"]

    def test_limits_of_the_machine_in_the_trial_count(self, shop):
        text = Path("readings.csv").read_text().replace("work rpm [", "highest_work_rpm,90,1/min\nwork rpm [")
        Path("slow.csv").write_text(text)
        words = ("table", "--trial", "slow.csv", *TABLE_WORDS[3:], "--json")
        limited, typed = told(shop(*words)), told(shop(*words, "--highest-work-rpm", "400"))
        assert limited["rows"][0][0]["broken"] == ["rpm too high"] and limited["sources"]["highest_work_rpm"] == "slow.csv"
        assert typed["rows"][0][0]["broken"] == [] and typed["sources"]["highest_work_rpm"] == "option"

    def test_where_no_idle_was_taken_off_none_is_known(self, shop):
        words = ("table", "--trial", "bare.csv", "--setup", "readings.csv", *TABLE_WORDS[3:])
        assert "idle_power" not in told(shop(*words, "--json"))["sources"]
        out = shop(*words)[1]
        assert "idle power" not in out.partition("\n\n")[0] and "The idle power is not known" in out

    def test_why_there_is_no_depth_to_hold_is_said(self, shop):
        assert one_line(shop("table", "--trial", "few.csv", *TABLE_WORDS[3:])) == (
            "gritfuncs table: few.csv: no depth to hold: the verdict is too few readings; "
            f"{told(shop('knee few.csv --json'))[0]['knee']['advice']}\n"
        )
        text = Path("readings.csv").read_text().replace("idle [kW]\n", "idle [kW],damage\n")
        for row in ("168,1.96,0.86", "96,2.03,0.86", "108,1.98,0.86", "132,1.96,0.86"):
            text = text.replace(row, f"{row},burn")
        Path("burnt.csv").write_text(text)
        lines = [number for number, line in enumerate(text.splitlines(), 1) if line.endswith("burn")]
        rows = ", ".join(f"row {line}" for line in lines[:3])
        assert one_line(shop("table", "--trial", "burnt.csv", *TABLE_WORDS[3:])) == (
            f"gritfuncs table: burnt.csv: no depth to hold: damage was seen ({rows}), so its knee is none to set a machine by\n"
        )

    @pytest.mark.parametrize("head", ["power [kW]", "load [%]"])
    def test_a_trial_before_its_first_reading_gives_the_setup_for_a_depth_that_is_typed(self, head, shop):
        text = Path("readings.csv").read_text().partition("120,")[0].replace("power [kW]", head)
        Path("none.csv").write_text(text.replace("idle [kW]", head.replace("power", "idle").replace("load", "idle")) + ",,\n")
        words = ("table", "--trial", "none.csv", *TABLE_WORDS[3:])
        assert one_line(shop(*words)) == "gritfuncs table: none.csv: must have at least one usable reading (all rows are blank)\n"
        of_trial, of_setup = (
            told(shop("table", *more, *TABLE_WORDS[3:], "--grit-depth", "1.2", "--json"))["rows"]
            for more in (("--trial", "none.csv"), ("--setup", "readings.csv"))
        )
        assert of_trial == of_setup

    def test_a_limit_that_a_file_breaks_is_named_there(self, shop):
        Path("fast.toml").write_text("wheel_speed = 40\nmarked_wheel_speed = 35\n")
        said = one_line(
            shop("table --grit-depth 1 --work-diameters 20 --infeed-rates 0.6 --setup fast.toml --wheel-diameter 200")
        )
        assert "fast.toml" in said

    def test_what_was_written_is_named(self, shop):
        assert shop(*TABLE_WORDS, "--write", "page.xlsx")[1].endswith("\nwritten: page.xlsx\n") and Path("page.xlsx").exists()

    def test_the_page_that_is_written_names_where_it_is_from_and_keeps_the_entry(self, shop, recorded):
        """It opens on the page to pin up; its record has the entry, for the other sheets to look up."""
        words = ("table", "--record", "B", "--file", str(recorded), "--write", "page.xlsx")
        assert told(shop(*words, "--json"))["grit_depth"] == pytest.approx(1.36241)
        book = openpyxl.load_workbook("page.xlsx", data_only=True)
        assert book.active.title == "Speed table"
        held = {cell.value for sheet in book for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)}
        assert {"Speed table at 1.362 µm, from record B", "B", "carbide", "door side"} <= held


class TestCompare:
    @pytest.mark.parametrize(
        "words, said",
        [
            ("--output a.txt", "--output must end in .html or .htm (got 'a.txt')"),
            ("--plot a.gif", "--plot must end in .svg, .png, .pdf (got 'a.gif')"),
            ("--output readings.csv", "readings.csv: must not exist yet"),
            ("--plot readings.csv", "readings.csv: must not exist yet"),
        ],
    )
    def test_what_cannot_be_written_is_said_before_the_work(self, words, said, shop):
        assert one_line(shop(f"compare readings.csv since.csv {words}")) == f"gritfuncs compare: {said}\n"

    def test_what_is_odd_in_a_trial_is_named_with_it(self, shop):
        text = Path("readings.csv").read_text()
        Path("slip.csv").write_text(text.replace("infeed_rate,0.6,mm/min", "infeed_rate,60,mm/min"))
        said = shop("compare", "readings.csv", "slip.csv", "--same-wheel", "--names", "old,new")[1]
        assert "    new: Check infeed_rate: 60 mm/min, usual is 0.01 to 10 mm/min." in said.splitlines()
        assert "old: Check" not in said and "Check" not in shop("compare", "readings.csv", "since.csv")[1]

    def test_names_and_days_are_those_that_were_typed(self, shop):
        out = shop("compare", "readings.csv", "since.csv", "--names", "old ; new", "--dates", "2026-01-05, 2026-03-02")[1]
        assert "[[new against old]]" in out and "2026-03-02" in out

    def test_files_by_a_wildcard_have_page_and_picture_beside_json(self, shop):
        words = "compare [rs]*e*.csv --same-wheel --json --output a.HTM --plot a.SVG"
        assert told(shop(words))["names"] == ["readings.csv", "since.csv"]
        assert Path("a.HTM").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
        assert Path("a.SVG").read_text(encoding="utf-8").startswith("<svg")


class TestReport:
    def test_several_trials_have_no_output_of_one_name(self, shop):
        said = one_line(shop("report readings.csv since.csv --output a.html"))
        assert said == "gritfuncs report: --output must be left out for several files, which give a page each (got 2 files)\n"

    def test_the_page_is_named_after_the_whole_name_of_the_file(self, shop):
        for name in ("press.2026-03.csv", "press.2026-04.csv"):
            Path(name).write_text(Path("readings.csv").read_text())
        assert shop("report press.2026-03.csv press.2026-04.csv")[0] == 0
        assert {path.name for path in Path().glob("*.html")} == {"press.2026-03-report.html", "press.2026-04-report.html"}
        Path("press.2026-03-report.html").unlink()
        code, out, err = shop("report press.*")  # the second page is there
        assert (code, out) == (1, "report: press.2026-03-report.html\n") and err.endswith("report.html: must not exist yet\n")

    def test_the_title_and_the_ending(self, shop):
        assert shop("report", "readings.csv", "--output", "a.HTM", "--title", "Press 7")[0] == 0
        assert "Press 7" in Path("a.HTM").read_text(encoding="utf-8") and not list(Path().glob("*.pdf"))
        assert "--output must end in .html or .htm (got 'a.txt')" in one_line(shop("report readings.csv --output a.txt"))


class TestFunctions:
    def test_one_that_is_no_formula_shows_its_arguments_and_cells(self, shop):
        out = shop("functions find_knee")[1]
        assert out.startswith("find_knee(depths, energies, noise") and "GRIT_KNEE_VERDICT" in out
        assert "in a cell" not in shop("functions read_trial")[1]
        cells = re.search(r"in a cell: (.+)", out)[1].split(", ")
        assert cells[0] == "GRIT_KNEE" and {"GRIT_KNEE_LOW", "GRIT_KNEE_HIGH", "GRIT_KNEE_LEVEL", "GRIT_KNEE_VERDICT"} < {*cells}
        assert out.splitlines()[1] == "  Knee of a trial with its interval and verdict"

    def test_one_that_is_a_formula_shows_units_limits_and_what_it_gives(self, shop):
        lines = shop("functions speed_ratio")[1].splitlines()
        assert lines[0] == "speed_ratio(wheel_speed, work_speed)" and "=GRIT_SPEED_RATIO(wheel_speed, work_speed)" in lines[2]
        speed = next(line for line in lines if line.split()[:1] == ["wheel_speed"])
        assert "[m/s]" in speed and "must" not in speed and "> 0" in speed
        gives = [line for line in lines if line.lstrip().startswith("->")]
        assert len(gives) == 1 and gives[0].split()[1] == "speed_ratio" and "[" not in gives[0]
        assert [line.split() for line in lines] == [
            line.split()
            for line in (
                "speed_ratio(wheel_speed, work_speed)",
                "Wheel speed over work speed, both in the same unit",
                "in a cell: =GRIT_SPEED_RATIO(wheel_speed, work_speed)",
                "source: definition of the quantity",
                "wheel_speed v_s wheel speed [m/s], > 0 m/s",
                "work_speed v_w work speed [m/min], > 0 m/min",
                "-> speed_ratio q_s speed ratio, > 0",
            )
        ]

    def test_several_are_parted_by_a_blank_line_and_others_follow_in_one_line_each(self, shop):
        explained, others = shop("functions chip thickness")[1].split("\n\nIt is also an input or part of:\n")
        heads = [block.splitlines()[0].partition("(")[0] for block in explained.split("\n\n")]
        assert heads[:2] == ["grit_depth", "plunge_grit_depth"]
        listed = shop("functions")[1].splitlines()
        assert others.splitlines() and all(line in listed for line in others.splitlines())

    def test_the_list_is_by_chapter_with_units(self, shop):
        out = shop("functions")[1]
        assert out.index("\nspeeds\n") < out.index("\ngeometry\n") < out.index("\nplanning\n")
        assert any(line.split()[0] == "work_rpm" and line.endswith("[1/min]") for line in out.splitlines() if line.strip())
        assert out.endswith("gritfuncs functions WORD explains; in a cell the name is GRIT_ and capitals, see there.\n")
        assert shop("functions", " ")[1] == out
        for entry in ENTRIES:
            units = ", ".join(dict.fromkeys(quantity.unit for quantity in entry.gives))
            assert re.search(rf"^  {entry.name} +{re.escape(entry.title)}  \[{re.escape(units)}\]$", out, re.MULTILINE), (
                entry.name
            )


class TestLog:
    """How the options reach the reader of logs and what writes the readings, both replaced here; what they do is tested there."""

    @pytest.fixture
    def seen(self, monkeypatch):
        """What read_log and write_readings were given; the picture is an empty file."""
        seen = {}

        def read(path, progress, **options):
            seen.update(path=path, read=path, options={name: value for name, value in options.items() if value is not None})
            return SimpleNamespace(
                report=lambda: "report",
                picture=lambda path: path.touch(),
                write_readings=lambda path, *given, **named: seen.update(path=path, given=given, named=named),
                trial=lambda *given, **named: (
                    seen.update(trial=(given, named))
                    or SimpleNamespace(remarks=["Parts 1 and 2 scatter", "Parts known", "other"])
                ),
                remarks=["Parts known"],
                trace=SimpleNamespace(rpm=seen.get("rpm")),
                swept=seen.get("swept", ()),
            )

        monkeypatch.setattr(log_command, "read_log", read)
        return seen

    @pytest.mark.parametrize(
        "typed, name, value",
        [
            ("--power Y", "power", "Y"),
            ("--time X", "time", "X"),
            ("--rpm-column Z", "rpm", "Z"),
            ("--contact W", "contact", "W"),
            ("--interval 0,1", "interval", 0.1),
            ("--load-kind current", "load_kind", "current"),
            ("--idle 0", "idle", 0.0),
            ("--infeed-time 44", "infeed_time", 44.0),
            ("--between 0:30-41:00", "between", "0:30-41:00"),
            ("--sheet Log", "sheet", "Log"),
            ("--sweep 48;192;48", "sweep", [48.0, 192.0, 48.0]),
        ],
    )
    def test_each_option_reaches_the_reader(self, typed, name, value, shop, seen):
        assert shop(f"log log.csv {typed}")[0] == 0 and seen["options"] == {name: value}

    def test_what_is_known_of_the_parts_reaches_the_readings(self, shop, seen):
        code, out, err = shop("log a.csv b.csv --rpm 120,132,108 --parts 3,2 --not 7;9 --mean-of-step --setup readings.csv")
        assert (code, err) == (0, "") and seen["path"] == Path("a-readings.csv")
        assert seen["given"] == ([120.0, 132.0, 108.0], [3, 2], [7, 9])
        assert seen["named"]["mean_of_step"] is True and seen["named"]["setup"].wheel_diameter == 200
        assert seen["trial"] == (seen["given"], seen["named"]) and seen["read"] == [Path("a.csv"), Path("b.csv")]
        assert out.splitlines() == [
            "report",
            "readings: a-readings.csv; picture: a-picture.svg, a-picture.xlsx",
            "Parts 1 and 2 scatter",
            "Look at the picture, then: gritfuncs knee a-readings.csv",
        ]
        assert shop("log a.csv")[1].startswith("report\nreadings: a-readings-2.csv; picture: a-picture-2.svg, ")
        assert seen["given"] == (None, [1], []) and seen["named"] == {"mean_of_step": False, "setup": None}

    def test_what_was_typed_goes_before_the_plan_and_excluded_rows_are_no_part(self, shop, seen):
        Path("plan.csv").write_text("rpm,power [kW],use\n120,,\n132,,no\n108,,\n")
        assert shop("log a.csv --plan plan.csv")[0] == 0 and seen["given"][0] == [120.0, 108.0]
        assert shop("log a.csv --plan plan.csv --rpm 90;100;110")[0] == 0 and seen["given"][0] == [90.0, 100.0, 110.0]

    def test_the_setup_of_the_plan_goes_with_the_readings(self, shop, seen):
        assert shop("log a.csv --plan readings.csv")[0] == 0
        assert seen["read"] == Path("a.csv") and seen["named"]["setup"].work_diameter == 20
        assert shop("log a.csv --plan readings.csv --work-diameter 30")[0] == 0 and seen["named"]["setup"].work_diameter == 30

    def test_logs_by_a_wildcard_follow_one_another(self, shop, seen):
        for name in ("b.log", "a.log"):
            Path(name).touch()
        assert "readings: a-readings.csv" in shop("log ?.log")[1] and seen["read"] == [Path("a.log"), Path("b.log")]

    @pytest.mark.parametrize("taken", ["a-readings.csv", "a-picture.svg", "a-picture.xlsx"])
    def test_one_name_that_is_taken_numbers_all_three(self, taken, shop, seen):
        Path(taken).touch()
        said = "readings: a-readings-2.csv; picture: a-picture-2.svg, a-picture-2.xlsx"
        assert said in shop("log a.csv")[1].splitlines()

    @pytest.mark.parametrize("known", [{}, {"rpm": [120.0]}, {"swept": (1,)}])
    def test_where_the_rpm_is_in_the_log_nothing_is_asked_for(self, known, shop, seen):
        seen.update(known)
        last = shop("log a.csv")[1].splitlines()[-1]
        assert last.startswith("Look at the picture" if known else "The work rpm are not known: type them into the readings, or")

    @pytest.mark.parametrize(
        "typed, rpms",
        [
            ("120,132,108", [120, 132, 108]),
            ("120,5;132", [120.5, 132]),
            ("120,5;", [120.5]),
            ("120,90", [120, 90]),
            ("1200,150", [1200, 150]),
            ("120", [120]),
            (" 120 ; 132 ; ", [120, 132]),
        ],
    )
    def test_rpm_are_typed_in_a_list(self, typed, rpms, shop, seen):
        assert shop("log", "a.csv", "--rpm", typed, "--parts", "1")[0] == 0 and seen["given"][0] == rpms

    @pytest.mark.parametrize("typed", ["120,5", "120,50", "1200,95"])
    def test_two_that_may_be_one_number_are_refused(self, typed, shop, seen):
        if typed == "120,50":  # as likely two rpm
            assert shop("log", "a.csv", "--rpm", typed)[0] == 0 and seen["given"][0] == [120, 50]
            return
        said = f"--rpm must be parted by semicolons, such as 120;5 or 120,5; (got '{typed}')"
        assert one_line(shop("log", "a.csv", "--rpm", typed)) == f"gritfuncs log: {said}\n"
        assert "--rpm must be > 0 1/min (got '120,0,90')" in one_line(shop("log a.csv --rpm 120,0,90"))

    def test_a_setup_that_lacks_something_is_said_and_not_handed_on(self, shop, seen):
        code, _, err = shop("log a.csv --wheel-diameter 200")
        assert code == 0 and seen["named"]["setup"] is None
        assert err.startswith("The readings get no setup: it lacks work_diameter, ") and "add --work-diameter MM" in err

    def test_readings_that_cannot_be_written_end_with_1_under_the_name_typed(self, shop, seen, monkeypatch):
        read = log_command.read_log

        def failing(*given, **options):
            log = read(*given, **options)
            log.write_readings = lambda *_, **__: (_ for _ in ()).throw(Refused("parts_per_step", "be 21", "14"))
            return log

        monkeypatch.setattr(log_command, "read_log", failing)
        code, out, err = shop("log a.csv")
        assert code == 1 and err == "gritfuncs log: --parts must be 21 (got 14)\n"
        assert out == "report\nNo readings written; picture: a-picture.svg, a-picture.xlsx\n"

    def test_a_large_file_shows_how_far_it_is_read_where_someone_looks_on(self, shop, monkeypatch, capsys):
        monkeypatch.setattr(log_command, "_LARGE", 50)
        told = []

        def read(path, progress, **options):
            told.append(progress is not None)
            if progress:
                progress(0.5)
                progress(1.0)
            raise ValueError("enough")

        monkeypatch.setattr(log_command, "read_log", read)
        assert one_line(shop("log readings.csv")) == "gritfuncs log: enough\n"  # nobody looks on
        monkeypatch.setattr(log_command.sys.stderr, "isatty", lambda: True)
        assert shop("log readings.csv")[2] == "\rreading  50 %\rreading 100 %\ngritfuncs log: enough\n"
        monkeypatch.setattr(log_command, "_LARGE", 1_000_000)
        shop("log readings.csv")
        monkeypatch.setattr(log_command, "_LARGE", 1.5 * Path("readings.csv").stat().st_size)
        shop("log readings.csv")
        shop("log readings.csv since.csv")  # both together are large
        assert told == [False, True, False, False, True]


def test_a_miss_is_answered_with_up_to_three_words_that_are_near():
    assert nearest("work_rmp") == ("work_rpm", "work_rpm_for") and len(nearest("grit")) <= 3
    assert nearest("zebra") == nearest("qqqqq") == ()


class TestAddIn:
    def test_each_is_written_where_it_is_asked_for(self, shop):
        assert shop("addin calc --output own.OXT")[1].splitlines()[0] == "own.OXT" and Path("own.OXT").exists()
        assert not Path("gritfuncs.oxt").exists()
        assert "must end in .oxt, or LibreOffice does not take it" in one_line(shop("addin calc --output own.zip"))
        code, out, _ = shop("addin excel mine")
        assert code == 0 and out.splitlines()[:2] == ["mine/gritfuncs.xlsm", "mine/xlwings.conf"] and "ImportPythonUDFs" in out

    def test_the_extension_asks_for_the_libreoffice_that_the_document_names(self, shop):
        page = (Path(__file__).resolve().parent.parent / "docs" / "calc.md").read_text(encoding="utf-8")
        shop("addin calc --output own.oxt")
        with zipfile.ZipFile("own.oxt") as archive:
            said = archive.read("description.xml").decode()
        oldest = re.search(r'minimal-version value="([\d.]+)"', said)[1]
        assert f"needs LibreOffice {oldest} or newer" in page

    def test_a_folder_for_excel_is_whole_or_not_there(self, shop, monkeypatch):
        real = excel.write_new

        def full(path, content):
            if path.name == "xlwings.conf":
                raise ValueError("the disk is full")
            real(path, content)

        monkeypatch.setattr(excel, "write_new", full)
        assert one_line(shop("addin excel mine")) == "gritfuncs addin: the disk is full\n" and not list(Path("mine").iterdir())
        Path("mine/xlwings.conf").touch()
        assert "xlwings.conf: must not exist yet" in one_line(shop("addin excel mine")) and len(list(Path("mine").iterdir())) == 1


class TestFiles:
    def test_a_demonstration_goes_into_the_next_free_folder(self, shop, monkeypatch):
        made = []
        monkeypatch.setattr(demo, "run", lambda folder, say: made.append(folder.name) or say("said"))
        assert shop("demo") == (0, "said\n", "")
        Path(demo_command.FOLDER).mkdir()
        Path(f"{demo_command.FOLDER}-2").symlink_to("nowhere")
        assert shop("demo")[0] == 0 and shop("demo mine")[0] == 0
        assert made == ["gritfuncs-demo", "gritfuncs-demo-3", "mine"]
        assert one_line(shop("demo readings.csv")) == (
            "gritfuncs demo: folder must not exist yet, nothing is overwritten (got 'readings.csv')\n"
        )

    def test_the_new_setup_file_is_named_and_the_next_step(self, shop):
        code, out, _ = shop("setup --new --wheel-diameter 200 --wheel-speed 20")
        assert code == 0 and Path("setup.toml").exists()
        assert out.startswith("setup.toml: 2 values filled in") and out.endswith("Then: gritfuncs knee FILE --setup setup.toml\n")

    def test_a_new_setup_file_keeps_what_is_known_and_where_it_is_from(self, shop):
        said = shop("setup --new press7.toml --setup readings.csv --grit-size D126 --side internal --highest-power 4")[1]
        assert said.startswith("press7.toml: 10 values filled in") and "gritfuncs knee FILE --setup press7.toml\n" in said
        text = Path("press7.toml").read_text(encoding="utf-8")
        lines = {line.split(" = ")[0]: line for line in text.splitlines() if " = " in line}
        assert "# from readings.csv; " in lines["wheel_diameter"] and "# from option; " in lines["highest_power"]
        assert "speed marked on" in text
        assert shop("setup --new press7.toml") == (1, "", "gritfuncs setup: press7.toml: must not exist yet\n")
        shown = shop("setup --setup press7.toml")[1].splitlines()
        assert [line.split()[0] for line in shown[:-2]] == [
            "wheel_diameter",
            "wheel_speed",
            "marked_wheel_speed",
            "work_diameter",
            "side",
            "infeed_rate",
            "contact_width",
            "grit_size",
            "shape_ratio",
            "highest_power",
        ]

    def test_a_setup_is_shown_in_its_order_whatever_the_order_it_was_given_in(self, shop):
        typed = {
            "--shape-ratio": "10",
            "--grit-density": "18.9005512",
            "--work-diameter": "'0.5 in'",
            "--grit-size": "'0.126 mm'",
        }
        shown = shop(*shlex.split("setup " + " ".join(map(" ".join, typed.items()))))[1].splitlines()
        assert [line.split() for line in shown[:4]] == [
            ["work_diameter", "=", "12.7", "from", "option"],
            ["grit_density", "=", "18.9005512", "from", "option"],
            ["grit_size", "=", "126", "from", "option"],
            ["shape_ratio", "=", "10", "from", "option"],
        ]
        assert shop("setup --setup readings.csv")[1].endswith("\nThe setup is complete.\n")

    def test_what_the_system_refuses_is_one_line_with_the_file(self, shop):
        Path("folder.csv").mkdir()
        for words in ("knee folder.csv", "share folder.csv", "next folder.csv"):
            assert "folder.csv" in one_line(shop(words))

    def test_files_that_a_wildcard_means_come_by_their_names(self, shop):
        names = [f"{letter}.log" for letter in "mzaqkbxcnd"]
        for name in names:
            Path(name).touch()
        assert options.files([Path("?.log"), Path("none.*"), Path("a.log")]) == list(
            map(Path, [*sorted(names), "none.*", "a.log"])
        )

    @pytest.mark.parametrize("percent", ["0", "100", "-2"])
    def test_a_percentage_is_refused_before_anything_is_read(self, percent, shop):
        code, _, err = shop("knee", "readings.csv", "--noise-percent=" + percent)
        assert (code, err) == (2, f"gritfuncs knee: --noise-percent must be > 0 and < 100 % (got '{percent}')\n")


class TestOutput:
    def test_what_commands_a_terminal_is_written_by_its_number_and_reads_back(self, capsys):
        text = "a\x1b[2J\u202e\U000e0041µ ö\tb\x7f\x85\U0001f600\uffff\n"
        output.print_json({"note": text})
        shown = capsys.readouterr().out
        assert "\x1b" not in shown and "\u202e" not in shown and "\U000e0041" not in shown and "µ ö" in shown
        assert not any(sign in shown for sign in "\x7f\x85\uffff\t") and "\U0001f600" in shown
        assert json.loads(shown)["note"] == text

    def test_an_error_of_the_system_names_the_file(self):
        def line(error):
            return output.error_line(error, lambda name: f"--{name}")

        assert line(OSError(28, "No space left", "a.csv")) == "a.csv: No space left"
        assert line(OSError(28, "No space left")) == "file: No space left"
        assert line(OSError("odd")) == "odd"
        assert line(Refused("noise", "be > 0", "0", ("a.csv",))) == "a.csv: --noise must be > 0 (got 0)"
        assert line(Refused("noise", "be > 0", "0", ("a.csv", "row 3"))) == "a.csv: row 3: noise must be > 0 (got 0)"
        assert (
            line(ValueError("long " * 1000)) == ("long " * 100)[:497] + "..." and line(ValueError("two\nlines")).count("\n") == 0
        )

    @pytest.fixture
    def clock(self, monkeypatch):
        now = [100.0]
        monkeypatch.setattr(output.time, "monotonic", lambda: now[0])
        return now

    def test_a_terminal_sees_how_far_long_work_is_and_nothing_of_it_in_the_end(self, clock, capsys, monkeypatch):
        monkeypatch.setattr(output.sys.stderr, "isatty", lambda: True)
        with output.progress("sharing") as tell:
            for second, done in ((100.5, 10), (101.2, 25), (101.3, 26), (101.5, 50)):
                clock[0] = second
                tell(done, 100)
            assert capsys.readouterr().err == "\rsharing: 25 %\rsharing: 50 %"  # not at once, and not at every step
        assert capsys.readouterr().err == "\r               \r"

    def test_short_work_and_a_file_see_nothing(self, clock, capsys, monkeypatch):
        with output.progress("sharing") as tell:
            clock[0] = 200.0
            tell(1, 2)
        monkeypatch.setattr(output.sys.stderr, "isatty", lambda: True)
        with output.progress("sharing") as tell:
            tell(1, 2)
        with output.progress("sharing") as tell:
            clock[0] = 300.0
            tell(0, 0)
        assert capsys.readouterr().err == "\rsharing: 0 %\r               \r"

    def test_the_version(self, shop):
        assert shop("--version") == (0, f"gritfuncs {__version__}\n", "")
