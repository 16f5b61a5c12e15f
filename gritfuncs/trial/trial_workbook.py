"""trial.xlsx, by the names of its cells."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import zip_longest
from pathlib import Path
from typing import Any

from ..quantities import QUANTITIES
from ..refused import Refused
from ..units import convert, is_unit
from ..values import finite_in, is_blank, shown
from .inputs import BAND, BOOK_LOAD_KINDS, ENERGY, INPUTS, OBSERVED_COLUMNS, READING_COLUMNS, RECORD, UNITS
from .lines import Line
from .readings import Entry, Unreadable
from .rows import Measured, one_line
from .shop_units import Words, in_shop_units
from .stated_units import unit_beside
from .table import Table
from .words import quantity_of
from .workbook_file import Workbook

_NAMES = ("in_readings", "in_load_kind")  # a workbook that has them is a trial workbook


def is_trial_workbook(book: Workbook) -> bool:
    return all(name in book.names for name in _NAMES)


def table(path: Path, book: Workbook) -> Table:
    """What a filled trial workbook holds."""
    words, told = inputs_of(book, {given.name: f"in_{given.name}" for given in INPUTS if given.is_read})
    words.values.update(_record_texts(book))
    band = finite_in(book.named("in_band")[0][0]) if "in_band" in book.names else None
    if band is not None and BAND.quantity is not None and BAND.quantity.low < band <= BAND.quantity.high:
        words.values["band"] = band
    if told and "in_units" not in book.names:
        told.append("The workbook's own cells take these values as they stand, in the units of its makers.")
    rows = book.named("in_readings")
    if len(rows[0]) < len(READING_COLUMNS):
        raise Refused("in_readings", "have five columns: work rpm, load, idle, use?, note", str(len(rows[0])))
    damage = _damage(book, len(rows))
    infeeds = _row_infeed_rates(book, len(rows))
    kind = words.choice("load_kind", BOOK_LOAD_KINDS)
    if kind is None:
        raise Refused("in_load_kind", f"be {' or '.join(BOOK_LOAD_KINDS)}", "blank")
    columns = tuple("specific_energy" if kind == ENERGY and name == "load" else name for name in READING_COLUMNS)
    settings = [{"infeed_rate": rate} if infeeds else None for rate in infeeds or damage]
    entries = [
        Entry(number, damage=damage[number - 1], settings=settings[number - 1], **dict(zip(columns, row)))
        for number, row in enumerate(rows, 1)
    ]
    if kind == "current":
        for word in ("volts", "power_factor"):
            if words.get(word) is None:
                raise Refused(f"in_{word}", "be given for current readings", "blank", hint="without it choose relative")
    is_energy = kind == ENERGY
    if is_energy:
        kind = "specific_energy"
    return Table(
        one_line(path.name),
        entries,
        words,
        kind,
        False,
        is_energy,
        tuple(told),
        setup_required=True,
        title=_title(book),
        own_words=frozenset(("infeed_rate",) if infeeds else ()),
    )


def _row_infeed_rates(book: Workbook, count: int) -> list[Any]:
    """What stands beside each reading as its own infeed rate, in mm/min as the machine shows it; [] where nothing does."""
    if "in_row_infeed_rates" not in book.names:
        return []
    rates = [row[0] for row in book.named("in_row_infeed_rates")][:count]
    if all(map(is_blank, rates)):
        return []
    cell, word = "in_infeed_rate", "infeed_rate"
    unit = unit_beside(word, book.beside(cell, _unit_unless_stored(book, word)), cell) if cell in book.names else ""
    quantity = QUANTITIES["infeed_rate"]
    converted = [
        rate if not unit or finite_in(rate) is None else quantity.converted(rate, unit, "in_row_infeed_rates") for rate in rates
    ]
    return converted + [None] * (count - len(converted))


def _record_texts(book: Workbook) -> dict[str, Any]:
    """What is typed for the record of knees: texts, and the day of the trial."""
    texts = {given.name: book.named(f"in_{given.name}")[0][0] for given in RECORD if f"in_{given.name}" in book.names}
    found: dict[str, Any] = {name: one_line(text) for name, text in texts.items() if isinstance(text, (str, int, float))}
    return {**found, "date": book.day("in_date") if "date" in texts else None}


def _title(book: Workbook) -> str:
    """What stands at the head of every sheet."""
    title = book.named("in_title")[0][0] if "in_title" in book.names else None
    return one_line(title) if isinstance(title, str) else ""


def inputs_of(book: Workbook, cells: Mapping[str, str]) -> tuple[Words, list[str]]:
    """The values of the named cells that a workbook has, by word, and a sentence for each in another unit."""
    lines = {
        word: Line(0, _number_shown(cell, word, unit, book.named(cell)[0][0]), unit)
        for word, cell in cells.items()
        if cell in book.names
        for unit in [unit_beside(word, book.beside(cell, _unit_unless_stored(book, word)), cell)]
    }
    return in_shop_units(lines, lambda word: cells.get(word, word))


def _unit_unless_stored(book: Workbook, word: str) -> str:
    """The unit that the formula beside an input gives, where a program has written the file without computing it."""
    said = book.named("in_units")[0][0] if "in_units" in book.names else None
    quantity = quantity_of(word)
    if quantity is None or is_blank(said):
        return ""
    if not isinstance(said, str) or said.strip().lower() not in (*UNITS, "mm"):
        raise Refused("in_units", f"be {' or '.join(UNITS)}", shown(said))
    return quantity.inch_unit if said.strip().lower() == UNITS[1] else ""


def _number_shown(cell: str, word: str, unit: str, value: Any) -> Any:
    """The stored number of an input, by which the workbook computes; Refused where its cell shows another one."""
    quantity = quantity_of(word)
    own = "%" if word == "noise" else quantity.unit if quantity else ""
    if not isinstance(value, Measured) or not own or not is_unit(value.unit):
        return value
    means = convert(value.shown, value.unit, unit or own)
    if word == "concentration" or means is None or not math.isclose(means, value, rel_tol=1e-9):
        got = f"a cell that shows {value.shown:.6g} {value.unit} and holds {float(value):.6g}"
        must = "be a number without a unit" if own == "-" else f"be in {unit or own}"
        raise Refused(cell, must, got, hint="give the cell another number format")
    return value


def _damage(book: Workbook, count: int) -> list[Any]:
    """What is noted of damage beside each reading: in in_damage, else in in_observations, where older files have it.

    Where both are there, in_observations only shows what in_damage holds, unless a script has written into it.
    """
    noted = [row[0] for row in book.named("in_damage")] if "in_damage" in book.names else []
    rows = book.named("in_observations") if "in_observations" in book.names else []
    seen = [dict(zip(OBSERVED_COLUMNS, row)).get("damage") for row in rows]
    if noted:
        seen = [None if isinstance(word, Unreadable) else word for word in seen]
    both = zip_longest(noted, seen, range(count))  # as many as there are readings
    return [beside if is_blank(own) else own for own, beside, _ in both][:count]
