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
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from ..files import refuse_existing, write_new
from ..refused import Refused, Unusable
from .elements import Element, elements, refuse_malformed

LARGEST_PACKAGE = 100_000_000  # bytes, of the file and when inflated
HIGHEST_RATIO = 300  # inflated to packed; workbooks of the usual kind stay far below 100
MOST_PARTS = 10_000
WORKBOOK = "xl/workbook.xml"  # the main part, where the package does not name another one
MAIN = "officeDocument"  # the kind of the relation that leads to it
CONTENT_TYPES = "[Content_Types].xml"

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_DAMAGE = (zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError, NotImplementedError, ValueError)


class Relation(NamedTuple):
    """A line of a list of relations."""

    identity: str
    kind: str  # an address whose last word says what the other part is
    target: str  # the part, or what lies outside of the package
    element: Element

    def is_a(self, word: str) -> bool:
        return self.kind.endswith("/" + word)


@dataclass
class Package:
    """The parts of an .xlsx or .xlsm file, name to bytes, in the order of the file."""

    parts: dict[str, bytes]
    path: str | None = None
    entries: dict[str, zipfile.ZipInfo] = field(default_factory=dict, repr=False)
    changed: set[str] = field(default_factory=set, repr=False)  # parts that are no longer as they were read

    def data(self, name: str) -> bytes:
        if name not in self.parts:
            raise self.damaged(f"part {name} is missing")
        return self.parts[name]

    def text(self, name: str) -> str:
        try:
            return self.data(name).decode("utf-8")
        except UnicodeDecodeError:
            raise self.damaged(f"part {name} is not UTF-8") from None

    def put(self, name: str, data: bytes) -> None:
        if self.parts.get(name) != data:
            self.parts[name] = data
            self.changed.add(name)

    def put_text(self, name: str, text: str) -> None:
        self.put(name, text.encode("utf-8"))

    def elements(self, part: str, *names: str) -> Iterator[Element]:
        """The elements of these local names in a part, children first."""
        found = elements(self.data(part), names)
        while True:
            try:
                element = next(found)
            except StopIteration:
                return
            except Refused as refusal:
                raise refusal.at(f"part {part}").at(self.path) from None
            except ValueError as error:
                raise self.damaged(f"part {part}: {error}") from None
            yield element

    def damaged(self, why: str) -> Unusable:
        return Unusable(f"damaged workbook ({why})", (str(self.path),))

    @property
    def workbook(self) -> str:
        """The main part."""
        if self.has_relations(""):
            return next((relation.target for relation in self.relations("") if relation.is_a(MAIN)), WORKBOOK)
        return WORKBOOK

    def has_relations(self, part: str) -> bool:
        return relations_of(self, part) in self.parts

    def relations(self, of: str) -> Iterator[Relation]:
        """What a part refers to; the package itself is ""."""
        names = {name.lower(): name for name in self.parts}  # case never counts in names of parts
        for element in self.elements(relations_of(self, of), "Relationship"):
            target = element.get("Target")
            if element.get("TargetMode") != "External":
                target = posixpath.normpath(posixpath.join("/", posixpath.dirname(of), target)).lstrip("/")
                target = names.get(target.lower(), target)
            yield Relation(element.get("Id"), element.get("Type"), target, element)


def relations_of(package: Package, part: str) -> str:
    """The part that lists the relations of another one."""
    folder, name = posixpath.split(part)
    wanted = posixpath.join(folder, "_rels", name + ".rels")
    return wanted if wanted in package.parts else next((name for name in package.parts if name.lower() == wanted.lower()), wanted)


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
        raise Refused("", f"be {kind}", found, (name,))
    try:
        with open(path, "rb") as file:
            _refuse_other_kinds(file, name, kind)
            return _inflated(file, name)
    except OSError as error:
        raise Unusable(f"cannot be read ({error.strerror or error})", (name,)) from None


def _refuse_other_kinds(file, path: str, kind: str) -> None:
    start = file.read(len(_OLE))
    if start == _OLE:
        if "EncryptedPackage".encode("utf-16-le") in file.read(LARGEST_PACKAGE):
            raise Unusable("encrypted workbook: remove the password first", (path,))
        raise Refused("", f"be {kind}", "an .xls file: save it as .xlsx first", (path,))
    if not start.startswith(b"PK"):
        raise Refused("", f"be {kind}", "something else under that name", (path,))


