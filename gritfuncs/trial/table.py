"""Table: what a file of any kind holds, before anything is computed from it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Any, Callable, NamedTuple

from ..quantities import QUANTITIES
from ..quantity import Check
from ..refused import Refused
from ..units import convert, is_unit, ratio
from ..values import finite_in, shown, yes_or_no
from .headings import NUMBER_ROLES, SHOWN_UNITS, is_time, words
from .layout import MOST_READINGS_OVER_TIME, NAMED, Layout, check_idle_unit, load_unit, log_refused
from .lines import Lead, Line
from .numbers import only_number
from .own_columns import Columns, columns_of_settings, is_per_turn, own_values, put_lines, readings_in, rpm_of, setting_in
from .readings import Entry, Unreadable
from .rows import Measured, Row, one_line, short
from .shop_units import Words, in_shop_units
from .stated_units import number_and_unit
from .words import LOAD_KINDS, may_be_mark

RELATIVE = "relative"  # kind of load of any unit; unit of depths and energies that are only in proportion


# What a heading of an infeed rate, a wheel speed or a diameter says in the languages that are read.
_MAY_BE_SETTING = re.compile(
    r"feed|vorschub|zustell|einstech|avance|avanzamento|plunge|wheel|scheibe|meule|mola|schnittgeschw|cutting speed|diam|durchmesser"
    r"|avanco|posuw|dosuw|posuv|prisuv|matning|muela|rebolo|sciernic|kotouc|skiv|srednic|prumer"
)
# What a heading says of rows that are not to count, where it is none of those that are read.
_MAY_SET_ASIDE = re.compile(
    r"\b(?:valid|invalid|ok|exclu|omit|skip|ignor|discard|reject|gultig|ungultig|ausschl|ausgeschl|verworf|verwerf|esclu"
    r"|wazn|platn|giltig)\w*"
)
# Conventions, no source: beside cells in percent a bare number so far below them is a share of 1, not so many percent.
SHARE_BELOW = 10  # times
_WITH_NUMBER = re.compile(r"\s*[+-]?[.,]?\d")
_LETTERED = 18278  # columns that three letters can name


class Table(NamedTuple):
    """The rows of a file, and the words that stand beside them."""

    source: str
    entries: list[Entry]
    words: Words
    load_kind: str  # as the file has it
    depth_given: bool
    energy_given: bool
    remarks: tuple[str, ...]
    setup_required: bool = False
    load_factor: Fraction = Fraction(1)  # an idle reading in the unit of the readings becomes one in the shop's unit
    title: str = ""  # what stands at the head
    own_words: frozenset[str] = frozenset()  # of the setup, those of which each row has a value of its own
    assumed: frozenset[str] = frozenset()  # of these, those for which the first reading speaks in the setup
    infeed_basis: str = ""  # of the infeed rates of the rows, where their heading says it


def chosen_kind(found: str, wanted: str | None) -> str:
    """The wanted kind of load, unless the column that was found holds something else."""
    if wanted is None or wanted == found:
        return found
    if found == "specific_energy":
        raise Refused("load_kind", "be left out where specific energies are given", shown(wanted))
    if RELATIVE not in (wanted, found):
        raise Refused("load_kind", f"be {found} or {RELATIVE} for this file", shown(wanted))
    return wanted


def table_of(
    source: str,
    rows: Sequence[Row],
    layout: Layout,
    lead: Lead,
    value: Callable[[Any], Any],
    of_text: Callable[[str], float | None] = only_number,
) -> Table:
    """The table that a layout finds in the rows.

    `value` gives the number that a cell writes, or the cell as it is; `of_text` the number of a text that has a unit behind it.
    """
    rows, in_cells = _in_units(rows, layout, value, of_text)
    _refuse_log(rows, layout, value)
    lines, turns = dict(lead.lines), rpm_of(rows, layout, value)
    settings = columns_of_settings(rows, layout, value, lines)
    assumed = put_lines(lines, settings, turns)
    said, told = in_shop_units(lines)
    kind = "specific_energy" if layout.load is None else {"load": RELATIVE}.get(layout.load, layout.load)
    kind = chosen_kind(kind, said.choice("load_kind", LOAD_KINDS))
    factors = _factors(layout)

    def read(role: str, cell: Any) -> Any:
        return _times(value(cell), factors.get(role, Fraction(1))) if role in NUMBER_ROLES else cell

    _convert_idle(said.values, lines, layout)
    own = own_values(rows[layout.start :], settings.own, value, turns) if settings.own else {}
    return Table(
        source,
        [entry._replace(settings=own.get(entry.row)) for entry in layout.entries(rows, read)],
        said,
        kind,
        "grit_depth" in layout.columns,
        layout.load is None,
        tuple(_remarks(rows, layout, lead, value, settings) + in_cells + told),
        load_factor=factors.get(layout.load or "", Fraction(1)),
        title=lead.title,
        own_words=frozenset(own.word for own in settings.own),
        assumed=frozenset(assumed),
        infeed_basis=next((own.basis for own in settings.own if own.word == "infeed_rate"), ""),
    )


def _in_units(
    rows: Sequence[Row], layout: Layout, value: Callable[[Any], Any], of_text: Callable[[str], float | None]
) -> tuple[list[Row], list[str]]:
    """The rows, numbers of readings that show or state a unit of their own in the unit of their column; and what was stated."""
    units = {column: layout.unit_of(role) for role, column in layout.columns.items()}
    names = {column: role for role, column in layout.columns.items() if role in NUMBER_ROLES}
    for column in layout.other_columns():
        word, unit, _ = setting_in(layout, column)
        units[column] = unit or (QUANTITIES[word].unit if word else "")
        names.update({column: word} if word else {})
    stated: dict[str, dict[str, None]] = {}  # by name, in the order met; those of texts are told
    seen: dict[str, dict[str, None]] = {}

    def measured(column: int, cell: Any) -> Any:
        if isinstance(cell, str) and column in names and finite_in(value(cell)) is None:
            parts = number_and_unit(cell)
            number = of_text(parts[0]) if parts else None
            if parts is None or number is None:
                return cell
            cell = Measured(number, Fraction(1), parts[1])
            stated.setdefault(names[column], {})[cell.unit] = None
        if isinstance(cell, Measured) and cell.unit and column in names:
            seen.setdefault(names[column], {})[cell.unit] = None
        return cell

    readings = [row._replace(cells=[measured(*place) for place in enumerate(row.cells)]) for row in rows[layout.start :]]
    _check_shares(readings, layout, value)
    found = [
        *rows[: layout.start],
        *(
            row._replace(cells=[_in_unit(cell, units.get(column, "")) for column, cell in enumerate(row.cells)])
            for row in readings
        ),
    ]
    if layout.load == "load" and not load_unit(layout):
        _check_one_unit(list(seen.get("load", {})), list(seen.get("idle", {})))
    return found, [f"{name} has units in its cells: {', '.join(units)}." for name, units in stated.items()]


def _check_one_unit(loads: list[str], idles: list[str]) -> None:
    """Loads whose heading has no unit, and what is taken off them, must be in one unit where their cells have any."""
    for unit in loads[1:] + idles if loads else []:
        if unit != loads[0] and ratio(unit, loads[0]) != 1:
            raise Refused("load and idle", "be in one unit, as their heading has none", f"{loads[0]!r:.30} and {unit!r:.30}")
    for unit in () if loads else filter(is_unit, idles):
        check_idle_unit(unit, "", f"{unit!r:.30}")


def _check_shares(readings: list[Row], layout: Layout, value: Callable[[Any], Any]) -> None:
    """Bare loads and idle readings beside cells in percent must be percent, not shares of 1."""
    cells = [
        (row.number, role, row.cell(layout.columns[role]))
        for role in ("load", "idle")
        if role in layout.columns
        for row in readings
    ]
    percents = [(role, cell.shown) for _, role, cell in cells if isinstance(cell, Measured) and cell.unit == "%"]
    bare = [(row, role, finite_in(value(cell))) for row, role, cell in cells if not isinstance(cell, Measured)]
    for row, role, number in sorted(bare, key=lambda one: one[0]) if percents else ():
        least = min([share for of, share in percents if of == role] or [share for _, share in percents])
        if number is not None and 0 < number <= 1 and SHARE_BELOW * number < least:
            raise Refused(role, f"be in %, as {least:g} % is in other cells", f"{number:g}", place=(f"row {row}",))


def _in_unit(cell: Any, unit: str) -> Any:
    if not isinstance(cell, Measured):
        return cell
    if not cell.unit or not unit or not is_unit(unit):
        return cell.shown
    shown_as = convert(cell.shown, cell.unit, unit)
    return Unreadable(f"its cell shows {cell.unit!r:.30}, not {unit}") if shown_as is None else shown_as


def _times(value: Any, factor: Fraction) -> Any:
    """The number times the factor, rounded once; anything else as it is."""
    number = finite_in(value)
    return value if number is None or factor == 1 else float(Fraction(number) * factor)


def _factors(layout: Layout) -> dict[str, Fraction]:
    """What a number of each column is multiplied with to be in the shop's unit."""
    found = {
        role: ratio(unit, SHOWN_UNITS[role]) or Fraction(1) for role, unit in layout.units.items() if unit and role in SHOWN_UNITS
    }
    idle = layout.units.get("idle", "")
    found["idle"] = (ratio(idle, load_unit(layout)) if idle and is_unit(idle) else None) or found.get(
        layout.load or "", Fraction(1)
    )
    return found


