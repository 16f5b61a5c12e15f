"""Links to other workbooks: dropped when only cell functions that are now gone used them."""

from __future__ import annotations

import posixpath
import re

from ..spreadsheets.package import WORKBOOK, Package
from .sites import attribute

_REFERENCE = re.compile(r"<(?:\w+:)?externalReference\b([^<>]*)/>")
_NO_FORMULAS = re.compile(
    r"xl/(?:sharedStrings|styles|comments|theme/|externalLinks/)|docProps/|\[Content_Types\]", re.IGNORECASE
)


def drop_unused_links(package: Package, numbers: set[int]) -> list[int]:
    """Remove those links, by number, that no formula uses any more; returns the numbers that stay.

    Formulas count the links, so that one can only go while none stays behind it.
    """
    last = len(_REFERENCE.findall(package.text(WORKBOOK)))
    while last in numbers and not _is_used(package, last):
        _drop_last(package)
        last -= 1
    return sorted(number for number in numbers if 1 <= number <= last)


def _is_used(package: Package, number: int) -> bool:
    mark = f"[{number}]".encode()
    return any(mark in data for name, data in package.parts.items() if name.endswith(".xml") and not _NO_FORMULAS.match(name))


def _drop_last(package: Package) -> None:
    xml = package.text(WORKBOOK)
    reference = list(_REFERENCE.finditer(xml))[-1]
    identity = attribute(reference[1], r"\w+:id")
    xml = xml[: reference.start()] + xml[reference.end() :]
    package.put_text(WORKBOOK, re.sub(r"<((?:\w+:)?externalReferences)\b[^<>]*>\s*</\1>", "", xml))
    path = "xl/_rels/workbook.xml.rels"
    for match in re.finditer(r"<(?:\w+:)?Relationship\b([^<>]*)/>", package.text(path)):
        if attribute(match[1], "Id") == identity:
            part = posixpath.normpath(posixpath.join("/xl", attribute(match[1], "Target"))).lstrip("/")
            package.put_text(path, package.text(path).replace(match[0], "", 1))
            folder, name = posixpath.split(part)
            for gone in (part, f"{folder}/_rels/{name}.rels"):
                package.parts.pop(gone, None)
            override = re.compile(rf"""<(?:\w+:)?Override\b[^<>]*PartName=["']/{re.escape(part)}["'][^<>]*/>""")
            package.put_text("[Content_Types].xml", override.sub("", package.text("[Content_Types].xml")))
            return
