"""The frame of a page: head, style, foot.  Nothing is loaded from elsewhere, and nothing in it runs."""

from __future__ import annotations

import platform
from datetime import date

from .. import __version__
from ..markup import Markup, element, joined
from ..sheets.words import CAUTIONS, FOOTER_CAUTION

# The policy forbids a page whatever a text in it might try: no script, nothing from elsewhere.
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"
_STYLE = """
@page { size: A4; margin: 12mm 14mm 14mm 14mm; }
body { font: 14px/1.35 sans-serif; color: #111; max-width: 60em; margin: 1.5em auto; padding: 0 1em; }
h1 { font-size: 1.5em; margin: 0 0 .1em; overflow-wrap: anywhere; }
h2 { font-size: 1.1em; margin: 1.1em 0 .3em; border-bottom: 1px solid #888; break-after: avoid; }
p, ul { margin: .35em 0; }
table { border-collapse: collapse; }
th, td { padding: .12em .7em .12em 0; text-align: left; vertical-align: top; font-weight: normal; }
thead th { border-bottom: 1px solid #444; font-weight: bold; }
tbody tr { break-inside: avoid; }
.readings td:not(:nth-last-child(-n+2)), .readings tbody th { text-align: right; font-variant-numeric: tabular-nums; }
.readings thead th:not(:nth-last-child(-n+2)) { text-align: right; }
.readings td, .setup td { overflow-wrap: anywhere; }
.set { border: 2px solid #111; padding: .5em .9em; margin: .6em 0; font-size: 1.15em; break-inside: avoid; }
.warning { border: 3px double #111; padding: .4em .8em; margin: .5em 0; font-weight: bold; break-inside: avoid; }
.small { font-size: .85em; }
svg { display: block; width: 100%; height: auto; break-inside: avoid; }
@media print {
  body { font-size: 9.5pt; line-height: 1.25; margin: 0; padding: 0; max-width: none; }
  h2 { margin: .7em 0 .2em; }
  .cautions { break-inside: avoid; }
}
"""


def page(title: str, *content: object) -> str:
    """A whole document of HTML."""
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", http_equiv="Content-Security-Policy", content=_POLICY),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("title", title),
        element("style", Markup(_STYLE)),
    )
    return "<!DOCTYPE html>\n" + element("html", head, element("body", element("h1", title), *content), lang="en") + "\n"


def section(heading: str, *content: object, **attributes: str) -> Markup:
    """A part of the page under a heading; nothing where there is nothing in it."""
    return element("section", element("h2", heading), *content, **attributes) if any(content) else Markup("")


def listed(sentences: object) -> Markup:
    """Sentences as a list; nothing where there are none."""
    items = [element("li", sentence) for sentence in sentences]  # type: ignore[attr-defined]
    return element("ul", *items) if items else Markup("")


def cautions() -> Markup:
    return section("Cautions", listed(CAUTIONS), class_="cautions small")


def made(day: date) -> Markup:
    """When and with what the page was made."""
    versions = f"gritfuncs {__version__}, Python {platform.python_version()}"
    return element("p", joined([f"Report of {day.isoformat()}, made with {versions}.", FOOTER_CAUTION], " "), class_="small")
