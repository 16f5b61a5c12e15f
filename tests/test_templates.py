"""The workbooks: cached values = LibreOffice = Python, with the example, with other inputs, with gaps, and with nonsense."""

from __future__ import annotations

import datetime
import functools
import math
import random
import re
from pathlib import Path

import engines
import openpyxl
import pytest
from evidence.notes import agreement
from libreoffice import LibreOffice
from open_book import OpenBook
from openpyxl.utils import get_column_letter
from openpyxl.utils.cell import range_boundaries
from openpyxl.utils.datetime import to_excel
from share_books import uncached_cells

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.addins.calc import build_oxt
from gritfuncs.addins.functions import FUNCTIONS
from gritfuncs.knee import knee_of_trial
from gritfuncs.planning import LIMIT_WORDS
from gritfuncs.sheets.book import CALC, Book
from gritfuncs.sheets.save import save_workbook
from gritfuncs.spreadsheets.cell_values import CellError
from gritfuncs.spreadsheets.package import read_package
from gritfuncs.trial.given import NOTHING
from gritfuncs.workbooks import functions
from gritfuncs.workbooks.filled import table_values
from gritfuncs.workbooks.speed_table import build as speed_table
from gritfuncs.workbooks.speed_table import wear
from gritfuncs.workbooks.templates import TEMPLATES, save
from gritfuncs.workbooks.trial import build as trial
from gritfuncs.workbooks.trial.other_trials import other_trials
from gritfuncs.workbooks.trial.plan import OUTSIDE
from gritfuncs.workbooks.trial.tables import CALCULATION, PLAN

ROOT = Path(__file__).parent.parent
BUILT = ROOT / "workbook_templates"
NO_RESULT = CellError("#N/A")


def readings(knee, level, steepness, setup, rpms, seed, idle=0.5, noise=0.01):
    """Invented readings (rpm, power, idle) of a setup with a known knee; energies in J/mm³ on 10 mm width."""
    scatter = random.Random(seed)
    removal = gf.removal_rate(setup["work_diameter"], setup["infeed_rate"])
    rows = []
    for rpm in rpms:
        depth = gf.plunge_grit_depth(work_rpm=rpm, **setup)
        energy = level * (1 + steepness * max(0.0, 1 - depth / knee)) * (1 + scatter.gauss(0, noise))
        rows.append((rpm, gf.grinding_power(energy, removal, 10.0) + idle, idle))
    return rows


def plan_rpms(nominal):
    return [reading.work_rpm for reading in gf.plan_trial(nominal)]


INTERNAL = dict(
    work_diameter=60.0, infeed_rate=0.25, wheel_speed=28.0, wheel_diameter=40.0, side=-1, grit_density=31.0, shape_ratio=8.0
)
FLAT = dict(
    work_diameter=150.0, infeed_rate=0.8, wheel_speed=18.0, wheel_diameter=350.0, side=0, grit_density=12.0, shape_ratio=12.0
)
WORN = dict(example.setup(), wheel_diameter=171.3, wheel_speed=math.pi * 171.3 * 2100 / 60000)

EXAMPLE = dict(readings=example.readings())
TRIALS = {
    "example": EXAMPLE,
    "internal, load meter": dict(
        work_diameter=60.0,
        infeed_rate=0.5,
        infeed_basis="diameter",
        wheel_speed=28.0,
        wheel_diameter=40.0,
        side="internal",
        grit_density=31.0,
        shape_ratio=8.0,
        contact_width=None,
        load_kind="relative",
        nominal_rpm=90.0,
        idle=None,
        readings=[
            (rpm, 40 * power, None)
            for rpm, power, _ in readings(
                0.98 * gf.plunge_grit_depth(work_rpm=90.0, **INTERNAL), 70.0, 4.0, INTERNAL, plan_rpms(90.0), 3
            )
        ],
    ),
    "flat, current, rows left out": dict(
        work_diameter=150.0,
        infeed_rate=0.8,
        wheel_speed=None,
        wheel_rpm=18.0 * 60000 / (math.pi * 350.0),
        wheel_diameter=350.0,
        marked_wheel_speed=18.5,
        side=0,
        grit_density=12.0,
        shape_ratio=12.0,
        contact_width=10.0,
        load_kind="current",
        volts=400.0,
        power_factor=0.8,
        idle=1.1,
        nominal_rpm=40.0,
        target_depth=0.9,
        readings=[
            (rpm, power / (math.sqrt(3) * 0.4 * 0.8) + 1.1)
            for rpm, power, _ in readings(
                gf.plunge_grit_depth(work_rpm=38.0, **FLAT), 90.0, 3.5, FLAT, plan_rpms(40.0), 5, idle=0.0
            )
        ]
        + [
            (None, None),
            (44.0, None, None, None, "meter off"),
            ("fast", 5.0),
            (-3, 5.0),
            (44.0, 0.9),
            (44.0, 9.0, None, "no"),
            (44.0, 9.0, None, "perhaps"),
            (44.0, 9.0, "x"),
        ],
    ),
    "worn wheel, still falling": dict(
        wheel_diameter=171.3,
        wheel_speed=None,
        wheel_rpm=2100.0,
        noise=2.0,
        highest_work_rpm=130.0,
        readings=[(rpm, power, idle, "yes", None) for rpm, power, idle in readings(3.0, 100.0, 3.0, WORN, plan_rpms(120.0), 10)]
        + [(None,) * 5, (120.0, 1.9, None)],
    ),
}

