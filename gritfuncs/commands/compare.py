"""gritfuncs compare"""

from __future__ import annotations

import re
from argparse import Namespace
from pathlib import Path

from ..comparison import compare_trials
from ..comparison.picture import chart_of
from ..files import refuse_existing, write_new
from ..pictures import check_ending, write_chart
from ..refused import Refused
from ..reports.comparison import comparison_page
from ..trial import read_trial
from .command import DONE, Command
from .options import add_json, add_reading_options, files, reading_options
from .output import print_json
from .parser import Parser
from .report import ENDINGS
from .setup_options import add_setup_options, around_of


def add(parser: Parser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", type=Path, help="trials to compare with the first")
    parser.add_argument(
        "--same-wheel", action="store_true", help="all are known to be one wheel: depths under another C r are converted"
    )
    parser.add_argument("--dates", type=_parts, metavar="LIST", help="the day of each trial, 2026-01-05,2026-03-02")
    parser.add_argument("--names", type=_parts, metavar="LIST", help="what to call the trials, old,new (default: their files)")
    parser.add_argument("--output", type=Path, metavar="PAGE", help="also write a page to print into a new .html")
    parser.add_argument(
        "--plot",
        type=Path,
        metavar="PICTURE",
        help="also draw all trials into a new .svg, .png or .pdf (the last two need matplotlib)",
    )
    add_reading_options(parser)
    add_setup_options(parser)
    add_json(parser)


def _parts(text: str) -> list[str]:
    return [part.strip() for part in re.split("[;,]", text)]


def run(chosen: Namespace) -> int:
    for path in filter(None, (chosen.output, chosen.plot)):
        refuse_existing(path)
    if chosen.output is not None and chosen.output.suffix.lower() not in ENDINGS:
        raise Refused("output", f"end in {' or '.join(ENDINGS)}", f"{chosen.output.name!r:.60}")
    if chosen.plot is not None:
        check_ending(chosen.plot)
    paths, options = files(chosen.files), reading_options(chosen)
    if len(paths) < 2:
        raise Refused("files", "be at least two trials", str(len(paths)))
    around = around_of(chosen)
    trials = [read_trial(path, setup=around, **options) for path in paths]
    compared = compare_trials(*trials, same_wheel=chosen.same_wheel, names=chosen.names, dates=chosen.dates)
    if chosen.json:
        print_json(compared.as_dict())
    else:
        print(compared.report())
    if chosen.plot is not None:
        write_chart(chart_of(compared), chosen.plot)
    if chosen.output is not None:
        write_new(chosen.output, comparison_page(compared).encode("utf-8"))
    return DONE


COMMAND = Command(
    "compare",
    "compare the knees of trials: differences with intervals, and whether they can be the same wheel behaviour",
    add,
    run,
    example="gritfuncs compare gritfuncs-demo/readings.csv gritfuncs-demo/trial.xlsx --names file,workbook",
    details="FILE is what the command knee reads. Trials without a knee, and depths that do not compare, are refused.",
    remark="What the answers mean, and what is refused: [trials compared](compare.md).",
)
