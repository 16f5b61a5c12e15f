"""What a reader sees of every workbook, filled with its example: no number without room, no text cut, no figure lost.

General rules for all cells, so that no width, height or format has to be told here.
"""

from __future__ import annotations

import re
from collections import defaultdict
from functools import cache
from itertools import takewhile

import pytest
from open_book import OpenBook
from openpyxl.utils import coordinate_to_tuple, range_boundaries
from seen_cells import figures, seen_cells, shown, text_width

from gritfuncs import example
from gritfuncs.sheets.book import CALC
from gritfuncs.workbooks.templates import TEMPLATES

SMALLEST_SIZE = 8  # points of a unit beside its number; common practice, no source
BIG = 16  # points and more: of a panel
MOST_FIGURES, LEAST_FIGURES = 6, 2
SPARE_LINES = 2
IN_TENTHS = ("Record checks!E",)  # ages in months: a tenth is three days


@pytest.fixture(scope="module")
def cells(as_built):
    """A function that gives the cells of a workbook by the name of its template that print or show something."""

    @cache
    def found(name):
        workbook = as_built(name)
        book = OpenBook(workbook)
        if name == "trial.xlsx":
            book.fill(readings=example.readings())
        book.read()
        return [cell for sheet in workbook for cell in _of_sheet(book, sheet)]

    return found


def _of_sheet(book, sheet):
    """Within what is printed: what stands beyond is to be read on the screen, cell by cell."""
    right, bottom = printed(sheet)
    values = {}
    for (row, column), cell in sheet._cells.items():
        if row <= bottom and column <= right and (cell.value is not None or not cell.protection.locked):
            typed = cell.data_type != "f" and cell.protection.locked
            values[row, column] = cell.value if typed else book.at(sheet.title, cell.coordinate)
    return seen_cells(sheet, values)


def printed(sheet):
    """The last column and row that are printed."""
    return range_boundaries(sheet.print_area.rpartition("!")[2].replace("$", ""))[2:]


def read_by_people(cells):
    return [cell for cell in cells if not cell.place.startswith(CALC)]


@pytest.mark.parametrize(
    "value, number_format, text",
    [
        (1.23456, "0.00", "1.23"),
        (0.0004, "[<0.0005]General;0.000", "0.0004"),
        (0.4, '[<0.0005]General" kW";0.000" kW"', "0.400 kW"),
        (-2.0, "+0;-0;0", "-2"),
        (0.0, "+0;-0;0", "0"),
        (2.0, "+0;-0;0", "+2"),
        (99.0, '[<100]"► "0.0;"► "0', "► 99.0"),
        (123.4, '[<100]"► "0.0;"► "0', "► 123"),
        (2e6, "[>=1000000]0E+0;0.000", "2E+06"),
        (45000, "yyyy-mm-dd", "2023-03-15"),
    ],
)
def test_a_number_in_its_format(value, number_format, text):
    assert shown(value, number_format) == text


def test_a_line_is_as_wide_as_its_letters():
    """Widths of Helvetica: W 944, i 222, a digit 556 thousandths."""
    assert text_width("W", 10, False) == pytest.approx(944 / 556)
    assert text_width("ii5", 20, False) == pytest.approx(2 * (222 + 222 + 556) / 556)
    assert [figures(text) for text in ("0.0123", "1.50 mm", "► 12", "-0.5")] == [3, 3, 2, 1]


@pytest.mark.parametrize("name", TEMPLATES)
def test_a_number_has_room_for_one_figure_more(name, cells):
    """A machine ten times as large shows no row of #; numbers of rows are as long as their table, and General fits itself."""
    numbers = [cell for cell in cells(name) if cell.is_number and not cell.shrinks and "General" not in cell.number_format]
    assert numbers
    tight = [
        (cell.place, cell.text)
        for cell in numbers
        if cell.width + (cell.number_format != "0") * text_width("0", cell.size, cell.bold) > cell.room
    ]
    assert not tight


@pytest.mark.parametrize("name", TEMPLATES)
def test_a_text_is_not_cut_by_what_stands_beside_it(name, cells):
    texts = [cell for cell in read_by_people(cells(name)) if not cell.is_number and not cell.wraps]
    assert not [(cell.place, cell.text) for cell in texts if not cell.shrinks and cell.width > cell.overflow]
    shrunk = [(cell.place, cell.text) for cell in texts if cell.shrinks and cell.size * cell.room / cell.width < SMALLEST_SIZE]
    assert not shrunk


