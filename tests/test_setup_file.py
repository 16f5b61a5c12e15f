"""Setups in files: said once, read from whatever holds one, and refused in one line that names file, line and key."""

from __future__ import annotations

import contextlib
import datetime

import pytest
import trial_workbook
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook
from openpyxl.workbook.defined_name import DefinedName

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.sheets.save import save_workbook
from gritfuncs.sheets.words import CAUTION
from gritfuncs.trial.setup_file import KEYS, LIMITS, RECORD_TEXTS, setup_text
from gritfuncs.workbooks.speed_table import build as speed_table_book

SETUP = """
# an invented press
wheel_diameter = 200
wheel_speed = "22 m/s"
marked_wheel_speed = 35
work_diameter = "0,787401575 in"
side = "external"
infeed_rate = "10 µm/s"
contact_width = "15 mm"
grit_size = "D126"
concentration = 75
active_fraction = 0.5
shape_ratio = 10
highest_power = "4 kW"
lowest_work_rpm = 20
machine = "grinder 1"
"""
EXPECTED = gf.Setup(**example.setup(), contact_width=example.CONTACT_WIDTH)
READINGS = "Werkstückdrehzahl;Spindel kW\n" + "".join(
    f"{rpm:g};{power - idle:.2f}\n".replace(".", ",") for rpm, power, idle in example.readings()
)


def same(setup, other=EXPECTED, digits=1e-8):
    assert {name: getattr(setup, name) for name in vars(other)} == pytest.approx(vars(other), rel=digits)
    return True


@pytest.fixture
def file(tmp_path):
    def write(text=SETUP, name="press7.toml", encoding="utf-8"):
        path = tmp_path / name
        path.write_bytes(text.encode(encoding))
        return path

    return write


def error(path):
    with pytest.raises(ValueError) as raised:
        gf.Setup.read(path)
    assert "\n" not in str(raised.value) and str(raised.value).startswith(f"{path.name}: ")
    return str(raised.value)


def test_a_setup_file_says_it_in_any_unit(file):
    assert same(gf.Setup.read(file()))
    assert same(gf.Setup.read(str(file("\ufeff" + SETUP.replace("\n", "\r\n")))))


def test_sizes_shares_and_designations_may_have_their_unit(file):
    size = gf.Setup.read(file(SETUP.replace('"D126"', "107")))
    assert same(gf.Setup.read(file(SETUP.replace('"D126"', '"0,107 mm"'))), size)
    assert same(gf.Setup.read(file(SETUP.replace('"D126"', '"107 µm"').replace("= 75", '= "C75"'))), size)
    readings = file(READINGS, "a.csv")
    assert gf.read_trial(readings, setup=file(SETUP + 'noise = "1,2 %"\n')).noise == pytest.approx(0.012)
    with pytest.raises(ValueError, match="line 17: noise must be a number"):
        gf.read_trial(readings, setup=file(SETUP + 'noise = "little"\n'))


def test_an_infeed_rate_on_the_diameter_is_halved_whether_its_text_or_a_key_says_so(file):
    on_radius = '"10 µm/s"'
    assert same(gf.Setup.read(file(SETUP.replace(on_radius, '"1.2 mm/min on the diameter"'))))
    assert same(gf.Setup.read(file(SETUP.replace(on_radius, "1.2") + 'infeed_basis = "diameter"\n')))
    both = SETUP.replace(on_radius, '"1.2 mm/min on the diameter"') + 'infeed_basis = "radius"\n'
    assert "line 17: infeed_basis must be diameter" in error(file(both))


