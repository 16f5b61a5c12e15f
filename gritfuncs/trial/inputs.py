"""The inputs of trial.xlsx, once: what writes the workbook lays them out, what reads a filled one finds them by their names.

An input is the cell with the name in_<name>.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from ..planning import BAND as ALLOWED
from ..planning import STEP_PERCENT, STEPS_EACH_SIDE
from ..planning.plan import BOTH, FURTHEST_PERCENT, RPM
from ..quantities import QUANTITIES, SIDE_WORDS
from ..quantity import Quantity
from .words import BASES, LOAD_KINDS

SPACINGS = ("rpm", "depth")
FOLLOWED = ("readings", "plan")
BOOK_STEPS = (RPM, BOTH)  # what the trial workbook plans
UNITS = ("metric", "inch")
ENERGY = "energy"  # kind of load whose readings are specific energies, as typed
BOOK_LOAD_KINDS = (*LOAD_KINDS, ENERGY)
LOAD_UNIT = "%"  # of a load meter, as the workbook has it where nothing else is said


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
    requirement : what it must be, in place of the limits of the quantity
    number_format : how it is shown, where that is not as typed
    is_read : read_trial computes with it; the texts of the record are kept beside the trial as they are
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
    requirement: str = ""
    number_format: str = ""
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
    high=13.0,
)
_NOISE = Quantity("noise", "-", "scatter of the readings", "%", "Relative scatter of repeated readings.", high=50.0)
_HALF_WIDTH = Quantity(
    "wanted_half_width", "-", "wanted interval of the knee, ±", "%", "Half the interval, of the knee.", high=50.0
)
_BAND = Quantity("band", "-", "band about the target depth, ±", "%", "Allowed deviation of grit depth.", high=50.0)

A_DAY, DATE_FORMAT = "a date from 2000 to 2099", "yyyy-mm-dd"
FIRST_DAY, LAST_DAY = 36526.0, 73050.0  # the same as the numbers that spreadsheets count days by
DAY = Quantity("date", "-", "date of the trial", "-", "A date.", low=FIRST_DAY, low_open=False, high=LAST_DAY)


def day_input(name: str, label: str, help: str) -> Input:
    """A cell for a date, or blank."""
    shown = dict(unit="date", requirement=A_DAY, number_format=DATE_FORMAT)
    return Input(name, help, DAY, label, optional=True, is_read=False, **shown)


def _text(name: str, label: str, help: str = "", **more: Any) -> Input:
    return Input(name, help, label=label, optional=True, is_read=False, **more)


TITLE = Input("title", label="title of every sheet", is_read=False)
UNIT_CHOICE = Input(
    "units",
    "metric: mm, m/s. inch: in, ft/min. It does not convert what stands below: type it anew. Readings stay in kW, A or % and J/mm³.",
    label="units of the inputs",
    choices=UNITS,
    default=UNITS[0],
    is_read=False,
)
RECORD = (
    _text("key", "key", "Short and used once: names the row in the record of knees."),
    _text("wheel", "wheel", "Maker's designation or your own number."),
    _text("bond", "bond", "Resin, vitrified, metal ..."),
    _text("material", "material", "Grade of the parts."),
    _text("machine", "machine"),
    _text("coolant", "coolant"),
    day_input("date", DAY.label, "A workbook does not know it by itself."),
    _text("who", "who"),
    _text("note", "note"),
)
WHEEL = (
    _number("wheel_diameter", "As it is now, worn or dressed."),
    _number("wheel_speed", "Fill in this or the wheel rpm below.", optional=True),
    _number("wheel_rpm", "This or the speed above; both only if they agree.", optional=True),
    _number(
        "marked_wheel_speed",
        "Read it on the wheel. Above it nothing is computed.",
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
    _number("work_diameter", "Of the part, or of the bore in internal grinding."),
    SIDE,
    _number(
        "infeed_rate", "As the machine shows it: on radius or diameter, see below.", label="infeed rate, at nominal work rpm"
    ),
    INFEED_BASIS,
    _number("contact_width", "Blank: the chart shows the load; the knee is the same.", optional=True),
)
GRITS = (
    _number("grit_density", "If counted. Blank: estimated from the next three rows.", optional=True),
    _number(
        "grit_size",
        "Mean size in µm, or a designation such as D126, B126 or 120/140 (sheet Grit sizes).",
        label="mean grit size or designation",
        unit="µm, ISO 6106",
        limited=False,
    ),
    _number("concentration", "100 is 25 % by volume, of diamond 4.4 carat/cm³.", optional=True),
    _number("active_fraction", "Those that cut; 0.5 is usual in the literature.", optional=True),
    _number("shape_ratio", "Of the undeformed chip, usually 5 to 20."),
)
LOAD = (
    Input(
        "load_kind",
        "power: kW. current: A of a three-phase motor. relative: any load meter. energy: J/mm³, computed elsewhere, idle taken off.",
        label="kind of load reading",
        choices=BOOK_LOAD_KINDS,
        default="power",
    ),
    _number(
        "idle",
        "For rows without an idle reading of their own: at speed, coolant on, wheel off the work. Blank: none.",
        replace(QUANTITIES["idle_power"], usual=None),  # of a load meter any number may be usual
        label="idle reading",
        unit="as the readings",
        optional=True,
    ),
)
LOAD_MORE = (
    _text("load_unit", "unit of a load meter", "Only for relative: what the meter shows.", default=LOAD_UNIT),
    _number("volts", "Only for current: voltage between two phases.", optional=True),
    _number("power_factor", "Only for current.", optional=True),
    _number("noise", "If you know it. Blank: from the repeats at equal rpm, else 1 %.", _NOISE, optional=True),
)
BAND = _number("band", "2 is common practice.", _BAND, default=100 * ALLOWED, is_read=False)
START = (
    _number("nominal_rpm", "Where the trial starts and returns to.", "work_rpm", label="nominal work rpm"),
    _number("lowest_work_rpm", "Limit of the machine. Blank: no limit.", "work_rpm", label="lowest work rpm", optional=True),
    _number(
        "highest_work_rpm", "Limit of the machine or chuck. Blank: no limit.", "work_rpm", label="highest work rpm", optional=True
    ),
)
STEPS = Input(
    "steps",
    "rpm: the infeed rate stays. rpm and infeed: both by the same factor, which moves depth twice as far; set both each time, and type "
    "the infeed of each reading.",
    label="what is stepped",
    choices=BOOK_STEPS,
    default=RPM,
    is_read=False,
)
INFEED_LIMITS = tuple(
    _number(
        f"{end}_infeed_rate",
        "For steps of rpm and infeed. Blank: no limit.",
        "infeed_rate",
        label=f"{end} infeed rate on the radius",
        optional=True,
    )
    for end in ("lowest", "highest")
)
PLAN = (
    Input(
        "follow",
        "readings: by the rule, from what was read so far. plan: the steps below in turn.",
        label="set next by the",
        choices=FOLLOWED,
        default=FOLLOWED[0],
        is_read=False,
    ),
    _number("rpm_step", "10 is common practice.", _STEP, default=STEP_PERCENT, is_read=False),
    _number(
        "steps_each_side",
        f"6 steps of 10 % reach ±60 %; depth moves with the fourth root of rpm only. Of rpm and infeed together ±{FURTHEST_PERCENT[BOTH]:g} % at most.",
        _STEPS,
        default=STEPS_EACH_SIDE,
        is_read=False,
    ),
    Input(
        "plan_spacing",
        "rpm, or depth: the same range, within the machine's limits, in equal steps of depth.",
        label="equal steps of",
        choices=SPACINGS,
        default="rpm",
        is_read=False,
    ),
    _number(
        "target_depth", "Depth to hold. Blank: the knee.", "grit_depth", label="target grit depth", optional=True, is_read=False
    ),
    BAND,
    _number("wanted_half_width", "Half the width of the interval you want.", _HALF_WIDTH, default=5.0, is_read=False),
)
# In the order of the sheet Inputs: what stands above each group of them. Every trial needs the first groups; the rest can stay.
NEEDED = {
    "": (TITLE, UNIT_CHOICE),
    "Wheel": WHEEL,
    "Work and infeed": WORK,
    "Load reading": LOAD,
    "Where the trial starts, limits of the machine": (*START, STEPS),
}
MORE = {"For the record": RECORD, "Load reading, more": LOAD_MORE, "Plan and target": (*PLAN, *INFEED_LIMITS), "Grits": GRITS}
GROUPS = {**NEEDED, **MORE}
INPUTS = tuple(given for group in GROUPS.values() for given in group)

# The columns of in_readings; in_damage is the column beside it, and in_observations the table of what else was seen.
# in_row_infeed_rates is the column before it.
READING_COLUMNS = ("work_rpm", "load", "idle", "use", "note")
OBSERVED_COLUMNS = ("finish", "wear", "damage")
