"""Results on standard output as JSON, errors as one line, and how far long work is."""

from __future__ import annotations

import contextlib
import json
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

from ..refused import Refused
from ..trial.rows import one_line

LONGEST_MESSAGE = 500  # signs
FIRST_PROGRESS, NEXT_PROGRESS = 1.0, 0.2  # s


def print_json(value: Any) -> None:
    """A note may hold signs that command a terminal: these alone are written by their numbers."""
    print("".join(map(_shown, json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False))))


def _shown(sign: str) -> str:
    if sign.isprintable() or sign == "\n":
        return sign
    return json.dumps(sign)[1:-1].replace("\x7f", "\\u007f")  # this one JSON leaves as it is


def error_line(error: Exception, as_typed: Callable[[str], str]) -> str:
    """What is wrong, in one line, with the name of the option that was typed."""
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename or 'file'}: {error.strerror}"
    if isinstance(error, Refused) and len(error.place) < 2:  # deeper places are rows and cells of a file
        error = error.named(as_typed(error.name))
    return one_line(error, LONGEST_MESSAGE)


@contextlib.contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None]]:
    """A function to tell how much is done and of how much; a terminal shows it, in a line that is gone in the end."""
    start, shown = time.monotonic(), 0.0

    def tell(done: int, of: int) -> None:
        nonlocal shown
        now = time.monotonic()
        if sys.stderr.isatty() and now - start >= FIRST_PROGRESS and now - shown >= NEXT_PROGRESS:
            print(f"\r{what}: {100 * done // max(of, 1)} %", end="", file=sys.stderr, flush=True)
            shown = now

    try:
        yield tell
    finally:
        if shown:
            print("\r" + " " * (len(what) + 8) + "\r", end="", file=sys.stderr, flush=True)
