"""Workbook packages: what is not edited stays byte for byte, values arrive, hostile files are refused."""

from __future__ import annotations

import contextlib
import io
import os
import re
import struct
import subprocess
import sys
import time
import warnings
import zipfile

import pytest
from engines import differences
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook
from openpyxl.chart import Reference, ScatterChart, Series
from openpyxl.chart.data_source import StrRef
from openpyxl.chart.series import SeriesLabel
from openpyxl.formatting.rule import CellIsRule
from openpyxl.styles import PatternFill
from openpyxl.worksheet.datavalidation import DataValidation
from share_books import uncached_cells

from gritfuncs.sheets.save import save_workbook
from gritfuncs.spreadsheets import package as ooxml
from gritfuncs.spreadsheets.cell_values import CellError
from gritfuncs.spreadsheets.evaluate import workbook_values
from gritfuncs.spreadsheets.formula_text import formula_cells, number_text, put_values
from gritfuncs.spreadsheets.package import Package, read_package, sheet_parts, write_package


def rich_workbook():
    """A workbook with what templates have: formulas with values of each kind, a chart, validation, formats."""
    workbook = Workbook()
    sheet = workbook.active
    sheet.title = "R&D <1>"
    rows = [
        (0.6, "=A1*2", "=A1&\" <µm> & 'x'\""),
        (0.7, "=A2*2", "=A2>1"),
        (0.8, "=1/0", '=IF(A3>1,1,"")'),
        (1.1, "=A4*2", '="  spaces "'),
        (1.3, "=A5/3", "=CHAR(10)&CHAR(7)"),
    ]
    for row in rows:
        sheet.append(row)
    sheet["E1"], sheet["E2"] = "depth", "energy"
    chart = ScatterChart()
    chart.title = "a chart"
    depths, energies = (Reference(sheet, min_col=column, min_row=1, max_row=5) for column in (1, 2))
    series = Series(energies, depths)
    series.tx = SeriesLabel(strRef=StrRef("'R&D <1>'!$E$1"))
    chart.series.append(series)
    sheet.add_chart(chart, "G2")
    rule = DataValidation(type="decimal", operator="greaterThan", formula1="0")
    for cells in ("A1:A5", "C7", "D9:E9", "F2", "F4", "F6"):
        rule.add(cells)
    sheet.add_data_validation(rule)
    grey = PatternFill("solid", bgColor="FFDDDDDD")
    for cells in ("A1:A5", "B1:B5", "C1 C3 E5"):
        sheet.conditional_formatting.add(cells, CellIsRule(operator="lessThan", formula=["0"], fill=grey))
    workbook.create_sheet("Other")["A1"] = "=SUM('R&D <1>'!A1:A5)"
    return workbook


@pytest.fixture
def saved(tmp_path):
    save_workbook(rich_workbook(), tmp_path / "book.xlsx")
    return tmp_path / "book.xlsx"


# --- save_workbook ---


def test_every_reader_finds_the_values(saved, libreoffice):
    values = {
        sheet.title: {cell.coordinate: cell.value for row in sheet.iter_rows() for cell in row}
        for sheet in load_workbook(saved, data_only=True)
    }
    found = values["R&D <1>"]
    assert [found[f"B{row}"] for row in range(1, 6)] == [1.2, 1.4, "#DIV/0!", 2.2, 1.3 / 3]
    assert found["C1"] == "0.6 <µm> & 'x'" and found["C2"] is False and found["C4"] == "  spaces "
    assert values["Other"]["A1"] == pytest.approx(4.5, rel=1e-12)
    assert uncached_cells(read_package(saved)) == []
    calc = libreoffice.recalc(saved)
    ours = workbook_values(load_workbook(saved))
    del calc["R&D <1>"]["C5"], ours["R&D <1>"]["C5"]  # a control character, which LibreOffice drops
    assert differences(ours, calc) == []


def test_the_same_workbook_gives_the_same_bytes(saved, tmp_path):
    first = saved.read_bytes()
    time.sleep(1.1)  # the properties of a workbook count in seconds
    save_workbook(rich_workbook(), tmp_path / "again.xlsx")
    assert (tmp_path / "again.xlsx").read_bytes() == first
    script = (
        "import sys; sys.path[:0] = sys.argv[1:3]\n"
        "from test_ooxml import rich_workbook, save_workbook\n"
        "save_workbook(rich_workbook(), sys.argv[3])"
    )
    here = os.path.dirname(__file__)
    for seed in "12":
        other = tmp_path / f"{seed}.xlsx"
        subprocess.run(
            [sys.executable, "-c", script, here, os.path.dirname(here), str(other)],
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
        )
        assert other.read_bytes() == first


