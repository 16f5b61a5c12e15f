"""trial.xlsx, by the names of its cells."""

from __future__ import annotations

from itertools import zip_longest
from pathlib import Path
from typing import Any

from ..quantities import is_blank
from ..refused import Refused
from .inputs import BOOK_LOAD_KINDS, ENERGY, INPUTS, OBSERVED_COLUMNS, READING_COLUMNS
from .readings import Entry
from .rows import one_line
from .table import Table
from .words import Line, in_shop_units, unit_beside
from .workbook_file import Workbook

_NAMES = ("in_readings", "in_load_kind")  # a workbook that has them is a trial workbook


def is_trial_workbook(book: Workbook) -> bool:
    return all(name in book.names for name in _NAMES)


def table(path: Path, book: Workbook) -> Table:
    """What a filled trial workbook holds."""
    present = [given.name for given in INPUTS if given.is_read and f"in_{given.name}" in book.names]
    lines = {
        word: Line(0, book.named(f"in_{word}")[0][0], unit_beside(word, book.beside(f"in_{word}"), f"in_{word}"))
        for word in present
    }
    words, told = in_shop_units(lines, lambda word: f"in_{word}")
    if told and "in_units" not in book.names:
        told.append("The workbook's own cells take these values as they stand, in the units of its makers.")
    rows = book.named("in_readings")
    if len(rows[0]) < len(READING_COLUMNS):
        raise Refused("in_readings", "have five columns: work rpm, load, idle, use?, note", str(len(rows[0])))
    damage = _damage(book, len(rows))
    kind = words.choice("load_kind", BOOK_LOAD_KINDS)
    if kind is None:
        raise Refused("in_load_kind", f"be {' or '.join(BOOK_LOAD_KINDS)}", "blank")
    columns = tuple("specific_energy" if kind == ENERGY and name == "load" else name for name in READING_COLUMNS)
    entries = [Entry(number, damage=damage[number - 1], **dict(zip(columns, row))) for number, row in enumerate(rows, 1)]
    if kind == "current":
        for word in ("volts", "power_factor"):
            if words.get(word) is None:
                raise Refused(f"in_{word}", "be given for current readings", "blank", hint="without it choose relative")
    is_energy = kind == ENERGY
    if is_energy:
        kind = "specific_energy"
    return Table(one_line(path.name), entries, words, kind, False, is_energy, tuple(told), setup_required=True)


def _damage(book: Workbook, count: int) -> list[Any]:
    """What is noted of damage beside each reading: in in_damage, else in in_observations, where older files have it."""
    noted = [row[0] for row in book.named("in_damage")] if "in_damage" in book.names else []
    rows = book.named("in_observations") if "in_observations" in book.names else []
    seen = [dict(zip(OBSERVED_COLUMNS, row)).get("damage") for row in rows]
    both = [(own, beside) for own, beside in zip_longest(noted, seen)][:count]
    return [beside if is_blank(own) else own for own, beside in both] + [None] * (count - len(both))