TABLES = {
    "example": {},
    "internal on the diameter": dict(
        side="internal",
        infeed_basis="diameter",
        wheel_diameter=40.0,
        wheel_speed=28.0,
        diameters=[30.0, 55.0, None, 60.0, 200.0],
        infeed_rates=[0.15, 0.5, 1.0, None, 4.0],
        target_depth=0.7,
        grit_size=64.0,
        highest_speed_ratio=900.0,
        lowest_speed_ratio=60.0,
    ),
    "flat, no power": dict(
        side="flat",
        specific_energy=None,
        contact_width=None,
        idle_power=None,
        highest_power=None,
        diameters=list(range(10, 130, 10)),
        infeed_rates=[0.1 * n for n in range(1, 13)],
        grit_density=9.5,
        highest_removal_rate=1.5,
        wheel_speed=None,
        wheel_rpm=2000.0,
        grit_size="120/140",
    ),
    "by rpm": dict(wheel_speed=None, wheel_rpm=3000.0, band=5.0, highest_infeed_rate=None, lowest_work_rpm=None, grit_size="b91"),
}


def saved(build, values, folder):
    path = folder / "book.xlsx"
    path.unlink(missing_ok=True)  # nothing is written over a file
    save_workbook(build(values), path)
    return path


def cells_by_name(path, values):
    """{defined name: value, or rows of values} from {sheet: {address: value}}."""
    return named_values(openpyxl.load_workbook(path, read_only=True), values)


def named_values(book, values):
    """{defined name: value, or rows of values} of a workbook of openpyxl from {sheet: {address: value}}."""
    found = {}
    for name, defined in book.defined_names.items():
        ((sheet, area),) = defined.destinations
        rows = [[values[sheet].get(cell) for cell in row] for row in _addresses(area.replace("$", ""))]
        found[name] = rows if ":" in area else rows[0][0]
    return found


def _addresses(area):
    first, _, last = area.partition(":")
    rows = openpyxl.utils.cell.rows_from_range(f"{first}:{last or first}")
    return [list(row) for row in rows]


def cached_values(path):
    """{sheet: {address: value}} as stored; dates as the numbers that they are."""
    return {
        sheet.title: {
            cell.coordinate: CellError(cell.value) if cell.data_type == "e" else plain(cell.value)
            for cell in engines.cells_of(sheet)
            if cell.value is not None
        }
        for sheet in openpyxl.load_workbook(path, data_only=True)
    }


def plain(value):
    """A date as the number that a spreadsheet keeps."""
    return to_excel(value) if isinstance(value, (datetime.date, datetime.datetime)) else value


def same(one, other):
    """Strictly, but a blank is as good as an empty text: a stored value does not tell them apart."""
    return engines.same(*("" if value is None else plain(value) for value in (one, other)))


def all_same(left, right):
    return len(left) == len(right) and all(map(same, left, right))


def test_a_zero_a_blank_and_a_word_are_not_the_same():
    unequal = [(0, None), (0, ""), (0, False), (None, False), (True, 1), (1, "1"), (CellError("#N/A"), "#N/A")]
    assert not [pair for pair in unequal if same(*pair)]
    assert same(None, "") and same(0, 0.0) and same(True, True)
    assert not all_same([1.0, 2.0], [1.0]) and not all_same([], [1.0]) and all_same([None, 1.0], ["", 1])


def formula_pairs(path, values):
    """{place: (cached value, value of an engine)} of every formula cell."""
    return {
        f"{sheet}!{address} {formula}": (cached, values[sheet].get(address))
        for sheet, address, formula, cached in formula_cells(path, path.stat().st_mtime_ns)
    }


@functools.lru_cache(maxsize=2)
def formula_cells(path, _changed):
    """(sheet, address, formula, cached value) of every formula cell."""
    cached = cached_values(path)
    return [
        (cell.parent.title, cell.coordinate, cell.value, cached[cell.parent.title].get(cell.coordinate))
        for cell in engines.cells_of(*openpyxl.load_workbook(path))
        if cell.data_type == "f"
    ]


def differences(path, values):
    """Formula cells whose cached value differs from the values of an engine."""
    return [
        f"{place}: {cached!r}, {found!r}"
        for place, (cached, found) in formula_pairs(path, values).items()
        if not same(cached, found)
    ]


@pytest.mark.parametrize("name", TEMPLATES)
def test_built_files_are_up_to_date(name, tmp_path):
    save(name, tmp_path / name)
    built, fresh = read_package(BUILT / name).parts, read_package(tmp_path / name).parts
    assert list(built) == list(fresh)
    assert [part for part in built if nine_digits(built[part]) != nine_digits(fresh[part])] == [], "run: python3 docs/build.py"


def nine_digits(part):
    """The part with its stored numbers cut to nine digits: the last ones differ between processors and libraries."""
    return re.sub(
        rb"(<(?:\w+:)?v>)(-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)(?=</)", lambda found: found[1] + b"%.9g" % float(found[2]), part
    )


def test_nine_digits_see_a_changed_value_and_a_changed_formula():
    assert nine_digits(b"<v>1.23456789012</v>") == nine_digits(b"<v>1.23456789013</v>") != nine_digits(b"<v>1.2345679</v>")
    assert nine_digits(b"<f>A1*2</f><v>4</v>") != nine_digits(b"<f>A1*3</f><v>4</v>")


@pytest.mark.parametrize("name", TEMPLATES)
def test_every_formula_cell_carries_its_value(name):
    assert uncached_cells(read_package(BUILT / name)) == []


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_macro_link_or_function_outside_the_safe_list(name):
    package = read_package(BUILT / name)
    assert not [part for part in package.parts if "vba" in part.lower() or "externalLink" in part]
    used = {word for part in package.parts if part.startswith("xl/worksheets/") for word in functions_in(package.text(part))}
    safe = set(
        "ABS AND AVERAGEIF AVERAGEIFS CHOOSE COUNT COUNTA COUNTIF COUNTIFS EXP FINV FIXED IF IFERROR INDEX INT ISBLANK ISERROR ISLOGICAL ISNUMBER ISTEXT LEFT "
        "LARGE LN LOG10 MATCH MAX MEDIAN MID MIN MOD NA NOT OR PI ROUND ROUNDDOWN ROUNDUP SMALL SQRT STDEV SUBSTITUTE SUM SUMIF SUMPRODUCT TINV TRIM".split()
    )
    assert used - set(functions.ABSENT) <= safe
    assert (name == "functions.xlsx") == bool(used & functions.ABSENT)


