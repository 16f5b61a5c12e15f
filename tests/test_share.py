"""Workbooks made ready for people without the functions: what changes in the file, what stays, what is computed."""

from __future__ import annotations

import base64
import random
import re
import zipfile
from pathlib import Path

import pytest
import xlwings
from engines import differences, same
from libreoffice import LibreOffice
from openpyxl import Workbook, load_workbook
from openpyxl.chart import Reference, ScatterChart, Series
from openpyxl.comments import Comment
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.table import Table, TableFormula
from setups import WORDS, range_of
from share_books import formulas, literal, replace_in, stored, uncached_cells, without_formulas

from gritfuncs.addins.calc import build_oxt
from gritfuncs.addins.functions import FUNCTIONS, REPORT_ROWS
from gritfuncs.addins.hosts import HOSTS, NATIVE
from gritfuncs.addins.naming import calc_stored_name
from gritfuncs.formulas import catalogue
from gritfuncs.knee import find_knee
from gritfuncs.share import added
from gritfuncs.share.job import Left, Replaced, share
from gritfuncs.spreadsheets.cell_values import CellError
from gritfuncs.spreadsheets.package import read_package, write_package

FUNCTION = {function.sheet_name: function for function in FUNCTIONS}
DEPTHS = [0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3]
ENERGIES = [72.3, 63.8, 56.1, 48.2, 40.1, 39.8, 40.2, 39.9]
ROWS = 8


@pytest.fixture(scope="module")
def calc(tmp_path_factory):
    """A Calc that has the extension."""
    with LibreOffice([build_oxt(tmp_path_factory.mktemp("calc") / "gritfuncs.oxt")]) as office:
        yield office


def call(name, *values):
    value = FUNCTION[name].call(*values)
    assert isinstance(value, float) or name.endswith("VERDICT"), value
    return value


def column(values):
    return [[value] for value in values]


def one_line(error):
    assert "\n" not in str(error.value)
    return str(error.value)


# --- a workbook with everything


def rich_book(path):
    """As Excel with xlwings leaves it: chart, picture, comment, rules, table, names, shared and array formulas, macros."""
    workbook = Workbook()
    sheet = workbook.active
    sheet.title = "R&D <1>"
    values = {}
    for row in range(2, 8):
        sheet[f"A{row}"], sheet[f"B{row}"] = 18 + row, 140 + row
        sheet[f"C{row}"] = f"=GRIT_WORK_SPEED(A{row},B{row})"
        values[f"C{row}"] = call("GRIT_WORK_SPEED", 18 + row, 140 + row)
        sheet[f"G{row}"] = f"=A{row}*2"
        values[f"G{row}"] = 2.0 * (18 + row)
    sheet["D2"] = (
        '=IF(C2<>0,"<b> & ""GRIT_WORK_SPEED(A2,B2)"" "&TEXT(\'C:\\tools\\functions.xlam\'!GRIT_WORK_SPEED(A2,B2),"0.0"),"")'
    )
    values["D2"] = '<b> & "GRIT_WORK_SPEED(A2,B2)" 8.9'
    sheet["E2"] = ArrayFormula("E2:E4", "=_xll.GRIT_WORK_SPEED(A2:A4,B2:B4+1)")
    values.update({f"E{row}": call("GRIT_WORK_SPEED", 18 + row, 141 + row) for row in (2, 3, 4)})
    sheet["F2"] = '=SUM([2]!GRIT_MEAN_SIZE("D126"),2)'
    values["F2"] = 117.5
    sheet["F3"] = "=[1]prices!A1*2"
    values["F3"] = 8.0
    for address in ("E2", "E3", "E4", "F2", "F3"):
        sheet[address].fill = PatternFill("solid", fgColor="FFEEEEEE")
    sheet["A2"].comment = Comment("GRIT_WORK_SPEED(A2,B2) is a function", "me")
    sheet["H1"].hyperlink = "https://example.invalid/"
    chart = ScatterChart()
    chart.series.append(
        Series(Reference(sheet, min_col=3, min_row=2, max_row=7), Reference(sheet, min_col=2, min_row=2, max_row=7))
    )
    sheet.add_chart(chart, "K12")
    sheet.conditional_formatting.add("C2:C7", FormulaRule(["GRIT_WORK_SPEED($A2,$B2)>9.5"], fill=PatternFill(bgColor="FFFFAAAA")))
    rule = DataValidation(type="custom", formula1="GRIT_WORK_SPEED($A2,B2)<50")
    rule.add("B2:B7")
    sheet.add_data_validation(rule)
    workbook.defined_names["top_speed"] = DefinedName("top_speed", attr_text="GRIT_WORK_SPEED('R&D <1>'!$A$2,200)")
    table_sheet = workbook.create_sheet("Table")
    table_sheet.append(["d", "n", "v"])
    for row in (2, 3):
        table_sheet.append([10 * row, 100 * row, "=GRIT_WORK_SPEED(Parts[[#This Row],[d]],Parts[[#This Row],[n]])"])
    table = Table(displayName="Parts", name="Parts", ref="A1:C3")
    table._initialise_columns()
    for part, name in zip(table.tableColumns, "dnv"):
        part.name = name
    table.tableColumns[2].calculatedColumnFormula = TableFormula(
        attr_text="GRIT_WORK_SPEED(Parts[[#This Row],[d]],Parts[[#This Row],[n]])"
    )
    table_sheet.add_table(table)
    table_values = {f"C{row}": call("GRIT_WORK_SPEED", 10 * row, 100 * row) for row in (2, 3)}

    def as_excel_has_it(package):
        sheet1 = "xl/worksheets/sheet1.xml"
        replace_in(
            package, sheet1, "<f>GRIT_WORK_SPEED(A2,B2)</f>", '<f t="shared" ref="C2:C7" si="0">GRIT_WORK_SPEED(A2,B2)</f>'
        )
        for row in range(3, 8):
            replace_in(package, sheet1, f"<f>GRIT_WORK_SPEED(A{row},B{row})</f>", '<f t="shared" si="0"/>')
        for address in ("E3", "E4"):
            package.put_text(
                sheet1, place_cell(package.text(sheet1), address, f'<c r="{address}"><v>{values[address]!r}</v></c>')
            )
        package.parts["xl/vbaProject.bin"] = bytes(range(256)) * 20
        add_picture(package)
        add_links(package, "functions.xlam", "prices.xlsx", order=(2, 1))

    return (stored(workbook, path, {"R&D <1>": values, "Table": table_values}, as_excel_has_it), values, table_values)


PIXEL = base64.b64decode("iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR4nGNoAAAAggCBd81ytgAAAABJRU5ErkJggg==")
PICTURE = (
    '<oneCellAnchor><from><col>10</col><colOff>0</colOff><row>1</row><rowOff>0</rowOff></from><ext cx="99999" cy="99999"/><pic>'
    '<nvPicPr><cNvPr id="9" name="a picture"/><cNvPicPr/></nvPicPr><blipFill>'
    '<a:blip xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main" xmlns:r="http://schemas.openxmlformats.org/'
    'officeDocument/2006/relationships" r:embed="rIdPicture"/></blipFill><spPr/></pic><clientData/></oneCellAnchor>'
)


