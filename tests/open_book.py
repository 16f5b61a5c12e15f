"""A workbook open in a spreadsheet engine: type into the inputs by their names, read the results by theirs.

Filling in anew takes milliseconds where building a book anew takes seconds, so that hundreds of random inputs can be tried.
"""

from __future__ import annotations

import io

import formualizer
from openpyxl.utils.cell import range_boundaries


class OpenBook:
    """formualizer holding a workbook of openpyxl."""

    def __init__(self, workbook):
        file = io.BytesIO()
        workbook.save(file)
        self._book = formualizer.Workbook.from_bytes(file.getvalue())
        self._places = {name: next(iter(defined.destinations)) for name, defined in workbook.defined_names.items()}
        self._given: dict[str, str] = {}  # what was last typed into an input

    def names(self) -> set[str]:
        return set(self._places)

    def fill(self, **values) -> None:
        """Type into the named inputs, without their in_; a list goes into its cells from the first on, None blanks.

        Rows of a table may be shorter than it is wide.
        """
        for name, value in values.items():
            if self._given.get(name) == repr(value):
                continue
            self._given[name] = repr(value)
            sheet, rows = self._cells("in_" + name)
            width, listed = len(rows[0]), list(value) if isinstance(value, (list, tuple)) else [value]
            if any(isinstance(row, (list, tuple)) for row in listed):
                assert max(map(len, listed)) <= width, name
                listed = [cell for row in listed for cell in (*row, *(None,) * (width - len(row)))]
            assert len(listed) <= width * len(rows), name
            listed += [None] * (width * len(rows) - len(listed))
            # all at once: the engine looks for what depends on a cell each time that it is given one
            self._book.set_values_batch(sheet, *rows[0][0], [listed[at : at + width] for at in range(0, len(listed), width)])

    def put_formula(self, name: str, number: int, formula: str) -> None:
        """Type a formula into the cell of that number, counted from 1, of a named input with one column."""
        sheet, rows = self._cells("in_" + name)
        self._given.pop(name, None)
        self._book.set_formula(sheet, *rows[number - 1][0], formula)

    def fill_example(self, template, **values) -> None:
        """Type the inputs of the example of a template's module, but for its tables, and these."""
        tables = ("readings", "observations", "records")
        known = {name: value for name, value in template.defaults().items() if "in_" + name in self._places}
        self.fill(**{**{name: value for name, value in known.items() if name not in tables}, **values})

    def read(self) -> None:
        self._book.evaluate_all()

    def results(self) -> dict:
        """What stands under every name that begins with out_."""
        return {name: self[name] for name in self._places if name.startswith("out_")}

    def __getitem__(self, name: str):
        """The value of a named cell; a list of rows of a named area. Nothing is None, an error a text that begins with #."""
        sheet, rows = self._cells(name)
        values = [[_value(self._book.get_value(sheet, row, column)) for row, column in cells] for cells in rows]
        return values[0][0] if len(values) == len(values[0]) == 1 else values

    def at(self, sheet: str, address: str):
        """The value of a cell without a name."""
        column, row, _, _ = range_boundaries(address)
        return _value(self._book.get_value(sheet, row, column))

    def _cells(self, name: str):
        sheet, area = self._places[name]
        left, top, right, bottom = range_boundaries(area.replace("$", ""))
        return sheet, [[(row, column) for column in range(left, right + 1)] for row in range(top, bottom + 1)]


def _value(found):
    if isinstance(found, dict):
        return f"#{found.get('kind')}"
    return None if found == "" else found