def _convert_idle(values: dict[str, Any], lines: dict[str, Line], layout: Layout) -> None:
    """The idle reading of the setup lines in the unit in which the loads are used."""
    unit, used = lines["idle"].unit if "idle" in lines else "", load_unit(layout)
    if "idle" not in values or layout.load is None:
        values.pop("idle", None)  # specific energies have nothing to take off
        return
    if unit and is_unit(unit):
        check_idle_unit(unit, used, f"{unit!r:.40}")
    if unit and used:
        factor = ratio(unit, used)
    else:
        factor = _factors(layout).get(layout.load, Fraction(1))
    values["idle"] = _times(values["idle"], factor)


def _remarks(rows: Sequence[Row], layout: Layout, lead: Lead, value: Callable[[Any], Any], settings: Columns) -> list[str]:
    """What was read, in which units, and what was not."""
    of_settings = {column: word for column, (word, _) in settings.steady.items()}
    of_settings.update({own.column: own.word for own in settings.own})
    read = ", ".join(f"{role} from '{heading}'" for role, heading in layout.headings.items())
    read += "".join(f", {word} from {_column_name(layout.texts, column)}" for column, word in of_settings.items())
    read += "".join(f", damage from '{one_line(layout.texts[column], 60)}'" for column in layout.damage[1:])
    told = [f"Columns read: {read}."]
    for role, unit in layout.units.items():
        used = SHOWN_UNITS.get(role) or (load_unit(layout) if role == "idle" else "")
        factor = ratio(unit, used) if unit and used and is_unit(unit) else None
        if factor not in (None, 1):
            told.append(f"{role} is written in {unit} and used in {used}: 1 {unit} = {float(factor):.6g} {used}.")
    for own in settings.own:
        if is_per_turn(own.word, own.unit):
            told.append(f"{own.word} is written in {own.unit}, for each revolution of the work at the rpm of its row.")
        elif own.unit and ratio(own.unit, QUANTITIES[own.word].unit) not in (None, 1):
            one = f"1 {own.unit} = {QUANTITIES[own.word].converted(1, own.unit):.6g} {QUANTITIES[own.word].unit}"
            told.append(f"{own.word} of the rows is written in {own.unit}: {one}.")
    taken = {*layout.columns.values(), *layout.damage, *of_settings}
    width = max((len(row.cells) for row in rows[layout.start :]), default=0)
    left = [
        _column_name(layout.texts, column)
        for column in range(width)
        if column not in taken and any(finite_in(value(row.cell(column))) is not None for row in rows[layout.start :])
    ]
    left += [
        _column_name(layout.texts, column)
        for column in layout.other_columns()
        if column not in taken
        and _column_name(layout.texts, column) not in left
        and setting_in(layout, column)[0]
        and any(_WITH_NUMBER.match(cell) for row in rows[layout.start :] if isinstance(cell := row.cell(column), str))
    ]
    if left:
        told.append(f"Columns with numbers that were not read: {', '.join(left[:12])}{', ...' if left[12:] else ''}.")
    doubtful = [name for name in left if _MAY_BE_SETTING.search(words(name))]
    if doubtful:
        told.append(
            Check(
                f"CHECK: {', '.join(doubtful[:3])} may be an infeed rate, wheel speed or diameter. If it is, and changes from row to row, "
                f"depths and energies are wrong without it: name it with {NAMED}, such as infeed_rate=D."
            )
        )
    aside = [
        _column_name(layout.texts, column)
        for column in layout.other_columns()
        if column not in taken
        and _MAY_SET_ASIDE.search(words("".join(layout.texts[column : column + 1])))
        and any(yes_or_no(row.cell(column)) is not None for row in rows[layout.start :])
    ]
    if aside:
        told.append(
            Check(
                f"CHECK: {', '.join(aside[:3])} may say which rows count, and was not read: all rows count. Name a column with yes for "
                f"rows that count and no for others with {NAMED}, such as use=D."
            )
        )
    if lead.unread:
        told.append(
            f"Lines above the table that were not read: {', '.join(lead.unread[:12])}{', ...' if lead.unread[12:] else ''}."
        )
    marks = [line for line in lead.unread if may_be_mark(line)]
    if marks:
        told.append(
            Check(
                f"CHECK: {', '.join(marks[:3])} may be the highest speed marked on the wheel. If it is, give it in m/s in a line "
                "marked_wheel_speed: it was not checked. Never run a wheel above the speed marked on it."
            )
        )
    return told


def _column_name(texts: Sequence[str], column: int) -> str:
    text = texts[column] if column < len(texts) else ""
    if text:
        return f"'{short(text)}'"
    from openpyxl.utils import get_column_letter

    return f"column {get_column_letter(column + 1) if column < _LETTERED else column + 1}"


def _refuse_log(rows: Sequence[Row], layout: Layout, value: Callable[[Any], Any]) -> None:
    """A log over time is no list of readings, however short it is."""
    times = [column for column, text in enumerate(layout.texts) if is_time(text) and column not in layout.columns.values()]
    count = len(readings_in(rows, layout, value))
    for column in times:
        stamps = [finite_in(value(row.cell(column))) for row in readings_in(rows, layout, value)]
        steps = [later - stamp for stamp, later in zip(stamps, stamps[1:]) if None not in (stamp, later)]
        even = len(steps) > 20 and len(steps) == count - 1 and min(steps) > 0 and max(steps) < 1.5 * min(steps)
        if count > MOST_READINGS_OVER_TIME or even:
            raise log_refused(f"{count} rows under '{short(layout.texts[column])}'")
