"""HTML and SVG as text: the one place where signs are escaped.  Standard library only.

What is `Markup` was made here; every other text that becomes a part of an element is escaped, whoever wrote it.
"""

from __future__ import annotations

from html import escape
from typing import Any
from unicodedata import category

# Signs that turn the direction of what follows: a name could read as another one.
_TURNS = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_NEVER = frozenset("\ufffe\uffff") | _TURNS  # the first two are no signs in XML
_BARE = frozenset("meta img br hr line rect circle path polyline".split())  # elements without anything inside


class Markup(str):
    """Text that is HTML or SVG already."""


def text(value: object) -> Markup:
    """What it says, with every sign that has a meaning in HTML or SVG escaped, and signs that no document may hold replaced."""
    if isinstance(value, Markup):
        return value
    return Markup(escape("".join("\ufffd" if _is_refused(sign) else sign for sign in str(value))))


def _is_refused(sign: str) -> bool:
    return sign in _NEVER or category(sign) in ("Cc", "Cs") and sign not in "\n\t"


def element(name: str, /, *content: object, **attributes: Any) -> Markup:
    """An element with what stands in it; attributes that are None are left out, `class_` is class, `text_anchor` text-anchor."""
    opened = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{text(_number(value))}"' for key, value in attributes.items() if value is not None
    )
    if name in _BARE:
        return Markup(f"<{name}{opened}/>")
    return Markup(f"<{name}{opened}>{joined(content)}</{name}>")


def joined(parts: Any, between: str = "") -> Markup:
    """Several parts behind one another, each escaped unless it is markup."""
    return Markup(text(between).join(map(text, parts)))


def table(heads: Any, rows: Any, **attributes: Any) -> Markup:
    """A table with a row of headings; the first cell of each row heads it."""
    head = element("thead", element("tr", *(element("th", cell, scope="col") for cell in heads)))
    body = [element("tr", element("th", first, scope="row"), *(element("td", cell) for cell in rest)) for first, *rest in rows]
    return element("table", head, element("tbody", *body), **attributes)


def _number(value: Any) -> Any:
    """Places in a drawing need no more than hundredths."""
    return f"{round(value, 2):g}" if isinstance(value, float) else value