@pytest.mark.parametrize(
    "old, new, says",
    [
        ('"22 m/s"', '"22 furlong/h"', "line 4: wheel_speed must be in m/s (got 'furlong/h')"),
        ('"22 m/s"', "1500", "line 4: wheel_speed must be <= 300 m/s, there is no more: is it in another unit?"),
        ('"22 m/s"', "36", "line 4: wheel_speed must be <= line 5: marked_wheel_speed, 35 m/s"),
        ('"22 m/s"', '"1,250 m/s"', "line 4: wheel_speed must be a number of one meaning, 1250 or 1.25 (got '1,250 m/s')"),
        ('"22 m/s"', "true", "line 4: wheel_speed must be a number, or a text in quotes (got True)"),
        ('"22 m/s"', "22 m/s", "must be written as TOML ("),
        ('"22 m/s"', "-22", "line 4: wheel_speed must be > 0 m/s (got -22.0)"),
        ("wheel_speed =", "weel_speed =", "line 4: weel_speed must be a key of a setup; nearest: wheel_speed"),
        ("\nwheel_speed =", "\n[wheel]\nspeed =", "line 4: [wheel] must be left out: keys stand without sections"),
        ('"external"', '"outside"', "line 7: side must be external, flat, internal or 1, 0, -1 (got 'outside')"),
        ('"D126"', '"D125"', "line 10: grit_size: designation must be an ISO 6106 sieve size"),
        ('"grinder 1"', "7", "line 16: machine must be a text in quotes (got 7)"),
        ("wheel_diameter = 200", 'wheel_rpm = "2100 1/min"\nwheel_diameter = "200 m/s"', "line 4: wheel_diameter must be in mm"),
    ],
)
def test_what_is_wrong_is_one_line_with_file_line_and_key(file, old, new, says):
    assert says in error(file(SETUP.replace(old, new)))


def test_all_that_is_missing_is_named_at_once(file):
    said = error(file("wheel_diameter = 200\n"))
    missing = [name for name in vars(EXPECTED) if name not in ("wheel_diameter", "contact_width")]
    assert all(f"{name} = ..." in said for name in missing) and "contact_width" not in said


LINES = st.lists(
    st.sampled_from(SETUP.splitlines())
    | st.text(max_size=30)
    | st.builds("{} = {}".format, st.sampled_from(KEYS), st.text(max_size=15))
)


@given(LINES)
def test_whatever_stands_in_a_file_is_a_setup_or_one_line(tmp_path_factory, lines):
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_text("\n".join(lines), encoding="utf-8", errors="replace")
    with contextlib.suppress(ValueError):
        assert isinstance(gf.Setup.read(path), gf.Setup)
        return
    error(path)


def test_what_is_no_setup_file_is_refused(file, tmp_path):
    assert "must be a file that exists" in error(tmp_path / "none.toml")
    assert "must be a file, but it is a folder" in error(tmp_path)
    assert "must be a text file in UTF-8" in error(file('side = "ä"', encoding="latin-1"))
    assert "must be at most 100 kB" in error(file("# x\n" * 40_000))
    assert "must end in .toml" in error(file(name="press7.json"))


def test_the_new_file_holds_every_key_as_a_comment_and_reads_back_once_these_are_taken(file):
    empty = setup_text({}, {}, CAUTION)
    assert "marked on" in empty and gf.Setup  # the caution
    said = error(file(empty))
    assert "work_diameter" in said
    filled = "\n".join(
        line[2:] if line.startswith("# ") and " = " in line.partition("#  ")[0] else line for line in empty.splitlines()
    )
    keys = [line.partition(" = ")[0] for line in filled.splitlines() if line and not line.startswith("#")]
    assert sorted(keys) == sorted(set(KEYS) - {"designation"})
    text = "\n".join(line for line in filled.splitlines() if not line.startswith(("wheel_rpm", "grit_density")))
    assert same(gf.Setup.read(file(text)))


def test_workbooks_hold_a_setup_too(tmp_path):
    path = trial_workbook.save(tmp_path / "trial.xlsx")
    assert gf.Setup.read(path) == gf.read_trial(path).setup
    table = tmp_path / "speed_table.xlsx"
    inches = dict(units="inch", wheel_diameter=8.0, wheel_speed=4330.0, marked_wheel_speed=6890.0, contact_width=0.6)
    inches.update(
        infeed_basis="diameter", reference_diameter=0.8, reference_infeed_rate=0.02, idle_power=None, highest_power=None
    )
    save_workbook(speed_table_book.build(inches), table)
    changes = dict(
        wheel_diameter=203.2, wheel_speed=4330 * 0.3048 / 60, work_diameter=20.32, infeed_rate=0.508, contact_width=15.24
    )
    assert same(gf.Setup.read(table), gf.Setup(**{**vars(EXPECTED), **changes}))  # the part of its wear table


