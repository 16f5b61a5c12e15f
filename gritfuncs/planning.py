"""Planning: the rpm steps of a trial, and work speeds that hold a grit depth under the limits of wheel and machine."""

from __future__ import annotations

from collections.abc import Iterable, Sized
from dataclasses import asdict, dataclass, fields
from functools import cached_property
from itertools import compress
from math import inf, pi
from typing import Any

from .formulas import catalogue
from .quantities import INTERNAL, QUANTITIES, Quantity, items_of, number_in, shown
from .refused import Refused, Unusable

OK = "ok"
ROUNDING = 1e-12  # a limit reached but for the last digits of computing is kept; spreadsheets compare in the same way
BAND = 0.02  # hold within about ±2 % of the chosen depth (common practice, no source)
STEP_PERCENT = 10.0  # step 10 % of rpm (common practice, no source)
STEPS_EACH_SIDE = 6  # to ±60 %: rpm moves depth with the fourth root only, so less hardly moves it


@dataclass(frozen=True)
class Limits:
    """What machine and wheel allow; None is no limit. Wheel speed is judged apart: it must never pass the marked speed."""

    lowest_work_rpm: float | None = None
    highest_work_rpm: float | None = None
    lowest_infeed_rate: float | None = None
    highest_infeed_rate: float | None = None
    lowest_speed_ratio: float | None = None
    highest_speed_ratio: float | None = None
    highest_removal_rate: float | None = None
    highest_power: float | None = None

    def __repr__(self) -> str:
        given = {field.name: getattr(self, field.name) for field in fields(self)}
        return f"Limits({', '.join(f'{name}={value!r}' for name, value in given.items() if value is not None)})"

    def __post_init__(self):
        for name, value in [(field.name, getattr(self, field.name)) for field in fields(self)]:
            if value is not None:
                object.__setattr__(self, name, _limited(name).check_one(value, name))
        for quantity in ("work_rpm", "infeed_rate", "speed_ratio"):
            low, high = getattr(self, "lowest_" + quantity), getattr(self, "highest_" + quantity)
            if low is not None and high is not None and low > high:
                raise Refused(f"lowest_{quantity}", f"be <= highest_{quantity}", f"{low:g} and {high:g}")


