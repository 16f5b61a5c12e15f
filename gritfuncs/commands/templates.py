"""gritfuncs templates"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from .command import DONE, Command


def add(parser: ArgumentParser) -> None:
    parser.add_argument("folder", type=Path, metavar="DIR", help="folder to write into; existing files are never overwritten")


def run(chosen: Namespace) -> int:
    from ..workbooks.templates import write_all

    for path in write_all(chosen.folder):
        print(path, flush=True)
    return DONE


COMMAND = Command(
    "templates",
    "write the workbooks, ready to fill in",
    add,
    run,
    example="gritfuncs templates my-workbooks",
    remark="What they are for: [guide](../workbook_templates/README.md).",
)
