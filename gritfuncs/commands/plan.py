"""gritfuncs plan"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from ..planning import ALTERNATING, DEPTH_POWER, OUT_AND_BACK, STEP_PERCENT, STEPS_EACH_SIDE, plan_trial, plan_words
from .command import DONE, Command
from .options import add_choice, add_json, add_number, add_quantity, add_work_rpm_limits, whole_number
from .output import print_json


def add(parser: ArgumentParser) -> None:
    add_quantity(parser, "nominal_rpm", "work rpm where the trial starts", required=True, word="work_rpm")
    add_number(parser, "--step-percent", "step in percent of nominal (default: %(default)g)", STEP_PERCENT)
    parser.add_argument(
        "--steps-each-side",
        type=whole_number,
        help=f"steps to each side (default: {STEPS_EACH_SIDE}, or as many as lead to 40 %% where rpm and infeed or the wheel speed are stepped)",
    )
    add_choice(
        parser,
        "--steps",
        tuple(DEPTH_POWER),
        "what is stepped: the work rpm, rpm and infeed by the same factor, the infeed, or the wheel speed (default: %(default)s)",
        default="rpm",
    )
    add_quantity(parser, "infeed_rate", "infeed rate on the radius at nominal, where it is stepped")
    add_quantity(parser, "lowest_infeed_rate", "lowest infeed rate of the machine")
    add_quantity(parser, "highest_infeed_rate", "highest infeed rate of the machine")
    add_quantity(parser, "wheel_speed", "wheel speed at nominal, where it is stepped")
    add_quantity(parser, "marked_wheel_speed", "speed marked on the wheel; no step is above it", word="wheel_speed")
    add_quantity(parser, "nominal_power", "spindle power at nominal, with idle", word="power")
    add_quantity(parser, "idle_power", "spindle power with the wheel off the work")
    add_quantity(parser, "highest_power", "highest spindle power, with idle; needs the power at nominal")
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
    add_work_rpm_limits(parser)
    add_json(parser)


def run(chosen: Namespace) -> int:
    plan = plan_trial(
        chosen.nominal_rpm,
        step_percent=chosen.step_percent,
        steps_each_side=chosen.steps_each_side,
        lowest_work_rpm=chosen.lowest_work_rpm,
        highest_work_rpm=chosen.highest_work_rpm,
        spacing=chosen.spacing,
        order=chosen.order,
        steps=chosen.steps,
        infeed_rate=chosen.infeed_rate,
        lowest_infeed_rate=chosen.lowest_infeed_rate,
        highest_infeed_rate=chosen.highest_infeed_rate,
        wheel_speed=chosen.wheel_speed,
        marked_wheel_speed=chosen.marked_wheel_speed,
        nominal_power=chosen.nominal_power,
        idle_power=0.0 if chosen.idle_power is None else chosen.idle_power,
        highest_power=chosen.highest_power,
    )
    if chosen.json:
        print_json([vars(reading) for reading in plan])
        return DONE
    own = [column for column in _COLUMNS if any(getattr(reading, column) is not None for reading in plan)]
    print("reading   step, %   work rpm, 1/min" + "".join(f"   {_COLUMNS[column]}" for column in own))
    for reading in plan:
        rpm = "outside limits: skip" if reading.work_rpm is None else f"{reading.work_rpm:.1f}"
        line = f"{reading.number:>7}{reading.step_percent:>10.4g}   {rpm:>15}"
        if reading.work_rpm is not None:
            line += "".join(f"   {getattr(reading, column):>{len(_COLUMNS[column])}.4g}" for column in own)
        print(f"{line}   {reading.note}".rstrip())
    print()
    for sentence in plan_words(plan, chosen.steps):
        print(sentence)
    return DONE


_COLUMNS = {"infeed_rate": "infeed, mm/min", "wheel_speed": "wheel, m/s"}


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
