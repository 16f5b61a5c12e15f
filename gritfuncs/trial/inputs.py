"""The inputs of trial.xlsx, once: what writes the workbook lays them out, what reads a filled one finds them by their names.

An input is the cell with the name in_<name>.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ..planning import STEP_PERCENT, STEPS_EACH_SIDE
from ..quantities import QUANTITIES, SIDE_WORDS, Quantity
from .words import BASES, LOAD_KINDS

SPACINGS = ("rpm", "depth")


@dataclass(frozen=True)
class Input:
    """A cell to fill in: a number where it has a quantity, a word where it has choices, else a text.

    name : the cell is named in_<name>
    help : what it is; the limits of its quantity are added by the workbook
    quantity : limits, unit, symbol and label
    label : in place of that of the quantity
    unit : as the cell beside it says, in place of that of the quantity
    choices : the words to choose from
    default : what stands there unless the example or a script gives another value
    optional : it may stay blank
    limited : the limits of the quantity hold; else the number may be a text, and a check of its own judges it
    is_read : read_trial takes it from a filled workbook
    """

    name: str
    help: str = ""
    quantity: Quantity | None = None
    label: str = ""
    unit: str = ""
    choices: tuple[str, ...] = ()
    default: Any = None
    optional: bool = False
    limited: bool = True
    is_read: bool = True


def _number(name: str, help: str = "", like: str | Quantity = "", **more: Any) -> Input:
    quantity = like if isinstance(like, Quantity) else QUANTITIES[like or name]
    return Input(name, help or quantity.help, quantity, **more)


_STEP = Quantity("rpm_step", "-", "step of work rpm", "% of nominal", "Step between planned readings.", high=50.0)
_STEPS = Quantity(
    "steps_each_side",
    "-",
    "steps to each side",
    "-",
    "Planned steps faster and slower than nominal.",
    low=1.0,
    low_open=False,
    high=18.0,
)
_NOISE = Quantity("noise", "-", "scatter of the readings", "%", "Relative scatter of repeated readings.", high=50.0)
_HALF_WIDTH = Quantity(
    "wanted_half_width", "-", "wanted interval of the knee, ±", "%", "Half the interval, of the knee.", high=50.0
)
_BAND = Quantity("band", "-", "band about the target depth, ±", "%", "Allowed deviation of grit depth.", high=50.0)

TITLE = Input("title", "Stands at the head of every sheet: part, wheel, machine, date.", label="title", is_read=False)
WHEEL = (
    _number("wheel_diameter"),
    _number("wheel_speed", "Peripheral speed of the wheel. Fill in this or the wheel rpm below.", optional=True),
    _number("wheel_rpm", "Fill in this or the wheel speed above; both only if they agree.", optional=True),
    _number(
        "marked_wheel_speed",
        "Read it on the wheel. Nothing is computed for a faster wheel.",
        "wheel_speed",
        label="highest speed marked on the wheel",
    ),
)
SIDE = Input(
    "side",
    "external: wheel outside the part. flat. internal: wheel in a bore.",
    label="side of contact",
    choices=tuple(SIDE_WORDS),
)
INFEED_BASIS = Input(
    "infeed_basis",
    "radius or diameter: what the machine shows. On the diameter it is halved.",
    label="infeed counted on the",
    choices=BASES,
)
WORK = (
    _number("work_diameter"),
    SIDE,
    _number(
        "infeed_rate",
        "As the machine shows it; choose radius or diameter below.",
        label="infeed rate, kept constant through the trial",
    ),
    INFEED_BASIS,
    _number(
        "contact_width",
        "Width of the wheel in contact. Blank: the vertical axis is the load itself; the knee is the same.",
        optional=True,
    ),
)
GRITS = (
    _number(
        "grit_density", "A count on the wheel surface, if you have one. Blank: estimated from the next three rows.", optional=True
    ),
    _number(
        "grit_size",
        "Mean size in µm, or a designation such as D126, B126 or 120/140 (sheet Tables).",
        label="mean grit size or designation",
        unit="µm or ISO 6106",
        limited=False,
    ),
    _number("concentration", optional=True),
    _number("active_fraction", optional=True),
    _number("shape_ratio"),
)
LOAD = (
    Input(
        "load_kind",
        "power: kW. current: A of a three-phase motor. relative: any load meter, % or divisions.",
        label="kind of load reading",
        choices=LOAD_KINDS,
        default="power",
    ),
    _number("volts", "Only for current: voltage between two phases.", optional=True),
    _number("power_factor", "Only for current.", optional=True),
    _number(
        "idle",
        "For rows without an idle reading of their own: at speed, coolant on, wheel off the work. Blank: none.",
        "idle_power",
        label="idle reading",
        unit="as the readings",
        optional=True,
    ),
    _number(
        "noise",
        "Scatter of repeated readings if you know it. Blank: from the repeats at equal rpm, else 1 %.",
        _NOISE,
        optional=True,
    ),
)
BAND = _number("band", "2 is common practice.", _BAND, default=2.0, is_read=False)
PLAN = (
    _number("nominal_rpm", "Where the trial starts and returns to.", "work_rpm", label="nominal work rpm"),
    _number("rpm_step", "10 is common practice.", _STEP, default=STEP_PERCENT, is_read=False),
    _number(
        "steps_each_side",
        "6 steps of 10 % reach ±60 %; depth moves with the fourth root of rpm only.",
        _STEPS,
        default=STEPS_EACH_SIDE,
        is_read=False,
    ),
    Input(
        "plan_spacing",
        "rpm: equal steps of rpm. depth: the same range, cut at the limits below, in equal steps of grit depth.",
        label="equal steps of",
        choices=SPACINGS,
        default="rpm",
        is_read=False,
    ),
    _number("lowest_work_rpm", "Limit of the machine. Blank: no limit.", "work_rpm", label="lowest work rpm", optional=True),
    _number(
        "highest_work_rpm", "Limit of the machine or chuck. Blank: no limit.", "work_rpm", label="highest work rpm", optional=True
    ),
    _number(
        "target_depth", "Depth to hold. Blank: the knee.", "grit_depth", label="target grit depth", optional=True, is_read=False
    ),
    BAND,
    _number("wanted_half_width", "Half the width of the interval you want.", _HALF_WIDTH, default=5.0, is_read=False),
)
# In the order of the sheet Inputs: what stands above each group of them.
GROUPS = {"": (TITLE,), "Wheel": WHEEL, "Work and infeed": WORK, "Grits": GRITS, "Load reading": LOAD, "Plan and target": PLAN}
INPUTS = tuple(given for group in GROUPS.values() for given in group)

# The columns of in_readings and of in_observations, the table of readings.
READING_COLUMNS = ("work_rpm", "load", "idle", "use", "note")
OBSERVED_COLUMNS = ("finish", "wear", "damage")
