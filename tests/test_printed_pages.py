"""What every printed page of a workbook carries, and where pages end."""

from __future__ import annotations

import re
import subprocess
from collections import Counter

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook
from openpyxl.chart import ScatterChart
from openpyxl.utils import column_index_from_string, get_column_letter, range_boundaries

from gritfuncs.sheets.book import CALC, Book
from gritfuncs.sheets.paper import SMALLEST, Tables, set_up
from gritfuncs.sheets.save import save_workbook
from gritfuncs.spreadsheets.package import read_package
from gritfuncs.workbooks.templates import TEMPLATES

A4, LETTER = 9, 1
A4_HEIGHT = (210 / 25.4 - 0.5 - 0.6) * 72  # points between the margins, across
WIDEST = 70  # percent at least: 10 points print as 7


def test_each_page_has_title_state_and_check_line_and_no_link_cuts_the_heading():
    book = Book("a book", state='"Guards closed."', links=(("Inputs", "Inputs"), ("Help", "Help")))
    heading = "A heading that is wider than the first column of its sheet"
    sheet = book.page("narrow", heading, (5, 56, 9)).sheet
    one = book.page("one page", "Short", (40, 40), one_page=True).sheet
    longer = book.page("longer", f"{heading}, and wider than the first two together", (5, 56, 70)).sheet
    book.finish()
    assert sheet.print_title_rows == "$1:$4" and not one.print_title_rows
    links = [cell for cell in sheet[1] if cell.hyperlink]
    assert [cell.value for cell in links] == ["Inputs", "Help"]
    before = [letter for letter in "ABC" if column_index_from_string(letter) < links[0].column]
    assert sum(sheet.column_dimensions[letter].width for letter in before) > len(heading)
    assert next(cell.column for cell in longer[1] if cell.hyperlink) > 3  # behind 5 + 56 + 70 signs
    (state,) = sheet.merged_cells.ranges
    assert (state.min_row, state.min_col) == (2, 1) and state.max_col > 3


def test_every_sheet_has_an_area_to_print_that_holds_all_of_it(as_built):
    for sheet in as_built("plunge_cycle.xlsx"):
        left, top, right, bottom = range_boundaries(sheet.print_area.rpartition("!")[2].replace("$", ""))
        assert (left, top) == (1, 1), sheet.title
        if sheet.title != "Results":  # its chart stands below the cells
            assert (right, bottom) == (sheet.max_column, sheet.max_row), sheet.title


SHOWN_IN_PART = ("Log", "Chart data")  # all their rows would fill many pages


@pytest.mark.parametrize("name", TEMPLATES)
def test_an_area_to_print_that_is_smaller_than_its_sheet_ends_with_what_stands_there(name, as_built):
    for sheet in as_built(name):
        left, top, right, bottom = range_boundaries(sheet.print_area.rpartition("!")[2].replace("$", ""))
        assert (left, top) == (1, 1) and right <= sheet.max_column, sheet.title
        if sheet.title in SHOWN_IN_PART or bottom >= sheet.max_row:  # beyond it a chart may stand
            continue
        assert any(cell.value is not None for cell in sheet[bottom][:right]), sheet.title
        assert all(cell.value is None for cell in sheet[bottom + 1][:2]), sheet.title  # no list is cut


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


@given(st.lists(st.integers(2, 14), min_size=1, max_size=14))
def test_no_table_that_fits_a_page_is_split(lengths):
    sheet, tables, row = Workbook().active, Tables(), 5
    for length in lengths:
        tables.begin(row)
        tables.filled = row + length - 1
        row += length
    for number in range(1, row):
        sheet.cell(number, 1, "text")
        sheet.row_dimensions[number].height = 30
    set_up(sheet, tables)
    setup, ends = sheet.page_setup, [broken.id for broken in sheet.row_breaks.brk]
    if not ends:
        assert setup.fitToHeight == 1 and 30 * (row - 1) <= 100 * A4_HEIGHT / SMALLEST
        return
    assert not sheet.sheet_properties.pageSetUpPr.fitToPage and setup.scale >= SMALLEST
    assert {end + 1 for end in ends} <= set(tables.begins)
    pages = list(zip([5, *(end + 1 for end in ends)], [*ends, row - 1]))
    for first, last in pages:
        assert 30 * (4 + last - first + 1) <= 100 * A4_HEIGHT / setup.scale
    for (first, _), (begun, _) in zip(pages, pages[1:]):  # the table after a break would not have fitted before it
        end = next(table for table in [*tables.begins, row] if table > begun)
        assert 1.03 * 30 * (4 + end - first) > 100 * A4_HEIGHT / setup.scale


