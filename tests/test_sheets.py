"""The building blocks of the sheets: what a cell may hold, where a table ends, what stands in its head."""

from __future__ import annotations

import pytest
from openpyxl import Workbook
from openpyxl.utils import column_index_from_string, get_column_letter, range_boundaries
from seen_cells import shown

from gritfuncs.quantity import Quantity
from gritfuncs.sheets.book import Book
from gritfuncs.sheets.charts import bare_chart, scatter_chart
from gritfuncs.sheets.sizes import row_height
from gritfuncs.sheets.styles import MEDIUM, THIN, number_format, outline
from gritfuncs.sheets.words import CAUTION_LINES
from gritfuncs.trial.inputs import MORE, NEEDED
from gritfuncs.workbooks.templates import TEMPLATES

LONG = "A text that goes on and on. " * 20


@pytest.mark.parametrize("digits, text", [(0, "1235"), (1, "1234.6"), (4, "1234.5678")])
def test_so_many_decimals(digits, text):
    assert shown(1234.56781, number_format(digits)) == text


def test_what_is_said_beside_a_cell_keeps_to_what_excel_takes():
    """Titles of 32 and messages of 255 signs (specifications of Excel)."""
    page = Book("a book").page("sheet", "Heading", (30,) * 6)
    page.validate("B2:B20", Quantity("x", "-", LONG, "mm", LONG, low=0.0))
    (rule,) = page.sheet.data_validations.dataValidation
    assert (len(rule.promptTitle), len(rule.errorTitle), len(rule.prompt)) == (32, 32, 255) and len(rule.error) <= 255
    assert LONG.startswith(rule.promptTitle) and rule.showErrorMessage and rule.allow_blank


def test_a_line_goes_round_a_block_and_leaves_what_is_inside():
    sheet = Workbook().active
    outline(sheet, "B2:D4", THIN)
    outline(sheet, "B2:C3", MEDIUM)
    sides = {cell: {side for side in ("left", "right", "top", "bottom") if getattr(sheet[cell].border, side) == MEDIUM} for cell in
             ("B2", "C2", "B3", "C3", "D2", "B4")}  # fmt: skip
    assert sides == {"B2": {"left", "top"}, "C2": {"right", "top"}, "B3": {"left", "bottom"}, "C3": {"right", "bottom"}, "D2": set(), "B4": set()}  # fmt: skip
    assert sheet["D4"].border.right == sheet["D4"].border.bottom == sheet["D2"].border.top == THIN
    outline(sheet, "F9", MEDIUM)
    assert sheet["F9"].border.left == sheet["F9"].border.right == sheet["F9"].border.top == sheet["F9"].border.bottom == MEDIUM


def test_a_row_is_as_high_as_its_lines():
    assert row_height(0, 10) == row_height(10, 10) < row_height(11, 10) == row_height(20, 10) < row_height(21, 10)


def test_energies_are_drawn_from_zero_and_axes_with_their_numbers():
    """A fall that begins above zero looks steeper than it is."""
    assert bare_chart().y_axis.scaling.min == 0
    for chart in (bare_chart(), scatter_chart("a", "b", "c", 10, 10)):
        assert not chart.x_axis.delete and not chart.y_axis.delete
        assert chart.x_axis.tickLblPos == chart.y_axis.tickLblPos == "low"


@pytest.mark.parametrize("name", [name for name in TEMPLATES if name != "functions.xlsx"])
def test_cautions_are_bold_where_the_book_is_seen_first(name, as_built):
    first = as_built(name).worksheets[0]
    bold = {str(cell.value) for row in first.iter_rows(max_col=1, max_row=12) for cell in row if cell.font.bold}
    if name != "power_log.xlsx":  # says them in its first page's own words
        assert set(CAUTION_LINES) <= bold


@pytest.mark.parametrize("name", TEMPLATES)
def test_every_book_has_the_usual_cautions(name, as_built):
    """Written anew: what a caution must speak of, whatever the sentence says of it."""
    said = " ".join(
        str(cell.value) for sheet in as_built(name) for row in sheet.iter_rows() for cell in row if cell.value
    ).lower()
    for words in (
        ("faster than the speed marked on it", "above the speed marked on it"),
        ("guards closed",),
        ("ring-test",),
        ("cobalt",),
        ("coolant mist",),
        ("use extraction",),
        ("work discolours or cracks",),
        ("torn out of the wheel",),
        ("local rules",),
        ("wheel and machine makers",),
        ("qualified people",),
    ):
        assert any(each in said for each in words), words


