"""Workbook files as packages: read safely, changed in single parts, all else kept byte for byte."""

from __future__ import annotations

import io
import itertools
import mmap
import os
import posixpath
import re
import struct
import zipfile
import zlib
from dataclasses import dataclass, field
from xml.etree import ElementTree

from ..files import refuse_existing, write_new

LARGEST_PACKAGE = 100_000_000  # bytes, of the file and when inflated
LARGEST_TREE = 10_000_000  # bytes of a part that is read as a whole: a list of sheets, names or styles, never a sheet
HIGHEST_RATIO = 300  # inflated to packed; workbooks of the usual kind stay far below 100
MOST_PARTS = 10_000
WORKBOOK = "xl/workbook.xml"

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_DAMAGE = (zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError, NotImplementedError, ValueError)


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


def read_package(path, name: str = "") -> Package:
    """The package at a path, or ValueError with one line saying why there is none; it calls the file by `name`, or its path."""
    package = read_parts(path, name)
    _refuse_content(package)
    return package


def read_parts(path, name: str = "", kind: str = "an .xlsx or .xlsm file") -> Package:
    """The parts of a file of this kind, within bounds, whatever they are; ValueError for what is no such file."""
    path = os.fspath(path)
    name = name or path
    if not os.path.isfile(path):
        found = "a folder" if os.path.isdir(path) else "no such file"
        raise ValueError(f"{name}: must be {kind} (got {found})")
    try:
        with open(path, "rb") as file:
            _refuse_other_kinds(file, name, kind)
            return _inflated(file, name)
    except OSError as error:
        raise ValueError(f"{name}: cannot be read ({error.strerror or error})") from None


def _refuse_other_kinds(file, path: str, kind: str) -> None:
    start = file.read(len(_OLE))
    if start == _OLE:
        if "EncryptedPackage".encode("utf-16-le") in file.read(LARGEST_PACKAGE):
            raise ValueError(f"{path}: encrypted workbook: remove the password first")
        raise ValueError(f"{path}: must be {kind} (got an .xls file: save it as .xlsx first)")
    if not start.startswith(b"PK"):
        raise ValueError(f"{path}: must be {kind} (got something else under that name)")


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
    """Write a new file with the parts in order, as private as the file that was read."""
    refuse_existing(path)
    write_new(path, packed(package), like=package.path)


def packed(package: Package) -> bytes:
    """The content of the file; the parts stand in their order."""
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as archive:
        for name, data in package.parts.items():
            archive.writestr(_entry(name, package.entries.get(name)), data)
    return content.getvalue()


def _entry(name: str, old: zipfile.ZipInfo | None) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, old.date_time if old else (1980, 1, 1, 0, 0, 0))
    entry.compress_type = old.compress_type if old else zipfile.ZIP_DEFLATED
    entry.external_attr = old.external_attr if old else 0o600 << 16
    return entry


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
