"""gritfuncs knee"""

from __future__ import annotations

import sys
from argparse import Namespace
from pathlib import Path
from typing import Any

from ..files import check_new, refuse_existing
from ..pictures import check_ending, write_chart
from ..refused import Refused
from ..trial import Trial, read_trial
from ..trial.picture import chart_of
from ..trial.readings import MICROMETRE
from .command import DONE, FAILED, Command
from .options import add_json, add_reading_options, files, reading_options
from .output import error_line, print_json
from .parser import Parser
from .setup_options import add_setup_options, around_of, line_that_supplies


def add(parser: Parser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", type=Path, help="trial to read")
    parser.add_argument(
        "--plot",
        type=Path,
        metavar="PICTURE",
        help="draw the chart of one trial into a new .svg, .png or .pdf (the last two need matplotlib)",
    )
    parser.add_argument("--write", type=Path, metavar="FILE", help="write a trial.xlsx with these readings and this setup, too")
    add_reading_options(parser)
    add_setup_options(parser)
    add_json(parser)


def run(chosen: Namespace) -> int:
    options, state = reading_options(chosen), DONE
    around = around_of(chosen)
    results: list[dict[str, Any]] = []  # for JSON, one a file
    paths = files(chosen.files)
    if chosen.plot is not None:
        if len(paths) > 1:
            raise Refused("plot", "be given with one file", f"{len(paths)} files")
        check_ending(chosen.plot)
        refuse_existing(chosen.plot)
    if chosen.write is not None and len(paths) > 1:
        raise Refused("write", "be given with one file", f"{len(paths)} files")
    if chosen.write is not None:
        check_new(chosen.write, ".xlsx")
    for path in paths:
        try:
            trial = read_trial(path, setup=around, **options)
            if chosen.json:
                results.append(trial.as_dict())
            else:
                print("\n".join([trial.report(), *_what_is_missing(trial)]), end="\n\n" if path != paths[-1] else "\n")
            if chosen.plot is not None:
                write_chart(chart_of(trial), chosen.plot)
            if chosen.write is not None:
                _write(trial, chosen)
        except ValueError as error:
            line = error_line(error, chosen.parser.as_typed)
            print(f"gritfuncs knee: {line}", file=sys.stderr)
            results.append({"source": path.name, "error": line})
            state = FAILED
        else:
            state = state if trial.used else FAILED
    if chosen.json:
        print_json(results)
    return state


def _what_is_missing(trial: Trial) -> list[str]:
    if trial.depth_unit == MICROMETRE:
        return []
    return [
        f"For depths in µm add: {line_that_supplies(trial.given.missing())}",
        "    or --setup FILE; gritfuncs setup --new writes one",
    ]


def _write(trial: Trial, chosen: Namespace) -> None:
    from ..sheets.save import save_workbook
    from ..workbooks.filled import trial_values
    from ..workbooks.trial import build

    save_workbook(build.build(trial_values(trial)), chosen.write)
    if not chosen.json:
        print(f"written: {chosen.write}")


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