def functions_in(xml):

    for formula in re.findall(r"<f(?: [^<>]*)?>([^<]+)</f>", xml):
        yield from re.findall(r"\b([A-Z][A-Z0-9._]*)\(", re.sub(r"&quot;.*?&quot;|\".*?\"", "", formula))


@pytest.fixture(scope="module")
def filled_trial(tmp_path_factory):
    """The path of trial.xlsx with the example's readings."""
    return saved(trial.build, EXAMPLE, tmp_path_factory.mktemp("filled"))


@pytest.mark.parametrize("case", TRIALS)
def test_trial_cached_equals_libreoffice_equals_python(case, tmp_path, filled_trial, libreoffice):
    path = filled_trial if TRIALS[case] is EXAMPLE else saved(trial.build, TRIALS[case], tmp_path)
    recalculated = libreoffice.recalc(path)
    assert differences(path, recalculated) == []
    seen, read = cells_by_name(path, recalculated), gf.read_trial(path)
    assert recalculated_status(recalculated) == ["" if r.status == "blank" else r.status for r in read.readings]
    assert seen["out_n_readings"] == read.counts["used"]
    assert seen["out_n_left_out"] == read.counts["excluded"] + read.counts["left out"]
    knee = read.knee
    assert seen["out_verdict"] == knee.verdict
    for name, value in dict(
        out_knee=knee.knee,
        out_knee_low=knee.low,
        out_knee_high=knee.high,
        out_knee_level=knee.level,
        out_knee_slope=knee.slope,
        out_noise=100 * knee.noise,
        out_n_depths=knee.n_depths,
    ).items():
        assert same(seen[name], NO_RESULT if value is None else value), name
    if knee.knee and not TRIALS[case].get("target_depth"):
        assert same(seen["out_target_rpm"], read.setup.rpm_for(knee.knee))
    if TRIALS[case].get("target_depth"):
        assert same(seen["out_target_rpm"], read.setup.rpm_for(0.9))
    assert all_same(read.depths, [cell for cell in column(recalculated, CALCULATION, "depth") if isinstance(cell, float)])


def column(values, table, name):
    """What the rows of a table hold in a column."""
    return [values[table.sheet.strip("'")].get(table.here(name, row)) for row in range(table.first_row, table.last_row + 1)]


def recalculated_status(values):
    return ["" if cell == "blank" else cell for cell in column(values, CALCULATION, "status")]


def test_trial_covers_the_verdicts_it_should():
    """The cases above are not all of one kind."""
    verdicts = {
        case: gf.find_knee(*_depths_and_energies(values)).verdict
        for case, values in TRIALS.items()
        if "rows left out" not in case and "internal" not in case
    }
    assert verdicts["worn wheel, still falling"] == "still falling"


def _depths_and_energies(values):
    rows = [
        row for row in values["readings"] if isinstance(row[0], float) and isinstance(row[1], float) and len(row) > 2 and row[2]
    ]
    return [gf.plunge_grit_depth(work_rpm=row[0], **WORN) for row in rows], [row[1] - row[2] for row in rows]


@pytest.mark.parametrize("case", TABLES)
def test_speed_table_cached_equals_libreoffice_equals_python(case, tmp_path, libreoffice):
    values = {**speed_table.defaults(), **TABLES[case]}
    path = saved(speed_table.build, TABLES[case], tmp_path)
    recalculated = libreoffice.recalc(path)
    assert differences(path, recalculated) == []
    seen = cells_by_name(path, recalculated)
    side = {"external": 1, "flat": 0, "internal": -1}[values["side"]]
    factor = {"radius": 1.0, "diameter": 0.5}[values["infeed_basis"]]
    speed = values["wheel_speed"] or gf.wheel_speed(values["wheel_diameter"], values["wheel_rpm"])
    size = values["grit_size"] if isinstance(values["grit_size"], float) else gf.mean_grit_size(values["grit_size"])
    density = values.get("grit_density") or gf.grit_density(size, values["concentration"], values["active_fraction"])
    energy = {name: values[name] for name in ("specific_energy", "contact_width", "idle_power") if values[name] is not None}
    table = gf.speed_table(
        grit_depth=values["target_depth"],
        work_diameters=[d for d in values["diameters"] if d],
        infeed_rates=[factor * rate for rate in values["infeed_rates"] if rate],
        wheel_speed=speed,
        marked_wheel_speed=values["marked_wheel_speed"],
        wheel_diameter=values["wheel_diameter"],
        side=side,
        grit_density=density,
        shape_ratio=values["shape_ratio"],
        band=values["band"] / 100,
        limits=gf.Limits(**{name: values[name] for name, _, _ in LIMIT_WORDS}),
        **energy,
    )
    rows = [row for row, diameter in enumerate(values["diameters"]) if diameter]
    columns = [column for column, rate in enumerate(values["infeed_rates"]) if rate]
    assert [len(setups) for setups in table.rows] == [len(columns)] * len(rows)
    for row, setups in zip(rows, table.rows):
        for column_, setup in zip(columns, setups):
            for name, value in dict(
                rpm_table=setup.work_rpm,
                limit_table=setup.word,
                work_speed_table=setup.work_speed,
                speed_ratio_table=setup.speed_ratio,
                rpm_low_table=setup.lowest_rpm,
                rpm_high_table=setup.highest_rpm,
            ).items():
                assert same(seen[f"out_{name}"][row][column_], "-" if value is None else value), (name, row, column_)
            if setup.work_rpm:
                assert same(seen["out_removal_rate_table"][row][column_], setup.removal_rate)
                assert same(seen["out_power_table"][row][column_], "not known" if setup.power is None else setup.power)
    check_fastest(seen, values, table, factor, dict(wheel_speed=speed, side=side, grit_density=density, **energy))
    check_wear(
        seen,
        values,
        dict(grit_depth=values["target_depth"], side=side, grit_density=density, shape_ratio=values["shape_ratio"]),
        speed,
    )
    filled = sum(isinstance(cell, float) or cell == "-" for cells in seen["out_rpm_table"] for cell in cells)
    assert filled == len(rows) * len(columns)
    assert {setup.word for setups in table.rows for setup in setups} >= EXPECTED_WORDS[case]