def test_charts_carry_their_points(saved):
    chart = read_package(saved).text("xl/charts/chart1.xml")
    xs, ys = chart.split("<yVal>")
    points = re.findall(r'<pt idx="(\d)"><v>([^<]*)</v>', xs.partition("<xVal>")[2])
    assert points == [("0", "0.6"), ("1", "0.7"), ("2", "0.8"), ("3", "1.1"), ("4", "1.3")]
    # the error is a gap
    assert re.findall(r'<pt idx="(\d)"><v>', ys) == ["0", "1", "3", "4"] and '<ptCount val="5"/>' in ys
    assert "<v>depth</v>" in chart


def test_the_workbook_is_computed_anew_on_opening(saved):
    assert read_package(saved).text("xl/workbook.xml").count('fullCalcOnLoad="1"') == 1


def test_a_workbook_that_cannot_be_computed_is_not_written(tmp_path):
    workbook = Workbook()
    workbook.active["B2"] = "=NOSUCH(1)"
    with pytest.raises(ValueError, match="Sheet!B2: unknown function NOSUCH"):
        save_workbook(workbook, tmp_path / "book.xlsx")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(ValueError, match=r"none/book.xlsx: cannot be written \(No such file or directory\)"):
        save_workbook(Workbook(), tmp_path / "none" / "book.xlsx")


# --- packages ---


def contents(path):
    with zipfile.ZipFile(path) as archive:
        return [(entry.filename, entry.date_time, entry.compress_type, archive.read(entry)) for entry in archive.infolist()]


def test_writing_what_was_read_changes_nothing(saved, libreoffice, tmp_path):
    for path in (saved, libreoffice.convert(saved, tmp_path / "calc.xlsx")):
        copy = tmp_path / f"copy of {path.name}"
        write_package(read_package(path), copy)
        assert contents(copy) == contents(path)


def test_only_the_part_that_was_replaced_differs(saved, tmp_path):
    package = read_package(saved)
    package.put_text("docProps/app.xml", "<Properties/>")
    package.parts["custom/new.bin"] = b"\0\1"
    write_package(package, tmp_path / "copy.xlsx")
    before, after = contents(saved), contents(tmp_path / "copy.xlsx")
    assert [new[0] for old, new in zip(before, after) if old != new] == ["docProps/app.xml"]
    assert after[-1][0] == "custom/new.bin" and len(after) == len(before) + 1


def test_put_values_edits_only_values(saved, tmp_path):
    """All that is left when values, chart points, the mark and the program's name are taken out is what openpyxl wrote."""
    rich_workbook().save(tmp_path / "plain.xlsx")
    plain, package = read_package(tmp_path / "plain.xlsx"), read_package(saved)

    def bare(text):
        text = re.sub(r"<v( xml:space=\"preserve\")?>[^<]*</v>|<v ?/>", "", text)
        text = re.sub(r"<(num|str)Cache>.*?</\1Cache>| t=\"\w+\"|fullCalcOnLoad=\"1\"", "", text)
        text = re.sub(r"<dcterms:.*?</dcterms:\w+>|<Application>.*?</Application>", "", text)
        return re.sub(r"\s+", " ", text).replace(" >", ">").replace(" />", "/>")

    for name, data in package.parts.items():
        assert bare(plain.text(name)) == bare(data.decode()), name


def test_values_that_are_not_given_stay(saved):
    package = read_package(saved)
    before = dict(package.parts)
    put_values(package, {"Other": {"A1": 1.5, "B9": 3.0}})
    changed = [name for name in before if before[name] != package.parts[name]]
    assert "xl/worksheets/sheet2.xml" in changed and "xl/worksheets/sheet1.xml" not in changed
    assert "<v>1.5</v>" in package.text("xl/worksheets/sheet2.xml")


def test_the_original_is_never_overwritten(saved):
    before = saved.read_bytes()
    with pytest.raises(ValueError, match="book.xlsx: must not exist yet"):
        write_package(read_package(saved), saved)
    assert saved.read_bytes() == before