def add_picture(package):
    package.parts["xl/media/image1.png"] = PIXEL
    replace_in(package, "xl/drawings/drawing1.xml", "</wsDr>", PICTURE + "</wsDr>")
    replace_in(
        package,
        "xl/drawings/_rels/drawing1.xml.rels",
        "</Relationships>",
        '<Relationship Id="rIdPicture" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/image" '
        'Target="../media/image1.png"/></Relationships>',
    )
    replace_in(package, "[Content_Types].xml", "</Types>", '<Default Extension="png" ContentType="image/png"/></Types>')


def add_links(package, *targets, order=None):
    """External links; the workbook's list of them is numbered by `order`."""
    kind = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/"
    references, relations, types = {}, "", ""
    for number, target in enumerate(targets, 1):
        part = f"xl/externalLinks/externalLink{number}.xml"
        package.put_text(
            part,
            f'<externalLink xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><externalBook xmlns:r="{kind[:-1]}" '
            'r:id="rId1"><sheetNames><sheetName val="prices"/></sheetNames></externalBook></externalLink>',
        )
        package.put_text(
            f"xl/externalLinks/_rels/externalLink{number}.xml.rels",
            '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" '
            f'Type="{kind}externalLinkPath" Target="{target}" TargetMode="External"/></Relationships>',
        )
        references[number] = f'<externalReference r:id="rIdLink{number}"/>'
        relations += (
            f'<Relationship Id="rIdLink{number}" Type="{kind}externalLink" Target="externalLinks/externalLink{number}.xml"/>'
        )
        types += (
            f'<Override PartName="/{part}" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.'
            'externalLink+xml"/>'
        )
    listed = "".join(references[number] for number in order or references)
    text = package.text("xl/workbook.xml")
    text = (
        re.sub("<workbook ", f'<workbook xmlns:r="{kind[:-1]}" ', text)
        if "xmlns:r=" not in text.partition("<sheets>")[0]
        else text
    )
    package.put_text("xl/workbook.xml", text.replace("</sheets>", f"</sheets><externalReferences>{listed}</externalReferences>"))
    replace_in(package, "xl/_rels/workbook.xml.rels", "</Relationships>", relations + "</Relationships>")
    replace_in(package, "[Content_Types].xml", "</Types>", types + "</Types>")


@pytest.mark.parametrize("ending", [".xlsx", ".xlsm"])
def test_only_formula_texts_change(tmp_path, ending):
    path, *_ = rich_book(tmp_path / f"book{ending}")
    before_bytes = path.read_bytes()
    shared = share(path)
    assert shared.output == str(tmp_path / f"book (shared){ending}")
    assert path.read_bytes() == before_bytes and len(list(tmp_path.glob("*.tmp"))) == 0
    before, after = read_package(path), read_package(shared.output)
    link = ["xl/externalLinks/externalLink1.xml", "xl/externalLinks/_rels/externalLink1.xml.rels"]
    assert list(after.parts) == [name for name in before.parts if name not in link]
    edited = {name for name in after.parts if before.parts[name] != after.parts[name]}
    of_link = {"xl/workbook.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml"}
    assert edited == {"xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml", "xl/tables/table1.xml", *of_link}
    for name in edited:  # values, styles, attributes: all but the texts of formulas, and the link to the functions
        expected = re.sub(r"<[^<>]*(rIdLink1\b|externalLink1\.)[^<>]*>", "", without_formulas(before.parts[name]))
        assert expected == without_formulas(after.parts[name]), name
    kinds = {entry.filename: entry.compress_type for entry in zipfile.ZipFile(path).infolist()}
    assert all(kinds[entry.filename] == entry.compress_type for entry in zipfile.ZipFile(shared.output).infolist())
    assert not [text for texts in formulas(shared.output).values() for text in texts if re.search(r'(?<!")GRIT_', text)]
    assert "GRIT_WORK_SPEED(A2,B2) is a function" in after.text("xl/comments/comment1.xml")


def test_every_place_of_the_rich_workbook_is_reported(tmp_path):
    path, *_ = rich_book(tmp_path / "book.xlsx")
    shared = share(path)
    assert shared.complete and not shared.refused and all(" along" in note for note in shared.notes)
    found = {entry.place: entry for entry in shared.replaced}
    for row in range(2, 8):
        place = f"R&D <1>!C{row}"
        assert found.pop(place) == Replaced(place, f"=GRIT_WORK_SPEED(A{row},B{row})", f"=PI()*A{row}*B{row}/1000")
    assert {place: entry.after for place, entry in found.items()} == {
        "R&D <1>!D2": '=IF(C2<>0,"<b> & ""GRIT_WORK_SPEED(A2,B2)"" "&TEXT(PI()*A2*B2/1000,"0.0"),"")',
        "R&D <1>!E2:E4": "=PI()*A2:A4*(B2:B4+1)/1000",
        "R&D <1>!F2": "=SUM(115.5,2)",
        "R&D <1>, conditional format of C2:C7": "=(PI()*$A2*$B2/1000)>9.5",
        "R&D <1>, validation of B2:B7": "=(PI()*$A2*B2/1000)<50",
        "name top_speed": "=PI()*'R&D <1>'!$A$2*200/1000",
        "table Parts, column v": "=PI()*Parts[[#This Row],[d]]*Parts[[#This Row],[n]]/1000",
        **{f"Table!C{row}": "=PI()*Parts[[#This Row],[d]]*Parts[[#This Row],[n]]/1000" for row in (2, 3)},
    }
    assert shared.equal == 6 + 1 + 3 + 1 + 2 and not shared.unchecked
    report = shared.report()
    assert (
        "C2:C7, 6 cells" in report
        and "=PI()*A2*B2/1000" in report
        and "Checked: 13 cells" in report
        and "Never run a wheel faster" in report
    )


def test_the_rich_workbook_computes_the_same_without_the_functions(tmp_path, libreoffice):
    path, values, table_values = rich_book(tmp_path / "book.xlsx")
    shown = libreoffice.recalc(share(path).output)
    for sheet, expected in (("R&D <1>", values), ("Table", table_values)):
        for address, value in expected.items():
            if address != "F3":  # lies in another workbook
                assert same(shown[sheet][address], value), (sheet, address)


