"""Where the readings stand: which row heads them and which column holds what, in which unit."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, Callable, NamedTuple

from ..refused import Refused
from ..units import is_unit, ratio
from ..values import is_blank, shown
from .headings import (
    LOADS,
    MOST_HEADINGS,
    NUMBER_ROLES,
    ROLES,
    SHOWN_UNITS,
    basis_of,
    fits,
    is_time,
    phrases,
    plain,
    read_heading,
    roles_in,
    states_factor,
    words,
)
from .lines import is_line
from .readings import SETTINGS, Entry, Unreadable, damage_in
from .rows import MAX_ROWS, Row, one_line, quoted

_LETTERS = re.compile("[A-Z]{1,2}")
NAMED = "columns={...} (--column WORD=COLUMN)"  # how a caller names columns, in Python and on the command line
ENERGIES = LOADS + ("specific_energy",)
_TOTALS = frozenset(
    phrases(
        "total, totals, sum, Σ, mean, means, mean value, mean values, average, averages, average value, avg, Ø, min, minimum, max, maximum, median, std, stdev, standard deviation, Summe, Gesamt, "
        "Mittel, Mittelwert, Mittelwerte, Durchschnitt, Durchschnittswert, somme, moyenne, valeur moyenne, écart type, totale, somma, media, "
        "valore medio, suma, promedio, valor medio, total, soma, média, valor médio, razem, suma, średnia, wartość średnia, součet, celkem, "
        "průměr, průměrná hodnota, summa, medel, medelvärde, medelvärden"
    )
)
MOST_READINGS_OVER_TIME = 50  # rows under a column of time; a trial of so many readings is a log


class NoTable(Refused):
    """No row heads columns of readings; `nearness` is how much of a heading was there, to choose between messages."""

    def __init__(self, must: str, hint: str = "", nearness: int = 0):
        super().__init__("", must, hint=hint)
        self.nearness = nearness


class Head(NamedTuple):
    """A row of headings, or two that belong together: heads and units, or heads on two lines."""

    first: int  # position of its first row
    last: int
    texts: list[str]  # by column; "" where there is none
    names: Sequence[str] = ()  # the same without the units of a row below them, where there is one

    def columns_of(self, wanted: str) -> list[int]:
        """The columns with this heading, in any case."""
        names = zip(self.texts, self.names or self.texts)
        return [column for column, alike in enumerate(names) if plain(wanted) in map(plain, alike)]


class Layout(NamedTuple):
    start: int  # position of the first row of readings
    lead: int  # number of rows above the headings
    columns: dict[str, int]  # column numbers by role, with exactly one load or specific energy column for the energy
    headings: dict[str, str]  # by role, as they stand in the file; a letter where the caller gave one
    load: str | None  # "power", "current" or "load"; None where the table gives specific energies
    units: dict[str, str]  # by role, as the heading or a row of units says; "" where they do not
    texts: list[str]  # every heading, by column
    damage: tuple[int, ...] = ()  # columns of damage seen; a table may have one for burn and one for cracks
    settings: Mapping[int, str] = MappingProxyType({})  # columns that the caller names as ones of setup values, with the word

    def entries(self, rows: Sequence[Row], value: Callable[[str, Any], Any]) -> list[Entry]:
        """The rows below the heading; `value` turns the cell of a role into what it means.

        Rows without anything count as blank where they stand between others; no more than MAX_ROWS in one place.
        """

        def read(row: Row, role: str | None) -> Any:
            return value(role, row.cell(self.columns[role])) if role in self.columns else None

        def seen(row: Row) -> Any:
            noted = [row.cell(column) for column in self.damage if damage_in(row.cell(column))]
            if len(noted) < 2:
                return noted[0] if noted else None
            return "; ".join(map(damage_in, noted))

        names = ("idle", "use", "note", "work_rpm", "grit_depth", "specific_energy")
        across = "grit_depth" if "grit_depth" in self.columns else "work_rpm"
        totals = self._totals(rows[self.start :])
        found: list[Entry] = []
        for row in rows[self.start :]:
            if found:
                found += [Entry(number) for number in range(row.number - min(row.blanks_before, MAX_ROWS), row.number)]
            values = {name: read(row, name) for name in names}
            if row.number in totals:
                values[across] = Unreadable(f"the row is {totals[row.number]!r:.40} of others")
            found.append(Entry(row.number, load=read(row, self.load), damage=seen(row), **values))
        return found

    def _totals(self, rows: Sequence[Row]) -> dict[int, str]:
        """The last rows of a table that are sums or means of others, by number, with the word that says so."""
        read = {*self.columns.values(), *self.damage}
        found: dict[int, str] = {}
        for row in reversed(rows):
            texts = (cell for column, cell in enumerate(row.cells) if column not in read and isinstance(cell, str))
            label = next((text for text in texts if words(text) in _TOTALS), None)
            if label is None:
                return found
            found[row.number] = label.strip()
        return {}  # in all rows it is no total

    def unit_of(self, role: str) -> str:
        """The unit of a column: that of its heading, else the library's; "" where any will do."""
        if role == "idle":
            return self.units.get("idle", "") or self.unit_of(self.load or "")
        return self.units.get(role, "") or SHOWN_UNITS.get(role, "")

    def other_columns(self) -> list[int]:
        """The columns with a heading that hold no role."""
        taken = {*self.columns.values(), *self.damage}
        headed = {column for column, text in enumerate(self.texts) if text}
        return [column for column in sorted(headed.union(self.settings)) if column not in taken]


