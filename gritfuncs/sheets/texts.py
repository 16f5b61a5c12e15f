"""Texts that formulas hold: long ones in parts, and how many signs a formula shows."""

from __future__ import annotations

from .conditions import quoted

DECIMAL_SIGN = 'MID(1/2&"",2,1)'  # formula text: that of the computer on which the book is open
_LONGEST_LITERAL = 250  # signs of a text in a formula; Excel takes 255


def text_formula(text: str) -> str:
    """A text of any length as a formula holds it."""
    parts = [text[start : start + _LONGEST_LITERAL] for start in range(0, len(text), _LONGEST_LITERAL)]
    return "&".join(map(quoted, parts))


def signs_said(text: str) -> int:
    """Signs of a text; of a formula those of its texts and a few for each number between them, of cases the last text."""
    if not text.startswith("="):
        return len(text)
    texts = text.split('"')[1::2]
    return len(texts[-1]) if text.startswith("=IF(") else sum(map(len, texts)) + 4 * text.count("FIXED(")


def longest_text(formula: str) -> int:
    """Signs of the longest of the texts in quotes that a formula can give."""
    return max(map(len, formula.split('"')[1::2]))