def test_the_macro_workbook_of_xlwings_keeps_its_macros(tmp_path, libreoffice):
    """A workbook that Excel saved, with macros and a hidden sheet; only its cells are put in here."""
    package = read_package(Path(xlwings.__file__).with_name("quickstart_standalone.xlsm"))
    readings = zip(range(1, 9), DEPTHS, ENERGIES)
    knee = call("GRIT_KNEE", column(DEPTHS), column(ENERGIES))
    cells = {
        "D": ("GRIT_KNEE(A1:A8,B1:B8)", knee),
        "E": ("GRIT_MEAN_SIZE(C1)", 115.5),
        "F": ("GRIT_WORK_SPEED(A1,B1)", call("GRIT_WORK_SPEED", DEPTHS[0], ENERGIES[0])),
    }
    rows = [f'<c r="A{row}"><v>{depth}</v></c><c r="B{row}"><v>{energy}</v></c>' for row, depth, energy in readings]
    rows[0] += '<c r="C1" t="inlineStr"><is><t>D126</t></is></c>'
    rows[0] += "".join(f'<c r="{letter}1"><f>{text}</f><v>{value!r}</v></c>' for letter, (text, value) in cells.items())
    data = "".join(f'<row r="{number}">{row}</row>' for number, row in enumerate(rows, 1))
    replace_in(package, "xl/worksheets/sheet1.xml", "<sheetData />", f"<sheetData>{data}</sheetData>")
    package.path = None
    write_package(package, tmp_path / "trial.xlsm")
    shared = share(tmp_path / "trial.xlsm")
    assert shared.complete and shared.equal == 3
    before, after = package.parts, read_package(shared.output).parts
    assert {name for name in after if after[name] != before.get(name)} == {
        "xl/worksheets/sheet1.xml",
        "xl/worksheets/gritfuncs.xml",
        "xl/workbook.xml",
        "xl/_rels/workbook.xml.rels",
        "[Content_Types].xml",
    }
    assert before.keys() <= after.keys() and len(after["xl/vbaProject.bin"]) > 10000
    shown = libreoffice.recalc(shared.output)["Sheet1"]
    assert all(same(shown[f"{letter}1"], value) for letter, (_, value) in cells.items())


# --- links to other workbooks


def link_book(path, *texts, targets, order=None):
    workbook = Workbook()
    for text in texts:
        workbook.active.append([20, 150, f"={text}"])
    return stored(workbook, path, edit=lambda package: add_links(package, *targets, order=order))


def link_parts(path):
    package = read_package(path)
    names = [name for name in package.parts if "externalLink" in name]
    texts = "".join(package.text(name) for name in ("xl/workbook.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml"))
    return names, texts


def test_a_link_that_nothing_uses_any_more_is_dropped_whole(tmp_path):
    shared = share(link_book(tmp_path / "book.xlsx", "[1]!GRIT_WORK_SPEED(A1,B1)", targets=["functions.xlam"]))
    names, texts = link_parts(shared.output)
    assert names == [] and "xternal" not in texts and shared.notes[-1].startswith("Some cells had no value")
    load_workbook(shared.output)


def test_of_several_links_the_right_one_goes(tmp_path):
    path = link_book(
        tmp_path / "book.xlsx",
        "[2]!GRIT_WORK_SPEED(A1,B1)",
        "[1]prices!A1",
        targets=["functions.xlam", "prices.xlsx"],
        order=(2, 1),
    )
    names, texts = link_parts(share(path).output)
    assert names == ["xl/externalLinks/externalLink2.xml", "xl/externalLinks/_rels/externalLink2.xml.rels"]
    assert "rIdLink2" in texts and "rIdLink1" not in texts and "externalLink1" not in texts


@pytest.mark.parametrize(
    "texts",
    [
        ["[1]!GRIT_WORK_SPEED(A1,B1)", "[1]prices!A1"],
        ["[1]!GRIT_WORK_SPEED(A1,B1)", "[2]prices!A1"],
        ["[1]!GRIT_WORK_SPEED(A1,B1)", "[1]!GRIT_WORK_SPEED(A1:A2,B1)"],
    ],
)
def test_a_link_that_is_needed_stays(tmp_path, texts):
    shared = share(link_book(tmp_path / "book.xlsx", *texts, targets=["functions.xlam", "prices.xlsx"]))
    assert any("[1] stays" in note for note in shared.notes)
    assert link_parts(shared.output)[0] == link_parts(tmp_path / "book.xlsx")[0]


# --- every function


def random_value(quantity, draw):
    if quantity.is_text:
        return draw.choice(WORDS)
    return float(draw.choice(quantity.choices) if quantity.choices else draw.uniform(*range_of(quantity)))


def random_inputs():
    """(record, rows of inputs that it accepts) of every formula."""
    draw = random.Random(5)
    for record in catalogue:
        rows = []
        while len(rows) < ROWS:
            row = [random_value(quantity, draw) for quantity in record.arguments]
            if isinstance(FUNCTION[record.sheet_name].call(*row), float):
                rows.append(row)
        yield record, rows


def test_every_function_as_excel_stores_it(tmp_path, libreoffice):
    """In a cell, with numbers in place of cells, and inside another function."""
    workbook = Workbook()
    values = {}
    for record, rows in random_inputs():
        sheet = workbook.create_sheet(record.name)
        values[record.name] = {}
        last = len(record.arguments)
        for row, inputs in enumerate(rows, 1):
            letters = [sheet.cell(row, place, value).coordinate for place, value in enumerate(inputs, 1)]
            value = call(record.sheet_name, *inputs)
            for offset, text in enumerate(
                (
                    f"{record.sheet_name}({','.join(letters)})",
                    f"{record.sheet_name}({','.join(map(literal, inputs))})",
                    f"2*{record.sheet_name}({','.join(f'({letter})' for letter in letters)})+1",
                ),
                2,
            ):
                cell = sheet.cell(row, last + offset, f"={text}")
                values[record.name][cell.coordinate] = 2 * value + 1 if offset == 4 else value
    shared = share(stored(workbook, tmp_path / "book.xlsx", values))
    assert shared.complete and shared.equal == len(shared.replaced) == 3 * ROWS * len(list(catalogue)) and not shared.unchecked
    shown = libreoffice.recalc(shared.output)
    for name, cells in values.items():
        for address, value in cells.items():
            assert shown[name][address] == pytest.approx(value, rel=1e-12), (name, address)


def test_every_function_as_calc_stores_it(tmp_path, calc, libreoffice):
    """Typed into a Calc with the extension, one for each row and as an array formula; opened in one without it."""
    data, typed, first = {}, {}, 1
    for record, rows in random_inputs():
        letters = [get_column_letter(first + place) for place in range(len(record.arguments))]
        data[f"{letters[0]}1"] = rows
        single, array = get_column_letter(first + len(letters)), get_column_letter(first + len(letters) + 1)
        typed[f"{single}1:{single}{ROWS}"] = f"={record.sheet_name}({';'.join(letter + '1' for letter in letters)})"
        typed[f"{array}1:{array}{ROWS}"] = (
            f"{{={record.sheet_name}({';'.join(f'{letter}1:{letter}{ROWS}' for letter in letters)})}}"
        )
        first += len(letters) + 2
    path = tmp_path / "book.xlsx"
    shown = calc.type(typed, data, save=path)
    assert all(isinstance(value, float) for value in shown.values())
    shared = share(path)
    assert shared.complete and len(shared.replaced) == (ROWS + 1) * len(list(catalogue))
    assert shared.equal == len(shown) - ROWS  # a look-up over a range is not computed here
    (computed,) = (sheet for title, sheet in libreoffice.recalc(shared.output).items() if title != "gritfuncs")
    for address, value in shown.items():
        assert computed[address] == pytest.approx(value, rel=1e-12), address


