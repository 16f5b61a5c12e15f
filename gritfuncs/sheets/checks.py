"""The checks of a book: what each of them says, and the sheet that lists them and sums them up in the master line."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from openpyxl.styles import Alignment

from .page import Page
from .sizes import row_height
from .styles import stop_format, warning_format
from .texts import signs_said

STOP, LOOK, OK = "STOP", "look", "ok"
CHECKS_WIDTHS = (5, 54, 9, 72, 22)
_LABEL_IN_LINE, _ADVICE_IN_LINE = 60, 79  # signs in a line


@dataclass
class Check:
    """One line of the page of checks: a formula that gives ok or, as the case may be, STOP or look."""

    label: str
    formula: str
    advice: str  # a text, or a formula that gives one
    where: str = ""  # the name of a cell, or a sheet and a cell; else the first input that the advice or the formula names


def list_checks(page: Page, stops: Sequence[Check], looks: Sequence[Check], state: str) -> None:
    """Fill the page of checks and name out_check (the master line), out_ready (1 when nothing says STOP) and what leads there.

    `state` is the formula text of out_state, if the book has one.
    """
    page.note("STOP blocks the results until it is mended. look asks for a look and blocks nothing.")
    page.table_head(("no.", "check", "state", "what to do", "go to"))
    ranges = {}
    first = page.row
    page.sheet.freeze_panes = f"A{first}"
    for word, checks in ((STOP, stops), (LOOK, looks)):
        start = page.row
        for check in checks:
            _check_row(page, page.row - first + 1, check)
        ranges[word] = tuple(f"{letter}${start}:{letter}${page.row - 1}" for letter in "BC")
    for word, name in ((STOP, "stops"), (LOOK, "looks")):
        _number_row(page, f"out_{name}", f"checks that say {word}", f'COUNTIF({ranges[word][1]},"{word}")')
    _number_row(page, "out_ready", "results may be shown (1 yes, 0 no)", "IF(out_stops=0,1,0)")

    for word, name in ((STOP, "stop"), (LOOK, "look")):
        labels, states = ranges[word]
        found = f'IFERROR(INDEX({labels},MATCH("{word}",{states},0)),"none")'
        _text_row(page, f"out_first_{name}", f"the first that says {word}", found)
    master_line = (
        f'IF(out_stops>0,"{STOP}: not fulfilled: "&out_first_stop&" ("&out_stops&" STOP, see the sheet Checks)",'
        f'IF(out_looks>0,"Checks: no STOP; look at: "&out_first_look&" ("&out_looks'
        '&" to look at, see the sheet Checks)","Checks: all ok"))'
    )
    _text_row(page, "out_check", "master line", master_line)
    if state:
        _text_row(page, "out_state", "state, on every sheet", state)
    warning_format(page.sheet, f"C{first}:C{page.row - 1}", f'C{first}="{LOOK}"')
    stop_format(page.sheet, f"C{first}:C{page.row - 1}", f'C{first}="{STOP}"')


def _check_row(page: Page, number: int, check: Check) -> None:
    page.cells((number, check.label, "=" + check.formula, check.advice, None), formats=("0",))
    _link_to_what_is_checked(page, page.row - 1, check)
    page.sheet.row_dimensions[page.row - 1].height = max(
        row_height(len(check.label), _LABEL_IN_LINE), row_height(signs_said(check.advice), _ADVICE_IN_LINE)
    )


def _number_row(page: Page, name: str, label: str, formula: str) -> None:
    page.cells(("", label, "=" + formula), formats=(None, None, "0"))
    page.book.name(name, page.sheet, f"C{page.row - 1}")


def _text_row(page: Page, name: str, label: str, formula: str) -> None:
    page.cells(("", label, "=" + formula))
    page.book.name(name, page.sheet, f"C{page.row - 1}")
    page.sheet.cell(page.row - 1, 3).alignment = Alignment(wrap_text=False)


def _link_to_what_is_checked(page: Page, row: int, check: Check) -> None:
    """Where to go: the cell that the check names, or the first input that its advice or its formula names."""
    book, cells = page.book, page.book.workbook.defined_names
    names = [name for text in (check.advice, check.formula) for name in re.findall(r"\b(?:in|use)_\w+", text)]
    known = (name for name in (check.where, *names) if name in cells)
    name = next((name.replace("use_", "in_", 1) for name in known), "")
    if name in cells:
        book.link(page.sheet, f"E{row}", name, cells[name].attr_text.partition(":")[0].replace("$", ""))
    elif check.where:
        book.link(page.sheet, f"E{row}", check.where.partition("!")[0].strip("'"), check.where)
