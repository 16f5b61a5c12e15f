"""Planning: the rpm steps of a trial, and work speeds that hold a grit depth under the limits of wheel and machine."""
from dataclasses import asdict, dataclass
from math import inf, pi
from typing import Any, Dict, Iterable, List, Optional, Tuple

from .formulas import catalogue
from .quantities import QUANTITIES

OK = "ok"
ROUNDING = 1e-12  # a limit reached but for the last digits of computing is kept; spreadsheets compare in the same way
BAND = 0.02  # hold within about ±2 % of the chosen depth (common practice, no source)
STEP_PERCENT = 10.0  # step 10 % of rpm (common practice, no source)
STEPS_EACH_SIDE = 6  # to ±60 %: rpm moves depth with the fourth root only, so less hardly moves it


@dataclass(frozen=True)
class Limits:
    """What machine and wheel allow; None is no limit. Wheel speed is judged apart: it must never pass the marked speed."""

    lowest_work_rpm: Optional[float] = None
    highest_work_rpm: Optional[float] = None
    lowest_infeed_rate: Optional[float] = None
    highest_infeed_rate: Optional[float] = None
    lowest_speed_ratio: Optional[float] = None
    highest_speed_ratio: Optional[float] = None
    highest_removal_rate: Optional[float] = None
    highest_power: Optional[float] = None

    def __post_init__(self):
        for name, value in asdict(self).items():
            if value is not None:
                _check(name, value, _limited(name))
        for quantity in ("work_rpm", "infeed_rate", "speed_ratio"):
            low, high = getattr(self, "lowest_" + quantity), getattr(self, "highest_" + quantity)
            if low is not None and high is not None and low > high:
                raise ValueError(f"lowest_{quantity} must be <= highest_{quantity} (got {low!r} and {high!r})")


# The words of a broken limit, in the order in which they are tried; the workbook's formulas use the same list.
LIMIT_WORDS: Tuple[Tuple[str, str, str], ...] = (
    ("highest_work_rpm", "work_rpm", "rpm too high"),
    ("lowest_work_rpm", "work_rpm", "rpm too low"),
    ("highest_infeed_rate", "infeed_rate", "infeed too high"),
    ("lowest_infeed_rate", "infeed_rate", "infeed too low"),
    ("highest_speed_ratio", "speed_ratio", "ratio too high"),
    ("lowest_speed_ratio", "speed_ratio", "ratio too low"),
    ("highest_removal_rate", "removal_rate", "Q'w too high"),
    ("highest_power", "power", "power too high"),
)
DOES_NOT_FIT = "wheel too large"  # for the bore


def _limited(limit_name: str):
    """The vocabulary's word that a limit such as highest_work_rpm limits."""
    return QUANTITIES[limit_name.partition("_")[2]]


def _check(name: str, value: Any, quantity) -> float:
    try:
        return quantity.check(value)
    except ValueError as error:
        raise ValueError(str(error).replace(quantity.name, name, 1)) from None


@dataclass(frozen=True)
class SpeedCell:
    """One setup of a speed table; work_rpm and what follows from it are None where the wheel does not fit the bore."""

    work_diameter: float  # mm
    infeed_rate: float  # mm/min on the radius
    work_rpm: Optional[float]  # 1/min
    lowest_rpm: Optional[float]  # 1/min, at the lower edge of the depth band
    highest_rpm: Optional[float]  # 1/min, at the upper edge
    work_speed: Optional[float]  # m/min
    speed_ratio: Optional[float]
    removal_rate: float  # mm³/(mm·s)
    power: Optional[float]  # kW with idle; None without a specific energy
    broken: Tuple[str, ...]  # limits that this setup breaks, in words

    @property
    def word(self) -> str:
        """The first broken limit, or 'ok'."""
        return self.broken[0] if self.broken else OK


@dataclass(frozen=True)
class SpeedTable:
    """Work rpm for part diameters (rows) by infeed rates (columns) at one grit depth."""

    grit_depth: float  # µm
    band: float  # ± fraction of the depth
    wheel_speed: float  # m/s
    work_diameters: Tuple[float, ...]
    infeed_rates: Tuple[float, ...]
    rows: Tuple[Tuple[SpeedCell, ...], ...]

    def report(self) -> str:
        """The table as text: rpm, marked with a letter where a limit is broken, and what the letters mean."""
        letters: Dict[str, str] = {}
        lines = [f"Work rpm [1/min] for a grit depth of {self.grit_depth:.3f} µm at {self.wheel_speed:.1f} m/s wheel speed",
                 f"(depth within ±{100 * self.band:g} % needs rpm within {100 * ((1 - self.band)**4 - 1):+.1f} to "
                 f"{100 * ((1 + self.band)**4 - 1):+.1f} %)", "",
                 "part diameter      infeed rate on the radius, mm/min",
                 "           mm" + "".join(f"{rate:>11g} " for rate in self.infeed_rates)]
        for diameter, row in zip(self.work_diameters, self.rows):
            shown = []
            for cell in row:
                mark = " "
                if cell.broken:
                    mark = letters.setdefault(cell.word, chr(ord("a") + len(letters)))
                shown.append(("-" if cell.work_rpm is None else f"{cell.work_rpm:.1f}").rjust(11) + mark)
            lines.append(f"{diameter:>13g}" + "".join(shown))
        lines += [""] + [f"  {letter}: {word}: do not use" for word, letter in letters.items()]
        return "\n".join(lines).rstrip()

    def as_dict(self) -> Dict[str, Any]:
        """Everything as plain numbers, words and lists, ready for JSON."""
        return asdict(self)


