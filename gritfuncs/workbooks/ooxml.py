"""Workbook files as packages: read safely, edited in the XML text of single parts, everything else kept byte for byte.

openpyxl writes formulas without values and drops much of a workbook that it did not make.  So values are put into the
package itself, and nobody's workbook is ever saved through openpyxl.
"""
import html
import io
import os
import posixpath
import re
import tempfile
import zipfile
import zlib
from dataclasses import dataclass, field
from typing import Any, Dict, Iterator, List, Mapping, NamedTuple, Optional
from xml.etree import ElementTree
from xml.sax.saxutils import escape

from .cell_values import CellError

LARGEST_PACKAGE = 400_000_000  # bytes when inflated
HIGHEST_RATIO = 300  # inflated to packed; real workbooks stay under 100
MOST_PARTS = 10_000

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}"
_WORKBOOK = "xl/workbook.xml"
_EPOCH = "2000-01-01T00:00:00Z"  # stands for every time in a file that is built, so that equal content gives equal files

_CELL = re.compile(r"<((?:\w+:)?)c\b([^>]*?)(?:/>|>(.*?)</(?:\w+:)?c>)", re.DOTALL)
_FORMULA = re.compile(r"<(?:\w+:)?f\b([^>]*?)(?:/>|>(.*?)</(?:\w+:)?f>)", re.DOTALL)
_VALUE = re.compile(r"<(?:\w+:)?v\b")
_ADDRESS = re.compile(r'\br="([A-Z]+[0-9]+)"')
_CHART_REFERENCE = re.compile(r"<((?:\w+:)?)(num|str)Ref>\s*(<(?:\w+:)?f>([^<]*)</(?:\w+:)?f>)(.*?)</(?:\w+:)?\2Ref>",
                              re.DOTALL)
_CHART_RANGE = re.compile(r"(?:'((?:[^']|'')+)'|([^'!(,]+))!\$?([A-Z]{1,3})\$?(\d+)(?::\$?([A-Z]{1,3})\$?(\d+))?")


# --- packages ----------------------------------------------------------------------------------------------------------

@dataclass
class Package:
    """The parts of an .xlsx or .xlsm file, name to bytes, in the order of the file."""

    parts: Dict[str, bytes]
    path: Optional[str] = None
    entries: Dict[str, zipfile.ZipInfo] = field(default_factory=dict, repr=False)

    def text(self, name: str) -> str:
        try:
            return self.parts[name].decode("utf-8")
        except UnicodeDecodeError:
            raise ValueError(f"{self.path}: part {name} must be UTF-8 text") from None

    def put_text(self, name: str, text: str) -> None:
        self.parts[name] = text.encode("utf-8")

    def xml(self, name: str) -> ElementTree.Element:
        try:
            return ElementTree.fromstring(self.text(name).lstrip("\ufeff"))
        except (ElementTree.ParseError, KeyError) as error:
            raise ValueError(f"{self.path}: damaged workbook, part {name} cannot be read ({error})") from None


def read_package(path) -> Package:
    """The package at a path, or ValueError with one line saying why it cannot be one."""
    path = os.fspath(path)
    if not os.path.isfile(path):
        raise ValueError(f"{path}: must be an .xlsx or .xlsm file (got {_kind_of(path)})")
    try:
        with open(path, "rb") as file:
            return _read(file, path)
    except OSError as error:
        raise ValueError(f"{path}: cannot be read ({error.strerror or error})") from None


def _kind_of(path: str) -> str:
    return "a folder" if os.path.isdir(path) else "something else" if os.path.exists(path) else "no such file"


def _read(file, path: str) -> Package:
    start = file.read(len(_OLE))
    if start == _OLE:
        if "EncryptedPackage".encode("utf-16-le") in start + file.read(LARGEST_PACKAGE):
            raise ValueError(f"{path}: encrypted workbook: remove the password first")
        raise ValueError(f"{path}: must be an .xlsx or .xlsm file (got an old .xls file: save it as .xlsx first)")
    if not start.startswith(b"PK"):
        raise ValueError(f"{path}: must be an .xlsx or .xlsm file (got a file that is no workbook)")
    size = file.seek(0, os.SEEK_END)
    try:
        with zipfile.ZipFile(file) as archive:
            entries = archive.infolist()
            _refuse_bombs(entries, size, path)
            package = Package({}, path)
            for entry in entries:
                with archive.open(entry) as stream:
                    data = stream.read(entry.file_size + 1)
                if len(data) != entry.file_size:  # inflates to something else than the file promises
                    raise zipfile.BadZipFile(f"wrong size of {entry.filename}")
                package.parts[entry.filename], package.entries[entry.filename] = data, entry
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError, RuntimeError) as error:
        if str(error).startswith(path):
            raise
        raise ValueError(f"{path}: damaged workbook ({error})") from None
    _refuse_content(package)
    return package


