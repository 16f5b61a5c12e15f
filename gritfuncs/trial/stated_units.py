"""A number and the unit that is stated for it: in one text, in the label, or in the cell beside the number."""

from __future__ import annotations

import re
from typing import Any

from ..refused import Refused
from ..units import is_unit, parse, ratio
from ..values import finite_in
from .headings import plain, states_factor
from .numbers import looks_like_number
from .rows import quoted
from .words import TEXT_WORDS, quantity_of

_NUMBER = re.compile(r"([+-]?[\d.,]*\d[\d.,' \u00a0\u2009\u202f\u2019]*(?:[eE][+-]?\d+)?)(.*)", re.DOTALL)
_PER = re.compile(r"([+-]?[\d.,]*\d)\s+(1\s?/\s?[a-z]+[²³]?)", re.IGNORECASE)  # 2100 1/min, 18 1/mm²
_MORE = re.compile(r"\s*[\d.,]+\s*(\S+)")  # 4 ft 2 in
_TIMES = re.compile(r"^\S+ ?[x×*] ?\d")  # mm x 2
_TOLERANCE = re.compile(r"±\s?[\d.,]+(?:\s?[^\W\d]+)?")  # 20 mm (±0.01 mm)
_SHARE = re.compile(r"%|\bvol|\bct\b|\bcts\b|carat|karat")
CONCENTRATION_REQUIREMENT = "be the number of a concentration without a unit, 100 for 25 % by volume"
_NO_UNIT_BESIDE = ("as the readings", "µm, ISO 6106", "µm or ISO 6106", "% of nominal", "-")
_SIGNS = ("-", "%", '"', "''")
_NO_UNITS = ("in", "a", "m", "s", "h", "v", "w", "j", "n", "k", "min", "mil", "ore", "ora", "turn", "tour", "thou")  # words, too


def is_number(cell: Any) -> bool:
    return looks_like_number(cell) if isinstance(cell, str) else finite_in(cell) is not None


def holds_number(cell: Any) -> bool:
    """Whether it is a number, or a text of one with its unit."""
    if not isinstance(cell, str) or looks_like_number(cell):
        return is_number(cell)
    _, behind = _number_in_front(cell) or ("", "")
    return is_unit(behind) or is_unit(behind.partition(" ")[0].rstrip(",;"))


def _number_in_front(text: str) -> tuple[str, str] | None:
    """The number with which a text begins, as it is written, and what stands behind it; None for a text that begins with none."""
    match = _PER.fullmatch(text.strip()) or _NUMBER.fullmatch(text.strip())
    return (match[1].strip(), match[2].strip()) if match else None


def number_and_unit(text: str) -> tuple[str, str] | None:
    """The number and the unit that are all of a text such as "2,05 kW"; None for any other."""
    number, unit = _number_in_front(text) or ("", "")
    return (number, unit) if is_unit(unit) and looks_like_number(number) else None


def split_value(word: str, text: str) -> tuple[str, str]:
    """'200 mm' and '15µm/s' in two; a text that is no number with something behind it stays whole.

    Refused where what stands behind makes another number of it: 13¾ in, 7/8, 4 ft 2 in, 400 now 350.
    """
    text = text.strip()
    number, behind = _number_in_front(text) or (text, "")
    if not behind or word == "grit_size" and not is_unit(behind):  # 120/140
        return text, ""
    unit = _first_unit(word, behind)
    more = _MORE.match(behind[len(unit) :]) if unit else None
    if not unit and any(sign.isnumeric() for sign in behind) or more and is_unit(more[1]):
        raise Refused(word, "be one number with its unit", quoted(text), hint="a remark stands one column further")
    return number, behind


def unit_of(word: str, stated: list[str], doubtful: str = "") -> str:
    """The unit that label, value and the cell behind it state, "" for none; Refused for one that is unknown or for two."""
    stated = [text.strip() for text in stated if text.strip()]
    if word in TEXT_WORDS:
        return ""
    known = [unit for unit in (_first_unit(word, text) for text in stated) if unit]
    multiple = doubtful if states_factor(doubtful) else next(filter(_TIMES.search, stated), "")
    if multiple:
        own = _own_unit(word)
        raise Refused(word, f"be one number{f' in {own}' if own else ''}, without a factor", quoted(multiple))
    if len({parse(text) for text in known}) > 1:
        raise Refused(word, "have one unit", " and ".join(quoted(text) for text in known[:2]))
    if known:
        return known[0]
    if word == "concentration":
        share = next((text for text in stated + [doubtful] if _SHARE.search(plain(text))), "")
        if share:
            raise Refused(word, CONCENTRATION_REQUIREMENT, quoted(share))
    own = _own_unit(word)
    for text in stated + [doubtful] if own else []:
        if _may_be_unit(text):
            raise Refused(word, f"be in {own}", quoted(text), hint="a remark stands one column further")
    return ""


def _own_unit(word: str) -> str:
    """What a value of this word is used in, "" where it has no unit."""
    quantity = quantity_of(word)
    own = {"noise": "%", "idle": "the unit of the readings"}.get(word) or (quantity.unit if quantity else "-")
    return "" if own == "-" else own


def unit_beside(word: str, text: str, name: str) -> str:
    """The unit that stands beside the cell of a word; a refusal calls the cell by `name`."""
    try:
        return unit_of(word, [text] if text not in _NO_UNIT_BESIDE else [])
    except Refused as refused:
        raise refused.named(name) from None


def _first_unit(word: str, text: str) -> str:
    """The unit that the text is or begins with, "" where it does neither; Refused for "in stock", which may be an inch."""
    if is_unit(text):
        return text
    first, _, rest = text.partition(" ")
    unit = first.rstrip(",;")
    if unit == text or not is_unit(unit):
        return ""
    if plain(unit) not in _NO_UNITS:
        return unit
    quantity = quantity_of(word)
    if quantity is None or ratio(unit, quantity.unit) is None:
        return ""
    if unit == first and rest.lstrip()[:1] not in tuple("([{=,;/"):
        raise Refused(word, f"be in {quantity.unit}", quoted(text), hint="a remark stands one column further")
    return unit


def _may_be_unit(text: str) -> bool:
    """Whether a text beside a value may be meant as a unit that is not known here; other texts are remarks."""
    text = _TOLERANCE.sub("", text)
    letters = any(sign.isalpha() for sign in text)
    return letters and (
        " " not in text
        and len(text) <= 20
        or bool(re.search(r"[^\W\d]\s?[/·*]\s?[^\W\d]|\b(?:per|pro)\b", text))
        or states_factor(text)
        or any(is_unit(part) and plain(part) not in _NO_UNITS and part not in _SIGNS for part in re.split(r"[\s,;()\[\]]+", text))
    )