def find_layout(
    rows: Sequence[Row],
    columns: Mapping[str, str] | None,
    load_kind: str | None,
    is_number: Callable[[Any], bool],
    heading_row: int | None = None,
) -> Layout:
    """The layout of a table, by the headings it has and the columns the caller names; Refused where it is unclear.

    `columns` adds to what the headings say and goes before it; `heading_row` is the number of the row of headings, where it
    must be said; `load_kind` chooses between several load columns; `is_number` tells a reading from a heading.
    """
    wanted = check_columns(columns)
    settings = {word: wanted.pop(word) for word in SETTINGS if word in wanted}
    letters = {role: column_number(text) for role, text in wanted.items() if _LETTERS.fullmatch(text)}
    if heading_row is None and wanted and len(letters) == len(wanted) and _is_head(wanted):
        head = _head_above(rows, letters, wanted, is_number)
    else:
        head = _only_head(rows, wanted, letters, is_number, heading_row)
    for role, text in wanted.items():
        if role not in letters and len(head.columns_of(text)) > 1:
            must = f"have one column headed {text!r:.60} in row {rows[head.last].number}"
            raise Refused("", must, hint="give its letter instead")
    found = _roles_of(head, wanted, letters)
    row = rows[head.last] if rows and head.texts else Row(0, ())
    load = None if "specific_energy" in found else _choose_load(row, head, found, load_kind)
    kept = {role: numbers for role, numbers in found.items() if role not in LOADS or role == load}
    for role, numbers in kept.items():
        if len(numbers) > 1 and role != "damage":
            names = " and ".join(quoted(head.texts[number]) for number in numbers[:2])
            raise Refused("", f"have one column of {role} in row {row.number}", names, hint=f"choose with {NAMED}")
    at = {role: numbers[0] for role, numbers in kept.items()}
    units = {role: _unit_in(role, head, at[role]) for role in at}
    headings = {role: one_line(wanted[role] if role in letters else head.texts[column], 60) for role, column in at.items()}
    damage, named = tuple(kept.get("damage", ())), _columns_of_settings(settings, head)
    layout = Layout(head.last + 1, head.first, at, headings, load, units, head.texts, damage, named)
    _check_idle_unit(layout)
    return layout


def _columns_of_settings(settings: dict[str, str], head: Head) -> dict[int, str]:
    """The columns that the caller names for what a row may have of its own."""
    found = {}
    for word, text in settings.items():
        numbers = [column_number(text)] if _LETTERS.fullmatch(text) else head.columns_of(text)
        if len(numbers) != 1:
            must = f"have one column headed {text!r:.60}, as columns says of {word}"
            raise Refused("", must, f"{len(numbers)} of them", hint="give its letter instead")
        found[numbers[0]] = word
    return found


