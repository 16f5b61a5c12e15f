"""What the sheets of trial.xlsx show, cell by cell, in each state of a trial: words, units, captions and the points of the chart."""

from __future__ import annotations

from datetime import date

import pytest
from open_book import OpenBook
from openpyxl.utils import get_column_letter
from test_trial_book import filled, in_column

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.knee import knee_of_trial
from gritfuncs.planning.plan import BOTH
from gritfuncs.workbooks.trial.tables import CALCULATION, CHART, FINISH, READINGS, RECORD, TRIAL

ROWS = example.readings()
NOMINAL = example.NOMINAL_RPM
SETUP = gf.Setup(contact_width=example.CONTACT_WIDTH, **example.setup())
NO_LIMITS = dict(lowest_work_rpm=None, highest_work_rpm=None)


@pytest.fixture(scope="module")
def book(as_built):
    return OpenBook(as_built("trial.xlsx"))


@pytest.fixture(scope="module")
def knee():
    """Of the example's readings, by the library."""
    energies = [gf.specific_energy(load - idle, SETUP.removal_rate, SETUP.contact_width) for _, load, idle in ROWS]
    return knee_of_trial([SETUP.depth(rpm) for rpm, _, _ in ROWS], energies)


def shown(book, *cells):
    return [book.at(TRIAL, cell) for cell in cells]


# --- the words beside the readings -------------------------------------------------------------------------------------


def test_each_row_says_in_few_words_what_became_of_it(book):
    rows = {
        (120.0, 2.0, 0.5): "used",
        (121.0, 2.0, 0.5, "no"): "not used (no)",
        (122.0, 2.0, 0.5, "perhaps"): "! use? yes or no",
        (123.0, 2.0): "! idle is missing",
        (124.0, 0.5, 0.5): "! load not above idle",
        (125.0, 2.0, "x"): "! idle not a number",
        (None, 2.0, 0.5): "! rpm is blank",
        ("fast", 2.0, 0.5): "! rpm not a number",
        (-1.0, 2.0, 0.5): "! rpm not > 0",
        (127.0, None, 0.5): "! load is blank",
        (128.0, "x", 0.5): "! load not a number",
        (129.0, 2.1, 0.5): "used, damage",
        (4.0, 2.1, 0.5): "! used, unusual rpm",
        (130.0, 2.2, 0.5): "! used, unusual infeed",
        (131.0, 2.2, 0.5): "! infeed not > 0",
        (None, None, None): None,
    }
    rates = [None] * 13 + [11.0, 0.0]
    damage = ["burn" if words == "used, damage" else None for words in rows.values()]
    seen = filled(book, list(rows), [(None, None, word) for word in damage], row_infeed_rates=rates, idle=None, **NO_LIMITS)
    assert in_column(seen, READINGS, "status")[: len(rows)] == list(rows.values())
    energies = [(120.0, 50.0), (121.0, None), (122.0, "x"), (123.0, 0.0)]
    seen = filled(book, energies, row_infeed_rates=[], load_kind="energy")
    assert in_column(seen, READINGS, "status")[:4] == ["used", "! energy is blank", "! energy not a number", "! energy not > 0"]


def test_the_headings_of_the_readings_say_the_unit(book):
    filled(book, row_infeed_rates=[])
    assert shown(book, "C9", "D9", "K9") == ["mm/min", "1/min", "µm"]
    filled(book, contact_width=None)
    assert shown(book, "L8", "L9", "N7") == ["net power", "kW", "net power, kW, over grit depth, µm; at the foot work rpm, 1/min"]
    filled(book, load_kind="relative", load_unit="%")
    assert shown(book, "E9", "L8", "L9") == ["%", "net load", "%"]
    assert filled(book, load_kind="relative", load_unit=None).at(TRIAL, "E9") == "-"


# --- what to set for the parts -------------------------------------------------------------------------------------------


