"""The knee and the advice of next_reading as HTML, for a notebook and for whoever makes a page of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..markup import Markup, element, joined
from ..pictures.svg import chart_svg
from .picture import chart_of

if TYPE_CHECKING:
    from .next_reading import Advice
    from .result import Knee

PICTURE_WIDTH = "max-width:720px"


def rows_table(rows: list[tuple[str, str]]) -> Markup:
    """Pairs of name and text as a table; a name that comes again stands once."""
    lines, last = [], ""
    for name, words in rows:
        lines.append(
            element(
                "tr",
                element("th", "" if name == last else name, scope="row", style="text-align:left"),
                element("td", words, style="text-align:left"),
            )
        )
        last = name
    return element("table", element("tbody", *lines))


def knee_page(knee: Knee) -> Markup:
    """Chart and numbers of a knee; no chart where nothing was fitted."""
    parts = [rows_table(knee.rows())]
    if knee.level is not None or knee.low is not None:
        parts.insert(0, element("div", chart_svg(chart_of(knee, (), ())), style=PICTURE_WIDTH))
    return joined(parts)


def advice_page(advice: Advice) -> Markup:
    """The advice in a line, and the knee so far."""
    return joined([element("p", element("strong", advice.line())), rows_table(advice.knee.rows())])
