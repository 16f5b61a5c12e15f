"""Workbook files as packages: read safely, edited in the text of single parts, all else kept byte for byte.

openpyxl writes formulas without values and drops much of a workbook that it did not make.  So values are put
into the package itself, and nobody's workbook is ever saved through openpyxl.
"""
from __future__ import annotations

import contextlib
import html
import io
import itertools
import mmap
import os
import posixpath
import re
import struct
import zipfile
import zlib
from collections.abc import Container, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Callable, NamedTuple
from xml.etree import ElementTree
from xml.sax.saxutils import escape

from .cell_values import CellError

LARGEST_PACKAGE = 100_000_000  # bytes, of the file and when inflated
LARGEST_TREE = 10_000_000  # bytes of a part that is read as a whole: a list of sheets, names or styles, never a sheet
HIGHEST_RATIO = 300  # inflated to packed; workbooks of the usual kind stay far below 100
MOST_PARTS = 10_000
WORKBOOK = "xl/workbook.xml"

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_TIME = "2000-01-01T00:00:00Z"  # in every file that is built, so that equal workbooks give equal files
_DAMAGE = (zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError, NotImplementedError, ValueError)

# An element's content stops at the next element of its kind, so that a hostile part is searched only once.
_CELL = re.compile(r"<((?:\w+:)?)c\b([^<>]*?)(?:/>|>([^<]*(?:<(?!/?(?:\w+:)?c\b)[^<]*)*)</(?:\w+:)?c>)")
_FORMULA = re.compile(r"<(?:\w+:)?f\b([^<>]*?)(?:/>|>([^<]*)</(?:\w+:)?f>)")
_VALUE = re.compile(r"<(?:\w+:)?v\b")
_ADDRESS = re.compile(r"""\sr=["']([A-Z]+[0-9]+)["']""")
_CHART_REFERENCE = re.compile(r"<((?:\w+:)?)(num|str)Ref>\s*(<(?:\w+:)?f>([^<]*)</(?:\w+:)?f>)"
                              r"([^<]*(?:<(?!/?(?:\w+:)?(?:num|str)Ref\b)[^<]*)*)</(?:\w+:)?\2Ref>")
_CHART_RANGE = re.compile(r"(?:'((?:[^']|'')+)'|([^'!(,]+))!"
                          r"\$?([A-Z]{1,3})\$?(\d+)(?::\$?([A-Z]{1,3})\$?(\d+))?")


# --- packages ---

@dataclass
class Package:
    """The parts of an .xlsx or .xlsm file, name to bytes, in the order of the file."""

    parts: dict[str, bytes]
    path: str | None = None
    entries: dict[str, zipfile.ZipInfo] = field(default_factory=dict, repr=False)

    def text(self, name: str) -> str:
        try:
            return self.parts[name].decode("utf-8")
        except (KeyError, UnicodeDecodeError):
            raise ValueError(f"{self.path}: damaged workbook (part {name} is missing or not UTF-8)") from None

    def put_text(self, name: str, text: str) -> None:
        self.parts[name] = text.encode("utf-8")

    def xml(self, name: str) -> ElementTree.Element:
        text = self.text(name)
        if len(text) > LARGEST_TREE:
            raise ValueError(f"{self.path}: part {name} must have at most {LARGEST_TREE // 1000} kB (got {len(text) // 1000} kB)")
        if "<!DOCTYPE" in text:
            raise ValueError(f"{self.path}: must not declare document types or entities (in {name})")
        try:
            return ElementTree.fromstring(text.lstrip("\ufeff"))
        except ElementTree.ParseError as error:
            raise ValueError(f"{self.path}: damaged workbook (part {name}: {error})") from None


def read_package(path) -> Package:
    """The package at a path, or ValueError with one line saying why there is none."""
    path = os.fspath(path)
    if not os.path.isfile(path):
        found = "a folder" if os.path.isdir(path) else "no such file"
        raise ValueError(f"{path}: must be an .xlsx or .xlsm file (got {found})")
    try:
        with open(path, "rb") as file:
            _refuse_other_kinds(file, path)
            package = _inflated(file, path)
    except OSError as error:
        raise ValueError(f"{path}: cannot be read ({error.strerror or error})") from None
    _refuse_content(package)
    return package


