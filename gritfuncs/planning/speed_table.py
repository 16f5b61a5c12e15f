"""Speed tables: the work rpm that holds a grit depth, for part diameters by infeed rates."""

from __future__ import annotations

from collections.abc import Iterable, Sized
from dataclasses import asdict, dataclass, fields
from functools import cached_property
from typing import Any

from ..formulas import catalogue
from ..quantities import INTERNAL, QUANTITIES
from ..refused import Refused, Unusable
from ..values import items_of, number_in, shown
from .limits import DOES_NOT_FIT, LIMIT_WORDS, NO_LIMITS, Limits, breaks, check_marked_speed

OK = "ok"
BAND = 0.02  # hold within about ±2 % of the chosen depth (common practice, no source)


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
        values.update(_broken(self._passed(values)))
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

        formula, rates = catalogue["work_rpm_for"], numpy.array(self.infeed_rates)
        given = dict(
            grit_depth=self.grit_depth,
            work_diameter=self._diameters[self._fits],
            wheel_speed=self.wheel_speed,
            wheel_diameter=self.wheel_diameter,
            side=self.side,
            grit_density=self.grit_density,
            shape_ratio=self.shape_ratio,
        )
        # Each rpm is one number of its part diameter, divided by the infeed rate: it lies between those at the lowest and the
        # highest rate, and where these are sound so is every cell between them, which need not be read once more.
        for rate in (rates.min(), rates.max()):
            formula.call(infeed_rate=rate, **given)
        return formula.function(infeed_rate=rates, **given)

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
                passed[word] = fits & breaks(limit_name, limit, values[quantity_name])
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
        given += [("idle_power", [self.idle_power])]
        doubts = [QUANTITIES[name].doubt(values) for name, values in given]
        if self.limits.highest_power is not None:
            doubts.append(QUANTITIES["power"].doubt([self.limits.highest_power], "highest power"))
        return tuple(filter(None, doubts))

    def plot(self, ax: Any = None) -> Any:
        """Draw the rpm over the infeed rate on axes of matplotlib, an extra: pip install 'gritfuncs[plots]'.

        ax : the axes; new ones where none are given.  They are given back.
        """
        from ..pictures.axes import draw
        from ..speed_table_views import chart_of

        return draw(chart_of(self), ax)

    def to_frame(self) -> Any:
        """The cells as a DataFrame of pandas, an extra (pip install 'gritfuncs[frames]'): a row each, columns as in `arrays`."""
        from ..speed_table_views import frame_of

        return frame_of(self)

    def _repr_html_(self) -> str:
        from ..speed_table_views import table_page

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


def _broken(passed: dict[str, Any]) -> dict[str, Any]:
    """Of each cell the words of all limits that it breaks, and the first of them, from which cells break each limit."""
    import numpy

    number = sum(breaks * numpy.int16(1 << place) for place, breaks in enumerate(passed.values()))  # a bit for each word
    sets, first = numpy.empty(1 << len(passed), dtype=object), [OK] * (1 << len(passed))  # by that number
    for found in numpy.unique(number).tolist():
        sets[found] = tuple(word for place, word in enumerate(passed) if found >> place & 1)
        first[found] = _word(sets[found])
    return dict(broken=sets[number], word=numpy.array(first)[number])


def _cell(*values: Any) -> SpeedCell:
    held: list[Any] = [None if value != value else value for value in values]  # only "not a number" differs from itself
    return SpeedCell(*held)


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
    limits: Limits = NO_LIMITS,
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
