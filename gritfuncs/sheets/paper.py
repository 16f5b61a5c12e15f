"""Where the printed pages of a sheet end: with a table where that is possible, on as few pages as can be read.

Excel does not promise to keep page breaks where it fits a sheet to pages; so a sheet with breaks has a scale of its own, at which it
fits A4 and Letter alike, and all others are fitted.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from openpyxl.utils import column_index_from_string, range_boundaries
from openpyxl.worksheet.pagebreak import Break

from .sizes import column_width
from .words import FOOTER_CAUTION

SMALLEST = 78  # percent: text of 9 points, the smallest of tables, prints as 7
_A4 = 9
_WIDTH, _HEIGHT = 10.0 * 72, 7.17 * 72  # points within the margins of Letter, and of A4, both across
_MARGINS = dict(left=0.5, right=0.5, top=0.5, bottom=0.6, header=0.3, footer=0.3)  # inch
_ROW_HEIGHT = 15.0  # points of a row without its own
_SIGN, _PADDING = 5.25, 3.75  # points of a column: for each sign of its width, and for itself
_SPARE = 1.03  # other fonts make rows higher and columns wider
_HEAD = 4  # rows of each page: title, state, check line and heading
_HIGHEST_HEAD = 12  # row of a table's head that can be printed on each page


@dataclass
class Tables:
    """The rows at which tables begin on a sheet, with the heading above them, and the rows of their heads."""

    begins: list[int] = field(default_factory=list)
    heads: list[int] = field(default_factory=list)
    filled: int = 0  # the last row of a table so far

    def begin(self, row: int) -> None:
        """A printed page may begin at a row, unless only headings and notes stand between it and the last such row."""
        if not self.begins or self.filled >= self.begins[-1]:
            self.begins.append(row)


def set_up(sheet, tables: Tables) -> None:
    """The print set-up of a sheet that is complete; what the sheet has set by itself stays."""
    setup = sheet.page_setup
    setup.orientation, setup.paperSize, setup.fitToWidth = "landscape", _A4, 1
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    for side, inches in _MARGINS.items():
        setattr(sheet.page_margins, side, inches)
    for part, text in (("left", "&F, &A, &D"), ("center", FOOTER_CAUTION), ("right", "page &P of &N")):
        of_footer = getattr(sheet.oddFooter, part)
        of_footer.text, of_footer.size = text, 8
    if not sheet.print_area and not sheet._charts:  # LibreOffice pages a sheet without one to its last row, at each title
        sheet.print_area = sheet.dimensions
    if setup.fitToHeight == 1:
        return
    if not sheet.print_title_rows:
        has_one = len(tables.heads) == len(tables.begins) == 1 and tables.heads[0] <= _HIGHEST_HEAD
        sheet.print_title_rows = f"1:{tables.heads[0] if has_one else _HEAD}"
    _end_pages(sheet, tables.begins)


def _end_pages(sheet, begins: Sequence[int]) -> None:
    """Choose scale and breaks; breaks between columns are those that the sheet has."""
    repeated = int(sheet.print_title_rows.rpartition("$")[2])
    columns, last = (
        range_boundaries(sheet.print_area.rpartition("!")[2])[2:] if sheet.print_area else (sheet.max_column, sheet.max_row)
    )
    widest = int(100 * _WIDTH / (_SPARE * max(_widths(sheet, columns))))
    heights = [_SPARE * _height(sheet, row) for row in range(1, last + 1)]
    found = [
        (scale, list(_breaks(heights, begins, repeated, 100 * _HEIGHT / scale)))
        for scale in range(min(100, widest), min(SMALLEST, widest) - 1, -1)
    ]
    # the fewest tables split, on the fewest pages; of equals the first, which is the largest
    scale, breaks = min(found, key=lambda pair: (len(set(pair[1]) - set(begins)), len(pair[1])))
    chosen = [row for row in breaks if row in begins]  # a page that is full ends by itself
    if sheet.col_breaks.brk or chosen:
        sheet.sheet_properties.pageSetUpPr.fitToPage = False
        sheet.page_setup.scale = scale
        for row in chosen:
            sheet.row_breaks.append(Break(id=row - 1))
    else:
        sheet.page_setup.fitToHeight = len(breaks) + 1


def _breaks(heights: Sequence[float], begins: Sequence[int], repeated: int, page: float) -> Iterator[int]:
    """The first rows of all pages but the first: with a table that would be split, else where the page is full."""
    head = sum(heights[:repeated])
    ends = [*(row for row in begins if row > repeated + 1), len(heights) + 1]
    used, first = head, repeated + 1
    for end in ends:
        table = heights[first - 1 : end - 1]
        if used > head and used + sum(table) > page and head + sum(table) <= page:
            yield first
            used = head
        for row, height in enumerate(table, first):
            if used + height > page:
                yield row
                used = head
            used += height
        first = end


def _widths(sheet, columns: int) -> Iterator[float]:
    """Of the pages across: up to each break, with the columns that are repeated."""
    repeated = column_index_from_string(sheet.print_title_cols.rpartition("$")[2]) if sheet.print_title_cols else 0
    first = 1
    for last in (*(broken.id for broken in sheet.col_breaks.brk), columns):
        again = range(1, repeated + 1) if first > repeated else ()
        yield sum(_width(sheet, column) for column in (*again, *range(first, last + 1)))
        first = last + 1


def _width(sheet, column: int) -> float:
    return _SIGN * column_width(sheet, column) + _PADDING


def _height(sheet, row: int) -> float:
    return (sheet.row_dimensions[row].height if row in sheet.row_dimensions else None) or _ROW_HEIGHT
