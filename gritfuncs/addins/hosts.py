"""The spreadsheet hosts that have the functions in their cells: one record a host, and nothing else asks which one it is.

=================  ==================  =====================================================
host               typed, shown        stored in the file
=================  ==================  =====================================================
Excel, xlwings     GRIT_X              GRIT_X; [1]!GRIT_X where it came from another workbook
Excel 365 name     GRIT_X              GRIT_X, a defined name that holds a LAMBDA
Calc extension     GRIT_X              ORG.GRITFUNCS.CELLS.GRIT_X, in .ods and .xlsx
=================  ==================  =====================================================

A new host is a record here, in `HOSTS`.  The names for Excel 365 stand in share/names.py, which writes into workbooks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from ..refused import Refused
from .check import State, calc_state, excel_state
from .naming import calc_stored_name


@dataclass(frozen=True)
class Host:
    """A spreadsheet program with the functions in its cells.

    name : the word for it on the command line
    title : what people call it
    add_in : what people call what `make` makes
    makes : what `make` makes, in words
    spell : how the program writes a function with this sheet name into a file, before the opening bracket
    make : makes the add-in from the workbook or folder and the output that were given, None for none; yields lines to show
    state : what is ready on this machine
    page : its page in docs/
    source, output : what the command takes as these, in words; "" where it takes none
    """

    name: str
    title: str
    add_in: str
    makes: str
    spell: Callable[[str], str]
    make: Callable[[Path | None, Path | None], Iterator[str]]
    state: Callable[[], State]
    page: str
    source: str = ""
    output: str = ""


def must_be_left_out(name: str, given: Path | None, why: str) -> None:
    """Refuse an argument that would be ignored."""
    if given is not None:
        raise Refused(name, f"be left out, {why}", repr(str(given)))


def _make_for_calc(source: Path | None, output: Path | None) -> Iterator[str]:
    from .calc import build_oxt

    must_be_left_out("source", source, "the extension is for all workbooks")
    path = output or Path("gritfuncs.oxt")
    yield str(build_oxt(path))
    yield (
        f"next: Tools > Extension Manager > Add in LibreOffice, or: unopkg add {path}; then restart LibreOffice and type "
        "=GRIT_VERSION() into a cell"
    )


def _make_for_excel(source: Path | None, output: Path | None) -> Iterator[str]:
    from .excel import instructions, write_folder

    must_be_left_out("output", output, "the new folder is named right after excel")
    yield from map(str, write_folder(source or Path("gritfuncs-excel")))
    yield f"\n{instructions()}".rstrip("\n")


EXCEL = Host(
    name="excel",
    title="Excel",
    add_in="Excel add-in",
    makes="a folder with a workbook for xlwings, and the steps",
    spell=lambda sheet_name: sheet_name,
    make=_make_for_excel,
    state=excel_state,
    page="excel.md",
    source="the new folder (default: gritfuncs-excel)",
)
CALC = Host(
    name="calc",
    title="LibreOffice",
    add_in="LibreOffice extension",
    makes="the extension for LibreOffice",
    spell=calc_stored_name,
    make=_make_for_calc,
    state=calc_state,
    page="calc.md",
    output="file to write (default: gritfuncs.oxt)",
)
HOSTS: tuple[Host, ...] = (EXCEL, CALC)
NATIVE = "native"  # for no host: formulas that every program computes
