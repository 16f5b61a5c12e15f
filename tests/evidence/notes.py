"""Checks that also note what they compared, so that the evidence page shows the figures of the test run.

Each function asserts; with `pytest --evidence FILE` what it compared is written to the file when the run ends.
"""

from __future__ import annotations

import json
from math import log

SEEN, RECALLED = "seen", "recalled"  # whether the source was open when the number was written down

_ROWS = {}


def digits_of(printed):
    """How many digits that count a printed number has."""
    return len(printed.replace(".", "").lstrip("0"))


def prints_as(printed, value):
    """True when the value, rounded to the digits of the printed text, is the printed text."""
    return float(f"{value:.{digits_of(printed) - 1}e}") == float(printed)


def published(source, seen, quantity, printed, ours, unit=""):
    """A printed number, compared to the digits printed."""
    assert prints_as(printed, ours), f"{quantity}: {source} prints {printed}, ours is {ours}"
    _note("published", [source, quantity, printed], abs(ours / float(printed) - 1), seen=seen, ours=ours, unit=unit)


def computed(quantity, way, theirs, ours, within, scale=None):
    """A second computation by another way or library; the largest difference, relative to theirs or the scale, is noted."""
    difference = abs(ours - theirs) / (scale or abs(theirs) or 1.0)  # of a true 0: the difference itself
    assert difference <= within, f"{quantity}: {way} gives {theirs}, ours is {ours}"
    _note("computed", [quantity, way], difference)


def law(function, word, exponent, before, after, factor):
    """`function` goes with `word` to the power `exponent`: its values before and after the word is multiplied by a factor."""
    off = abs(after / before / factor**exponent - 1)
    assert off <= 1e-12, f"{function} goes with {word} to the power {log(after / before) / log(factor)}, not {exponent}"
    _note("laws", [function, word, exponent], off)


def agreement(engine, book, pairs):
    """All formula cells of a workbook, {place: (value in the file, value of the engine)}; numbers are compared here."""
    numbers = [pair for pair in pairs.values() if all(isinstance(value, (int, float)) for value in pair)]
    difference = max(abs(found - stored) / max(abs(stored), abs(found), 1e-3) for stored, found in numbers)
    assert difference <= 1e-9, f"{book}: {engine} differs by {difference}"
    _note("engines", [engine, book], difference, cells=len(pairs), numbers=len(numbers))


def _note(kind, key, difference, **more):
    row = _ROWS.setdefault((kind, *key), dict(kind=kind, key=key, difference=0.0, count=0, **more))
    row["difference"] = max(row["difference"], difference)
    row["count"] += 1


def write(path):
    path.write_text(json.dumps(list(_ROWS.values())), encoding="utf-8")


def read(paths):
    """The notes of several files (one a test process) as one list."""
    merged = {}
    for row in (row for path in sorted(paths) for row in json.loads(path.read_text(encoding="utf-8"))):
        known = merged.setdefault((row["kind"], *row["key"]), {**row, "count": 0})
        known["difference"] = max(known["difference"], row["difference"])
        known["count"] += row["count"]
    return list(merged.values())
