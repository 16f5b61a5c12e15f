"""gritfuncs plan"""

from __future__ import annotations

from argparse import Namespace
from typing import Any

from ..planning import (
    ALTERNATING,
    DEPTH_POWER,
    OUT_AND_BACK,
    STEP_PERCENT,
    STEPS_EACH_SIDE,
    PlannedReading,
    plan_trial,
    plan_words,
)
from ..quantities import QUANTITIES
from ..refused import Refused
from ..trial.log.advice import logging_advice, sweep_advice
from ..trial.words import BASES, Words, setup_from
from .command import DONE, Command
from .options import add_choice, add_json, add_number, add_quantity, in_unit_of, whole_number
from .output import print_json
from .parser import Parser
from .setup_options import add_setup_options, around_of

LONGEST_LAG = 10.0  # s
WORDS = ("nominal_rpm", "lowest_work_rpm", "highest_work_rpm")
# What steps of more than the rpm need.
STEP_WORDS = (
    "infeed_rate",
    "infeed_basis",
    "lowest_infeed_rate",
    "highest_infeed_rate",
    "wheel_diameter",
    "wheel_speed",
    "wheel_rpm",
    "marked_wheel_speed",
    "highest_power",
)


def add(parser: Parser) -> None:
    add_number(parser, "--step-percent", "step in percent of nominal (default: %(default)g)", STEP_PERCENT)
    parser.add_argument(
        "--steps-each-side",
        type=whole_number,
        help=f"steps to each side (default: {STEPS_EACH_SIDE}, or as many as lead to 40 %% for rpm and infeed and for the wheel speed)",
    )
    add_choice(
        parser,
        "--steps",
        tuple(DEPTH_POWER),
        "what is stepped: the work rpm, rpm and infeed by the same factor, the infeed, or the wheel speed (default: %(default)s)",
        default="rpm",
    )
    parser.add_argument(
        "--nominal-power",
        type=in_unit_of(QUANTITIES["power"]),
        metavar="NUMBER",
        help="spindle power at nominal, with idle, to keep steps below --highest-power [kW]",
    )
    add_quantity(parser, "idle_power", "spindle power with the wheel off the work")
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
    add_setup_options(parser, WORDS + STEP_WORDS)
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
        steps=chosen.steps,
        **_more(chosen, words),
    )
    swept = None if chosen.sweep is None else _sweep(chosen.sweep, plan)
    if chosen.json:
        print_json([vars(reading) for reading in plan])
        return DONE
    basis = words.choice("infeed_basis", BASES, "radius")
    heads = {"infeed_rate": f"infeed on the {basis}, mm/min", "wheel_speed": "wheel, m/s"}
    factors = {"infeed_rate": 2.0 if basis == "diameter" else 1.0, "wheel_speed": 1.0}  # as the machine shows it
    own = [column for column in heads if any(getattr(reading, column) is not None for reading in plan)]
    print("reading   step, %   work rpm, 1/min" + "".join(f"   {heads[column]}" for column in own))
    for reading in plan:
        rpm = "outside limits: skip" if reading.work_rpm is None else f"{reading.work_rpm:.1f}"
        line = f"{reading.number:>7}{reading.step_percent:>10.4g}   {rpm:>15}"
        if reading.work_rpm is not None:
            line += "".join(f"   {getattr(reading, column) * factors[column]:>{len(heads[column])}.4g}" for column in own)
        print(f"{line}   {reading.note}".rstrip())
    print()
    for sentence in filter(None, (QUANTITIES["work_rpm"].doubt([nominal_rpm]), *plan_words(plan, chosen.steps))):
        print(sentence)
    if swept is not None:
        print(f"\n{swept}")
    if chosen.log:
        print(f"\n{logging_advice()}")
    return DONE


def _sweep(lag: float, plan: tuple[PlannedReading, ...]) -> str:
    """How to sweep through the rpm of the plan within one part."""
    if not 0 < lag <= LONGEST_LAG:
        raise Refused("--sweep", f"be > 0 and <= {LONGEST_LAG:g} s", f"{lag:g}")
    rpms = {reading.work_rpm for reading in plan if reading.work_rpm is not None}
    if len(rpms) < 2:
        raise Refused("--sweep", "be left out where the plan has one work rpm only", f"{lag:g}")
    return sweep_advice(min(rpms), max(rpms), lag)


def _more(chosen: Namespace, words: Words) -> dict[str, Any]:
    """What is given beside the rpm, as far as these steps go by it."""
    if chosen.steps == "rpm":
        return {}
    values, _ = setup_from(words)
    given = {word: words.number(word) for word in ("lowest_infeed_rate", "highest_infeed_rate", "marked_wheel_speed")}
    given.update(infeed_rate=values.get("infeed_rate"), wheel_speed=values.get("wheel_speed"))
    given.update(nominal_power=chosen.nominal_power, idle_power=chosen.idle_power or 0.0)
    if chosen.nominal_power is not None:
        given["highest_power"] = words.number("highest_power")
    return given


COMMAND = Command(
    "plan",
    "list the rpm steps of a trial in run order",
    add,
    run,
    example="gritfuncs plan --nominal-rpm 120 --steps-each-side 3 --highest-work-rpm 150",
    details="Nominal, outward to both sides by every second step, nominal, home by the others, nominal. With --steps 'rpm and infeed' "
    "two readings at nominal depth with other infeed rates tell idle power from the knee.",
    remark="What to step where: [steps](steps.md).",
)