def check_fastest(seen, values, table, factor, setup):
    limits = gf.Limits(**{name: values[name] for name, _, _ in LIMIT_WORDS})
    for row, diameter in enumerate(values["diameters"]):
        shown = [seen[f"out_fastest_{name}"][row][0] for name in ("infeed", "infeed_shown", "rpm", "binds")]
        if not diameter:
            assert shown in ([None] * 4, [""] * 4)
            continue
        fastest = gf.fastest_setup(
            grit_depth=values["target_depth"],
            work_diameter=diameter,
            limits=limits,
            shape_ratio=values["shape_ratio"],
            marked_wheel_speed=values["marked_wheel_speed"],
            wheel_diameter=values["wheel_diameter"],
            **setup,
        )
        if fastest.setup:
            rate = fastest.setup.infeed_rate
            assert all_same(shown[:3], (rate, rate / factor, fastest.setup.work_rpm))
            assert shown[3] == fastest.binds.replace("_", " ")
        elif fastest.against:
            assert shown[0] == "no setup" and shown[3] == f"{fastest.binds} excludes {fastest.against}".replace("_", " ")
        else:
            assert shown[3] == fastest.words == "wheel too large"


def check_wear(seen, values, setup, speed):
    part = dict(work_diameter=values["reference_diameter"], infeed_rate=values["reference_infeed_rate"], **setup)
    known = values["smallest_wheel_diameter"] <= values["wheel_diameter"]
    assert seen["out_wear_known"] == known
    columns = [seen[f"out_wear_{name}"] for name in ("diameters", "rpm_at_wheel_rpm", "wheel_rpm", "rpm_at_wheel_speed")]
    assert {len(column) for column in columns} == {wear.STEPS}
    for (diameter,), (at_rpm,), (wheel_rpm,), (at_speed,) in zip(*columns):
        if not known:
            assert str(diameter).startswith("#") and str(at_rpm).startswith("#") and str(at_speed).startswith("#")
            continue
        slower = speed * diameter / values["wheel_diameter"]
        assert same(wheel_rpm, gf.wheel_rpm(diameter, speed))
        assert same(at_rpm, gf.work_rpm_for(wheel_speed=slower, wheel_diameter=diameter, **part))
        assert same(at_speed, gf.work_rpm_for(wheel_speed=speed, wheel_diameter=diameter, **part))


EXPECTED_WORDS = {
    "example": {"ok", "rpm too high", "power too high"},
    "internal on the diameter": {"wheel too large", "ok", "infeed too low"},
    "flat, no power": {"Q'w too high", "ok"},
    "by rpm": {"rpm too high"},
}


def test_target_from_the_record_by_its_key(tmp_path, libreoffice):
    records = speed_table.defaults()["records"]
    key, knee, density, ratio = records[1][0], records[1][9], records[1][13], records[1][14]
    path = saved(
        speed_table.build,
        dict(target_depth=None, lookup_key=f" {key.lower()} ", grit_density=density, shape_ratio=ratio),
        tmp_path,
    )
    recalculated = libreoffice.recalc(path)
    assert differences(path, recalculated) == []
    seen = cells_by_name(path, recalculated)
    assert same(seen["out_target_depth"], knee) and seen["out_lookup_word"] == "ok"
    assert same(seen["out_rpm_table"][0][0], gf.work_rpm_for(knee, 8.0, 0.3, 22.0, 200.0, 1, density, ratio))
    assert "C r differs" not in seen["out_check"]
    other = saved(speed_table.build, dict(target_depth=None, lookup_key=key), tmp_path)
    assert "4 to look at" in cells_by_name(other, cached_values(other))["out_check"]


def test_inch_and_metric_give_the_same_setups(tmp_path):
    """The same machine, wheel and parts typed in inches, ft/min, hp; factors exact by definition (inch 1959, 550 ft lbf/s)."""
    inch, foot, horsepower = 25.4, 0.3048, 0.74569987158227022
    metric = {**speed_table.defaults(), "highest_removal_rate": 3.0, "highest_wheel_rpm": 2500.0, "highest_speed_ratio": 400.0}
    factors = dict(
        wheel_diameter=inch,
        wheel_speed=foot / 60,
        marked_wheel_speed=foot / 60,
        contact_width=inch,
        idle_power=horsepower,
        highest_power=horsepower,
        specific_energy=horsepower * 60e3 / inch**3,
        highest_removal_rate=inch**2 / 60,
        stock=inch,
        lowest_infeed_rate=inch,
        highest_infeed_rate=inch,
        smallest_wheel_diameter=inch,
        reference_diameter=inch,
        reference_infeed_rate=inch,
    )
    typed = {name: metric[name] / factor for name, factor in factors.items()}
    typed.update(
        units="inch",
        highest_wheel_rpm=2500.0,
        highest_speed_ratio=400.0,
        **{name: [value / inch for value in metric[name]] for name in ("diameters", "infeed_rates")},
    )
    seen, sheets = [], []
    for number, values in enumerate((metric, typed)):
        save_workbook(speed_table.build(values), tmp_path / f"{number}.xlsx")
        sheets.append(cached_values(tmp_path / f"{number}.xlsx"))
        seen.append(cells_by_name(tmp_path / f"{number}.xlsx", sheets[-1]))
    in_words = ("out_state", "out_print_again_below")  # in the units chosen, or rounded in them
    compared = [
        name
        for name in seen[0]
        if name.startswith("out_") and name not in ("out_length_factor", "out_fastest_infeed_shown", *in_words)
    ]
    assert len(compared) > 25
    for name in compared:
        left, right = seen[0][name], seen[1][name]
        assert all_same(*(sum(side, []) if isinstance(side, list) else [side] for side in (left, right))), name
    metric_infeeds, inch_infeeds = (sum(side["out_fastest_infeed_shown"], []) for side in seen)
    assert all_same(metric_infeeds, [infeed and infeed * inch for infeed in inch_infeeds])
    check_what_is_shown(*sheets, inch)


