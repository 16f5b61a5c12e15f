"""Each check of the workbooks with inputs: it speaks where its words say, and keeps silent just beside that."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

import pytest
from engines import cells_of
from open_book import OpenBook

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.planning.plan import BOTH
from gritfuncs.workbooks.plunge_cycle import build as plunge_cycle
from gritfuncs.workbooks.speed_table import build as speed_table
from gritfuncs.workbooks.trial import build as trial

TEMPLATES = {"trial.xlsx": trial, "speed_table.xlsx": speed_table, "plunge_cycle.xlsx": plunge_cycle}
SETUP = gf.Setup(contact_width=example.CONTACT_WIDTH, **example.setup())
NOMINAL = example.NOMINAL_RPM
_INPUT = re.compile(r"\bin_\w+")


class Checked:
    """A workbook that is typed into: the state of each check by its words, and what it advises."""

    def __init__(self, workbook, template):
        self.workbook, self.book, self.given = workbook, OpenBook(workbook), template.defaults()
        sheet = workbook["Checks"]
        self.rows = {sheet[f"B{row}"].value: row for row in range(7, sheet.max_row) if sheet[f"A{row}"].value}
        self.changed: set[str] = set()

    def states(self, **values: Any) -> dict[str, str]:
        """What every check says with these inputs, and those of the example."""
        back = {
            name: self.given.get(name, ()) if name in _TABLES else self.given.get(name) for name in self.changed - set(values)
        }
        self.book.fill(**back, **values)
        self.changed = set(values)
        self.book.read()
        return {label: self.book.at("Checks", f"C{row}") for label, row in self.rows.items()}

    def advice(self, label: str) -> str:
        return str(self.book.at("Checks", f"D{self.rows[label]}"))

    def label(self, beginning: str) -> str:
        (found,) = [label for label in self.rows if label.startswith(beginning)]
        return found

    def formula(self, label: str) -> str:
        return self.workbook["Checks"][f"C{self.rows[label]}"].value


_TABLES = ("readings", "damage", "row_infeed_rates")


@pytest.fixture(scope="module")
def checked(as_built):
    return {name: Checked(as_built(name), template) for name, template in TEMPLATES.items()}


# --- checks that say a range ---------------------------------------------------------------------------------------------


def ranges(one: Checked, words: str) -> dict[str, re.Match]:
    """{input: what the pattern finds in the advice or the words of its check}."""
    found = {}
    for label in one.rows:
        said = re.search(words, f"{label}; {one.advice(label)}")
        if said:
            found[said["name"]] = said
    return found


USUAL = r"usually (?P<low>[\d.]+) to (?P<high>[\d.]+)\b[^;]*; (?P<name>in_\w+): a slip, another unit, or what your machine does"
MUST = (
    r"; (?P<name>in_\w+): must be (?P<sign>>=?) (?P<low>\d+(?:\.\d+)?)(?: and <= (?P<high>\d+(?:\.\d+)?))?[^,.;]*(?P<blank>, or blank)?\."
    r"(?: There is none above (?P<most>\d+))?"
)


@pytest.mark.parametrize("name", TEMPLATES)
def test_an_input_out_of_the_usual_is_looked_at_from_the_ends_that_are_said(checked, name):
    one = checked[name]
    one.states()
    said = ranges(one, USUAL)
    assert len(said) > 12
    labels = {given: found.string.partition(";")[0] for given, found in said.items() if given != "in_active_fraction"}
    assert labels.keys() | {"in_active_fraction"} == said.keys()  # more than the whole of the grits is no number at all
    for end, factor, state in (("low", 0.999, "look"), ("low", 1, "ok"), ("high", 1, "ok"), ("high", 1.001, "look")):
        states = one.states(**{given[3:]: float(found[end]) * factor for given, found in said.items()})
        other = {given for given, label in labels.items() if states[label] != state}
        assert other == {given for given in labels if float(said[given][end]) * factor == 0 and state == "look"}, (end, factor)


@pytest.mark.parametrize("name", TEMPLATES)
def test_an_input_stops_from_the_limits_that_are_said(checked, name):
    one = checked[name]
    one.states()
    said = ranges(one, MUST)
    assert len(said) > 20
    labels = {given: found.string.partition(";")[0] for given, found in said.items()}
    ends = {given: float(found["high"] or found["most"] or 1e6) for given, found in said.items()}
    lows = {given: float(found["low"]) for given, found in said.items()}
    reached = {given: "ok" if found["sign"] == ">=" else "STOP" for given, found in said.items()}
    blank = {given: "ok" if found["blank"] else "STOP" for given, found in said.items()}
    above = {given: "STOP" if found["high"] or found["most"] else "ok" for given, found in said.items()}
    for values, wanted in (
        ({given: low - 1e-6 for given, low in lows.items()}, dict.fromkeys(said, "STOP")),
        (lows, reached),
        ({given: low + 1e-6 for given, low in lows.items()}, dict.fromkeys(said, "ok")),
        (ends, dict.fromkeys(said, "ok")),
        ({given: end * 1.001 for given, end in ends.items()}, above),
        (dict.fromkeys(said, "one"), dict.fromkeys(said, "STOP")),
        (dict.fromkeys(said), blank),
    ):
        states = one.states(**{given[3:]: value for given, value in values.items()})
        assert {given: states[label] for given, label in labels.items() if states[label] != wanted[given]} == {}, values


@pytest.mark.parametrize(
    "name, least, most",
    [
        ("rpm_step", 0.1, 50),  # half of nominal; a step of more has no second one below nominal
        ("steps_each_side", 1, 13),
        ("noise", 0.1, 50),
        ("band", 0.1, 50),
        ("wanted_half_width", 0.1, 50),
    ],
)
def test_the_plan_takes_percents_up_to_half_and_the_steps_its_sheet_has_room_for(checked, name, least, most):
    one = checked["trial.xlsx"]
    one.states()
    (label,) = [label for label in one.rows if f"in_{name}: must be" in one.advice(label)]
    for value, state in ((least, "ok"), (most, "ok"), (most + 0.01, "STOP"), (0, "STOP"), (-1, "STOP")):
        assert one.states(**{name: value})[label] == state, value


def test_what_a_trial_can_do_without_may_stay_blank(checked):
    """With the grits counted nothing else of them is needed; limits, width, scatter and target never are."""
    one = checked["trial.xlsx"]
    one.states()
    free = [
        "concentration",
        "active_fraction",
        "contact_width",
        "wheel_rpm",
        "idle",
        "noise",
        "volts",
        "power_factor",
        "target_depth",
    ]
    free += [f"{end}_{what}" for end in ("lowest", "highest") for what in ("work_rpm", "infeed_rate")]
    labels = {name: label for name in free for label in one.rows if f"in_{name}: must be >" in one.advice(label)}
    assert list(labels) == free
    states = one.states(grit_density=18.9, **dict.fromkeys(free))
    assert {name: states[label] for name, label in labels.items()} == dict.fromkeys(free, "ok")
    needed = [
        "wheel_diameter",
        "work_diameter",
        "infeed_rate",
        "shape_ratio",
        "nominal_rpm",
        "marked_wheel_speed",
        "rpm_step",
        "band",
    ]
    labels = {name: label for name in needed for label in one.rows if f"in_{name}: must be >" in one.advice(label)}
    states = one.states(**dict.fromkeys(needed))
    assert {name: states[labels[name]] for name in needed} == dict.fromkeys(needed, "STOP")


# --- checks that tie cells together --------------------------------------------------------------------------------------


class Case(NamedTuple):
    label: str  # how the words of the check begin
    speaks: dict[str, Any]
    silent: dict[str, Any]
    state: str = "look"


def stop(label: str, speaks: dict[str, Any], silent: dict[str, Any]) -> Case:
    return Case(label, speaks, silent, "STOP")


UNITS = stop("units are known", dict(units="feet"), dict(units="inch"))
WHEEL = (
    stop("mean grit size: not more", dict(grit_size=10001.0), dict(grit_size=10000.0)),
    stop("wheel speed: one of", dict(wheel_speed=None), dict(wheel_speed=None, wheel_rpm=2000.0)),
    stop("wheel speed and wheel rpm agree", dict(wheel_rpm=2000.0), dict(wheel_rpm=gf.wheel_rpm(200.0, 22.0 * 1.0099))),
    stop("wheel speed is not above the speed marked", dict(marked_wheel_speed=21.999), dict(marked_wheel_speed=22.0)),
    stop("side of contact is known", dict(side="outside"), dict(side="external")),
    stop("grit density is known", dict(concentration=None), dict(concentration=None, grit_density=9.0)),
    stop("infeed basis is known", dict(infeed_basis="depth"), dict(infeed_basis="diameter")),
    UNITS,
    Case("mean grit size: usually 3 to 1200", dict(grit_size=2.99), dict(grit_size=3.0)),
    Case("mean grit size: usually 3 to 1200", dict(grit_size=1201.0), dict(grit_size=1200.0)),
    Case("active grits per area, as used: usually 0.5 to 500", dict(grit_density=0.499), dict(grit_density=0.5)),
    Case("active grits per area, as used: usually 0.5 to 500", dict(grit_density=501.0), dict(grit_density=500.0)),
)


def order(quantity: str, low: float) -> dict[str, Any]:
    return {f"lowest_{quantity}": low, f"highest_{quantity}": 80.0}


RPM_ORDER = stop("lowest work rpm is not above the highest", order("work_rpm", 80.1), order("work_rpm", 80.0))
INFEED_ORDER = stop(
    "lowest infeed rate on the radius is not above the highest", order("infeed_rate", 80.1), order("infeed_rate", 80.0)
)
RATIO_ORDER = stop("lowest speed ratio is not above the highest", order("speed_ratio", 80.1), order("speed_ratio", 80.0))
POWER_LIMIT = stop(
    "power can be compared with its limit", dict(highest_power=8.0, idle_power=None), dict(highest_power=None, idle_power=None)
)

_ROW = (NOMINAL, 2.0, 0.5)
_SLIP = [(rpm, load * (10 if place == 6 else 1), idle) for place, (rpm, load, idle) in enumerate(example.readings())]
_AMPERES = dict(load_kind="current", volts=400.0, power_factor=0.8)
_FALL = [(NOMINAL, 2.5), (60.0, 3.0), (180.0, 2.0)]
_OF_RPM = SETUP.depth


def _of_both(pair: bool) -> dict[str, Any]:
    """Readings of rpm and infeed together, with the two readings at nominal depth or without them."""
    knee = SETUP.depth(118.0)
    steps = [step for step in gf.plan_trial(NOMINAL, steps=BOTH, infeed_rate=SETUP.infeed_rate)]
    at_nominal = {place for place, step in enumerate(steps) if step.infeed_rate != pytest.approx(0.6 * step.work_rpm / NOMINAL)}
    assert len(at_nominal) == 2
    rows, rates = [], []
    for place, step in enumerate(steps):
        if place in at_nominal and not pair:
            continue
        depth = gf.plunge_grit_depth(work_rpm=step.work_rpm, **{**example.setup(), "infeed_rate": step.infeed_rate})
        energy = 100 * (1 + 2.5 * max(0.0, 1 - depth / knee)) * (1 + 0.005 * (-1) ** place)
        removal = gf.removal_rate(SETUP.work_diameter, step.infeed_rate)
        rows.append((step.work_rpm, gf.grinding_power(energy, removal, SETUP.contact_width) + 0.5, 0.5))
        rates.append(step.infeed_rate)
    return dict(readings=rows, row_infeed_rates=rates, steps=BOTH)


TRIAL = (  # and those of the wheel, whose formulas are the speed table's
    UNITS,
    stop("diameters fit together", dict(side="internal", work_diameter=200.0), dict(side="internal", work_diameter=200.1)),
    stop("kind of load reading is known", dict(load_kind="watts"), dict(load_kind="relative")),
    stop("what to set next by is known", dict(follow="rule"), dict(follow="plan")),
    stop("what is stepped is known", dict(steps="infeed"), dict(steps=BOTH)),
    stop("spacing of the plan is known", dict(plan_spacing="even"), dict(plan_spacing="depth")),
    stop("voltage and power factor are given", dict(_AMPERES, volts=None), _AMPERES),
    stop("voltage and power factor are given", dict(_AMPERES, power_factor=None), dict(load_kind="power")),
    stop(
        "steps of work rpm stay above standstill", dict(rpm_step=20.0, steps_each_side=5), dict(rpm_step=19.9, steps_each_side=5)
    ),
    stop(
        "nominal work rpm is within the machine's limits, for equal steps of depth",
        dict(plan_spacing="depth", lowest_work_rpm=120.1, nominal_rpm=120.0),
        dict(plan_spacing="depth", lowest_work_rpm=120.0, nominal_rpm=120.0),
    ),
    stop(
        "nominal work rpm is within the machine's limits, for equal steps of depth",
        dict(plan_spacing="depth", highest_work_rpm=119.9, nominal_rpm=120.0),
        dict(plan_spacing="rpm", highest_work_rpm=119.9, nominal_rpm=120.0),
    ),
    stop(
        "steps of rpm and infeed together are not too large",
        dict(steps=BOTH, rpm_step=40.1, steps_each_side=1),
        dict(steps=BOTH, rpm_step=40.0, steps_each_side=1),
    ),
    stop("number of steps is whole", dict(steps_each_side=3.5), dict(steps_each_side=3)),
    stop("work rpm of the readings: not more", dict(readings=[(100001.0, 2.0)]), dict(readings=[(100000.0, 2.0)])),
    stop(
        "infeed rate of the readings: not more",
        dict(readings=[_ROW], row_infeed_rates=[1001.0]),
        dict(readings=[_ROW], row_infeed_rates=[1000.0]),
    ),
    stop(
        "readings go with the infeed, where it changes",
        dict(_AMPERES, readings=[_ROW] * 2, row_infeed_rates=[0.6, 0.7]),
        dict(_AMPERES, readings=[_ROW] * 2, row_infeed_rates=[0.7, 0.7]),
    ),
    stop(
        "idle is given, where the infeed changes",
        dict(readings=[_ROW[:2]] * 2, row_infeed_rates=[0.6, 0.7], idle=None),
        dict(readings=[_ROW[:2]] * 2, row_infeed_rates=[0.6, 0.7], idle=0.0),
    ),
    stop(
        "load of the readings: not more",
        dict(readings=[(NOMINAL, 10001.0)]),
        dict(readings=[(NOMINAL, 10000.0)], load_kind="power"),
    ),
    Case(
        "grit depth at nominal work rpm: usually 0.1 to 5",
        dict(nominal_rpm=SETUP.rpm_for(5.01)),
        dict(nominal_rpm=SETUP.rpm_for(4.99)),
    ),
    Case(
        "grit depth at nominal work rpm: usually 0.1 to 5",
        dict(nominal_rpm=SETUP.rpm_for(0.0999)),
        dict(nominal_rpm=SETUP.rpm_for(0.1001)),
    ),
    Case("burn, crack or wheel breakdown", dict(damage=["burn"], readings=[_ROW]), dict(damage=["no"], readings=[_ROW])),
    Case("a reading is out of line", dict(readings=_SLIP), dict(readings=example.readings())),
    Case(
        "work rpm for the target is outside the machine's limits",
        dict(target_depth=_OF_RPM(150.0), highest_work_rpm=149.9),
        dict(target_depth=_OF_RPM(150.0), highest_work_rpm=150.1),
    ),
    Case(
        "work rpm for the target is outside the machine's limits",
        dict(target_depth=_OF_RPM(50.0), lowest_work_rpm=50.1),
        dict(target_depth=_OF_RPM(50.0), lowest_work_rpm=49.9),
    ),
    Case("work rpm for the target: usually 5 to 2000", dict(target_depth=_OF_RPM(2001.0)), dict(target_depth=_OF_RPM(1999.0))),
    Case("work rpm for the target: usually 5 to 2000", dict(target_depth=_OF_RPM(4.99)), dict(target_depth=_OF_RPM(5.01))),
    Case("a wrong idle would move the knee", _of_both(pair=False), _of_both(pair=True)),
    Case(  # the infeed is another one from 1 % on
        "a wrong idle would move the knee",
        dict(readings=example.readings(), row_infeed_rates=[0.6 * 1.0102]),
        dict(readings=example.readings(), row_infeed_rates=[0.6 * 1.01]),
    ),
    Case(
        "the nominal readings drift",
        dict(readings=[*_FALL, (NOMINAL, 2.601)], load_kind="relative", contact_width=None),
        dict(readings=[*_FALL, (NOMINAL, 2.599)], load_kind="relative", contact_width=None),
    ),
    Case("the plan is narrow", dict(steps_each_side=2, rpm_step=20.0), dict(steps_each_side=3, rpm_step=20.0)),
    Case("readings left out", dict(readings=[_ROW, (NOMINAL, "x")]), dict(readings=[_ROW, (NOMINAL, 2.0, 0.5, "no")])),
    Case("readings excluded", dict(readings=[(NOMINAL, 2.0, 0.5, "no")]), dict(readings=[(NOMINAL, "x", 0.5)])),
    Case("readings equal in rpm, load and idle", dict(readings=[_ROW, _ROW]), dict(readings=[_ROW, (NOMINAL, 2.0, 0.4)])),
    Case(
        "readings outside the machine's limits",
        dict(readings=[_ROW, (150.0, 2.0)], highest_work_rpm=149.9),
        dict(readings=[_ROW, (150.0, 2.0)], highest_work_rpm=150.0),
    ),
    Case(
        "readings outside the machine's limits",
        dict(readings=[_ROW], row_infeed_rates=[0.49], lowest_infeed_rate=0.5),
        dict(readings=[_ROW], row_infeed_rates=[0.5], lowest_infeed_rate=0.5),
    ),
    Case("work rpm of the readings: usually 5 to 2000", dict(readings=[(4.9, 2.0)]), dict(readings=[(5.0, 2.0)])),
    Case("work rpm of the readings: usually 5 to 2000", dict(readings=[(2001.0, 2.0)]), dict(readings=[(2000.0, 2.0)])),
    Case(
        "infeed rate of the readings: usually 0.01 to 10",
        dict(readings=[_ROW], row_infeed_rates=[0.0099]),
        dict(readings=[_ROW], row_infeed_rates=[0.01]),
    ),
    Case(
        "infeed rate of the readings: usually 0.01 to 10",
        dict(readings=[_ROW], row_infeed_rates=[10.1]),
        dict(readings=[_ROW], row_infeed_rates=[10.0]),
    ),
    Case(
        "planned readings outside the machine's limits",
        dict(rpm_step=10.0, steps_each_side=6, lowest_work_rpm=48.1),
        dict(rpm_step=10.0, steps_each_side=6, lowest_work_rpm=48.0),
    ),
    Case("idle reading is not given", dict(readings=[_ROW[:2]], idle=None), dict(readings=[_ROW[:2]], idle=0.0)),
    Case(
        "idle reading is not given",
        dict(readings=[_ROW[:2]], idle=None, load_kind="relative"),
        dict(readings=[_ROW[:2]], idle=None, load_kind="energy"),
    ),
)

_RECORDS = speed_table.defaults()["records"]
_KEY, _DENSITY, _RATIO = _RECORDS[1][0], _RECORDS[1][13], _RECORDS[1][14]
_BY_KEY = dict(target_depth=None, lookup_key=_KEY, shape_ratio=_RATIO)
_DAY = 45000  # of a copy, as a spreadsheet counts days
_WORN = dict(smallest_wheel_diameter=150.0, reference_diameter=20.0, reference_infeed_rate=0.6)


def _record(**changes: Any) -> dict[str, Any]:
    """The first entry of the copied record, with other values by their places."""
    row = list(_RECORDS[1])
    for place, value in changes.items():
        row[int(place[1:])] = value
    return dict(records=[row])


SPEED_TABLE = (
    *WHEEL,
    RPM_ORDER,
    INFEED_ORDER,
    RATIO_ORDER,
    POWER_LIMIT,
    stop("infeed rates: not more", dict(infeed_rates=[0.5, 1001.0]), dict(infeed_rates=[0.5, 1000.0])),
    stop("part diameters: not more", dict(diameters=[20001.0, 20.0]), dict(diameters=[20000.0, 20.0])),
    stop(
        "target grit depth is given or stands in the record", dict(target_depth=None, lookup_key="none of these"), dict(_BY_KEY)
    ),
    stop("part diameters are numbers > 0", dict(diameters=[20.0, 0.0]), dict(diameters=[20.0, None, 0.1])),
    stop("infeed rates are numbers > 0", dict(infeed_rates=[0.5, "x"]), dict(infeed_rates=[0.5, None, 0.1])),
    stop("at least one of the part diameters", dict(diameters=[]), dict(diameters=[None, 20.0])),
    stop("at least one of the infeed rates", dict(infeed_rates=[]), dict(infeed_rates=[None, 0.5])),
    Case("infeed rates: usually 0.01 to 10", dict(infeed_rates=[0.5, 10.1]), dict(infeed_rates=[0.5, 10.0])),
    Case("infeed rates: usually 0.01 to 10", dict(infeed_rates=[0.0099, 0.5]), dict(infeed_rates=[0.01, 0.5])),
    Case(
        "infeed rates: usually 0.01 to 10",
        dict(infeed_rates=[10.1], infeed_basis="radius"),
        dict(infeed_rates=[10.1], infeed_basis="diameter"),
    ),
    Case("part diameters: usually 1 to 500", dict(diameters=[20.0, 501.0]), dict(diameters=[20.0, 500.0])),
    Case("part diameters: usually 1 to 500", dict(diameters=[0.99, 20.0]), dict(diameters=[1.0, 20.0])),
    Case(
        "the wheel wear table lacks an input",
        dict(_WORN, smallest_wheel_diameter=200.1),
        dict(_WORN, smallest_wheel_diameter=200.0),
    ),
    Case("the wheel wear table lacks an input", dict(_WORN, reference_diameter=None), _WORN),
    Case("a worn wheel leaves the limits", dict(_WORN, highest_wheel_rpm=2800.0), dict(_WORN, highest_wheel_rpm=2802.0)),
    Case("entries of the record that are duplicate", dict(records=[_RECORDS[1]] * 2), dict(records=[_RECORDS[1]])),
    Case("entries of the record that are incomplete", _record(_9=None), _record()),
    Case("entries of the record dated after today", dict(today=40000), dict(today=None)),
    Case("entries of the record that are outdated", dict(months=1), dict(months=1200)),
    Case("entries of the record with a value out of the usual", _record(_13=501.0), _record(_13=500.0)),
    Case("the target comes from an outdated entry", dict(_BY_KEY, months=1), dict(months=1)),
    Case(
        "C r differs from that of the record by more than 1 %",
        dict(_BY_KEY, grit_density=_DENSITY * 1.011),
        dict(_BY_KEY, grit_density=_DENSITY * 1.009),
    ),
    Case("the target comes from a copy of the record", dict(_BY_KEY, copied=None), dict(_BY_KEY, copied=_DAY)),
    Case(
        "setups that break a limit",
        dict(diameters=[20.0], infeed_rates=[0.6, 0.9], highest_infeed_rate=0.89),
        dict(diameters=[20.0], infeed_rates=[0.6, 0.9], highest_infeed_rate=0.9),
    ),
)

_PLUNGES = ("rough", "semi", "finish")
_TRAVERSE = dict(
    traverse_stock=0.02,
    traverse_work_rpm=100.0,
    traverse_passes=2.0,
    traverse_rate=500.0,
    traverse_ground_length=30.0,
    traverse_overrun=0.0,
)
_NONE = {f"{stage}_{word}": None for stage in _PLUNGES for word in ("infeed_rate", "stock", "work_rpm")}


def _stage(label: str, stage: str, word: str, bad: Any, good: Any, **more: Any) -> Case:
    return stop(label, {**more, f"{stage}_{word}": bad}, {**more, f"{stage}_{word}": good})


PLUNGE_CYCLE = (
    stop("infeed rate as the machine shows it: not more", dict(rough_infeed_rate=1001.0), dict(rough_infeed_rate=1000.0)),
    stop("work rpm: not more", dict(finish_work_rpm=100001.0), dict(finish_work_rpm=100000.0)),
    *(
        _stage(f"{label}: its inputs are numbers", stage, word, bad, 1.0)
        for label, stage in (("rough", "rough"), ("semi-finish", "semi"), ("finish", "finish"))
        for word, bad in (("infeed_rate", 0.0), ("stock", "x"), ("work_rpm", None))
    ),
    *(
        _stage(f"{label}: specific energy", stage, "specific_energy", 0.0, None)
        for label, stage in (("rough", "rough"), ("semi-finish", "semi"), ("finish", "finish"))
    ),
    _stage("spark-out: its inputs are numbers", "spark", "revolutions", 0.0, 0.1),
    _stage("spark-out: its inputs are numbers", "spark", "work_rpm", None, 5.0),
    _stage("traverse: its inputs are numbers", "traverse", "overrun", -0.1, 0.0, **_TRAVERSE),
    _stage("traverse: its inputs are numbers", "traverse", "passes", 0.9, 1.0, **_TRAVERSE),
    _stage("traverse: its inputs are numbers", "traverse", "rate", None, 1.0, **_TRAVERSE),
    _stage("traverse: number of passes is whole", "traverse", "passes", 2.5, 2.0, **_TRAVERSE),
    _stage("traverse: specific energy", "traverse", "specific_energy", -1.0, 20.0, **_TRAVERSE),
    stop("side is external or internal", dict(side="flat"), dict(side="internal", work_diameter=300.0)),
    stop(
        "wheel fits the bore before grinding",
        dict(side="internal", work_diameter=200.6, infeed_basis="radius", rough_stock=0.2, semi_stock=0.08, finish_stock=0.02),
        dict(side="internal", work_diameter=200.7, infeed_basis="radius", rough_stock=0.2, semi_stock=0.08, finish_stock=0.02),
    ),
    stop(
        "wheel is used up at a smaller diameter than new",
        dict(smallest_wheel_diameter=203.0, new_wheel_diameter=203.0),
        dict(smallest_wheel_diameter=202.9, new_wheel_diameter=203.0),
    ),
    stop("width of the wheel face is given", {**_TRAVERSE, "wheel_width": None}, {**_TRAVERSE, "wheel_width": 20.0}),
    stop("width of the wheel face is given", {**_TRAVERSE, "wheel_width": None}, dict(wheel_width=None)),
    stop("at least one plunge stage is filled in", _NONE, {**_NONE, "semi_stock": 0.1}),
    Case("infeed rate as the machine shows it: usually", dict(semi_infeed_rate=10.1), dict(semi_infeed_rate=10.0)),
    Case(
        "infeed rate as the machine shows it: usually",
        dict(semi_infeed_rate=10.1, infeed_basis="radius"),
        dict(semi_infeed_rate=10.1, infeed_basis="diameter"),
    ),
    Case("stock as the machine shows it: usually", dict(finish_stock=0.00099), dict(finish_stock=0.001)),
    Case("stock as the machine shows it: usually", dict(finish_stock=5.1), dict(finish_stock=5.0)),
    Case("work rpm: usually 5 to 2000", dict(spark_work_rpm=4.9), dict(spark_work_rpm=5.0)),
    Case("specific energy of this stage: usually", dict(finish_specific_energy=501.0), dict(finish_specific_energy=500.0)),
    Case("stages outside the band or a limit", dict(rough_work_rpm=120.0), dict(rough_work_rpm=68.0)),
    Case("wheel diameter is outside the usable layer", dict(wheel_diameter=203.1), dict(wheel_diameter=203.0)),
    Case("wheel diameter is outside the usable layer", dict(wheel_diameter=192.9), dict(wheel_diameter=193.0)),
    Case("grinding width is larger than the wheel face", dict(wheel_width=14.9), dict(wheel_width=15.0)),
)
CASES = {"trial.xlsx": TRIAL, "speed_table.xlsx": SPEED_TABLE, "plunge_cycle.xlsx": PLUNGE_CYCLE}


@pytest.mark.parametrize("name, place", [(name, place) for name, cases in CASES.items() for place in range(len(cases))])
def test_a_check_speaks_and_keeps_silent(checked, name, place):
    one, case = checked[name], CASES[name][place]
    label = one.label(case.label)
    assert one.states(**case.speaks)[label] == case.state
    named = set(_INPUT.findall(one.advice(label)))
    assert not named or named & {f"in_{given}" for given in case.speaks}, one.advice(label)
    assert one.states(**case.silent)[label] == "ok"


@pytest.mark.parametrize("name", TEMPLATES)
def test_every_check_is_driven(checked, name):
    """Those of single inputs say a range and are driven by it; the day of a date is tried elsewhere, and a formula once for all books."""
    one = checked[name]
    one.states()
    assert all(one.label(case.label) for case in (*WHEEL, UNITS, RPM_ORDER, INFEED_ORDER))  # that every book has
    by_range = {found.string.partition(";")[0] for words in (USUAL, MUST) for found in ranges(one, words).values()}
    driven = {other.formula(other.label(case.label)) for book, other in checked.items() for case in CASES[book]}
    left = [label for label in one.rows if label not in by_range and one.formula(label) not in driven]
    assert [label for label in left if "must be a date" not in one.advice(label)] == []


@pytest.mark.parametrize("name", TEMPLATES)
def test_links_lead_where_their_words_say(as_built, name):
    """A word is a sheet, without its number, or the name of a cell."""
    book = as_built(name)
    for cell in cells_of(*book):
        if not cell.hyperlink:
            continue
        sheet, _, address = cell.hyperlink.location.replace("$", "").rpartition("!")
        if cell.value in book.defined_names:
            ((home, area),) = book.defined_names[cell.value].destinations
            assert (sheet.strip("'"), address) == (home, area.replace("$", "").partition(":")[0]), cell.value
        else:
            assert sheet.strip("'").lstrip("123 ") == cell.value.lstrip("123 "), (cell.parent.title, cell.coordinate)


def test_heads_of_record_and_setups_name_the_unit_of_each_number_and_none_of_a_text(as_built):
    book = as_built("knee_record.xlsx")
    heads = {cell.value for name in ("Record", "Setups") for row in book[name].iter_rows(max_row=9) for cell in row}
    assert {"knee, µm", "wheel diameter, mm", "wheel speed, m/s", "key", "material", "side of contact"} <= heads
    assert not [head for head in heads if isinstance(head, str) and head.endswith(", -")]
