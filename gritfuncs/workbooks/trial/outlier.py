"""The sheet calc outlier of trial.xlsx: the reading that is most out of line, and the verdict with it and without.

A reading is out of line where leaving it out improves the fit beyond chance, as gritfuncs.find_knee has it.  Which one that
may be follows from a table of readings by corners at some places; the fit without it is then a second block, which is idle
while no reading is suspected.
"""

from __future__ import annotations

from collections.abc import Mapping

from openpyxl.utils import get_column_letter

from ...knee import FOUND, NOT_RESOLVED, TOO_FEW
from ...knee.thresholds import OUTLIER_CHANCE
from ...sheets.book import Book
from ...sheets.conditions import first_of, quoted
from ...sheets.page import Page
from ..blocks.drift import DriftBlock
from ..blocks.knee import knee_block
from ..blocks.knee_falls import NONE
from .tables import CALCULATION, OUTLIER, ROWS

CORNERS = 20  # places of the corner that are tried, evenly over the depths; the fit without the suspected reading is exact
_ALMOST = 0.5  # of the improvement needed: corners between these places may reach the rest
_NO_FREEDOM = "1E-9"  # a reading with this little freedom carries a corner alone
_SQUARES = '[>=1000000]"none";0.000'  # a format: NONE is no number to read
_WITHDRAWN = ("knee", "low", "high", "level", "slope")
_HEADINGS = ("no.", "counts (1 yes)", "grit depth, µm", "energy less its mean", "least squares without this reading")
_OF_CORNER = (
    "corner: place, µm",
    "mean distance of the readings before it, µm",
    "squares of the distances",
    "products with energy",
    "fall, per µm",
    "squares about it",
)
_FIRST_CORNER = len(_HEADINGS) + 1
_TOP = 32  # row of the places of the corners; results above, readings below
_FIRST = _TOP + len(_OF_CORNER) + 1
_LAST = _FIRST + ROWS - 1
_COUNTS, _DEPTHS, _ENERGIES, _LEAST = (f"${letter}${_FIRST}:${letter}${_LAST}" for letter in "BCDE")


def screened(book: Book, drift: DriftBlock) -> dict[str, str]:
    """Write the sheet; gives the results of the block, judged with the reading out of line in mind."""
    block = drift.results
    page = book.page(OUTLIER, "Is a reading out of line with the others?", (44, 12, 16, 14, 14) + (10,) * CORNERS)
    page.row_columns = 4
    page.note("Each reading is left out in turn; the improvement of the fit must be more than chance gives in 1 of 100 trials.")
    without = knee_block(
        CALCULATION.area("kept_depth"),
        drift.energies,
        ROWS,
        sheet_name=page.sheet.title,
        anchor=f"A{_LAST + 4}",
        noise="out_noise_given",
    )
    results = _results(page, block, without.results)
    page.row = _FIRST - 1
    _table(page, drift.energies)
    for address, content in without.cells.items():
        page.put(address, content)
    page.sheet.print_area = f"A1:{get_column_letter(_FIRST_CORNER + CORNERS - 1)}{_LAST}"
    return {**block, **results}


def _results(page: Page, block: Mapping[str, str], without: Mapping[str, str]) -> dict[str, str]:
    """The rows of results above the table; gives those that replace the block's."""
    page.rows_head()
    n, verdict = block["n_readings"], block["verdict"]

    def row(name: str, formula: str, label: str, unit: str = "-", digits: int | None = 0) -> None:
        page.result(name, formula, label=label, unit=unit, digits=digits, kind="step")

    row(
        "outlier_judged",
        first_of(
            ("out_ready<>1", "0"),
            (f"{verdict}={quoted(TOO_FEW)}", "0"),
            (f"{verdict}={quoted('no verdict')}", "0"),
            otherwise="1",
        ),
        "there are enough readings to judge (1 yes)",
    )
    row("outlier_n", f"IF(out_outlier_judged=1,{n},0)", "readings")
    row("outlier_mean", f"IF(out_outlier_judged=1,{block['mean']},0)", "mean energy", "as on the chart", 2)
    row("outlier_first", f"IF(out_outlier_judged=1,{block['first']},0)", "smallest depth", "µm", 4)
    row("outlier_span", f"IF(out_outlier_judged=1,{block['span']},0)", "range of depths", "µm", 4)
    row("outlier_least", f"IF(out_outlier_judged=1,MIN({_LEAST}),0)", "least squares without one reading", digits=3)
    row(
        "outlier_needed",
        f"IF(out_outlier_judged=1,FINV({OUTLIER_CHANCE!r}/{n},1,{n}-4),0)",
        "improvement needed, of the variance without it",
        digits=3,
    )

    def improvement(sse: str) -> str:
        return f"({block['hinge_sse']}-{sse})/MAX({sse}/({n}-4),{block['floor_square']})"

    row(
        "outlier_candidate",
        first_of(
            ("out_outlier_judged=0", "0"),
            (f"{improvement('out_outlier_least')}>{_ALMOST}*out_outlier_needed", f"MATCH(out_outlier_least,{_LEAST},0)"),
            otherwise="0",
        ),
        "reading that may be out of line, or 0",
    )
    row(
        "outlier_sse",
        first_of(("out_outlier_candidate=0", "0"), otherwise=f"IFERROR({without['hinge_sse']},out_outlier_least)"),
        "squares about the fit without it",
        digits=3,
    )
    row(
        "outlier_row",
        first_of(
            ("out_outlier_candidate=0", "0"),
            (f"{improvement('out_outlier_sse')}>out_outlier_needed", "out_outlier_candidate"),
            otherwise="0",
        ),
        "reading out of line, or 0",
    )
    row(
        "outlier_moves",
        first_of(
            (f"IF(out_outlier_row>0,{verdict}<>{quoted(FOUND)},TRUE)", "0"),
            (f"{without['verdict']}<>{quoted(FOUND)}", "0"),
            (f"{without['knee']}<{block['low']}", "1"),
            (f"{without['knee']}>{block['high']}", "1"),
            otherwise="0",
        ),
        "without it the knee moves (1 yes)",
    )
    row(
        "outlier_decides",
        first_of(
            ("out_outlier_row=0", "0"), ("out_outlier_moves=1", "1"), (f"{without['verdict']}<>{verdict}", "1"), otherwise="0"
        ),
        "it decides the verdict (1 yes)",
    )
    named = '"Reading "&out_outlier_row&" is out of line with the others'
    seen = first_of(("out_outlier_moves=1", quoted("the knee moves")), otherwise=f'"the verdict is \'"&{without["verdict"]}&"\'"')
    replaced = {
        "verdict": first_of(("out_outlier_decides=1", quoted(NOT_RESOLVED)), otherwise=verdict),
        "reason": first_of(
            ("out_outlier_decides=1", f'{named}; without it "&{seen}&", with it \'"&{verdict}&"\'."'),
            ("out_outlier_row>0", f'{block["reason"]}&" "&{named}, but the verdict without it is the same."'),
            otherwise=block["reason"],
        ),
        "advice": first_of(("out_outlier_decides=1", '"repeat reading "&out_outlier_row'), otherwise=block["advice"]),
        **{name: first_of(("out_outlier_decides=1", "NA()"), otherwise=block[name]) for name in _WITHDRAWN},
    }
    for name, formula in replaced.items():
        row(f"screened_{name}", formula, f"{name}, with this in mind", digits=None if name not in _WITHDRAWN else 4)
    return {name: f"out_screened_{name}" for name in replaced}