def _refuse_other_kinds(file, path: str) -> None:
    start = file.read(len(_OLE))
    if start == _OLE:
        if "EncryptedPackage".encode("utf-16-le") in file.read(LARGEST_PACKAGE):
            raise ValueError(f"{path}: encrypted workbook: remove the password first")
        raise ValueError(f"{path}: must be an .xlsx or .xlsm file (got an .xls file: save it as .xlsx first)")
    if not start.startswith(b"PK"):
        raise ValueError(f"{path}: must be an .xlsx or .xlsm file (got something else under that name)")


def _inflated(file, path: str) -> Package:
    _refuse_large_lists(file, path)
    try:
        archive = zipfile.ZipFile(file)
    except _DAMAGE as error:
        raise ValueError(f"{path}: damaged workbook ({error})") from None
    with archive:
        entries = archive.infolist()
        _refuse_bombs(entries, file.seek(0, os.SEEK_END), path)
        package = Package({}, path, {entry.filename: entry for entry in entries})
        for entry in entries:
            try:
                with archive.open(entry) as stream:
                    # never more than the size that was declared and counted
                    package.parts[entry.filename] = stream.read(entry.file_size)
                    complete = len(package.parts[entry.filename]) == entry.file_size and not stream.read(1)
            except _DAMAGE as error:
                raise ValueError(f"{path}: damaged workbook ({error})") from None
            if not complete:
                raise ValueError(f"{path}: damaged workbook (wrong size of part {entry.filename})")
    return package


def _refuse_large_lists(file, path: str) -> None:
    """Before the list of parts is read, which takes far more memory than the file."""
    size = file.seek(0, os.SEEK_END)
    if size > LARGEST_PACKAGE:
        raise ValueError(f"{path}: must be at most {LARGEST_PACKAGE // 1000} kB (got {size // 1000} kB)")
    with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as content:
        entries = sum(1 for _ in itertools.islice(re.finditer(b"PK\x01\x02", content), 10 * MOST_PARTS))
    if entries == 10 * MOST_PARTS:  # ten times, because a workbook may hold other packages
        raise ValueError(f"{path}: must have at most {MOST_PARTS} parts (got at least {entries})")


def _refuse_bombs(entries: list[zipfile.ZipInfo], size: int, path: str) -> None:
    if len(entries) > MOST_PARTS:
        raise ValueError(f"{path}: must have at most {MOST_PARTS} parts (got {len(entries)})")
    total, limit = sum(entry.file_size for entry in entries), min(LARGEST_PACKAGE, HIGHEST_RATIO * size)
    if total > limit:
        raise ValueError(f"{path}: must inflate to at most {limit // 1000} kB (got {total // 1000} kB)")
    if len({entry.filename.lower() for entry in entries}) < len(entries):
        raise ValueError(f"{path}: damaged workbook (a part is there twice)")
    if any(entry.flag_bits & 1 for entry in entries):
        raise ValueError(f"{path}: encrypted workbook: remove the password first")
    if any(entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for entry in entries):
        raise ValueError(f"{path}: damaged workbook (packed in a way that workbooks never are)")


def _refuse_content(package: Package) -> None:
    if WORKBOOK not in package.parts:
        binary = ": save it as .xlsx first" if "xl/workbook.bin" in package.parts else ""
        raise ValueError(f"{package.path}: must be an .xlsx or .xlsm file (got no {WORKBOOK} in it{binary})")
    for name, data in package.parts.items():
        if name.lower().endswith((".xml", ".rels", ".vml")):
            plain = data.replace(b"\0", b"")  # in this way UTF-16 text can be searched as well
            if b"<!DOCTYPE" in plain or b"<!ENTITY" in plain:
                raise ValueError(f"{package.path}: must not declare document types or entities (in {name})")


def write_package(package: Package, path) -> None:
    """Write the parts in order; the file appears whole or not at all, never over the one that was read."""
    path = os.fspath(path)
    if package.path and os.path.exists(path) and os.path.samefile(path, package.path):
        raise ValueError(f"{path}: must be another file than the workbook that was read")
    temporary = f"{path}.{os.getpid()}.tmp"
    try:
        with open(temporary, "xb") as file, zipfile.ZipFile(file, "w") as archive:
            for name, data in package.parts.items():
                archive.writestr(_entry(name, package.entries.get(name)), data)
        os.replace(temporary, path)
    except OSError as error:
        raise ValueError(f"{path}: cannot be written ({error.strerror or error})") from None
    finally:
        with contextlib.suppress(OSError):
            os.unlink(temporary)