def _refuse_bombs(entries: List[zipfile.ZipInfo], size: int, path: str) -> None:
    total = sum(entry.file_size for entry in entries)
    if len(entries) > MOST_PARTS:
        raise ValueError(f"{path}: must have at most {MOST_PARTS} parts (got {len(entries)})")
    if total > LARGEST_PACKAGE or total > HIGHEST_RATIO * size:
        raise ValueError(f"{path}: must inflate to at most {min(LARGEST_PACKAGE, HIGHEST_RATIO * size) // 1000} kB "
                         f"(got {total // 1000} kB)")
    if len({entry.filename.lower() for entry in entries}) < len(entries):
        raise ValueError(f"{path}: damaged workbook (a part is there twice)")
    if any(entry.flag_bits & 1 for entry in entries):
        raise ValueError(f"{path}: encrypted workbook: remove the password first")


def _refuse_content(package: Package) -> None:
    if _WORKBOOK not in package.parts:
        binary = "; save it as .xlsx first" if "xl/workbook.bin" in package.parts else ""
        raise ValueError(f"{package.path}: must be an .xlsx or .xlsm file (got no {_WORKBOOK} in it{binary})")
    for name, data in package.parts.items():
        # without its zero bytes UTF-16 text can be searched like any other
        if name.lower().endswith((".xml", ".rels", ".vml")) and re.search(rb"<!(?:DOCTYPE|ENTITY)", data.replace(b"\0", b"")):
            raise ValueError(f"{package.path}: must not declare document types or entities (got one in {name})")


def write_package(package: Package, path) -> None:
    """Write the parts in their order; the file appears whole or not at all, and never over the one that was read."""
    path = os.fspath(path)
    if package.path and os.path.exists(path) and os.path.samefile(path, package.path):
        raise ValueError(f"{path}: must be another file than the workbook that was read")
    handle, temporary = tempfile.mkstemp(dir=os.path.dirname(os.path.abspath(path)), suffix=".tmp")
    try:
        with os.fdopen(handle, "wb") as file, zipfile.ZipFile(file, "w") as archive:
            for name, data in package.parts.items():
                archive.writestr(_entry(name, package.entries.get(name)), data)
        os.chmod(temporary, 0o666 & ~_umask())
        os.replace(temporary, path)
    except BaseException:
        os.unlink(temporary)
        raise


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current


def _entry(name: str, old: Optional[zipfile.ZipInfo]) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, old.date_time if old else (1980, 1, 1, 0, 0, 0))
    entry.compress_type = old.compress_type if old else zipfile.ZIP_DEFLATED
    entry.external_attr = old.external_attr if old else 0o600 << 16
    return entry


# --- sheets and formulas -----------------------------------------------------------------------------------------------

def sheet_parts(package: Package) -> Dict[str, str]:
    """{sheet name: part name} in the order of the tabs."""
    targets = {relation.get("Id"): relation.get("Target")
               for relation in package.xml("xl/_rels/workbook.xml.rels")}
    found = {}
    for sheet in package.xml(_WORKBOOK).iter(_MAIN + "sheet"):
        target = targets.get(sheet.get(_RELATION + "id")) or ""
        part = posixpath.normpath(posixpath.join("/xl", target)).lstrip("/")
        if part not in package.parts:
            raise ValueError(f"{package.path}: damaged workbook, sheet {sheet.get('name')!r} is missing")
        found[sheet.get("name")] = part
    return found


class FormulaCell(NamedTuple):
    """A formula cell in the XML text of a sheet; `start` and `end` bound the escaped formula in it.

    A member of a shared formula that only points to its master has the formula "".
    """

    address: str
    formula: str
    attributes: str  # of the formula element: t, ref, si ...
    start: int
    end: int
    cached: bool


def formula_cells(xml: str) -> Iterator[FormulaCell]:
    """The formula cells of a sheet's XML text, in its order."""
    for cell in _CELL.finditer(xml):
        formula = cell[3] and _FORMULA.search(xml, cell.start(3), cell.end(3))
        address = _ADDRESS.search(cell[2])
        if formula and address:
            group = 2 if formula[2] is not None else 0
            yield FormulaCell(address[1], html.unescape(formula[2] or ""), formula[1], formula.start(group),
                              formula.end(group), bool(_VALUE.search(cell[3])))


def uncached_cells(package: Package) -> List[str]:
    """Formula cells without a value, as Sheet!A1."""
    return [f"{sheet}!{cell.address}" for sheet, part in sheet_parts(package).items()
            for cell in formula_cells(package.text(part)) if not cell.cached]


# --- values ------------------------------------------------------------------------------------------------------------

def number_text(value: float) -> str:
    """The shortest text that reads back as the same number."""
    text = repr(float(value) or 0.0)  # no negative zero
    return text[:-2] if text.endswith(".0") else text


def _xml_text(text: str) -> str:
    return re.sub(r"[\x00-\x08\x0b-\x1f]", lambda match: f"_x{ord(match[0]):04X}_", escape(text))


