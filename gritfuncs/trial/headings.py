"""Column headings: which words head which column, in which unit."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from functools import lru_cache
from typing import Any, NamedTuple

LOADS = ("power", "current", "load")
ROLES = ("work_rpm",) + LOADS + ("idle", "use", "note", "grit_depth", "specific_energy")

UNITS = {  # as `plain` writes them
    "work_rpm": ("1/min", "rpm", "min-1", "min^-1", "r/min", "rev/min", "u/min", "/min"),
    "power": ("kw",),
    "current": ("a", "amp", "amps", "ampere"),
    "load": ("%",),
    "grit_depth": ("μm", "um", "micron", "microns"),
    "specific_energy": ("j/mm3", "j/mm^3"),
}
SHOWN_UNITS = {"work_rpm": "1/min", "power": "kW", "current": "A", "grit_depth": "µm", "specific_energy": "J/mm³"}
OTHER_UNITS = (
    "w",
    "hp",
    "ps",
    "ma",
    "ka",
    "v",
    "mm",
    "nm",
    "in",
    "μin",
    "m/min",
    "m/s",
    "mm/min",
    "in/min",
    "mm/s",
    "ft/min",
    "1/s",
    "hz",
    "mm3/(mm·s)",
    "1/mm2",
    "1/mm^2",
    "1/in2",
    "kj/mm3",
)
KNOWN_UNITS = tuple(unit for units in UNITS.values() for unit in units) + OTHER_UNITS

PHRASES = {
    "work_rpm": (
        "rpm",
        "work rpm",
        "workpiece rpm",
        "part rpm",
        "work speed of rotation",
        "rotational speed",
        "work rotational speed",
        "work spindle rpm",
        "speed",
        "n w",
        "nw",
    ),
    "power": (
        "power",
        "spindle power",
        "power reading",
        "spindle power reading",
        "wheel power",
        "motor power",
        "wheel spindle power",
        "power draw",
    ),
    "current": (
        "current",
        "spindle current",
        "motor current",
        "line current",
        "current reading",
        "amps",
        "ampere",
        "amperes",
        "spindle amps",
        "motor amps",
        "wheel amps",
    ),
    "load": ("load", "load meter", "load meter reading", "load reading", "spindle load", "meter", "meter reading"),
    "idle": ("idle",),
    "use": ("use", "used"),
    "note": ("note", "notes", "remark", "remarks", "comment", "comments"),
    "grit_depth": ("grit depth", "h m", "hm", "undeformed chip thickness", "maximum undeformed chip thickness"),
    "specific_energy": ("specific energy", "specific grinding energy", "e c"),
}
WITH_UNIT_ONLY = {  # too short or too wide to stand for the column without its unit
    "work_rpm": ("work speed", "workpiece speed", "n", ""),
    "power": ("p", "spindle", "wheel spindle", "motor", ""),
    "current": ("i", "spindle", "wheel spindle", "motor", ""),
    "load": ("",),
    "grit_depth": ("h",),
    "specific_energy": ("u", "energy", ""),
}
SYMBOLS = ("n w", "p", "i", "h m", "u", "e c")  # stand beside the words, or in brackets where others put the unit


class Heading(NamedTuple):
    phrase: str
    unit: str  # "" where the heading names none


def plain(text: Any) -> str:
    """Lower case, one form of every sign, single spaces."""
    text = unicodedata.normalize("NFKC", str(text)).casefold().replace("\u2212", "-")
    return " ".join(text.split())


def words(text: str) -> str:
    """Letters and digits only, single spaces."""
    return " ".join(re.sub(r"[\W_]+", " ", text).split())


def read_heading(text: Any) -> Heading:
    """Phrase and unit of a heading: 'Power P [kW]', 'power, kW', 'P / kW', 'power in kW', 'Power kW', 'kW'."""
    text = plain(text)
    brackets = re.findall(r"[(\[{](.*?)[)\]}]+(?=$|\s)", text)
    if brackets:
        phrase = words(re.sub(r"[(\[{].*?[)\]}]+(?=$|\s)", " ", text))
        unit = " ".join(part.strip() for part in brackets if words(part) not in SYMBOLS)
        return Heading(_without_symbol(phrase), unit)
    phrase = words(text)
    if any(phrase in phrases for phrases in PHRASES.values()):
        return Heading(phrase, "")
    for unit in sorted(KNOWN_UNITS, key=len, reverse=True):
        match = re.fullmatch(r"(|.*?)(?:^|[\s,/]|\sin\s)\s*" + re.escape(unit), text)
        if match:
            return Heading(_without_symbol(words(match.group(1))), unit)
    return Heading(_without_symbol(phrase), "")


def _without_symbol(phrase: str) -> str:
    for symbol in SYMBOLS:
        if phrase.endswith(" " + symbol):
            return phrase[: -len(symbol) - 1]
    return phrase


@lru_cache(maxsize=1000)  # a text file is looked at under three delimiters, and most of its cells are numbers
def role_of(text: str) -> tuple[str, str]:
    """The column that the heading names, or ""; and what is wrong where only its unit speaks against it."""
    phrase, unit = read_heading(text)
    if phrase.startswith("idle ") or phrase.endswith(" idle"):
        phrase = "idle"
    for role in ROLES:
        known = phrase in PHRASES[role]
        if known and (not unit or fits(role, unit)):
            return role, ""
        if unit in UNITS.get(role, ()) and phrase in WITH_UNIT_ONLY[role]:
            return role, ""
        if known:
            return "", f"{role} must be in {SHOWN_UNITS[role]} (got heading {str(text).strip()!r:.60})"
    return "", ""


def fits(role: str, unit: str) -> bool:
    """Whether a column of this kind may have this unit; a load meter, idle readings and the rest may have any."""
    return role not in SHOWN_UNITS or unit in UNITS[role]


def roles_in(cells: Sequence[Any]) -> tuple[dict[str, list[int]], list[str]]:
    """Columns by the role their heading names, and what is wrong with headings that only their unit keeps out."""
    found: dict[str, list[int]] = {}
    doubts = []
    for column, cell in enumerate(cells):
        if isinstance(cell, str) and cell.strip() and len(cell) < 100:
            role, doubt = role_of(cell)
            if role:
                found.setdefault(role, []).append(column)
            elif doubt:
                doubts.append(doubt)
    return found, doubts
