"""From a stranger's sheet to the printed page: each command reads what the one before wrote, and nothing is typed twice."""

from __future__ import annotations

import datetime
import json
import re

import openpyxl
import pytest
from engines import cells_of
from test_commands import run  # noqa: F401  (a fixture)
from test_templates import cells_by_name

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.sheets.save import save_workbook
from gritfuncs.trial.setup_file import RECORD_TEXTS
from gritfuncs.workbooks.filled import trial_values
from gritfuncs.workbooks.trial import build as trial_book
from gritfuncs.workbooks.trial.tables import TRIAL

SETUP = """
wheel_diameter = "7.874015748 in"
wheel_speed = "22 m/s"
marked_wheel_speed = 35
work_diameter = 20
side = "external"
infeed_rate = "1,2 mm/min on the diameter"
contact_width = "15 mm"
grit_size = "D126"
concentration = 75
active_fraction = 0.5
shape_ratio = 10
highest_work_rpm = 400
wheel = "resin, 200 mm"
material = "carbide"
machine = "press 7"
who = "AB"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A stranger's sheet: headings of its own, blank rows, texts beside, no setup; and a setup file."""
    path = tmp_path_factory.mktemp("shop")
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Versuch 12, Presse 7"])
    sheet.append([])
    sheet.append(["Nr", "Werkstückdrehzahl", "Spindelleistung [kW]", "Leerlauf [kW]", "Bemerkung"])
    for number, (rpm, power, idle) in enumerate(example.readings(), 1):
        sheet.append([number, rpm, power, idle, "Kühlung an" if number == 3 else None])
        if number == 5:
            sheet.append([None, None, None, None, "Pause"])
    book.save(path / "mysheet.xlsx")
    (path / "press7.toml").write_text(SETUP, encoding="utf-8")
    return path


@pytest.fixture
def shop(folder, monkeypatch, run, tmp_path):  # noqa: F811
    """Runs a command line in the folder of the shop; gives what it printed."""
    monkeypatch.chdir(folder)

    def shop(*arguments, code=0):
        ended, out, err = run(*arguments)
        assert ended == code, err
        return out if code == 0 else err

    return shop


@pytest.fixture(scope="module")
def trial(folder):
    return gf.read_trial(folder / "mysheet.xlsx", setup=folder / "press7.toml")


def test_a_sheet_with_nothing_but_rpm_and_load_gives_its_knee_in_micrometres(shop, trial):
    said = shop("knee", "mysheet.xlsx", "--setup", "press7.toml")
    knee = float(re.search(r"knee {7}= ([\d.]+) µm", said)[1])
    assert knee == pytest.approx(example.TRUE_KNEE, rel=0.03) and trial.energy_unit == "J/mm³"
    assert "infeed rate on the radius      =        0.6 mm/min   from press7.toml" in said
    bare = shop("knee", "mysheet.xlsx")
    missing = (
        "--work-diameter MM --infeed-rate '... mm/min' --wheel-speed '... m/s' --wheel-diameter MM --side external|flat|internal"
    )
    assert f"For depths in µm add: {missing}" in bare and "--shape-ratio NUMBER" in bare


def test_an_option_goes_before_the_setup_file_and_says_so(shop):
    (told,) = json.loads(
        shop("knee", "mysheet.xlsx", "--setup", "press7.toml", "--infeed-rate", "0,9", "--wheel-speed", "3937 ft/min", "--json")
    )
    assert told["setup"]["infeed_rate"] == 0.9 and told["setup"]["wheel_speed"] == pytest.approx(20.0, rel=1e-4)
    assert told["sources"]["infeed_rate"] == "option" and told["sources"]["wheel_diameter"] == "press7.toml"
    for options, says in (
        (["--wheel-speed", "1500"], "--wheel-speed must be <= 300 m/s, there is no more"),
        (["--wheel-speed", "36"], "--wheel-speed must be <= press7.toml: line 4: marked_wheel_speed, 35 m/s: never run"),
        (["--infeed-rate", "1 mm"], "--infeed-rate must be a number, in mm/min or with a unit that converts"),
        (["--setup", "none.toml"], "none.toml: must be a file that exists"),
        (["--record", "A-1", "--file", "none.xlsx"], "none.xlsx: must be a file that exists; gritfuncs record add makes one"),
    ):
        code = 2 if "a number, in" in says or "<= 300" in says else 1
        assert says in shop("knee", "mysheet.xlsx", "--setup", "press7.toml", *options, code=code)