def test_margins_leave_what_pages_are_counted_by():
    """A4 is 210 by 297 mm (ISO 216), Letter 8.5 by 11 inch; footers stand within the margin below."""
    sheet = Workbook().active
    set_up(sheet, Tables([5], []))
    margins = sheet.page_margins
    for height, width in ((210 / 25.4, 297 / 25.4), (8.5, 11)):
        assert 72 * (height - margins.top - margins.bottom) >= A4_HEIGHT - 0.5
        assert 72 * (width - margins.left - margins.right) >= 720
    assert margins.footer + 8 / 72 < margins.bottom and margins.header <= margins.top


def with_a_table(rows):
    """A book that is not finished, and its page with one table of rows 15 points high."""
    book = Book("a book", state='"Guards closed."')
    page = book.page("long", "A long table", (20, 60))
    page.table_head(("no.", "what"))
    for number in range(rows):
        page.cells((number, "text"))
        page.sheet.row_dimensions[page.row - 1].height = 15
    return book, page


def test_a_table_longer_than_a_page_repeats_its_head_and_one_that_nearly_fits_is_shrunk():
    for rows, pages in ((25, 1), (35, 1), (70, 2)):
        book, page = with_a_table(rows)
        book.finish()
        assert (page.sheet.print_title_rows, page.sheet.page_setup.fitToHeight) == ("$1:$5", pages)
        assert not page.sheet.row_breaks.brk


@pytest.mark.parametrize("pages", [1, 2, 3])
def test_a_long_table_takes_as_many_pages_as_its_rows_fill(pages):
    """At the smallest scale, with the head on each page, and rows that other fonts make a little higher."""

    def taken(rows):
        book, page = with_a_table(rows)
        head = sum(page.sheet.row_dimensions[row].height or 15 for row in range(1, page.row - rows))
        book.finish()
        return head, page.sheet.page_setup.fitToHeight

    fit = int((100 * A4_HEIGHT / SMALLEST / 1.03 - taken(1)[0]) / 15)
    assert (taken(pages * fit)[1], taken(pages * fit + 1)[1]) == (pages, pages + 1)


def test_headings_one_below_the_other_stay_with_their_table():
    book = Book("a book", state='"Guards closed."')
    page = book.page("sheet", "Tables", (20, 60))
    page.heading("First")
    page.table_head(("no.", "what"))
    page.cells((1, "text"))
    page.heading("What can stay")
    page.note("Why.")
    page.heading("Second")
    page.table_head(("no.", "what"))
    page.cells((1, "text"))
    assert book.tables["sheet"].begins == [6, 10]


def read_sheets(workbook):
    """The sheets that people read on paper."""
    return [sheet for sheet in workbook if not sheet.title.startswith(CALC)]


@pytest.mark.parametrize("name", TEMPLATES)
def test_pages_begin_with_a_heading_and_can_be_read(name, as_built):
    workbook = as_built(name)
    for sheet in read_sheets(workbook):
        setup = sheet.page_setup
        for end in (broken.id for broken in sheet.row_breaks.brk):
            head, before = sheet.cell(end + 1, 1), sheet.cell(end, 1)
            assert head.value and head.font.bold, (sheet.title, end)
            assert not (before.value and before.font.bold), (sheet.title, end)
        if not sheet.sheet_properties.pageSetUpPr.fitToPage:
            assert WIDEST <= setup.scale <= 100, sheet.title
        repeated = int((sheet.print_title_rows or "$4").rpartition("$")[2])
        assert 4 <= repeated <= 12, sheet.title


@pytest.mark.parametrize("name", TEMPLATES)
def test_each_page_across_has_the_whole_state_line(name, as_built):
    for sheet in read_sheets(as_built(name)):
        again = column_index_from_string(sheet.print_title_cols.rpartition("$")[2]) if sheet.print_title_cols else 0
        lines = [area for area in sheet.merged_cells.ranges if area.min_row == area.max_row == 2]
        lines = [area for area in lines if sheet.cell(2, area.min_col).value == "=out_state"]
        first = 1
        printed = range_boundaries(sheet.print_area.rpartition("!")[2])[2] if sheet.print_area else sheet.max_column
        for last in (*(broken.id for broken in sheet.col_breaks.brk), printed):
            shown = {*range(1, again + 1), *range(first, last + 1)}
            assert any(set(range(area.min_col, area.max_col + 1)) <= shown for area in lines), (
                sheet.title,
                get_column_letter(first),
            )
            first = last + 1


