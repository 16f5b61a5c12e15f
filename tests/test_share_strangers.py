"""Sharing workbooks that strangers made: their line ends, tables, look-ups and settings, and files of unusual kinds."""

from __future__ import annotations

import io
import re
import sys
import time
import zipfile

import pytest
from engines import same
from openpyxl import Workbook, load_workbook
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.table import Table
from share_books import replace_in, stored
from test_share import DEPTHS, ENERGIES, FUNCTION, add_links, call, column, knee_book, link_book, link_parts, one_line

from gritfuncs import cli
from gritfuncs.commands import output
from gritfuncs.share import job, sites
from gritfuncs.share.job import share
from gritfuncs.spreadsheets import stored_cells
from gritfuncs.spreadsheets.cell_values import CellError
from gritfuncs.spreadsheets.package import read_package, sheet_parts
from gritfuncs.spreadsheets.references import placed, relative

SHEET = "xl/worksheets/sheet1.xml"
SPEED = call("GRIT_WORK_SPEED", 20, 150)
KNEE = call("GRIT_KNEE", column(DEPTHS), column(ENERGIES))


def book_with(path, text, value=SPEED, edit=None, more=None):
    """20 and 150 in A1 and B1, a formula in C1 with this stored value."""
    workbook = Workbook()
    sheet = workbook.active
    sheet.append([20, 150, f"={text}"])
    if more:
        more(workbook)
    return stored(workbook, path, {"Sheet": {"C1": value}}, edit)


# --- formulas


@pytest.mark.parametrize(
    "written, after",
    [
        ("GRIT_WORK_SPEED(A1,\r\nB1)", "PI()*A1*B1/1000"),
        ("GRIT_WORK_SPEED(A1,&#13;&#10;&#9;B1&#13;)", "PI()*A1*B1/1000"),
        ("&#10;GRIT_WORK_SPEED(A1&#13;,B1)&#9;+0", "\n(PI()*A1*B1/1000)\t+0"),
        ('IF(1,\r\nGRIT_WORK_SPEED(A1,B1),"a&#13;b&#x9b;")', 'IF(1,\nPI()*A1*B1/1000,"a\rb\x9b")'),
    ],
)
def test_line_ends_and_numbers_of_signs_are_read_as_xml_has_them(tmp_path, libreoffice, written, after):
    def edit(package):
        replace_in(package, SHEET, "<f>1+1</f>", f"<f>{written}</f>")

    shared = share(book_with(tmp_path / "book.xlsx", "1+1", edit=edit))
    assert shared.complete and shared.equal == 1, shared.report()
    assert shared.replaced[0].after == "=" + after
    (formula,) = (element.text for element in read_package(shared.output).elements(SHEET, "f"))
    assert formula == after
    assert same(libreoffice.recalc(shared.output)["Sheet"]["C1"], SPEED)


@pytest.mark.parametrize("text", ["GRIT_WORK_SPEED(SUMIFS(A2:A1,B2:B1,B1),B1)", "GRIT_WORK_SPEED(SUM(A2:A1),MAX(B1:A1))"])
def test_a_range_may_begin_at_any_corner(tmp_path, text):
    shared = share(book_with(tmp_path / "book.xlsx", text))
    assert shared.complete and shared.equal == 1


def test_the_next_rpm_stays_and_is_named(tmp_path):
    count = len(FUNCTION["GRIT_NEXT_RPM"].arguments)
    shared = share(book_with(tmp_path / "book.xlsx", f"GRIT_NEXT_RPM({','.join(['A1'] * count)})"))
    (left,) = shared.left
    assert shared.output is None and left.place == "Sheet!C1" and left.reason.startswith("no native formula gives it")


