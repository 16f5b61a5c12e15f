"""gritfuncs knee"""

from __future__ import annotations

import sys
from argparse import ArgumentParser, Namespace
from pathlib import Path

from ..trial import read_trial
from .command import DONE, FAILED, Command
from .options import add_json, add_reading_options, reading_options
from .output import error_line, print_json


def add(parser: ArgumentParser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", type=Path, help="trial to read")
    add_reading_options(parser)
    add_json(parser)


def run(chosen: Namespace) -> int:
    options, state, results = reading_options(chosen), DONE, []
    for path in chosen.files:
        try:
            trial = read_trial(path, **options)
            text = trial.as_dict() if chosen.json else trial.report()
        except ValueError as error:
            print(f"gritfuncs knee: {error_line(error)}", file=sys.stderr)
            state = FAILED
            continue
        if chosen.json:
            results.append(text)
        else:
            print(text, end="\n\n" if path != chosen.files[-1] else "\n")
        if not trial.used:
            state = FAILED
    if chosen.json:
        print_json(results)
    return state


COMMAND = Command(
    "knee",
    "read trials and find the knee of each",
    add,
    run,
    example="gritfuncs knee gritfuncs-demo/readings.csv",
    details="FILE is a filled trial.xlsx, a text file with columns (.csv), or any workbook whose columns have headings.",
    remark="Which files it reads, and what may stand in them: [read_trial](functions/read_trial.md). "
    "How the knee is found: [the knee](knee.md).",
)
