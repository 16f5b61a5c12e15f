"""Which work rpm belongs to which part: by a channel, by the steps in their order, or not at all; never shifted to fit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from ...quantities import QUANTITIES
from ...refused import Refused
from ...values import finite_in, shown
from .sorting import GROUND

if TYPE_CHECKING:
    from .result import PowerLog
    from .steady import Steady
    from .trace import Trace

RPM_SPREAD = 0.03  # of the work rpm within a steady stretch; more is no single step
NO_PART = "said to be none"
SAME_STEP = 0.03  # of the work rpm; how far a channel may be from the planned step


class Ground(NamedTuple):
    """A part that was ground, whether it can be read or not."""

    number: int
    start: float
    end: float
    word: str


class Step(NamedTuple):
    """A part with its work rpm, None where it is not known, and the number of its step from 1."""

    part: Ground
    work_rpm: float | None
    step: int
    left_out: str  # why it does not count; "" where it does


def ground(log: PowerLog) -> list[Ground]:
    """All parts of a log in order; those that cannot be read among them."""
    found = [stretch for stretch in log.stretches if stretch.word in GROUND]
    return [Ground(number, stretch.start, stretch.end, stretch.word) for number, stretch in enumerate(found, 1)]


def steps(
    log: PowerLog, work_rpms: Iterable[Any] | None, parts_per_step: int | Sequence[int], leave_out: Iterable[int]
) -> list[Step]:
    """The parts with their steps; ValueError where counts differ or the channel contradicts the plan."""
    parts, numbers = ground(log), _left_out(leave_out, log)
    counted = [part for part in parts if part.number not in numbers]
    by_channel = {reading.number: reading.work_rpm for reading in log.parts}
    has_channel = log.trace.rpm is not None
    planned: list[tuple[float, int]] | None = None
    if work_rpms is not None:
        rpms = _rpms(work_rpms)
        counts = _counts(parts_per_step, len(rpms))
        planned = [(rpm, step) for step, (rpm, count) in enumerate(zip(rpms, counts), 1) for _ in range(count)]
        if len(counted) != len(planned):
            raise Refused("parts", f"be {len(planned)}, {_said(counts)}", _got(log, counted), hint=_way_on(log, counted, counts))
    elif not has_channel and parts_per_step not in (1, [1]):
        raise Refused("work_rpms", "be given with parts_per_step", "none")
    found = []
    for part in parts:
        if part.number in numbers:
            found.append(Step(part, None, 0, NO_PART))
            continue
        rpm, step = planned[counted.index(part)] if planned else (by_channel.get(part.number), 0)
        measured = by_channel.get(part.number) if has_channel else None
        if planned and measured and abs(measured - rpm) > SAME_STEP * rpm:
            must = f"be within 3 % of its step in the plan, {rpm:.5g} 1/min"
            raise Refused(f"work rpm of part {part.number}", must, f"{measured:.5g}", hint=_way_on(log, counted, counts))
        why = "" if part.number in by_channel else part.word
        if has_channel and not why and measured is None:
            why = "work rpm changes within it"
        found.append(Step(part, rpm, step, why))
    return found


def _rpms(work_rpms: Iterable[Any]) -> list[float]:
    try:
        given = [getattr(one, "work_rpm", one) for one in work_rpms]
    except TypeError:
        raise Refused("work_rpms", "be a list of work rpm or a plan", shown(work_rpms)) from None
    rpms = [QUANTITIES["work_rpm"].check_one(rpm) for rpm in given if rpm is not None]
    if not rpms:
        raise Refused("work_rpms", "have at least one work rpm", "none")
    return rpms


def _counts(parts_per_step: Any, steps: int) -> list[int]:
    try:
        counts = [int(count) for count in parts_per_step if int(count) == count]
        given = len(list(parts_per_step))
    except TypeError:
        number = finite_in(parts_per_step)
        counts, given = [int(number)] if number is not None and number == int(number) else [], 1
    except ValueError:
        counts, given = [], 1
    if len(counts) < given or min(counts, default=-1) < 0:
        raise Refused("parts_per_step", "be whole numbers >= 0", shown(parts_per_step))
    counts = counts * steps if len(counts) == 1 else counts
    if len(counts) != steps:
        raise Refused("parts_per_step", f"be one number or one a step, {steps}", f"{len(counts)}")
    return counts


def _left_out(leave_out: Iterable[int], log: PowerLog) -> set[int]:
    numbers, known = set(leave_out), {part.number for part in ground(log)}
    if not numbers <= known:
        raise Refused("leave_out", f"be numbers of parts, 1 to {len(known)}", shown(sorted(numbers - known)[0]))
    return numbers


def _said(counts: Sequence[int]) -> str:
    if len(set(counts)) == 1:
        return f"{len(counts)} steps of {counts[0]}"
    return f"steps of {', '.join(map(str, counts))}"


def _got(log: PowerLog, counted: Sequence[Ground]) -> str:
    gaps = _long_gaps(counted)
    longest = f"; longest gaps after parts {', '.join(map(str, gaps))}" if gaps else ""
    return f"{len(counted)}{longest}"


def _long_gaps(counted: Sequence[Ground]) -> list[int]:
    """The parts behind which the gap is longer than twice the usual one: were these the changes of rpm?"""
    gaps = [(later.start - part.end, part.number) for part, later in zip(counted, counted[1:])]
    usual = sorted(gap for gap, _ in gaps)[len(gaps) // 2] if gaps else 0.0
    return [number for gap, number in gaps if gap > 2 * usual]


def _way_on(log: PowerLog, counted: Sequence[Ground], counts: Sequence[int]) -> str:
    """How to say what was ground: the counts between the long gaps, where these are as many as the steps."""
    borders = [
        0,
        *[next(place for place, part in enumerate(counted, 1) if part.number == number) for number in _long_gaps(counted)],
    ]
    between = [last - first for first, last in zip(borders, borders[1:] + [len(counted)])]
    example = ",".join(map(str, between if len(between) == len(counts) else [*counts[:3], "..."]))
    return f"look at the picture; say parts_per_step (--parts) {example}, or leave_out (--not) for a stretch that is no part"


def rpm_within(trace: Trace, steady: Steady) -> tuple[float | None, str]:
    """The work rpm of a steady stretch by the channel, or None with how far it changes within."""
    if trace.rpm is None:
        return None, ""
    values = trace.rpm[steady.first : steady.last]
    low, middle, high = np.percentile(values, [2, 50, 98])
    if not middle > 0 or high - low > RPM_SPREAD * middle:
        return None, f"{low:.4g} to {high:.4g}"
    return float(middle), ""