def test_in_a_sum_of_products_ranges_are_multiplied_cell_by_cell(tmp_path, libreoffice):
    texts = {
        "SUMPRODUCT(GRIT_WORK_SPEED(A1:A3,B1:B3))": 4 * SPEED + call("GRIT_WORK_SPEED", 10, 100),
        "SUMPRODUCT((A1:A3>15)*GRIT_WORK_SPEED(A1:A3,B1:B3+0))": 4 * SPEED,
        "SUMPRODUCT(-(GRIT_WORK_SPEED(GRIT_WORK_SPEED(A1:A3,B1:B3),1000)))": None,
    }

    def more(workbook):
        sheet = workbook.active
        sheet["A2"], sheet["B2"], sheet["A3"], sheet["B3"] = 30, 300, 10, 100
        for row, text in enumerate(texts, 4):
            sheet[f"C{row}"] = f"={text}"

    shared = share(book_with(tmp_path / "book.xlsx", "1+1", 2.0, more=more))
    assert not shared.left and len(shared.replaced) == 3
    shown = libreoffice.recalc(shared.output)["Sheet"]
    for row, (text, value) in enumerate(texts.items(), 4):
        inner = [call("GRIT_WORK_SPEED", *pair) for pair in ((20, 150), (30, 300), (10, 100))]
        expected = value if value is not None else -sum(call("GRIT_WORK_SPEED", speed, 1000) for speed in inner)
        assert same(shown[f"C{row}"], expected), text


@pytest.mark.parametrize("text", ["SUM(GRIT_WORK_SPEED(A1:A3,B1))", "SUMPRODUCT(SUM(GRIT_WORK_SPEED(A1:A3,B1)))"])
def test_elsewhere_ranges_ask_for_an_array_formula(tmp_path, text):
    (left,) = share(book_with(tmp_path / "book.xlsx", text)).left
    assert "enter it as an array formula" in left.reason


@pytest.mark.parametrize("sheets", ["Sheet:Other", "'Sheet:Other'", "'Sheet:It''s other'", "'C:\\a\\[b.xlsx]Sheet:Other'"])
def test_a_cell_of_several_sheets_is_a_range(tmp_path, sheets):
    def more(workbook):
        workbook.create_sheet("Other")
        workbook.create_sheet("It's other")

    (left,) = share(book_with(tmp_path / "book.xlsx", f"GRIT_WORK_SPEED({sheets}!A1,B1)", more=more)).left
    assert left.reason.startswith("work_diameter is a range")


def test_a_path_with_a_drive_is_one_workbook(tmp_path):
    shared = share(book_with(tmp_path / "book.xlsx", r"GRIT_WORK_SPEED('C:\a\[b.xlsx]Sheet'!A1,B1)"))
    assert not shared.left and shared.unchecked == ("Sheet!C1",)


@pytest.mark.parametrize("designation", ["D*", "D12?", "D~126", "*", "?126"])
def test_no_sign_stands_for_others_in_a_grit_designation(tmp_path, libreoffice, designation):
    def more(workbook):
        workbook.active["A1"] = designation

    refusal = FUNCTION["GRIT_MEAN_SIZE"].call(designation)
    shared = share(book_with(tmp_path / "book.xlsx", "GRIT_MEAN_SIZE(A1)", refusal, more=more))
    assert [(entry.stored, entry.native) for entry in shared.refused] == [(refusal, "#N/A")]
    assert isinstance(libreoffice.recalc(shared.output)["Sheet"]["C1"], CellError)


# --- tables


def table_book(path, texts, values=None, edit=None):
    """A trial as a table with headings; the formulas in column E, beside it."""
    workbook = Workbook()
    sheet = workbook.active
    sheet.append(["depth [µm]", "energy", "n"])
    for row in zip(DEPTHS, ENERGIES, range(100, 108)):
        sheet.append(row)
    table = Table(displayName="Trial", ref="A1:C9")
    sheet.add_table(table)
    for row, text in enumerate(texts, 2):
        sheet[f"E{row}"] = f"={text}"
    workbook.defined_names["all_depths"] = DefinedName("all_depths", attr_text="Trial['[µm']]")
    return stored(workbook, path, {"Sheet": values or {}}, edit)


TABLE_TEXTS = {
    "GRIT_KNEE(Trial[depth '[µm']],Trial[energy])": KNEE,
    "GRIT_KNEE(trial[[#Data],[depth '[µm']]],Trial[[energy]])*1": KNEE,
    "GRIT_KNEE_LEVEL(Trial[depth '[µm']],Sheet!$B$2:$B$9)": call("GRIT_KNEE_LEVEL", column(DEPTHS), column(ENERGIES)),
    "GRIT_WORK_SPEED(Trial[[#This Row],[n]],Trial[[#This Row],[energy]])": call("GRIT_WORK_SPEED", 103, ENERGIES[3]),
    "GRIT_WORK_SPEED(SUM(Trial[n]),MAX(Trial[[depth '[µm']]:[energy]]))": call("GRIT_WORK_SPEED", 828, 72.3),
    "GRIT_WORK_SPEED(COUNTA(Trial[[#Headers],[n]]),ROWS(Trial[[#All],[n]]))": call("GRIT_WORK_SPEED", 1, 9),
}


