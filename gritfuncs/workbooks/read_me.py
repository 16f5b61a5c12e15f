"""The first page of every workbook: what it is for, how to use it, what stands behind it, cautions."""

from __future__ import annotations

from collections.abc import Sequence

from .. import __version__
from ..sheets.book import Book
from ..sheets.words import PREFACTOR

CHECKS_STEP = "The line in bold at the head of each sheet says whether the checks are all ok. #N/A means: no result, see Checks."
MADE_BY = f"Made by gritfuncs {__version__}. Native formulas only: no macros, no add-in, no links."


def read_me_page(
    book: Book,
    heading: str,
    purpose: Sequence[str],
    steps: Sequence[str],
    background: Sequence[str],
    made_by: str = MADE_BY,
    name: str = "Read me first",
) -> None:
    """Add the page; steps are numbered, the step about the checks comes last, the prefactor leads the background."""
    page = book.page(name, heading)
    page.heading("What it is for")
    for text in purpose:
        page.note(text)
    if steps:
        page.heading("How to use it")
    for number, text in enumerate((*steps, CHECKS_STEP) if steps else (), start=1):
        page.note(f"{number}. {text}")
    page.heading("What stands behind it")
    for text in (PREFACTOR, *background, made_by):
        page.note(text)
    page.cautions()
