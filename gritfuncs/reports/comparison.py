"""The report of a comparison as a page: answers, both wheels in one chart, the trials, remarks and cautions."""

from __future__ import annotations

from datetime import date

from ..comparison import Comparison
from ..comparison.page import answers, chart, trials_table
from ..comparison.result import WORDS
from ..markup import element, joined
from ..sheets.words import PREFACTOR
from .page import cautions, listed, made, page, section

MEANS = dict(
    zip(
        WORDS,
        (
            "No difference beyond scatter was seen in knee and level. That is no proof that there is none: how large a one would not "
            "show stands beside it.",
            "The knees are apart by more than scatter, by no more than two trials of one wheel may be from part to part and dressing to "
            "dressing.",
            "The levels are apart by more than scatter, or the knees by more than two trials of one wheel may be: wheel, dressing, coolant, material or "
            "meter were not the same.",
        ),
    )
)


def comparison_page(comparison: Comparison, day: date | None = None, title: str = "") -> str:
    """The whole page; the day is today's where none is given."""
    seen = dict.fromkeys(each.word for each in comparison.differences)
    return page(
        f"Grinding trials compared: {', '.join(comparison.names)}",
        element("p", element("strong", title)) if title else "",
        made(day or date.today()),
        section(
            "Answer", answers(comparison), *(element("p", joined([element("em", word), ": ", MEANS[word]])) for word in seen)
        ),
        section("Chart", chart(comparison)),
        section("Trials", trials_table(comparison)),
        section(
            "Remarks",
            listed(comparison.remarks),
            element("p", PREFACTOR, class_="small"),
            element(
                "p",
                "Intervals of differences come from the stated intervals of both knees by square-and-add (MOVER; Zou and Donner, "
                "Statistics in Medicine 27, 2008, 1693, from memory). In simulated comparisons of sharp corners they hold the true difference in 97 of "
                "100 or more.",
                class_="small",
            ),
        ),
        cautions(),
    )