# --- back and forth between Excel and Calc


def test_a_workbook_from_excel_becomes_one_for_calc_and_back(tmp_path, calc):
    path, values, table_values = rich_book(tmp_path / "book.xlsx")
    for_calc = share(path, to="calc")
    assert for_calc.output.endswith("book (for Calc).xlsx") and for_calc.complete
    shown = calc.recalc(for_calc.output)
    for sheet, expected in (("R&D <1>", values), ("Table", table_values)):
        for address, value in expected.items():
            if address != "F3":
                assert same(shown[sheet][address], value), (sheet, address)
    back = share(for_calc.output, tmp_path / "back.xlsx", to="excel")
    texts = formulas(back.output)
    assert 'SUM(GRIT_MEAN_SIZE("D126"),2)' in texts["xl/worksheets/sheet1.xml"]
    assert len(back.replaced) == len(for_calc.replaced)
    assert not [text for part in texts.values() for text in part if calc_stored_name("") in text or "!GRIT" in text]
    assert "Replaced: " in for_calc.report()


def test_calls_that_are_spelled_right_already_are_no_work(tmp_path):
    workbook = Workbook()
    workbook.active["A1"] = "=GRIT_WORK_SPEED(20,150)"
    with pytest.raises(ValueError) as error:
        share(stored(workbook, tmp_path / "book.xlsx"), to="excel")
    assert one_line(error).endswith("book.xlsx: all functions are spelled for Excel already")


# --- the knee


KNEE_NAMES = ("GRIT_KNEE", "GRIT_KNEE_LOW", "GRIT_KNEE_HIGH", "GRIT_KNEE_LEVEL", "GRIT_KNEE_VERDICT")


def knee_book(path, depths, energies, *, edit=None, across=False):
    """Readings in A and B (or in rows 1 and 2), the knee's functions in D, the report in F:G."""
    workbook = Workbook()
    sheet = workbook.active
    sheet.title = "A trial's readings"
    for place, pair in enumerate(zip(depths, energies), 1):
        for other, value in enumerate(pair, 1):
            sheet.cell(*((other, place + 8) if across else (place, other)), value)
    last = len(depths)
    ranges = (
        [f"I1:{get_column_letter(last + 8)}1", f"I2:{get_column_letter(last + 8)}2"] if across else [f"A1:A{last}", f"B1:B{last}"]
    )
    shape = (lambda values: [list(values)]) if across else column
    values = {}
    for row, name in enumerate(KNEE_NAMES, 1):
        sheet[f"D{row}"] = f"={name}({','.join(ranges)})"
        values[f"D{row}"] = FUNCTION[name].call(shape(depths), shape(energies))
    sheet["D6"] = f'=IF(GRIT_KNEE_VERDICT({",".join(ranges)})="found",2*GRIT_KNEE({",".join(ranges)}),"none")'
    values["D6"] = 2 * values["D1"] if values["D5"] == "found" else "none"
    sheet["F1"] = ArrayFormula(f"F1:G{REPORT_ROWS}", f"=GRIT_KNEE_REPORT({','.join(ranges)})")
    for row, pair in enumerate(FUNCTION["GRIT_KNEE_REPORT"].call(shape(depths), shape(energies)), 1):
        values.update({f"F{row}": pair[0], f"G{row}": pair[1]})
        if row > 1:
            sheet[f"F{row}"] = sheet[f"G{row}"] = None

    def fill_block(package):
        xml = package.text("xl/worksheets/sheet1.xml")
        for address, value in values.items():
            if address[0] in "FG" and address != "F1":
                cell = (f'<c r="{address}" t="inlineStr"><is><t>{value}</t></is></c>').replace("&", "&amp;")
                xml = place_cell(xml, address, cell)
        package.put_text("xl/worksheets/sheet1.xml", xml)
        if edit:
            edit(package)

    return stored(workbook, path, {sheet.title: values}, fill_block), values


def place_cell(xml, address, cell):
    row = re.sub(r"\D", "", address)
    if f'<row r="{row}"' not in xml:
        return xml.replace("</sheetData>", f'<row r="{row}">{cell}</row></sheetData>')
    xml = re.sub(rf'<c r="{address}"[^<>]*/>', "", xml)
    return re.sub(rf'(<row r="{row}"[^<>]*>.*?)(</row>)', lambda match: match[1] + cell + match[2], xml, count=1, flags=re.DOTALL)


@pytest.mark.parametrize("across", [False, True], ids=["columns", "rows"])
def test_a_knee_becomes_a_block_of_native_formulas(tmp_path, libreoffice, across):
    path, values = knee_book(tmp_path / "book.xlsx", DEPTHS, ENERGIES, across=across)
    assert values["D5"] == "found"
    shared = share(path)
    assert shared.complete and shared.equal == 6 and len(shared.replaced) == 7
    before, after = read_package(path), read_package(shared.output)
    assert [name for name in after.parts if name not in before.parts] == ["xl/worksheets/gritfuncs.xml"]
    changed = {name for name in before.parts if before.parts[name] != after.parts[name]}
    assert changed == {"xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml"}
    assert load_workbook(shared.output).sheetnames == ["A trial's readings", "gritfuncs"]
    cached = load_workbook(shared.output, data_only=True)
    assert uncached_cells(after) == []
    shown = libreoffice.recalc(shared.output)
    for address, value in values.items():
        assert same(shown["A trial's readings"].get(address), value), address
    ours = {cell.coordinate: cell.value for row in cached["gritfuncs"].iter_rows() for cell in row if cell.value is not None}
    ours = {address: CellError(value) if str(value).startswith("#") else value for address, value in ours.items()}
    theirs = {address: value for address, value in shown["gritfuncs"].items() if value != ""}  # which openpyxl reads as a blank
    assert differences({"gritfuncs": ours}, {"gritfuncs": theirs}) == []
    assert any("report is frozen" in note for note in shared.notes)


