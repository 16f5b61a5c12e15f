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
from ..planning.plan import BOTH, INFEED, RPM, WHEEL
from ..quantities import QUANTITIES
from ..refused import Refused
from ..trial.log.advice import logging_advice, sweep_advice
from ..trial.log.sweep_plan import sweep_points
from ..trial.setup_values import setup_from
from ..trial.shop_units import Words
from ..trial.words import BASES
from .command import DONE, Command
from .options import SECONDS, add_choice, add_json, add_number, add_quantity, in_unit_of, whole_number
from .output import print_json
from .parser import Parser
from .setup_options import add_setup_options, around_of, options_of, typed_among, typed_as, way_to_supply

LONGEST_LAG = 10.0  # s
WORDS = ("nominal_rpm", "lowest_work_rpm", "highest_work_rpm")
# What steps of more than the rpm go by.
INFEED_WORDS = ("infeed_rate", "infeed_basis", "lowest_infeed_rate", "highest_infeed_rate")
WHEEL_WORDS = ("wheel_diameter", "wheel_speed", "wheel_rpm", "marked_wheel_speed")
STEP_WORDS = (*INFEED_WORDS, *WHEEL_WORDS, "highest_power")
POWERS = ("nominal_power", "highest_power", "idle_power")
NEEDED = {BOTH: ("infeed_rate",), INFEED: ("infeed_rate",), WHEEL: ("wheel_speed", "marked_wheel_speed")}
GO_BY = {RPM: (), BOTH: (*INFEED_WORDS, *POWERS), INFEED: (*INFEED_WORDS, *POWERS), WHEEL: WHEEL_WORDS}


def add(parser: Parser) -> None:
    add_number(parser, "--step-percent", "%", "step in percent of nominal (default: %(default)g)", STEP_PERCENT)
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
        SECONDS,
        "seconds of lag, as a log showed it: also plan a sweep within one part (simulated only, not tried on a machine)",
    )
    add_setup_options(parser, WORDS + STEP_WORDS)
    add_json(parser)


def run(chosen: Namespace) -> int:
    words = around_of(chosen).alone.words
    nominal_rpm, lowest, highest = map(words.number, WORDS)
    if nominal_rpm is None:
        raise Refused("--nominal-rpm", "be given: the work rpm where the trial starts", hint="add --nominal-rpm NUMBER")
    _refuse_options_without_effect(chosen, words)
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
    logged = logging_advice() if chosen.log else None
    remarks = [*_doubts(chosen, nominal_rpm), *plan_words(plan, chosen.steps)]
    if chosen.json:
        readings = [vars(reading) for reading in plan]
        more = dict(readings=readings, remarks=remarks, sweep=swept, log=logged)
        print_json(readings if swept is None and logged is None else more)
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
    for sentence in remarks:
        print(sentence)
    if swept is not None:
        print(f"\n{swept['advice']}")
    if logged is not None:
        print(f"\n{logged}")
    return DONE


def _doubts(chosen: Namespace, nominal_rpm: float) -> list[str]:
    """A sentence for each number that was given and is outside of what is usual."""
    doubts = [QUANTITIES["work_rpm"].doubt([nominal_rpm])]
    for word in POWERS:
        quantity, power = QUANTITIES["idle_power" if word == "idle_power" else "power"], typed_as(chosen, word)
        doubts += [] if power is None else [quantity.doubt([power], word.replace("_", " "))]
    return list(filter(None, doubts))


def _sweep(lag: float, plan: tuple[PlannedReading, ...]) -> dict[str, Any]:
    """How to sweep through the rpm of the plan within one part: in numbers, and in words for people."""
    if not 0 < lag <= LONGEST_LAG:
        raise Refused("--sweep", f"be > 0 and <= {LONGEST_LAG:g} s", f"{lag:g}")
    rpms = {reading.work_rpm for reading in plan if reading.work_rpm is not None}
    if len(rpms) < 2:
        raise Refused("--sweep", "be left out where the plan has one work rpm only", f"{lag:g}")
    points, infeed_time = sweep_points(min(rpms), max(rpms), lag)
    return dict(lag=lag, work_rpms=list(points), infeed_time=infeed_time, advice=sweep_advice(points, infeed_time))


def _refuse_options_without_effect(chosen: Namespace, words: Words) -> None:
    """Refused: an option that the steps do not go by.  What a file of the setup gives beside what they go by is no fault."""
    for word, option, got in typed_among(chosen, (*INFEED_WORDS, *WHEEL_WORDS, *POWERS)):
        if word not in GO_BY[chosen.steps]:
            others = " or ".join(f"'{steps}'" for steps, known in GO_BY.items() if word in known)
            raise Refused(option, f"be left out with --steps '{chosen.steps}': only --steps {others} goes by it", got)
        if word in POWERS and chosen.nominal_power is None:
            raise Refused(option, "be given together with --nominal-power, or be left out", got)
        if word == "nominal_power" and words.number("highest_power") is None:
            raise Refused(option, "be given together with --highest-power, or be left out", got)


def _more(chosen: Namespace, words: Words) -> dict[str, Any]:
    """What is given beside the rpm, as far as these steps go by it."""
    if chosen.steps == RPM:
        return {}
    values, _ = setup_from(words)
    given = {word: words.number(word) for word in ("lowest_infeed_rate", "highest_infeed_rate", "marked_wheel_speed")}
    given.update(infeed_rate=values.get("infeed_rate"), wheel_speed=values.get("wheel_speed"))
    missing = [word for word in NEEDED[chosen.steps] if given[word] is None]
    if missing:
        raise Refused(options_of(missing), f"be given with --steps '{chosen.steps}'", hint=way_to_supply(missing))
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