def test_the_written_trial_says_the_same(shop, trial, folder, libreoffice):
    said = shop("knee", "mysheet.xlsx", "--setup", "press7.toml", "--write", "trial.xlsx")
    assert said.endswith("written: trial.xlsx\n")
    again = gf.read_trial(folder / "trial.xlsx")
    assert again.depths == pytest.approx(trial.depths, rel=1e-9) and again.energies == pytest.approx(trial.energies, rel=1e-9)
    assert again.knee.knee == pytest.approx(trial.knee.knee, rel=1e-9) and again.readings[2].note == "Kühlung an"
    assert again.given.words.get("machine") == "press 7"
    seen = libreoffice.recalc(folder / "trial.xlsx")[TRIAL].values()
    assert "found" in seen and any(isinstance(each, float) and each == pytest.approx(trial.knee.knee, rel=0.01) for each in seen)
    assert "must not exist yet" in shop("knee", "mysheet.xlsx", "--setup", "press7.toml", "--write", "trial.xlsx", code=1)
    assert "--write must be given with one file (got 2 files)" in shop(
        "knee", "mysheet.xlsx", "trial.xlsx", "--write", "x.xlsx", code=1
    )


def test_a_row_that_does_not_count_does_not_count_in_the_written_trial_either(shop, folder):
    lines = ["rpm;power kW;idle kW;use;note;damage"] + [f"{rpm:g};{power};{idle};;;" for rpm, power, idle in example.readings()]
    lines[3] += "chatter"
    lines.insert(5, "100;2;0.86;no;=1+1;")
    lines.insert(6, "101;zwei;0.86;;;")
    lines.insert(7, "102;2;0.86;vielleicht;;")
    (folder / "odd.csv").write_text("\n".join(lines).replace(";;chatter", ";;"), encoding="utf-8")
    trial = gf.read_trial(folder / "odd.csv", setup=folder / "press7.toml")
    shop("knee", "odd.csv", "--setup", "press7.toml", "--write", "odd.xlsx")
    again = gf.read_trial(folder / "odd.xlsx")
    assert again.depths == pytest.approx(trial.depths, rel=1e-9) and again.knee.verdict == trial.knee.verdict
    assert [reading.note for reading in again.readings if not reading.is_used and reading.note][0] == "=1+1"
    notes = [cell for cell in cells_of(openpyxl.load_workbook(folder / "odd.xlsx")[TRIAL]) if cell.value == "=1+1"]
    assert [cell.data_type for cell in notes] == ["s"]  # a text, never a formula


@pytest.mark.parametrize(
    "lines, says",
    [
        (["rpm;power kW"] + [f"{rpm:g};{power - idle:.2f}" for rpm, power, idle in example.readings()], ""),
        (["grit depth µm;specific energy J/mm³", "1.1;150", "1.2;130", "1.3;120"], "must have readings whose depth follows from"),
        (["rpm;power kW"] + ["100;2"] * 41, "readings must be at most 30"),
        (["rpm;specific energy J/mm³", "100;150", "110;130", "120;120", "130;120"], ""),
    ],
)
def test_what_a_trial_workbook_cannot_hold_is_refused(lines, says, shop, folder):
    (folder / "own.csv").write_text("\n".join(lines), encoding="utf-8")
    options = ["knee", "own.csv", "--setup", "press7.toml", "--write", f"{len(lines)}.xlsx"]
    if says:
        assert says in shop(*options, code=1)
        assert not (folder / f"{len(lines)}.xlsx").exists()
    else:
        shop(*options)
        assert "setup must have work_diameter" in shop("knee", "own.csv", "--write", "never.xlsx", code=1)