def test_the_band_is_a_share_of_the_target_on_both_sides(book):
    seen = filled(book, target_depth=1.4, band=3.0)
    low, high = 1.4 * 0.97, 1.4 * 1.03
    assert (seen["out_target_low"], seen["out_target_high"]) == (pytest.approx(low), pytest.approx(high))
    ends = [SETUP.rpm_for(depth) for depth in (low, high)]
    assert [seen["out_target_rpm_low"], seen["out_target_rpm_high"]] == pytest.approx(ends)
    line = f"target as given: {ends[0]:.1f} to {ends[1]:.1f} 1/min hold 1.400 µm ±3 %; damage: none noted"
    assert seen.at(TRIAL, "N5") == line
    assert not filled(book, band=3.0).at(TRIAL, "N5").startswith("target as given")


@pytest.mark.parametrize(
    "limits, said",
    [
        (dict(lowest_work_rpm=20.0, highest_work_rpm=400.0), "within the machine's limits, 20.0 to 400.0 1/min."),
        (dict(lowest_work_rpm=None, highest_work_rpm=400.0), "below the machine's highest, 400.0 1/min."),
        (dict(lowest_work_rpm=20.0, highest_work_rpm=None), "above the machine's lowest, 20.0 1/min."),
        (NO_LIMITS, "No limit of the machine is given."),
    ],
)
def test_what_is_known_of_the_limits_stands_below_the_rpm_to_set(book, limits, said):
    assert filled(book, **limits).at(TRIAL, "N6") == said + " Watch the first parts."


def test_a_limit_that_forbids_the_rpm_is_named_with_its_number(book):
    assert filled(book, lowest_work_rpm=None, highest_work_rpm=90.0).at(TRIAL, "N6") == (
        "! rpm too high: the machine's highest is 90.0 1/min"
    )
    low = filled(book, lowest_work_rpm=150.0, highest_work_rpm=None)
    assert low.at(TRIAL, "N6") == "! rpm too low: the machine's lowest is 150.0 1/min"
    assert low.at(TRIAL, "N5") == "this machine cannot run the rpm that would hold it"


def test_the_knee_is_shown_with_its_interval_and_their_rpm(book, knee):
    seen = filled(book)
    assert seen.at(TRIAL, "J4") == pytest.approx(knee.knee)
    assert seen.at(TRIAL, "J5") == f"95 %: {knee.low:.3f} to {knee.high:.3f} µm"
    rpm, low, high = (SETUP.rpm_for(depth) for depth in (knee.knee, knee.low, knee.high))
    assert seen.at(TRIAL, "J6") == f"{rpm:.1f} ({low:.1f} to {high:.1f}) 1/min"
    none = filled(book, ROWS[:4])
    assert shown(none, "J4", "J5", "J6", "N4", "N5") == [
        "–",
        "not known yet",
        None,
        "–",
        "only the verdict found carries a value to set",
    ]


def test_a_given_scatter_counts_in_percent(book):
    seen = filled(book, noise=3.0)
    assert (seen["out_noise_given"], seen["out_noise"]) == (pytest.approx(0.03), pytest.approx(3.0))


# --- what to set next --------------------------------------------------------------------------------------------------------

_LEVEL = [(rpm, 2.0, 0.5) for rpm in (120.0, 132.0, 108.0, 144.0, 96.0, 156.0, 84.0)]


def _falling(*rpms):
    return [(rpm, 2 + (300 - rpm) / 100, 0.5) for rpm in rpms]