def check_what_is_shown(metric, inches, inch):
    """Fastest and Wheel wear show what the machine shows, in the units chosen, and say which."""
    for sheet, heads, first, factors in (
        ("Fastest", 7, 8, {"A": inch, "B": inch, "F": inch, "J": inch, "K": 1}),
        ("Wheel wear", 8, 9, {"B": inch, "C": inch * 12 / 60000, "D": 1, "F": 1}),
    ):
        for column, factor in factors.items():
            one, other = metric[sheet][f"{column}{first}"], inches[sheet][f"{column}{first}"]
            assert one == pytest.approx(other * factor, rel=1e-9), (sheet, column)
            units = [values[sheet][f"{column}{heads}"].rpartition(", ")[2] for values in (metric, inches)]
            assert (units[0] == units[1]) == (factor == 1), units


def test_shipped_trial_holds_no_readings():
    """A reader who fills in fewer rows than an example has must not compute with the rest of it."""
    seen = cells_by_name(BUILT / "trial.xlsx", cached_values(BUILT / "trial.xlsx"))
    assert not [value for row in seen["in_readings"] for value in row if value is not None]
    assert (seen["out_verdict"], seen["out_knee"]) == ("too few readings", NO_RESULT)
    assert seen["out_next_rpm"] == example.NOMINAL_RPM


FILLED_TRIAL = "trial.xlsx, filled in"


@pytest.mark.parametrize("engine", engines.ENGINES)
@pytest.mark.parametrize("name", [*TEMPLATES, FILLED_TRIAL])
def test_every_engine_computes_what_the_files_hold(engine, name, filled_trial, compute):
    path = filled_trial if name == FILLED_TRIAL else BUILT / name
    values = compute[engine](path)
    assert differences(path, values) == []
    agreement(engine, name, formula_pairs(path, values))


def test_functions_workbook_says_of_each_function_what_it_gives(as_built):
    sheet = as_built("functions.xlsx")["Functions"]
    said = {sheet[f"A{row}"].value: sheet[f"B{row}"].value for row in range(1, sheet.max_row + 1)}
    helps = {function.sheet_name: function.help for function in FUNCTIONS}
    listed = helps.keys() - {"GRIT_KNEE_REPORT", "GRIT_NEXT_RPM"}
    assert listed <= said.keys() and all(len(said[name]) > 8 for name in listed)
    for name in listed - {record.sheet_name for record in gf.catalogue} - {"GRIT_VERSION"}:
        assert helps[name].startswith(said[name])


@pytest.mark.parametrize("name", ["trial.xlsx", "plunge_cycle.xlsx", "power_log.xlsx"])
def test_each_line_of_a_chart_is_drawn_from_all_rows_that_carry_its_name(name, as_built):
    """Where x and y stand, and what stands before them in the same rows."""
    book, drawn = as_built(name), 0
    for chart in (chart for sheet in book for chart in sheet._charts):
        for series in chart.series:
            (home, x), (sheet, y) = ((ref.numRef.f.replace("$", "").rsplit("!", 1)) for ref in (series.xVal, series.yVal))
            (left, top, _, bottom), (right, *rows, _, last) = range_boundaries(x), range_boundaries(y)
            assert (home, left, top, bottom) == (sheet, right - 1, *rows, last)
            cells = book[sheet.strip("'")]
            label = cells.cell(top, 1).value
            title = series.tx.v or series.tx.strRef.f.replace("$", "")
            if isinstance(label, str):
                named = [row for row in range(1, cells.max_row + 1) if cells.cell(row, 1).value == label]
                assert label == "other trial" or named == list(range(top, bottom + 1)), title
                assert "!" in title or title.rstrip("s") in label, (title, label)
            if "!" in title and label != "other trial":
                assert title == f"{sheet}!{get_column_letter(right + 1)}{top}"
            drawn += 1
    assert drawn > 6


@pytest.mark.parametrize("off, says", [(1 + 1e-8, "STOP"), (1, "Checks: no STOP")])
def test_the_functions_workbook_stops_where_one_native_formula_gives_another_value(off, says):
    workbook = functions.build()
    sheet = workbook["Functions"]
    head = {cell.value: cell.column_letter for row in sheet["A7:M7"] for cell in row}
    last = max(row for row in range(8, sheet.max_row) if isinstance(sheet[f"{head['expected']}{row}"].value, float))
    sheet[f"{head['expected']}{last}"].value *= off
    book = OpenBook(workbook)
    book.read()
    assert book["out_check"].startswith(says)
    assert book["out_native_true"] == len(gf.catalogue) + 6 - (off != 1)