def test_nothing_is_left_behind_when_writing_fails(saved, tmp_path, monkeypatch):
    package = read_package(saved)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ValueError, match=r"copy.xlsx: cannot be written \(No space left on device\)"):
        write_package(package, tmp_path / "copy.xlsx")
    assert os.listdir(tmp_path) == ["book.xlsx"]


# --- sheets ---


def test_sheets_and_parts_in_the_order_of_the_tabs(saved):
    assert list(sheet_parts(read_package(saved)).items()) == [
        ("R&D <1>", "xl/worksheets/sheet1.xml"),
        ("Other", "xl/worksheets/sheet2.xml"),
    ]


@pytest.mark.parametrize("name", ["", "R&amp;D &lt;1>"])
def test_a_sheet_without_a_name_of_its_own_is_damaged(name, saved, tmp_path):
    text = read_package(saved).text("xl/workbook.xml")
    assert 'name="Other"' in text
    (tmp_path / "twice.xlsx").write_bytes(
        edited(saved, {"xl/workbook.xml": text.replace('name="Other"', f'name="{name}"').encode()})
    )
    with pytest.raises(ValueError, match="damaged workbook .*a sheet has no name of its own"):
        sheet_parts(read_package(tmp_path / "twice.xlsx"))


def test_formula_cells_in_every_spelling():
    xml = (
        '<w xmlns:x="urn:x"><x:row r="1"><x:c r="A1" s="3"><x:f>A2&amp;"&lt;"</x:f><x:v>1</x:v></x:c><x:c r="B1"/>'
        '<x:c r="C1" t="s"><x:v>0</x:v></x:c></x:row><row/>'
        '<row><c r=\'D3\'><f t="shared" ref="D3:E3" si="0">F1*2</f></c><c><f t="shared" si="0"/><v/></c></row>'
        "<row><c/><c><f><!-- a --><![CDATA[1<]]>2</f></c></row>"
        '<cols><col min="1"/></cols></w>'
    ).encode()
    found = list(formula_cells(xml))
    assert [(cell.address, cell.formula.text) for cell in found] == [("A1", 'A2&"<"'), ("D3", "F1*2"), ("E3", ""), ("B4", "1<2")]
    assert xml[found[0].formula.inner : found[0].formula.inner_end] == b'A2&amp;"&lt;"'
    assert found[1].formula.attributes == {"t": "shared", "ref": "D3:E3", "si": "0"}


def package_of(sheet, workbook="<workbook xmlns:r='urn:r'><sheets><sheet name='S' r:id='a'/></sheets></workbook>"):
    return Package(
        {
            "xl/workbook.xml": workbook.encode(),
            "xl/_rels/workbook.xml.rels": b"<R><Relationship Id='a' Target='/xl/s.xml'/></R>",
            "xl/s.xml": f"<s><row>{sheet}</row></s>".encode(),
        }
    )


@pytest.mark.parametrize(
    "value, written",
    [
        (2.0, 't="n"><f>X()</f><v>2</v>'),
        (True, 't="b"><f>X()</f><v>1</v>'),
        (CellError("#N/A"), 't="e"><f>X()</f><v>#N/A</v>'),
        ("a<b", 't="str"><f>X()</f><v>a&lt;b</v>'),
        ("", 't="str"><f>X()</f><v></v>'),
        (" a", 't="str"><f>X()</f><v xml:space="preserve"> a</v>'),
    ],
)
def test_a_value_is_written_with_its_type(value, written):
    package = package_of('<c r="A1" s="7" t="str"><f>X()</f><v>old</v></c><c r="A2"><v>5</v></c>')
    put_values(package, {"S": {"A1": value, "A2": 6.0}})
    assert package.text("xl/s.xml") == f'<s><row><c r="A1" s="7" {written}</c><c r="A2"><v>5</v></c></row></s>'


