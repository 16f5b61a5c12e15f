"""A table to fill in, a row an entry: each column takes numbers within the limits of its quantity, words to choose from, or a text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from openpyxl.styles import Alignment

from ...quantity import Quantity
from ...sheets.columns import Columns
from ...sheets.page import Page
from ...sheets.styles import number_format
from ...trial.inputs import A_DAY, DATE_FORMAT, DAY


@dataclass(frozen=True)
class EntryColumn:
    """A column to fill in; without a quantity it takes a text."""

    name: str
    label: str
    width: float
    required: bool = True
    quantity: Quantity | None = None
    choices: tuple[str, ...] = ()  # words, of which a text is one
    help: str = ""  # what the label says in short
    is_input = True

    @property
    def heading(self) -> str:
        unit = self.quantity.unit if self.quantity else "-"
        return self.label if unit == "-" else f"{self.label}, {unit}"

    @property
    def number_format(self) -> str | None:
        if self.quantity is None:
            return None
        return DATE_FORMAT if self.quantity is DAY else number_format(self.quantity.digits)


def entry_rows(page: Page, table: Columns, rows: Sequence[Sequence[Any] | None], prefix: str) -> None:
    """The rows, shorter ones allowed, the rules of their cells, and a name for each column: the prefix and its own."""
    for row in rows:
        page.columns_row(table, dict(zip((column.name for column in table.columns), row or ())))
        for column in table.columns:
            if not column.quantity:
                page.sheet[table.here(column.name, page.row - 1)].alignment = Alignment(horizontal="left", vertical="top")
    for column in table.columns:
        area = table.range(column.name)
        page.book.name(prefix + column.name, page.sheet, area)
        if column.quantity:
            page.validate(area, column.quantity, requirement=A_DAY if column.quantity is DAY else "")
        elif column.choices:
            page.offer(area, column.choices, column.label, f"{column.help}. May be blank.")