def test_many_knees_stand_side_by_side_on_as_many_sheets_as_they_need(tmp_path, libreoffice, monkeypatch):
    """Knees of several lengths, in columns and rows, some without a verdict; each follows its own readings."""
    workbook, values, ranges = Workbook(), {}, []
    sheet = workbook.active
    for number, length in enumerate([8, 6, 8, 7, 8, 6]):
        depths = [round(depth * (1 + number / 20), 3) for depth in DEPTHS[:length]]
        energies = [round(energy + number * depth, 3) for depth, energy in zip(depths, ENERGIES)]
        across = number == 4
        for place, pair in enumerate(zip(depths, energies)):
            for side, value in enumerate(pair):
                sheet.cell(*((40 + side, 1 + place) if across else (1 + place, 1 + 2 * number + side)), value)
        left, right = (get_column_letter(1 + 2 * number + side) for side in (0, 1))
        ranges.append("A40:H40,A41:H41" if across else f"{left}1:{left}{length},{right}1:{right}{length}")
        shape = (lambda found: [list(found)]) if across else column
        for row, name in enumerate(KNEE_NAMES, 20):
            address = f"{left}{row}"
            sheet[address] = f"={name}({ranges[-1]})"
            values[address] = FUNCTION[name].call(shape(depths), shape(energies))
    sheet["A30"] = "=GRIT_MEAN_SIZE(B30)*1"
    sheet["B30"], values["A30"] = "D91", call("GRIT_MEAN_SIZE", "D91")
    monkeypatch.setattr(added, "MOST_CELLS", 4000)
    shown_progress = []
    shared = share(
        stored(workbook, tmp_path / "book.xlsx", {"Sheet": values}), progress=lambda *done: shown_progress.append(done)
    )
    assert shared.complete and len(shared.replaced) == len(values)
    assert [done for done, _ in shown_progress] == list(range(2 * len(values)))  # each cell once found and once checked
    book = load_workbook(shared.output, data_only=True)
    assert book.sheetnames == ["Sheet", "gritfuncs", "gritfuncs_2", "gritfuncs_3", "gritfuncs_4"]
    for title in book.sheetnames:
        assert sum(cell.value is not None for row in book[title].iter_rows() for cell in row) <= 4000
    shown = libreoffice.recalc(shared.output)
    for address, value in values.items():
        expected = CellError("#N/A") if str(value).startswith("#GRIT") else value
        assert same(shown["Sheet"][address], expected) or shown["Sheet"][address] == expected, address
    for title in book.sheetnames[1:]:
        ours = {cell.coordinate: cell.value for row in book[title].iter_rows() for cell in row if cell.value is not None}
        ours = {address: CellError(value) if str(value).startswith("#") else value for address, value in ours.items()}
        assert differences({title: ours}, {title: {a: value for a, value in shown[title].items() if value != ""}}) == []


def test_shared_knees_follow_their_readings(tmp_path, libreoffice):
    """What a knee shows is never older than its readings: the numbers are computed anew, the report says it is out of date."""
    path, values = knee_book(tmp_path / "book.xlsx", DEPTHS, ENERGIES)
    output = share(path).output
    energies = [value if value > 41 else value - 5 for value in ENERGIES]
    book = load_workbook(output)
    sheet = book["A trial's readings"]
    for row, value in enumerate(energies, 1):
        sheet[f"B{row}"] = value
    book.save(tmp_path / "edited.xlsx")
    shown = libreoffice.recalc(tmp_path / "edited.xlsx")["A trial's readings"]
    knee = find_knee(DEPTHS, energies)
    assert knee.verdict == "found" and knee.knee != pytest.approx(values["D1"], rel=1e-3)
    assert shown["D1"] == pytest.approx(knee.knee, rel=1e-9) and shown["D4"] == pytest.approx(knee.level, rel=1e-9)
    assert shown["F1"].startswith("The readings have changed") and "verdict" not in shown.values()


def test_rows_put_into_the_readings_make_an_error_not_a_number(tmp_path, libreoffice):
    path, _ = knee_book(tmp_path / "book.xlsx", DEPTHS, ENERGIES)
    output = share(path).output
    package = read_package(output)
    package.put_text("xl/worksheets/gritfuncs.xml", package.text("xl/worksheets/gritfuncs.xml").replace("$A$8", "$A$9"))
    write_package(package, tmp_path / "longer.xlsx")
    shown = libreoffice.recalc(tmp_path / "longer.xlsx")["A trial's readings"]
    assert all(isinstance(shown[f"D{row}"], CellError) for row in range(1, 6))


@pytest.mark.parametrize(
    "energies",
    [[90 - 40 * depth for depth in DEPTHS], [40.0] * 8, [72.3, *ENERGIES[:7]][::-1]],
    ids=["still falling", "already level", "rising"],
)
def test_without_a_knee_there_is_no_number_either(tmp_path, libreoffice, energies):
    path, values = knee_book(tmp_path / "book.xlsx", DEPTHS, energies)
    assert values["D5"] != "found"
    shared = share(path)
    assert {entry.place[-2:] for entry in shared.refused} == {"D1", "D2", "D3", "D4"}
    assert all(entry.stored == values[entry.place[-2:]] and entry.native == "#N/A" for entry in shared.refused)
    assert shared.complete and shared.equal == 2
    shown = libreoffice.recalc(shared.output)["A trial's readings"]
    assert [shown["D5"], shown["D6"]] == [values["D5"], "none"] and shown["D1"] == CellError("#N/A")


def test_where_the_block_would_answer_otherwise_the_calls_stay(tmp_path):
    """One reading out of line makes up the knee: the function sees that, native formulas would find a knee."""
    path, values = knee_book(tmp_path / "book.xlsx", DEPTHS, [72.1, 63.9, 55.8, 36.2, 39.8, 40.0, 40.2, 39.8])
    assert values["D5"] == "not resolved"
    shared = share(path)
    assert shared.output is None and len(shared.left) == 7
    why = "the function answers 'not resolved', native formulas would answer 'found': they do not look for a single reading out of line"
    assert {left.reason for left in shared.left} == {why}


def test_a_text_among_the_readings_stays_with_the_function(tmp_path):
    path, _ = knee_book(tmp_path / "book.xlsx", DEPTHS, [*ENERGIES[:7], "39,9"])
    shared = share(path)
    assert shared.output is None
    assert all("energies, cell 8, must be a number" in left.reason for left in shared.left)


@pytest.mark.parametrize(
    "text, why",
    [
        ("GRIT_KNEE(A1:A41,B1:B41)", "depths and energies must be at most 40 cells long (got 41): shorten the ranges"),
        ("GRIT_KNEE(A:A,B:B)", "at most 40 cells long"),
        (
            "GRIT_KNEE(A1:A8,B1:B7)",
            "depths and energies must be one column each, or one row, of equal length (got 8 x 1 and 7 x 1 cells)",
        ),
        ("GRIT_KNEE(A1:B4,A5:B8)", "one column each"),
        ("GRIT_KNEE(A1:A8*2,B1:B8)", "depths must be a range of cells such as A2:A12 (got A1:A8*2)"),
        ("GRIT_KNEE(Trial[d],Trial[u])", "depths must be a range of cells in this workbook"),
        ("GRIT_KNEE([2]Trial!A1:A8,B1:B8)", "depths must be a range of cells in this workbook"),
        ("GRIT_KNEE_REPORT(A1:A8,B1:B8)", "the report must be an array formula of its own"),
        ("INDEX(GRIT_KNEE_REPORT(A1:A8,B1:B8),2,2)", "the report must be an array formula of its own"),
    ],
)
def test_knees_that_stay_say_why(tmp_path, text, why):
    workbook = Workbook()
    for depth, energy in zip(DEPTHS, ENERGIES):
        workbook.active.append([depth, energy])
    for row in range(9, 60):
        workbook.active.append([1.3 + row / 100, 40])
    workbook.active["D1"] = f"={text}"
    (left,) = share(stored(workbook, tmp_path / "book.xlsx")).left
    assert left.place == "Sheet!D1" and why in left.reason


