"""How slow and how fast the next reading of a trial may be: the machine's limits, the step, and what was seen."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, inf, log10
from typing import Any

from .readings import positive

# Convention: at constant removal rate the heat goes with the energy.  Half as much again as the level is heat enough,
# and a fall of 50 % is ten times even a scatter of 5 %, so going slower would teach little more.
ENERGY_FACTOR = 1.5
# Convention: wheels lose grits from about twice the knee (common practice, no source); this stays well below.
DEPTH_FACTOR = 1.5
# Convention: share of nominal rpm to each side where the machine's limit is not given; depth moves from there with
# the fourth root of the rpm only, and another infeed rate does more.
FURTHEST = 0.6
# Convention: at low rpm a step in percent of nominal becomes a large one of the rpm itself.  A fifth of the slowest
# rpm moves depth by 5.4 %.
LARGEST_SLOWING = 0.2
# Convention: an end nearer than this share of a step is reached; the machine's own rpm is never quite the one set.
NEARLY = 0.25
# Convention: an rpm that was computed back from a depth has lost its last digits (relative).
SAME_RPM = 1e-8
FURTHEST_WORDS = f"{100 * FURTHEST:g} % from nominal is reached and no limit of the machine is given"


@dataclass(frozen=True)
class Reach:
    """Lowest and highest work rpm [1/min] of the next reading, and why it goes no further."""

    nominal: float
    step: float
    low: float
    high: float
    can_go_slower: bool
    can_go_faster: bool
    why_not_slower: str
    why_not_faster: str

    def settable(self, rpm: float, low: float, high: float) -> float:
        """The rpm in figures that can be set, without leaving low to high."""
        return settable(rpm, low, high, self.step)

    def candidates(self, tried: list[float]) -> list[float]:
        """Every rpm worth comparing: those tried and whole steps from nominal, from one step below to one above."""
        first, last = ceil((self.low - self.nominal) / self.step), floor((self.high - self.nominal) / self.step)
        grid = (self.settable(self.nominal + number * self.step, self.low, self.high) for number in range(first, last + 1))
        return sorted({rpm for rpm in (*tried, *grid, self.low, self.high) if self.low <= rpm <= self.high})


@dataclass(frozen=True)
class Bounds:
    """The machine's limits, the nominal rpm and the rpm of the readings so far [1/min]."""

    lowest: float | None
    highest: float | None
    nominal: float
    tried: list[float]


def limits_of(limits: Any) -> tuple[float | None, float | None]:
    """Lowest and highest work rpm of the machine [1/min]; None is no limit."""
    lowest = _rpm("lowest_work_rpm", getattr(limits, "lowest_work_rpm", None))
    highest = _rpm("highest_work_rpm", getattr(limits, "highest_work_rpm", None))
    if (lowest or 0.0) > (highest or inf):
        raise ValueError(f"lowest_work_rpm must be <= highest_work_rpm (got {lowest!r} and {highest!r})")
    return lowest, highest


def bounds_of(limits: Any, nominal_rpm: float | None, tried: list[float]) -> Bounds:
    """The bounds of a trial; ValueError for limits or a nominal rpm that are none."""
    lowest, highest = limits_of(limits)
    least, most = lowest or 0.0, highest or inf
    nominal = _rpm("nominal_rpm", nominal_rpm)
    if nominal is None and not tried:
        raise ValueError("nominal_rpm must be given before the first reading, > 0 1/min (got None)")
    marks = [mark for mark in (nominal, lowest, highest) if mark is not None]
    tried = [_without_last_digits(rpm, marks) for rpm in tried]
    nominal = tried[0] if nominal is None else nominal
    if not least <= nominal <= most:
        raise ValueError(f"nominal_rpm must be within the machine's limits, {least:g} to {most:g} 1/min (got {nominal:g})")
    return Bounds(lowest, highest, nominal, tried)


def start_at(rpm: float, limits: Any) -> float:
    """An rpm that was computed, as one where a trial can start: in three figures, within the machine's limits."""
    lowest, highest = limits_of(limits)
    return min(highest or inf, max(lowest or 0.0, float(f"{rpm:.3g}")))


def _without_last_digits(rpm: float, marks: list[float]) -> float:
    """The rpm without what the fourth root left of it: the nominal rpm or a limit, if it is one, else nine digits."""
    near = [mark for mark in marks if abs(rpm - mark) <= SAME_RPM * mark]
    return near[0] if near else float(f"{rpm:.9g}")


def reach_of(
    bounds: Bounds, energies: list[float], step_percent: float, ceiling: float, largest_slowing: float = LARGEST_SLOWING
) -> Reach:
    """The reach after the readings so far; `ceiling` is the rpm [1/min] above which grits might be lost."""
    lowest, highest, nominal, tried = bounds.lowest, bounds.highest, bounds.nominal, bounds.tried
    step = nominal * step_percent / 100
    slowest, fastest = min(tried, default=nominal), max(tried, default=nominal)
    why_not_slower, end = FURTHEST_WORDS, nominal * (1 - FURTHEST)
    if lowest is not None:
        why_not_slower, end = "the machine's lowest rpm is reached", lowest
    if tried and _rise(tried, energies) >= ENERGY_FACTOR:
        why_not_slower, end = f"the energy has risen to {ENERGY_FACTOR:g} times the lowest", slowest
    slower = max(end, slowest - min(step, largest_slowing * slowest))
    why_not_faster, end = FURTHEST_WORDS, nominal * (1 + FURTHEST)
    if highest is not None:
        why_not_faster, end = "the machine's highest rpm is reached", highest
    if ceiling < end:
        why_not_faster, end = f"{DEPTH_FACTOR:g} times the depth of the knee is reached", ceiling
    faster = min(end, fastest + step)
    can_go_slower, can_go_faster = slowest - slower > NEARLY * step, faster - fastest > NEARLY * step
    low = max(lowest or 0.0, settable(slower, slower, slowest, step) if can_go_slower else slowest)
    high = min(highest or inf, settable(faster, fastest, faster, step) if can_go_faster else fastest)
    return Reach(nominal, step, low, high, can_go_slower, can_go_faster, why_not_slower, why_not_faster)


def _rise(tried: list[float], energies: list[float]) -> float:
    """Energy at the slowest rpm over the lowest energy, which stands for the level."""
    slowest = [energy for rpm, energy in zip(tried, energies) if rpm == min(tried)]
    return sum(slowest) / len(slowest) / min(energies)


def settable(rpm: float, low: float, high: float, step: float) -> float:
    """The rpm in figures that can be set, about a tenth of a step, without leaving low to high."""
    unit = 10.0 ** floor(log10(step) - 1)
    for whole in (round(rpm / unit), ceil(rpm / unit), floor(rpm / unit)):
        value = float(f"{whole * unit:.12g}")
        if low <= value <= high:
            return value
    return min(max(rpm, low), high)


def _rpm(name: str, value: Any) -> float | None:
    return None if value is None else positive(name, value, "1/min")