def check_marked_speed(wheel_speed: float, marked_wheel_speed: float) -> None:
    """Raise ValueError when the wheel would turn faster than the speed marked on it."""
    marked = _check("marked_wheel_speed", marked_wheel_speed, QUANTITIES["wheel_speed"])
    if QUANTITIES["wheel_speed"].check(wheel_speed) > marked:
        raise ValueError(f"wheel_speed must be <= {marked:g} m/s, the speed marked on the wheel (got {wheel_speed!r})")


def speed_table(*, grit_depth: float, work_diameters: Iterable[float], infeed_rates: Iterable[float], wheel_speed: float,
                marked_wheel_speed: float, wheel_diameter: float, side: int, grit_density: float, shape_ratio: float,
                limits: Limits = Limits(), band: float = BAND, specific_energy: Optional[float] = None,
                contact_width: Optional[float] = None, idle_power: float = 0.0) -> SpeedTable:
    """Work rpm that holds a grit depth, for each part diameter and infeed rate.

    n_w = d_e / v_f · (h² C r v_s 60000 / (4 π d_w))², as `work_rpm_for`. Units: grit_depth µm, diameters mm, infeed_rates
    mm/min on the radius, speeds m/s, grit_density 1/mm², specific_energy J/mm³, contact_width mm, idle_power kW. `band` is the
    allowed deviation of the depth as a fraction. The expected power needs specific_energy and contact_width.

    Raises ValueError for an input outside its limits, and when wheel_speed is above marked_wheel_speed.
    """
    check_marked_speed(wheel_speed, marked_wheel_speed)
    if isinstance(band, bool) or not isinstance(band, (int, float)) or not 0 < band < 1:
        raise ValueError(f"band must be a fraction > 0 and < 1 of the depth (got {band!r})")
    if (specific_energy is None) != (contact_width is None):
        raise ValueError("specific_energy and contact_width must be given together "
                         f"(got {specific_energy!r} J/mm³ and {contact_width!r} mm)")
    if limits.highest_power is not None and specific_energy is None:
        raise ValueError("highest_power needs specific_energy and contact_width to compare with (got neither)")
    diameters = tuple(QUANTITIES["work_diameter"].check(value) for value in _listed(work_diameters, "work_diameters"))
    rates = tuple(QUANTITIES["infeed_rate"].check(value) for value in _listed(infeed_rates, "infeed_rates"))
    wheel = dict(wheel_speed=wheel_speed, wheel_diameter=wheel_diameter, side=side, grit_density=grit_density,
                 shape_ratio=shape_ratio)
    energy = None if specific_energy is None else dict(specific_energy=specific_energy, contact_width=contact_width)
    QUANTITIES["idle_power"].check(idle_power)

    def cell(diameter: float, rate: float) -> SpeedCell:
        removal_rate = catalogue["removal_rate"].call(diameter, rate)
        power = energy and catalogue["grinding_power"].call(removal_rate=removal_rate, **energy) + idle_power
        values = dict(work_diameter=diameter, infeed_rate=rate, removal_rate=removal_rate, power=power)
        if side == -1 and diameter <= wheel_diameter:
            return SpeedCell(work_rpm=None, lowest_rpm=None, highest_rpm=None, work_speed=None, speed_ratio=None,
                             broken=(DOES_NOT_FIT,), **values)
        rpm = catalogue["work_rpm_for"].call(grit_depth=grit_depth, work_diameter=diameter, infeed_rate=rate, **wheel)
        speed = catalogue["work_speed"].call(diameter, rpm)
        values.update(work_rpm=rpm, work_speed=speed, speed_ratio=catalogue["speed_ratio"].call(wheel_speed, speed))
        return SpeedCell(lowest_rpm=rpm * (1 - band)**4, highest_rpm=rpm * (1 + band)**4,
                         broken=broken_limits(values, limits), **values)

    # Checked once with a part that fits, so that a bad input is named even when no part fits the wheel.
    catalogue["work_rpm_for"].check(grit_depth=grit_depth, work_diameter=2 * QUANTITIES["wheel_diameter"].check(wheel_diameter),
                                    infeed_rate=1.0, **wheel)
    return SpeedTable(float(grit_depth), float(band), float(wheel_speed), diameters, rates,
                      tuple(tuple(cell(diameter, rate) for rate in rates) for diameter in diameters))


