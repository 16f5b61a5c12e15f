"""Columns of what a setup line may say for all rows: infeed rate, wheel speed, diameters, width; the same in each row or not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Callable, NamedTuple

from ..quantities import QUANTITIES
from ..refused import Refused
from ..units import parse, ratio
from ..values import finite_in, is_blank, yes_or_no
from .headings import SHOWN_UNITS, basis_of, read_heading
from .layout import Layout
from .lines import Line, column_line
from .readings import CHANGED, SETTINGS, damage_in
from .rows import Row
from .words import ALSO_GIVEN_AS, STEADY_WORDS


class Own(NamedTuple):
    """A column whose value each row has for itself."""

    column: int
    word: str
    unit: str  # "" where none is stated
    basis: str  # radius or diameter, where the heading says so
    first: Line  # of the first reading


class Columns(NamedTuple):
    steady: dict[int, tuple[str, Line]]  # by column: the word, and the setup line that it amounts to
    own: list[Own]


def readings_in(rows: Sequence[Row], layout: Layout, value: Callable[[Any], Any]) -> list[Row]:
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


def columns_of_settings(rows: Sequence[Row], layout: Layout, value: Callable[[Any], Any], lines: Mapping[str, Line]) -> Columns:
    """The columns of setup values, parted in those that hold one value and those that change; Refused where a width changes."""
    steady: dict[int, tuple[str, Line]] = {}
    own: list[Own] = []
    if "grit_depth" in layout.columns and layout.load is None:
        return Columns(steady, own)  # depths and energies hold for themselves
    readings = readings_in(rows, layout, value)
    noted = [row for row in rows[layout.start :] if any(damage_in(row.cell(column)) for column in layout.damage)]
    for column in layout.other_columns():
        word, unit, basis = setting_in(layout, column)
        held = [(row.number, number) for row in readings if (number := finite_in(value(row.cell(column)))) is not None]
        if word not in STEADY_WORDS or not held:
            continue
        damaged = [(row.number, number) for row in noted if (number := finite_in(value(row.cell(column)))) is not None]
        (lowest, low), (highest, high) = (end(held + damaged, key=lambda pair: pair[1]) for end in (min, max))
        if high - low <= CHANGED * abs(high) and not is_per_turn(word, unit):
            numbers = [number for _, number in held]
            mean = numbers[0] if min(numbers) == max(numbers) else sum(numbers) / len(numbers)
            line = Line(held[0][0], mean, unit, basis)
            stands_in = word in lines and any(is_blank(row.cell(column)) for row in readings) and word in SETTINGS
            if not stands_in or _agree(word, lines, line):
                steady[column] = (word, line)
                continue
        got = f"{low:g} in row {lowest} and {high:g} in row {highest}"
        if word not in SETTINGS:
            hint = f"read the rows of one {word} at a time, or give depths and specific energies"
            raise Refused(word, "be the same in every reading: the energy does not follow from the load alone", got, hint=hint)
        if any(word == other.word for other in own):
            raise Refused("", f"have one column of {word} that changes from row to row", "two")
        own.append(Own(column, word, unit, basis, Line(*held[0], unit, basis)))
    for column, (word, line) in list(steady.items()):
        if ALSO_GIVEN_AS.get(word) in {
            each.word for each in own
        }:  # the wheel's rpm beside its speed: they agree in each row or not
            own.append(Own(column, word, line.unit, line.basis, line))
            del steady[column]
    return Columns(steady, own)


def setting_in(layout: Layout, column: int) -> tuple[str, str, str]:
    """The setup word that heads a column, or by which the caller names it; "" for none."""
    named = layout.settings.get(column)
    if named is None:
        return column_line(layout.texts[column])
    heading = read_heading(layout.texts[column] if column < len(layout.texts) else "")
    if heading.unit and ratio(heading.unit, QUANTITIES[named].unit) is None and not is_per_turn(named, heading.unit):
        other = ALSO_GIVEN_AS.get(named)
        if other is None or ratio(heading.unit, QUANTITIES[other].unit) is None:
            raise Refused(named, f"be in {QUANTITIES[named].unit}", f"heading {layout.texts[column]!r:.60}")
        named = other
    return named, heading.unit, heading.basis


def is_per_turn(word: str, unit: str) -> bool:
    """Whether an infeed rate is one for each revolution of the work."""
    meant = parse(unit) if word == "infeed_rate" and unit else None
    return meant is not None and meant.is_per_turn


def put_lines(lines: dict[str, Line], columns: Columns, turns: Callable[[int], float | None]) -> set[str]:
    """Add the columns to the setup lines; gives the words for which only the first reading speaks.

    `turns` gives the work rpm of a row.  A line must agree with a column that holds one value; of one that changes it is the
    value where a cell is blank.
    """
    for word in (*(word for word, _ in columns.steady.values()), *(own.word for own in columns.own)):
        if word in lines and is_blank(lines[word].value):
            del lines[word]
    for word, line in columns.steady.values():
        if word in lines:
            _check_agreement(word, lines, line)
        else:
            lines[word] = line
    assumed = set()
    for own in columns.own:
        if own.word in lines:
            if own.word == "infeed_rate" and not lines[own.word].basis:
                lines[own.word] = lines[own.word]._replace(basis=own.basis)  # a machine shows the one or the other
        elif ALSO_GIVEN_AS.get(own.word) not in lines:
            line = own.first
            if is_per_turn(own.word, own.unit):
                line = line._replace(
                    value=QUANTITIES[own.word].converted(line.value, own.unit, own.word, turns(line.row)), unit=""
                )
            lines[own.word] = line
            assumed.add(own.word)
    return assumed


def _check_agreement(word: str, lines: Mapping[str, Line], column: Line) -> None:
    """A setup line and a column of the same thing must not contradict each other."""
    if not _agree(word, lines, column):
        one, other = _line_and_column(word, lines, column)
        got = f"{one:g} and {other:g} {QUANTITIES[word].unit}{' on the radius' if word == 'infeed_rate' else ''}"
        raise Refused(word, "be the same above the table and in its column", got)


def _agree(word: str, lines: Mapping[str, Line], column: Line) -> bool:
    one, other = _line_and_column(word, lines, column)
    return one is None or other is None or abs(one - other) <= CHANGED * abs(one)


def _line_and_column(word: str, lines: Mapping[str, Line], column: Line) -> tuple[float | None, float | None]:
    """What line and column say in the shop's unit, infeed rates on the radius; a column without a basis has that of the line."""
    line = lines[word]
    basis = line.basis or (basis_of(lines["infeed_basis"].value) if "infeed_basis" in lines else "")
    return _in_shop_unit(word, line, basis), _in_shop_unit(word, column, column.basis or basis)


