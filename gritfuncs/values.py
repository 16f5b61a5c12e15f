"""What a value is that a person, a file or a program hands in: a number, blank, a word, yes or no."""

from __future__ import annotations

import math
from numbers import Real
from typing import Any

from .refused import printable

YES_WORDS = ("yes", "y", "1", "true", "ja", "oui", "si", "sì", "sí", "sim", "tak", "ano")
NO_WORDS = ("no", "n", "0", "false", "nein", "non", "não", "nie", "ne", "nej")
# What stands under "damage" where there was none, without full stops and exclamation marks: "o.k." and "i.O." are among them.
NO_DAMAGE_WORDS = NO_WORDS + (
    *(
        "none",
        "ok",
        "-",
        "--",
        "\u2013",
        "\u2014",
        "keine",
        "keiner",
        "io",
        "in ordnung",
        "aucun",
        "aucune",
        "nessuno",
        "nessuna",
        "ninguno",
        "ninguna",
    ),
    *("nenhum", "nenhuma", "brak", "žádné", "ingen", "inga"),
)


def shown(value: Any, longest: int = 60) -> str:
    """A value as an error message shows it: one line of signs that can be printed, whatever the value is."""
    try:
        text = repr(value)
    except Exception:  # noqa: BLE001 - a huge integer, or an object that does not show itself
        text = f"a {type(value).__name__}"
    return printable(text)[:longest]


def items_of(values: Any) -> list[Any] | None:
    """What a list, or anything else that hands out its items in an order, holds; None for a text, a dictionary and what holds none."""
    try:
        return None if isinstance(values, (str, bytes, dict, set, frozenset)) else list(values)
    except Exception:  # noqa: BLE001 - whatever an object does instead of handing out its items
        return None


def number_in(value: Any) -> float | None:
    """The float that a number is, infinite where it is too large for one; None for what is no number."""
    if not isinstance(value, Real) or isinstance(value, bool):
        return None
    try:
        return float(value)
    except OverflowError:
        return math.inf
    except (TypeError, ValueError):  # a span of time of numpy counts itself among the numbers
        return None


def finite_in(value: Any) -> float | None:
    """The finite float that a number is; None for what is no number, and for what no float can hold."""
    number = number_in(value)
    return number if number is not None and math.isfinite(number) else None


def is_blank(value: Any) -> bool:
    """Nothing at all, or a text of spaces."""
    return value is None or (isinstance(value, str) and not value.strip())


def word_in(value: Any) -> str:
    """The word that a cell holds, in small letters: 1 and 1.0 are "1", a blank cell is ""."""
    number = number_in(value)
    if number is not None:
        return f"{number:g}"
    return "" if value is None else str(value).strip().lower()


def yes_or_no(value: Any) -> bool | None:
    """Whether a cell says yes or no; None where it says neither."""
    word = word_in(value)
    return True if word in YES_WORDS else False if word in NO_WORDS else None


def is_array(value: Any) -> bool:
    """Whether it is a numpy array, or looks like one."""
    return isinstance(getattr(value, "shape", None), tuple) and hasattr(value, "dtype")