def test_readings_that_were_never_computed_ask_for_saving_first(tmp_path):
    """A workbook that no spreadsheet program has saved stores formulas without values."""
    workbook = Workbook()
    for row, energy in enumerate(ENERGIES, start=1):
        workbook.active.append([f"=1+{row}/10", f"={energy}"])
    workbook.active["D1"] = "=GRIT_KNEE(A1:A8,B1:B8)"
    (left,) = share(stored(workbook, tmp_path / "book.xlsx")).left
    assert "save the workbook in a spreadsheet program first" in left.reason and "(got blank cells)" in left.reason


def test_names_and_other_sheets_lead_to_the_readings(tmp_path, libreoffice):
    workbook = Workbook()
    sheet = workbook.active
    sheet.title = "gritfuncs"  # the name that the added sheet would have
    for depth, energy in zip(DEPTHS, ENERGIES):
        sheet.append([depth, energy])
    workbook.defined_names["depths"] = DefinedName("depths", attr_text="gritfuncs!$A$1:$A$8")
    workbook.defined_names["best"] = DefinedName("best", attr_text="GRIT_KNEE(gritfuncs!$A$1:$A$8,gritfuncs!$B$1:$B$8)")
    other = workbook.create_sheet("It's")
    other["A1"] = "=GRIT_KNEE(depths,gritfuncs!B1:B8)+0"
    other["A2"] = "=best*2"
    knee = call("GRIT_KNEE", column(DEPTHS), column(ENERGIES))
    path = stored(workbook, tmp_path / "book.xlsx", {"It's": {"A1": knee, "A2": 2 * knee}})
    shared = share(path)
    assert shared.complete and load_workbook(shared.output).sheetnames == ["gritfuncs", "It's", "gritfuncs_2"]
    shown = libreoffice.recalc(shared.output)["It's"]
    assert same(shown["A1"], knee) and same(shown["A2"], 2 * knee)


def test_knees_filled_over_several_cells_get_a_block_each(tmp_path, libreoffice):
    """A shared formula whose readings move with it: each cell is written out."""
    workbook = Workbook()
    sheet = workbook.active
    other = [value * 1.1 + depth for depth, value in zip(DEPTHS, ENERGIES)]
    for row in zip(DEPTHS, ENERGIES, other):
        sheet.append(row)
    sheet["B10"], sheet["C10"] = "=GRIT_KNEE($A$1:$A$8,B1:B8)", "=GRIT_KNEE($A$1:$A$8,C1:C8)"
    values = {"B10": call("GRIT_KNEE", column(DEPTHS), column(ENERGIES)), "C10": call("GRIT_KNEE", column(DEPTHS), column(other))}

    def fill(package):
        part = "xl/worksheets/sheet1.xml"
        replace_in(
            package,
            part,
            "<f>GRIT_KNEE($A$1:$A$8,B1:B8)</f>",
            '<f t="shared" ref="B10:C10" si="3">GRIT_KNEE($A$1:$A$8,B1:B8)</f>',
        )
        replace_in(package, part, "<f>GRIT_KNEE($A$1:$A$8,C1:C8)</f>", '<f t="shared" si="3"/>')

    shared = share(stored(workbook, tmp_path / "book.xlsx", {"Sheet": values}, fill))
    assert shared.complete and shared.equal == 2
    assert [entry.before for entry in shared.replaced] == ["=GRIT_KNEE($A$1:$A$8,B1:B8)", "=GRIT_KNEE($A$1:$A$8,C1:C8)"]
    shown = libreoffice.recalc(shared.output)["Sheet"]
    assert values["B10"] != values["C10"] and all(same(shown[address], value) for address, value in values.items())


def test_knees_filled_over_several_cells_that_must_all_stay_write_nothing(tmp_path):
    workbook = Workbook()
    workbook.active["A1"], workbook.active["B1"] = "=GRIT_KNEE(C1:C99,D1:D99)", "=GRIT_KNEE(D1:D99,E1:E99)"

    def fill(package):
        part = "xl/worksheets/sheet1.xml"
        first, second = "<f>GRIT_KNEE(C1:C99,D1:D99)</f>", "<f>GRIT_KNEE(D1:D99,E1:E99)</f>"
        replace_in(package, part, first, first.replace("<f>", '<f t="shared" ref="A1:B1" si="0">'))
        replace_in(package, part, second, '<f t="shared" si="0"></f>')

    shared = share(stored(workbook, tmp_path / "book.xlsx", edit=fill))
    assert shared.output is None and not (tmp_path / "book (shared).xlsx").exists()
    assert [(left.place, left.formula) for left in shared.left] == [
        ("Sheet!A1", "=GRIT_KNEE(C1:C99,D1:D99)"),
        ("Sheet!B1", "=GRIT_KNEE(D1:D99,E1:E99)"),
    ]


def test_knees_from_calc_compute_the_same_without_the_extension(tmp_path, calc, libreoffice):
    typed = {f"D{row}": f"={name}(A1:A9;B1:B9)" for row, name in enumerate(KNEE_NAMES, 1)}
    typed[f"E1:F{REPORT_ROWS}"] = "{=GRIT_KNEE_REPORT(A1:A9;B1:B9)}"
    typed["G1"], typed["G2"], typed["G3:G4"] = ("=GRIT_MEAN_SIZE(C1)", "=GRIT_NET_POWER(A1;{0})", "{=GRIT_MEAN_SIZE(C1:C2)}")
    typed["G5"] = "=GRIT_NET_POWER(A1;H1:H1)"
    data = {"A1": [*map(list, zip(DEPTHS, ENERGIES)), [1.4, None]], "C1": [["D126"], ["120/140"]], "H1": [[0]]}
    path = tmp_path / "book.xlsx"
    shown = calc.type(typed, data, save=path)
    assert shown["D5"] == "found" and shown["G1"] == 115.5 and shown["G5"] == 0.6
    shared = share(path)
    assert shared.complete
    computed = next(iter(libreoffice.recalc(shared.output).values()))
    for address, value in shown.items():
        assert same(computed.get(address), value), address


# --- what the functions refused, what was never computed


