"""gritfuncs plan"""

from __future__ import annotations

from argparse import Namespace

from ..planning import ALTERNATING, OUT_AND_BACK, STEP_PERCENT, STEPS_EACH_SIDE, plan_trial
from ..refused import Refused
from ..trial.log.advice import logging_advice, sweep_advice
from .command import DONE, Command
from .options import add_choice, add_json, add_number, whole_number
from .output import print_json
from .parser import Parser
from .setup_options import add_setup_options, around_of

LONGEST_LAG = 10.0  # s
WORDS = ("nominal_rpm", "lowest_work_rpm", "highest_work_rpm")


def add(parser: Parser) -> None:
    add_number(parser, "--step-percent", "step in percent of nominal (default: %(default)g)", STEP_PERCENT)
    parser.add_argument(
        "--steps-each-side", type=whole_number, default=STEPS_EACH_SIDE, help="steps to each side (default: %(default)s)"
    )
    add_choice(
        parser,
        "--spacing",
        ("rpm", "depth"),
        "equal steps of rpm, or of grit depth within the machine's limits (default: %(default)s)",
        default="rpm",
    )
    add_choice(
        parser,
        "--order",
        (OUT_AND_BACK, ALTERNATING),
        "out by every second step and home by the others, or outward to both sides in turn (default: %(default)s)",
        default=OUT_AND_BACK,
    )
    parser.add_argument("--log", action="store_true", help="also say how to log power through the trial")
    add_number(
        parser,
        "--sweep",
        "seconds of lag, as a log showed it: also plan a sweep within one part (simulated only, not tried on a machine)",
    )
    add_setup_options(parser, WORDS)
    add_json(parser)


def run(chosen: Namespace) -> int:
    words = around_of(chosen).alone.words
    nominal_rpm, lowest, highest = map(words.number, WORDS)
    if nominal_rpm is None:
        raise Refused("--nominal-rpm", "be given: the work rpm where the trial starts", hint="add --nominal-rpm NUMBER")
    plan = plan_trial(
        nominal_rpm,
        step_percent=chosen.step_percent,
        steps_each_side=chosen.steps_each_side,
        lowest_work_rpm=lowest,
        highest_work_rpm=highest,
        spacing=chosen.spacing,
        order=chosen.order,
    )
    if chosen.json:
        print_json([vars(reading) for reading in plan])
        return DONE
    print("reading   step, %   work rpm, 1/min")
    for reading in plan:
        rpm = "outside limits: skip" if reading.work_rpm is None else f"{reading.work_rpm:.1f}"
        print(f"{reading.number:>7}{reading.step_percent:>10.4g}   {rpm:>15}")
    print("\nStop going slower when power climbs fast; stop at once at burn, cracks or wheel breakdown.")
    if chosen.sweep is not None:
        if not 0 < chosen.sweep <= LONGEST_LAG:
            raise Refused("--sweep", f"be > 0 and <= {LONGEST_LAG:g} s", f"{chosen.sweep:g}")
        rpms = [reading.work_rpm for reading in plan if reading.work_rpm is not None]
        print(f"\n{sweep_advice(min(rpms), max(rpms), chosen.sweep)}")
    if chosen.log:
        print(f"\n{logging_advice()}")
    return DONE


COMMAND = Command(
    "plan",
    "list the rpm steps of a trial in run order",
    add,
    run,
    example="gritfuncs plan --nominal-rpm 120 --steps-each-side 3 --highest-work-rpm 150",
    details="Nominal, outward to both sides by every second step, nominal, home by the others, nominal.",
)
