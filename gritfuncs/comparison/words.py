"""A comparison in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .estimate import Estimate

if TYPE_CHECKING:
    from .result import Difference, Drift


def span_words(each: Estimate, unit: str) -> str:
    return f"{each.value:.4g} ({each.low:.4g} to {each.high:.4g}) {unit}"


def percent(factor: float) -> str:
    return f"{round(100 * (factor - 1), 3):+.2g} %"


def ratio_words(each: Estimate) -> str:
    return f"{percent(each.value)} ({percent(each.low)} to {percent(each.high)})"


def difference_rows(each: Difference) -> list[tuple[str, str]]:
    """The difference as pairs of name and text."""
    rows = [("answer", f"{each.word}: {each.reason}"), ("knee", ratio_words(each.knee_ratio))]
    if each.knee_difference is not None:
        rows.append(
            (
                "",
                f"{round(each.knee_difference.value, 6):+.3g} ({each.knee_difference.low:+.3g} to {each.knee_difference.high:+.3g}) µm",
            )
        )
    rows.append(("level", ratio_words(each.level_ratio) if each.level_ratio is not None else f"not compared: {each.no_levels}"))
    return rows


def drift_words(drift: Drift) -> str:
    seen = "the knee changes with time" if drift.is_seen else "no change with time beyond what scatter does"
    return f"{seen}: {ratio_words(drift.per_month)} in 30 days, over {drift.days} days"