# The words of a broken limit, in the order in which they are tried; the workbook's formulas use the same list.
LIMIT_WORDS: tuple[tuple[str, str, str], ...] = (
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


def _limited(limit_name: str) -> Quantity:
    """The vocabulary's word that a limit such as highest_work_rpm limits."""
    return QUANTITIES[limit_name.partition("_")[2]]


@dataclass(frozen=True)
class SpeedCell:
    """One setup of a speed table; work_rpm and what follows from it are None where the wheel does not fit the bore."""

    work_diameter: float  # mm
    infeed_rate: float  # mm/min on the radius
    work_rpm: float | None  # 1/min
    lowest_rpm: float | None  # 1/min, at the lower edge of the depth band
    highest_rpm: float | None  # 1/min, at the upper edge
    work_speed: float | None  # m/min
    speed_ratio: float | None
    removal_rate: float  # mm³/(mm·s)
    power: float | None  # kW with idle; None without a specific energy
    broken: tuple[str, ...]  # limits that this setup breaks, in words

    @property
    def word(self) -> str:
        """The first broken limit, or 'ok'."""
        return _word(self.broken)


def _word(broken: tuple[str, ...]) -> str:
    return broken[0] if broken else OK


@dataclass(frozen=True)
class SpeedTable:
    """Work rpm for part diameters (rows) by infeed rates (columns) at one grit depth.

    It holds what was given; the setups are computed from it when asked for: as cells in `rows`, or as numpy arrays in
    `work_rpm` and `arrays`, which is the way for very many cells.
    """

    grit_depth: float  # µm
    band: float  # ± fraction of the depth
    wheel_speed: float  # m/s
    work_diameters: tuple[float, ...]
    infeed_rates: tuple[float, ...]
    wheel_diameter: float  # mm
    side: float
    grit_density: float  # 1/mm²
    shape_ratio: float
    limits: Limits
    idle_power: float  # kW
    specific_energy: float | None = None  # J/mm³; None: power unknown
    contact_width: float | None = None  # mm

    def __repr__(self) -> str:
        diameters, rates = _range(self.work_diameters, "mm"), _range(self.infeed_rates, "mm/min")
        return (
            f"<SpeedTable for {self.grit_depth:g} µm at {self.wheel_speed:g} m/s: part diameter{diameters} by infeed rate{rates}>"
        )

    @cached_property
    def rows(self) -> tuple[tuple[SpeedCell, ...], ...]:
        """The cells: a row for each part diameter, in it a cell for each infeed rate."""
        columns = [self.arrays[field.name].tolist() for field in fields(SpeedCell)]
        return tuple(tuple(map(_cell, *row)) for row in zip(*columns))

    @cached_property
    def work_rpm(self):
        """The work rpm of every cell as a numpy array, not a number where the wheel does not fit the bore."""
        return self._in_every_row(self._rpm_where_it_fits)

    @cached_property
    def arrays(self) -> dict[str, Any]:
        """What the cells hold as numpy arrays, by the names in SpeedCell and `word`: not a number where a cell has None."""
        import numpy

        diameters, rates = self._diameters, numpy.array(self.infeed_rates)
        removal_rate, power = catalogue["removal_rate"].call(diameters, rates), numpy.nan
        if self.specific_energy is not None:
            power = catalogue["grinding_power"].call(self.specific_energy, removal_rate, self.contact_width)
            power = _sound("power", power, 1.0, self.idle_power)
        rpm = self._rpm_where_it_fits
        speed = catalogue["work_speed"].call(diameters[self._fits], rpm)
        values = dict(
            work_diameter=diameters,
            infeed_rate=rates,
            work_rpm=self.work_rpm,
            lowest_rpm=self._in_every_row(rpm * (1 - self.band) ** 4),
            highest_rpm=self._in_every_row(_sound("work_rpm", rpm, (1 + self.band) ** 4)),
            work_speed=self._in_every_row(speed),
            speed_ratio=self._in_every_row(catalogue["speed_ratio"].call(self.wheel_speed, speed)),
            removal_rate=removal_rate,
            power=power,
        )
        passed = self._passed(values)
        in_words = numpy.frompyfunc(lambda *breaks: tuple(compress(passed, breaks)), len(passed), 1)
        values.update(broken=in_words(*passed.values()), word=numpy.select(list(passed.values()), list(passed), OK))
        return {name: numpy.broadcast_to(value, removal_rate.shape) for name, value in values.items()}

    @cached_property
    def _diameters(self):
        import numpy

        return numpy.array(self.work_diameters)[:, None]

    @cached_property
    def _fits(self):
        """For each part diameter, whether the wheel fits."""
        return self._diameters[:, 0] > (self.wheel_diameter if self.side == INTERNAL else 0.0)

    @cached_property
    def _rpm_where_it_fits(self):
        import numpy

        return catalogue["work_rpm_for"].call(
            self.grit_depth,
            self._diameters[self._fits],
            numpy.array(self.infeed_rates),
            self.wheel_speed,
            self.wheel_diameter,
            self.side,
            self.grit_density,
            self.shape_ratio,
        )

    def _in_every_row(self, values):
        """An array with the rows that do not fit put in as not a number."""
        import numpy

        if self._fits.all():
            return values
        spread = numpy.full((len(self.work_diameters), len(self.infeed_rates)), numpy.nan)
        spread[self._fits] = values
        return spread

    def _passed(self, values: dict[str, Any]) -> dict[str, Any]:
        """For every word of a limit that is given, which cells break it; where the wheel does not fit, that word alone."""
        import numpy

        fits = numpy.broadcast_to(self._fits[:, None], self.work_rpm.shape)
        passed = {DOES_NOT_FIT: ~fits}
        for limit_name, quantity_name, word in LIMIT_WORDS:
            limit = getattr(self.limits, limit_name)
            if limit is not None:
                passed[word] = fits & _breaks(limit_name, limit, values[quantity_name])
        return passed

    def report(self) -> str:
        """The table as text: rpm, marked with a letter where a limit is broken, and what the letters mean."""
        letters: dict[str, str] = {}
        lines = [
            f"Work rpm [1/min] for a grit depth of {self.grit_depth:.3f} µm at {self.wheel_speed:.1f} m/s wheel speed",
            f"(depth within ±{100 * self.band:g} % needs rpm within {100 * ((1 - self.band) ** 4 - 1):+.1f} to "
            f"{100 * ((1 + self.band) ** 4 - 1):+.1f} %)",
            "",
            "part diameter      infeed rate on the radius, mm/min",
            "           mm" + "".join(f"{rate:>11g} " for rate in self.infeed_rates),
        ]
        for diameter, row in zip(self.work_diameters, self.rows):
            shown = []
            for cell in row:
                mark = " "
                if cell.broken:
                    mark = letters.setdefault(cell.word, chr(ord("a") + len(letters)))
                shown.append(("-" if cell.work_rpm is None else _rpm_text(cell.work_rpm)).rjust(11) + mark)
            lines.append(f"{diameter:>13g}" + "".join(shown))
        lines += [""] + [f"  {letter}: {word}: do not use" for word, letter in letters.items()]
        lines += [f"  {sentence}" for sentence in self.unusual]
        return "\n".join(lines).rstrip()

    @property
    def unusual(self) -> tuple[str, ...]:
        """A sentence for each input, and for the rpm, outside of what is usual: a slip of a decimal or a unit shows here."""
        given: list[tuple[str, Iterable[float]]] = [
            ("grit_depth", [self.grit_depth]),
            ("wheel_speed", [self.wheel_speed]),
            ("wheel_diameter", [self.wheel_diameter]),
        ]
        given += [("grit_density", [self.grit_density]), ("shape_ratio", [self.shape_ratio])]
        given += [("work_diameter", self.work_diameters), ("infeed_rate", self.infeed_rates)]
        if self.specific_energy is not None and self.contact_width is not None:
            given += [("specific_energy", [self.specific_energy]), ("contact_width", [self.contact_width])]
        rpms = self.work_rpm[self._fits]
        given += [("work_rpm", [float(rpms.min()), float(rpms.max())] if rpms.size else [])]
        return tuple(filter(None, (QUANTITIES[name].doubt(values) for name, values in given)))

    def plot(self, ax: Any = None) -> Any:
        """Draw the rpm over the infeed rate on axes of matplotlib, an extra: pip install 'gritfuncs[plots]'.

        ax : the axes; new ones where none are given.  They are given back.
        """
        from .pictures.axes import draw
        from .speed_table_views import chart_of

        return draw(chart_of(self), ax)

    def to_frame(self) -> Any:
        """The cells as a DataFrame of pandas, an extra (pip install 'gritfuncs[frames]'): a row each, columns as in `arrays`."""
        from .speed_table_views import frame_of

        return frame_of(self)

    def _repr_html_(self) -> str:
        from .speed_table_views import table_page

        return table_page(self)

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain numbers, words and lists, ready for JSON."""
        rows = tuple(tuple(asdict(cell) for cell in row) for row in self.rows)
        return dict(
            grit_depth=self.grit_depth,
            band=self.band,
            wheel_speed=self.wheel_speed,
            work_diameters=self.work_diameters,
            infeed_rates=self.infeed_rates,
            rows=rows,
        )


def _range(values: tuple[float, ...], unit: str) -> str:
    """The only value with its unit, or an s, from which to which, and how many: ' 0.3 mm/min', 's 12 to 32 mm (3)'."""
    return f" {values[0]:g} {unit}" if len(values) == 1 else f"s {min(values):g} to {max(values):g} {unit} ({len(values)})"


def _rpm_text(rpm: float) -> str:
    """An rpm with one decimal, or with three figures where that would show nothing of it."""
    return f"{rpm:.1f}" if rpm >= 0.5 else f"{rpm:.3g}"


def _sound(name: str, values, factor: float, more: float = 0.0):
    """The numbers of an array times a factor and plus one more; ValueError where they become too large for computing."""
    import numpy

    with numpy.errstate(over="ignore"):
        computed = values * factor + more
    if not numpy.isfinite(computed).all():
        raise Refused(name, "be within what can be computed", "one too large from these inputs")
    return computed


def _cell(*values: Any) -> SpeedCell:
    held: list[Any] = [None if value != value else value for value in values]  # only "not a number" differs from itself
    return SpeedCell(*held)


def check_marked_speed(wheel_speed: float, marked_wheel_speed: float) -> None:
    """Raise ValueError when the wheel would turn faster than the speed marked on it."""
    marked = QUANTITIES["wheel_speed"].check_one(marked_wheel_speed, "marked_wheel_speed")
    if QUANTITIES["wheel_speed"].check_one(wheel_speed) > marked:
        raise Refused("wheel_speed", f"be <= {marked:g} m/s, the speed marked on the wheel", shown(wheel_speed))


def speed_table(
    *,
    grit_depth: float,
    work_diameters: Iterable[float],
    infeed_rates: Iterable[float],
    wheel_speed: float,
    marked_wheel_speed: float,
    wheel_diameter: float,
    side: int,
    grit_density: float,
    shape_ratio: float,
    limits: Limits = Limits(),
    band: float = BAND,
    specific_energy: float | None = None,
    contact_width: float | None = None,
    idle_power: float = 0.0,
) -> SpeedTable:
    """Work rpm that holds a grit depth, for each part diameter and infeed rate.

    n_w = d_e / v_f · (h² C r v_s 60000 / (4 π d_w))², as `work_rpm_for`. Units: grit_depth µm, diameters mm, infeed_rates
    mm/min on the radius, speeds m/s, grit_density 1/mm², specific_energy J/mm³, contact_width mm, idle_power kW. `band` is the
    allowed deviation of the depth as a fraction. The expected power needs specific_energy and contact_width. For very many
    cells give numpy arrays and read `work_rpm` and `arrays` of the result rather than `rows`.

    Raises ValueError for an input outside its limits, and when wheel_speed is above marked_wheel_speed.
    """
    check_marked_speed(wheel_speed, marked_wheel_speed)
    if not 0 < (number_in(band) or 0) < 1:
        raise Refused("band", "be a fraction > 0 and < 1 of the depth", shown(band))
    if not isinstance(limits, Limits):
        raise Refused("limits", "be Limits", shown(limits))
    if (specific_energy is None) != (contact_width is None):
        got = f"{shown(specific_energy)} J/mm³ and {shown(contact_width)} mm"
        raise Refused("specific_energy and contact_width", "be given together", got)
    if limits.highest_power is not None and specific_energy is None:
        raise Unusable("highest_power needs specific_energy and contact_width to compare with (got neither)")
    diameters = _checked(work_diameters, "work_diameters", QUANTITIES["work_diameter"])
    rates = _checked(infeed_rates, "infeed_rates", QUANTITIES["infeed_rate"])
    given = dict(
        grit_depth=grit_depth,
        wheel_speed=wheel_speed,
        wheel_diameter=wheel_diameter,
        side=side,
        grit_density=grit_density,
        shape_ratio=shape_ratio,
        idle_power=idle_power,
    )
    if specific_energy is not None and contact_width is not None:
        given.update(specific_energy=specific_energy, contact_width=contact_width)
    numbers = {name: QUANTITIES[name].check_one(value) for name, value in given.items()}
    table = SpeedTable(band=float(band), work_diameters=diameters, infeed_rates=rates, limits=limits, **numbers)
    table.work_rpm  # noqa: B018  (computed here, so that inputs too large or too small for computing raise here)
    return table


def _checked(values: Iterable[float], name: str, quantity) -> tuple[float, ...]:
    """A list of numbers within the limits of a word; a numpy array is checked at once."""
    if getattr(values, "ndim", 0) == 1 and isinstance(values, Sized) and len(values):
        try:
            return tuple(quantity.check(values).tolist())
        except Refused as refused:
            raise refused.named(name) from None
    listed = items_of(values)
    if listed is None:
        raise Refused(name, "be a list of numbers", shown(values))
    if not listed:
        raise Refused(name, "be a list of at least one number", "an empty list")
    return tuple(quantity.check_one(value, name) for value in listed)


def broken_limits(values: dict[str, Any], limits: Limits) -> tuple[str, ...]:
    """The words of the limits that the values of one setup break."""
    broken = []
    for limit_name, quantity_name, word in LIMIT_WORDS:
        limit, value = getattr(limits, limit_name), values.get(quantity_name)
        if limit is not None and value is not None and _breaks(limit_name, limit, value):
            broken.append(word)
    return tuple(broken)


def _breaks(limit_name: str, limit: float, value):
    """Whether a value lies beyond its limit; element by element for an array."""
    beyond = value - limit if limit_name.startswith("highest") else limit - value
    return beyond > ROUNDING * limit


# How each limit bounds the infeed rate at constant grit depth, in the order in which a tie is named.  There work rpm times
# infeed rate is fixed: a slower infeed takes a faster work, so a limit to faster work is a lower bound.
UPPER_BOUNDS = ("highest_infeed_rate", "lowest_work_rpm", "highest_speed_ratio", "highest_removal_rate", "highest_power")
LOWER_BOUNDS = ("lowest_infeed_rate", "highest_work_rpm", "lowest_speed_ratio")


@dataclass(frozen=True)
class FastestSetup:
    """The highest infeed rate that holds a grit depth within all limits, and the limit that binds.

    `setup` is None where no infeed rate keeps all limits; then `binds` and `against` are the two that exclude each other.
    """

    setup: SpeedCell | None
    binds: str  # the limit that keeps the infeed rate from rising; its name in Limits, or DOES_NOT_FIT
    against: str | None  # the limit that needs a higher infeed rate than `binds` allows, where none fits

    def __repr__(self) -> str:
        return f"<FastestSetup: {self.words}>"

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


def infeed_bounds(
    work_diameter: float,
    rpm_times_infeed: float,
    wheel_speed: float,
    limits: Limits,
    specific_energy: float | None,
    contact_width: float | None,
    idle_power: float,
) -> dict[str, float]:
    """The bound that each given limit sets to the infeed rate [mm/min on the radius] at constant grit depth.

    With n_w v_f = rpm_times_infeed [mm/min²] fixed: q_s = 60000 v_s v_f / (π d_w n_w v_f), Q'w = π d_w v_f / 60,
    P = u Q'w b / 1000 + P_0.
    """
    per_ratio = pi * work_diameter * rpm_times_infeed / (60000 * wheel_speed)
    per_removal = 60 / (pi * work_diameter)
    bounds = {
        "highest_infeed_rate": (limits.highest_infeed_rate, 1.0),
        "lowest_infeed_rate": (limits.lowest_infeed_rate, 1.0),
        "highest_speed_ratio": (limits.highest_speed_ratio, per_ratio),
        "lowest_speed_ratio": (limits.lowest_speed_ratio, per_ratio),
        "highest_removal_rate": (limits.highest_removal_rate, per_removal),
    }
    if limits.highest_power is not None:
        # A power limit comes with both, as speed_table demands: without them the power is not known.
        assert specific_energy is not None and contact_width is not None
        bounds["highest_power"] = (
            max(0.0, limits.highest_power - idle_power),
            1000 * per_removal / (specific_energy * contact_width),
        )
    found = {name: limit * factor for name, (limit, factor) in bounds.items() if limit is not None}
    for name in ("highest_work_rpm", "lowest_work_rpm"):
        if getattr(limits, name) is not None:
            found[name] = rpm_times_infeed / getattr(limits, name)
    return found


def fastest_setup(
    *,
    grit_depth: float,
    work_diameter: float,
    wheel_speed: float,
    marked_wheel_speed: float,
    wheel_diameter: float,
    side: int,
    grit_density: float,
    shape_ratio: float,
    limits: Limits,
    band: float = BAND,
    specific_energy: float | None = None,
    contact_width: float | None = None,
    idle_power: float = 0.0,
) -> FastestSetup:
    """The setup with the highest infeed rate, hence the shortest cycle, that holds a grit depth within all limits.

    Closed form: each limit bounds the infeed rate from above or from below; the lowest upper bound is the answer unless a
    lower bound lies above it. Units as in `speed_table`. Raises ValueError for inputs outside their limits, for a wheel
    above its marked speed, and when no limit bounds the infeed rate from above.
    """
    wheel: dict[str, Any] = dict(
        wheel_speed=wheel_speed,
        marked_wheel_speed=marked_wheel_speed,
        wheel_diameter=wheel_diameter,
        side=side,
        grit_density=grit_density,
        shape_ratio=shape_ratio,
        limits=limits,
        band=band,
        specific_energy=specific_energy,
        contact_width=contact_width,
        idle_power=idle_power,
    )

    def setup_at(infeed_rate: float) -> SpeedCell:
        return speed_table(grit_depth=grit_depth, work_diameters=[work_diameter], infeed_rates=[infeed_rate], **wheel).rows[0][0]

    unit = setup_at(1.0)  # checks every input; its rpm is rpm times infeed
    if unit.work_rpm is None:
        return FastestSetup(None, DOES_NOT_FIT, None)
    bounds = infeed_bounds(unit.work_diameter, unit.work_rpm, wheel_speed, limits, specific_energy, contact_width, idle_power)
    upper = min((name for name in UPPER_BOUNDS if name in bounds), key=bounds.__getitem__, default=None)
    if upper is None:
        raise Refused("limits", f"bound the infeed rate by at least one of {', '.join(UPPER_BOUNDS)}", "none of them")
    lower = max((name for name in LOWER_BOUNDS if name in bounds), key=bounds.__getitem__, default=None)
    if bounds[upper] <= 0 or lower is not None and bounds[lower] > bounds[upper] * (1 + ROUNDING):
        return FastestSetup(None, upper, lower)
    return FastestSetup(setup_at(bounds[upper]), upper, None)


@dataclass(frozen=True)
class PlannedReading:
    """One reading of a trial plan; work_rpm is None where the machine's limits forbid it."""

    number: int
    step_percent: float
    work_rpm: float | None


OUT_AND_BACK, ALTERNATING = "out and back", "alternating"


def plan_trial(
    nominal_rpm: float,
    *,
    step_percent: float = STEP_PERCENT,
    steps_each_side: int = STEPS_EACH_SIDE,
    lowest_work_rpm: float | None = None,
    highest_work_rpm: float | None = None,
    spacing: str = "rpm",
    order: str = OUT_AND_BACK,
) -> tuple[PlannedReading, ...]:
    """The rpm steps of a trial in run order, nominal first, in the middle and last. Rpm in 1/min.

    order "out and back": outward to both sides by every second step, nominal, home by the steps left out, nominal: 0, +20, -20,
    +40, -40, +60, -60, 0, -50, +50, -30, +30, -10, +10, 0 %. Depth then does not run with time, so a drift (a meter that warms, a
    wheel that dulls) hardly poses as a knee, and the repeats of nominal show it. The way out goes by two steps at a time: look at
    part and wheel after each reading, and choose a smaller step_percent where two steps at once are too many.

    order "alternating": 0, +10, -10, +20, -20 ... %, nominal also in the middle. Common practice, and by one step at a time, but
    time runs with the distance from nominal, and a drift can bend a curve without a knee into one with a knee.

    spacing "rpm": equal steps of rpm; a step outside the machine's limits carries no rpm.
    spacing "depth": the same range, cut at the machine's limits, in equal steps of grit depth, which goes with rpm^(1/4).
    """
    rpm = QUANTITIES["work_rpm"].check_one(nominal_rpm, "nominal_rpm")
    limits = Limits(lowest_work_rpm=lowest_work_rpm, highest_work_rpm=highest_work_rpm)
    if isinstance(steps_each_side, bool) or not isinstance(steps_each_side, int) or not 1 <= steps_each_side <= 18:
        raise ValueError(f"steps_each_side must be a whole number from 1 to 18 (got {shown(steps_each_side)})")
    if not 0 < (number_in(step_percent) or 0) * steps_each_side < 100:
        raise ValueError(
            f"step_percent must be > 0 and, times {steps_each_side} steps, < 100 % of nominal (got {shown(step_percent)})"
        )
    if not isinstance(spacing, str) or spacing not in ("rpm", "depth"):
        raise ValueError(f"spacing must be rpm or depth (got {shown(spacing)})")
    if not isinstance(order, str) or order not in (OUT_AND_BACK, ALTERNATING):
        raise ValueError(f"order must be {OUT_AND_BACK} or {ALTERNATING} (got {shown(order)})")
    if spacing == "depth" and broken_limits({"work_rpm": rpm}, limits):
        raise ValueError(f"nominal_rpm must be within the machine's limits (got {shown(nominal_rpm)})")
    slowest = max((100 - steps_each_side * step_percent) / 100, (lowest_work_rpm or 0) / rpm)
    fastest = min((100 + steps_each_side * step_percent) / 100, (highest_work_rpm or inf) / rpm)
    readings = []
    for number, step in enumerate(_steps_in_order(steps_each_side, order), start=1):
        ratio = (100 + step * step_percent) / 100
        if spacing == "depth":
            edge = (fastest if step > 0 else slowest) ** 0.25
            ratio = (1 + abs(step) / steps_each_side * (edge - 1)) ** 4
        allowed = spacing == "depth" or not broken_limits({"work_rpm": rpm * ratio}, limits)
        readings.append(
            PlannedReading(
                number, 100 * (ratio - 1) if spacing == "depth" else float(step * step_percent), rpm * ratio if allowed else None
            )
        )
    return tuple(readings)


def _steps_in_order(steps_each_side: int, order: str) -> list[int]:
    """The steps from nominal, faster ones positive, in run order."""
    if order == ALTERNATING:
        outward = [sign * number for number in range(1, steps_each_side + 1) for sign in (1, -1)]
        middle = 2 * ((steps_each_side + 1) // 2)
        return [0, *outward[:middle], 0, *outward[middle:], 0]
    outward = [sign * number for number in range(2 - steps_each_side % 2, steps_each_side + 1, 2) for sign in (1, -1)]
    home = [sign * number for number in range(steps_each_side - 1, 0, -2) for sign in (-1, 1)]
    return [0, *outward, 0, *home, 0]