def test_a_trial_takes_from_a_setup_file_what_it_lacks_and_says_so(file):
    trial = gf.read_trial(file(READINGS, "own.csv"), setup=file())
    assert same(trial.setup) and trial.depth_unit == "µm" and trial.knee.verdict == "found"
    assert trial.limits.highest_power == 4 and trial.limits.lowest_work_rpm == 20
    assert "wheel diameter                 =        200 mm       from press7.toml" in trial.report()
    assert trial.as_dict()["sources"]["shape_ratio"] == "press7.toml"


def test_a_later_place_goes_before_an_earlier_one_with_what_belongs_together(file):
    own = "infeed_rate on the diameter;2,4\nwheel rpm;2000\nwheel_diameter;200\n" + READINGS
    trial = gf.read_trial(file(own, "own.csv"), setup=file(SETUP.replace("wheel_diameter = 200\n", "")))
    assert same(trial.setup)  # neither halved, nor at odds with the rpm
    assert trial.as_dict()["sources"]["wheel_diameter"] == "own.csv"
    assert "200 mm       from own.csv" in trial.report() and "= 22 m/s" in trial.report().replace("         22", " 22")


def test_what_is_wrong_is_named_by_the_place_that_said_it(file):
    def refused(own, setup):
        with pytest.raises(ValueError) as raised:
            gf.read_trial(file(own + READINGS, "own.csv"), setup=file(setup))
        return str(raised.value)

    fast = SETUP.replace('"22 m/s"', "34")
    assert "press7.toml: line 4: wheel_speed must be <= marked_wheel_speed, 30 m/s" in refused(
        "marked speed;30\n", fast.replace("marked_wheel_speed = 35\n", "")
    )
    assert "own.csv: wheel_speed must be <= press7.toml: line 5: marked_wheel_speed, 35 m/s" in refused(
        "wheel speed;36\n", SETUP.replace('wheel_speed = "22 m/s"', "# in the other")
    )


@pytest.mark.parametrize("value", [1500, 4330])
def test_a_wheel_speed_in_another_unit_is_refused_in_python_too(value):
    with pytest.raises(ValueError, match=r"^wheel_speed must be <= 300 m/s, there is no more: is it in another unit\? \(got"):
        gf.Setup(**{**example.setup(), "wheel_speed": value})


def test_every_limit_of_a_machine_and_every_text_of_the_record_has_a_key():
    assert set(LIMITS) == set(vars(gf.Limits())) and set(LIMITS) | set(RECORD_TEXTS) <= set(KEYS)


MEANS = {
    "wheel_diameter": '"200 mm" mm, wheel diameter',
    "wheel_rpm": "2100 1/min, wheel speed of rotation",
    "marked_wheel_speed": '"35 m/s" m/s, highest speed marked on the wheel',
    "side": '"external" external, flat, internal: side of contact',
    "infeed_rate": '"0.6 mm/min" mm/min, infeed rate, at nominal work rpm; see infeed_basis',
    "infeed_basis": '"radius" radius or diameter: what the machine shows',
    "grit_size": '"D126" µm, or a designation in quotes such as D126, B126 or 120/140: mean grit size',
    "shape_ratio": "10 chip width to thickness ratio",
    "load_kind": '"power" power, current, relative: what the readings are, kW, A, or any load meter',
    "idle": "0.86 idle reading, in the unit of the load readings; of rows without their own",
    "noise": "1.2 %, scatter of repeated readings, if you know it",
    "nominal_rpm": "120 1/min, nominal work rpm",
    "lowest_infeed_rate": "0.1 mm/min, lowest infeed rate, on the radius",
    "highest_speed_ratio": "600 highest speed ratio",
    "highest_power": '"4 kW" kW, highest power',
    "who": '"AB" who found the knee',
}


def test_a_new_file_says_unit_and_meaning_of_its_keys():
    lines = setup_text({}, {}, CAUTION).splitlines()
    told = {line[2:].partition(" = ")[0]: line for line in lines if " = " in line}
    for key, means in MEANS.items():
        assert " ".join(told[key].replace(" # ", " ").split()) == f"# {key} = {means}"