_WAYS = [  # readings, inputs, the reason, the caution
    ((), {}, "nominal: the trial starts here", "Look at part and wheel after each reading."),
    (ROWS[:1], {}, "go faster: level not seen yet", "Set it only if part and wheel look well."),
    (
        [(120.0, 2.0, 0.5), (132.0, 2.1, 0.5), (110.0, 2.0, 0.5)],
        {},
        "go slower: fall not seen yet",
        "Set it only if part and wheel look well.",
    ),
    (ROWS[:1], dict(highest_work_rpm=120.0), "go slower: no faster rpm is left", "Set it only if part and wheel look well."),
    (ROWS[:1], dict(lowest_work_rpm=120.0), "go faster: no slower rpm is left", "Set it only if part and wheel look well."),
    (ROWS[:1], dict(lowest_work_rpm=120.0, highest_work_rpm=120.0), "nominal again", "Set it only if part and wheel look well."),
    (
        _falling(120, 132, 144, 156, 168, 180, 190, 190, 190),
        dict(highest_work_rpm=190.0),
        "still falling, fastest rpm reached",
        "Try another infeed or wheel speed.",
    ),
    (
        _falling(120, 132, 144, 156, 168, 180, 190),
        dict(highest_work_rpm=190.0),
        "still falling: the fastest rpm again",
        "Set it only if part and wheel look well.",
    ),
    (_falling(120, 132, 144, 156, 168, 180), {}, "go faster: still falling", "Set it only if part and wheel look well."),
    (_LEVEL, {}, "go slower: level so far", "Set it only if part and wheel look well."),
    (_LEVEL, dict(lowest_work_rpm=84.0), "already level: the slowest rpm again", "Set it only if part and wheel look well."),
    (ROWS[:6], {}, "too few depths below the knee", "Set it only if part and wheel look well."),
    (ROWS, {}, "knee within ±1.8 %, wanted ±5 %", "No further reading is needed."),
]


@pytest.mark.parametrize("rows, inputs, why, caution", _WAYS)
def test_the_next_rpm_is_given_with_why_and_how(book, rows, inputs, why, caution):
    seen = filled(book, rows, row_infeed_rates=[], **inputs)
    assert (seen["out_next_reason"], seen["out_next_caution"]) == (why, caution)
    assert seen.at(TRIAL, "A5") == why and seen.at(TRIAL, "A6") == caution


def test_rpm_and_infeed_are_told_in_one_line_in_the_units_chosen(book):
    inches = dict(infeed_rate=0.6 / 25.4, work_diameter=20 / 25.4, wheel_diameter=200 / 25.4, contact_width=15 / 25.4)
    speeds = dict(wheel_speed=22 / 0.00508, marked_wheel_speed=35 / 0.00508)
    metric = filled(book, (), row_infeed_rates=[], steps=BOTH)
    assert metric["out_next_line"] == "120.0 1/min, 0.600 mm/min: nominal: the trial starts here"
    assert metric["out_next_caution"] == "Hottest on the fast, deep side: look."
    inch = filled(book, (), units="inch", steps=BOTH, **inches, **speeds)
    assert inch["out_next_line"] == "120.0 1/min, 0.0236 in/min: nominal: the trial starts here"
    assert shown(inch, "A3", "C9") == ["SET NEXT  ·  INFEED 0.0236 in/min", "in/min"]


def test_at_the_end_of_the_plan_the_readings_say_what_is_next(book):
    """The last row is the last that the sheet has room for: there is no planned step behind it."""
    rows = [(rpm, load, idle) for rpm, load, idle in (ROWS * 3)[: len(in_column(book, READINGS, "number"))]]
    seen = filled(book, rows, follow="plan", row_infeed_rates=[])
    assert (seen["out_next_row"], seen["out_planned_next"]) == (0, None)
    assert seen["out_next_reason"] == seen["out_next_rule_reason"]


# --- the right half of the sheet Trial -----------------------------------------------------------------------------------------


def test_the_captions_of_the_chart_name_what_is_drawn(book):
    cells = ("N8", "O8", "Q8", "N9", "O9", "Q9")
    reading, fit, knee_, next_, damage, band = (
        "● reading",
        "── fit",
        "│ knee   ▬ its interval",
        "▲ next",
        "× damage",
        "- - -  target band",
    )
    filled(book, (), row_infeed_rates=[])
    assert shown(book, *cells) == [None, None, None, next_, None, None]
    filled(book)
    assert shown(book, *cells) == [reading, fit, knee_, None, None, band]
    filled(book, ROWS[:2], [(None, None, "burn")], target_depth=1.4)
    assert shown(book, *cells) == [reading, None, None, None, damage, band]
    assert book.at(TRIAL, "F4") == "unfinished"
    filled(book, marked_wheel_speed=20.0)
    assert shown(book, *cells, "N7") == [None] * 6 + ["no chart: STOP"]


