"""Results on standard output as JSON, and errors as one line."""

from __future__ import annotations

import json
from typing import Any

from ..trial.rows import one_line

LONGEST_MESSAGE = 500  # signs


def print_json(value: Any) -> None:
    """A note may hold signs that command a terminal: these alone are written by their numbers."""
    print("".join(map(_shown, json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False))))


def _shown(sign: str) -> str:
    if sign.isprintable() or sign == "\n":
        return sign
    return f"\\u{ord(sign):04x}" if ord(sign) < 0x10000 else json.dumps(sign)[1:-1]


def error_line(error: Exception) -> str:
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename or 'file'}: {error.strerror}"
    return one_line(error, LONGEST_MESSAGE)