def test_each_column_of_the_functions_workbook_has_a_head_with_a_word(as_built):
    sheet = as_built("functions.xlsx")["Functions"]
    head = next(row for row in sheet.iter_rows() if row[0].value == "function")
    assert all(isinstance(cell.value, str) for cell in head)
    most = max(len(record.arguments) for record in gf.catalogue)
    assert [cell.value for cell in head[4 : 4 + most]] == [f"argument {number + 1}" for number in range(most)]


@pytest.mark.parametrize("name", TEMPLATES)
def test_each_row_that_computes_says_in_its_first_cell_what_it_is(name, as_built):
    """But for the rows of zeros before and after a table, and the tables beside the steps of a confirmation."""
    for sheet in as_built(name):
        if not sheet.title.startswith(CALC) or sheet.title == "calc confirm":
            continue
        named = {row[0].row for row in sheet.iter_rows(max_col=1) if row[0].value is not None}
        counted = {row for row in named if isinstance(sheet.cell(row, 1).value, int)}
        for row in sheet.iter_rows(min_row=5):
            if row[0].row not in named and not {row[0].row - 1, row[0].row + 1} & counted:
                assert not [cell.coordinate for cell in row if cell.data_type == "f"], sheet.title


@pytest.mark.parametrize("name", TEMPLATES)
def test_rows_are_numbered_from_one_and_no_chart_bends_a_line(name, as_built):
    """A fit with a corner must not be drawn round."""
    for sheet in as_built(name):
        numbers = []
        for (cell,) in sheet.iter_rows(max_col=1):
            if type(cell.value) is not int or sheet.title == "Chart data":  # there it is the number of a stretch, four times each
                numbers = []
                continue
            numbers.append(cell.value)
            assert numbers == list(range(1, len(numbers) + 1)), sheet.title
        assert not [series for chart in sheet._charts for series in chart.series if series.smooth is not False], sheet.title


def test_what_there_is_on_no_machine_is_told_with_its_unit(as_built):
    checks = as_built("trial.xlsx")["Checks"]
    said = {str(checks[f"D{row}"].value) for row in range(6, checks.max_row)}
    for words in (
        "work rpm of the readings: more than 100000 1/min there is not",
        "infeed rate of the readings: more than 1000 mm/min there is not",
        "load of the readings: more than 10000 kW there is not",
    ):
        assert f"{words}; a slip, or another unit?" in said


def test_the_list_of_functions_repeats_its_head_on_each_page(as_built):
    sheet = as_built("functions.xlsx")["Functions"]
    assert sheet[f"A{sheet.print_title_rows.rpartition('$')[2]}"].value == "function"


PAIRS = [(1.0, 100.0)] * 40


@pytest.mark.parametrize(
    "trials, fit",
    [
        ([("a", PAIRS)] * 3, True),
        ([("a", PAIRS[:1])] * 4, False),
        ([("a", [*PAIRS, (1.0, 100.0)])], False),
        ([("a", [(1.0, 100.0, 2.0)])], False),
        ([], True),
    ],
)
def test_other_trials_are_three_of_forty_pairs_at_most(trials, fit):
    if fit:
        assert len(other_trials(Book("a book"), trials)) == 3
        return
    with pytest.raises(
        ValueError, match="other_trials must be at most 3 pairs of a title and at most 40 rows of depth and energy"
    ):
        other_trials(Book("a book"), trials)


@pytest.mark.parametrize("energy, idle", [(40.0, 0.4), (None, None)])
def test_a_table_that_is_written_takes_idle_along_where_it_has_a_power(energy, idle):
    known = dict(specific_energy=energy, contact_width=15.0, idle_power=0.4) if energy else {}
    table = gf.speed_table(
        grit_depth=1.36,
        work_diameters=[20.0],
        infeed_rates=[0.6],
        wheel_speed=22.0,
        marked_wheel_speed=35.0,
        wheel_diameter=200.0,
        side=1,
        grit_density=18.9,
        shape_ratio=10.0,
        **known,
    )
    values = table_values(table, NOTHING, "a title")
    assert (values["specific_energy"], values["idle_power"]) == (energy, idle)


def test_functions_workbook_says_whether_the_extension_works(tmp_path, libreoffice):
    """TRUE everywhere natively; the LibreOffice column turns TRUE where the extension is installed, and only there."""
    without = cells_by_name(BUILT / "functions.xlsx", libreoffice.recalc(BUILT / "functions.xlsx"))
    rows = len(gf.catalogue) + 6  # five knee functions and the version
    assert (without["out_native_true"], without["out_excel_true"], without["out_calc_true"]) == (rows, 0, 0)
    with LibreOffice([build_oxt(tmp_path / "gritfuncs.oxt")]) as office:
        loaded = cells_by_name(BUILT / "functions.xlsx", office.recalc(BUILT / "functions.xlsx"))
    assert (loaded["out_native_true"], loaded["out_excel_true"], loaded["out_calc_true"]) == (rows, 0, rows)


