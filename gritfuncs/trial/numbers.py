"""Numbers written as text: which sign marks the decimals is decided once for a whole file, or not at all."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from ..refused import Refused

_GROUPS = "|".join(rf"\d{{1,3}}(?:{space}\d{{3}})+" for space in (" ", "\u00a0", "\u2009", "\u202f", "'", "\u2019"))
_PATTERN = r"[+-]?(?=[.,]?\d)(?:{groups}|[1-9]\d{{0,2}}(?:{thousands}\d{{3}})+|\d*)(?:{decimal}\d*)?(?:[eE][+-]?\d+)?"
_WRITTEN = {
    ".": re.compile(_PATTERN.format(groups=_GROUPS, thousands=",", decimal=r"\."), re.ASCII),
    ",": re.compile(_PATTERN.format(groups=_GROUPS, thousands=r"\.", decimal=","), re.ASCII),
}
_GROUPING = {".": re.compile("[,' \u00a0\u2009\u202f\u2019]"), ",": re.compile("[.' \u00a0\u2009\u202f\u2019]")}
_UNGROUPED_THOUSAND = re.compile(r"[+-]?\d{4,}")
SIGN_NAMES = {".": "point", ",": "comma"}


def parse(text: str, decimal: str) -> float | None:
    """The number that the text writes with this decimal sign, or None; thousands may be grouped by three."""
    text = text.strip().replace("\u2212", "-")
    if not _WRITTEN[decimal].fullmatch(text):
        return None
    number = float(_GROUPING[decimal].sub("", text).replace(",", "."))
    return number if math.isfinite(number) else None


def looks_like_number(text: str) -> bool:
    """Whether it is a number under either decimal sign."""
    return any(parse(text, decimal) is not None for decimal in SIGN_NAMES)


def only_number(text: str) -> float | None:
    """The number that a text writes, where there is only one that it can mean."""
    point, comma = parse(text, "."), parse(text, ",")
    return comma if point is None else point if comma in (None, point) else None


def decimal_sign(texts: Iterable[str], delimiter: str) -> str:
    """The decimal sign of a file, "." or ",", from all its number texts; ValueError where they do not settle it.

    1,250 may be 1250 or 1.25.  It is settled by any number that has only one meaning (2,5 or 0,125 or 1,250.5), by a
    whole number of four or more digits (thousands are not grouped then), or by a comma that parts the columns.
    """
    only = {".": "", ",": ""}
    unsettled, ungrouped = [], False
    for text in texts:
        point, comma = parse(text, "."), parse(text, ",")
        if (point is None) != (comma is None):
            only["." if comma is None else ","] = text.strip()
        elif point != comma:
            unsettled.append(text.strip())
        elif point is not None and _UNGROUPED_THOUSAND.fullmatch(text.strip()):
            ungrouped = True
    if only["."] and only[","]:
        raise Refused("numbers", "have one decimal sign throughout", f"{only['.']!r:.40} and {only[',']!r:.40}")
    for decimal in SIGN_NAMES:
        if only[decimal]:
            return decimal
    if not unsettled:
        return "."
    signs = {sign for text in unsettled for sign in SIGN_NAMES if sign in text}
    if len(signs) == 1 and (ungrouped or (delimiter == "," and signs == {"."})):
        return signs.pop()
    unclear = f"be clear: {unsettled[0]} can be read in two ways"
    raise Refused("the decimal sign", unclear, hint="put a first line 'decimal = point' or 'decimal = comma'")