@pytest.mark.parametrize(
    "before, after",
    [
        ('<sheets/><calcPr calcId="1"/>', '<sheets/><calcPr fullCalcOnLoad="1" calcId="1"/>'),
        ("<calcPr fullCalcOnLoad='0' calcId=\"1\"/>", '<calcPr fullCalcOnLoad="1" calcId="1"/>'),
        (
            "<sheets></sheets><definedNames></definedNames><x/>",
            '<sheets></sheets><definedNames></definedNames><calcPr fullCalcOnLoad="1"/><x/>',
        ),
        ("<x:sheets></x:sheets>", '<x:sheets></x:sheets><x:calcPr fullCalcOnLoad="1"/>'),
    ],
)
def test_the_mark_to_compute_anew(before, after):
    prefix = "x:" if "x:sheets" in before else ""
    package = package_of("", f"<{prefix}workbook xmlns:x='urn:x'>{before}</{prefix}workbook>")
    put_values(package, {})
    assert package.text("xl/workbook.xml") == f"<{prefix}workbook xmlns:x='urn:x'>{after}</{prefix}workbook>"


def test_a_chart_keeps_its_format_and_what_is_not_a_plain_range():
    package = package_of("")
    package.parts["xl/charts/chart1.xml"] = (
        b"<a xmlns:c='urn:c'><c:numRef><c:f>S!$A$1:$B$1</c:f><c:numCache><c:formatCode>0.0</c:formatCode></c:numCache>"
        b"</c:numRef><c:numRef><c:f>a_name</c:f></c:numRef><c:strRef><c:f>'S'!A2</c:f></c:strRef></a>"
    )
    put_values(package, {"S": {"A1": 1.5, "B1": "text", "A2": 2.0}})
    assert package.text("xl/charts/chart1.xml") == (
        "<a xmlns:c='urn:c'>"
        '<c:numRef><c:f>S!$A$1:$B$1</c:f><c:numCache><c:formatCode>0.0</c:formatCode><c:ptCount val="2"/>'
        '<c:pt idx="0"><c:v>1.5</c:v></c:pt></c:numCache></c:numRef><c:numRef><c:f>a_name</c:f></c:numRef>'
        '<c:strRef><c:f>\'S\'!A2</c:f><c:strCache><c:ptCount val="1"/><c:pt idx="0"><c:v>2</c:v></c:pt>'
        "</c:strCache></c:strRef></a>"
    )


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_number_text_is_exact_and_short(value):
    text = number_text(value)
    assert float(text) == value and not text.endswith(".0") and text != "-0" and len(text) <= len(repr(value))


# --- files that are no workbooks ---


def zipped(parts, method=zipfile.ZIP_DEFLATED):
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", method) as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a name that is there twice
        for name, data in parts:
            archive.writestr(name, data)
    return file.getvalue()


def edited(saved, changes):
    """The saved workbook with parts replaced or added."""
    return zipped({**read_package(saved).parts, **changes}.items())


def flagged(data):
    """Every part marked as encrypted, in both places that say so."""
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        place = data.find(mark)
        while place >= 0:
            data = data[: place + offset] + bytes([data[place + offset] | 1]) + data[place + offset + 1 :]
            place = data.find(mark, place + 4)
    return data


def garbled(data):
    place = data.find(b"PK\x03\x04") + 60
    return data[:place] + bytes(byte ^ 0x55 for byte in data[place : place + 40]) + data[place + 40 :]


def false_size():
    """A part that says it has 10 bytes and inflates to 3 million."""
    honest = zipped([(ooxml.WORKBOOK, bytes(3_000_000))])
    return honest.replace(struct.pack("<I", 3_000_000), struct.pack("<I", 10))


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)
DOCTYPE = "<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>"
OTHER = "must be an .xlsx or .xlsm file (got something else under that name)"
NO_FILES = {
    "truncated": (lambda saved: saved.read_bytes()[:-400], "damaged workbook"),
    "garbled": (lambda saved: garbled(saved.read_bytes()), "damaged workbook"),
    "text": (lambda saved: b"depth;energy\n1;2\n", OTHER),
    "empty": (lambda saved: b"", OTHER),
    "encrypted": (lambda saved: OLE + "EncryptedPackage".encode("utf-16-le"), "encrypted workbook: remove the password first"),
    "zip password": (lambda saved: flagged(saved.read_bytes()), "encrypted workbook: remove the password"),
    "old format": (lambda saved: OLE, "(got an .xls file: save it as .xlsx first)"),
    "another zip": (lambda saved: zipped([("word/document.xml", b"<a/>")]), "(got no xl/workbook.xml in it)"),
    "binary": (lambda saved: zipped([("xl/workbook.bin", b"1")]), "(got an .xlsb file: save it as .xlsx first)"),
    "no parts": (lambda saved: zipped([]), "(got no xl/workbook.xml in it)"),
    "bomb": (lambda saved: zipped([(ooxml.WORKBOOK, bytes(30_000_000))]), "must inflate to at most"),
    "false size": (lambda saved: false_size(), "damaged workbook"),
    "many parts": (lambda saved: zipped((str(place), b"") for place in range(10_001)), "at most 10000 parts"),
    "doctype": (lambda saved: edited(saved, {"xl/a.vml": DOCTYPE}), "types or entities (in xl/a.vml)"),
    "UTF-16": (lambda saved: edited(saved, {"xl/b.xml": DOCTYPE.encode("utf-16")}), "entities (in xl/b.xml)"),
    "twice": (lambda saved: zipped([(ooxml.WORKBOOK, b"<a/>")] * 2), "(a part is there twice)"),
    "odd": (lambda saved: zipped([(ooxml.WORKBOOK, b"<a/>")], zipfile.ZIP_BZIP2), "packed in a way"),
}