def beside(book, label):
    """Value and unit beside a label of the right half."""
    for row in range(24, 40):
        for first, value, unit in (("N", "O", "P"), ("Q", "R", "S")):
            if book.at(TRIAL, f"{first}{row}") == label:
                return book.at(TRIAL, f"{value}{row}"), book.at(TRIAL, f"{unit}{row}")
    raise AssertionError(label)


def test_what_to_watch_is_counted(book, knee):
    seen = filled(book, [*ROWS, (120.0, "x", 0.5), (120.0, 2.0, 0.5, "no")])
    assert beside(seen, "readings used") == (15, "of 17") and beside(seen, "left out") == (2, "of them")
    assert beside(seen, "level") == (pytest.approx(knee.level), "J/mm³")
    assert beside(seen, "scatter") == (pytest.approx(100 * knee.noise), "% of level")
    assert beside(seen, "range of depth") == (pytest.approx((192 / 48) ** 0.25), "max/min")
    assert seen.at(TRIAL, "N28").startswith("! 3 to look at: reading 16: load not a number")


_RUN_WITH = {
    "wheel diameter": ("wheel_diameter", 190.0, "mm"),
    "work diameter": ("work_diameter", 21.0, "mm"),
    "wheel speed": ("wheel_speed", 23.0, "m/s"),
    "side of contact": ("side", "flat", None),
    "marked on wheel": ("marked_wheel_speed", 33.0, "m/s"),
    "infeed as shown": ("infeed_rate", 0.7, "mm/min"),
    "grit": ("grit_size", "D91", None),
    "infeed on the": ("infeed_basis", "diameter", None),
    "concentration": ("concentration", 80.0, None),
    "grinding width": ("contact_width", 14.0, "mm"),
    "active grits C": ("grit_density", 17.0, "1/mm²"),
    "nominal rpm": ("nominal_rpm", 110.0, "1/min"),
    "chip ratio r": ("shape_ratio", 9.0, None),
    "lowest rpm": ("lowest_work_rpm", 30.0, "1/min"),
    "load read as": ("load_kind", "power", None),
    "highest rpm": ("highest_work_rpm", 300.0, "1/min"),
    "common idle": ("idle", 0.4, "kW"),
    "target depth": ("target_depth", 1.3, "µm"),
    "band, ±": ("band", 2.5, "%"),
    "wanted, ±": ("wanted_half_width", 4.0, "%"),
}


def test_what_the_trial_was_run_with_stands_beside_it(book):
    seen = filled(book, **{name: value for name, value, _ in _RUN_WITH.values()})
    assert {label: beside(seen, label) for label in _RUN_WITH} == {
        label: (value, unit) for label, (_, value, unit) in _RUN_WITH.items()
    }
    filled(book, grit_density=None, noise=None)  # as in the example


# --- what the chart draws --------------------------------------------------------------------------------------------------------


def drawn(book, label):
    """The points of a layer: depth, energy and, where there are, words; a place without a point is left out."""
    rows = [row for row in range(7, 200) if book.at(CHART, f"A{row}") == label]
    points = [tuple(book.at(CHART, f"{column}{row}") for column in "BCD") for row in rows]
    return [point for point in points if isinstance(point[1], float)]


def test_the_chart_draws_the_knee_its_interval_and_the_band(book, knee):
    seen = filled(book, band=3.0)
    energies = [gf.specific_energy(load - idle, SETUP.removal_rate, SETUP.contact_width) for _, load, idle in ROWS]
    top, level = pytest.approx(max(energies)), pytest.approx(knee.level)
    assert drawn(seen, "knee") == [(pytest.approx(knee.knee), 0, None), (pytest.approx(knee.knee), top, None)]
    assert drawn(seen, "interval of the knee") == [(pytest.approx(end), level, None) for end in (knee.low, knee.high)]
    low, high = (pytest.approx(knee.knee * share) for share in (0.97, 1.03))
    assert drawn(seen, "target band") == [(low, 0, None), (low, top, None), (high, top, None), (high, 0, None)]
    assert [depth for depth, *_ in drawn(seen, "reading")] == pytest.approx([SETUP.depth(rpm) for rpm, _, _ in ROWS])
    assert [energy for _, energy, _ in drawn(seen, "reading")] == pytest.approx(energies)
    assert drawn(seen, "fitted line")[-1] == (pytest.approx(SETUP.depth(192.0)), level, None)