def test_columns_of_a_table_are_cells(tmp_path, libreoffice):
    values = {f"E{row}": value for row, value in enumerate(TABLE_TEXTS.values(), 2)}
    shared = share(table_book(tmp_path / "book.xlsx", TABLE_TEXTS, values))
    assert shared.complete and shared.equal == len(TABLE_TEXTS), shared.report()
    assert shared.replaced[3].after == "=PI()*Trial[[#This Row],[n]]*Trial[[#This Row],[energy]]/1000"
    shown = libreoffice.recalc(shared.output)["Sheet"]
    assert {address: shown[address] for address, value in values.items() if not same(shown[address], value)} == {}


@pytest.mark.parametrize(
    "text, why",
    [
        ("GRIT_KNEE(Trail[energy],Trial[energy])", "there is no table 'Trail'"),
        ("GRIT_KNEE(Trial[power],Trial[energy])", "the table has no column 'power'"),
        ("GRIT_KNEE(Trial[#Totals],Trial[energy])", "the table has no such row"),
    ],
)
def test_what_a_table_has_not_is_said(tmp_path, text, why):
    (left,) = share(table_book(tmp_path / "book.xlsx", [text])).left
    assert left.reason == f"depths must be a range of cells in this workbook ({why})"


def test_this_row_without_a_table_around_is_not_guessed_at(tmp_path):
    shared = share(
        table_book(tmp_path / "book.xlsx", ["GRIT_WORK_SPEED(1,2)"] * 9 + ["GRIT_WORK_SPEED(Trial[[#This Row],[n]],2)"])
    )
    assert not shared.left and "Sheet!E11" in shared.unchecked


# --- links, and the report of a knee


def test_the_only_link_stays_where_another_formula_uses_it(tmp_path):
    book = link_book(tmp_path / "book.xlsx", "[1]!GRIT_WORK_SPEED(A1,B1)", "[1]prices!A1", targets=["functions.xlam"])
    shared = share(book)
    assert link_parts(shared.output)[0] == link_parts(book)[0] and len(link_parts(book)[0]) == 2
    assert "The link to workbook [1] stays: a formula uses it, or a link behind it stays." in shared.notes


@pytest.mark.parametrize("column_, row", [("A", 1), ("A", 8), ("B", 4)])
def test_a_report_is_out_of_date_after_the_smallest_change(tmp_path, libreoffice, column_, row):
    path, values = knee_book(tmp_path / "book.xlsx", DEPTHS, ENERGIES)
    output = share(path).output
    for factor, stale in ((1.0, False), (1.001, True)):
        book = load_workbook(output)
        cell = book["A trial's readings"][f"{column_}{row}"]
        cell.value *= factor
        book.save(tmp_path / f"{factor}.xlsx")
        shown = libreoffice.recalc(tmp_path / f"{factor}.xlsx")["A trial's readings"]
        assert shown["F1"].startswith("The readings have changed") == stale, (factor, shown["F1"])


# --- values that are no other values


@pytest.mark.parametrize(
    "text, value", [('IF(GRIT_WORK_SPEED(A1,B1)>0,A2,"")', "a\rb"), ('GRIT_WORK_SPEED(A1,B1)+(A2="a_x000D_b")*1', SPEED)]
)
def test_signs_by_their_numbers_are_those_signs(tmp_path, text, value):
    def edit(package):
        replace_in(package, SHEET, "<t>a b</t>", "<t>a_x000D_b</t>")
        assert isinstance(value, float) or "<v>a_x000D_b</v>" in package.text(SHEET)

    shared = share(book_with(tmp_path / "book.xlsx", text, value, edit, lambda book: book.active.cell(2, 1, "a b")))
    assert shared.complete and shared.equal == 1, shared.report()