@pytest.mark.parametrize("kind", NO_FILES)
def test_what_is_no_workbook_is_refused_in_one_line(kind, saved, tmp_path):
    make, message = NO_FILES[kind]
    path = tmp_path / "given.xlsx"
    path.write_bytes(make(saved))
    with pytest.raises(ValueError) as error:
        read_package(path)
    line = str(error.value)
    assert line.startswith(f"{path}: ") and message in line and "\n" not in line


def test_a_folder_and_nothing_at_all(tmp_path):
    for path, found in ((tmp_path, "a folder"), (tmp_path / "none.xlsx", "no such file")):
        with pytest.raises(ValueError) as error:
            read_package(path)
        assert str(error.value) == f"{path}: must be an .xlsx or .xlsm file (got {found})"


def test_a_bomb_is_refused_before_it_inflates(tmp_path, monkeypatch):
    (tmp_path / "bomb.xlsx").write_bytes(zipped([(ooxml.WORKBOOK, bytes(30_000_000))]))
    monkeypatch.setattr(zipfile.ZipFile, "open", lambda *_: pytest.fail("a part was opened"))
    with pytest.raises(ValueError, match="must inflate to at most"):
        read_package(tmp_path / "bomb.xlsx")


def test_the_size_of_a_package_is_limited(saved, monkeypatch):
    monkeypatch.setattr(ooxml, "LARGEST_PACKAGE", 10_000)
    with pytest.raises(ValueError, match=r"must inflate to at most 10 kB \(got \d+ kB\)"):
        read_package(saved)


@pytest.mark.parametrize(
    "change, message",
    [
        ({"xl/workbook.xml": b"<workbook"}, "damaged workbook (part xl/workbook.xml: "),
        ({"xl/workbook.xml": b"\xff\xfe\xfa"}, "damaged workbook (part xl/workbook.xml: "),
        ({"xl/_rels/workbook.xml.rels": b"<R/>"}, "sheet 'R&D <1>' must have a part in the file (got none)"),
    ],
)
def test_a_broken_part_is_named(change, message, saved, tmp_path):
    (tmp_path / "broken.xlsx").write_bytes(edited(saved, change))
    with pytest.raises(ValueError) as error:
        sheet_parts(read_package(tmp_path / "broken.xlsx"))
    assert message in str(error.value)


@pytest.mark.parametrize(
    "unit",
    [
        *("<c r='A1'>", "<c ", "<c r='A1'><f>", "<c r='A1'><f>1", "<c r='A1'><f>1</f>", "<numRef><f>S!A1</f>", "<numRef>"),
        *("<c r='A1'><f>1</f></c>", "<row><c><f/></c></row>", "<numRef><f>S!A1</f></numRef>", "<!-- <c> -->"),
    ],
)
def test_hostile_text_takes_no_longer_than_its_length(unit):
    def seconds(count):
        package = package_of(unit * count)
        package.parts["xl/charts/chart1.xml"] = f"<a>{unit * count}</a>".encode()
        start = time.process_time()
        with contextlib.suppress(ValueError):  # where it is no XML
            put_values(package, {"S": {"A1": 1.0}})
        return time.process_time() - start

    seconds(100)
    assert seconds(60_000) < 5  # searching from every start to the end would take minutes
