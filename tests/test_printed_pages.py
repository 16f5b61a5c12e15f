"""What every printed page of a workbook carries."""

from __future__ import annotations

import re

from openpyxl import load_workbook
from openpyxl.chart import ScatterChart
from openpyxl.utils import column_index_from_string, range_boundaries

from gritfuncs.spreadsheets.package import read_package
from gritfuncs.workbooks.book import Book
from gritfuncs.workbooks.save import save_workbook


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


def test_every_sheet_has_an_area_to_print_that_holds_all_of_it(as_built):
    for sheet in as_built("plunge_cycle.xlsx"):
        left, top, right, bottom = range_boundaries(sheet.print_area.rpartition("!")[2].replace("$", ""))
        assert (left, top) == (1, 1), sheet.title
        if sheet.title != "Results":  # its chart stands below the cells
            assert (right, bottom) == (sheet.max_column, sheet.max_row), sheet.title


def test_an_area_of_its_own_stays_and_a_sheet_with_a_chart_gets_none():
    book = Book("a book")
    chosen, drawn = (book.page(name, "Heading", (20, 20)).sheet for name in ("chosen", "drawn"))
    chosen.print_area = "A1:B2"
    drawn.add_chart(ScatterChart(), "A20")  # may reach beyond the cells
    book.finish()
    assert chosen.print_area == "'chosen'!$A$1:$B$2" and not drawn.print_area


def test_areas_to_print_are_told_before_titles(tmp_path):
    book = Book("a book")
    for name in ("first", "second"):
        book.page(name, "Heading", (20, 20))
    book.workbook["first"]["C1"] = 1
    book.name("in_title", book.workbook["first"], "C1")
    book.name("out_check", book.workbook["first"], "C1")
    save_workbook(book.finish(), tmp_path / "book.xlsx")
    names = re.findall(r'<definedName name="([^"]*)"', read_package(tmp_path / "book.xlsx").text("xl/workbook.xml"))
    assert names == ["_xlnm.Print_Area"] * 2 + ["in_title", "out_check"] + ["_xlnm.Print_Titles"] * 2
    read = load_workbook(tmp_path / "book.xlsx")
    assert [(sheet.print_title_rows, sheet.print_area) for sheet in read] == [
        ("$1:$4", f"'{name}'!$A$1:${sheet.dimensions[3]}${sheet.max_row}") for name, sheet in zip(read.sheetnames, read)
    ]
