"""The variance of a corner in cells, as `gritfuncs.knee.variance` has it."""

from __future__ import annotations

from ...knee.variance import UNKNOWN
from ...sheets.conditions import first_of


def corner_variance(corner: str, left: str, beyond: str, mean: str, sxx: str) -> str:
    """Formula text, in variances of a reading: so many readings below the corner, with the mean and the squares of their depths."""
    lever = f"({corner}-{mean})^2"
    return first_of(
        (f"{left}<2", f"{UNKNOWN:G}"),
        (f"{beyond}=0", f"{UNKNOWN:G}"),
        (f"{sxx}*{UNKNOWN:G}<={lever}", f"{UNKNOWN:G}"),
        otherwise=f"MIN({UNKNOWN:G},1/{left}+1/{beyond}+{lever}/{sxx})",
    )
