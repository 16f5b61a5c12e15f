"""Number formats of cells: the size and the text in which they show a number that is stored in another."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import NamedTuple

_PART = re.compile(
    r'"(?P<quoted>[^"]*)"|\\(?P<escaped>.)|\[\$(?P<currency>[^\]-]*)[^\]]*\]|\[[^\]]*\]|[_*].|General|E[+-]0+'
    r"|(?P<digits>[0#?.,/ ]*[0#?][0#?.,]*)|(?P<sign>.)",
    re.DOTALL,
)


class Display(NamedTuple):
    """A number is shown as itself times `times`, followed by the text `behind`."""

    times: Fraction
    behind: str


def display_of(code: str) -> Display | None:
    """What the format of positive numbers adds to a number; None where it shows the number as it is stored."""
    times, behind, after_digits = Fraction(1), "", "General" in code
    for part in _PART.finditer(code):
        text = part["quoted"] or part["escaped"] or part["currency"] or part["sign"] or ""
        if part["sign"] == ";":
            break
        if part["digits"]:
            thousands = len(part["digits"]) - len(part["digits"].rstrip(","))
            times, behind, after_digits = times / 1000**thousands, "", True
        elif part["sign"] == "%":
            times, behind = times * 100, behind + "%"
        elif after_digits:
            behind += text
    behind = " ".join(behind.split())
    return None if times == 1 and not any(sign.isalpha() or sign in "%\"'" for sign in behind) else Display(times, behind)