def _in_shop_unit(word: str, line: Line, basis: str) -> float | None:
    number = finite_in(QUANTITIES[word].converted(line.value, line.unit or QUANTITIES[word].unit))
    return number / 2 if number is not None and word == "infeed_rate" and basis == "diameter" else number


def own_values(
    rows: Sequence[Row], own: list[Own], value: Callable[[Any], Any], turns: Callable[[int], float | None]
) -> dict[int, dict[str, Any]]:
    """By row, what its own columns hold: numbers in the shop's unit, None for a blank cell, anything else as it is."""

    def read(row: Row, column: Own) -> Any:
        cell = value(row.cell(column.column))
        if finite_in(cell) is None:
            return None if is_blank(cell) else cell
        unit, rpm = column.unit or QUANTITIES[column.word].unit, None
        if is_per_turn(column.word, unit):
            rpm = turns(row.number)
            if rpm is None or rpm <= 0:
                return None
        return QUANTITIES[column.word].converted(cell, unit, column.word, rpm)

    return {row.number: {column.word: read(row, column) for column in own} for row in rows}


def rpm_of(rows: Sequence[Row], layout: Layout, value: Callable[[Any], Any]) -> Callable[[int], float | None]:
    """Gives the work rpm [1/min] of a row by its number; None where there is none."""
    column = layout.columns.get("work_rpm")
    if column is None:
        return lambda number: None
    factor = ratio(layout.units.get("work_rpm") or SHOWN_UNITS["work_rpm"], SHOWN_UNITS["work_rpm"]) or 1
    found = {row.number: finite_in(value(row.cell(column))) for row in rows}
    return lambda number: None if (rpm := found.get(number)) is None else float(rpm * factor)
