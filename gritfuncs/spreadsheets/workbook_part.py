"""The main part of a workbook: its lists stand in an order that spreadsheet programs insist on."""

from __future__ import annotations

from .elements import spliced, with_attribute
from .package import Package

# CT_Workbook of ECMA-376 part 1, 18.2.27
ORDER = (
    *("fileVersion", "fileSharing", "workbookPr", "workbookProtection", "bookViews", "sheets", "functionGroups"),
    *("externalReferences", "definedNames", "calcPr", "oleSize", "customWorkbookViews", "pivotCaches", "smartTagPr"),
    *("smartTagTypes", "webPublishing", "fileRecoveryPr", "webPublishObjects", "extLst"),
)


def put_element(package: Package, name: str, attributes: str = "", content: bytes = b"") -> None:
    """Put an element that the workbook lacks where it belongs among the others."""
    before = ORDER[: ORDER.index(name)]
    found = list(package.elements(package.workbook, "workbook", *before))
    if not found or found[-1].name != "workbook":
        raise package.damaged(f"part {package.workbook} is no list of sheets")
    root = found[-1]
    # each in its place whatever the order of those that are there: behind the last that must stand before it
    place = max((child.end for child in root.children), default=root.inner)
    prefix = root.prefix.encode()
    new = b"<" + prefix + name.encode() + attributes.encode()
    new += b">" + content + b"</" + prefix + name.encode() + b">" if content else b"/>"
    data = package.data(package.workbook)
    edit = (place, place, new) if root.children else (root.start, root.end, root.with_child(new))
    package.put(package.workbook, spliced(data, [edit]))


def compute_on_load(package: Package) -> None:
    """Mark the workbook so that spreadsheet programs compute everything anew."""
    if not any(True for _ in package.elements(package.workbook, "calcPr")):
        put_element(package, "calcPr")
    (found, *_) = package.elements(package.workbook, "calcPr")
    data = package.data(package.workbook)
    tag = with_attribute(data[found.start : found.inner], "fullCalcOnLoad", "1")
    package.put(package.workbook, spliced(data, [(found.start, found.inner, tag)]))
