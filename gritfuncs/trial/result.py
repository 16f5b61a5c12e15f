"""A trial that has been read."""

from __future__ import annotations

import datetime
import math
from dataclasses import asdict, dataclass, field, replace
from functools import cached_property
from typing import Any

from ..knee import Advice, FourthRoot, Knee, knee_of_trial, next_reading
from ..knee.next_reading import OUTSIDE, STEP_PERCENT, WANTED
from ..knee.result import found_in
from ..knee.sentence import said
from ..planning import BAND, Limits
from ..quantities import QUANTITIES
from ..quantity import Check
from ..refused import Refused
from ..values import finite_in, shown
from .given import NOTHING, Given
from .next_steps import next_of_both
from .readings import BLANK, EXCLUDED, LEFT_OUT, USED, Reading
from .rows import short
from .setup import Setup
from .setup_values import setup_from
from .ways import BOTH, RPM, way_of

STATUS_KINDS = (USED, EXCLUDED, LEFT_OUT.split(":")[0], BLANK)
SAME_INFEED = 0.02  # of the grit depth; how far depths from a table may be from one fourth root of the rpm


@dataclass(frozen=True)
class Trial:
    """The readings of one trial, judged row by row, with the knee that follows from those that are used.

    Made by `read_trial`.  Without a setup the grit depths are relative, (work rpm / first used work rpm)^(1/4), which
    holds at constant infeed rate, wheel and work: the knee then is known as an rpm, not in µm.
    """

    source: str  # file, and sheet where it has sheets
    readings: tuple[Reading, ...]  # every row, in the order of the file
    setup: Setup | None
    load_kind: str  # power, current or relative; specific_energy where the file gives energies
    depth_unit: str  # µm, or relative
    energy_unit: str  # J/mm³; kW or A of net load where no specific energy follows; relative for a load meter
    noise: float | None = None  # reading-to-reading scatter as a share (0.02 = 2 %); None: from the readings
    remarks: tuple[str, ...] = ()  # plain sentences: what was read and what could not be computed
    limits: Limits = Limits()  # of the machine, as far as the file states them
    nominal_rpm: float | None = None  # 1/min, where the trial started, if the file says so
    given: Given = field(default=NOTHING, repr=False, compare=False)  # what was said of the setup, and where
    title: str = ""  # the line that stands at the head of the file, if it says anything else than a setup value
    depth_given: bool = False  # whether the depths stand in the file, and do not follow from the setup

    def __repr__(self) -> str:
        return f"<Trial {self.source}: {len(self.used)} of {len(self.readings)} rows used, depth {self.depth_unit}, energy {self.energy_unit}>"

    @property
    def used(self) -> tuple[Reading, ...]:
        """The readings that count."""
        return tuple(reading for reading in self.readings if reading.is_used)

    @property
    def date(self) -> datetime.date | None:
        """The day of the trial, if the file states it as 2026-11-05 or 5.11.2026."""
        return self.given.date

    @property
    def band(self) -> float:
        """Allowed deviation of grit depth as a share, by which damage at the knee is judged: in_band of a trial workbook, else 0.02."""
        percent = finite_in(self.given.values.get("band"))
        return BAND if percent is None else percent / 100

    @property
    def depths(self) -> tuple[float, ...]:
        """Grit depths of the used readings, in depth_unit."""
        return tuple(reading.depth for reading in self.used)

    @property
    def energies(self) -> tuple[float, ...]:
        """Energies of the used readings, in energy_unit."""
        return tuple(reading.energy for reading in self.used)

    @property
    def removal_ratios(self) -> tuple[float, ...]:
        """Removal rates of the used readings over the setup's."""
        return tuple(1.0 if reading.removal_ratio is None else reading.removal_ratio for reading in self.used)

    @property
    def infeed_rate(self) -> float | None:
        """Infeed rate of the setup [mm/min on the radius], also where the rest of the setup is not known."""
        return setup_from(self.given.words)[0].get("infeed_rate") if self.setup is None else self.setup.infeed_rate

    @property
    def way(self) -> str:
        """What was stepped: rpm, rpm and infeed, infeed, wheel speed, or several settings."""
        return way_of(self.used, {} if self.setup is None else asdict(self.setup))

    @property
    def names(self) -> list[str]:
        """What sentences call the used readings: by their rows in the file."""
        return [f"reading in row {reading.row}" for reading in self.used]

    @property
    def left_out(self) -> tuple[tuple[int, str], ...]:
        """Row and reason of every reading that does not count, blank rows aside."""
        return tuple((reading.row, reading.status) for reading in self.readings if reading.kind not in (USED, BLANK))

    @property
    def repeated(self) -> tuple[tuple[int, str], ...]:
        """Row and status of the used readings that say the same as an earlier one."""
        return tuple((reading.row, reading.status) for reading in self.used if reading.status != USED)

    @property
    def checks(self) -> tuple[str, ...]:
        """The remarks that ask to look at a value, at a column, or at readings outside the machine's limits."""
        return tuple(remark for remark in self.remarks if isinstance(remark, Check))

    @property
    def counts(self) -> dict[str, int]:
        """Number of rows by kind: used, excluded, left out, blank."""
        return {kind: sum(reading.kind == kind for reading in self.readings) for kind in STATUS_KINDS}

    @cached_property
    def knee(self) -> Knee:
        """The knee of the used readings, depths in depth_unit and energies in energy_unit; ValueError without any.

        The rows count as in the order taken: where an rpm was read again late enough, drift is judged (`knee_of_trial`).
        """
        if not self.used:
            raise Refused("", f"have at least one usable reading ({self._why_none()})", place=(self.source,))
        return knee_of_trial(self.depths, self.energies, noise=self.noise, removal_rates=self.removal_ratios)

    def _why_none(self) -> str:
        if not self.left_out:
            return "all rows are blank"
        row, reason = self.left_out[0]
        return f"row {row}: {reason}" + (f", and {len(self.left_out) - 1} more" if self.left_out[1:] else "")

    def rpm_for(self, depth: float) -> float | None:
        """Work rpm [1/min] that gives a depth [> 0, in depth_unit] under the conditions of the setup.

        The rpm of the readings go before the setup, since depths from a table may be defined in another way.  None
        where neither tells; ValueError for a depth outside its limits.
        """
        depth = QUANTITIES["grit_depth"].check_one(depth)
        known = [(reading.rpm, reading.depth) for reading in self.used if (reading.rpm or 0) > 0]
        if not known:
            return self.setup.rpm_for(depth) if self.setup else None
        scales = [at / rpm**0.25 for rpm, at in known]
        scale = math.fsum(scales) / len(scales)
        if any(abs(each - scale) > SAME_INFEED * scale for each in scales):
            return None  # the infeed rate changed between readings: no rpm belongs to a depth alone
        try:
            rpm = (depth / scale) ** 4
        except OverflowError:
            rpm = math.inf
        return QUANTITIES["work_rpm"].check_one(rpm, "depth, as a work rpm,")

    @property
    def knee_rpm(self) -> float | None:
        """Work rpm [1/min] that holds the knee under the conditions of the trial; None unless one was found, without damage there."""
        return None if self.knee.knee is None or self.damage_at_knee else self.rpm_for(self.knee.knee)

    @property
    def damage(self) -> tuple[tuple[int, str], ...]:
        """Row and words of every burn, crack or wheel breakdown that the file notes, whether the row counts or not."""
        return tuple((reading.row, reading.damage) for reading in self.readings if reading.damage)

    @property
    def damage_at_knee(self) -> tuple[tuple[int, str], ...]:
        """Row and words of the damage that withdraws the knee's rpm: within the band about the knee, within its interval, or at no known depth."""
        found = found_in(self.knee) if self.used else None
        if found is None:
            return ()
        low, high = min(found.low, found.knee * (1 - self.band)), max(found.high, found.knee * (1 + self.band))
        return tuple(
            (reading.row, reading.damage)
            for reading in self.readings
            if reading.damage and (reading.depth is None or low <= reading.depth <= high)
        )

    def next_reading(
        self,
        limits: Any = None,
        *,
        nominal_rpm: float | None = None,
        step_percent: float = STEP_PERCENT,
        wanted: float = WANTED,
        damage_seen: bool = False,
        steps: str | None = None,
    ) -> Advice:
        """Say which work rpm to try next after the readings of this trial, or that it can stop, and why.

        It goes by the work rpm that were read, so nothing further than one step beyond them is proposed.  Where depths
        stand in the file they must follow the fourth root of the rpm, as at constant infeed rate: else no rpm belongs to a
        depth, and the trial is refused.

        Parameters
        ----------
        limits : anything with lowest_work_rpm and highest_work_rpm [1/min], such as gritfuncs.Limits; those that the file
            states where not given, and on a side without a limit the trial ends 60 % from nominal
        nominal_rpm : work rpm where the trial starts [1/min]; what the file says, else the first reading's
        step_percent : furthest step beyond the rpm already tried [% of nominal]
        wanted : half-width of the knee's interval that is good enough, as a share of the knee
        damage_seen : True when burn, a crack or wheel breakdown was seen: the trial stops.  Damage noted in the file
            stops it, too
        steps : "rpm", or "rpm and infeed" where both change by one factor: the infeed to set comes with the rpm, to ±40 % at most, and
            before a knee that was found stops the trial, the pair at nominal depth is asked for.  What the readings show where not given

        Raises
        ------
        ValueError
            For a reading without a work rpm, depths that do not follow from the rpm, an energy that is not above 0, or an
            argument outside its limits; one line says which row.
        """
        if steps is not None and (not isinstance(steps, str) or steps not in (RPM, BOTH)):
            raise Refused("steps", f"be {RPM} or {BOTH}", shown(steps))
        if (self.way if steps is None else steps) == BOTH:
            limits = self.limits if limits is None else limits
            return next_of_both(self, limits, nominal_rpm, step_percent, wanted, damage_seen)
        own = next((reading.row for reading in self.used if reading.equivalent_rpm not in (None, reading.work_rpm)), None)
        if own is not None:
            must = "be one in which only the work rpm changes, or rpm and infeed together"
            raise Refused("the trial", must, f"another infeed rate, wheel speed or diameter in row {own}", place=(self.source,))
        for reading in self.used:
            if reading.work_rpm is None or reading.work_rpm <= 0:
                raise Refused(
                    "", f"have a work rpm in every reading, > 0 1/min (row {reading.row} has none)", place=(self.source,)
                )
            if reading.energy <= 0:
                must = f"be > 0 with idle taken off (row {reading.row})"
                raise Refused("energies", must, f"{reading.energy:g}", place=(self.source,))
        limits = self.limits if limits is None else limits
        scale = FourthRoot(self._scale()) if self.used else FourthRoot()
        advice = next_reading(
            [scale.depth(reading.work_rpm) for reading in self.used],
            self.energies,
            scale,
            limits,
            noise=self.noise,
            wanted=wanted,
            nominal_rpm=self.nominal_rpm if nominal_rpm is None else nominal_rpm,
            step_percent=step_percent,
            damage_seen=damage_seen if not self.damage else True,
        )
        low, high = (getattr(limits, name, None) for name in ("lowest_work_rpm", "highest_work_rpm"))
        if advice.work_rpm is not None and not (low or 0) <= advice.work_rpm <= (high or math.inf):
            advice = replace(advice, stop=True, reason=OUTSIDE, work_rpm=None, expected_more=None)
        reason = said(advice.reason, self.names)
        if self.damage:  # it stops the trial
            rows = ", ".join(f"row {row} ({short(words)})" for row, words in self.damage[:3])
            reason = f"{reason}; noted in {rows}"
        return replace(advice, reason=reason)

    def _scale(self) -> float:
        """The depth at 1 1/min by the fourth root of the rpm that were read; Refused where the depths do not follow it."""
        scales = [reading.depth / reading.rpm**0.25 for reading in self.used]
        mean = math.fsum(scales) / len(scales)
        worst, row = max((abs(each - mean) / mean, reading.row) for each, reading in zip(scales, self.used))
        if worst > SAME_INFEED:
            must = f"follow the fourth root of the work rpm within {100 * SAME_INFEED:g} %, as at constant infeed rate"
            raise Refused("grit depths", must, f"{100 * worst:.2g} % off in row {row}", place=(self.source,))
        return mean

    @property
    def suspect(self) -> Reading | None:
        """The reading that is out of line with the others, or None."""
        return None if self.knee.suspect is None else self.used[self.knee.suspect]

    def plot(self, ax: Any = None) -> Any:
        """Draw the readings, the fitted curve and the interval on axes of matplotlib, an extra: pip install 'gritfuncs[plots]'.

        ax : the axes; new ones where none are given.  They are given back.
        """
        from ..pictures.axes import draw
        from .picture import chart_of

        return draw(chart_of(self), ax)

    def to_frame(self) -> Any:
        """The readings as a DataFrame of pandas, an extra (pip install 'gritfuncs[frames]'): a row each, units in its attrs."""
        from .frame_table import frame_of

        return frame_of(self)

    def _repr_html_(self) -> str:
        from .page import trial_page

        return trial_page(self)

    def report(self) -> str:
        """What was read, what was left out and why, the setup, the knee and the rpm that holds it, as plain text."""
        from .report import report

        return report(self)

    def as_dict(self) -> dict[str, Any]:
        """Everything, ready for JSON; knee is None where no reading can be used."""
        return {
            "source": self.source,
            "setup": self.setup and asdict(self.setup),
            "sources": dict(self.given.sources),
            "load_kind": self.load_kind,
            "steps": self.way,
            "depth_unit": self.depth_unit,
            "energy_unit": self.energy_unit,
            "noise": self.noise,
            "limits": asdict(self.limits),
            "nominal_rpm": self.nominal_rpm,
            "counts": self.counts,
            "remarks": list(self.remarks),
            "readings": [asdict(reading) for reading in self.readings],
            "knee": self.knee.as_dict() if self.used else None,
            "damage": [{"row": row, "words": words} for row, words in self.damage],
            "knee_rpm": self.knee_rpm if self.used else None,
            "suspect_row": self.suspect.row if self.used and self.suspect else None,
        }
