"""gritfuncs log"""

from __future__ import annotations

import re
import sys
from argparse import ArgumentTypeError, Namespace
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import Any

from ..trial import Setup, read_trial
from ..trial.log import PowerLog, read_log
from ..trial.setup_values import setup_from
from ..trial.words import LOAD_KINDS
from .command import DONE, FAILED, Command
from .options import OF_READINGS, SECONDS, add_choice, add_number, files, number, whole_number
from .output import error_line
from .parser import Parser
from .setup_options import add_setup_options, around_of, line_that_supplies

PICTURES = (".svg", ".xlsx")
_LARGE = 20_000_000  # bytes from which on progress is shown


def add(parser: Parser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", type=Path, help="log to read; several follow one another")
    parser.add_argument(
        "--rpm",
        dest="work_rpms",
        type=rpms,
        metavar="LIST",
        help="work rpm of each step in the order ground, 120,132,108 [1/min]",
    )
    parser.add_argument(
        "--plan", type=Path, metavar="FILE", help="trial whose rows have the work rpm in the order ground, and its setup"
    )
    parser.add_argument(
        "--parts",
        dest="parts_per_step",
        type=whole_numbers,
        default=[1],
        metavar="LIST",
        help="parts ground at each step, 3 or 3,3,2 (default: 1)",
    )
    parser.add_argument(
        "--not",
        dest="leave_out",
        type=whole_numbers,
        default=[],
        metavar="LIST",
        help="numbers of parts in the picture that are none, 7 or 7,12",
    )
    add_number(parser, "--infeed-time", SECONDS, "seconds of infeed of a part, to tell parts from dressing")
    add_number(parser, "--idle", OF_READINGS, "about what the meter shows at idle; 0 for a meter that is zeroed at idle")
    parser.add_argument("--power", metavar="COLUMN", help="heading or letter of the column with power, current or load")
    parser.add_argument("--time", metavar="COLUMN", help="heading or letter of the column with the time")
    parser.add_argument("--rpm-column", dest="rpm", metavar="COLUMN", help="heading or letter of the column with the work rpm")
    parser.add_argument("--contact", metavar="COLUMN", help="heading or letter of a signal that is high while the wheel cuts")
    parser.add_argument(
        "--sweep",
        type=rpms,
        metavar="LIST",
        help="work rpm at the turning points where it is swept within a part, 60,180,60,180,60 (simulated only, not tried on a machine)",
    )
    add_number(parser, "--interval", SECONDS, "seconds from row to row; goes before the time in the file")
    parser.add_argument("--between", metavar="FROM-TO", help="what to read, from the beginning of the log, 0:30-41:00")
    parser.add_argument("--sheet", help="sheet of a workbook that has the log")
    add_choice(parser, "--load-kind", LOAD_KINDS, "what the readings are: kW, A, or any load meter")
    parser.add_argument("--mean-of-step", action="store_true", help="one reading a step, the mean of its parts")
    add_setup_options(parser)


def run(chosen: Namespace) -> int:
    paths = files(chosen.files)
    options = {
        name: getattr(chosen, name)
        for name in (
            "power",
            "time",
            "rpm",
            "contact",
            "interval",
            "load_kind",
            "idle",
            "infeed_time",
            "between",
            "sheet",
            "sweep",
        )
    }
    work_rpms, setup = _plan(chosen)
    log = read_log(paths if len(paths) > 1 else paths[0], progress=_progress(paths), **options)
    print(log.report())
    readings, *pictures = _new_files(paths[0])
    for picture in pictures:
        log.picture(picture)
    shown = f"picture: {', '.join(map(str, pictures))}"
    try:
        log.write_readings(
            readings, work_rpms, chosen.parts_per_step, chosen.leave_out, mean_of_step=chosen.mean_of_step, setup=setup
        )
    except ValueError as error:
        print(f"No readings written; {shown}")
        print(f"gritfuncs log: {error_line(error, chosen.parser.as_typed)}", file=sys.stderr)
        return FAILED
    print(f"readings: {readings}; {shown}")
    print(_next(log, readings, work_rpms, chosen, setup))
    return DONE


def _plan(chosen: Namespace) -> tuple[list[float] | None, Setup | None]:
    """Work rpm and setup of the trial that is the plan; those that were typed go before."""
    around = around_of(chosen)
    if chosen.plan is None:
        values, missing = setup_from(around.alone.words)
        if missing and around.alone.sources:
            print(f"The readings get no setup: it lacks {', '.join(missing)}; add {line_that_supplies(missing)}", file=sys.stderr)
        return chosen.work_rpms, None if missing else Setup(**values)
    plan = read_trial(chosen.plan, setup=around)
    rpms = [reading.work_rpm for reading in plan.readings if reading.work_rpm and reading.kind != "excluded"]
    return chosen.work_rpms or rpms, plan.setup


def _new_files(path: Path) -> list[Path]:
    """Names beside the log that are free: of the readings and of the pictures, with one number where they are taken."""
    for attempt in count(1):
        again = "" if attempt == 1 else f"-{attempt}"
        names = [f"{path.stem}-readings{again}.csv", *(f"{path.stem}-picture{again}{ending}" for ending in PICTURES)]
        found = [path.with_name(name) for name in names]
        if not any(name.exists() for name in found):
            return found
    raise AssertionError


def _next(log: PowerLog, readings: Path, work_rpms: Any, chosen: Namespace, setup: Setup | None) -> str:
    if work_rpms is None and log.trace.rpm is None and not log.swept:
        return "The work rpm are not known: type them into the readings, or give --rpm or --plan."
    trial = log.trial(work_rpms, chosen.parts_per_step, chosen.leave_out, mean_of_step=chosen.mean_of_step, setup=setup)
    said = [remark for remark in trial.remarks if remark.startswith("Parts ") and remark not in log.remarks]
    return "\n".join([*said, f"Look at the picture, then: gritfuncs knee {readings}"])


def _progress(paths: list[Path]) -> Callable[[float], None] | None:
    """Shows how far a large file is read, where someone looks on."""
    if not sys.stderr.isatty() or sum(path.stat().st_size for path in paths if path.is_file()) < _LARGE:
        return None
    return lambda share: print(f"\rreading {100 * share:3.0f} %", end="\n" if share >= 1 else "", file=sys.stderr, flush=True)


def rpms(text: str) -> list[float]:
    """A list of work rpm in any order, parted by semicolons, or by commas where decimals have points."""
    parts = list(_parts(text))
    if ";" not in text and len(parts) == 2 and len(parts[1]) < len(parts[0]) - 1:
        raise ArgumentTypeError(f"must be parted by semicolons, such as 120;5 or 120,5; (got {text!r})")
    found = [number(part) for part in parts]
    if not all(rpm > 0 for rpm in found):
        raise ArgumentTypeError(f"must be > 0 1/min (got {text!r})")
    return found


def whole_numbers(text: str) -> list[int]:
    """A list of whole numbers."""
    return [whole_number(part) for part in _parts(text)]


def _parts(text: str) -> Iterator[str]:
    return (part.strip() for part in re.split(";" if ";" in text else ",", text.strip("; ")))


COMMAND = Command(
    "log",
    "read a log of spindle power against time: find the parts in it and write a reading for each",
    add,
    run,
    example="gritfuncs log gritfuncs-demo/power-log.csv --plan gritfuncs-demo/readings.csv",
    details="FILE is text (.csv, .tsv, .txt, .log, .dat), .xlsx or .ods. Writes FILE-readings.csv, which the command knee reads, and "
    "FILE-picture.svg and .xlsx to check it by. Ends with 0 only when readings were written. Tried on simulated logs only.",
    remark="What a log must have and how it is read: [power log](power-log.md).",
)
