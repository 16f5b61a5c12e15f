"""The workbooks, a module each."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Callable

from . import functions, knee_record
from .plunge_cycle import build as plunge_cycle
from .save import save_workbook
from .speed_table import build as speed_table
from .trial import build as trial

TEMPLATES: dict[str, Callable] = {
    "trial.xlsx": trial.build,
    "speed_table.xlsx": speed_table.build,
    "plunge_cycle.xlsx": plunge_cycle.build,
    "knee_record.xlsx": knee_record.build,
    "functions.xlsx": functions.build,
}


def save(name: str, path: Path) -> None:
    """Write one workbook, with its example; functions of add-ins show #NAME? until a program has the add-in."""
    save_workbook(TEMPLATES[name](), path, absent=functions.ABSENT)


def write_all(folder: Path) -> Iterator[Path]:
    """Write each workbook into the folder and give its path; ValueError before anything is written if one exists."""
    for name in TEMPLATES:
        if (folder / name).exists():
            raise ValueError(f"{folder / name} must not exist yet, nothing is overwritten (got an existing file)")
    folder.mkdir(parents=True, exist_ok=True)
    for name in TEMPLATES:
        save(name, folder / name)
        yield folder / name
