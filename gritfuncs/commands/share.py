"""gritfuncs share"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from ..addins.hosts import HOSTS, NATIVE
from .command import DONE, FAILED, Command
from .options import add_choice
from .output import progress


def add(parser: ArgumentParser) -> None:
    parser.add_argument("book", type=Path, metavar="BOOK", help="workbook (.xlsx, .xlsm) saved by Excel or LibreOffice")
    add_choice(
        parser,
        "--to",
        (NATIVE, *(host.name for host in HOSTS)),
        f"native formulas, or only respelled for the {' or the '.join(host.add_in for host in HOSTS)} (default: %(default)s)",
        default=NATIVE,
    )
    parser.add_argument(
        "--output",
        type=Path,
        help="file to write (default: beside the original, with (shared), or for which program it is, in its name)",
    )


def run(chosen: Namespace) -> int:
    from ..share.job import share

    with progress("sharing") as tell:
        shared = share(chosen.book, chosen.output, to=chosen.to, progress=tell)
    print(shared.report())
    return DONE if shared.complete else FAILED


COMMAND = Command(
    "share",
    "write a copy of a workbook for someone without gritfuncs",
    add,
    run,
    example="gritfuncs share my-book.xlsx",
    details="Every call of a gritfuncs function becomes an equal native formula; the original stays as it is. Ends with 1 when "
    "a call is left or a value changes; the report names the cells.",
    remark="Before and after, and what cannot be replaced: [sharing](sharing.md).",
)