BAD = [
    (trial, dict(wheel_diameter=-200.0), "wheel diameter"),
    (trial, dict(wheel_diameter="big"), "wheel diameter"),
    (trial, dict(wheel_diameter=None), "wheel diameter"),
    (trial, dict(wheel_speed=36.0), "marked on the wheel"),
    (trial, dict(marked_wheel_speed=None), "marked on the wheel"),
    (trial, dict(wheel_rpm=500.0), "agree within 1 %"),
    (trial, dict(wheel_speed=None), "one of speed and rpm"),
    (trial, dict(side="outside"), "side of contact"),
    (trial, dict(side=2), "side of contact"),
    (trial, dict(side="internal"), "diameters fit together"),
    (trial, dict(infeed_basis="depth"), "infeed basis"),
    (trial, dict(infeed_rate=0), "infeed rate"),
    (trial, dict(grit_size="D127"), "grit density"),
    (trial, dict(grit_size=None), "grit density"),
    (trial, dict(shape_ratio="r"), "width to thickness"),
    (trial, dict(load_kind="watts"), "kind of load"),
    (trial, dict(load_kind="current"), "voltage and power factor"),
    (trial, dict(noise=-1), "scatter of the readings"),
    (trial, dict(rpm_step=20.0), "above standstill"),
    (trial, dict(steps_each_side=2.5), "whole"),
    (trial, dict(lowest_work_rpm=300.0, highest_work_rpm=200.0), "not above the highest"),
    (speed_table, dict(target_depth=None), "target grit depth"),
    (speed_table, dict(target_depth=-1.0), "target grit depth"),
    (speed_table, dict(target_depth=None, lookup_key="none of these"), "stands in the record"),
    (speed_table, dict(wheel_speed=35.1), "marked on the wheel"),
    (speed_table, dict(diameters=[20.0, -1.0]), "part diameters"),
    (speed_table, dict(diameters=["x", 20.0]), "part diameters"),
    (speed_table, dict(diameters=[]), "part diameters"),
    (speed_table, dict(infeed_rates=[0.0, 1.0]), "infeed rates"),
    (speed_table, dict(idle_power=None), "power can be compared"),
    (speed_table, dict(band=0), "band"),
    (speed_table, dict(units="feet"), "infeed rates"),
    (speed_table, dict(lowest_work_rpm=500.0), "not above the highest"),
    (speed_table, dict(highest_work_rpm="fast"), "highest work rpm"),
]


@pytest.fixture(scope="module")
def open_books():
    """The books that are typed into, each built once."""
    return {trial: OpenBook(trial.build(EXAMPLE)), speed_table: OpenBook(speed_table.build())}


def typed(book, template, **values):
    """The book with its example's inputs and these."""
    book.fill_example(template, **{"wheel_rpm": None, "grit_density": None, **values})
    book.read()
    return book


@pytest.mark.parametrize("template, values, said", BAD)
def test_nonsense_stops_all_results_and_is_named(template, values, said, open_books):
    book = typed(open_books[template], template, **values)
    assert book["out_check"].startswith("STOP") and said in book["out_check"]
    if template is trial:
        assert book["out_verdict"].startswith("STOP")
        results = [book[name] for name in ("out_knee", "out_knee_low", "out_knee_high", "out_knee_level", "out_target_rpm")]
        assert planned_rpms(book) == []
        assert book["out_state"].startswith("STOP") and book.at("2 Trial", "A4") == book.at("2 Trial", "N4") == "STOP"
    else:
        results = [cell for row in book["out_rpm_table"] for cell in row if cell is not None]
    assert [value for value in results if not str(value).startswith("#")] == []
    assert bool(results) == (values.get("diameters") != [])  # no part: nothing to show


# a text with a word, a blank with a contradiction, a number, a text in a list, an empty list, a text; of both books
@pytest.mark.parametrize("places", [(1, 7), (2, 9), (22,), (26,), (27,), (33,)])
def test_nonsense_is_computed_alike(places, tmp_path, libreoffice):
    template, _, said = BAD[places[0]]
    values = {name: value for place in places for name, value in BAD[place][1].items()}
    path = saved(template.build, {**(EXAMPLE if template is trial else {}), **values}, tmp_path)
    assert differences(path, libreoffice.recalc(path)) == []
    assert said in cells_by_name(path, cached_values(path))["out_check"]


def planned_rpms(book):
    """What the plan of an open book shows."""
    cells = (book.at("calc plan", PLAN.here("planned_rpm", row)) for row in range(PLAN.first_row, PLAN.last_row + 1))
    return [cell for cell in cells if cell is not None]


def test_filling_by_name_in_a_copy_then_recalculating(tmp_path, libreoffice):
    """As a script or a planner would: open the shipped file, write into the named cells, let the spreadsheet compute."""
    book = openpyxl.load_workbook(BUILT / "trial.xlsx")

    def cell(name):
        ((sheet, area),) = book.defined_names[name].destinations
        return book[sheet][area]

    for name, value in dict(
        in_wheel_diameter=150.0,
        in_wheel_speed=30.0,
        in_work_diameter=12.0,
        in_infeed_rate=0.4,
        in_grit_density=25.0,
        in_shape_ratio=9.0,
        in_nominal_rpm=200.0,
        in_contact_width=10.0,
    ).items():
        cell(name).value = value
    setup = gf.Setup(
        work_diameter=12.0,
        infeed_rate=0.4,
        wheel_speed=30.0,
        wheel_diameter=150.0,
        side=1,
        grit_density=25.0,
        shape_ratio=9.0,
        contact_width=10.0,
    )
    plain = {
        name: getattr(setup, name)
        for name in ("work_diameter", "infeed_rate", "wheel_speed", "wheel_diameter", "side", "grit_density", "shape_ratio")
    }
    truth = setup.depth(190.0)
    rows = readings(truth, 80.0, 4.0, plain, plan_rpms(200.0), 11)
    for cells, row in zip(cell("in_readings"), rows):
        for target, value in zip(cells[:3], row):
            target.value = value
    book.save(tmp_path / "filled.xlsx")
    seen = cells_by_name(tmp_path / "filled.xlsx", libreoffice.recalc(tmp_path / "filled.xlsx"))
    assert seen["out_verdict"] == "found"
    assert seen["out_knee_low"] < truth < seen["out_knee_high"]
    assert seen["out_target_rpm"] == pytest.approx(setup.rpm_for(seen["out_knee"]), rel=1e-9)