def test_cells_that_were_refused_are_named_with_what_a_native_formula_makes_of_them(tmp_path):
    workbook = Workbook()
    workbook.active.append([-20, 150, "=GRIT_WORK_SPEED(A1,B1)"])
    workbook.active.append([0, 150, "=GRIT_WORK_RPM(A2,B2)"])
    workbook.active.append([20, None, "=GRIT_WORK_SPEED(A3,B3)*1"])
    refusals = {
        "C1": FUNCTION["GRIT_WORK_SPEED"].call(-20.0, 150.0),
        "C2": FUNCTION["GRIT_WORK_RPM"].call(0.0, 150.0),
        "C3": CellError("#VALUE!"),
    }
    shared = share(stored(workbook, tmp_path / "book.xlsx", {"Sheet": refusals}))
    assert [(entry.place, entry.stored, entry.native) for entry in shared.refused] == [
        ("Sheet!C1", refusals["C1"], pytest.approx(-9.4247779607)),
        ("Sheet!C2", refusals["C2"], "#DIV/0!"),
    ]
    assert [(entry.place, entry.native) for entry in shared.differences] == [("Sheet!C3", 0.0)] and not shared.complete
    assert refusals["C1"] in shared.report() and "-9.42" in shared.report() and "Other value than stored: 1" in shared.report()
    assert load_workbook(shared.output, data_only=True).active["C1"].value == refusals["C1"]


def test_a_wrong_stored_value_is_found(tmp_path):
    workbook = Workbook()
    workbook.active.append([20, 150, "=GRIT_WORK_SPEED(A1,B1)", "=GRIT_WORK_SPEED(A1,B1)"])
    value = call("GRIT_WORK_SPEED", 20, 150)
    shared = share(stored(workbook, tmp_path / "book.xlsx", {"Sheet": {"C1": value * (1 + 2e-9), "D1": value * (1 + 1e-10)}}))
    assert shared.equal == 1 and [entry.place for entry in shared.differences] == ["Sheet!C1"]


@pytest.mark.parametrize("value", [None, CellError("#NAME?")])
def test_cells_without_a_value_make_the_copy_compute_on_opening(tmp_path, libreoffice, value):
    workbook = Workbook()
    workbook.active.append([20, 150, "=GRIT_WORK_SPEED(A1,B1)"])
    shared = share(stored(workbook, tmp_path / "book.xlsx", {"Sheet": {} if value is None else {"C1": value}}))
    assert shared.unchecked == ("Sheet!C1",) and shared.complete
    assert 'fullCalcOnLoad="1"' in read_package(shared.output).text("xl/workbook.xml")


# --- files


def simple_book(path, text="GRIT_WORK_SPEED(20,150)", edit=None):
    workbook = Workbook()
    workbook.active["A1"] = f"={text}"
    return stored(workbook, path, edit=edit)


def test_nothing_is_ever_overwritten(tmp_path):
    path = simple_book(tmp_path / "book.xlsx")
    (tmp_path / "book (shared).xlsx").write_text("mine")
    for output in (None, path, tmp_path / "book (shared).xlsx"):
        with pytest.raises(ValueError) as error:
            share(path, output)
        assert one_line(error).endswith("must not exist yet")
    assert (tmp_path / "book (shared).xlsx").read_text() == "mine"
    assert share(path, tmp_path / "other.XLSX").output == str(tmp_path / "other.XLSX")
    for output, why in (
        (tmp_path / "book.xlsm", "must end in .xlsx as the workbook does"),
        (tmp_path / "no" / "b.xlsx", "cannot be written"),
    ):
        with pytest.raises(ValueError) as error:
            share(path, output)
        assert why in one_line(error)


def test_a_workbook_without_functions_is_refused(tmp_path):
    path = simple_book(tmp_path / "book.xlsx", '"GRIT_WORK_SPEED(20,150)"&in_grit_depth')
    with pytest.raises(ValueError) as error:
        share(path)
    assert one_line(error) == f"{path}: must have a function of gritfuncs in a formula (got none)"
    assert list(tmp_path.iterdir()) == [path]


def test_an_unknown_target_is_refused(tmp_path):
    with pytest.raises(ValueError, match=rf"to must be {', '.join((NATIVE, *(host.name for host in HOSTS)))} \(got 'numbers'\)"):
        share(tmp_path / "book.xlsx", to="numbers")


@pytest.mark.parametrize(
    "name, content",
    [
        ("none.xlsx", None),
        ("text.xlsx", b"depth;energy"),
        ("old.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600),
        ("locked.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le")),
    ],
)
def test_other_files_are_refused_in_one_line(tmp_path, name, content):
    if content is not None:
        (tmp_path / name).write_bytes(content)
    with pytest.raises(ValueError) as error:
        share(tmp_path / name)
    assert name in one_line(error) and len(list(tmp_path.iterdir())) == (content is not None)


def test_damaged_and_hostile_workbooks_are_refused_in_one_line(tmp_path):
    path = simple_book(tmp_path / "book.xlsx")
    (tmp_path / "half.xlsx").write_bytes(path.read_bytes()[:2000])
    entity = b'<!DOCTYPE x [<!ENTITY a "b">]>'
    simple_book(tmp_path / "entity.xlsx", edit=lambda package: package.parts.update({"xl/a.xml": entity}))
    simple_book(tmp_path / "bomb.xlsx", edit=lambda package: package.parts.update({"xl/a.bin": bytes(40_000_000)}))
    simple_book(
        tmp_path / "broken.xlsx", edit=lambda package: replace_in(package, "xl/worksheets/sheet1.xml", "</sheetData>", "")
    )
    for name in ("half", "entity", "bomb", "broken"):
        with pytest.raises(ValueError) as error:
            share(tmp_path / f"{name}.xlsx")
        assert one_line(error).startswith(str(tmp_path / f"{name}.xlsx: "))
        assert not (tmp_path / f"{name} (shared).xlsx").exists()


def test_prefixes_and_entities_of_other_writers(tmp_path, libreoffice):
    """A sheet whose elements all have a prefix, whose texts use every entity, and whose cells keep their spaces."""
    formula = ' "&lt;&amp;&gt;&quot;&quot;&#233;"&amp;IF(1&lt;2,ROUND(GRIT_WORK_SPEED(20,150),1),&#34;x&#34;)&#10;'

    def prefixed(package):
        xml = package.text("xl/worksheets/sheet1.xml")
        xml = re.sub(r"<(/?)(?=[a-zA-Z])", r"<\1x:", xml).replace("xmlns=", "xmlns:x=")
        package.put_text(
            "xl/worksheets/sheet1.xml",
            re.sub(
                r"<x:f>[^<]*</x:f><x:v ?/>|<x:f>[^<]*</x:f><x:v></x:v>",
                lambda _: f'<x:f xml:space="preserve">{formula}</x:f>',
                xml,
            ),
        )

    shared = share(simple_book(tmp_path / "book.xlsx", edit=prefixed))
    assert shared.replaced[0].after == '= "<&>""é"&IF(1<2,ROUND(PI()*20*150/1000,1),"x")\n'
    text = read_package(shared.output).text("xl/worksheets/sheet1.xml")
    assert '<x:f xml:space="preserve"> "&lt;&amp;&gt;' in text
    assert next(iter(libreoffice.recalc(shared.output).values()))["A1"] == '<&>"é9.4'


