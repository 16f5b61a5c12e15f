"""gritfuncs next"""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from ..knee.next_reading import WANTED
from ..planning import STEP_PERCENT
from ..refused import Refused
from ..trial import read_trial
from ..trial.rows import named_rows
from ..trial.setup_file import LIMITS
from ..trial.ways import BOTH, RPM
from .command import DONE, Command
from .options import add_choice, add_json, add_number, add_reading_options, add_share, reading_options
from .output import print_json
from .parser import Parser
from .setup_options import add_setup_options, around_of, typed_among

RPM_LIMITS = ("lowest_work_rpm", "highest_work_rpm")
LIMITS_OF = {RPM: RPM_LIMITS, BOTH: (*RPM_LIMITS, "lowest_infeed_rate", "highest_infeed_rate", "highest_power")}


def add(parser: Parser) -> None:
    parser.add_argument("trial", metavar="FILE", type=Path, help="trial so far")
    add_number(
        parser,
        "--step-percent",
        "%",
        "furthest step beyond the rpm tried, in percent of nominal (default: %(default)g)",
        STEP_PERCENT,
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
    _refuse_limits_without_effect(chosen, chosen.steps or trial.way)
    advice = trial.next_reading(
        step_percent=chosen.step_percent, wanted=chosen.wanted, damage_seen=chosen.damage_seen, steps=chosen.steps
    )
    if chosen.json:
        print_json(advice.as_dict())
        return DONE
    for line in (*named_rows(trial.left_out), *trial.checks):
        print(line)
    print(advice.line())
    return DONE


def _refuse_limits_without_effect(chosen: Namespace, way: str) -> None:
    """Refused: a limit that was typed and that the steps do not go by.  What a file gives beside is no fault."""
    for word, option, got in typed_among(chosen, LIMITS):
        if word in LIMITS_OF.get(way, LIMITS):
            continue
        only = f"only --steps '{BOTH}' goes by it" if word in LIMITS_OF[BOTH] else ""
        must = f"be left out with --steps '{way}': {only}" if only else "be left out: no steps go by it"
        raise Refused(option, must, got)


COMMAND = Command(
    "next",
    "say which work rpm a trial tries next, or that it can stop",
    add,
    run,
    example="gritfuncs next gritfuncs-demo/readings.csv --lowest-work-rpm 20 --highest-work-rpm 400",
    details="FILE is a trial so far, as for the command knee. Give the machine's limits of the work rpm, "
    "and for steps of rpm and infeed those of infeed and power: nothing outside is proposed.",
    remark="The rule behind it: [the next reading](next-reading.md).",
)
