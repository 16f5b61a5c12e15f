"""The workbooks, a module each."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Callable

from ..files import refuse_existing, write_new
from ..sheets.save import package_of
from ..spreadsheets.package import packed
from . import functions, knee_record
from .plunge_cycle import build as plunge_cycle
from .power_log import build as power_log
from .speed_table import build as speed_table
from .trial import build as trial

TEMPLATES: dict[str, Callable] = {
    "trial.xlsx": trial.build,
    "speed_table.xlsx": speed_table.build,
    "plunge_cycle.xlsx": plunge_cycle.build,
    "power_log.xlsx": power_log.build,
    "knee_record.xlsx": knee_record.build,
    "functions.xlsx": functions.build,
}


def save(name: str, path: Path) -> None:
    """Write one workbook, with its example; functions of add-ins show #NAME? until a program has the add-in."""
    write_new(path, _content(name))


def _content(name: str) -> bytes:
    return packed(package_of(TEMPLATES[name](), absent=functions.ABSENT))


def write_all(folder: Path) -> Iterator[Path]:
    """Write the workbooks that the folder lacks and give the path of each.

    What an earlier call that was interrupted has written stays.  ValueError before anything is written if all are there, or
    if a file with one of the names is another one.
    """
    there = [name for name in TEMPLATES if os.path.lexists(folder / name)]
    for name in there:
        if len(there) == len(TEMPLATES) or not (folder / name).is_file() or (folder / name).read_bytes() != _content(name):
            refuse_existing(folder / name)
    folder.mkdir(parents=True, exist_ok=True)
    for name in TEMPLATES:
        if name not in there:
            save(name, folder / name)
        yield folder / name
