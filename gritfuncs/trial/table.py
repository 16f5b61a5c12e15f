"""Table: what a file of any kind holds, before anything is computed from it."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any, Callable, NamedTuple

from ..quantities import QUANTITIES, finite_in, shown, yes_or_no
from ..refused import Refused
from ..units import is_unit, ratio
from .headings import NUMBER_ROLES, SHOWN_UNITS, is_time
from .layout import MOST_READINGS_OVER_TIME, Layout, load_unit, log_refused
from .readings import Entry
from .rows import Row, one_line
from .words import LOAD_KINDS, STEADY_WORDS, Lead, Line, Words, column_line, in_shop_units

RELATIVE = "relative"  # kind of load of any unit; unit of depths and energies that are only in proportion
STEADY = 0.01  # how far a value may change from reading to reading and still be called the same; meters are read to about this


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


def chosen_kind(found: str, wanted: str | None) -> str:
    """The wanted kind of load, unless the column that was found holds something else."""
    if wanted is None or wanted == found:
        return found
    if found == "specific_energy":
        raise Refused("load_kind", "be left out where specific energies are given", shown(wanted))
    if RELATIVE not in (wanted, found):
        raise Refused("load_kind", f"be {found} or {RELATIVE} for this file", shown(wanted))
    return wanted


def table_of(source: str, rows: Sequence[Row], layout: Layout, lead: Lead, value: Callable[[Any], Any]) -> Table:
    """The table that a layout finds in the rows; `value` gives the number that a cell writes, or the cell as it is."""
    _refuse_log(rows, layout, value)
    lines, steady = dict(lead.lines), _steady_columns(rows, layout, value)
    for column, (word, line) in list(steady.items()):
        if word in lines:
            _check_agreement(word, lines[word], line)
            del steady[column]
        else:
            lines[word] = line
    words, told = in_shop_units(lines)
    kind = "specific_energy" if layout.load is None else {"load": RELATIVE}.get(layout.load, layout.load)
    kind = chosen_kind(kind, words.choice("load_kind", LOAD_KINDS))
    factors = _factors(layout)

    def read(role: str, cell: Any) -> Any:
        return _times(value(cell), factors.get(role, Fraction(1))) if role in NUMBER_ROLES else cell

    _convert_idle(words.values, lines, layout)
    return Table(
        source,
        layout.entries(rows, read),
        words,
        kind,
        "grit_depth" in layout.columns,
        layout.load is None,
        tuple(_remarks(rows, layout, lead, value, steady) + told),
        load_factor=factors.get(layout.load or "", Fraction(1)),
        title=lead.title,
    )


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
    if unit and used:
        factor = ratio(unit, used)
        if factor is None:
            raise Refused("idle", f"be in {used}", f"{unit!r:.40}")
    else:
        factor = _factors(layout).get(layout.load, Fraction(1))
    values["idle"] = _times(values["idle"], factor)


def _readings_in(rows: Sequence[Row], layout: Layout, value: Callable[[Any], Any]) -> list[Row]:
    """The rows that have what a reading needs and are not set aside."""
    across = layout.columns["grit_depth" if "grit_depth" in layout.columns else "work_rpm"]
    upward = layout.columns[layout.load or "specific_energy"]
    use = layout.columns.get("use")
    return [
        row
        for row in rows[layout.start :]
        if all(finite_in(value(row.cell(column))) is not None for column in (across, upward))
        and (use is None or yes_or_no(row.cell(use)) is not False)
    ]


def _steady_columns(rows: Sequence[Row], layout: Layout, value: Callable[[Any], Any]) -> dict[int, tuple[str, Line]]:
    """Columns of what must stay the same in a trial, each as the setup line that it amounts to; Refused where it changes."""
    found: dict[int, tuple[str, Line]] = {}
    given_by_table = "grit_depth" in layout.columns and layout.load is None
    for column in layout.other_columns():
        word, unit, basis = column_line(layout.texts[column])
        numbers = [(row.number, finite_in(value(row.cell(column)))) for row in _readings_in(rows, layout, value)]
        held = [(row, number) for row, number in numbers if number is not None]
        if word not in STEADY_WORDS or not held or given_by_table:
            continue
        (lowest, low), (highest, high) = (end(held, key=lambda pair: pair[1]) for end in (min, max))
        if high - low > STEADY * abs(high):
            got = f"{low:g} in row {lowest} and {high:g} in row {highest}"
            hint = f"read the rows of one {word} at a time, or give depths and specific energies"
            raise Refused(word, "be the same in every reading: depth and energy do not follow from the rpm alone", got, hint=hint)
        mean = low if low == high else sum(number for _, number in held) / len(held)
        found[column] = (word, Line(held[0][0], mean, unit, basis))
    return found


def _check_agreement(word: str, line: Line, column: Line) -> None:
    """A setup line and a column of the same thing must not contradict each other."""
    one, other = (
        finite_in(QUANTITIES[word].converted(each.value, each.unit or QUANTITIES[word].unit)) for each in (line, column)
    )
    if one is not None and other is not None and line.basis == column.basis and abs(one - other) > STEADY * abs(one):
        raise Refused(word, "be the same above the table and in its column", f"{one:g} and {other:g} {QUANTITIES[word].unit}")


def _remarks(
    rows: Sequence[Row], layout: Layout, lead: Lead, value: Callable[[Any], Any], steady: dict[int, tuple[str, Line]]
) -> list[str]:
    """What was read, in which units, and what was not."""
    read = ", ".join(f"{role} from '{heading}'" for role, heading in layout.headings.items())
    read += "".join(f", {word} from '{one_line(layout.texts[column], 60)}'" for column, (word, _) in steady.items())
    read += "".join(f", damage from '{one_line(layout.texts[column], 60)}'" for column in layout.damage[1:])
    told = [f"Columns read: {read}."]
    for role, unit in layout.units.items():
        used = SHOWN_UNITS.get(role) or (load_unit(layout) if role == "idle" else "")
        factor = ratio(unit, used) if unit and used and is_unit(unit) else None
        if factor not in (None, 1):
            told.append(f"{role} is written in {unit} and used in {used}: 1 {unit} = {float(factor):.6g} {used}.")
    taken = {*layout.columns.values(), *layout.damage, *steady}
    width = max((len(row.cells) for row in rows[layout.start :]), default=0)
    left = [
        _column_name(layout.texts, column)
        for column in range(width)
        if column not in taken and any(finite_in(value(row.cell(column))) is not None for row in rows[layout.start :])
    ]
    if left:
        told.append(f"Columns with numbers that were not read: {', '.join(left[:12])}{', ...' if left[12:] else ''}.")
    if lead.unread:
        told.append(
            f"Lines above the table that were not read: {', '.join(lead.unread[:12])}{', ...' if lead.unread[12:] else ''}."
        )
    return told


def _column_name(texts: Sequence[str], column: int) -> str:
    text = texts[column] if column < len(texts) else ""
    if text:
        return f"'{one_line(text, 40)}'"
    letters = chr(ord("A") + column % 26)
    return (
        f"column {chr(ord('A') + column // 26 - 1) if column >= 26 else ''}{letters}" if column < 702 else f"column {column + 1}"
    )


def _refuse_log(rows: Sequence[Row], layout: Layout, value: Callable[[Any], Any]) -> None:
    """A log over time is no list of readings, however short it is."""
    times = [column for column, text in enumerate(layout.texts) if is_time(text) and column not in layout.columns.values()]
    count = len(_readings_in(rows, layout, value))
    for column in times:
        stamps = [finite_in(value(row.cell(column))) for row in _readings_in(rows, layout, value)]
        steps = [later - stamp for stamp, later in zip(stamps, stamps[1:]) if None not in (stamp, later)]
        even = len(steps) > 20 and len(steps) == count - 1 and min(steps) > 0 and max(steps) < 1.5 * min(steps)
        if count > MOST_READINGS_OVER_TIME or even:
            raise log_refused(f"{count} rows under '{one_line(layout.texts[column], 40)}'")