def _entry(name: str, old: zipfile.ZipInfo | None) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, old.date_time if old else (1980, 1, 1, 0, 0, 0))
    entry.compress_type = old.compress_type if old else zipfile.ZIP_DEFLATED
    entry.external_attr = old.external_attr if old else 0o600 << 16
    return entry


# --- sheets and their formulas ---

def sheet_parts(package: Package) -> dict[str, str]:
    """{sheet name: part name} in the order of the tabs."""
    relations = package.xml("xl/_rels/workbook.xml.rels")
    targets = {relation.get("Id"): relation.get("Target", "") for relation in relations}
    found = {}
    for element in package.xml(WORKBOOK).iter():
        if element.tag.rpartition("}")[2] == "sheet":  # the strict form of the format has another namespace
            title = element.get("name")
            if not title or title in found:
                raise ValueError(f"{package.path}: damaged workbook (a sheet has no name of its own)")
            identity = next((value for name, value in element.items() if name.endswith("}id")), None)
            part = posixpath.normpath(posixpath.join("/xl", targets.get(identity, ""))).lstrip("/")
            if part not in package.parts:
                raise ValueError(f"{package.path}: damaged workbook (sheet {title!r} is missing)")
            found[title] = part
    return found


class FormulaCell(NamedTuple):
    """A formula cell in the XML text of a sheet; the escaped formula is xml[start:end].

    A member of a shared formula that only points to its master has the formula "" and start = end = -1.
    """

    address: str
    formula: str
    attributes: str  # of the formula element: t, ref, si
    start: int
    end: int
    cached: bool


def formula_cells(xml: str) -> Iterator[FormulaCell]:
    """The formula cells of a sheet's XML text, in its order."""
    for address, cell, formula in _formula_matches(xml):
        cached = bool(_VALUE.search(cell[3]))
        text = html.unescape(formula[2] or "")
        yield FormulaCell(address, text, formula[1], formula.start(2), formula.end(2), cached)


def _formula_matches(xml: str) -> Iterator[tuple[str, re.Match, re.Match]]:
    if "<!--" in xml or "<![CDATA[" in xml:
        raise ValueError("a sheet whose XML has comments or CDATA sections cannot be edited")
    for cell in _CELL.finditer(xml):
        formula = cell[3] and _FORMULA.search(xml, cell.start(3), cell.end(3))
        if formula:
            address = _ADDRESS.search(cell[2])
            if not address:
                raise ValueError("a sheet whose cells do not tell their address cannot be edited")
            yield address[1], cell, formula


def uncached_cells(package: Package) -> list[str]:
    """Formula cells without a value, as Sheet!A1."""
    return [f"{sheet}!{cell.address}" for sheet, part in sheet_parts(package).items()
            for cell in formula_cells(package.text(part)) if not cell.cached]


# --- values ---

def number_text(value: float) -> str:
    """The shortest text that reads back as the same number."""
    text = repr(float(value) or 0.0)  # no negative zero
    return text.removesuffix(".0")


def _typed(value: Any) -> tuple[str, str]:
    """The type letter of a cell and the text of its value."""
    if isinstance(value, bool):
        return "b", str(int(value))
    if isinstance(value, str):
        escaped = re.sub(r"[\x00-\x08\x0b-\x1f]", lambda match: f"_x{ord(match[0]):04X}_", escape(value))
        return "e" if isinstance(value, CellError) else "str", escaped
    return "n", number_text(value)


def put_values(package: Package, values: Mapping[str, Mapping[str, Any]]) -> None:
    """Give formula cells and chart caches their values: {sheet: {"A1": number, text, bool or CellError}}.

    Formula cells that are not in `values` stay as they are, and so do all constants; charts take the
    constants that they show from `values` too.  A spreadsheet program computes all anew on opening the file.
    """
    for sheet, part in sheet_parts(package).items():
        package.put_text(part, _with_values(package.text(part), values.get(sheet, {})))
    for part in package.parts:
        if re.fullmatch(r"xl/charts/chart\d*\.xml", part):
            package.put_text(part, _CHART_REFERENCE.sub(_chart_cache(values), package.text(part)))
    package.put_text(WORKBOOK, computed_on_load(package.text(WORKBOOK)))


