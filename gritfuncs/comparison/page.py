"""A comparison as HTML, for a notebook and for the report."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..knee.page import PICTURE_WIDTH, rows_table
from ..markup import Markup, element, joined, table
from ..pictures.svg import chart_svg
from .picture import MOST_TRIALS, chart_of
from .words import difference_rows, drift_words, span_words

if TYPE_CHECKING:
    from .result import Comparison


def comparison_page(comparison: Comparison) -> Markup:
    """What a notebook shows of a comparison."""
    return joined([answers(comparison), chart(comparison), trials_table(comparison)])


def answers(comparison: Comparison) -> Markup:
    """Each difference in words and numbers, and the drift."""
    parts = []
    for each in comparison.differences:
        parts.append(element("p", element("strong", f"{each.name} and {comparison.names[0]} {each.word}")))
        parts.append(rows_table(difference_rows(each)))
    if comparison.drift is not None:
        parts.append(element("p", element("strong", "Over time: "), drift_words(comparison.drift)))
    return joined(parts)


def chart(comparison: Comparison) -> Markup:
    """All trials in one picture, where they can be told apart."""
    if len(comparison.trials) > MOST_TRIALS:
        return element("p", f"No chart: more than {MOST_TRIALS} trials cannot be told apart in one.")
    return element("div", chart_svg(chart_of(comparison), height=460), style=PICTURE_WIDTH)


def trials_table(comparison: Comparison) -> Markup:
    """The trials with their knees and levels."""
    heads = ["trial", "file", "knee", "level", "date"]
    rows = [
        [
            name,
            trial.source,
            span_words(knee, comparison.depth_unit),
            "-" if level is None else span_words(level, trial.energy_unit),
            day.isoformat() if day else "-",
        ]
        for name, trial, knee, level, day in zip(
            comparison.names, comparison.trials, comparison.knees, comparison.levels, comparison.dates
        )
    ]
    return table(heads, rows)