@pytest.mark.parametrize("name", TEMPLATES)
def test_what_is_printed_at_a_scale_fits_across_the_page(name, as_built):
    """10 inch within the margins of A4 and Letter alike; a digit of 10 points is 5.25 points wide."""
    for sheet in as_built(name):
        if sheet.sheet_properties.pageSetUpPr.fitToPage:
            continue
        last = range_boundaries(sheet.print_area.rpartition("!")[2])[2] if sheet.print_area else sheet.max_column
        again = column_index_from_string(sheet.print_title_cols.rpartition("$")[2]) if sheet.print_title_cols else 0
        first = 1
        for end in (*(broken.id for broken in sheet.col_breaks.brk), last):
            columns = {*range(1, again + 1), *range(first, end + 1)}
            letters = [get_column_letter(column) for column in columns]
            points = sum(5.25 * (sheet.column_dimensions[x].width if x in sheet.column_dimensions else 9) for x in letters)
            assert points * sheet.page_setup.scale / 100 <= 720, (sheet.title, first)
            first = end + 1


@pytest.mark.parametrize("name", TEMPLATES)
def test_heads_of_tables_are_bold_and_stay_in_sight(name, as_built):
    """Where a table is longer than a screen, its head or the title above it does not scroll away."""
    for sheet in as_built(name):
        heads = [cell for row in sheet.iter_rows(max_row=20, max_col=1) for cell in row if cell.value == "no."]
        assert all(cell.font.bold for cell in heads), sheet.title
        long = [cell for cell in heads if all(sheet.cell(cell.row + n, 1).value is not None for n in range(1, 31))]
        for cell in long:
            assert sheet.freeze_panes and int(sheet.freeze_panes.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")) > cell.row, sheet.title


def panels(sheet):
    """The cells of a sheet with the large number or word of a panel."""
    return [cell for row in sheet.iter_rows(max_row=12) for cell in row if cell.value is not None and cell.font.size >= 16]


@pytest.mark.parametrize("name", ["trial.xlsx", "plunge_cycle.xlsx", "knee_record.xlsx"])
def test_a_panel_has_its_label_above_is_of_one_size_with_its_neighbours_and_dark_at_stop(name, as_built):
    found = 0
    for sheet in as_built(name):
        areas = [set(area.cells) for area in sheet.merged_cells.ranges]
        assert len(set().union(*areas)) == sum(map(len, areas)), sheet.title  # no two overlap: Excel calls such a file damaged
        big = panels(sheet)
        numbers = [cell for cell in big if "STOP" in cell.value]
        assert len({cell.font.size for cell in numbers}) <= 1, sheet.title
        for cell in big if sheet.title in ("2 Trial", "Results", "Confirm") else ():
            label = sheet.cell(cell.row - 1, cell.column)
            assert label.value and label.font.bold, cell.coordinate
            assert all(sheet.cell(cell.row + below, cell.column).value for below in (1, 2)) or cell not in numbers
        for cell in numbers:
            rules = [
                rule
                for area in sheet.conditional_formatting
                if cell.coordinate in area.sqref
                for rule in area.rules
                if f'${cell.coordinate[0]}${cell.row}="STOP"' in rule.formula[0]
            ]
            assert rules and rules[0].dxf.font.color.rgb == "FFFFFFFF", cell.coordinate
            found += 1
    assert found


def test_each_group_of_inputs_of_a_trial_begins_with_its_name(as_built):
    sheet = as_built("trial.xlsx")["1 Inputs"]
    first = [(cell.value, cell.font.bold) for (cell,) in sheet.iter_rows(max_col=1)]
    for title in filter(None, (*NEEDED, *MORE)):
        assert (title, True) in first


@pytest.mark.parametrize("name", TEMPLATES)
def test_the_state_the_checks_and_the_name_of_a_sheet_are_bold(name, as_built):
    for sheet in as_built(name):
        said = [cell for row in sheet.iter_rows(max_row=12) for cell in row if cell.value in ("=out_check", "=out_state")]
        first = sheet["A1"]
        assert said and all(cell.font.bold for cell in (*said, first)), sheet.title
        assert first.font.size > 10 and first.value, sheet.title


@pytest.mark.parametrize("name", TEMPLATES)
def test_whatever_has_a_name_on_a_sheet_of_rows_has_words_to_its_left(name, as_built):
    """Rows of quantity, symbol, value: the words stand in the first column, the value in the third."""
    book = as_built(name)
    places = [next(iter(found.destinations)) for found in book.defined_names.values()]
    alone = [
        (book[title], address.replace("$", "")) for title, address in places if ":" not in address and title in book.sheetnames
    ]
    rows = [(sheet.title, address) for sheet, address in alone if address[0] == "C" and address[1:].isdigit()]
    on_rows = [(title, address) for title, address in rows if "quantity" in {cell.value for cell in book[title]["A"]}]
    assert [place for place in on_rows if not str(book[place[0]][f"A{place[1][1:]}"].value or "").strip()] == []
    assert on_rows or name == "functions.xlsx"