def _inflated(file, path: str) -> Package:
    _refuse_large_lists(file, path)
    try:
        archive = zipfile.ZipFile(file)
    except _DAMAGE as error:
        raise Unusable(f"damaged workbook ({error})", (path,)) from None
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
                raise Unusable(f"damaged workbook ({error})", (path,)) from None
            if not complete:
                raise Unusable(f"damaged workbook (wrong size of part {entry.filename})", (path,))
    return package


def _refuse_large_lists(file, path: str) -> None:
    """Before the list of parts is read, which takes far more memory than the file."""
    size = file.seek(0, os.SEEK_END)
    if size > LARGEST_PACKAGE:
        raise Refused("", f"be at most {LARGEST_PACKAGE // 1000} kB", f"{size // 1000} kB", (path,))
    with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as content:
        entries = sum(1 for _ in itertools.islice(re.finditer(b"PK\x01\x02", content), 10 * MOST_PARTS))
    if entries == 10 * MOST_PARTS:  # ten times, because a workbook may hold other packages
        raise Refused("", f"have at most {MOST_PARTS} parts", f"at least {entries}", (path,))


def _refuse_bombs(entries: list[zipfile.ZipInfo], size: int, path: str) -> None:
    if len(entries) > MOST_PARTS:
        raise Refused("", f"have at most {MOST_PARTS} parts", str(len(entries)), (path,))
    total, limit = sum(entry.file_size for entry in entries), min(LARGEST_PACKAGE, HIGHEST_RATIO * size)
    if total > limit:
        raise Refused("", f"inflate to at most {limit // 1000} kB", f"{total // 1000} kB", (path,))
    if len({entry.filename.lower() for entry in entries}) < len(entries):
        raise Unusable("damaged workbook (a part is there twice)", (path,))
    if any(entry.flag_bits & 1 for entry in entries):
        raise Unusable("encrypted workbook: remove the password first", (path,))
    if any(entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for entry in entries):
        raise Unusable("damaged workbook (packed in a way that workbooks never are)", (path,))


def _refuse_content(package: Package) -> None:
    if package.parts.get("mimetype", b"").startswith(b"application/vnd.oasis.opendocument.spreadsheet"):
        way = "save it as .xlsx in LibreOffice first: File, Save As, Excel 2007-365"
        raise Refused("", "be an .xlsx or .xlsm file", f"an .ods file: {way}", (str(package.path),))
    main = package.workbook
    if main.lower().endswith(".bin") or WORKBOOK not in package.parts and "xl/workbook.bin" in package.parts:
        raise Refused("", "be an .xlsx or .xlsm file", "an .xlsb file: save it as .xlsx first", (str(package.path),))
    if main not in package.parts:
        raise Refused("", "be an .xlsx or .xlsm file", f"no {main} in it", (str(package.path),))
    if main != WORKBOOK and not any(True for _ in package.elements(main, "workbook")):
        raise Refused("", "be an .xlsx or .xlsm file", f"no workbook in it but {main}", (str(package.path),))
    for name, data in package.parts.items():
        if name.lower().endswith((".xml", ".rels", ".vml")):
            plain = data.replace(b"\0", b"")  # in this way UTF-16 text can be searched as well
            if b"<!DOCTYPE" in plain or b"<!ENTITY" in plain:
                raise Refused("", f"not declare document types or entities (in {name})", place=(str(package.path),))


def write_package(package: Package, path) -> None:
    """Write a new file with the parts in order, as private as the file that was read."""
    refuse_existing(path)
    for name in package.changed:
        if name.lower().endswith((".xml", ".rels", ".vml")):
            try:
                refuse_malformed(package.data(name))
            except ValueError as error:  # never a file that no program can open
                raise Unusable(f"part {name} cannot be changed ({error})", (str(package.path),)) from None
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
    targets = {relation.identity: relation.target for relation in package.relations(package.workbook)}
    found: dict[str, str] = {}
    for sheet in package.elements(package.workbook, "sheet"):
        title, part = sheet.get("name"), targets.get(sheet.relation, "")
        if not title or title in found:
            raise package.damaged("a sheet has no name of its own")
        if part not in package.parts:
            raise Refused(f"sheet {title!r}", "have a part in the file", part or "none", (str(package.path),))
        found[title] = part
    return found
