"""The knee in cells: native formulas find it exactly, with interval and verdict, as `gritfuncs.knee` does.

A block is a list of named values with a table below it, one row a reading in order of depth.  It leaves out
one step of `find_knee`: the search for a reading out of line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ...knee import thresholds
from .knee_columns import COLUMNS
from .knee_falls import NONE
from .knee_values import RESULTS, STEPS
from .lay_out import Places, constants, lay_out, places

MOST_ROWS = 40
NOTE = (
    "The knee by least squares, as gritfuncs.find_knee has it. Not checked here: whether a single reading"
    " is out of line with the others."
)


@dataclass(frozen=True)
class KneeBlock:
    """The cells of a block by address (labels and formulas), and where its results are.

    `results` maps verdict, advice, reason, knee, low, high, level, slope, scatter_low, scatter_high, noise, sse,
    n_readings, n_depths, and the fitted line's line_depth_1 to _5 and line_energy_1 to _5, and the names of the STEPS,
    to addresses with their sheet.  What is not known is #N/A; what is known follows gritfuncs.knee.Knee.  `at` has the places of all
    values and columns.
    """

    cells: dict[str, Any]
    results: dict[str, str]
    at: Places


_GIVEN = 'IF(ISERROR({0}),-1,IF(ISNUMBER({0}),{0},IF({0}="","",-1)))'  # -1 cannot be a noise: mend it
BEFORE_FIRST = {"place": f"=-{NONE}"}


def _constants() -> dict[str, str]:
    tails = dict(
        TAIL=1 - thresholds.CONFIDENCE, TWO_TAILS=2 * (1 - thresholds.CONFIDENCE), BENT_TAIL=1 - thresholds.REJECTED_CONFIDENCE
    )
    rounded = {name: repr(round(tail, 12)).upper() for name, tail in tails.items()}
    return {**constants(thresholds), **rounded, "RATIO": repr(thresholds.REJECTED_RATIO), "NONE": NONE}


def knee_block(
    depths: str, energies: str, rows: int, *, sheet_name: str, anchor: str = "A1", noise: str | None = None
) -> KneeBlock:
    """The cells that find the knee of readings which stand in two equally long columns.

    depths and energies are references such as "Readings!$C$8:$C$47", `rows` cells long (40 at most); a row
    counts where both are numbers.  noise is a reference to the scatter as a share of the level; where it is
    left out or blank, the scatter of repeated depths serves, or 1 %.  The block starts at the anchor on the
    sheet of that name.
    """
    if not 1 <= rows <= MOST_ROWS:
        raise ValueError(f"rows must be 1 to {MOST_ROWS} readings (got {rows})")
    values = RESULTS + STEPS
    at = places(values, COLUMNS, rows, sheet_name, anchor)
    known = {**_constants(), "depths": depths, "energies": energies, "given": '""' if noise is None else _GIVEN.format(noise)}
    cells = lay_out(at, values, COLUMNS, known, NOTE, BEFORE_FIRST)
    return KneeBlock(cells, {name: at.value(name) for name, *_ in values}, at)