@pytest.mark.parametrize(
    "text, more",
    [
        ("GRIT_WORK_SPEED(beside,B1)", lambda book: book.defined_names.add(DefinedName("beside", attr_text="Sheet!A1"))),
        (
            "GRIT_WORK_SPEED(VLOOKUP(2,D1:E3,2),B1)",
            lambda book: [
                book.active.cell(r, c, v) for r, c, v in [(1, 4, 3), (2, 4, 1), (3, 4, 2), (1, 5, 1), (2, 5, 2), (3, 5, 3)]
            ],
        ),
        ("GRIT_WORK_SPEED(D1*1,B1)", lambda book: book.active.cell(1, 4, "48,34%")),
    ],
    ids=["relative name", "unsorted look-up", "decimal comma"],
)
def test_what_programs_compute_each_in_their_way_is_not_checked(tmp_path, text, more):
    shared = share(book_with(tmp_path / "book.xlsx", text, 123.0, more=more))
    assert shared.unchecked == ("Sheet!C1",) and shared.complete, shared.report()


def test_a_workbook_that_computes_with_rounded_numbers_is_not_checked(tmp_path):
    def edit(package):
        replace_in(package, "xl/workbook.xml", "<calcPr ", '<calcPr fullPrecision="0" ')

    shared = share(book_with(tmp_path / "book.xlsx", "GRIT_WORK_SPEED(A1,B1)", 9.42, edit))
    assert shared.complete and shared.unchecked == ("Sheet!C1",)
    assert "The workbook computes with the numbers as they are shown: its values were not checked." in shared.notes


# --- the report


def filled_down(path, rows, edit=None, title="Sheet"):
    workbook = Workbook()
    sheet = workbook.active
    sheet.title = title
    for row in range(1, rows + 1):
        sheet.append([20 + row, 150, f"=GRIT_WORK_SPEED(A{row},B{row})", f"=GRIT_WORK_SPEED(A{row},B$1)*{row % 3}"])
    values = {f"C{row}": call("GRIT_WORK_SPEED", 20 + row, 150) for row in range(1, rows + 1)}
    return stored(workbook, path, {title: values}, edit)


def test_rows_that_were_filled_down_stand_together(tmp_path):
    shared = share(filled_down(tmp_path / "book.xlsx", 30))
    lines = shared.report().splitlines()
    assert len(shared.replaced) == 60 and "Replaced: 60" in lines
    (line,) = (line for line in lines if "C1:C30" in line)
    assert line.split() == ["Sheet!C1:C30,", "30", "cells", "=GRIT_WORK_SPEED(A1,B1)", "=PI()*A1*B1/1000"]
    assert sum("D" in line.partition(" =")[0] for line in lines) >= 30  # which differ in more than the row
    assert all(len(line) <= 100 for line in lines)


def test_no_line_of_the_report_is_longer_than_a_hundred_columns(tmp_path):
    long = "+".join(f"GRIT_WORK_SPEED(A{row},B1)" for row in range(1, 60))
    shared = share(book_with(tmp_path / "book.xlsx", long, 1.0))
    lines = shared.report().splitlines()
    assert all(len(line) <= 100 for line in lines) and len(lines) > 40
    flat = "".join(line[6:] for line in lines if line.startswith("      "))
    assert "GRIT_WORK_SPEED(A59,B1)" in flat


def test_the_report_shows_no_signs_that_command_a_terminal_or_turn_the_writing(tmp_path):
    title = "a\x9b31m\u202eb"

    def more(workbook):
        workbook.active.title = title

    workbook = Workbook()
    workbook.active.title = title
    workbook.active.append([20, 150, '=GRIT_WORK_SPEED(A1,B1)&"\u202ex\x9b\u2066"', "=GRIT_WORK_SPEED(A1:A2,B1)"])
    path = stored(workbook, tmp_path / "b\u202eook\x1b.xlsx", {title: {"C1": "\u202ea\x9b"}})
    report = share(path).report()
    assert all(sign.isprintable() or sign == "\n" for sign in report)
    assert "Other value than stored" in report and "Not replaced: 1" in report