def test_the_table_takes_everything_from_the_trial(shop, trial, folder, libreoffice):
    options = ["--work-diameters", "12;20", "--infeed-rates", "0,3;0,6", "--infeed-basis", "radius"]
    told = json.loads(shop("table", "--trial", "mysheet.xlsx", "--setup", "press7.toml", *options, "--json"))
    depth = trial.knee.knee
    assert told["grit_depth"] == pytest.approx(depth) and told["rows"][1][1]["work_rpm"] == pytest.approx(trial.knee_rpm)
    assert told["sources"]["grit_depth"].startswith("mysheet.xlsx") and told["sources"]["side"] == "press7.toml"
    said = shop("table", "--trial", "mysheet.xlsx", "--setup", "press7.toml", *options, "--write", "speed_table.xlsx")
    assert f"{trial.knee_rpm:.1f}" in said and "from press7.toml: wheel diameter" in said
    assert openpyxl.load_workbook(folder / "speed_table.xlsx", read_only=True).active.title == "Speed table"  # the page to pin up
    seen = cells_by_name(folder / "speed_table.xlsx", libreoffice.recalc(folder / "speed_table.xlsx"))
    assert seen["out_rpm_table"][1][1] == pytest.approx(trial.knee_rpm, rel=1e-9)
    assert "no STOP; look at: the wheel wear table" in seen["out_check"]  # how far this wheel may wear is not known


def test_infeed_rates_are_never_counted_on_the_wrong_basis(shop, trial):
    options = ["table", "--trial", "mysheet.xlsx", "--setup", "press7.toml", "--work-diameters", "20", "--infeed-rates", "1.2"]
    assert "--infeed-basis must be given with --infeed-rates: the setup counts infeed on the diameter" in shop(*options, code=1)
    told = json.loads(shop(*options, "--infeed-basis", "diameter", "--json"))
    assert told["rows"][0][0]["work_rpm"] == pytest.approx(trial.knee_rpm)
    alone = json.loads(shop("table", "--trial", "mysheet.xlsx", "--setup", "press7.toml", "--json"))
    assert alone["rows"][0][0]["work_rpm"] == pytest.approx(trial.knee_rpm)  # part and infeed of the setup itself


def test_a_trial_without_a_knee_gives_no_table(shop, folder):
    (folder / "few.csv").write_text("rpm;power kW\n100;2\n110;1,9\n", encoding="utf-8")
    said = shop("table", "--trial", "few.csv", "--setup", "press7.toml", code=1)
    advice = gf.read_trial(folder / "few.csv").knee.advice
    assert advice and f"no depth to hold: the verdict is too few readings; {advice}" in said
    lines = ["rpm;power kW;idle kW;damage"] + [f"{rpm:g};{power};{idle};crack" for rpm, power, idle in example.readings()]
    (folder / "cracked.csv").write_text("\n".join(lines), encoding="utf-8")
    assert "damage was seen" in shop("table", "--trial", "cracked.csv", "--setup", "press7.toml", code=1)


def test_record_table_and_confirmation_go_by_the_key_alone(shop, trial, folder):
    said = shop("record", "add", "mysheet.xlsx", "--setup", "press7.toml", "--key", "PRESS-7", "--date", "2026-03-01")
    assert "knee_record.xlsx: new: PRESS-7: 1.36" in said
    (entry,) = json.loads(shop("record", "list", "--json"))
    assert entry["status"] == "ok" and {name: entry[name] for name in ("wheel", "material", "machine", "who")} == {
        "wheel": "resin, 200 mm", "material": "carbide", "machine": "press 7", "who": "AB",
    }  # fmt: skip
    shown = shop("record", "show", "press-7")
    assert "D126" in shown and "highest work rpm, 1/min" in shown
    told = json.loads(shop("table", "--record", "PRESS-7", "--json"))
    assert told["rows"][0][0]["work_rpm"] == pytest.approx(trial.knee_rpm, rel=1e-4) and "highest_work_rpm" in told["sources"]
    assert set(told["sources"].values()) == {"record PRESS-7"}
    first = json.loads(shop("confirm", "--record", "PRESS-7", "--json"))
    assert first["word"] == "go on" and first["work_rpm"] > trial.knee_rpm
    own = shop("confirm", "mysheet.xlsx", "--record", "PRESS-7", code=1)
    assert "mysheet.xlsx must hold readings taken since the entry PRESS-7 was made (got those that it was made from)" in own
    taken = [f"{rpm:g};{power + 0.02 * (-1) ** place:g};{idle}" for place, (rpm, power, idle) in enumerate(example.readings())]
    (folder / "since.csv").write_text("\n".join(["rpm;power kW;idle kW", *taken]), encoding="utf-8")
    assert json.loads(shop("confirm", "since.csv", "--record", "PRESS-7", "--json"))["word"] == "confirmed"
    shop("table", "--record", "PRESS-7", "--write", "from-record.xlsx")
    written = openpyxl.load_workbook(folder / "from-record.xlsx")
    assert written["Record"]["C8"].value == "PRESS-7" and texts_on_the_page(written) == [
        "resin, 200 mm",
        "carbide",
        "press 7",
        None,
    ]
    assert not [cell.value for cell in cells_of(*written) if "(invented)" in str(cell.value)]  # the page hangs at this machine