def test_a_new_file_begins_with_how_it_is_filled_in_and_the_caution():
    head = setup_text({}, {}, CAUTION).partition("\n\n")[0].splitlines()
    assert all(line.startswith("# ") for line in head) and head[-1] == f"# {CAUTION}"
    assert "Take the # from a line to fill it in; every number behind a # is invented." in head[1]
    assert '"0.6 mm/min", "8 in", "8500 sfpm"' in head[2] and "Without one it is in the unit named beside it." in head[2]


def test_a_new_file_holds_the_values_that_are_given_and_where_they_came_from(file):
    values = dict(vars(EXPECTED), side=-1, work_diameter=300.0, wheel='a "b" \\c', infeed_basis="diameter")
    values = {key: value for key, value in values.items() if value is not None}
    text = setup_text(values, {"side": "own.csv", "idle": "nowhere"}, CAUTION)
    lines = text.splitlines()
    assert "wheel_diameter = 200             # mm, wheel diameter" in lines
    assert 'side = "internal"                # from own.csv; external, flat, internal: side of contact' in lines
    assert 'wheel = "a \\"b\\" \\\\c"            # wheel, as the shop calls it' in lines
    assert (
        "# idle = 0.86                      # idle reading, in the unit of the load readings; of rows without their own" in lines
    )
    setup = gf.Setup.read(file(text))
    assert setup.work_diameter == 300 and setup.side == -1 and setup.infeed_rate == EXPECTED.infeed_rate / 2


@pytest.mark.parametrize(
    "more, says",
    [
        ('wheel_rpm = 2100\nwheel_diameter = "200 m"', "must be written as TOML (Cannot overwrite a value"),
        (
            'nominal_rpm = 1\nidle = "0.5 kW"',
            "line 18: idle must be a number without a unit, in that of the load readings (got '0.5 kW')",
        ),
        ('bond = " "', "line 17: bond must be a text in quotes"),
        ('  "bond" = 3', "line 17: bond must be a text in quotes (got 3)"),
        ("zzz = 1", "line 17: zzz must be a key of a setup; gritfuncs setup --new FILE writes a file with all keys"),
        ("wheel_dia = 1", "line 17: wheel_dia must be a key of a setup; nearest: wheel_diameter"),
        ('"\\u007azz" = 1', "line 1: zzz must be a key of a setup"),  # where no line has it in these signs
        ("[[bond]]", "line 17: bond must be a number, or a text in quotes"),
        ('wheel_rpm = "22 m/s"', "wheel_speed must be given once (got it in lines 4 and 17)"),
        ('highest_infeed_rate = "2 mm/min on the diameter"', "line 17: highest_infeed_rate must be on the radius"),
        ("nominal_rpm = [1]", "line 17: nominal_rpm must be a number, or a text in quotes (got [1])"),
    ],
)
def test_the_line_of_what_is_wrong_is_named_however_its_key_is_written(file, more, says):
    assert says in error(file(SETUP + more + "\n"))


def test_a_refusal_in_a_setup_file_says_nothing_of_tables(file):
    assert error(file(SETUP.replace('"22 m/s"', '"22 furlong/h"'))).endswith("must be in m/s (got 'furlong/h')")
    assert error(file(SETUP.replace('"22 m/s"', "22 m/s"))).endswith(
        'lines are key = number, or key = "text": a number with a unit or a decimal comma needs the quotes'
    )


def test_a_text_of_the_record_has_up_to_200_signs(file):
    def machine(text):
        return gf.read_trial(file(READINGS, "own.csv"), setup=file(f'machine = "{text}"\n')).given.values["machine"]

    assert machine("n" * 200) == "n" * 200 and machine("n" * 201) == "n" * 197 + "..."


def test_a_new_file_holds_all_figures_of_a_value(file):
    setup = gf.Setup(**{**vars(EXPECTED), "wheel_diameter": 203.123456789, "infeed_rate": 1 / 3, "side": 1})
    assert gf.Setup.read(file(setup_text(vars(setup), {}, CAUTION))) == setup


def test_a_file_of_the_largest_size_is_read(file):
    whole = SETUP + "#" * (100_000 - len(SETUP.encode("utf-8")))
    assert same(gf.Setup.read(file(whole)))
    assert "must be at most 100 kB" in error(file(whole + "#"))