def _listed(values: Iterable[float], name: str) -> List[float]:
    try:
        listed = list(values)
    except TypeError:
        raise ValueError(f"{name} must be a list of numbers (got {values!r})") from None
    if not listed:
        raise ValueError(f"{name} must be a list of at least one number (got an empty list)")
    return listed


def broken_limits(values: Dict[str, Any], limits: Limits) -> Tuple[str, ...]:
    """The words of the limits that the values of one setup break."""
    broken = []
    for limit_name, quantity_name, word in LIMIT_WORDS:
        limit, value = getattr(limits, limit_name), values.get(quantity_name)
        if limit is None or value is None:
            continue
        beyond = value - limit if limit_name.startswith("highest") else limit - value
        if beyond > ROUNDING * limit:
            broken.append(word)
    return tuple(broken)


# How each limit bounds the infeed rate at constant grit depth, in the order in which a tie is named.  There work rpm times
# infeed rate is fixed: a slower infeed takes a faster work, so a limit to faster work is a lower bound.
UPPER_BOUNDS = ("highest_infeed_rate", "lowest_work_rpm", "highest_speed_ratio", "highest_removal_rate", "highest_power")
LOWER_BOUNDS = ("lowest_infeed_rate", "highest_work_rpm", "lowest_speed_ratio")


@dataclass(frozen=True)
class FastestSetup:
    """The highest infeed rate that holds a grit depth within all limits, and the limit that binds.

    `setup` is None where no infeed rate keeps all limits; then `binds` and `against` are the two that exclude each other.
    """

    setup: Optional[SpeedCell]
    binds: str  # the limit that keeps the infeed rate from rising; its name in Limits, or DOES_NOT_FIT
    against: Optional[str]  # the limit that needs a higher infeed rate than `binds` allows, where none fits

    @property
    def words(self) -> str:
        """One line for people."""
        if self.setup:
            return f"{self.setup.infeed_rate:.4g} mm/min at {self.setup.work_rpm:.4g} 1/min, bound by the {_in_words(self.binds)}"
        if self.binds == DOES_NOT_FIT:
            return self.binds
        if self.against is None:
            return f"no setup: the {_in_words(self.binds)} leaves nothing to grind with"
        return f"no setup: the {_in_words(self.binds)} excludes the {_in_words(self.against)}"


def _in_words(limit_name: str) -> str:
    return limit_name.replace("_", " ")


def infeed_bounds(work_diameter: float, rpm_times_infeed: float, wheel_speed: float, limits: Limits,
                  specific_energy: Optional[float], contact_width: Optional[float], idle_power: float) -> Dict[str, float]:
    """The bound that each given limit sets to the infeed rate [mm/min on the radius] at constant grit depth.

    With n_w v_f = rpm_times_infeed [mm/min²] fixed: q_s = 60000 v_s v_f / (π d_w n_w v_f), Q'w = π d_w v_f / 60,
    P = u Q'w b / 1000 + P_0.
    """
    per_ratio = pi * work_diameter * rpm_times_infeed / (60000 * wheel_speed)
    per_removal = 60 / (pi * work_diameter)
    bounds = {
        "highest_infeed_rate": (limits.highest_infeed_rate, 1.0), "lowest_infeed_rate": (limits.lowest_infeed_rate, 1.0),
        "highest_speed_ratio": (limits.highest_speed_ratio, per_ratio), "lowest_speed_ratio": (limits.lowest_speed_ratio, per_ratio),
        "highest_removal_rate": (limits.highest_removal_rate, per_removal),
    }
    if limits.highest_power is not None:
        bounds["highest_power"] = (max(0.0, limits.highest_power - idle_power), 1000 * per_removal / (specific_energy * contact_width))
    found = {name: limit * factor for name, (limit, factor) in bounds.items() if limit is not None}
    for name in ("highest_work_rpm", "lowest_work_rpm"):
        if getattr(limits, name) is not None:
            found[name] = rpm_times_infeed / getattr(limits, name)
    return found