def _is_head(found) -> bool:
    return bool({"work_rpm", "grit_depth"} & set(found)) and bool(set(ENERGIES) & set(found))


def _roles_of(head: Head, wanted: dict[str, str], letters: dict[str, int]) -> dict[str, list[int]]:
    """Columns by role: those that the caller names, and beside them what the headings say."""
    named = {role: [letters[role]] if role in letters else head.columns_of(text)[:1] for role, text in wanted.items()}
    taken = {column for columns in named.values() for column in columns}
    found = {role: [column for column in columns if column not in taken] for role, columns in roles_in(head.texts)[0].items()}
    if set(ENERGIES) & set(named):  # the caller's choice among what is the same to the knee
        found = {role: columns for role, columns in found.items() if role not in ENERGIES}
    return {role: columns for role, columns in {**found, **named}.items() if columns}


def _text_of(row: Row, column: int) -> str:
    cell = row.cell(column)
    return cell.strip() if isinstance(cell, str) else ""


def _alone(rows: Sequence[Row], position: int) -> Head:
    row = rows[position]
    return Head(position, position, [_text_of(row, column) for column in range(min(len(row.cells), MOST_HEADINGS))])


def _with_next(rows: Sequence[Row], position: int, is_number: Callable[[Any], bool]) -> Head | None:
    """The row and the one directly below it as one row of headings: units under heads, or heads on two lines."""
    if position + 1 >= len(rows) or rows[position + 1].blanks_before:
        return None
    upper, lower = rows[position], rows[position + 1]
    cells = [cell for cell in lower.cells if not is_blank(cell)]
    if not all(isinstance(cell, str) and not is_number(cell) for cell in cells):
        return None
    are_units = all(any(_unit_and_basis(cell)) for cell in cells)
    texts, names = [], []
    for column in range(min(max(len(upper.cells), len(lower.cells)), MOST_HEADINGS)):
        above, below = _text_of(upper, column), _text_of(lower, column)
        names.append(above or below)
        if are_units and above and below:
            bare, (unit, basis) = _bare(below), _unit_and_basis(below)
            unit = "" if read_heading(above).unit or bare == "-" else unit
            below = " ".join(f"[{part}]" for part in (unit, basis) if part)
        texts.append(f"{above} {below}".strip())
    return Head(position, position + 1, texts, names if are_units else ())


def _unit_and_basis(cell: str) -> tuple[str, str]:
    """The unit that is all of a text below a heading, and radius or diameter where it says so; "" and "" for any other text."""
    bare = _bare(cell)
    if basis := basis_of(bare):
        return "", basis
    if is_unit(bare):
        return bare, ""
    said = read_heading(bare)
    return (said.unit, said.basis) if said.basis and not said.phrase and not said.doubtful else ("", "")


def _bare(cell: str) -> str:
    """A unit without the brackets around it."""
    return re.sub(r"^[(\[{](.*)[)\]}]$", r"\1", cell.strip()).strip()


def _head_at(rows: Sequence[Row], position: int, is_number: Callable[[Any], bool]) -> Head:
    """The row as headings, with the one below it where more columns are known by both than by either."""
    alone = _alone(rows, position)
    below = _alone(rows, position + 1).texts if position + 1 < len(rows) else []
    counts = [_known(alone.texts), 0, _known(below)]
    both = _with_next(rows, position, is_number) if counts[0] or counts[2] else None
    if both is None:
        return alone
    counts[1] = _known(both.texts)
    names_kept = (counts[1] >= counts[0] > 0 or counts[1] >= counts[2] > 0) and all(
        any(_unit_and_basis(text)) for text in below if text
    )
    return both if names_kept or counts[1] > max(counts[0], counts[2]) else alone


def _known(texts: Sequence[str]) -> int:
    """How many roles are named by one column each."""
    return sum(len(numbers) == 1 for numbers in roles_in(texts)[0].values())


