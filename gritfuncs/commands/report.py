"""gritfuncs report"""

from __future__ import annotations

import sys
from argparse import Namespace
from pathlib import Path

from ..files import refuse_existing, write_new
from ..refused import Refused
from ..reports.pdf import write_pdf
from ..reports.trial import trial_page
from ..trial import read_trial
from .command import DONE, FAILED, Command
from .options import add_reading_options, files, reading_options
from .output import error_line
from .parser import Parser
from .setup_options import add_setup_options, around_of

ENDINGS = (".html", ".htm")


def add(parser: Parser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", type=Path, help="trial to read")
    parser.add_argument(
        "--output", type=Path, metavar="PAGE", help="name of the new page (default: FILE-report.html in the current folder)"
    )
    parser.add_argument("--title", default="", help="stands at the head: part, wheel, machine")
    parser.add_argument("--pdf", action="store_true", help="write a PDF beside the page, where a browser here can print one")
    add_reading_options(parser)
    add_setup_options(parser)


def run(chosen: Namespace) -> int:
    options, paths, state = reading_options(chosen), files(chosen.files), DONE
    around = around_of(chosen)
    if chosen.output is not None and len(paths) > 1:
        raise Refused("output", "be left out for several files, which give a page each", f"{len(paths)} files")
    if chosen.output is not None and chosen.output.suffix.lower() not in ENDINGS:
        raise Refused("output", f"end in {' or '.join(ENDINGS)}", f"{chosen.output.name!r:.60}")
    for path in paths:
        try:
            page = chosen.output or page_name(path)
            refuse_existing(page)
            made = trial_page(read_trial(path, setup=around, **options), title=chosen.title)
            write_new(page, made.encode("utf-8"))
            print(f"report: {page}")
            if chosen.pdf:
                write_pdf(made, page.with_suffix(".pdf"))
                print(f"PDF: {page.with_suffix('.pdf')}")
        except ValueError as error:
            print(f"gritfuncs report: {error_line(error, chosen.parser.as_typed)}", file=sys.stderr)
            state = FAILED
    return state


def page_name(path: Path) -> Path:
    """In the current folder, wherever the file is: what it was made from may be a share that others read."""
    return Path(f"{path.stem}-report.html")


COMMAND = Command(
    "report",
    "write a trial as a page to print: what to set, chart, readings, setup, cautions",
    add,
    run,
    example="gritfuncs report gritfuncs-demo/readings.csv",
    details="FILE is what the command knee reads. The page needs nothing else and opens in any browser; nothing is overwritten.",
    remark="How to print it, and what it says: [reports](report.md).",
)
