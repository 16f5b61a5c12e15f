"""A copy can be read whatever the writer: prefixes and lists in every legal spelling, files that openpyxl writes with lxml."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
from engines import same
from openpyxl import Workbook, load_workbook
from share_books import replace_in, stored
from test_share import DEPTHS, ENERGIES, call, column

from gritfuncs.share.job import share
from gritfuncs.share.names import add_names, lambda_names
from gritfuncs.spreadsheets.package import read_package, write_package
from gritfuncs.spreadsheets.workbook_part import ORDER

RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
KNEE = call("GRIT_KNEE", column(DEPTHS), column(ENERGIES))
SPEED = call("GRIT_WORK_SPEED", 20, 150)
WORKBOOK, RELS, TYPES = "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml"


def put(package, part, pattern, new, count=0):
    text, changes = re.subn(pattern, new, package.text(part), count=count)
    assert changes, (part, pattern)
    package.parts[part] = text.encode()


def all_prefixed(package, part, prefix):
    """Each element of a part with a prefix, its plain namespace declared under it."""
    put(package, part, r"<(/?)(?=[A-Za-z]\w*[\s/>])", rf"<\1{prefix}:")
    put(package, part, r' xmlns="', f' xmlns:{prefix}="')


def on_each_sheet(package):
    """As openpyxl writes it with lxml: the prefix is declared where it is used, under a name of its own."""
    put(package, WORKBOOK, r' xmlns:r="[^"]*"', "")
    put(package, WORKBOOK, r"<sheet (.*?)\br:id=", rf'<sheet xmlns:ns0="{RELATIONS}" \1ns0:id=')


def single_quotes(package):
    for part in (WORKBOOK, RELS, TYPES, "xl/worksheets/sheet1.xml"):
        put(package, part, r'="([^"\']*)"', r"='\1'")


def spaces_and_lines(package):
    for part in (WORKBOOK, RELS, TYPES):
        put(package, part, r"(?<=[^?/])>", "\r\n >")
        put(package, part, r"/>", "\t/>")
        put(package, part, r'="', ' =\r\n "')


def comments(package):
    for part, parent in (
        (WORKBOOK, "sheets"),
        (RELS, "Relationships"),
        (TYPES, "Types"),
        ("xl/worksheets/sheet1.xml", "sheetData"),
    ):
        put(package, part, f"</{parent}>", f"<!-- </{parent}> <sheets/> --></{parent}>")
        put(package, part, f"<{parent}( [^<>]*)?>", rf"\g<0><?a <c r='A1'><f>?><!-- <{parent}> -->")


def prefix_r_is_taken(package):
    on_each_sheet(package)
    all_prefixed(package, WORKBOOK, "r")


def targets_from_the_root(package):
    put(package, RELS, 'Target="(?!/)', 'Target="/XL/')


def strict(package):
    for part in package.parts:
        data = package.parts[part]
        for old, new in (
            (MAIN, "http://purl.oclc.org/ooxml/spreadsheetml/main"),
            (RELATIONS, "http://purl.oclc.org/ooxml/officeDocument/relationships"),
        ):
            data = data.replace(old.encode(), new.encode())
        package.parts[part] = data


def without_addresses(package):
    put(package, "xl/worksheets/sheet1.xml", r'(<(?:c|row)) r="[A-Z]*\d+"', r"\1")


def as_cdata(package):
    put(package, "xl/worksheets/sheet1.xml", "<f>([^<]*)</f>", r"<f><![CDATA[\1]]></f>")


def by_numbers(package):
    put(package, "xl/worksheets/sheet1.xml", "<f>G([^<]*)</f>", r"<f>&#71;\1</f>")


def byte_order_marks(package):
    for part in (WORKBOOK, RELS, TYPES, "xl/worksheets/sheet1.xml"):
        package.parts[part] = b"\xef\xbb\xbf" + package.parts[part]


def another_main_part(package):
    for old, new in ((WORKBOOK, "xl/book 2.xml"), (RELS, "xl/_rels/book 2.xml.rels")):
        package.parts[new] = package.parts.pop(old)
    package.entries.clear()
    put(package, "_rels/.rels", "xl/workbook.xml", "xl/book 2.xml")
    put(package, TYPES, "/xl/workbook.xml", "/xl/book 2.xml")


SPELLINGS = {
    "as openpyxl": lambda package: None,
    "prefix on each sheet": on_each_sheet,
    "prefix on all": lambda package: all_prefixed(package, WORKBOOK, "x"),
    "prefix on all, on each sheet": lambda package: (on_each_sheet(package), all_prefixed(package, WORKBOOK, "x")),
    "prefix r for something else": prefix_r_is_taken,
    "prefix in the relations": lambda package: all_prefixed(package, RELS, "p"),
    "prefix in the types": lambda package: all_prefixed(package, TYPES, "t"),
    "prefix in the sheet": lambda package: all_prefixed(package, "xl/worksheets/sheet1.xml", "x"),
    "single quotes": single_quotes,
    "spaces and lines": spaces_and_lines,
    "comments": comments,
    "targets from the root": targets_from_the_root,
    "strict": strict,
    "cells without addresses": without_addresses,
    "CDATA": as_cdata,
    "letters by numbers": by_numbers,
    "byte order marks": byte_order_marks,
    "another main part": another_main_part,
}


def knee_book(path, edit):
    workbook = Workbook()
    sheet = workbook.active
    for depth, energy in zip(DEPTHS, ENERGIES):
        sheet.append([depth, energy])
    sheet["A9"], sheet["B9"] = "=GRIT_KNEE(A1:A8,B1:B8)", "=GRIT_WORK_SPEED(20,150)"
    return stored(workbook, path, {"Sheet": {"A9": KNEE, "B9": SPEED}}, edit)


def read_by_a_stranger(path):
    """{sheet: part} as a reader finds it that knows namespaces and nothing else: every relation leads to a part."""
    package = read_package(path)
    main = package.workbook
    folder, _, name = main.rpartition("/")
    relations = {
        relation.get("Id"): relation.get("Target")
        for relation in ElementTree.fromstring(package.parts[f"{folder}/_rels/{name}.rels"])
    }
    root = ElementTree.fromstring(package.parts[main])
    space = root.tag.rpartition("}")[0] + "}"
    found = {}
    for sheet in root.find(space + "sheets"):
        assert sheet.tag == space + "sheet"
        (identity,) = (value for key, value in sheet.attrib.items() if key.endswith("/relationships}id"))
        found[sheet.get("name")] = relations[identity]
    return found


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_a_copy_of_any_spelling_is_read_and_computed(tmp_path, libreoffice, spelling):
    shared = share(knee_book(tmp_path / "book.xlsx", SPELLINGS[spelling]))
    assert shared.complete and shared.equal == 2, shared.report()
    assert list(read_by_a_stranger(shared.output)) == ["Sheet", "gritfuncs"]
    for data in read_package(shared.output).parts.values():
        if data.lstrip(b"\xef\xbb\xbf").startswith(b"<"):
            ElementTree.fromstring(data)
    shown = libreoffice.recalc(shared.output)
    if spelling != "another main part":  # which LibreOffice does not look for
        assert same(shown["Sheet"]["A9"], KNEE) and same(shown["Sheet"]["B9"], SPEED), spelling
        assert len(shown) == 2
    if spelling not in ("strict", "comments"):  # which openpyxl does not know, or not with lxml
        assert load_workbook(shared.output).sheetnames == ["Sheet", "gritfuncs"]


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_names_come_into_a_workbook_of_any_spelling(tmp_path, spelling):
    output = tmp_path / "out.xlsx"
    add_names(knee_book(tmp_path / "book.xlsx", SPELLINGS[spelling]), output)
    root = ElementTree.fromstring(read_package(output).parts[read_package(output).workbook])
    space = root.tag.rpartition("}")[0] + "}"
    assert {name.get("name") for name in root.find(space + "definedNames")} == set(lambda_names())
    assert root.find(space + "calcPr").get("fullCalcOnLoad") == "1"
    add_names(output, tmp_path / "again.xlsx")
    assert read_package(tmp_path / "again.xlsx").parts == read_package(output).parts


# --- the order of the lists


AROUND = {
    "nothing": "",
    "an empty list": "<definedNames/>",
    "groups": '<functionGroups builtInGroupCount="1"><functionGroup name="a"/></functionGroups>',
    "empty groups": '<functionGroups builtInGroupCount="1"/>',
    "groups with names": '<functionGroups/><definedNames><definedName name="a">Sheet!$A$1</definedName></definedNames>',
    "much behind": '<functionGroups/><externalReferences/><calcPr calcId="1"/><oleSize ref="A1"/><pivotCaches/><extLst/>',
    "more behind": '<oleSize ref="A1"/><customWorkbookViews/><fileRecoveryPr/><extLst><ext uri="a"/></extLst>',
}


@pytest.mark.parametrize("around", AROUND)
def test_the_lists_of_a_workbook_keep_their_order(tmp_path, around):
    def edit(package):
        put(package, WORKBOOK, r"<definedNames ?/>|<calcPr[^<>]*/>|<definedNames>.*</definedNames>", "")
        replace_in(package, WORKBOOK, "</sheets>", "</sheets>" + AROUND[around])

    book = knee_book(tmp_path / "book.xlsx", edit)
    add_names(book, tmp_path / "named.xlsx")
    for path in (book, tmp_path / "named.xlsx", share(book).output):
        names = [child.tag.rpartition("}")[2] for child in ElementTree.fromstring(read_package(path).parts[WORKBOOK])]
        assert names == sorted(names, key=ORDER.index) and len(set(names)) == len(names), names
    assert {"definedNames", "calcPr"} <= {
        child.tag.rpartition("}")[2] for child in ElementTree.fromstring(read_package(tmp_path / "named.xlsx").parts[WORKBOOK])
    }


def test_a_part_that_would_not_be_readable_is_never_written(tmp_path):
    package = read_package(knee_book(tmp_path / "book.xlsx", lambda package: None))
    for damage in ("</sheets>", "<r:a/></sheets>", "<a></sheets>"):
        package.put_text(
            WORKBOOK, package.text(WORKBOOK).replace("</sheets>", damage if "/a" in damage or "<a" in damage else "")
        )
        with pytest.raises(ValueError, match=r"book.xlsx: part xl/workbook.xml cannot be changed \("):
            write_package(package, tmp_path / "copy.xlsx")
    assert not (tmp_path / "copy.xlsx").exists()


# --- openpyxl with lxml

WITH_LXML = """
import sys
sys.path[:0] = sys.argv[1:3]
import openpyxl
assert openpyxl.LXML, "openpyxl does not use lxml here"
import pytest
sys.exit(pytest.main(["-q", "-p", "no:cacheprovider", "--basetemp", sys.argv[3], *sys.argv[4:]]))
"""


def test_sharing_holds_where_openpyxl_uses_lxml(tmp_path):
    """openpyxl takes lxml wherever it is installed and writes other spellings then; the other tests run without it."""
    pytest.importorskip("lxml")
    here = Path(__file__).parent
    ended = subprocess.run(
        [sys.executable, "-c", WITH_LXML, here, here.parent, tmp_path / "lxml"]
        + [str(here / name) for name in ("test_share.py", "test_lambdas.py", "test_share_spellings.py")]
        + [
            "-k",
            "only_formula_texts or every_place or link or overwritten or knees_that_stay or TestWorkbook or names_come or order",
        ],
        env={**os.environ, "OPENPYXL_LXML": "True"},
        capture_output=True,
        text=True,
        cwd=here.parent,
    )
    assert ended.returncode == 0, ended.stdout[-3000:] + ended.stderr[-1000:]