def _only_head(
    rows: Sequence[Row],
    wanted: dict[str, str],
    letters: dict[str, int],
    is_number: Callable[[Any], bool],
    heading_row: int | None,
) -> Head:
    """The only row that heads all that is needed."""
    by_heading = {role: plain(text) for role, text in wanted.items() if role not in letters}
    heads, doubts, nearest = [], [], list(by_heading)
    position = 0 if heading_row is None else _position_of(rows, heading_row)
    while position < len(rows):
        head = _head_at(rows, position, is_number)
        if any(map(head.columns_of, by_heading.values())) and (below := _with_next(rows, position, is_number)) and below.names:
            head = below  # units under heads that only the caller knows
        missing = [role for role, text in by_heading.items() if not head.columns_of(text)]
        if missing and len(missing) == len(by_heading) and head.last > head.first:  # the caller may mean one line of two
            head = _alone(rows, position)
            missing = [role for role, text in by_heading.items() if not head.columns_of(text)]
        nearest = min(nearest, missing, key=len)
        found, wrong = roles_in(head.texts)
        if not missing and _is_head(_roles_of(head, wanted, letters)) and (_is_head(found) or not is_line(rows[position])):
            if _is_head(found) or by_heading or heading_row is not None or not _numbers_in(rows[position], letters, is_number):
                heads.append(head)
        elif wrong:
            doubts += wrong
        if heading_row is not None:
            break
        position = head.last + 1 if heads and heads[-1] is head else position + 1
    if not heads:
        raise _no_head(rows, by_heading, wanted, nearest, doubts)
    if len(heads) > 1:
        lines = " and ".join(str(rows[head.last].number) for head in heads[:2])
        which = "have those that columns names" if by_heading else "look like one"
        raise Refused("", f"have one row of headings (rows {lines} both {which})", hint=_SAY_ROW)
    return heads[0]


_SAY_ROW = "say which with heading_row (--heading-row)"


def _numbers_in(row: Row, letters: dict[str, int], is_number: Callable[[Any], bool]) -> bool:
    return any(is_number(row.cell(column)) for column in letters.values())


def _position_of(rows: Sequence[Row], heading_row: int) -> int:
    for position, row in enumerate(rows):
        if row.number == heading_row:
            return position
    raise NoTable(f"have headings in row {heading_row}, but it is blank or not there")


def _no_head(
    rows: Sequence[Row], by_heading: dict[str, str], wanted: dict[str, str], nearest: list[str], doubts: list[str]
) -> Refused:
    if nearest:
        names = ", ".join(quoted(wanted[role]) for role in nearest)
        must = f"have a row with the headings that columns names (missing: {names})"
        return NoTable(must, nearness=len(by_heading) - len(nearest))
    for row in rows:
        if set(ENERGIES) & set(roles_in(row.cells)[0]) and any(map(is_time, row.cells[:MOST_HEADINGS])) and not is_line(row):
            return log_refused(f"row {row.number} heads a column of time and none of work rpm")
    must = f"have a row that heads a column of work rpm and one of power, current or load, or be read with {NAMED}"
    return NoTable(must, doubts[0] if doubts else "", len(doubts))


def log_refused(seen: str) -> NoTable:
    """What is said of a log over time."""
    must = f"hold readings, one row for each, but it looks like a log over time ({seen})"
    return NoTable(must, "read it as a log, or condense each stretch at one rpm into one reading", 100)


def _head_above(rows: Sequence[Row], letters: dict[str, int], wanted: dict[str, str], is_number: Callable[[Any], bool]) -> Head:
    """The headings above the first row with numbers in the columns that are given by letter; without texts where none are."""
    held = [letters[role] for role in ("work_rpm", "grit_depth") + ENERGIES if role in letters]
    hold = [[is_number(row.cell(number)) for number in held] for row in rows]
    if not any(map(all, hold)):
        raise NoTable(f"have a row with numbers in the columns {', '.join(wanted.values())}")
    start = next((position for position, numbers in enumerate(hold) if all(numbers) and not is_line(rows[position])), 0)
    complete = [all(numbers) for numbers in hold]
    for position, row in enumerate(rows):  # texts in all these columns are headings, where most readings stand below them
        if all(_text_of(row, column) for column in held) and not any(hold[position]):
            if sum(complete[position:]) > sum(complete[:position]):
                start = max(start, next(below for below, whole in enumerate(complete) if whole and below > position))
    while start and any(hold[start - 1]) and not is_line(rows[start - 1]):
        start -= 1
    for first in (start - 2, start - 1):
        if first < 0 or rows[start].blanks_before or is_line(rows[first]) or any(map(is_number, rows[first].cells)):
            continue
        head = _head_at(rows, first, is_number)
        if head.last == start - 1 and any(head.texts[column : column + 1] not in ([], [""]) for column in held):
            return head
    return Head(start, start - 1, [])


