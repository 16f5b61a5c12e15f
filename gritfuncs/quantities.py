"""The vocabulary: one record per word, so that a name means one thing in code, cells, templates and documents.

Every formula argument and result is a word of this list.  Units are the shop units of the library; formulas know
no others.  Standard library only.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from numbers import Real
from typing import Any

from . import units
from .refused import Refused, printable

EXTERNAL, FLAT, INTERNAL = 1, 0, -1
SIDE_WORDS = {"external": EXTERNAL, "flat": FLAT, "internal": INTERNAL}
YES_WORDS = ("yes", "y", "1", "true", "ja", "oui", "si", "sì", "sí", "sim", "tak", "ano")
NO_WORDS = ("no", "n", "0", "false", "nein", "non", "não", "nie", "ne", "nej")
# What stands under "damage" where there was none, without full stops and exclamation marks: "o.k." and "i.O." are among them.
NO_DAMAGE_WORDS = NO_WORDS + (
    *(
        "none",
        "ok",
        "-",
        "--",
        "keine",
        "keiner",
        "io",
        "in ordnung",
        "aucun",
        "aucune",
        "nessuno",
        "nessuna",
        "ninguno",
        "ninguna",
    ),
    *("nenhum", "nenhuma", "brak", "žádné", "ingen", "inga"),
)


def shown(value: Any, longest: int = 60) -> str:
    """A value as an error message shows it: one line of signs that can be printed, whatever the value is."""
    try:
        text = repr(value)
    except Exception:  # noqa: BLE001 - a huge integer, or an object that does not show itself
        text = f"a {type(value).__name__}"
    return printable(text)[:longest]


def items_of(values: Any) -> list[Any] | None:
    """What a list, or anything else that hands out its items in an order, holds; None for a text, a dictionary and what holds none."""
    try:
        return None if isinstance(values, (str, bytes, dict, set, frozenset)) else list(values)
    except Exception:  # noqa: BLE001 - whatever an object does instead of handing out its items
        return None


def number_in(value: Any) -> float | None:
    """The float that a number is, infinite where it is too large for one; None for what is no number."""
    if not isinstance(value, Real) or isinstance(value, bool):
        return None
    try:
        return float(value)
    except OverflowError:
        return math.inf
    except (TypeError, ValueError):  # a span of time of numpy counts itself among the numbers
        return None


def finite_in(value: Any) -> float | None:
    """The finite float that a number is; None for what is no number, and for what no float can hold."""
    number = number_in(value)
    return number if number is not None and math.isfinite(number) else None


def is_blank(value: Any) -> bool:
    """Nothing at all, or a text of spaces."""
    return value is None or (isinstance(value, str) and not value.strip())


def word_in(value: Any) -> str:
    """The word that a cell holds, in small letters: 1 and 1.0 are "1", a blank cell is ""."""
    number = number_in(value)
    if number is not None:
        return f"{number:g}"
    return "" if value is None else str(value).strip().lower()


def yes_or_no(value: Any) -> bool | None:
    """Whether a cell says yes or no; None where it says neither."""
    word = word_in(value)
    return True if word in YES_WORDS else False if word in NO_WORDS else None


def is_array(value: Any) -> bool:
    """Whether it is a numpy array, or looks like one."""
    return isinstance(getattr(value, "shape", None), tuple) and hasattr(value, "dtype")


@dataclass(frozen=True)
class IsoTerm:
    """The term of ISO 3002-5:1989 for a word; clause and term were seen in the contents list of its Korean adoption.

    Without a clause everything is from memory: the clauses on motions, speeds and removal rates were not seen.
    """

    clause: str
    term: str
    symbol: str
    symbol_seen: bool = True
    remark: str = ""


class Check(str):
    """A sentence that asks to look: at a value outside of what is usual, or beyond a limit of the machine."""


@dataclass(frozen=True)
class Quantity:
    """A word: what it means, its unit, the limits outside which it makes no sense, and its customary inch unit."""

    name: str
    symbol: str
    label: str
    unit: str
    help: str
    low: float | None = 0.0
    low_open: bool = True
    high: float | None = None
    choices: tuple[int, ...] | None = None
    usual: tuple[float, float] | None = None  # a hint for people, never an error
    possible: float | None = None  # more there is not on any machine: a value beyond it is a slip (common sense, no source)
    inch_unit: str | None = None
    digits: int = 2  # decimals that a table shows
    is_text: bool = False
    also: tuple[str, ...] = ()  # what shops and books call it, or write for it; only for finding it
    iso: IsoTerm | None = None

    @property
    def inch_factor(self) -> float | None:
        """The shop unit is the inch unit times this."""
        factor = units.ratio(self.inch_unit, self.unit) if self.inch_unit else None
        return None if factor is None else float(factor)

    def converted(self, value: Any, unit: str, name: str = "", turns_per_minute: float | None = None) -> Any:
        """A number written in a unit as one in the shop unit; Refused where the unit is unknown or of another kind.

        A length for each revolution needs the revolutions per minute.  What is no number is given back as it is: the check
        of the value says what it must be.
        """
        factor = units.ratio(unit, self.unit, turns_per_minute)
        if factor is None:
            raise Refused(name or self.name, f"be in {self.unit}", repr(printable(unit)[:40]))
        number = finite_in(value)
        return value if number is None or factor == 1 else float(Fraction(number) * factor)

    @property
    def requirement(self) -> str:
        """What a value must be, in words with the unit: '> 0 mm', 'one of 1, 0, -1'."""
        if self.is_text:
            return "a text"
        if self.choices:
            return "one of " + ", ".join(str(choice) for choice in self.choices)
        bounds = []
        if self.low is not None:
            bounds.append(f"{'>' if self.low_open else '>='} {self.low:g}")
        if self.high is not None:
            bounds.append(f"<= {self.high:g}")
        unit = "" if self.unit == "-" else " " + self.unit
        return (" and ".join(bounds) or "a finite number") + unit

    @property
    def usual_range(self) -> str:
        """The usual range in words: '10 to 80 m/s'; "" where there is none."""
        unit = "" if self.unit == "-" else " " + self.unit
        return f"{self.usual[0]:g} to {self.usual[1]:g}{unit}" if self.usual else ""

    def is_usual(self, value: float) -> bool:
        """Whether a number lies within the usual range; True where there is none."""
        return self.usual is None or self.usual[0] <= value <= self.usual[1]

    def doubt(self, values: Iterable[float], label: str = "") -> str:
        """A sentence on the numbers outside of the usual range, called by its label or another; "" where there are none."""
        odd = [value for value in values if not self.is_usual(value)]
        if not odd:
            return ""
        unit = "" if self.unit == "-" else f" {self.unit}"
        shown_values = ", ".join(f"{value:.4g}" for value in odd[:3]) + (", ..." if odd[3:] else "")
        return Check(f"Check the {label or self.label}: usual is {self.usual_range} (got {shown_values}{unit}).")

    def allows(self, value):
        """True where the number lies within the limits; element by element for an array."""
        if self.choices:
            inside = value == self.choices[0]
            for choice in self.choices[1:]:
                inside = inside | (value == choice)
        else:
            inside = abs(value) < math.inf  # false for "not a number", too
        if self.low is not None:
            inside = inside & ((value > self.low) if self.low_open else (value >= self.low))
        return inside if self.high is None else inside & (value <= self.high)

    def allows_all(self, array) -> bool:
        """Whether every number of an array lies within the limits, with no array of its own where there are no choices.

        Limits without choices are an interval: it holds all where it holds the smallest and the largest. Both are "not a
        number" where one element is.
        """
        if self.choices or not array.size:
            return bool(self.allows(array).all())
        return bool(self.allows(array.min()) and self.allows(array.max()))

    def check(self, value: Any):
        """Give the value back as a float (or float array, or text), or raise Refused, one line saying what is wrong."""
        if self.is_text:
            if isinstance(value, str) and value.strip():
                return value
            raise Refused(self.name, f"be {self.requirement}", shown(value))
        number = number_in(value)
        if number is not None:
            if self.allows(number):
                return number
            raise Refused(self.name, f"be {self.requirement}", repr(number))
        if value is None or isinstance(value, (str, bytes, bool)) or not hasattr(value, "__len__"):
            raise Refused(self.name, f"be a number, {self.requirement}", shown(value))
        return self._check_array(value)

    def check_one(self, value: Any, name: str = "") -> float:
        """The value as one number within the limits, no array; a refusal calls it by `name`."""
        if hasattr(value, "__len__") and not isinstance(value, (str, bytes)):
            raise Refused(name or self.name, f"be one number, {self.requirement}", shown(value))
        try:
            return self.check(value)
        except Refused as refused:
            raise refused.named(name or self.name) from None

    def check_possible(self, number: float, name: str = "") -> float:
        """The number, unless it is more than there is on any machine; a refusal calls it by `name`."""
        if self.possible is not None and self.possible < number < math.inf:
            unit = "" if self.unit == "-" else f" {self.unit}"
            must = f"be <= {self.possible:g}{unit}, there is no more: is it in another unit?"
            raise Refused(name or self.name, must, f"{number:g}")
        return number

    def _check_array(self, value):
        import numpy

        try:
            # numpy would make True a 1 and, beside a text, every number a text: look at lists as they are first.
            kept = is_array(value) and isinstance(value.dtype, numpy.dtype)  # pandas has kinds of its own, Int64 and Float64
            array = numpy.asarray(value, dtype=value.dtype if kept else object)
            fault = "a masked array" if numpy.ma.isMaskedArray(value) else _fault(array)
        except ValueError:
            fault = _UNEQUAL_ROWS
        except Exception:  # noqa: BLE001 - an object that has a length and then no items
            fault = shown(value)
        if fault:
            raise Refused(self.name, f"be numbers, {self.requirement}", fault)
        try:
            with numpy.errstate(over="ignore"):  # of longer floats, refused below
                array = array.astype(float, copy=False)
        except OverflowError:
            raise Refused(self.name, f"be numbers, {self.requirement}", "one too large for computing") from None
        if not self.allows_all(array):
            place, number = first_place(array, ~self.allows(array))
            raise Refused(self.name, f"be {self.requirement}", f"{number!r}{place}")
        return array


_UNEQUAL_ROWS = "rows of unequal length"


def _fault(array) -> str | None:
    """What keeps an array from being one of numbers."""
    if array.dtype.kind != "O":
        return None if array.dtype.kind in "iuf" else f"an array of {array.dtype}"
    for item in array.ravel().tolist():
        if isinstance(item, (list, tuple)):
            return _UNEQUAL_ROWS
        if number_in(item) is None:
            return shown(item) if item is None or isinstance(item, (str, bytes, bool)) else f"a {type(item).__name__}"
    return None


def first_place(array, marked):
    """The first marked number of an array, and where it stands: (' at position 3', 0.5)."""
    import numpy

    place = tuple(int(index) for index in numpy.argwhere(marked)[0])
    where = str(place[0] if len(place) == 1 else place)
    return f" at position {where}" if place else "", float(array[place])


def _words(*quantities: Quantity) -> dict[str, Quantity]:
    return {quantity.name: quantity for quantity in quantities}


QUANTITIES: dict[str, Quantity] = _words(
    Quantity(
        "wheel_diameter",
        "d_s",
        "wheel diameter",
        "mm",
        "Diameter of the grinding wheel as it is now, worn or dressed.",
        usual=(10, 750),
        possible=3000,
        inch_unit="in",
        also=("wheel size",),
        iso=IsoTerm("4.1", "grinding wheel and workpiece diameter", "d_s", symbol_seen=False),
    ),
    Quantity(
        "wheel_rpm",
        "n_s",
        "wheel speed of rotation",
        "1/min",
        "Revolutions of the wheel per minute. Never above the maximum marked on the wheel.",
        usual=(500, 60000),
        possible=500000,
        digits=0,
        also=("spindle speed", "spindle rpm"),
        iso=IsoTerm("", "", "n_s", symbol_seen=False),
    ),
    Quantity(
        "wheel_speed",
        "v_s",
        "wheel speed",
        "m/s",
        "Peripheral speed of the wheel. Never above the maximum marked on the wheel.",
        usual=(10, 80),
        possible=300,
        inch_unit="ft/min",
        digits=1,
        also=("peripheral speed", "surface speed", "cutting speed", "v_c"),
        iso=IsoTerm("", "", "v_s", symbol_seen=False),
    ),
    Quantity(
        "work_diameter",
        "d_w",
        "work diameter",
        "mm",
        "Diameter of the ground surface: the part, or the bore for internal grinding.",
        usual=(1, 500),
        possible=20000,
        inch_unit="in",
        also=("part diameter", "workpiece diameter", "bore"),
        iso=IsoTerm("4.1", "grinding wheel and workpiece diameter", "d_w", symbol_seen=False),
    ),
    Quantity(
        "work_rpm",
        "n_w",
        "work speed of rotation",
        "1/min",
        "Revolutions of the work per minute.",
        usual=(5, 2000),
        possible=100000,
        digits=1,
        also=("part rpm", "workhead speed", "headstock speed", "chuck speed"),
        iso=IsoTerm("", "", "n_w", symbol_seen=False),
    ),
    Quantity(
        "work_speed",
        "v_w",
        "work speed",
        "m/min",
        "Peripheral speed of the work, or table speed for flat grinding.",
        usual=(1, 60),
        possible=10000,
        inch_unit="ft/min",
        also=("workpiece speed", "part speed", "table speed", "surface speed"),
        iso=IsoTerm("", "", "v_w", symbol_seen=False),
    ),
    Quantity(
        "side",
        "side",
        "side of contact",
        "-",
        "+1 external (wheel outside the part), 0 flat, -1 internal (wheel in a bore).",
        low=None,
        choices=(EXTERNAL, FLAT, INTERNAL),
        digits=0,
        also=("external", "internal", "flat", "bore"),
    ),
    Quantity(
        "infeed_rate",
        "v_f",
        "infeed rate on the radius",
        "mm/min",
        "Radial infeed per minute. A machine that shows infeed on the diameter shows twice this value.",
        usual=(0.01, 10),
        possible=1000,
        inch_unit="in/min",
        digits=3,
        also=("feed", "feed rate", "plunge feed", "infeed speed", "v_fr"),
    ),
    Quantity(
        "depth_of_cut",
        "a_e",
        "depth of cut",
        "µm",
        "Radial depth removed per work revolution, or per pass.",
        usual=(0.1, 100),
        possible=50000,
        inch_unit="µin",
        digits=3,
        also=("cut depth", "infeed per revolution", "working engagement"),
        iso=IsoTerm("7.2", "working engagement", "a_e"),
    ),
    Quantity(
        "equivalent_diameter",
        "d_e",
        "equivalent wheel diameter",
        "mm",
        "Diameter of the wheel that has the same contact on a flat. ISO 3002-5 gives the radius, half of this.",
        inch_unit="in",
        also=("d_eq", "effective diameter", "conformity"),
        iso=IsoTerm("4.10", "equivalent grinding wheel radius", "r_eq", remark="A radius: d_e = 2 r_eq."),
    ),
    Quantity(
        "contact_length",
        "l_g",
        "geometric contact length",
        "mm",
        "Length of the arc of contact between wheel and work, without deflection.",
        inch_unit="in",
        digits=3,
        also=("arc of contact", "chip length"),
    ),
    Quantity(
        "removal_rate",
        "Q'_w",
        "specific removal rate",
        "mm³/(mm·s)",
        "Volume of work removed per second and per millimetre of grinding width.",
        usual=(0.05, 50),
        inch_unit="in³/(in·min)",
        digits=3,
        also=("MRR", "material removal rate", "stock removal rate", "Q prime"),
        iso=IsoTerm("", "", "Q'_w", symbol_seen=False),
    ),
    Quantity(
        "equivalent_thickness",
        "h_eq",
        "equivalent grinding thickness",
        "µm",
        "Thickness of the layer of chips that leaves with the wheel surface.",
        inch_unit="µin",
        digits=4,
        also=("equivalent chip thickness",),
        iso=IsoTerm("10.1", "equivalent grinding thickness per unit active grinding wheel width", "h_eq"),
    ),
    Quantity(
        "speed_ratio",
        "q_s",
        "speed ratio",
        "-",
        "Wheel speed over work speed.",
        usual=(20, 1000),
        digits=0,
        also=("q", "speed quotient"),
        iso=IsoTerm("", "speed ratio", "q", symbol_seen=False),
    ),
    Quantity(
        "grit_size",
        "d_g",
        "mean grit size",
        "µm",
        "Mean size of the grits. The D or B number of ISO 6106 is not the mean size.",
        usual=(3, 1200),
        possible=10000,
        inch_unit="µin",
        digits=1,
        also=("grain size", "particle size"),
    ),
    Quantity(
        "concentration",
        "K",
        "concentration",
        "-",
        "Concentration number: 100 means 25 % grit by volume (4.4 carat of diamond per cm³).",
        high=400.0,
        usual=(25, 200),
        digits=0,
        also=("carats", "diamond content"),
    ),
    Quantity(
        "active_fraction",
        "f",
        "active fraction of the grits",
        "-",
        "Part of the surface grits that cut; 0.5 is usual in the literature.",
        high=1.0,
        usual=(0.1, 1.0),
        also=("active grains",),
    ),
    Quantity(
        "grit_density",
        "C",
        "active grits per area",
        "1/mm²",
        "Cutting grits per square millimetre of wheel surface. For depth only the product C r matters: an error in it scales "
        "every depth alike and leaves the rpm that holds the knee unchanged.",
        usual=(0.5, 500),
        possible=100000,
        inch_unit="1/in²",
        also=("active grain count", "grain density", "cutting points", "cutting edges"),
        iso=IsoTerm("11.3", "active grain count", "N_act", remark="Whether it counts by area or by length was not seen."),
    ),
    Quantity(
        "shape_ratio",
        "r",
        "chip width to thickness ratio",
        "-",
        "Width of the undeformed chip over its thickness, usually 5 to 20.",
        usual=(5, 20),
        possible=1000,
        digits=1,
        also=("chip shape", "aspect ratio", "r_g"),
    ),
    Quantity(
        "grit_depth",
        "h_m",
        "grit depth",
        "µm",
        "Maximum undeformed chip thickness: how deep a grit cuts at the end of its arc (prefactor 4).",
        usual=(0.1, 5),
        possible=1000,
        inch_unit="µin",
        digits=3,
        also=("chip thickness", "undeformed chip thickness", "uncut chip thickness", "grain depth", "chip load", "h_max", "h_cu"),
    ),
    Quantity(
        "power",
        "P",
        "power reading",
        "kW",
        "Power of the spindle while grinding.",
        low_open=False,
        usual=(0, 200),
        possible=10000,
        inch_unit="hp",
        digits=3,
        also=("spindle power", "spindle load", "load", "motor power"),
    ),
    Quantity(
        "idle_power",
        "P_0",
        "idle power",
        "kW",
        "Power of the spindle at speed with coolant on, wheel not touching the work.",
        low_open=False,
        usual=(0, 50),
        possible=10000,
        inch_unit="hp",
        digits=3,
        also=("no-load power", "tare"),
    ),
    Quantity(
        "net_power",
        "P_g",
        "grinding power",
        "kW",
        "Power that goes into grinding: reading less idle.",
        low_open=False,
        inch_unit="hp",
        digits=3,
        also=("net load",),
    ),
    Quantity(
        "contact_width",
        "b",
        "grinding width",
        "mm",
        "Width of the wheel in contact with the work.",
        usual=(0.5, 300),
        possible=5000,
        inch_unit="in",
        also=("width of cut", "plunge width", "active width"),
        iso=IsoTerm(
            "9.1, 10.1",
            "active grinding wheel width",
            "",
            remark="Named inside these two terms; its own clause was not seen. The width of the wheel itself is 4.3.",
        ),
    ),
    Quantity(
        "specific_energy",
        "u",
        "specific energy",
        "J/mm³",
        "Grinding energy per volume of work removed; e_c in some texts.",
        usual=(10, 500),
        inch_unit="hp·min/in³",
        also=("e_c", "specific grinding energy", "unit power"),
    ),
    Quantity(
        "tangential_force",
        "F_t",
        "tangential force",
        "N",
        "Force of the wheel on the work along the wheel speed.",
        low_open=False,
        inch_unit="lbf",
        also=("grinding force", "cutting force"),
        iso=IsoTerm("9.1", "grinding force per unit active grinding wheel width", "F'", remark="By width; here the whole force."),
    ),
    Quantity(
        "volts",
        "U",
        "line voltage",
        "V",
        "Voltage between two phases of the three-phase supply.",
        possible=50000,
        digits=0,
        also=("voltage",),
    ),
    Quantity(
        "amps",
        "I",
        "line current",
        "A",
        "Current in one phase of the three-phase supply.",
        low_open=False,
        also=("current", "amperes", "ammeter"),
    ),
    Quantity(
        "power_factor", "cos φ", "power factor", "-", "Power factor of the motor at that load.", high=1.0, also=("cos phi",)
    ),
    Quantity(
        "chip_rate",
        "n_c",
        "chips per second",
        "1/s",
        "Chips formed per second over the grinding width.",
        digits=0,
        also=("number of chips",),
    ),
    Quantity("chip_volume", "V_c", "mean chip volume", "µm³", "Mean volume of one chip.", digits=0, also=("chip size",)),
    Quantity(
        "heat_fraction",
        "R_w",
        "share of the heat that enters the work",
        "-",
        "Part of the grinding power that becomes heat in the work; wheel, chips and coolant take the rest.",
        high=1.0,
        usual=(0.02, 0.9),
        also=("energy partition", "heat partition", "partition ratio"),
    ),
    Quantity(
        "heat_flux",
        "q_w",
        "heat flux into the work",
        "W/mm²",
        "Heat that enters the work per second and per area of contact.",
        usual=(0.1, 200),
        also=("heat flow",),
    ),
    Quantity(
        "conductivity",
        "k",
        "thermal conductivity of the work",
        "W/(m·K)",
        "Thermal conductivity of the work material, near the temperature in question.",
        usual=(5, 400),
        digits=1,
        also=("lambda",),
    ),
    Quantity(
        "diffusivity",
        "α",
        "thermal diffusivity of the work",
        "mm²/s",
        "Conductivity over density and specific heat of the work material.",
        usual=(2, 120),
        also=("alpha",),
    ),
    Quantity(
        "temperature_rise",
        "ΔT",
        "temperature rise",
        "K",
        "Rise above the temperature of the work before the contact.",
        usual=(10, 1500),
        digits=0,
        also=("temperature",),
    ),
    Quantity(
        "peclet_number",
        "L",
        "Peclet number of the contact",
        "-",
        "How fast the contact moves beside the spread of heat: v_w l_g / (4 α).",
        usual=(0.5, 500),
        digits=1,
        also=("Pe", "thermal number"),
    ),
    Quantity(
        "base_energy",
        "u_0",
        "energy that does not heat the work",
        "J/mm³",
        "Specific energy carried off by the chips; 6.2 for plain carbon steel in the literature.",
        usual=(1, 20),
        inch_unit="hp·min/in³",
        digits=1,
        also=("chip energy",),
    ),
    Quantity(
        "burn_coefficient",
        "B",
        "burn coefficient of the work",
        "J/(mm²·√s)",
        "What heat the surface bears before it burns; 7.2 for plain carbon steel in the literature.",
        usual=(1, 40),
        also=("burn", "thermal damage"),
    ),
    Quantity(
        "outer_diameter",
        "D",
        "outer diameter of the ring",
        "mm",
        "Larger diameter of the layer that was removed: part before, bore after, or wheel before.",
        usual=(1, 750),
        inch_unit="in",
    ),
    Quantity(
        "inner_diameter",
        "d",
        "inner diameter of the ring",
        "mm",
        "Smaller diameter of the layer that was removed: part after, bore before, or wheel after.",
        usual=(1, 750),
        inch_unit="in",
    ),
    Quantity(
        "axial_width",
        "w",
        "width of the ring",
        "mm",
        "Width of the layer that was removed, along the axis.",
        usual=(0.5, 500),
        inch_unit="in",
    ),
    Quantity(
        "ring_volume",
        "V",
        "volume of the ring",
        "mm³",
        "Volume of a layer between two diameters.",
        inch_unit="in³",
        digits=1,
        also=("stock",),
    ),
    Quantity(
        "work_volume",
        "V_w",
        "volume of work removed",
        "mm³",
        "Volume ground off the work.",
        usual=(1, 1e6),
        inch_unit="in³",
        digits=1,
        also=("stock removal", "stock removed", "material removed"),
        iso=IsoTerm("8.1", "material removal (volume)", "V_w"),
    ),
    Quantity(
        "wheel_volume",
        "V_s",
        "volume of wheel lost",
        "mm³",
        "Volume that the wheel loses; say whether dressing is counted.",
        usual=(0.01, 1e5),
        inch_unit="in³",
        digits=3,
        also=("wheel wear", "wheel loss"),
        iso=IsoTerm("8.2", "volumetric grinding wheel wear", "V_s"),
    ),
    Quantity(
        "grinding_ratio",
        "G",
        "grinding ratio",
        "-",
        "Volume of work removed over volume of wheel lost.",
        usual=(1, 5000),
        digits=1,
        also=("G-ratio", "wear ratio"),
        iso=IsoTerm("8.3", "grinding ratio", "G"),
    ),
    Quantity(
        "designation",
        "designation",
        "grit designation",
        "-",
        "ISO 6106 designation such as D126 or B126, or the two sieve numbers such as 120/140.",
        low=None,
        is_text=True,
        also=("mesh", "mesh number", "sieve", "grit number", "FEPA", "D126", "B126"),
    ),
)


@dataclass(frozen=True)
class Relation:
    """A limit that ties several words together; it applies to every formula that has them all as arguments."""

    names: tuple[str, ...]
    margin: Callable  # of the values, in the order of names; also of cells, as a formula
    may_vanish: bool  # the margin must be >= 0, otherwise > 0
    must: str  # what the first of them has to be

    @property
    def text(self) -> str:
        """The limit in one sentence."""
        return f"{self.names[0]} must {self.must}"

    def _margin(self, values: list[Any]):
        if not any(map(is_array, values)):
            return self.margin(*values)
        import numpy

        with numpy.errstate(over="ignore"):  # an infinite margin is one, too
            return self.margin(*values)

    def check(self, values: dict[str, Any]) -> None:
        margin = self._margin([values[name] for name in self.names])
        holds = margin >= 0 if self.may_vanish else margin > 0
        if getattr(holds, "all", lambda: holds)():
            return
        got = ", ".join(f"{name} = {_where_broken(values[name], holds)}" for name in self.names)
        raise Refused(self.names[0], self.must, got)


def _where_broken(value, holds):
    """The value, for an array the one at the first place where the relation does not hold."""
    if not hasattr(holds, "shape") or not hasattr(value, "shape"):
        return value
    import numpy

    place, number = first_place(numpy.broadcast_to(value, holds.shape), ~holds)
    return f"{number!r}{place}"


RELATIONS: tuple[Relation, ...] = (
    Relation(
        ("work_diameter", "wheel_diameter", "side"),
        lambda work_diameter, wheel_diameter, side: work_diameter + side * wheel_diameter,
        False,
        "be > wheel_diameter for internal grinding, side -1",
    ),
    Relation(("power", "idle_power"), lambda power, idle_power: power - idle_power, True, "be >= idle_power, both in kW"),
    Relation(
        ("outer_diameter", "inner_diameter"),
        lambda outer_diameter, inner_diameter: outer_diameter - inner_diameter,
        False,
        "be > inner_diameter, both in mm",
    ),
)