def test_what_travels_along_is_said(tmp_path):
    def edit(package):
        add_links(package, "prices.xlsx", "more.xlsx")
        package.parts["xl/vbaProject.bin"] = b"\0" * 50
        package.parts["_xmlsignatures/sig1.xml"] = b"<a/>"
        package.parts["xl/connections.xml"] = b"<a/>"

    notes = " ".join(share(book_with(tmp_path / "book.xlsm", "GRIT_WORK_SPEED(A1,B1)", edit=edit)).notes)
    for said in (
        "Macros travel along",
        "Links to other workbooks travel along: 2",
        "Data connections",
        "signature",
        "no longer holds",
    ):
        assert said in notes
    assert not any("along" in note for note in share(book_with(tmp_path / "plain.xlsx", "GRIT_WORK_SPEED(A1,B1)")).notes)


def test_progress_is_told(tmp_path):
    told = []
    share(filled_down(tmp_path / "book.xlsx", 30), progress=lambda done, of: told.append((done, of)))
    assert len(told) == 120 and [done for done, _ in told] == list(range(120)) and {of for _, of in told} == {120}


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.mark.parametrize("kind, wait, shown", [(Terminal, 0.0, True), (Terminal, 60.0, False), (io.StringIO, 0.0, False)])
def test_a_terminal_shows_how_far_long_sharing_is(tmp_path, monkeypatch, kind, wait, shown):
    monkeypatch.setattr(output, "FIRST_PROGRESS", wait)
    monkeypatch.setattr(output, "NEXT_PROGRESS", 0.0)
    monkeypatch.setattr(sys, "stderr", kind())
    assert cli.main(["share", str(filled_down(tmp_path / "book.xlsx", 5))]) == 0
    told = sys.stderr.getvalue()
    if shown:
        assert "\rsharing: 0 %" in told and "\rsharing: 95 %" in told and told.endswith("\r" + " " * 15 + "\r")
    else:
        assert told == ""


# --- files of other kinds, and too large ones


def ods(path):
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", "<a/>")
    return path


def test_an_open_document_is_told_how_to_become_a_workbook(tmp_path):
    for name in ("book.ods", "book.xlsx"):
        with pytest.raises(ValueError) as error:
            share(ods(tmp_path / name))
        assert "(got an .ods file: save it as .xlsx in LibreOffice first" in one_line(error) and "damaged" not in str(error.value)


def test_a_sheet_without_a_part_is_no_damage(tmp_path):
    def edit(package):
        replace_in(package, "xl/workbook.xml", "</sheets>", '<sheet name="Module1" sheetId="9"/></sheets>')

    with pytest.raises(ValueError) as error:
        share(book_with(tmp_path / "book.xlsx", "GRIT_WORK_SPEED(A1,B1)", edit=edit))
    assert "sheet 'Module1' must have a part in the file (got none)" in one_line(error)


@pytest.mark.parametrize("extra", ["<sheets/><sheets>", "<sheets></sheets>\n<sheets>"])
def test_an_empty_list_of_sheets_beside_theirs_is_passed_over(tmp_path, extra):
    def edit(package):
        replace_in(package, "xl/workbook.xml", "<sheets>", extra)

    def more(workbook):
        for place, pair in enumerate(zip(DEPTHS, ENERGIES), 2):
            workbook.active.cell(place, 1, pair[0]), workbook.active.cell(place, 2, pair[1])

    last = len(DEPTHS) + 1
    shared = share(book_with(tmp_path / "book.xlsx", f"GRIT_KNEE(A2:A{last},B2:B{last})", KNEE, edit, more))
    assert shared.complete and shared.equal == 1
    assert list(sheet_parts(read_package(shared.output))) == ["Sheet", "gritfuncs"]


def test_an_empty_number_of_a_text_is_a_blank(tmp_path):
    def edit(package):
        replace_in(package, SHEET, "</row>", '<c r="Z1" t="s"><v></v></c></row>')

    shared = share(book_with(tmp_path / "book.xlsx", "GRIT_WORK_SPEED(A1,B1)&Z1", f"{SPEED:.15g}", edit))
    assert shared.complete and shared.equal == 1


def test_too_many_cells_are_no_damage(tmp_path, monkeypatch):
    path = filled_down(tmp_path / "book.xlsx", 5)
    monkeypatch.setattr(stored_cells, "MOST_CELLS", 7)
    with pytest.raises(ValueError) as error:
        share(path)
    assert one_line(error).startswith(f"{path}: part {SHEET}: must have at most 7 filled cells")


