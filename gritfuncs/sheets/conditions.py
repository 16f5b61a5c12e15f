"""Formula text for conditions: a table of cases in place of nested IFs, a text in quotes, tests for numbers."""

from __future__ import annotations

from collections.abc import Sequence

from ..quantity import Quantity
from ..values import NO_DAMAGE_WORDS


def quoted(text: str) -> str:
    """The text as a formula holds it: "ok" in quotes, a quotation mark inside it doubled."""
    return '"' + text.replace('"', '""') + '"'


def first_of(*cases: tuple[str, str], otherwise: str) -> str:
    """The value of the first case (condition, value) whose condition holds, else `otherwise`.

    Conditions and values are formula text. A condition that is an error gives that error, a later one is not looked at.
    """
    text = otherwise
    for condition, value in reversed(cases):
        text = f"IF({condition},{value},{text})"
    return text


def are_numbers(*cells: str) -> str:
    """A condition that holds where every one of the cells is a number; it is never an error."""
    return "*".join(f"ISNUMBER({cell})" for cell in cells) + (">0" if len(cells) > 1 else "")  # a single TRUE is not 1


def number_check(cell: str, quantity: Quantity) -> str:
    """A formula that is TRUE when the cell holds a number within the limits; it never gives an error."""
    tests: list[tuple[str, float]] = []
    if quantity.low is not None:
        tests.append((">" if quantity.low_open else ">=", quantity.low))
    tests.append(("<=", quantity.high if quantity.high is not None else 1e300))
    inside = "TRUE"
    for sign, limit in reversed(tests):
        inside = f"IF({cell}{sign}{limit:G},{inside},FALSE)"
    return f"IF(ISLOGICAL({cell}),FALSE,IF(ISNUMBER({cell}),{inside},FALSE))"  # TRUE is a number to LibreOffice


def is_one_of(text: str, words: Sequence[str]) -> str:
    """A condition that holds where a text is one of the words, in capital or small letters."""
    return "OR(" + ",".join(f"{text}={quoted(word)}" for word in words) + ")"


def without_stops(cell: str) -> str:
    """What stands in a cell under "damage" without full stops and exclamation marks: what says_no_damage compares."""
    return f'TRIM(SUBSTITUTE(SUBSTITUTE({cell},".",""),"!",""))'


def says_no_damage(text: str) -> str:
    """A condition: a text without_stops says that there was no damage; as trial.readings.damage_in reads it."""
    return is_one_of(text, NO_DAMAGE_WORDS)