def test_the_kind_of_load_may_stand_in_the_setup_file(file):
    trial = gf.read_trial(file(READINGS, "own.csv"), setup=file(SETUP + 'load_kind = "relative"\n'))
    assert trial.load_kind == "relative" and gf.read_trial(file(READINGS, "own.csv"), setup=file()).load_kind == "power"
    both = gf.read_trial(file(READINGS, "own.csv"), setup=file(SETUP + 'load_kind = "relative"\n'), load_kind="power")
    assert both.load_kind == "power"


@pytest.mark.parametrize(
    "own, old, density",
    [
        ("grit_density;30", "", EXPECTED.grit_density),  # what the setup says of the grits goes before a density of the file
        ("concentration;100\ngrit_size;D126\nactive_fraction;1", "", EXPECTED.grit_density),
        ("grit_density;30", 'grit_size = "D126"\nconcentration = 75\nactive_fraction = 0.5\n', 30),
        ("grit_size;D126\nconcentration;75", 'grit_size = "D126"\nconcentration = 75\n', EXPECTED.grit_density),
    ],
)
def test_grits_of_a_later_place_leave_no_density_of_an_earlier_one(file, own, old, density):
    trial = gf.read_trial(file(f"{own}\n{READINGS}", "own.csv"), setup=file(SETUP.replace(old, "")))
    assert trial.setup.grit_density == pytest.approx(density)


@pytest.mark.parametrize("later", ["grit_size", "concentration", "active_fraction", "designation"])
def test_any_value_of_the_grits_goes_before_an_earlier_density(file, later):
    grits = {"grit_size": '"D126"', "concentration": "75", "active_fraction": "0.5", "designation": '"D126"'}
    needed = {"concentration", "active_fraction", "designation" if later == "designation" else "grit_size"}
    own = "".join(f"{word};{grits[word]}\n".replace('"', "").replace(".", ",") for word in needed - {later})
    rest = "\n".join(line for line in SETUP.splitlines() if line.split(" ")[0] not in grits)
    trial = gf.read_trial(file(f"grit_density;30\n{own}{READINGS}", "own.csv"), setup=file(f"{rest}\n{later} = {grits[later]}\n"))
    assert trial.setup.grit_density == pytest.approx(EXPECTED.grit_density)


@pytest.mark.parametrize(
    "written, day",
    [
        ("2026-11-05", (2026, 11, 5)),
        ("5.11.2026", (2026, 11, 5)),
        ("05. 11. 2026", (2026, 11, 5)),
        ("31.2.2026", None),
        ("11/5/2026", None),
        ("5.11.26", None),
        ("soon", None),
    ],
)
def test_the_day_of_a_trial_is_read_where_it_can_mean_but_one(file, written, day):
    trial = gf.read_trial(file(f"date;{written}\n{READINGS}", "own.csv"))
    assert trial.date == (day and datetime.date(*day))


@pytest.mark.parametrize("name", ["own.toml", "own.csv", "own.xlsx", "wear.xlsx"])
def test_what_a_setup_says_is_shown_as_it_is_written_there(file, tmp_path, name):
    said = {"wheel_diameter": "8 in", "work_diameter": "20 mm"}
    if name == "own.toml":
        path = file("".join(f'{key} = "{value}"\n' for key, value in said.items()), name)
    elif name == "own.csv":
        path = file("".join(f"{key};{value}\n" for key, value in said.items()) + READINGS, name)
    else:
        book = Workbook()
        for row, (key, value) in enumerate(said.items(), 1):
            key = key.replace("work", "reference") if name == "wear.xlsx" else key
            number, unit = value.split()
            book.active.append([float(number), unit])
            book.defined_names[f"in_{key}"] = DefinedName(f"in_{key}", attr_text=f"Sheet!$A${row}")
        path = tmp_path / name
        book.save(path)
    trial = gf.read_trial(file(READINGS, "readings.csv"), setup=path)
    assert trial.given.values["wheel_diameter"] == pytest.approx(203.2) and trial.given.values["work_diameter"] == 20
    assert {word: trial.given.written[word] for word in said} == said
    assert {trial.given.sources[word] for word in said} == {name}
