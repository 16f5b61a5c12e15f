"""The sheet Help of trial.xlsx."""

from __future__ import annotations

from ...sheets.book import Book
from ...sheets.words import PREFACTOR, RADIUS
from ..read_me import MADE_BY
from .tables import HELP

_PURPOSE = (
    "Each wheel, material and machine has a range of grit depth where the wheel works well. Shallower, the grits rub: power and heat "
    "climb. Deeper, grits are torn out. This workbook guides a trial in which the work rpm is stepped, takes the power read at each step, "
    "and finds the knee: the depth where the falling curve levels off."
)
_STEPS = (
    "1 Inputs: fill in the cells above the line; what stands below it can stay. Cells to fill in are tinted and have a strong border.",
    "2 Trial: set the rpm under SET NEXT, let it settle, and type what rpm and load really were: rpm, Tab, load, Tab, idle, Enter. Repeat "
    "until it says finished or end here. Look at part and wheel after each reading; type what you see under damage.",
    "Rpm and infeed stepped together (choose it on Inputs): set both as SET NEXT says, and type infeed, Tab, rpm, Tab, load, Tab, idle, "
    "Enter. A blank infeed is that of the Inputs. The two readings of the pair tell an idle that is wrong from the knee: take both. These "
    "steps are hottest on the fast, deep side; rpm steps on the slow, shallow side.",
    "STOP means do not run. A line that begins with ! asks for a look. finished: the knee is known as well as wanted. end here: no further "
    "reading helps. unfinished: go on.",
    "Set only what stands under SET FOR THE PARTS, and watch the first parts. Print the sheet: one page is the record of the trial.",
    "3 Record: the row for the record of knees, and all results. Finish and wear, Other trials: to compare. Sheets named calc only compute.",
    "The sheet Checks says what is wrong and leads to the cell. #N/A means: no result, see Checks.",
)
_BACKGROUND = (
    PREFACTOR,
    "The knee is the corner of the least-squares curve that falls in a straight line and then stays level. The interval is what scatter "
    "leaves possible at 95 %, widened to half the mean gap between depths because real curves are rounded. A single reading that is out of "
    "line with the others is named; drift is judged by the repeats, taken off and named.",
    RADIUS,
    "Inches: the choice of units on Inputs says how wheel, part, infeed and speeds are typed there. It does not convert what stands in the "
    "cells: a value that is unusual in the units chosen is named beside it.",
    MADE_BY,
)


def help_sheet(book: Book) -> None:
    page = book.page(HELP, "Help", (110, 10, 10, 10))
    page.cautions()
    for title, texts in (("What it is for", (_PURPOSE,)), ("How to use it", _STEPS), ("What stands behind it", _BACKGROUND)):
        page.heading(title)
        for text in texts:
            page.note(text)
