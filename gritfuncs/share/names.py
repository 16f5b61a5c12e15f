"""Excel 365: the closed-form functions as LAMBDA names in a copy of a workbook, without macros and without Python.

A name checks its arguments as the other hosts do: an input that is wrong gives the same kind of text, never a number.
Made for Excel but not tried in it; the tests compute the names in another engine that knows LAMBDA.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from .. import __version__
from ..addins.check import NOT_READY, UNKNOWN, State, has_excel
from ..addins.functions import FAILED, FUNCTIONS
from ..addins.hosts import EXCEL, Host
from ..cells import Cell
from ..files import refuse_existing
from ..formulas import catalogue
from ..quantity import Quantity, Relation
from ..refused import Refused, Unusable
from ..registry import Formula
from ..spreadsheets.elements import Element, escape_attribute, escape_text, spliced
from ..spreadsheets.package import Package, read_package, write_package
from ..spreadsheets.workbook_part import compute_on_load, put_element

_MARK = "_xlpm."  # how a file marks the parameters of a LAMBDA; Excel shows them without it


class LambdaName(NamedTuple):
    """A defined name: what it holds, without '=', as stored in the file, and the comment that Excel shows with it."""

    formula: str
    comment: str


def _parameter(word: str) -> str:
    """A parameter as the file has it; never one that is also the name of a function, case apart."""
    sheet_names = {record.sheet_name for record in catalogue}
    return _MARK + word + ("_value" if word.upper() in sheet_names else "")


def _in_limits(quantity: Quantity) -> str:
    cell = _parameter(quantity.name)
    conditions = [f"ISNUMBER({cell})"]
    if quantity.choices:
        conditions.append("(" + "+".join(f"({cell}={choice})" for choice in quantity.choices) + ")")
    if quantity.low is not None:
        conditions.append(f"({cell}{'>' if quantity.low_open else '>='}{quantity.low:g})")
    if quantity.high is not None:
        conditions.append(f"({cell}<={quantity.high:g})")
    return "*".join(conditions)  # AND would make one answer of a whole range


def _fits_together(relation: Relation) -> str:
    margin = relation.margin(*(Cell(_parameter(name)) for name in relation.names))
    return f"{margin}{'>=' if relation.may_vanish else '>'}0"


def _lambda(record: Formula) -> str:
    parameters = {quantity.name: _parameter(quantity.name) for quantity in record.arguments}
    body = record.text(**parameters)
    checks = [
        (_in_limits(quantity), f"{quantity.name} must be a number, {quantity.requirement}") for quantity in record.arguments
    ]
    checks += [(_fits_together(relation), relation.text) for relation in record.relations]
    for condition, text in reversed(checks):
        body = f'IF({condition},{body},"{FAILED}{text}")'
    return f"_xlfn.LAMBDA({','.join(parameters.values())},{body})"


def lambda_names() -> dict[str, LambdaName]:
    """The names by sheet name: every closed-form formula, and the version."""
    comments = {function.sheet_name: function.help for function in FUNCTIONS}
    names = {record.sheet_name: _lambda(record) for record in catalogue if record.native}
    names["GRIT_VERSION"] = f'_xlfn.LAMBDA("{__version__}")'
    return {name: LambdaName(formula, comments[name]) for name, formula in names.items()}


def functions_left_out() -> tuple[str, ...]:
    """The sheet names of the functions that are not closed form, so that no name can hold them."""
    names = lambda_names()
    return tuple(function.sheet_name for function in FUNCTIONS if function.sheet_name not in names)


# What an earlier version may have put there; no other name would hold it.
_OURS = re.compile(rf'_xlfn\.LAMBDA\((?:.*"{re.escape(FAILED)}.*|"[\d.]+")\)', re.DOTALL)


def add_names(book, output) -> tuple[str, ...]:
    """Write a copy of a workbook (.xlsx, .xlsm) that has the functions as names; returns the names.

    Only the list of names and the mark for computing on load change; every other part stays byte for byte. Names that
    an earlier version put there are renewed; ValueError for a name of the user's own, and for an output that exists.
    """
    book, output = os.fspath(book), os.fspath(output)
    refuse_existing(output)
    kinds = [os.path.splitext(path)[1].lower() for path in (book, output)]
    if kinds[0] != kinds[1]:
        raise Refused("", f"end in {kinds[0]} as the workbook does", place=(str(output),))
    package = read_package(book)
    names = lambda_names()
    _put_names(package, names)
    compute_on_load(package)
    write_package(package, output)
    return tuple(names)


def _put_names(package: Package, names: dict[str, LambdaName]) -> None:
    """Put the names at the end of the list, in place of those that an earlier version put there."""
    if not any(True for _ in package.elements(package.workbook, "definedNames")):
        put_element(package, "definedNames")
    *_, listed = package.elements(package.workbook, "definedNames", "definedName")
    edits = [(old.start, old.end, b"") for old in listed.children if _is_renewed(old, names, package)]
    prefix = listed.prefix
    new = "".join(
        f'<{prefix}definedName name="{name}" comment="{escape_attribute(held.comment)}">'
        f"{escape_text(held.formula).decode()}</{prefix}definedName>"
        for name, held in names.items()
    )
    at_end = (listed.start, listed.end, listed.with_child(new.encode()))
    edits.append(at_end if listed.is_empty_tag else (listed.inner_end, listed.inner_end, new.encode()))
    package.put(package.workbook, spliced(package.data(package.workbook), edits))


def _is_renewed(element: Element, names: dict[str, LambdaName], package: Package) -> bool:
    """Whether a name of the workbook is one that an earlier version put there; a name of the user's own is refused."""
    name = element.get("name")
    if name.upper() not in names:
        return False
    if "localSheetId" in element.attributes or not _OURS.fullmatch(element.text):
        raise Unusable(f"its own name {name} must be renamed first (it holds {element.text:.60})", (str(package.path),))
    return True


def _make(book: Path | None, output: Path | None) -> Iterator[str]:
    if book is None:
        raise Refused("BOOK", "be given: gritfuncs addin names BOOK", "nothing")
    output = output or book.with_name(f"{book.stem} (names){book.suffix}")
    names = add_names(book, output)
    yield f"{output}: {len(names)} names; not among them: {', '.join(functions_left_out())}"


def _state() -> State:
    if sys.platform == "win32" and not has_excel():
        return State("Excel 365 names", NOT_READY, "Excel is not installed", "gritfuncs addin calc, for LibreOffice")
    return State("Excel 365 names", UNKNOWN, "nothing to install; Excel must know LAMBDA", "gritfuncs addin names BOOK")


NAMES = Host(
    name="names",
    title="Excel 365 names",
    add_in="names in a workbook",
    makes="a copy of BOOK with the functions as names for Excel 365",
    spell=EXCEL.spell,
    make=_make,
    state=_state,
    page="excel.md",
    source="the workbook to copy",
    output="file to write (default: BOOK with (names) in its name)",
)