def test_too_many_calls_are_refused_before_other_sheets_are_read_or_anything_is_computed(tmp_path, monkeypatch):
    path = filled_down(tmp_path / "book.xlsx", 30)
    for method in ("complete", "compute"):
        monkeypatch.setattr(job.Values, method, lambda *_: pytest.fail("it went on"))
    monkeypatch.setattr(sites, "MOST_CELLS", 59)
    with pytest.raises(ValueError) as error:
        share(path)
    assert one_line(error) == f"{path}: must have at most 59 cells that show a function (got Sheet!D30 beyond that)"
    monkeypatch.setattr(sites, "MOST_CELLS", 100)
    monkeypatch.setattr(job, "MOST_KNEES", 0)
    path, _ = knee_book(tmp_path / "knee.xlsx", DEPTHS, ENERGIES)
    with pytest.raises(ValueError) as error:
        share(path)
    assert one_line(error).startswith(f"{path}: must have at most 0 cells with a knee (got ")


def many_names(package):
    names = "".join(f'<definedName name="n{number}">Sheet!$A${number}</definedName>' for number in range(1, 90_001))
    package.parts["xl/workbook.xml"] = re.sub(
        "<definedNames ?/>", f"<definedNames>{names}</definedNames>", package.text("xl/workbook.xml")
    ).encode()


def many_rules(package):
    rule = '<conditionalFormatting sqref="A1"><cfRule type="expression" priority="1"><formula>A1&gt;1</formula></cfRule></conditionalFormatting>'
    replace_in(package, SHEET, "</sheetData>", "</sheetData>" + 200_000 * rule)


def long_attribute(package):
    replace_in(package, SHEET, "<sheetData>", f'<sheetData a="{"x" * 40_000_000}">')


@pytest.mark.parametrize("edit", [many_names, many_rules, long_attribute])
def test_what_is_large_takes_time_in_proportion(tmp_path, edit):
    workbook = Workbook()
    for row in range(1, 301):
        workbook.active.append([20, 150, f"=GRIT_WORK_SPEED(A{row},B{row})"])
    path = stored(workbook, tmp_path / "book.xlsx", {"Sheet": {f"C{row}": SPEED for row in range(1, 301)}}, edit)
    start = time.process_time()
    try:
        assert share(path).equal == 300
    except ValueError as error:
        assert edit is long_attribute and re.search("at most|more than|inflate", str(error)), error
    assert time.process_time() - start < 30


# --- formulas that differ in nothing but their cell


@pytest.mark.parametrize(
    "formula",
    [
        "A1+$B2*C$3+$D$4",
        '"R[1]C[2]"&A1&"A1"',
        "'R[1]C[1]'!B2+'It''s A1'!C3",
        "Trial[A1]+Trial[[#This Row],[R1C1]]+[1]Sheet!D9",
        "SUM(A:A,2:2,XFD1048576)+LOG10(E5)+A1.b+R1C1x",
    ],
)
def test_a_formula_comes_back_from_its_distances(formula):
    for row, column_number in ((1, 1), (7, 3), (1_048_576, 16_384)):
        assert placed(relative(formula, row, column_number), row, column_number) == formula
    assert placed(relative("A1+$B2", 1, 1), 4, 3) == "C4+$B5"
    with pytest.raises(ValueError, match="beyond the edge"):
        placed(relative("A1", 2, 2), 1, 1)


def test_cells_alike_are_rewritten_as_each_alone(tmp_path):
    """Filled down, with fixed cells, texts that look like addresses, and the one formula among them that is another."""

    def text(row):
        return f'IF(GRIT_WORK_SPEED(A{row},$B$1)>{row % 2},"A{row} "&GRIT_WORK_SPEED($A{row},B${row}),B{row}+A$1)'

    def alone(row):
        return f'IF((PI()*A{row}*$B$1/1000)>{row % 2},"A{row} "&(PI()*$A{row}*B${row}/1000),B{row}+A$1)'

    workbook = Workbook()
    for row in range(1, 12):
        workbook.active.append([20 + row, 150, f"={text(row)}"])
    shared = share(stored(workbook, tmp_path / "book.xlsx"))
    assert [entry.after for entry in shared.replaced] == [f"={alone(row)}" for row in range(1, 12)]
