"""gritfuncs next"""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from ..knee.next_reading import WANTED
from ..planning import STEP_PERCENT
from ..trial import read_trial
from ..trial.ways import BOTH, RPM
from .command import DONE, Command
from .options import add_choice, add_json, add_number, add_reading_options, add_share, reading_options
from .output import print_json
from .parser import Parser
from .setup_options import add_setup_options, around_of


def add(parser: Parser) -> None:
    parser.add_argument("trial", metavar="FILE", type=Path, help="trial so far")
    add_number(
        parser, "--step-percent", "furthest step beyond the rpm tried, in percent of nominal (default: %(default)g)", STEP_PERCENT
    )
    add_share(parser, "wanted", "half-width of the knee's interval that is good enough", WANTED)
    parser.add_argument("--damage-seen", action="store_true", help="burn, a crack or wheel breakdown was seen: stop")
    add_choice(
        parser,
        "--steps",
        (RPM, BOTH),
        "what is stepped: the work rpm, or rpm and infeed by one factor (default: as the readings show)",
    )
    add_reading_options(parser)
    add_setup_options(parser)
    add_json(parser)


def run(chosen: Namespace) -> int:
    trial = read_trial(chosen.trial, setup=around_of(chosen), **reading_options(chosen))
    advice = trial.next_reading(
        step_percent=chosen.step_percent, wanted=chosen.wanted, damage_seen=chosen.damage_seen, steps=chosen.steps
    )
    if chosen.json:
        print_json(advice.as_dict())
        return DONE
    for row, reason in trial.left_out:
        print(f"row {row}: {reason}")
    print(advice.line())
    return DONE


COMMAND = Command(
    "next",
    "say which work rpm a trial tries next, or that it can stop",
    add,
    run,
    example="gritfuncs next gritfuncs-demo/readings.csv --lowest-work-rpm 20 --highest-work-rpm 400",
    details="FILE is a trial so far, as for the command knee. Give the limits of the machine: nothing outside is proposed.",
    remark="The rule behind it: [the next reading](next-reading.md).",
)
