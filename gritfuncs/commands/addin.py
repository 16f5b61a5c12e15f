"""gritfuncs addin"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from .command import DONE, Command


def add(parser: ArgumentParser) -> None:
    parser.add_argument("host", choices=("calc", "excel", "names"), help="for which program")
    parser.add_argument(
        "source",
        nargs="?",
        type=Path,
        metavar="BOOK or DIR",
        help="names: the workbook to copy; excel: the new folder (default: gritfuncs-excel)",
    )
    parser.add_argument(
        "--output", type=Path, help="calc, names: file to write (default: gritfuncs.oxt, BOOK with (names) in its name)"
    )


def run(chosen: Namespace) -> int:
    if chosen.host == "calc":
        from ..addins.calc import build_oxt

        path = chosen.output or Path("gritfuncs.oxt")
        print(build_oxt(path))
        print(
            f"next: Tools > Extension Manager > Add in LibreOffice, or: unopkg add {path}; then restart LibreOffice and type "
            "=GRIT_VERSION() into a cell"
        )
    elif chosen.host == "excel":
        from ..addins.excel import instructions, write_folder

        for path in write_folder(chosen.source or Path("gritfuncs-excel")):
            print(path)
        print(f"\n{instructions()}", end="")
    else:
        from ..share.names import add_names, functions_left_out

        if chosen.source is None:
            raise ValueError("BOOK must be given: gritfuncs addin names BOOK (got nothing)")
        output = chosen.output or chosen.source.with_name(f"{chosen.source.stem} (names){chosen.source.suffix}")
        names = add_names(chosen.source, output)
        print(f"{output}: {len(names)} names; not among them: {', '.join(functions_left_out())}")
    return DONE


COMMAND = Command(
    "addin",
    "make the add-in for a spreadsheet program",
    add,
    run,
    example="gritfuncs addin calc",
    details="calc: the extension for LibreOffice. excel: a folder with a workbook for xlwings, and the steps. "
    "names: a copy of BOOK with the functions as names for Excel 365.",
    remark="[Calc](calc.md), [Excel](excel.md).",
)