def _with_value(cell: re.Match, value: Any) -> str:
    prefix, attributes = cell[1], re.sub(r'\st="[^"]*"', "", cell[2])
    if isinstance(value, bool):
        kind, text = "b", str(int(value))
    elif isinstance(value, str):
        kind, text = "e" if isinstance(value, CellError) else "str", _xml_text(value)
    else:
        kind, text = None, number_text(value)
    typed = f' t="{kind}"' if kind else ""
    space = ' xml:space="preserve"' if text != text.strip() else ""
    return (f"<{prefix}c{attributes}{typed}>{_FORMULA.search(cell[3])[0]}"
            f"<{prefix}v{space}>{text}</{prefix}v></{prefix}c>")


def put_values(package: Package, values: Mapping[str, Mapping[str, Any]]) -> None:
    """Give formula cells and chart caches their values: {sheet: {"A1": float, text, bool or CellError}}.

    Formula cells that are not in `values` stay as they are, and so do all constants; charts need the constants that they
    show in `values` too.  The workbook still computes everything anew when a spreadsheet program opens it.
    """
    for sheet, part in sheet_parts(package).items():
        known = values.get(sheet, {})

        def fixed(cell: re.Match, known=known) -> str:
            address = _ADDRESS.search(cell[2])
            if not (cell[3] and address and address[1] in known and _FORMULA.search(cell[3])):
                return cell[0]
            return _with_value(cell, known[address[1]])

        package.put_text(part, _CELL.sub(fixed, package.text(part)))
    for part in package.parts:
        if re.fullmatch(r"xl/charts/chart\d*\.xml", part):
            package.put_text(part, _CHART_REFERENCE.sub(lambda match: _chart_cache(match, values), package.text(part)))
    package.put_text(_WORKBOOK, _computed_on_load(package.text(_WORKBOOK)))


def _chart_cache(match: re.Match, values: Mapping[str, Mapping[str, Any]]) -> str:
    prefix, kind, reference, formula, old = match.groups()
    area = _CHART_RANGE.fullmatch(html.unescape(formula))
    if not area:
        return match[0]
    known = values.get((area[1] or area[2]).replace("''", "'"), {})
    addresses = _addresses(area[3], int(area[4]), area[5] or area[3], int(area[6] or area[4]))
    points = []
    for place, address in enumerate(addresses):
        value = known.get(address)
        if kind == "num" and isinstance(value, float) and not isinstance(value, bool):
            points.append((place, number_text(value)))
        elif kind == "str" and value is not None:
            points.append((place, _xml_text(value if isinstance(value, str) else number_text(value))))
    written = "".join(f'<{prefix}pt idx="{place}"><{prefix}v>{text}</{prefix}v></{prefix}pt>' for place, text in points)
    code = re.search(r"<(?:\w+:)?formatCode>.*?</(?:\w+:)?formatCode>", old, re.DOTALL)
    form = "" if kind == "str" else code[0] if code else f"<{prefix}formatCode>General</{prefix}formatCode>"
    return (f"<{prefix}{kind}Ref>{reference}<{prefix}{kind}Cache>{form}"
            f'<{prefix}ptCount val="{len(addresses)}"/>{written}</{prefix}{kind}Cache></{prefix}{kind}Ref>')


def _addresses(first: str, top: int, last: str, bottom: int) -> List[str]:
    return [f"{column_letters(column)}{row}" for row in range(top, bottom + 1)
            for column in range(column_number(first), column_number(last) + 1)]


def column_number(letters: str) -> int:
    total = 0
    for letter in letters:
        total = total * 26 + ord(letter) - ord("A") + 1
    return total


def column_letters(column: int) -> str:
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _computed_on_load(xml: str) -> str:
    if not re.search(r"<(?:\w+:)?calcPr\b", xml):
        return xml
    xml = re.sub(r'(<(?:\w+:)?calcPr\b[^>]*?)\s+fullCalcOnLoad="[^"]*"', r"\1", xml)
    return re.sub(r"<((?:\w+:)?)calcPr\b", r'<\1calcPr fullCalcOnLoad="1"', xml)


# --- workbooks that we write -------------------------------------------------------------------------------------------

def save_workbook(workbook, path) -> None:
    """Write an openpyxl workbook with the value of every formula; equal workbooks give equal files."""
    from .evaluate import workbook_values

    values = workbook_values(workbook)
    file = io.BytesIO()
    workbook.save(file)
    with zipfile.ZipFile(file) as archive:
        package = Package({name: archive.read(name) for name in archive.namelist()})
    put_values(package, values)
    missing = uncached_cells(package)
    if missing:
        raise ValueError(f"{missing[0]}: the formula has no value")
    core = re.sub(r"(<dcterms:(?:created|modified)\b[^>]*>)[^<]*", rf"\g<1>{_EPOCH}", package.text("docProps/core.xml"))
    package.put_text("docProps/core.xml", core)
    write_package(package, path)
