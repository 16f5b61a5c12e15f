"""Results on standard output as JSON, and errors as one line."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from ..refused import Refused
from ..trial.rows import one_line

LONGEST_MESSAGE = 500  # signs


def print_json(value: Any) -> None:
    """A note may hold signs that command a terminal: these alone are written by their numbers."""
    print("".join(map(_shown, json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False))))


def _shown(sign: str) -> str:
    if sign.isprintable() or sign == "\n":
        return sign
    return f"\\u{ord(sign):04x}" if ord(sign) < 0x10000 else json.dumps(sign)[1:-1]


def error_line(error: Exception, as_typed: Callable[[str], str]) -> str:
    """What is wrong, in one line, with the name of the option that was typed."""
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename or 'file'}: {error.strerror}"
    if isinstance(error, Refused) and len(error.place) < 2:  # deeper places are rows and cells of a file
        error = error.named(as_typed(error.name))
    return one_line(error, LONGEST_MESSAGE)
