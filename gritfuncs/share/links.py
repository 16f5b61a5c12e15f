"""Links to other workbooks: dropped when only cell functions that are now gone used them."""

from __future__ import annotations

import re

from ..spreadsheets.elements import spliced
from ..spreadsheets.package import CONTENT_TYPES, Package, relations_of

_NO_FORMULAS = re.compile(
    r"xl/(?:sharedStrings|styles|comments|theme/|externalLinks/)|docProps/|\[Content_Types\]", re.IGNORECASE
)


def drop_unused_links(package: Package, numbers: set[int]) -> list[int]:
    """Remove those links, by number, that no formula uses any more; returns the numbers that stay.

    Formulas count the links, so that one can only go while none stays behind it.
    """
    last = sum(1 for _ in package.elements(package.workbook, "externalReference"))
    while last in numbers and not _is_used(package, last):
        _drop_last(package)
        last -= 1
    return sorted(number for number in numbers if 1 <= number <= last)


def _is_used(package: Package, number: int) -> bool:
    mark = f"[{number}]".encode()
    return any(mark in data for name, data in package.parts.items() if name.endswith(".xml") and not _NO_FORMULAS.match(name))


def _drop_last(package: Package) -> None:
    *_, last, listed = package.elements(package.workbook, "externalReferences", "externalReference")
    gone = listed if len(listed.children) == 1 else last
    _cut(package, package.workbook, gone.start, gone.end)
    lines = relations_of(package, package.workbook)
    for relation in package.relations(package.workbook):
        if relation.identity == last.relation:
            _cut(package, lines, relation.element.start, relation.element.end)
            _drop_part(package, relation.target)
            return


def _drop_part(package: Package, part: str) -> None:
    for gone in (part, relations_of(package, part)):
        package.parts.pop(gone, None)
    for override in package.elements(CONTENT_TYPES, "Override"):
        if override.get("PartName").lower() == f"/{part}".lower():
            _cut(package, CONTENT_TYPES, override.start, override.end)
            return


def _cut(package: Package, part: str, start: int, end: int) -> None:
    package.put(part, spliced(package.data(part), [(start, end, b"")]))