def _with_values(xml: str, known: Mapping[str, Any]) -> str:
    pieces, done = [], 0
    for address, cell, formula in _formula_matches(xml):
        if address in known:
            kind, text = _typed(known[address])
            prefix, attributes = cell[1], re.sub(r"""\st=["'][^"']*["']""", "", cell[2])
            space = ' xml:space="preserve"' if text != text.strip() else ""
            pieces += [xml[done:cell.start()], f'<{prefix}c{attributes} t="{kind}">{formula[0]}',
                       f"<{prefix}v{space}>{text}</{prefix}v></{prefix}c>"]
            done = cell.end()
    return "".join([*pieces, xml[done:]])


def _chart_cache(values: Mapping[str, Mapping[str, Any]]) -> Callable[[re.Match], str]:
    def written(match: re.Match) -> str:
        prefix, kind, reference, formula, old = match.groups()
        area = _CHART_RANGE.fullmatch(html.unescape(formula))
        if not area:
            return match[0]
        known = values.get((area[1] or area[2]).replace("''", "'"), {})
        addresses = _addresses(area[3], int(area[4]), area[5] or area[3], int(area[6] or area[4]))
        points = [f'<{prefix}ptCount val="{len(addresses)}"/>']
        for place, address in enumerate(addresses):
            letter, text = _typed(known.get(address, ""))
            if letter == "n" or kind == "str" and text:
                points.append(f'<{prefix}pt idx="{place}"><{prefix}v>{text}</{prefix}v></{prefix}pt>')
        if kind == "num":
            code = re.search(r"<(?:\w+:)?formatCode>[^<]*</(?:\w+:)?formatCode>", old)
            points.insert(0, code[0] if code else f"<{prefix}formatCode>General</{prefix}formatCode>")
        cache = f"<{prefix}{kind}Cache>{''.join(points)}</{prefix}{kind}Cache>"
        return f"<{prefix}{kind}Ref>{reference}{cache}</{prefix}{kind}Ref>"

    return written


def _addresses(first: str, top: int, last: str, bottom: int) -> list[str]:
    from openpyxl.utils import column_index_from_string, get_column_letter

    columns = range(column_index_from_string(first), column_index_from_string(last) + 1)
    return [f"{get_column_letter(column)}{row}" for row in range(top, bottom + 1) for column in columns]


def computed_on_load(xml: str) -> str:
    """With the mark that makes spreadsheet programs compute everything anew."""
    if not re.search(r"<(?:\w+:)?calcPr\b", xml):
        before = r"(\A.*</((?:\w+:)?)(?:sheets|functionGroups|externalReferences|definedNames)>)"
        xml = re.sub(before, r"\1<\2calcPr/>", xml, count=1, flags=re.DOTALL)
    xml = re.sub(r"""(<(?:\w+:)?calcPr\b[^<>]*?)\sfullCalcOnLoad=["'][^"']*["']""", r"\1", xml)
    return re.sub(r"<((?:\w+:)?)calcPr\b", r'<\1calcPr fullCalcOnLoad="1"', xml)


# --- workbooks that are built here ---

def save_workbook(workbook, path, absent: Container[str] = ()) -> None:
    """Write an openpyxl workbook with the value of every formula; equal workbooks give equal files.

    `absent` are functions of add-ins that show #NAME? until a program has the add-in.
    """
    from .evaluate import workbook_values

    values = workbook_values(workbook, absent)
    file = io.BytesIO()
    workbook.save(file)
    with zipfile.ZipFile(file) as archive:
        package = Package({name: archive.read(name) for name in archive.namelist()})
    put_values(package, values)
    for part in sheet_parts(package).values():  # an empty cell typed as a number is 0 to some programs
        package.put_text(part, re.sub(r'(<c\b[^<>]*?) t="n" ?/>', r"\1/>", package.text(part)))
    missing = uncached_cells(package)
    if missing:
        raise ValueError(f"{missing[0]}: the formula has no value")
    core = package.text("docProps/core.xml")
    package.put_text("docProps/core.xml", re.sub(r"(<dcterms:\w+\b[^<>]*>)[^<]*", rf"\g<1>{_TIME}", core))
    write_package(package, path)