@pytest.mark.parametrize("steps, limits", [(1, {}), (13, {}), (5, dict(lowest_work_rpm=60.0, highest_work_rpm=120.0))])
def test_planned_steps_equal_the_planner(steps, limits, open_books):
    limits = {"lowest_work_rpm": 10.0, **limits}
    book = typed(open_books[trial], trial, steps_each_side=steps, rpm_step=5.0, nominal_rpm=100.0, **limits)
    plan = gf.plan_trial(100.0, step_percent=5.0, steps_each_side=steps, **{"highest_work_rpm": 400.0, **limits})
    shown = [None if cell == OUTSIDE else pytest.approx(cell) for cell in planned_rpms(book)]
    assert shown == [reading.work_rpm for reading in plan]


@pytest.mark.parametrize("limits", [{}, dict(lowest_work_rpm=70.0, highest_work_rpm=130.0)])
def test_planned_even_depths_equal_the_planner(limits, open_books):
    book = typed(open_books[trial], trial, plan_spacing="depth", nominal_rpm=100.0, **limits)
    plan = gf.plan_trial(100.0, spacing="depth", **{"lowest_work_rpm": 20.0, "highest_work_rpm": 400.0, **limits})
    assert planned_rpms(book) == [pytest.approx(reading.work_rpm) for reading in plan]


def test_watch_tells_range_readings_drift_and_damage(open_books):
    """Readings that drift by 9 % from the first to the last one, and a burn seen at one depth."""
    rows = example.readings()
    rows = [(rpm, idle + (power - idle) * (1 + 0.09 * place / 14), idle) for place, (rpm, power, idle) in enumerate(rows)]
    book, seen = open_books[trial], {}
    for case, place, told in (("slow", 6, "yes"), ("near the knee", 12, "burn"), ("none", 6, "no")):
        damage = [told if number == place else None for number in range(15)]
        typed(book, trial, readings=rows, damage=damage, wanted_half_width=0.5, target_depth=1.38)
        seen[case] = book.results()
    first, last = (rows[place][1] - rows[place][2] for place in (0, 14))
    assert same(seen["slow"]["out_drift"], 100 * (last / first - 1)) and seen["slow"]["out_nominal_repeats"] == 3
    setup = gf.Setup(contact_width=example.CONTACT_WIDTH, **example.setup())
    energies = [gf.specific_energy(power - idle, setup.removal_rate, setup.contact_width) for _, power, idle in rows]
    assert same(seen["slow"]["out_drift_share"], (energies[14] - energies[0]) / (max(energies) - min(energies)))
    knee = knee_of_trial([setup.depth(rpm) for rpm, _, _ in rows], energies)
    assert seen["slow"]["out_drift_word"] == ("drifts" if abs(knee.drift) > 2 * knee.drift_deviation else "steady")
    assert seen["slow"]["out_damage_word"] == "seen outside the target band: stay within it"
    assert "yes in reading 7" in seen["slow"]["out_warning"]
    assert seen["near the knee"]["out_damage_word"].startswith("seen within the target band")
    assert (seen["none"]["out_damage_count"], seen["none"]["out_damage_word"]) == (0, "none noted")
    half_width = 100 * (knee.scatter_high - knee.scatter_low) / 2 / knee.knee
    assert same(seen["none"]["out_half_width"], half_width)
    assert seen["none"]["out_readings_needed"] == max(6, math.ceil(15 * (half_width / 0.5) ** 2))
    assert same(seen["none"]["out_plan_ratio"], (1.6 / 0.4) ** 0.25) and seen["none"]["out_plan_word"] == "wide enough"
    assert typed(book, trial, steps_each_side=2, damage=[])["out_plan_word"] == "too narrow"


WITHOUT_MASTER_LINE = {  # what they are for stands there
    ("trial.xlsx", "2 Trial"),
    ("trial.xlsx", "3 Record"),
    ("speed_table.xlsx", "Speed table"),
    ("plunge_cycle.xlsx", "Results"),
    ("knee_record.xlsx", "Confirm"),
}


@pytest.mark.parametrize("name", TEMPLATES)
def test_every_sheet_shows_the_cautions_and_the_master_line(name, as_built):
    book, cached = as_built(name), openpyxl.load_workbook(BUILT / name, data_only=True)
    for sheet in book:
        assert "speed marked on it" in sheet.oddFooter.center.text
        if "out_state" in book.defined_names:
            assert "speed marked on it" in cached[sheet.title]["A2"].value
        if (name, sheet.title) not in WITHOUT_MASTER_LINE:
            assert cached[sheet.title]["A3"].value.startswith("Checks:")
        assert sheet.protection.sheet and not sheet.protection.password
        assert not sheet.protection.formatColumns and not sheet.protection.formatRows, sheet.title  # may be made wider
        across = 2 if sheet.title in ("Record", "3 Record") else 1
        assert (sheet.page_setup.orientation, sheet.page_setup.fitToWidth, len(sheet.col_breaks.brk)) == (
            "landscape",
            1,
            across - 1,
        )
    help_sheet = "Help" if "Help" in book.sheetnames else "Read me first"
    notes = " ".join(str(cell.value) for cell in engines.cells_of(book[help_sheet]))
    for word in ("speed marked on it", "ring-test", "Guards", "extraction", "Local rules", "prefactor 4"):
        assert word in notes


@pytest.mark.parametrize("name", TEMPLATES)
def test_inputs_are_unlocked_and_everything_else_is_locked(name, as_built):
    book = as_built(name)
    inputs = {
        (sheet, cell)
        for defined, place in book.defined_names.items()
        if defined.startswith("in_")
        for sheet, area in place.destinations
        for row in _addresses(area.replace("$", ""))
        for cell in row
    }
    if name == "trial.xlsx":  # damage is shown in in_observations, and typed in in_damage
        inputs -= {("Finish and wear", f"D{row}") for row in range(7, 37)}
    unlocked = {
        (sheet.title, cell.coordinate)
        for sheet in book
        for cell in engines.cells_of(sheet)
        if not cell.protection.locked and not isinstance(cell, openpyxl.cell.cell.MergedCell)
    }
    assert unlocked == inputs
