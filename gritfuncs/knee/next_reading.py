"""`next_reading`: which work rpm to try next in a trial, or that it can stop, and why.

The trial starts at nominal, goes outward on both sides by small steps, and turns inward only when the knee is
bracketed.  It never leaves the machine's limits and never goes further than one step beyond the rpm already tried.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, replace
from math import ceil, inf, sqrt
from typing import Any

from ..values import shown
from . import verdict as words
from .drift import (
    COULD_BE_DRIFT,
    USUAL_DRIFT,
    DriftRange,
    best_repeat,
    checked_drift,
    drift_range,
    joined,
    taken_off,
    without_drift,
    worth_repeating,
)
from .evidence import checked_noise
from .find import judged, knee_of_trial
from .hinge import Corner, fit_corner, level_line
from .inputs import depth_and_rpm, net_readings, share, truth
from .interval import Hull
from .reach import DEPTH_FACTOR, LARGEST_SLOWING, Reach, bounds_of, reach_of, start_at
from .readings import Readings, numbered, positive
from .result import ALREADY_LEVEL, FOUND, NOT_RESOLVED, STILL_FALLING, TOO_FEW, FoundKnee, Knee, found_in, not_resolved
from .sentence import READING, Sentence
from .thresholds import MIN_DEPTHS, MIN_READINGS
from .variance import corner_variance

# Convention: a knee known this well, as a share of itself, sets a machine: +/-5 % of depth is about +/-20 % of rpm.
WANTED = 0.05
WANTED_UNIT = "a share of the knee, 0.05 for 5 %"
# Convention: the step of a trial, in percent of nominal rpm (common practice, no source).
STEP_PERCENT = 10.0
# Convention: a trial that needs more parts than this needs less scatter or a steeper fall instead.
MOST_READINGS = 30
# Convention: what so many readings at one rpm show is not chance, be it out of line or the end of the range.
ENOUGH_REPEATS = 3
# Convention: among so many looks at a trial some show a rise by chance; only one that lasts so long stops it.
RISE_READINGS = 15
# Principled: a trial that stops as soon as its interval is narrow stops too often on scatter that came out small by
# luck.  So the interval that stops it is the one for the scatter's upper bound at 80 %; by simulation it then holds
# in 93 of 100 trials or more.  The number is the normal quantile of 20 %.
SCATTER_BOUND = -0.8416212335729143
# Convention, from simulation: a trial of little scatter is done about so many steps beyond the knee on both sides.
SPARE_STEPS = 3
# Convention, from simulation: so many readings more, on average, than the knee alone needs, until drift is ruled out.
REPEATS_TO_COME = 1
# Where the knee may lie inside what scatter leaves possible: both ends and the middle stand for all.
PLACES = (0.0, 0.5, 1.0)

KNEE_FOUND = "knee found"
START = "start at nominal"
DAMAGE = "burn, crack or wheel breakdown was seen; go back to the last rpm without damage"
NO_ROOM = "the machine's limits leave no room to change the rpm"
OUTSIDE = "no rpm within the machine's limits is within one step of those tried"
IN_TURN = "both sides in turn while little is known"
NARROWS = "narrows the knee most"
NO_LEVEL_YET, NO_FALL_YET = "level not seen yet", "fall not seen yet"
BENDS_SLOW, BENDS_FAST = "the bend so far is nearer to the slow end", "the bend so far is nearer to the fast end"
FEW_BELOW, FEW_BEYOND = "too few depths below the knee to see the fall", "too few depths beyond the knee to see a level"
DRIFT_WIDENS = "drift leaves the knee less sure than wanted"
RISES = "the readings rise with depth, which a wheel that changes does"


@dataclass(frozen=True)
class Advice:
    """What to do after the readings so far; `work_rpm` is None when the trial should stop.

    `knee` is the verdict so far.  When a knee found stops the trial, its interval is the wider one that allows for
    scatter that came out small by luck.
    """

    stop: bool
    reason: str
    work_rpm: float | None  # 1/min
    knee: Knee
    expected_more: int | None = None  # readings until the knee is known as well as wanted; None where not known yet
    infeed_rate: float | None = None  # mm/min on the radius, where it is stepped with the rpm

    def __repr__(self) -> str:
        return f"<Advice {self.line()}>"

    def _repr_html_(self) -> str:
        from .page import advice_page

        return advice_page(self)

    def line(self) -> str:
        """The advice as one line."""
        if self.stop:
            return f"stop: {self.reason}"
        more = "" if self.expected_more is None else f"; about {self.expected_more} more"
        infeed = "" if self.infeed_rate is None else f" with {self.infeed_rate:.4g} mm/min infeed"
        return f"next: {self.work_rpm:.6g} 1/min{infeed}, {self.reason} ({self.knee.verdict} so far{more})"

    def as_dict(self) -> dict[str, Any]:
        """All fields, ready for JSON."""
        return {**asdict(self), "knee": self.knee.as_dict()}


class FourthRoot:
    """Depth and work rpm where no setup is known: at constant infeed rate, wheel and work h goes with rpm^(1/4)."""

    def __init__(self, depth_at_1: float = 1.0):
        self.depth_at_1 = positive("depth_at_1", depth_at_1, "(the depth at 1 1/min)")

    def depth(self, work_rpm: float) -> float:
        """Grit depth, in the unit of depth_at_1, at a work rpm [1/min]."""
        rpm = positive("work_rpm", work_rpm, "1/min")
        return _computed("work_rpm", work_rpm, lambda: self.depth_at_1 * rpm**0.25)

    def rpm_for(self, depth: float) -> float:
        """Work rpm [1/min] at a grit depth."""
        given = positive("depth", depth, "(in the unit of depth_at_1)")
        return _computed("depth", depth, lambda: (given / self.depth_at_1) ** 4)


def next_reading(
    depths: Iterable[float],
    energies: Iterable[float],
    setup: Any,
    limits: Any = None,
    *,
    noise: float | None = None,
    wanted: float = WANTED,
    nominal_rpm: float | None = None,
    step_percent: float = STEP_PERCENT,
    damage_seen: bool = False,
    drift: float | None = USUAL_DRIFT,
    recorded_knee: float | None = None,
) -> Advice:
    """Say which work rpm to try next, or that the trial can stop, and why.

    Parameters
    ----------
    depths : grit depths of the readings so far [µm], in the order taken; none before the first
    energies : specific energies [J/mm³], net power or net load, > 0; idle taken off, because how far they rise above
        the level is what stops the trial from going slower
    setup : anything with depth(work_rpm) and rpm_for(depth), such as gritfuncs.Setup or FourthRoot()
    limits : anything with lowest_work_rpm and highest_work_rpm [1/min], such as gritfuncs.Limits.  On a side
        without a limit the trial ends 60 % from nominal
    noise : reading-to-reading scatter as a share of the level (0.02 = 2 %), if known
    wanted : half-width of the knee's interval that is good enough, as a share of the knee
    nominal_rpm : work rpm where the trial starts [1/min]; if not given, that of the recorded knee, or else the first reading's
    step_percent : furthest step beyond the rpm already tried [% of nominal]
    damage_seen : True when burn, a crack or wheel breakdown was seen: the trial stops
    drift : drift that is usual from one reading to the next (standard deviation), as a share of the level a reading.  The
        trial stops only when its verdict holds with every drift that repeats of an rpm leave possible; None: not judged
    recorded_knee : knee found earlier with the same wheel, material and machine [µm]: the trial starts at its rpm, within the limits,
        which spares readings on the way outward

    >>> next_reading([], [], FourthRoot(), nominal_rpm=100.0).line()
    'next: 100 1/min, start at nominal (too few readings so far)'
    """
    noise = None if noise is None else checked_noise(noise)
    wanted = share("wanted", wanted, 1.0, WANTED_UNIT)
    step_percent = share("step_percent", step_percent, 100.0, "% of nominal")
    damage_seen, setup, usual = truth("damage_seen", damage_seen), depth_and_rpm(setup), checked_drift(drift)
    depths, energies = net_readings(depths, energies)
    readings = numbered(depths, energies) if depths else None
    corner = _corner(readings) if readings else None
    ceiling = setup.rpm_for(DEPTH_FACTOR * corner.knee) if corner else inf
    if nominal_rpm is None and recorded_knee is not None:
        nominal_rpm = start_at(setup.rpm_for(positive("recorded_knee", recorded_knee, "µm")), limits)
    bounds = bounds_of(limits, nominal_rpm, [setup.rpm_for(depth) for depth in depths])
    tried = bounds.tried
    reach = reach_of(bounds, energies, step_percent, ceiling, getattr(setup, "largest_slowing", LARGEST_SLOWING))
    if readings is None or corner is None:
        knee = Knee(TOO_FEW, ("There are no readings yet.",), words.MORE_DEPTHS, 0, 0)
        return Advice(damage_seen, DAMAGE if damage_seen else START, None if damage_seen else reach.nominal, knee)
    trial = _Trial(readings, judged(depths, energies, noise), corner, tried, reach, setup)
    if damage_seen:
        return trial.stops(DAMAGE)
    if usual is None or trial.knee.verdict == TOO_FEW:
        return trial.advice(wanted, noise is not None)
    return _advice_with_drift(trial, depths, energies, drift_range(readings, trial.knee, usual), wanted, noise)


def _advice_with_drift(
    trial: _Trial, depths: list[float], energies: list[float], drift: DriftRange, wanted: float, noise: float | None
) -> Advice:
    """The advice with the most likely drift taken off; a stop that a possible drift could have made is put off."""
    knee, readings = trial.knee, trial.readings
    if drift.centre:
        level = without_drift(energies, drift.centre)
        readings, knee = numbered(depths, level), judged(depths, level, noise)
    trial = replace(
        trial, readings=readings, knee=taken_off(knee, drift), corner=_corner(readings), repeats_to_come=REPEATS_TO_COME
    )
    advice = trial.advice(wanted, noise is not None)
    found, falling = (advice.stop and advice.reason.startswith(word) for word in (KNEE_FOUND, STILL_FALLING))
    if found or falling and readings.n < MOST_READINGS:
        ends = [judged(depths, without_drift(energies, end), noise) for end in drift.ends()]
        # A knee that both ends leave may be lost in between, and then the verdict on the whole trial is none.
        wholes = [knee_of_trial(depths, energies, noise=noise)] if found else []
        advice = trial.against_drift(advice, [*ends, *wholes], wanted)
    return replace(advice, reason=f"{advice.reason}; {drift.words()}") if drift.is_seen else advice


def _computed(name: str, given: Any, compute: Callable[[], float]) -> float:
    """A number above 0, or one line where the input is too large or too small for computing."""
    try:
        value = compute()
    except OverflowError:
        value = inf
    if not 0 < value < inf:
        raise ValueError(f"{name} must be within what can be computed (got {shown(given)})")
    return value


def _corner(readings: Readings) -> Corner:
    return fit_corner(readings) if len(readings.depths) > 1 else level_line(readings)


def found_within(knee: FoundKnee) -> str:
    """Why a trial stops with a knee."""
    return f"{KNEE_FOUND} within ±{50 * (knee.high - knee.low) / knee.knee:.2g} %"


def widening(knee: Knee) -> float:
    """How much wider the interval is for the scatter's upper bound than for the scatter as it came out.

    The bound's chi-squared quantile is Wilson and Hilferty's (Proceedings of the National Academy of Sciences 17,
    1931, 684), so that cells can compute it.  It does not pass the noise floor below.
    """
    # A found knee comes from a fit, and with its noise from one whose level is above zero.
    assert knee.sse is not None and knee.level is not None and knee.noise is not None
    freedom = knee.n_readings - 3
    spread = 2 / (9 * freedom)
    bound = sqrt(knee.sse / freedom / (1 - spread + SCATTER_BOUND * sqrt(spread)) ** 3) / knee.level
    return max(1.0, bound / knee.noise)


@dataclass(frozen=True)
class _Trial:
    """The readings so far, the verdict on them, and where the next one may lie."""

    readings: Readings
    knee: Knee
    corner: Corner
    tried: list[float]  # 1/min
    reach: Reach
    setup: Any
    repeats_to_come: int = 0

    def stops(self, reason: str, knee: Knee | None = None) -> Advice:
        return Advice(True, reason, None, knee or self.knee)

    def goes(self, rpm: float, reason: str, expected_more: int | None = None) -> Advice:
        more = None if expected_more is None else min(expected_more + self.repeats_to_come, MOST_READINGS - self.knee.n_readings)
        return Advice(False, reason, rpm, self.knee, more)

    def advice(self, wanted: float, noise_known: bool) -> Advice:
        knee, reach = self.knee, self.reach
        width: float | None = None
        found = found_in(knee)
        if found is not None and knee.noise is not None:
            known = self._width(found, 1.0 if noise_known else widening(knee), wanted)
            if isinstance(known, Advice):
                return known
            width = known
        if knee.n_readings >= MOST_READINGS:
            return self.stops(f"{knee.n_readings} readings, and {knee.verdict}: less scatter or a wider range is needed")
        if reach.low > reach.high:
            return self.stops(OUTSIDE)
        if not reach.low <= reach.nominal <= reach.high:  # the first readings were taken elsewhere
            return self.goes(reach.low if reach.nominal < reach.low else reach.high, "go toward nominal")
        if not min(self.tried) <= reach.nominal <= max(self.tried):
            return self.goes(reach.nominal, START)
        return self._repeat() or self._ends() or self._outward() or self._inward(width)

    def _width(self, knee: FoundKnee, wider: float, wanted: float) -> Advice | float:
        """The stop when the knee is known as well as wanted, else how much too wide its interval is."""
        half = wider * (knee.high - knee.low) / 2
        if half > wanted * knee.knee:
            return half / knee.knee / wanted
        first, last = self.readings.depths[0], self.readings.depths[-1]
        knee = knee._replace(
            low=max(first, knee.knee - wider * (knee.knee - knee.low)),
            high=min(last, knee.knee + wider * (knee.high - knee.knee)),
        )
        return self.stops(found_within(knee), replace(self.knee, low=knee.low, high=knee.high))

    def against_drift(self, stop: Advice, others: list[Knee], wanted: float) -> Advice:
        """The stop where the other verdicts allow it, those with the least and the largest possible drift; else what to read again."""
        found = found_in(stop.knee)
        if found is None:  # the readings are still falling
            return (
                stop
                if all(other.verdict in (STILL_FALLING, ALREADY_LEVEL) for other in others)
                else self._repeat_for(COULD_BE_DRIFT, [self.setup.depth(self.reach.nominal)])
            )
        corners = [found.knee, found.low, found.high]
        whole = joined(found, others)
        if whole is None:
            return replace(self, knee=not_resolved(stop.knee))._repeat_for(COULD_BE_DRIFT, corners)
        knee = replace(stop.knee, low=whole.low, high=whole.high)
        if whole.high - whole.low <= 2 * wanted * whole.knee:
            return self.stops(found_within(whole), knee)
        return replace(self, knee=knee)._repeat_for(DRIFT_WIDENS, corners)

    def _repeat_for(self, why: str, corners: list[float]) -> Advice:
        """The reading whose repeat tells about drift and narrows the corner most; the stop where no more may be taken."""
        knee, reach = self.knee, self.reach
        numbers = worth_repeating(self.readings, lambda number: reach.low <= self.tried[number] <= reach.high)
        if knee.n_readings >= MOST_READINGS or not numbers:
            return self.stops(f"{knee.n_readings} readings, and {why}")
        depths = [self.setup.depth(rpm) for rpm in self.tried]
        rpm = self.tried[best_repeat(depths, numbers, corners)]
        name = "nominal" if rpm == reach.nominal else f"{rpm:.6g} rpm"
        return self.goes(rpm, f"repeat {name}: {why}", 0)

    def _repeat(self) -> Advice | None:
        """A reading to take again because something is odd."""
        knee, reach = self.knee, self.reach
        if knee.verdict == NOT_RESOLVED and knee.suspect is not None:
            rpm = self.tried[knee.suspect]
            if self.tried.count(rpm) < ENOUGH_REPEATS and reach.low <= rpm <= reach.high:
                return self.goes(rpm, Sentence(f"repeat {READING}: out of line with the others", knee.suspect))
        if knee.verdict == NOT_RESOLVED and knee.advice == words.OUT_AND_BACK:
            if self.tried.count(reach.nominal) < ENOUGH_REPEATS:
                return self.goes(reach.nominal, f"repeat nominal: {RISES}")
            if knee.n_readings >= RISE_READINGS:
                return self.stops(f"{RISES}; {words.OUT_AND_BACK}")
        return None

    def _ends(self) -> Advice | None:
        """The stop where no knee is in range and no further rpm is allowed."""
        knee, reach = self.knee, self.reach
        if knee.verdict == STILL_FALLING and not reach.can_go_faster:
            return self._again(max(self.tried), "go faster", reach.why_not_faster)
        if knee.verdict == ALREADY_LEVEL and not reach.can_go_slower:
            return self._again(min(self.tried), "go slower", reach.why_not_slower)
        if not reach.can_go_slower and not reach.can_go_faster and min(self.tried) == max(self.tried):
            return self.stops(NO_ROOM)
        return None

    def _again(self, end: float, further: str, why_not: str) -> Advice:
        """The stop without a knee, once the reading at the end of the range was confirmed."""
        if self.tried.count(end) < ENOUGH_REPEATS and self.reach.low <= end <= self.reach.high:
            return self.goes(end, f"repeat {end:.6g} rpm: {self.knee.verdict}, and the end is reached")
        return self.stops(f"{self.knee.verdict}, and not to {further}: {why_not}")

    @property
    def _bracket(self) -> Hull | None:
        """The corners that scatter leaves possible, where they lie within the readings."""
        low, high = self.knee.scatter_low, self.knee.scatter_high
        return Hull(low, high) if self.knee.verdict in (FOUND, NOT_RESOLVED) and low is not None and high is not None else None

    def _outward(self) -> Advice | None:
        """One step beyond the rpm tried, unless the knee is bracketed with two depths to spare on both sides."""
        knee, reach, readings, corner = self.knee, self.reach, self.readings, self.corner
        bracket = self._bracket
        if bracket is not None:
            if bracket.low <= readings.places[1] and reach.can_go_slower:
                return self._slower(FEW_BELOW)
            if bracket.high > readings.places[-2] and reach.can_go_faster:
                return self._faster(FEW_BEYOND)
            return None
        if knee.n_readings < 3:
            slower, why = max(self.tried) > reach.nominal, (IN_TURN, IN_TURN)
        elif knee.verdict in (STILL_FALLING, ALREADY_LEVEL):
            slower, why = knee.verdict == ALREADY_LEVEL, (NO_FALL_YET, NO_LEVEL_YET)
        else:  # the side on which the corner so far lies nearer to the end
            first, last = readings.depths[0], readings.depths[-1]
            slower = corner.knee - first < last - corner.knee
            why = (NO_FALL_YET if corner.knee == first else BENDS_SLOW, NO_LEVEL_YET if corner.knee == last else BENDS_FAST)
        if slower and not reach.can_go_slower or not slower and not reach.can_go_faster:
            slower = not slower
            why = (
                f"a wider range shows more; not faster, {reach.why_not_faster}",
                f"a wider range shows more; not slower, {reach.why_not_slower}",
            )
        if slower and reach.can_go_slower:
            return self._slower(why[0])
        return self._faster(why[1]) if not slower and reach.can_go_faster else None

    def _slower(self, why: str) -> Advice:
        return self.goes(self.reach.low, f"go slower: {why}", self._steps_missing())

    def _faster(self, why: str) -> Advice:
        return self.goes(self.reach.high, f"go faster: {why}", self._steps_missing())

    def _steps_missing(self) -> int | None:
        """Readings until the trial reaches three steps to both sides of the corner so far."""
        if self.knee.n_readings < 3:
            return None
        knee, spare = self.setup.rpm_for(self.corner.knee), SPARE_STEPS * self.reach.step
        missing = max(0.0, knee + spare - max(self.tried)) + max(0.0, min(self.tried) - knee + spare)
        return max(1, MIN_READINGS - self.knee.n_readings, round(missing / self.reach.step))

    def _inward(self, too_wide: float | None) -> Advice:
        """The rpm whose reading narrows the corner most, by the variance of the corner with that reading added."""
        knee, reach, readings = self.knee, self.reach, self.readings
        if len(readings.places) < MIN_DEPTHS:
            return self._widest_gap()
        corners = [self.corner.knee]
        bracket = self._bracket
        if bracket is not None:
            corners += [bracket.low + share * (bracket.high - bracket.low) for share in PLACES]
        rpm = min(reach.candidates(self.tried), key=lambda rpm: corner_variance(readings.h, corners, self.setup.depth(rpm)))
        # Readings where they tell most narrow the interval faster than the square root of their number, about in proportion.
        more = None if too_wide is None else max(1, ceil(min(MOST_READINGS, knee.n_readings * (too_wide - 1))))
        return self.goes(rpm, self._where(rpm), more)

    def _where(self, rpm: float) -> str:
        lower, higher = [each for each in self.tried if each < rpm], [each for each in self.tried if each > rpm]
        if rpm in self.tried:
            name = "nominal" if rpm == self.reach.nominal else f"{rpm:.6g} rpm"
            return f"repeat {name}: {NARROWS}"
        if not lower:
            return f"go slower: {NARROWS}"
        return f"between {max(lower):.6g} and {min(higher):.6g} rpm: {NARROWS}" if higher else f"go faster: {NARROWS}"

    def _widest_gap(self) -> Advice:
        low, high = self.reach.low, self.reach.high
        rpms = sorted({min(max(rpm, low), high) for rpm in self.tried})  # a reading beyond the limits ends the gap at the limit
        if len(rpms) == 1:
            return self.goes(rpms[0], f"back within the limits: a knee needs {MIN_DEPTHS} depths")
        lower, higher = max(zip(rpms, rpms[1:]), key=lambda pair: pair[1] - pair[0])
        return self.goes(
            self.reach.settable((lower + higher) / 2, lower, higher),
            f"between {lower:.6g} and {higher:.6g} rpm: a knee needs {MIN_DEPTHS} depths",
        )
