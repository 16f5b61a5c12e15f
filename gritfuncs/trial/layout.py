"""Where the readings stand: which row heads them and which column holds what."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Callable, NamedTuple

from ..quantities import shown
from ..refused import Refused
from .headings import KNOWN_UNITS, LOADS, ROLES, SHOWN_UNITS, UNITS, fits, plain, read_heading, roles_in
from .readings import Entry
from .rows import MAX_ROWS, Row, one_line
from .words import leading_lines

_LETTERS = re.compile("[A-Z]{1,2}")
NAMED = "columns={...} (--column WORD=COLUMN)"  # how a caller names columns, in Python and on the command line


class NoTable(Refused):
    """No row heads columns of readings; `nearness` is how much of a heading was there, to choose between messages."""

    def __init__(self, must: str, hint: str = "", nearness: int = 0):
        super().__init__("", must, hint=hint)
        self.nearness = nearness


class Layout(NamedTuple):
    start: int  # position of the first row of readings
    columns: dict[str, int]  # column numbers by role, with exactly one load or specific energy column for the energy
    headings: dict[str, str]  # by role, as they stand in the file; a letter where the caller gave one
    load: str | None  # "power", "current" or "load"; None where the table gives specific energies

    def entries(self, rows: Sequence[Row], value: Callable[[str, Any], Any]) -> list[Entry]:
        """The rows below the heading; `value` turns the cell of a role into what it means.

        Rows without anything count as blank where they stand between others; no more than MAX_ROWS in one place.
        """

        def read(row: Row, role: str | None) -> Any:
            return value(role, row.cell(self.columns[role])) if role in self.columns else None

        names = ("idle", "use", "note", "work_rpm", "grit_depth", "specific_energy")
        found = []
        for row in rows[self.start :]:
            if found:
                found += [Entry(number) for number in range(row.number - min(row.blanks_before, MAX_ROWS), row.number)]
            found.append(Entry(row.number, load=read(row, self.load), **{name: read(row, name) for name in names}))
        return found


def find_layout(
    rows: Sequence[Row], columns: Mapping[str, str] | None, load_kind: str | None, is_number: Callable[[Any], bool]
) -> Layout:
    """The layout of a table, by the headings it has or by the columns the caller names; ValueError where it is unclear.

    `load_kind` chooses between several load columns; `is_number` tells a reading from a heading in a column that is
    given by letter.
    """
    if columns is not None:
        return _named(rows, check_columns(columns), is_number)
    heads, doubts = [], []
    for position, row in enumerate(rows):
        found, wrong = roles_in(row.cells)
        if _is_head(found):
            heads.append((position, found))
        elif wrong:
            doubts += wrong
    if not heads:
        must = f"have a row that heads a column of work rpm and one of power, current or load, or be read with {NAMED}"
        raise NoTable(must, doubts[0] if doubts else "", len(doubts))
    if len(heads) > 1:
        lines = " and ".join(str(rows[position].number) for position, _ in heads[:2])
        raise Refused("", f"have one row of headings (rows {lines} both look like one)")
    position, found = heads[0]
    row = rows[position]
    load = None if "specific_energy" in found else _choose_load(row, found, load_kind)
    kept = {role: numbers for role, numbers in found.items() if role not in LOADS or role == load}
    for role, numbers in kept.items():
        if len(numbers) > 1:
            names = " and ".join(repr(one_line(row.cell(number), 40)) for number in numbers[:2])
            raise Refused("", f"have one column of {role} in row {row.number}", names, hint=f"choose with {NAMED}")
    layout = Layout(
        position + 1,
        {role: numbers[0] for role, numbers in kept.items()},
        {role: one_line(row.cell(numbers[0]), 60) for role, numbers in kept.items()},
        load,
    )
    _check_idle_unit(layout)
    return layout


def _is_head(found) -> bool:
    return bool({"work_rpm", "grit_depth"} & set(found)) and bool(set(LOADS + ("specific_energy",)) & set(found))


def _choose_load(row: Row, found: dict[str, list[int]], load_kind: str | None) -> str:
    present = [role for role in LOADS if role in found]
    wanted = "load" if load_kind == "relative" else load_kind
    if wanted in present:
        return wanted
    if len(present) > 1:
        names = " and ".join(repr(one_line(row.cell(found[role][0]), 40)) for role in present[:2])
        hint = f"choose with load_kind (--load-kind) or {NAMED}"
        raise Refused("", f"have one column of load readings in row {row.number}", names, hint=hint)
    return present[0]


def _check_idle_unit(layout: Layout) -> None:
    """An idle reading in another unit than the load would be taken off as if it were in the same."""
    if "idle" not in layout.columns or layout.load is None:
        return
    load, idle = (read_heading(layout.headings[role]).unit for role in (layout.load, "idle"))
    load = load or SHOWN_UNITS.get(layout.load, "")
    if load and idle in KNOWN_UNITS and idle != plain(load) and idle not in UNITS.get(layout.load, ()):
        unit = SHOWN_UNITS.get(layout.load, load)
        raise Refused("idle", f"be in the unit of the load, {unit}", f"heading {layout.headings['idle']!r}")


def check_columns(columns: Mapping[str, str]) -> dict[str, str]:
    """The caller's columns, or ValueError: known roles, texts, one column across and one upward."""
    if not isinstance(columns, Mapping) or not columns:
        raise Refused("columns", "be a dictionary such as {'work_rpm': 'B', 'power': 'C'}", shown(columns))
    for role, column in columns.items():
        if not isinstance(role, str) or role not in ROLES:
            raise Refused("columns", f"name {', '.join(ROLES)} only", shown(role))
        if not isinstance(column, str) or not column.strip():
            raise Refused(f"columns[{role!r}]", "be a heading or a column letter", shown(column))
    if not _is_head(columns):
        must = "name work_rpm or grit_depth, and one of power, current, load, specific_energy"
        raise Refused("columns", must, ", ".join(columns))
    if sum(role in columns for role in LOADS + ("specific_energy",)) > 1:
        raise Refused("columns", "name only one of power, current, load, specific_energy", ", ".join(columns))
    return {role: column.strip() for role, column in columns.items()}