def test_the_rpm_at_the_foot_of_the_chart_stand_at_their_depths(book):
    marks = {"nominal rpm": 120.0, "slowest rpm read": 48.0, "fastest rpm read": 192.0}
    seen = filled(book)
    assert {label: drawn(seen, label) for label in marks} == {
        label: [(pytest.approx(SETUP.depth(rpm)), 0, f"{rpm:.0f}")] for label, rpm in marks.items()
    }
    near = filled(book, [(120.0, 2.0, 0.5), (112.9, 2.0, 0.5), (127.1, 2.0, 0.5)])  # 6 % of nominal are 7.2
    assert drawn(near, "slowest rpm read") == drawn(near, "fastest rpm read") == []
    off = filled(book, [(120.0, 2.0, 0.5), (112.7, 2.0, 0.5), (127.3, 2.0, 0.5)])
    assert len(drawn(off, "slowest rpm read")) == len(drawn(off, "fastest rpm read")) == 1
    rpm = off["out_next_rpm"]
    assert drawn(off, "next rpm") == [(pytest.approx(SETUP.depth(rpm)), 0, f"{rpm:.0f}")]


def test_the_rpm_at_the_foot_have_their_words_beside_them_and_the_next_is_a_triangle(as_built):
    workbook = as_built("trial.xlsx")
    (chart,) = workbook[TRIAL]._charts
    words = {}
    for series in chart.series:
        if series.dLbls is not None and series.dLbls.showSerName:
            row = series.tx.strRef.f.rpartition("$")[2]
            words[workbook[CHART][f"A{row}"].value] = series.marker.symbol
    assert words == dict.fromkeys(("nominal rpm", "slowest rpm read", "fastest rpm read"), "plus")
    assert [series.marker.symbol for series in chart.series if series.marker].count("triangle") == 2  # and another trial


def test_damage_is_drawn_at_its_reading(book):
    seen = filled(book, ROWS, [(None, None, "burn" if place == 3 else None) for place in range(len(ROWS))])
    rpm, load, idle = ROWS[3]
    energy = gf.specific_energy(load - idle, SETUP.removal_rate, SETUP.contact_width)
    assert drawn(seen, "damage") == [(pytest.approx(SETUP.depth(rpm)), pytest.approx(energy), None)]


def test_damage_at_a_reading_that_does_not_count_is_drawn_at_its_depth_on_the_axis(book):
    rows = [(*row, "no" if place == 3 else None) for place, row in enumerate(ROWS)]
    seen = filled(book, rows, [(None, None, "burn" if place == 3 else None) for place in range(len(ROWS))])
    assert drawn(seen, "damage") == [(pytest.approx(SETUP.depth(ROWS[3][0])), 0, None)]


# --- the sheets Record and Finish -------------------------------------------------------------------------------------------------


def record_units(book):
    """{label: unit} of the boxes of the sheet Record."""
    found = {}
    for first, unit in (("A", "D"), ("F", "I"), ("K", "N")):
        found.update((book.at(RECORD, f"{first}{row}"), book.at(RECORD, f"{unit}{row}")) for row in range(10, 23))
    return found


def test_the_record_says_the_unit_of_each_number(book):
    units = record_units(filled(book))
    for label in ("knee", "knee, lower end", "knee, upper end", "target: as given, or knee", "lower edge of the band"):
        assert units[label] == "µm"
    for label in ("rpm of the knee", "of its lower end", "rpm for the target", "highest within the band"):
        assert units[label] == "1/min"
    assert units["level beyond the knee"] == "J/mm³" and units["fall below the knee"] == "per µm"
    assert units["scatter for the interval"] == "% of level" and units["scatter leaves, ±"] == "% of knee"


