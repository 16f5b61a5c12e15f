"""A part of the load that does not go with the removal rate, such as idle taken off wrongly: can a trial tell it from a knee?

Where the removal rate q changes from reading to reading, a load P0 too much adds P0/q to the energy.  Along one path of steps 1/q
is a smooth function of depth and copies a bend; two readings at one depth with the removal rate far apart part the two.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import fsum, sqrt

from .readings import numbers_of

# Convention, from simulation, between 0.14 (steps of both, ±60 %) and 0.55 (zigzag by 1.2): what is left of 1/q after a parabola in
# depth, q over its median, from which on the load is fitted beside the knee.  Idle is known to scatter over this length.
LEAST_LENGTH = 0.4


def checked_rates(removal_rates: Iterable[float] | None, count: int) -> list[float] | None:
    """The removal rates as numbers above 0, one a reading; None where there are none or all are the same."""
    if removal_rates is None:
        return None
    rates = numbers_of("removal_rates", "mm³/(mm·s), or any unit", removal_rates)
    if len(rates) != count:
        raise ValueError(f"removal_rates must be one a reading (got {len(rates)} for {count} readings)")
    for number, rate in enumerate(rates, 1):
        if rate <= 0:
            raise ValueError(f"removal_rates must be > 0 (got {rate:g} in reading {number})")
    return rates if rates and max(rates) > min(rates) else None


def median(rates: Sequence[float]) -> float:
    """The middle one, or the mean of the two in the middle."""
    ordered = sorted(rates)
    return (ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]) / 2


def inverse_rates(rates: Sequence[float]) -> list[float]:
    """1/q with q over its median."""
    middle = median(rates)
    return [middle / rate for rate in rates]


def length(depths: Sequence[float], rates: Sequence[float]) -> float:
    """What is left of 1/q after the best parabola in depth: how well a load that does not go with q can be told from a fall."""
    low, high = min(depths), max(depths)
    if high <= low:
        return 0.0
    scaled = [2 * (depth - low) / (high - low) - 1 for depth in depths]
    rest = residual(inverse_rates(rates), [[1.0] * len(depths), scaled, [place * place for place in scaled]])
    return sqrt(fsum(each * each for each in rest))


def tells_offset(depths: Sequence[float], rates: Sequence[float]) -> bool:
    """Whether a trial can tell a load that does not go with the removal rate from a knee."""
    return length(depths, rates) >= LEAST_LENGTH


def residual(values: Sequence[float], columns: Iterable[Sequence[float]]) -> list[float]:
    """What is left of the values after the best sum of the columns (Gram-Schmidt, each step twice)."""
    basis: list[list[float]] = []
    for column in columns:
        rest = _off(_off(column, basis), basis)
        size = sqrt(fsum(each * each for each in rest))
        if size > 1e-9 * sqrt(fsum(each * each for each in column)):
            basis.append([each / size for each in rest])
    return _off(_off(values, basis), basis)


def _off(values: Sequence[float], basis: Sequence[Sequence[float]]) -> list[float]:
    rest = list(values)
    for unit in basis:
        share = fsum(a * b for a, b in zip(unit, rest))
        rest = [each - share * of for each, of in zip(rest, unit)]
    return rest
