"""What every printed page of a workbook carries."""

from __future__ import annotations

from openpyxl.utils import column_index_from_string

from gritfuncs.workbooks.book import Book


def test_each_page_has_title_state_and_check_line_and_no_link_cuts_the_heading():
    book = Book("a book", state='"Guards closed."', links=(("Inputs", "Inputs"), ("Help", "Help")))
    heading = "A heading that is wider than the first column of its sheet"
    sheet = book.page("narrow", heading, (5, 56, 9)).sheet
    one = book.page("one page", "Short", (40, 40), one_page=True).sheet
    book.finish()
    assert sheet.print_title_rows == "$1:$4" and not one.print_title_rows
    links = [cell for cell in sheet[1] if cell.hyperlink]
    assert [cell.value for cell in links] == ["Inputs", "Help"]
    before = [letter for letter in "ABC" if column_index_from_string(letter) < links[0].column]
    assert sum(sheet.column_dimensions[letter].width for letter in before) > len(heading)
    (state,) = sheet.merged_cells.ranges
    assert (state.min_row, state.min_col) == (2, 1) and state.max_col > 3
