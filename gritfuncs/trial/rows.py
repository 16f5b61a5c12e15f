"""Rows of cells, whatever kind of file they come from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from ..refused import Refused, printable
from ..values import is_blank

MAX_ROWS = 500  # a trial has a few dozen readings; more is a log, which has to be condensed before it is judged


class Measured(float):
    """The number of a cell that shows it in another size or with a unit: 13.78 as "13.78 in", 0.5 as "50 %"."""

    __slots__ = ("times", "unit")
    times: Fraction
    unit: str

    def __new__(cls, stored: float, times: Fraction, unit: str) -> Measured:
        self = super().__new__(cls, stored)
        self.times, self.unit = times, unit
        return self

    @property
    def shown(self) -> float:
        return float(Fraction(float(self)) * self.times)


class Row(NamedTuple):
    number: int  # in the file, from 1
    cells: Sequence[Any]  # numbers, texts, None for blank, Unreadable
    blanks_before: int = 0  # rows without anything between this one and the filled one above

    def cell(self, column: int) -> Any:
        return self.cells[column] if column < len(self.cells) else None


def filled(rows) -> list[Row]:
    """The rows that hold anything, or ValueError when they are too many to be a trial."""
    kept, blanks = [], 0
    for row in rows:
        blanks += row.blanks_before
        if all(map(is_blank, row.cells)):
            blanks += 1
        else:
            kept.append(row._replace(blanks_before=blanks))
            blanks = 0
            if len(kept) > MAX_ROWS:
                beyond = f"row {row.number} is beyond that): condense a log to a few dozen readings"
                raise Refused("", f"have at most {MAX_ROWS} filled rows ({beyond}")
    return kept


def one_line(text: Any, longest: int = 300) -> str:
    """The text in one line of signs that can be shown, cut where it is too long to be read."""
    line = printable(str(text))
    return line if len(line) <= longest else line[: longest - 3] + "..."


def short(text: Any) -> str:
    """The beginning of a text, for a sentence that only tells which one is meant."""
    return one_line(text, 40)


def quoted(text: Any) -> str:
    """The same in quotes, as a message shows what it was."""
    return repr(short(text))


def named_rows(said: Iterable[tuple[int, str]]) -> list[str]:
    """A line for each text with the rows that it is said of, in the order of their first: "rows 2 to 5, 9: left out"."""
    rows: dict[str, list[int]] = {}
    for row, text in said:
        rows.setdefault(text, []).append(row)
    return [f"row{'s' if of[1:] else ''} {_spans(of)}: {text}" for text, of in rows.items()]


def _spans(rows: list[int]) -> str:
    """Rows in their order, three and more neighbours as the first to the last."""
    spans: list[list[int]] = []
    for row in rows:
        if spans and row == spans[-1][-1] + 1:
            spans[-1].append(row)
        else:
            spans.append([row])
    parts = [[f"{span[0]} to {span[-1]}"] if len(span) > 2 else map(str, span) for span in spans]
    return ", ".join(part for each in parts for part in each)
