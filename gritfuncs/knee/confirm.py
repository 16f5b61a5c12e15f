"""`confirm_knee`: is a recorded knee still right on a new part, or after dressing?  Four readings about it, at most eight.

The record says where to read, how large the scatter is and, as a normal prior, where the knee was.  An answer that leans on the
record in this way is never `found`: the words are confirmed, changed and go on.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from math import inf, sqrt
from statistics import mean
from typing import Any

from ..values import shown
from .evidence import checked_noise
from .hinge import fit_corner, level_line, on_reading, straight_line
from .inputs import depth_and_rpm, net_readings, share, truth
from .next_reading import DAMAGE, STEP_PERCENT, WANTED, WANTED_UNIT
from .quantiles import f1_quantile
from .reach import ENERGY_FACTOR, limits_of, settable, start_at
from .readings import Readings, check_depths, numbered, numbers_of, positive
from .result import Knee, found_in
from .thresholds import CONFIDENCE, ROUNDING
from .variance import corner_variance

CONFIRMED, CHANGED, GO_ON = "confirmed", "changed", "go on"
WORDS = (CONFIRMED, CHANGED, GO_ON)

# Convention, from simulation: how many degrees of freedom the recorded scatter counts for where the record does not say.
RECORDED_FREEDOM = 8
# Convention: from part to part and dressing to dressing a knee moves by so much of itself (standard deviation; no source).
BETWEEN_PARTS = 0.02
# The normal quantile of 97.5 %, by which a recorded interval becomes a standard deviation.
NORMAL_95 = 1.96
# Convention, from simulation: depths of the readings about the recorded knee, as shares of it; below the knee less far where the
# fall is steep, so that the energy stays below 1.45 levels.
BEYOND, FURTHER_BEYOND, BELOW, LARGEST_RISE = 0.035, 0.11, 0.18, 0.45
# Principled: a fall with a corner has three parameters.
FEWEST_PLACES = 4
# Convention: a full trial needs about as many.
MOST_CONFIRMING = 8
# Convention: standard errors between the recorded knee and the new one from which it has changed.
CHANGED_ERRORS = 2.0
# Principled: mean square about the fit over the recorded one that chance exceeds in 1 of 100 trials of one degree of freedom.
LACK_OF_FIT = 6.6
# Convention: curves are rounded; no knee is known better than this share of itself.
LEAST_HALF_WIDTH = 0.02
# Convention, from simulation: share of the slope that a fall may keep beyond its corner.  Without such falls among those compared, a knee that
# went 10 % shallower on a curve that goes on falling gently was confirmed, and more than 5 % off, in one of four trials.
GENTLE = 0.1
# The corners that are compared: from so much of the recorded knee, up to so much, in so many steps.
LOWEST_CORNER, HIGHEST_CORNER, STEPS = 0.70, 1.35, 240
# Convention: a reading this near to one of the depths, as a share of the knee, is the reading there.
NEAR = 0.02

TOO_NARROW = "the limits leave fewer than four depths about the recorded knee"
FULL_TRIAL = "take a full trial from the recorded knee's rpm"


@dataclass(frozen=True)
class RecordedKnee:
    """A knee found earlier with the same wheel, material and machine, and what else of that trial counts now."""

    knee: float  # µm
    low: float  # µm, interval
    high: float  # µm
    steepness: float  # relative fall of the energy below the knee over that of the depth: slope · knee / level
    noise: float  # scatter, share of the level
    noise_freedom: float = RECORDED_FREEDOM  # degrees of freedom behind it
    shallowest: float | None = None  # µm, least depth that was tested then; None is no bound
    deepest: float | None = None  # µm, largest depth that was tested then

    def __post_init__(self):
        for name in ("knee", "low", "high", "noise_freedom"):
            object.__setattr__(
                self, name, positive(name, getattr(self, name), "µm" if name != "noise_freedom" else "degrees of freedom")
            )
        object.__setattr__(self, "noise", checked_noise(self.noise))
        object.__setattr__(self, "steepness", positive("steepness", self.steepness, "(slope times knee over level)"))
        for name in ("shallowest", "deepest"):
            if getattr(self, name) is not None:
                object.__setattr__(self, name, positive(name, getattr(self, name), "µm"))
        if not self.low <= self.knee <= self.high:
            raise ValueError(f"knee must be within its interval, {self.low:g} to {self.high:g} µm (got {self.knee:g})")

    @classmethod
    def of(cls, knee: Knee, depths: Iterable[float] = ()) -> RecordedKnee:
        """The record of a knee found by `find_knee` or `next_reading`, with the depths of its readings."""
        if not isinstance(knee, Knee):
            raise ValueError(f"knee must be a Knee, as find_knee gives it (got {shown(knee)})")
        found = found_in(knee)
        if found is None or knee.noise is None or knee.noise_freedom is None:
            raise ValueError(f"knee must be one that was found, with a level above zero (got the verdict '{knee.verdict}')")
        tested = numbers_of("depths", "µm", depths)
        check_depths(tested)
        return cls(
            found.knee,
            found.low,
            found.high,
            found.slope * found.knee / found.level,
            knee.noise,
            max(1, knee.noise_freedom),
            min(tested, default=None),
            max(tested, default=None),
        )


@dataclass(frozen=True)
class Confirmation:
    """Whether a recorded knee still holds; only `confirmed` carries a knee, and `work_rpm` is None when no reading is wanted."""

    word: str  # confirmed, changed or go on
    reason: str
    work_rpm: float | None  # 1/min, where to read next
    n_readings: int
    knee: float | None = None  # µm, from the record and the new readings together
    low: float | None = None  # µm
    high: float | None = None  # µm
    full_trial: bool = False  # whether a full trial is due, from nominal_rpm
    nominal_rpm: float | None = None  # 1/min, at the recorded knee

    def line(self) -> str:
        """The answer as one line."""
        if self.work_rpm is not None:
            return f"next: {self.work_rpm:.6g} 1/min, {self.reason} ({self.word})"
        return f"{self.word}: {self.reason}"

    def as_dict(self) -> dict[str, Any]:
        """All fields, ready for JSON."""
        return asdict(self)


def confirm_knee(
    depths: Iterable[float],
    energies: Iterable[float],
    record: RecordedKnee,
    setup: Any,
    limits: Any = None,
    *,
    wanted: float = WANTED,
    damage_seen: bool = False,
) -> Confirmation:
    """Say whether a recorded knee still holds, or which work rpm to read next to know it.

    Readings at 1.035, 0.91, 1.11 and 0.82 times the recorded knee, or nearer where the fall is steep, then up to four more of these.
    Squares of the best of a straight fall, a curved one and one that goes on with a tenth of its slope, each with its corner at k, over the scatter of record and readings, plus
    ((k - recorded)/error)² with the error of the record and 2 % from part to part: the knee is where they are least, the interval
    where they are at most F(1, ν; 95 %) more.

    Parameters
    ----------
    depths : grit depths of the new readings so far [µm]; none before the first
    energies : their specific energies [J/mm³], net power or net load, > 0, idle taken off
    record : the knee found earlier, as RecordedKnee(...) or RecordedKnee.of(knee, depths)
    setup : anything with depth(work_rpm) and rpm_for(depth), such as gritfuncs.Setup: that of the new part
    limits : anything with lowest_work_rpm and highest_work_rpm [1/min], such as gritfuncs.Limits
    wanted : half-width of the interval that is good enough, as a share of the knee
    damage_seen : True when burn, a crack or wheel breakdown was seen: stop

    >>> record = RecordedKnee(knee=1.0, low=0.97, high=1.03, steepness=2.0, noise=0.01)
    >>> from gritfuncs.knee import FourthRoot
    >>> confirm_knee([], [], record, FourthRoot(100**-0.25)).line()
    'next: 115 1/min, reading 1 of 4 about the recorded knee (go on)'
    """
    wanted = share("wanted", wanted, 1.0, WANTED_UNIT)
    if not isinstance(record, RecordedKnee):
        raise ValueError(f"record must be a RecordedKnee (got {shown(record)})")
    damage_seen, setup = truth("damage_seen", damage_seen), depth_and_rpm(setup)
    depths, energies = net_readings(depths, energies)
    trial = _Confirming(
        depths, energies, record, _rpms(record, setup, limits), setup, start_at(setup.rpm_for(record.knee), limits)
    )
    if damage_seen:
        return trial.ends(CHANGED, DAMAGE)
    if len(trial.rpms) < FEWEST_PLACES:
        return trial.needs_full_trial(GO_ON, TOO_NARROW)
    for number, rpm in enumerate(trial.rpms, 1):
        if not trial.has(rpm):
            if trial.is_hot(rpm):
                return trial.needs_full_trial(
                    GO_ON, f"the energy has risen to {ENERGY_FACTOR:g} times the lowest, so go no slower"
                )
            return trial.reads(rpm, f"reading {number} of {len(trial.rpms)} about the recorded knee")
    return trial.judged(wanted)


def _rpms(record: RecordedKnee, setup: Any, limits: Any) -> list[float]:
    """The rpm of the readings in their order, as far as machine and recorded depths leave different ones."""
    lowest, highest = limits_of(limits)
    shallowest = max(record.shallowest or 0.0, setup.depth(lowest) if lowest else 0.0)
    deepest = min(record.deepest or inf, setup.depth(highest) if highest else inf)
    below = min(BELOW, LARGEST_RISE / record.steepness)
    rpms: list[float] = []
    for shift in (BEYOND, -below / 2, FURTHER_BEYOND, -below):
        depth = min(deepest, max(shallowest, record.knee * (1 + shift)))
        rpm = setup.rpm_for(depth)
        rpm = settable(
            rpm,
            setup.rpm_for(shallowest) if shallowest else 0.0,
            setup.rpm_for(deepest) if deepest < inf else inf,
            rpm * STEP_PERCENT / 100,
        )
        if (
            shallowest <= deepest
            and (depth > record.knee) == (shift > 0)
            and all(abs(setup.depth(other) - setup.depth(rpm)) > NEAR * record.knee for other in rpms)
        ):
            rpms.append(rpm)
    return rpms


@dataclass(frozen=True)
class _Confirming:
    """The new readings beside the record, and the rpm of the readings about it."""

    depths: list[float]
    energies: list[float]
    record: RecordedKnee
    rpms: list[float]  # 1/min
    setup: Any
    nominal_rpm: float  # 1/min, where a full trial starts

    def ends(self, word: str, reason: str, **fields: Any) -> Confirmation:
        return Confirmation(word, reason, None, len(self.depths), nominal_rpm=self.nominal_rpm, **fields)

    def needs_full_trial(self, word: str, reason: str) -> Confirmation:
        return self.ends(word, f"{reason}; {FULL_TRIAL}", full_trial=True)

    def reads(self, rpm: float, reason: str) -> Confirmation:
        return replace(self.ends(GO_ON, reason), work_rpm=rpm)

    def has(self, rpm: float) -> bool:
        """Whether there is a reading at this rpm."""
        return any(abs(depth - self.setup.depth(rpm)) <= NEAR * self.record.knee for depth in self.depths)

    def is_hot(self, rpm: float) -> bool:
        """Whether this is slower than any reading so far, and the energy there has risen far enough."""
        if not self.depths or self.setup.depth(rpm) > min(self.depths):
            return False
        there = [energy for depth, energy in zip(self.depths, self.energies) if depth == min(self.depths)]
        return mean(there) >= ENERGY_FACTOR * min(self.energies)

    def judged(self, wanted: float) -> Confirmation:
        """The word once each depth is read."""
        record, readings = self.record, numbered(self.depths, self.energies)
        fit = fit_corner(readings)
        expected = (record.noise * (fit.level if fit.level > 0 else readings.all.y)) ** 2
        corners = [record.knee * (LOWEST_CORNER + (HIGHEST_CORNER - LOWEST_CORNER) * step / STEPS) for step in range(STEPS + 1)]
        squares = _profile(readings, corners)
        least, own_freedom = min(squares), readings.n - 3
        if least / own_freedom > LACK_OF_FIT * expected:
            return self.needs_full_trial(CHANGED, "the readings fit neither the recorded knee nor another one about it")
        freedom = record.noise_freedom + own_freedom
        variance = (record.noise_freedom * expected + least) / freedom
        bar = f1_quantile(CONFIDENCE, round(freedom))
        inside = [corner for corner, square in zip(corners, squares) if square <= least + bar * variance]
        tied = [corner for corner, square in zip(corners, squares) if square <= least + ROUNDING * readings.all.syy]
        own = tied[0] if len(tied) == 1 else (inside[0] + inside[-1]) / 2
        if inside[0] <= readings.places[1] or inside[-1] >= readings.depths[-1]:
            return self._goes_on(own, "the new readings alone do not bracket a knee")
        recorded_variance = ((record.high - record.low) / 2 / NORMAL_95) ** 2 + (BETWEEN_PARTS * record.knee) ** 2
        error = sqrt(recorded_variance + ((inside[-1] - inside[0]) / 4) ** 2)
        if abs(own - record.knee) > CHANGED_ERRORS * error:
            return self.needs_full_trial(
                CHANGED, f"the knee lies at about {own:.4g} µm, {100 * (own / record.knee - 1):+.2g} % from the record"
            )
        both = [square / variance + (corner - record.knee) ** 2 / recorded_variance for corner, square in zip(corners, squares)]
        knee = corners[both.index(min(both))]
        inside = [corner for corner, square in zip(corners, both) if square <= min(both) + bar]
        low = min(inside[0], own, knee * (1 - LEAST_HALF_WIDTH))
        high = max(inside[-1], own, knee * (1 + LEAST_HALF_WIDTH))
        half = max(knee - low, high - knee) / knee
        if half > wanted:
            return self._goes_on(own, f"known within ±{100 * half:.2g} % so far")
        return self.ends(
            CONFIRMED,
            f"{knee:.4g} µm, {low:.4g} to {high:.4g} µm, from the record and {readings.n} new readings",
            knee=knee,
            low=low,
            high=high,
        )

    def _goes_on(self, corner: float, reason: str) -> Confirmation:
        """The depth whose reading narrows the corner most, or a full trial."""
        if len(self.depths) >= MOST_CONFIRMING:
            return self.needs_full_trial(GO_ON, f"{reason} after {len(self.depths)} readings")
        return self.reads(min(self.rpms, key=lambda rpm: corner_variance(self.depths, [corner], self.setup.depth(rpm))), reason)


def _profile(readings: Readings, corners: list[float]) -> list[float]:
    """Squares about the best of a straight fall, a curved one and one that goes on gently, with its corner at each place."""
    first = readings.depths[0]

    def place(depth: float) -> float:
        return 2.0 - (first / depth) ** 2

    curved = _squares(readings.over(place), [place(corner) for corner in corners])
    return [min(falls) for falls in zip(_squares(readings, corners), curved, _squares(readings, corners, GENTLE))]


def _squares(readings: Readings, corners: list[float], ratio: float = 0.0) -> list[float]:
    """Squares about the best fall with its corner at each place and a share of its slope beyond, or about the level where none falls."""
    level, line = level_line(readings).sse, straight_line(readings)
    beyond = line.sse if line.slope > 0 else level

    def at(corner: float) -> float:
        if corner <= readings.depths[0]:
            return level
        if corner >= readings.depths[-1]:
            return beyond
        fit = on_reading(readings, next(gap for gap in readings.gaps if corner <= gap.upper), corner, ratio)
        return max(0.0, fit.sse) if fit.slope > 0 else level

    return [at(corner) for corner in corners]