@pytest.mark.parametrize("name", TEMPLATES)
def test_each_page_across_has_its_title_and_the_check_line(name, as_built):
    for sheet in read_sheets(as_built(name)):
        again = column_index_from_string(sheet.print_title_cols.rpartition("$")[2]) if sheet.print_title_cols else 0
        first = 1
        for last in (*(broken.id for broken in sheet.col_breaks.brk), sheet.max_column):
            shown = {*range(1, again + 1), *range(first, last + 1)}
            head = {
                cell.value: cell for row in sheet.iter_rows(max_row=10) for cell in row if cell.column in shown and cell.value
            }
            assert "=in_title" in head or head.get("Record of the trial"), (sheet.title, first)
            assert "=out_check" in head or sheet.title == "2 Trial", (sheet.title, first)  # there the block Watch says it
            first = last + 1


@pytest.mark.parametrize("name, paper", [("speed_table.xlsx", A4), ("knee_record.xlsx", LETTER), ("power_log.xlsx", A4)])
def test_libreoffice_ends_pages_where_they_are_meant_to_end(name, paper, as_built, libreoffice, tmp_path):
    as_built(name).save(tmp_path / name)
    workbook = openpyxl.load_workbook(tmp_path / name)
    for sheet in workbook:
        sheet.page_setup.paperSize = paper
    workbook.save(tmp_path / name)
    sheets = [sheet for sheet in read_sheets(workbook) if sheet.row_breaks.brk or sheet.page_setup.fitToHeight]
    printed = libreoffice.convert(tmp_path / name, tmp_path / "book.pdf", [sheet.title for sheet in sheets])
    told = subprocess.run(["pdftotext", "-layout", str(printed), "-"], capture_output=True, text=True, check=True).stdout
    assert "###" not in told
    pages = told.removesuffix("\f").split("\f")
    footers = [re.findall(rf"{name}, (.+?), ", page)[-1] for page in pages]
    wanted = {
        sheet.title: len(sheet.row_breaks.brk) + 1 if sheet.row_breaks.brk else sheet.page_setup.fitToHeight for sheet in sheets
    }
    assert Counter(footers) == wanted
    for page, sheet in zip(pages, footers):
        assert "speed marked on it" in page.partition(name)[0], sheet
        if sheet in ("Inputs", "Look up"):
            assert "what it is, what it must be" in page


def test_sentences_of_the_functions_run_on_to_the_edge_of_the_page(as_built):
    book = as_built("functions.xlsx")
    sheet, knee = book["Functions"], book["Knee"]
    (title,) = (cell for cell in sheet[5] if not cell.protection.locked)
    room = sum(sheet.column_dimensions[letter].width for letter in "CD")  # to the last column that is printed
    assert title.column_letter == "C" and len(title.value) <= room
    labels = {knee.cell(row, 1).value: row for row in range(5, 60)}
    assert knee.cell(labels["what was seen"], 3).value is None and knee.cell(labels["knee"], 3).value == "µm"


@pytest.mark.parametrize("name", ["trial.xlsx", "speed_table.xlsx", "plunge_cycle.xlsx"])
def test_the_inputs_print_on_two_pages(name, as_built):
    (sheet,) = (sheet for sheet in as_built(name) if sheet.title.endswith("Inputs"))
    assert len(sheet.row_breaks.brk) == 1
    assert 9 * sheet.page_setup.scale / 100 >= 7  # points, of the smallest text


@pytest.mark.parametrize("name, sheet", [("speed_table.xlsx", "Speed table"), ("plunge_cycle.xlsx", "Results")])
def test_a_long_title_is_shown_smaller_where_links_stand_beside_it(name, sheet, as_built):
    assert as_built(name)[sheet]["A1"].alignment.shrink_to_fit


@pytest.mark.parametrize("name", TEMPLATES)
def test_links_in_cells_of_their_own_do_not_touch_and_a_long_text_stays_within_its_border(name, as_built):
    for sheet in as_built(name):
        merged = {cells.coord.partition(":")[0]: cells for cells in sheet.merged_cells.ranges}
        for cell in sheet[1]:
            if cell.hyperlink and cell.coordinate not in merged:
                width = sheet.column_dimensions[cell.column_letter].width
                assert len(cell.value) < 1.2 * width, (sheet.title, cell.coordinate)  # 9 points in the width of 11
    ((title, cell),) = as_built(name).defined_names["in_title"].destinations
    sheet, row = as_built(name)[title], as_built(name)[title][cell].row
    own = [each for each in sheet[row][2:] if each.fill.fgColor.rgb == sheet[cell].fill.fgColor.rgb]
    assert [bool(each.border.right and each.border.right.style) for each in own] == [False] * (len(own) - 1) + [True]
    assert len(own) > 2 or name == "functions.xlsx"  # whose title fits its cell
    assert [each.coordinate for each in own if not each.protection.locked] == [cell.replace("$", "")]