def test_calls_in_rules_that_would_need_the_added_sheet_stay(tmp_path):
    workbook = Workbook()
    sheet = workbook.active
    for row in zip(DEPTHS, ENERGIES):
        sheet.append(row)
    sheet.conditional_formatting.add("A1:A8", FormulaRule(["A1>GRIT_KNEE($A$1:$A$8,$B$1:$B$8)"]))
    shared = share(stored(workbook, tmp_path / "book.xlsx"))
    assert shared.left == (
        Left(
            "Sheet, conditional format of A1:A8",
            "=A1>GRIT_KNEE($A$1:$A$8,$B$1:$B$8)",
            "a rule cannot refer to the added sheet: put the call in a cell and refer to that cell",
        ),
    )
    assert shared.output is None and "nothing was written" in shared.report()


def test_rules_of_the_newer_form_are_found(tmp_path):
    rule = (
        '<extLst><ext uri="{78C0D931-6437-407d-A8EE-F0AAD7539E65}"><x14:conditionalFormattings><x14:conditionalFormatting>'
        '<x14:cfRule type="expression"><xm:f>GRIT_WORK_SPEED(A1,B1)&gt;Other!A1</xm:f></x14:cfRule><xm:sqref>C1:C9</xm:sqref>'
        "</x14:conditionalFormatting></x14:conditionalFormattings></ext></extLst></worksheet>"
    )
    spaces = (
        'xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main" '
        'xmlns:xm="http://schemas.microsoft.com/office/excel/2006/main" '
    )

    def newer(package):
        part = "xl/worksheets/sheet1.xml"
        replace_in(package, part, "<worksheet ", f"<worksheet {spaces}")
        replace_in(package, part, "</worksheet>", rule)

    shared = share(simple_book(tmp_path / "book.xlsx", "1+1", newer))
    assert shared.replaced == (
        Replaced("Sheet, rule of C1:C9", "=GRIT_WORK_SPEED(A1,B1)>Other!A1", "=(PI()*A1*B1/1000)>Other!A1"),
    )
    assert "<xm:f>(PI()*A1*B1/1000)&gt;Other!A1</xm:f>" in read_package(shared.output).text("xl/worksheets/sheet1.xml")


def test_dynamic_arrays_keep_their_marks(tmp_path):
    """As Excel 365 stores any call of a function that it does not know: an array formula, spilling or not."""
    workbook = Workbook()
    workbook.active.append(
        [20, 150, ArrayFormula("C1", "=GRIT_WORK_SPEED(A1,B1)"), ArrayFormula("D1:D2", "=GRIT_WORK_SPEED(A1:A2,B1)")]
    )
    workbook.active.append([30, 100])
    values = {"C1": call("GRIT_WORK_SPEED", 20, 150), "D1": call("GRIT_WORK_SPEED", 20, 150)}

    def spilling(package):
        part = "xl/worksheets/sheet1.xml"
        for address in ("C1", "D1"):
            replace_in(package, part, f'<c r="{address}"', f'<c r="{address}" cm="1"')
        package.put_text(part, place_cell(package.text(part), "D2", f'<c r="D2"><v>{call("GRIT_WORK_SPEED", 30, 150)!r}</v></c>'))

    path = stored(workbook, tmp_path / "book.xlsx", {"Sheet": values}, spilling)
    shared = share(path)
    assert (
        shared.complete
        and shared.equal == 3
        and [entry.after for entry in shared.replaced] == ["=PI()*A1*B1/1000", "=PI()*A1:A2*B1/1000"]
    )
    part = "xl/worksheets/sheet1.xml"
    before, after = read_package(path).parts[part], read_package(shared.output).parts[part]
    assert without_formulas(before) == without_formulas(after) and b'cm="1"' in after


def damaged(xml, draw):
    """The text of a part with one thing wrong: something cut out or put in, an element, attribute or text gone or changed."""
    place = draw.randrange(len(xml))
    kind = draw.randrange(5)
    if kind == 0:
        return xml[:place] + xml[place + draw.randrange(1, 30) :]
    if kind == 1:
        return xml[:place] + draw.choice(["<", "&", '"', "A1", "r=", "$", "-1", "99999999999", "(", "[1]!"]) + xml[place:]
    pattern, new = {
        2: (r"<[^<>]*>", [""]),
        3: (r'(?<==")[^"]*(?=")', ["", "0", "-5", "A0", "ZZZZ9", "1e9", "../x.xml"]),
        4: (r"(?<=>)[^<]+(?=<)", ["", "nan", "-1", "GRIT_KNEE(A1:A8,B1:B8)", "GRIT_MEAN_SIZE(A1)", "GRIT_DEPTH("]),
    }[kind]
    match = draw.choice(list(re.finditer(pattern, xml)) or list(re.finditer(r"<[^<>]*>", xml)))
    return xml[: match.start()] + draw.choice(new) + xml[match.end() :]


def test_damage_of_any_kind_is_survived_or_refused_in_one_line(tmp_path):
    draw, refused = random.Random(8), 0
    books = [rich_book(tmp_path / "rich.xlsx")[0], knee_book(tmp_path / "knee.xlsx", DEPTHS, ENERGIES)[0]]
    for number in range(40):
        package = read_package(draw.choice(books))
        parts = [name for name in package.parts if re.search(r"sheet\d|workbook\.xml|table1|Content_Types", name)]
        part = draw.choice(parts)
        package.parts[part] = damaged(package.text(part), draw).encode()
        package.path = None
        path = tmp_path / f"{number}.xlsx"
        write_package(package, path)
        try:
            share(path, to=draw.choice(["native", "native", "calc"])).report()
        except ValueError as error:
            assert str(error).startswith(f"{path}: ") and "\n" not in str(error)
            refused += 1
    assert 3 < refused < 37


def test_the_document_shows_what_becomes_of_formulas(tmp_path):
    text = (Path(__file__).parents[1] / "docs" / "sharing.md").read_text(encoding="utf-8")
    rows = re.findall(r"\| `=(.*)` \| `(=.*)` \|", text)
    assert len(rows) == 7
    workbook = Workbook()
    sheet = workbook.active
    for row, pair in enumerate(zip(DEPTHS, ENERGIES), 2):
        sheet[f"D{row}"], sheet[f"E{row}"] = pair
    for row, (before, _) in enumerate(rows, 1):
        sheet[f"G{row}"] = f"={before}"
    shared = share(stored(workbook, tmp_path / "book.xlsx"))
    assert {entry.before: entry.after for entry in shared.replaced} == {f"={before}": after for before, after in rows}