@pytest.mark.parametrize("name", TEMPLATES)
def test_a_row_is_as_high_as_its_texts_and_no_word_is_broken(name, cells):
    lines = [cell for cell in cells(name) if not cell.is_number]
    lines = [cell for cell in lines if not (cell.is_formula and cell.place.startswith(CALC))]  # the same stands elsewhere in full
    assert not [(cell.place, cell.text) for cell in lines if cell.height_of_text > cell.height]
    wrapped = [cell for cell in lines if cell.wraps]
    words = [(cell, max(text_width(word, cell.size, cell.bold) for word in cell.text.split())) for cell in wrapped]
    assert not [(cell.place, cell.text) for cell, width in words if width > cell.room]


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_row_is_far_higher_than_what_stands_in_it(name, cells, as_built):
    """Where all of it is printed."""
    whole = {sheet.title for sheet in as_built(name) if printed(sheet)[0] >= sheet.max_column}
    rows = defaultdict(list)
    for cell in read_by_people(cells(name)):
        sheet, _, address = cell.place.rpartition("!")
        if sheet in whole:
            rows[sheet, coordinate_to_tuple(address)[0]].append(cell)
    far = []
    for row, beside in rows.items():
        line = max(cell.height_of_text / cell.lines if cell.wraps else cell.height_of_text for cell in beside)
        spare = min(cell.height for cell in beside) - max(cell.height_of_text for cell in beside)
        far += [(row, spare / line)] if spare >= SPARE_LINES * line else []
    assert not far


@pytest.mark.parametrize("name", TEMPLATES)
def test_a_number_keeps_its_figures_and_shows_none_that_nobody_measured(name, cells):
    """Of those with decimals, in the sheets that people read."""
    numbers = [cell for cell in read_by_people(cells(name)) if cell.is_number and not cell.is_input and "." in cell.number_format]
    counted = {cell.place: figures(cell.text) for cell in numbers if "E" not in cell.text and cell.text.strip("0.+-")}
    assert not {
        place: n for place, n in counted.items() if not LEAST_FIGURES <= n <= MOST_FIGURES and not place.startswith(IN_TENTHS)
    }


@pytest.mark.parametrize("name", TEMPLATES)
def test_type_can_be_read_and_is_one_in_a_row_of_numbers(name, cells):
    sizes = {}
    for cell in cells(name):
        assert cell.size >= SMALLEST_SIZE, cell.place
        if cell.is_number and cell.size < BIG:
            sheet, _, address = cell.place.rpartition("!")
            sizes[(sheet, *coordinate_to_tuple(address))] = cell.size
    beside = [(place, (*place[:2], place[2] + 1)) for place in sizes]
    assert not [places for places in beside if sizes.get(places[1], sizes[places[0]]) != sizes[places[0]]]


NUMBERED = ("no.", "place", "step", "row", "stretch", "part")  # heads of columns whose cells are numbers from the first row on
COUNTED = re.compile(
    r"\(1 yes|^parts per wheel|^(rows|readings|cells|steps|number|no\.|different depths|checks|depths up|parts)\b(?!.*(rpm|per |%|load|infeed|below this|,))"
)


@pytest.mark.parametrize("name", TEMPLATES)
def test_what_is_counted_has_no_decimals(name, cells):
    """A yes of 1.000 or 15.0 readings look measured."""
    places = {}
    for cell in cells(name):
        sheet, _, address = cell.place.rpartition("!")
        places[(sheet, *coordinate_to_tuple(address))] = cell
    seen, wrong = 0, []
    for (sheet, row, column), cell in places.items():
        if cell.is_number or not COUNTED.search(cell.text) or cell.is_formula:
            continue
        if cell.bold and (sheet, row + 1, column) in places:  # the head of a column
            counted = [places.get((sheet, row + below, column)) for below in range(1, 4)]
        else:
            counted = [places.get((sheet, row, column + right)) for right in (1, 2)]
        numbers = [found for found in counted if found and found.is_number]
        seen += len(numbers)
        wrong += [(cell.text, found.text) for found in numbers if "." in found.text]
    assert not wrong and seen


@pytest.mark.parametrize("name", TEMPLATES)
def test_rows_that_are_numbered_count_up_right_below_their_head(name, as_built):
    """From 1, or from 0 where steps of a search are numbered."""
    for sheet in as_built(name):
        heads = [cell for row in sheet.iter_rows() for cell in row if cell.font.bold and cell.value in NUMBERED]
        for head in heads:
            first = head.row + (2 if sheet.cell(head.row + 1, head.column).style == "gf unit" else 1)
            below = [sheet.cell(row, head.column).value for row in range(first, sheet.max_row + 1)]
            if isinstance(below[0], str):  # worked out, or steps in words
                continue
            numbers = list(dict.fromkeys(takewhile(lambda value: isinstance(value, int), below)))  # some in several rows
            begin = 0 if head.value == "step" else 1
            assert numbers and numbers == list(range(begin, begin + len(numbers))), (sheet.title, head.coordinate)
