"""trial.xlsx, by the names of its cells."""

from __future__ import annotations

from pathlib import Path

from ..refused import Refused
from .readings import Entry
from .rows import one_line
from .table import Table
from .words import LOAD_KINDS, OTHER_WORDS, QUANTITY_WORDS, Words
from .workbook_file import Workbook

_NAMES = ("in_readings", "in_load_kind")  # a workbook that has them is a trial workbook
_COLUMNS = ("work_rpm", "load", "idle", "use", "note")  # of in_readings


def is_trial_workbook(book: Workbook) -> bool:
    return all(name in book.names for name in _NAMES)


def table(path: Path, book: Workbook) -> Table:
    """What a filled trial workbook holds."""
    cells = {word: book.named(f"in_{word}")[0][0] for word in QUANTITY_WORDS + OTHER_WORDS if f"in_{word}" in book.names}
    words = Words(cells, lambda word: f"in_{word}")
    rows = book.named("in_readings")
    if len(rows[0]) < len(_COLUMNS):
        raise Refused("in_readings", "have five columns: work rpm, load, idle, use?, note", str(len(rows[0])))
    entries = [Entry(number, **dict(zip(_COLUMNS, row))) for number, row in enumerate(rows, 1)]
    kind = words.choice("load_kind", LOAD_KINDS)
    if kind is None:
        raise Refused("in_load_kind", f"be {' or '.join(LOAD_KINDS)}", "blank")
    if kind == "current":
        for word in ("volts", "power_factor"):
            if words.get(word) is None:
                raise Refused(f"in_{word}", "be given for current readings", "blank", hint="without it choose relative")
    return Table(one_line(path.name), entries, words, kind, False, False, (), setup_required=True)