def _table(page: Page, energies: str) -> None:
    """A row for each reading; on the right its squares with a corner at each of some places, less what leaving it out takes off."""
    _corners(page)
    page.table_head((*_HEADINGS, *(f"corner {number}" for number in range(1, CORNERS + 1))), lines=4)
    for number in range(1, ROWS + 1):
        row, at = page.row, CALCULATION.first_row + number - 1
        depth, counts = (CALCULATION.cell(name, at) for name in ("depth", "counts"))
        without = [_without(row, get_column_letter(_FIRST_CORNER + place)) for place in range(CORNERS)]
        first, last = (f"{get_column_letter(_FIRST_CORNER + place)}{row}" for place in (0, CORNERS - 1))
        level = f"SUMPRODUCT({_ENERGIES}*{_ENERGIES})-$D{row}^2*out_outlier_n/(out_outlier_n-1)"
        page.cells(
            (
                number,
                f"=IF(out_outlier_judged=1,{counts},0)",
                f"=IF($B{row}=0,0,{depth})",
                f"=IF($B{row}=0,0,INDEX({energies},$A{row})-out_outlier_mean)",
                f"=IF($B{row}=0,{NONE},MIN({level},{first}:{last}))",
                *without,
            ),
            formats=("0", "0", "0.0000", "0.00", _SQUARES, *(_SQUARES,) * CORNERS),
        )


def _corners(page: Page) -> None:
    """The places of the corners, evenly over the range of depths, and the fall that ends at each: what all readings say."""
    for label, row in zip(_OF_CORNER, range(_TOP, _FIRST)):
        page.sheet.cell(row, 1, label)
    for place in range(CORNERS):
        letter = get_column_letter(_FIRST_CORNER + place)
        at = {name: f"{letter}${_TOP + offset}" for offset, name in enumerate(("place", "mean", "squares", "products", "fall"))}
        before = f"({_DEPTHS}<{at['place']})*({at['place']}-{_DEPTHS})"
        about = f"({before}-{at['mean']})"
        formulas = (
            f"out_outlier_first+{place + 1}/{CORNERS}*out_outlier_span",
            f"SUMPRODUCT({_COUNTS}*{before})/out_outlier_n",
            f"SUMPRODUCT({_COUNTS}*{about}*{about})",
            f"SUMPRODUCT({_COUNTS}*{about}*{_ENERGIES})",
            f"IF({at['squares']}>0,{at['products']}/{at['squares']},0)",
            f"SUMPRODUCT({_COUNTS}*({_ENERGIES}-{at['fall']}*{about})^2)",
        )
        for offset, formula in enumerate(formulas):
            page.put(f"{letter}{_TOP + offset}", f"=IF(out_outlier_judged=0,0,{formula})")


def _without(row: int, letter: str) -> str:
    """The squares about the fall that ends at a corner, without the reading of the row; none where that leaves no fall."""
    place, mean, squares, products, fall, sse = (f"{letter}${_TOP + offset}" for offset in range(6))
    away = f"(MAX(0,{place}-$C{row})-{mean})"
    residual, freedom = f"($D{row}-{fall}*{away})", f"(1-1/out_outlier_n-{away}^2/{squares})"
    return "=" + first_of(
        (f"$B{row}*{squares}=0", NONE),
        (f"{freedom}<{_NO_FREEDOM}", NONE),
        (f"{products}*{freedom}<={residual}*{away}", NONE),
        otherwise=f"{sse}-{residual}^2/{freedom}",
    )
