"""The readings as the fits want them: checked, sorted, with the sums on both sides of each gap."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import cached_property
from math import inf, isfinite
from typing import Any, NamedTuple

from ..values import items_of, number_in, shown
from .thresholds import LARGEST, SAME_DEPTH, SAME_PLACE, SMALLEST


class Side(NamedTuple):
    """Count, means and centred sums of the readings on one side of a gap."""

    n: int
    x: float  # mean depth
    y: float  # mean energy
    sxx: float
    sxy: float
    syy: float

    @property
    def slope(self) -> float:
        return self.sxy / self.sxx

    @property
    def sse_line(self) -> float:
        return max(0.0, self.syy - self.sxy * self.sxy / self.sxx)


class Gap(NamedTuple):
    """The space between two neighbouring depths, in which a corner may lie."""

    lower: float
    upper: float
    left: Side
    right: Side


class Readings:
    """Readings sorted by depth; `numbers` are their positions in the input, counted from 0."""

    def __init__(self, triples: Iterable[tuple[float, float, int]]):
        ordered = sorted(triples)
        self.u = [energy for _, energy, _ in ordered]
        self.numbers = [number for _, _, number in ordered]
        depths: list[float] = []
        ends: list[int] = []
        for i, (depth, _, _) in enumerate(ordered):
            if not depths or depth - depths[-1] > SAME_DEPTH * depths[-1]:
                depths.append(depth)
                ends.append(i)
            ends[-1] = i + 1
        self._arrange(depths, ends)

    def _arrange(self, depths: list[float], ends: list[int]) -> None:
        """Set the different depths, how many readings lie up to each, and the sums."""
        self.depths, self.ends, self.n = depths, ends, len(self.u)
        self.h = [depth for depth, start, end in zip(depths, [0] + ends, ends) for _ in range(start, end)]
        forward = _running_sides(self.h, self.u)
        backward = _running_sides(self.h[::-1], self.u[::-1])[::-1]
        self.all = forward[-1]
        self.gaps = [
            Gap(self.depths[j], self.depths[j + 1], forward[ends[j] - 1], backward[ends[j]]) for j in range(len(ends) - 1)
        ]
        self.span = self.depths[-1] - self.depths[0]

    @cached_property
    def places(self) -> list[float]:
        """The depths that count as different, each by its smallest."""
        places = self.depths[:1]
        for depth in self.depths:
            if depth - places[-1] > SAME_PLACE * self.span:
                places.append(depth)
        return places

    def over(self, place: Callable[[float], float]) -> Readings:
        """The same readings with another measure of their place, which must rise with depth."""
        other = object.__new__(Readings)
        other.u, other.numbers = self.u, self.numbers
        other._arrange([place(depth) for depth in self.depths], self.ends)
        return other

    def without(self, i: int) -> Readings:
        """The same readings but the i-th in order of depth."""
        return Readings(triple for j, triple in enumerate(zip(self.h, self.u, self.numbers)) if j != i)

    def groups(self) -> list[list[float]]:
        """The energies at each depth."""
        return [self.u[start:end] for start, end in zip([0] + self.ends, self.ends)]


def _running_sides(h: Sequence[float], u: Sequence[float]) -> list[Side]:
    """Sums of the first 1, 2, ... readings, updated about the running mean, which keeps their digits."""
    sides, x, y, sxx, sxy, syy = [], 0.0, 0.0, 0.0, 0.0, 0.0
    for n, (depth, energy) in enumerate(zip(h, u), 1):
        dx, dy = depth - x, energy - y
        x += dx / n
        y += dy / n
        sxx += dx * (depth - x)
        sxy += dx * (energy - y)
        syy += dy * (energy - y)
        sides.append(Side(n, x, y, sxx, sxy, syy))
    return sides


def read(depths: Iterable[float], energies: Iterable[float]) -> Readings:
    """The checked readings of two columns."""
    h, u = checked(depths, energies)
    if not h:
        raise ValueError("depths and energies must hold readings (got none)")
    return numbered(h, u)


def numbered(h: Sequence[float], u: Sequence[float]) -> Readings:
    """Readings with the numbers of their places in the columns."""
    return Readings(zip(h, u, range(len(h))))


def checked(depths: Iterable[float], energies: Iterable[float]) -> tuple[list[float], list[float]]:
    """The two columns as numbers that can be computed with."""
    h, u = numbers_of("depths", "µm", depths), numbers_of("energies", "J/mm³ (or power, or load)", energies)
    if len(h) != len(u):
        raise ValueError(f"depths and energies must be equally long (got {len(h)} and {len(u)} readings)")
    check_depths(h)
    return h, u


def check_depths(h: Sequence[float]) -> None:
    """Refuse depths that no grit cuts."""
    for number, depth in enumerate(h, 1):
        if depth <= 0:
            raise ValueError(f"depths must be > 0 µm (got {shown(depth)} in reading {number})")
        if depth < SMALLEST:
            raise ValueError(f"depths must be >= {SMALLEST:g} µm (got {shown(depth)} in reading {number})")


def positive(name: str, value: Any, unit: str) -> float:
    """The value as a number above 0."""
    number = number_in(value)
    if number is None or not 0 < number < inf:
        raise ValueError(f"{name} must be > 0 {unit} (got {shown(value)})")
    return number


def numbers_of(name: str, unit: str, values: Iterable[float]) -> list[float]:
    """The values as finite numbers; ValueError names the first that is none."""
    items = items_of(values)
    if items is None:
        raise ValueError(f"{name} must be a list of numbers in {unit} (got {shown(values)})")
    result = []
    for number, item in enumerate(items, 1):
        value = number_in(item)
        if value is None:
            raise ValueError(f"{name} must be numbers in {unit} (got {shown(item)} in reading {number})")
        if not isfinite(value) or abs(value) > LARGEST:
            raise ValueError(
                f"{name} must be finite numbers in {unit}, at most {LARGEST:g} in size (got {shown(value)} in reading {number})"
            )
        result.append(value)
    return result
