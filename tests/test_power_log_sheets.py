"""power_log.xlsx: every step that its sheets show, beside the same computed with numpy in log_sheet_rule.py.

All logs are simulated or drawn at random.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from log_sheet_rule import NOTHING, SECONDS, Sheets
from open_book import OpenBook
from simulated_logs import RPMS, simulate

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
    "a whole trial": ({}, dict(work_rpms=[120.0, 121.0, 132.0, 133.0, 108.0, 109.0])),
    "milliseconds": ({}, dict(time_unit="ms", expected_parts=6)),
    "minutes": ({}, dict(time_unit="min")),
    "clock times": ({}, dict(time_unit="days")),
    "dressing and a cycle without a part": (dict(strokes=2, empty=(3,)), dict(leave_out=[None, " no ", "yes", None, "No"])),
    "spindle switched, an emergency stop": (dict(spindle_off=True, stopped=3), dict(lowest_power=0.3)),
    "drop-outs": (dict(dropped=6, seed=2), dict(lowest_power=0.3, meter_step=0.01)),
    "coolant switched": (dict(coolant=0.25), {}),
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
    usual, noise = random.integers(12, 40), random.choice([0, 1, 2], p=[0.2, 0.4, 0.4])
    level = random.choice([12, 40, 100])
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


@settings(max_examples=30)
@given(st.integers(0, 10**6))
def test_every_step_of_a_log_drawn_at_random_is_what_numpy_gives(book, seed):
    time, power, known = drawn(seed)
    sheets = pasted(book, time, power, **known)
    assert not differing(book, sheets)
