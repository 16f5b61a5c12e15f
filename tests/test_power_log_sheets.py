"""power_log.xlsx: every step that its sheets show, beside the same computed with numpy in log_sheet_rule.py.

All logs are simulated or drawn at random.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from log_sheet_rule import NOTHING, SECONDS, Sheets
from open_book import OpenBook
from simulated_logs import RPMS, simulate
from test_power_log_book import computed

from gritfuncs.workbooks.power_log import build as power_log
from gritfuncs.workbooks.power_log.chart import DATA
from gritfuncs.workbooks.power_log.tables import LOG, PARTS, READINGS

KNOWN = ("time_unit", "infeed_time", "expected_parts", "lowest_power", "highest_power", "meter_step", "leave_out", "work_rpms")


@pytest.fixture(scope="module")
def book():
    """The workbook as it is shipped, open in an engine."""
    book = OpenBook(power_log.build())
    book.read()  # before the first paste, which takes far longer otherwise
    return book


def pasted(book, time, power, **known):
    """The book with a log pasted, and what its sheets must show."""
    blank = dict(time_unit="s", leave_out=[], work_rpms=[])
    time, power = ([float(value) for value in values] for values in (time, power))
    book.fill(time=time, power=power, **{name: known.get(name, blank.get(name)) for name in KNOWN})
    book.read()
    return Sheets(time, power, **known)


def column(book, table, name, count):
    """The first cells of a column of a table."""
    return [
        book.at(table.sheet.strip("'"), f"{table.letter(name)}{row}") for row in range(table.first_row, table.first_row + count)
    ]


def near(expected):
    return pytest.approx(expected, rel=1e-6, abs=1e-6) if isinstance(expected, (int, float, np.number)) else expected


def differing(book, sheets):
    """{(name, number): (shown, expected)} of all steps that are not what they must be."""
    found = {(name,): (book[f"out_{name}"], value) for name, value in sheets.levels.items()}
    for name, values in (("middle", sheets.middle), ("stretch", sheets.stretch)):
        found |= {(name, row): pair for row, pair in enumerate(zip(column(book, LOG, name, sheets.count), values), 1)}
    for name in (one.name for one in PARTS.columns if one.name != "leave_out"):
        shown = column(book, PARTS, name, len(sheets.parts) + 1)
        expected = [part.get(name) for part in sheets.parts] + [len(sheets.parts) + 1 if name == "number" else None]
        found |= {(name, number): pair for number, pair in enumerate(zip(shown, expected), 1)}
    rows = sheets.readings(sheets.known.get("work_rpms", ()), book["out_ready"] == 1)
    for name in (one.name for one in READINGS.columns if one.name not in ("part", "typed_rpm", "gap")):
        shown = column(book, READINGS, name, len(rows) + 1)
        found |= {(name, "reading", number): (shown[number - 1], row.get(name)) for number, row in enumerate([*rows, {}], 1)}
    line, labels = sheets.chart()
    for name, expected in zip(("time", "load"), zip(*line, (NOTHING, NOTHING))):
        found |= {
            (name, "chart", number): pair for number, pair in enumerate(zip(column(book, DATA, name, len(expected)), expected))
        }
    for name, expected in zip(("label_time", "label_height", "label"), zip(*labels, (NOTHING, NOTHING, None))):
        found |= {(name, number): pair for number, pair in enumerate(zip(column(book, DATA, name, len(expected)), expected), 1)}
    return {key: pair for key, pair in found.items() if pair[0] != near(pair[1])}


RATE = 1 / 0.4703  # rows a second: no limit in seconds is a whole number of such rows, and no time half of what is shown
SCENES = {
    "a whole trial": (dict(rpms=RPMS), dict(work_rpms=[100.0 + number for number in range(14)])),
    "milliseconds": ({}, dict(time_unit="ms", expected_parts=6)),
    "minutes": ({}, dict(time_unit="min")),
    "clock times": ({}, dict(time_unit="days")),
    "dressing and a cycle without a part": (dict(strokes=2, empty=(3,)), dict(leave_out=[None, " no ", "yes", None, "No"])),
    "spindle switched, an emergency stop": (dict(spindle_off=True, stopped=3), dict(lowest_power=0.3)),
    "drop-outs": (dict(dropped=6, seed=2), dict(lowest_power=0.3, meter_step=0.01)),
    "coolant switched": (dict(coolant=0.25), {}),
    "a meter zeroed at idle": (dict(idle=1e-9), dict(lowest_power=0.0)),
    "idle above grinding": (dict(idle=9.0), {}),
    "a long lag": (dict(lag=2.5, infeed=25.0), {}),
    "a lag longer than half the infeed": (dict(lag=4.0, infeed=12.0), {}),
    "a fine stage": (dict(fine=6.0, fine_share=0.3), dict(infeed_time=18.0)),
    "short gaps": (dict(gap=5.0), {}),
    "the meter ends": (dict(ceiling=3.0, rpms=(84.0, 108.0, 120.0)), dict(highest_power=3.0)),
    "the meter ends, not said": (dict(ceiling=3.0, rpms=(84.0, 108.0, 120.0)), {}),
    "coarse steps": (dict(step=0.25), dict(meter_step=0.25)),
}


@pytest.mark.parametrize("name", SCENES)
def test_every_step_is_what_numpy_gives(name, book):
    changes, known = SCENES[name]
    log = simulate(**{"rate": RATE, "rpms": RPMS[:3], **changes})
    sheets = pasted(book, log.time / SECONDS[known.get("time_unit", "s")], log.power, **known)
    assert not differing(book, sheets)
    assert book["out_log_fits"] == 1 and sheets.levels["parts"] >= 4


def drawn(seed):
    """A log of whole numbers two rows a second, so that limits are met exactly: idle at 10, stretches of any length and height."""
    random = np.random.default_rng(seed)
    usual, level = random.integers(12, 40), random.choice([12, 40, 100])
    noise = random.choice([0, level // 40, level // 40])  # so little that every stretch reaches nine tenths of its height
    pieces = [np.full(random.choice([0, 3, 30]), 10)]
    for _ in range(random.integers(1, 9)):
        length, height = random.choice([usual, usual + random.integers(-4, 5), random.integers(4, 70)], p=[0.5, 0.3, 0.2]), level
        height = random.choice([level, level // 2, level // 5, level + 7], p=[0.7, 0.1, 0.1, 0.1])
        rise = (height * np.array([0.4, 0.7, 0.85, 0.95])).astype(int)[: random.integers(0, 5)]
        pieces += [10 + rise, np.full(length, 10 + height), np.full(random.integers(1, 36), 10 + random.choice([0, 0, 1, 3]))]
    power = np.concatenate(pieces)
    power = power + random.integers(-noise, noise + 1, len(power))
    stops = random.integers(0, len(power), random.choice([0, 1, 3]))
    for row in stops:
        power[row : row + random.choice([1, 3, 9])] = 0
    time = 0.5 * np.arange(len(power))
    for row in random.integers(0, len(power), random.choice([0, 1, 2])):
        time[row:] += random.choice([0.5, 1.5, 2.0, 5.0])
    known = dict(lowest_power=float(random.choice([1, 9])) if len(stops) or random.random() < 0.2 else None)
    known["infeed_time"] = float(usual) / 2 if random.random() < 0.4 else None
    known["highest_power"] = float(random.choice([10 + level, 11 + level])) if random.random() < 0.2 else None
    return time, power, {name: value for name, value in known.items() if value is not None}


@settings(max_examples=20)
@given(st.integers(0, 10**6))
@example(2)
@example(4)
@example(7)
@example(8)
@example(15)
@example(17)
@example(19)
@example(20)
@example(21)
def test_every_step_of_a_log_drawn_at_random_is_what_numpy_gives(book, seed):
    time, power, known = drawn(seed)
    sheets = pasted(book, time, power, **known)
    assert not differing(book, sheets)


WHOLE_LOGS = {
    "one row": (
        ([7.0], [3.0]),
        dict(rows=1, powers=1, growing=0, mean_step=0, interval=0, uneven=0, peak=0, near_zero=0, equal=0, running=2),
    ),
    "two rows": (
        ([7.0, 7.5], [3.0, 3.0]),
        dict(rows=2, growing=2, mean_step=0.5, interval=0.5, uneven=0, peak=3, near_zero=0, equal=1 / 2),
    ),
    "a step of twice the mean is no ordinary one": (
        ([100.0, 100.5, 102.0, 104.0, 104.5, 105.0], [1.0] * 6),
        dict(growing=6, mean_step=1, interval=3.0 / 4, uneven=2),
    ),
    "half of the interval and one and a half are no uneven steps": (
        ([0.0, 1.0, 2.0, 2.5, 4.0, 5.0, 6.0], [1.0] * 7),
        dict(growing=7, mean_step=1, interval=1, uneven=0),
    ),
    "a time that stands still": (([5.0, 5.0, 5.0], [1.0, 1.0, 2.0]), dict(growing=1, mean_step=0, interval=0, uneven=0, equal=0)),
    "a time that runs back": (([0.0, 10.0, 0.0], [1.0, 2.0, 2.0]), dict(growing=2, mean_step=5, interval=0, uneven=0, equal=0)),
    "powers alone": (
        ([None] * 3, [1.0, 2.0, 3.0]),
        dict(rows=0, powers=3, apart=3, growing=0, mean_step=0, peak=0, near_zero=0, equal=0),
    ),
    "times alone": (([1.0, 2.0, 3.0], [None] * 3), dict(rows=3, powers=0, apart=0, peak=0, near_zero=0)),
    "one power": (([1.0, 2.0, 3.0], [None, 4.0, None]), dict(rows=3, powers=1, peak=4, near_zero=0)),
    "a heading, and a number kept as text": (
        (["time", 1.0, 2.0, 3.0], ["kW", 1.0, "2,5", 3.0]),
        dict(rows=3, powers=2, texts=3, apart=2, growing=0, mean_step=0, peak=0, equal=0),
    ),
    "the end of an older log, as low as the lowest of this one": (
        ([3.0, 4.0, None, 3.0, 9.0], [2.0, 5.0, None, 2.0, 2.0]),
        dict(rows=4, powers=4, apart=2),  # the row of 9.0 and 2.0
    ),
    "less than 6 % of the peak is near zero": (
        (list(range(12)), [50.0, 3.0, 2.9, 0.1, 0.0, -1.0, 9.0, 9.0, 9.0, 9.0, 9.0, 50.0]),
        dict(peak=50, near_zero=4),
    ),
    "less than 6 % of a low peak is near zero": (([0.0, 1.0, 2.0], [0.5, 0.029, 0.031]), dict(peak=0.5, near_zero=1)),
    "no power above zero": (([0.0, 1.0, 2.0], [0.0, -1.0, -2.0]), dict(peak=0, near_zero=0)),
    "one row in fifty is set aside as a peak": (
        ([float(row) for row in range(100)], [float(row) for row in range(100)]),
        dict(peak=97, near_zero=6),
    ),
}


@pytest.mark.parametrize("name", WHOLE_LOGS)
def test_what_is_said_of_a_log_that_is_too_short_or_badly_pasted(name, book):
    """Counted by hand; cells in rows lower than there are times stand apart."""
    (time, power), expected = WHOLE_LOGS[name]
    book.fill(time=time, power=power, **dict.fromkeys(KNOWN[1:6]), time_unit="s", leave_out=[], work_rpms=[])
    book.read()
    expected = {"texts": 0, "too_long": 0, "apart": 0, "stretches": 0, **expected}
    assert {given: book[f"out_{given}"] for given in expected} == pytest.approx(expected)
    rest = dict(log_fits=0, foot=0, middle_1=0, middle_6=0, low=0, high=0, parts=0, parts_read=0, coolant_step=0, error=0, rise=0)
    assert {given: book[f"out_{given}"] for given in rest} == rest


def test_nothing_is_reckoned_of_nothing(book):
    book.fill(time=[], power=[], **dict.fromkeys(KNOWN[1:6]), time_unit="s", leave_out=[], work_rpms=[])
    book.read()
    shown = {name.partition("_")[2]: value for name, value in book.results().items() if isinstance(value, (int, float))}
    known = dict(time_factor=1, running=-1, enter=1e300, leave=1e300, share=1, flat=1, ready=1)
    assert shown == {**dict.fromkeys(shown, 0), **known}
    assert {cell for name in ("middle", "stretch") for cell in column(book, LOG, name, 20)} == {None, 0}


def rows_of(*pieces):
    """A log a row a second of (power, number of rows)."""
    power = np.concatenate([np.full(rows, float(value)) for value, rows in pieces])
    return np.arange(len(power)), power


# Idle at 100 on average and grinding at 200: a stretch begins above 135 and ends below 120, and rows at either are between.
EXACT = {
    "the log begins at the level of entering": rows_of((135, 6), (65, 6), (100, 9), *[(200, 20), (100, 20)] * 4),
    "the log begins in a part": rows_of((200, 9), (100, 20), *[(200, 20), (100, 20)] * 3),
    "idle rises to the level of entering": rows_of((100, 20), (65, 6), (135, 6), (100, 9), *[(200, 20), (100, 20)] * 4),
    "power falls to the level of leaving": rows_of((80, 24), (100, 9), *[(200, 20), (120, 6), (100, 20)] * 4),
    "what is as low as the lowest counts as running": rows_of((100, 20), *[(200, 20), (65, 7), (135, 7), (100, 15)] * 4),
    "half of the energy in the shorter stretches": rows_of((100, 20), *[(200, 20), (100, 20), (150, 40), (100, 20)] * 2),
    "a first row that alone is a stretch": rows_of((20, 1), (140, 2), (20, 1), (100, 30), *[(200, 20), (100, 20)] * 4),
    "power never changes": rows_of((5, 30)),
    "power is never above zero": rows_of((0, 30)),
    "below the lowest a row stays what it was": rows_of((100, 20), *[(200, 20), (30, 3), (200, 4), (30, 7), (100, 15)] * 4),
}


@pytest.mark.parametrize("lowest", [None, 0.0, 30.0, 65.0, 66.0])
@pytest.mark.parametrize("name", EXACT)
def test_a_row_at_a_limit_is_between(name, lowest, book):
    time, power = EXACT[name]
    sheets = pasted(book, time, power, **({} if lowest is None else dict(lowest_power=lowest)))
    assert not differing(book, sheets) and sheets.levels["log_fits"]
    if "level of" in name and lowest in (None, 30.0):
        assert (sheets.levels["enter"], sheets.levels["leave"], sheets.levels["stretches"]) == (135, 120, 4)


@pytest.mark.parametrize(
    "typed, is_fulfilled",
    [
        ([], True),
        ([120.0], True),
        ([0.0], False),
        ([-120.0], False),
        (["120 rpm"], False),
        ([None, 120.0], False),
        ([120.0, 130.0], False),
        ([120.0, None, "x"], False),
    ],
)
def test_the_work_rpm_of_a_log_of_one_part(typed, is_fulfilled, book):
    time, power = rows_of((100, 20), (200, 20), (100, 20))
    pasted(book, time, power, infeed_time=20.0, work_rpms=typed)
    assert book["out_parts"] == 1 and (book["out_ready"] == 1) == is_fulfilled
    numbers = sum(isinstance(rpm, float) for rpm in typed)
    sheet_row = next(row for row in range(7, 40) if book.at("Checks", f"B{row}") == "work rpm are as many as the parts, or none")
    assert book.at("Checks", f"D{sheet_row}").startswith(f"Readings: 1 parts, {numbers} work rpm:")
    assert book.at("Checks", f"C{sheet_row}") == ("ok" if is_fulfilled else "STOP")


LONGER = dict(rows=30, powers=30, texts=0, log_fits=1, ready=1, parts=5, parts_read=4, lag=0.7251)
SAID = {
    "Nothing pasted yet.": dict(rows=0, powers=0, log_fits=0),
    "This log is not cut yet: the line in bold says what to mend first.": dict(log_fits=0, ready=0),
    "Found 5 parts, but no readings are handed on: the line in bold says why.": dict(ready=0),
    "4 parts read of 5; lag 0.73 s; copy them from the sheet Readings.": {},
}


@pytest.mark.parametrize("said", SAID)
def test_the_line_above_the_log_says_what_it_gave(said, as_built):
    assert computed(as_built, "Levels", None, "log_word", 1, {}, **named({**LONGER, **SAID[said]})) == said


@pytest.mark.parametrize(
    "cells", [dict(rows=1), dict(powers=1), dict(texts=1), dict(rows=1, powers=1), dict(rows=1, powers=1, texts=2)]
)
def test_whatever_is_pasted_is_something(cells, as_built):
    answers = named({**LONGER, "rows": 0, "powers": 0, "log_fits": 0, **cells})
    assert computed(as_built, "Levels", None, "log_word", 1, {}, **answers).startswith("This log is not cut yet")


def named(answers):
    return {f"out_{name}": value for name, value in answers.items()}


@pytest.mark.parametrize(
    "alike, step, scatter, shown",
    [
        (4, 2.0, 0.0, 0),  # 2 % of what grinding adds is no step
        (4, 2.1, 0.0, 3.0),
        (3, 2.1, 0.0, 0),
        (4, 2.25, 1.5, 0),  # three standard errors of the mean are none: 3 * 1.5 / 2
        (4, 2.8, 1.5, 4.0),
        (9, 2.1, 1.5, 3.0),
        (4, -2.1, 0.0, 0),
    ],
)
def test_coolant_steps_up_only_where_it_shows_in_four_parts_beyond_their_scatter(alike, step, scatter, shown, as_built):
    answers = named(dict(parts_alike=alike, near_step=step, near_scatter=scatter, high=600, low=500))
    assert computed(as_built, "Levels", None, "coolant_step", 1, {}, **answers) == pytest.approx(shown)