def test_a_row_without_a_knee_says_why_in_its_first_cell_and_nothing_else(book):
    for rows, inputs, why in (
        (ROWS[:4], {}, "no row: too few readings"),
        (ROWS, dict(marked_wheel_speed=20.0), "no row: STOP"),
        (_LEVEL, {}, "no row: already level"),
    ):
        seen = filled(book, rows, row_infeed_rates=[], **inputs)
        assert [seen.at(RECORD, f"{get_column_letter(column)}6") for column in range(1, 26)] == [why] + [None] * 24
    hurt = filled(book, ROWS, [(None, None, "burn")] * len(ROWS))
    assert (hurt.at(RECORD, "A6"), hurt.at(RECORD, "K6")) == ("no row: damage", None)
    filled(book, row_infeed_rates=[])


@pytest.mark.parametrize("lacks", ["key", "wheel", "material", "machine", "date", "who", "key who", None])
def test_what_the_record_needs_and_inputs_lack_is_named_below_the_row(book, lacks):
    texts = dict(key="K 1", wheel="W 7", material="carbide", machine="M 3", who="AB", date=date(2026, 3, 4))
    blank = dict.fromkeys((lacks or "").split())
    said = filled(book, **{**texts, **blank}).at(RECORD, "A7")
    assert said == (f"! the record also needs, from Inputs: {lacks}" if lacks else None)
    filled(book, **dict.fromkeys(texts))


def test_the_boxes_of_the_record_hold_label_value_and_unit(book, as_built):
    sheet = as_built("trial.xlsx")[RECORD]
    units = {"A": "D", "F": "I", "K": "N"}
    for row in range(10, 18):
        for first, unit in units.items():
            assert sheet[f"{first}{row}"].border.left.style and sheet[f"{unit}{row}"].border.right.style, (first, row)


def test_the_row_of_the_record_has_the_steepness_of_python(book, knee):
    seen = filled(book, date=date(2026, 3, 2))
    names = [seen.at(RECORD, f"{letter}4") for letter in ("S", "T", "U", "V", "W", "X", "Y", "Z")]
    place = next(letter for letter, name in zip("STUVWXYZ", names) if name and name.startswith("steepness"))
    assert seen.at(RECORD, f"{place}6") == pytest.approx(knee.slope * knee.knee / knee.level)


def test_the_warning_of_the_record_says_all_that_was_seen(book):
    rows = [(rpm, idle + (load - idle) * (1 + 0.3 * place / 14), idle) for place, (rpm, load, idle) in enumerate(ROWS)]
    seen = filled(book, rows, [(None, None, "burn at the shoulder, left")])
    assert seen["out_drift_word"] == "drifts"
    seen_where = "seen within the target band or the interval of the knee: do not set it"
    told = f"damage: burn at the shoulder, left in reading 1; {seen_where}; the nominal readings drift"
    assert (seen["out_warning"], seen["out_damage_first_word"]) == (told, "burn at the sh")


def test_the_sheet_of_finish_repeats_what_was_read_and_noted(book):
    typed = [(100.0, 2.0, 0.5, "yes", "dressed"), (110.0, 2.0, 0.5)]
    seen = filled(book, typed, [(None, None, None), (None, None, "crack")], row_infeed_rates=[0.55, 0.6], steps=BOTH)
    assert in_column(seen, FINISH, "rpm")[:2] == [100.0, 110.0]
    depths = [
        gf.plunge_grit_depth(work_rpm=rpm, **{**example.setup(), "infeed_rate": rate})
        for rpm, rate in ((100.0, 0.55), (110.0, 0.6))
    ]
    assert in_column(seen, FINISH, "depth")[:2] == pytest.approx(depths)
    assert (in_column(seen, FINISH, "note")[0], in_column(seen, FINISH, "damage")[1]) == ("dressed", "crack")
    assert in_column(seen, CALCULATION, "rpm")[0] != 100.0  # along the steps it is another
    filled(book, row_infeed_rates=[])