def _named(rows: Sequence[Row], wanted: dict[str, str], is_number: Callable[[Any], bool]) -> Layout:
    numbers = {role: column_number(text) for role, text in wanted.items() if _LETTERS.fullmatch(text)}
    by_heading = {role: plain(text) for role, text in wanted.items() if role not in numbers}
    load = next((role for role in LOADS if role in wanted), None)
    if by_heading:
        position, found = _row_with(rows, by_heading, wanted)
        numbers.update(found)
        headings = {role: one_line(rows[position].cell(numbers[role]) or wanted[role], 60) for role in wanted}
        for role, heading in headings.items():
            unit = read_heading(heading).unit
            if unit in KNOWN_UNITS and not fits(role, unit):
                raise Refused(role, f"be in {SHOWN_UNITS[role]}", f"heading {heading!r}")
        layout = Layout(position + 1, numbers, headings, load)
        _check_idle_unit(layout)
        return layout
    held = [numbers[role] for role in ("work_rpm", "grit_depth", "specific_energy") + LOADS if role in numbers]
    hold = [[is_number(row.cell(number)) for number in held] for row in rows]
    if not any(map(all, hold)):
        raise NoTable(f"have a row with numbers in the columns {', '.join(wanted.values())}")
    start = next(position for position, row in enumerate(rows) if any(hold[position]) and not leading_lines([row]))
    return Layout(start, numbers, dict(wanted), load)


def _row_with(rows: Sequence[Row], by_heading: dict[str, str], wanted: dict[str, str]):
    """Position of the only row that has all the headings, and their columns."""
    matches, nearest = [], list(by_heading)
    for position, row in enumerate(rows):
        texts = [plain(cell) if isinstance(cell, str) else None for cell in row.cells]
        missing = [role for role, text in by_heading.items() if text not in texts]
        if not missing:
            matches.append((position, texts))
        elif len(missing) < len(nearest):
            nearest = missing
    if not matches:
        names = ", ".join(repr(one_line(wanted[role], 40)) for role in nearest)
        must = f"have a row with the headings that columns names (missing: {names})"
        raise NoTable(must, nearness=len(by_heading) - len(nearest))
    if len(matches) > 1:
        lines = " and ".join(str(rows[position].number) for position, _ in matches[:2])
        raise Refused("", f"have one row of headings (rows {lines} both have those that columns names)")
    position, texts = matches[0]
    for role, text in by_heading.items():
        if texts.count(text) > 1:
            must = f"have one column headed {wanted[role]!r:.60} in row {rows[position].number}"
            raise Refused("", must, hint="give its letter instead")
    return position, {role: texts.index(text) for role, text in by_heading.items()}


def column_number(letters: str) -> int:
    """0 for A, 25 for Z, 26 for AA."""
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("A") + 1
    return number - 1