def texts_on_the_page(written):
    """The inputs of wheel, material, machine and signer."""
    places = [next(iter(written.defined_names[f"in_{name}"].destinations)) for name in ("wheel", "material", "machine", "who")]
    return [written[sheet][address.replace("$", "")].value for sheet, address in places]


def test_a_table_of_a_trial_carries_the_texts_that_are_known(shop, folder):
    shop("table", "--trial", "mysheet.xlsx", "--setup", "press7.toml", "--write", "from-trial.xlsx")
    written = openpyxl.load_workbook(folder / "from-trial.xlsx")
    assert texts_on_the_page(written) == ["resin, 200 mm", "carbide", "press 7", "AB"]


def test_what_is_typed_in_the_workbook_for_the_record_is_not_typed_again(shop, trial, folder):
    values = dict(trial_values(trial), key="FROM-BOOK", date=datetime.date(2025, 7, 1), note="door side")
    save_workbook(trial_book.build(values), folder / "typed.xlsx")
    said = shop("record", "add", "typed.xlsx", "--file", "typed_record.xlsx")
    assert "new: FROM-BOOK" in said and "2025-07-01" in said
    (entry,) = json.loads(shop("record", "list", "--file", "typed_record.xlsx", "--json"))
    assert entry["note"] == "door side" and entry["machine"] == "press 7" and entry["grit"] == "D126"


def test_a_file_goes_before_the_setup_of_the_record_but_not_before_its_c_and_r(shop, folder):
    shop("record", "add", "mysheet.xlsx", "--setup", "press7.toml", "--key", "K", "--file", "own_record.xlsx")
    lines = ["work diameter;30;mm", "grit density;99;1/mm²", "shape ratio;3", "rpm;power kW;idle kW"]
    lines += [f"{rpm:g};{power};{idle}" for rpm, power, idle in example.readings()]
    (folder / "new part.csv").write_text("\n".join(lines), encoding="utf-8")
    (told,) = json.loads(shop("knee", "new part.csv", "--record", "K", "--file", "own_record.xlsx", "--json"))
    assert told["setup"]["work_diameter"] == 30 and told["sources"]["work_diameter"].startswith("new part.csv")
    assert told["setup"]["shape_ratio"] == 10 and told["sources"]["grit_density"] == "record K"


def test_the_plan_and_the_next_reading_go_by_the_setup_too(shop, folder):
    (folder / "plan.toml").write_text("nominal_rpm = 120\nhighest_work_rpm = 150\n", encoding="utf-8")
    assert shop("plan", "--setup", "plan.toml").count("outside limits: skip") == 4
    assert "--nominal-rpm must be given" in shop("plan", code=1)
    (folder / "two.csv").write_text("rpm;power kW\n120;2\n144;1,9\n", encoding="utf-8")
    told = json.loads(shop("next", "two.csv", "--setup", "plan.toml", "--json"))
    assert told["work_rpm"] <= 150


def test_a_setup_is_written_from_any_file_and_shown_with_its_places(shop, folder):
    shop("setup", "--new", "copy.toml", "--setup", "press7.toml", "--highest-power", "4 kW")
    copy, own = gf.Setup.read(folder / "copy.toml"), gf.Setup.read(folder / "press7.toml")
    assert vars(copy) == pytest.approx(vars(own), rel=1e-9)
    shown = shop("setup", "--setup", "press7.toml", "--shape-ratio", "12")
    assert "shape_ratio            = 12                   from option" in shown and "The setup is complete." in shown
    assert all(f"{word} " in shown for word in ("wheel", "material")) and set(RECORD_TEXTS) > {"wheel", "material"}
    lacking = shop("setup", "--wheel-diameter", "200")
    assert "missing: work_diameter" in lacking and "add: --work-diameter MM" in lacking
    assert "must not exist yet" in shop("setup", "--new", "copy.toml", code=1)