def _choose_load(row: Row, head: Head, found: dict[str, list[int]], load_kind: str | None) -> str:
    present = [role for role in LOADS if role in found]
    wanted = "load" if load_kind == "relative" else load_kind
    if wanted in present:
        return wanted
    if len(present) > 1:
        names = " and ".join(quoted(head.texts[found[role][0]]) for role in present[:2])
        hint = f"choose with load_kind (--load-kind) or {NAMED}"
        raise Refused("", f"have one column of load readings in row {row.number}", names, hint=hint)
    return present[0]


def _unit_in(role: str, head: Head, column: int) -> str:
    """The unit of a column, or Refused where a column of this kind cannot have it."""
    text = head.texts[column] if column < len(head.texts) else ""
    heading = read_heading(text)
    unit = heading.unit or heading.doubtful
    if role in NUMBER_ROLES and states_factor(text):
        own = f"in {SHOWN_UNITS[role]}, " if role in SHOWN_UNITS else ""
        raise Refused(role, f"be {own}without a factor in its heading", f"heading {one_line(text, 60)!r}")
    if unit and not fits(role, unit) and (heading.unit or "/" in unit):
        raise Refused(role, f"be in {SHOWN_UNITS[role]}", f"heading {one_line(text, 60)!r}")
    return unit if heading.unit or role not in SHOWN_UNITS else ""


def load_unit(layout: Layout) -> str:
    """The unit in which the loads are used: the library's for power and current, that of the heading for a load meter."""
    return SHOWN_UNITS.get(layout.load or "", layout.units.get(layout.load or "", ""))


def _check_idle_unit(layout: Layout) -> None:
    """An idle reading in another unit than the load would be taken off as if it were in the same."""
    idle, load = layout.units.get("idle", ""), load_unit(layout)
    if layout.load is not None and idle and is_unit(idle):
        check_idle_unit(idle, load, f"heading {layout.headings['idle']!r}")


def check_idle_unit(idle: str, load: str, got: str) -> None:
    """Refused where an idle reading has a unit that is none of the load's; a load that has none may be in percent."""
    if not load and ratio(idle, "%") is None:
        hint = "put it into the heading of the load"
        raise Refused("idle", "be in the unit of the load, which is not said", got, hint=hint)
    if load and (not is_unit(load) or ratio(idle, load) is None):
        raise Refused("idle", f"be in the unit of the load, {load}", got)


def check_columns(columns: Mapping[str, str] | None) -> dict[str, str]:
    """The caller's columns, or Refused: known roles, texts, no two for the same axis."""
    if columns is None:
        return {}
    if not isinstance(columns, Mapping) or not columns:
        raise Refused("columns", "be a dictionary such as {'work_rpm': 'B', 'power': 'C'}", shown(columns))
    for role, column in columns.items():
        if not isinstance(role, str) or role not in ROLES + SETTINGS:
            raise Refused("columns", f"name {', '.join(ROLES + SETTINGS)} only", shown(role))
        if not isinstance(column, str) or not column.strip():
            raise Refused(f"columns[{role!r}]", "be a heading or a column letter", shown(column))
    if sum(role in columns for role in ENERGIES) > 1:
        raise Refused("columns", "name only one of power, current, load, specific_energy", ", ".join(columns))
    return {role: column.strip() for role, column in columns.items()}


def column_number(letters: str) -> int:
    """0 for A, 25 for Z, 26 for AA."""
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("A") + 1
    return number - 1