def fastest_setup(*, grit_depth: float, work_diameter: float, wheel_speed: float, marked_wheel_speed: float, wheel_diameter: float,
                  side: int, grit_density: float, shape_ratio: float, limits: Limits, band: float = BAND,
                  specific_energy: Optional[float] = None, contact_width: Optional[float] = None,
                  idle_power: float = 0.0) -> FastestSetup:
    """The setup with the highest infeed rate, hence the shortest cycle, that holds a grit depth within all limits.

    Closed form: each limit bounds the infeed rate from above or from below; the lowest upper bound is the answer unless a
    lower bound lies above it. Units as in `speed_table`. Raises ValueError for inputs outside their limits, for a wheel
    above its marked speed, and when no limit bounds the infeed rate from above.
    """
    wheel = dict(wheel_speed=wheel_speed, marked_wheel_speed=marked_wheel_speed, wheel_diameter=wheel_diameter, side=side,
                 grit_density=grit_density, shape_ratio=shape_ratio, limits=limits, band=band, specific_energy=specific_energy,
                 contact_width=contact_width, idle_power=idle_power)

    def setup_at(infeed_rate: float) -> SpeedCell:
        return speed_table(grit_depth=grit_depth, work_diameters=[work_diameter], infeed_rates=[infeed_rate], **wheel).rows[0][0]

    unit = setup_at(1.0)  # checks every input; its rpm is rpm times infeed
    if unit.work_rpm is None:
        return FastestSetup(None, DOES_NOT_FIT, None)
    bounds = infeed_bounds(unit.work_diameter, unit.work_rpm, wheel_speed, limits, specific_energy, contact_width, idle_power)
    upper = min((name for name in UPPER_BOUNDS if name in bounds), key=bounds.get, default=None)
    if upper is None:
        raise ValueError(f"limits must bound the infeed rate by at least one of {', '.join(UPPER_BOUNDS)} (got none of them)")
    lower = max((name for name in LOWER_BOUNDS if name in bounds), key=bounds.get, default=None)
    if bounds[upper] <= 0 or lower is not None and bounds[lower] > bounds[upper] * (1 + ROUNDING):
        return FastestSetup(None, upper, lower)
    return FastestSetup(setup_at(bounds[upper]), upper, None)


@dataclass(frozen=True)
class PlannedReading:
    """One reading of a trial plan; work_rpm is None where the machine's limits forbid it."""

    number: int
    step_percent: float
    work_rpm: Optional[float]


def plan_trial(nominal_rpm: float, *, step_percent: float = STEP_PERCENT, steps_each_side: int = STEPS_EACH_SIDE,
               lowest_work_rpm: Optional[float] = None, highest_work_rpm: Optional[float] = None,
               spacing: str = "rpm") -> Tuple[PlannedReading, ...]:
    """The rpm steps of a trial in run order: 0, +10, -10, +20, -20 ... %, nominal again in the middle and at the end.

    Stepping out to both sides in turn keeps drift (wheel wear, warming up) from posing as an effect of depth, and the
    repeats of nominal show the drift and the scatter. Rpm in 1/min.

    spacing "rpm": equal steps of rpm; a step outside the machine's limits carries no rpm.
    spacing "depth": the same range, cut at the machine's limits, in equal steps of grit depth, which goes with rpm^(1/4).
    """
    rpm = _check("nominal_rpm", nominal_rpm, QUANTITIES["work_rpm"])
    limits = Limits(lowest_work_rpm=lowest_work_rpm, highest_work_rpm=highest_work_rpm)
    if isinstance(steps_each_side, bool) or not isinstance(steps_each_side, int) or not 1 <= steps_each_side <= 18:
        raise ValueError(f"steps_each_side must be a whole number from 1 to 18 (got {steps_each_side!r})")
    if isinstance(step_percent, bool) or not isinstance(step_percent, (int, float)) or not 0 < step_percent * steps_each_side < 100:
        raise ValueError(f"step_percent must be > 0 and, times {steps_each_side} steps, < 100 % of nominal (got {step_percent!r})")
    if spacing not in ("rpm", "depth"):
        raise ValueError(f"spacing must be rpm or depth (got {spacing!r})")
    if spacing == "depth" and broken_limits({"work_rpm": rpm}, limits):
        raise ValueError(f"nominal_rpm must be within the machine's limits (got {nominal_rpm!r})")
    outward = [sign * number for number in range(1, steps_each_side + 1) for sign in (1, -1)]
    middle = 2 * ((steps_each_side + 1) // 2)
    slowest = max((100 - steps_each_side * step_percent) / 100, (lowest_work_rpm or 0) / rpm)
    fastest = min((100 + steps_each_side * step_percent) / 100, (highest_work_rpm or inf) / rpm)
    readings = []
    for number, step in enumerate([0] + outward[:middle] + [0] + outward[middle:] + [0], start=1):
        ratio = (100 + step * step_percent) / 100
        if spacing == "depth":
            edge = (fastest if step > 0 else slowest)**0.25
            ratio = (1 + abs(step) / steps_each_side * (edge - 1))**4
        allowed = spacing == "depth" or not broken_limits({"work_rpm": rpm * ratio}, limits)
        readings.append(PlannedReading(number, 100 * (ratio - 1) if spacing == "depth" else float(step * step_percent),
                                       rpm * ratio if allowed else None))
    return tuple(readings)
