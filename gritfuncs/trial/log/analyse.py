"""From a trace to a power log: cut, sorted, read, and checked for being grinding at all."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ..log_limits import AT_TOP, BEHIND, LAGS_BEHIND, NEAR_ZERO
from .checks import Refusal, level_share, no_levels, refusal_of
from .cutting import Cut, by_contact, cut
from .idle import Idles, idles
from .remarks import part_remarks, trace_remarks
from .result import PartReading, PowerLog, Stretch, SweptPart
from .rise import wave_like
from .rpm import rpm_within
from .sorting import CLIPPED, GROUND, NO_IDLE, PART, TOUCH, UNCLEAR, sort_out
from .standstill import standstill, with_start_up
from .steady import Steady, infeed_seconds, steady_stretches
from .sweep import refusal as sweep_refusal
from .sweep import remark as sweep_remark
from .sweep import swept_part
from .trace import Trace

SAID = 2  # standard errors that are printed


class Parts(NamedTuple):
    """The parts that can be read, and what they read."""

    numbers: list[int]  # among all that were ground, from 1
    stretches: list[tuple[int, int]]
    idle: Idles
    lag: float
    steady: list[Steady]


NO_PARTS = Parts([], [], Idles(np.array([]), np.array([]), 0.0, np.array([], bool)), np.nan, [])


def analyse(
    trace: Trace,
    source: str,
    load_kind: str,
    clock: str,
    is_clock: bool,
    remarks: list[str],
    idle: float | None,
    infeed_time: float | None,
    sweep: tuple[float, ...] | None,
) -> PowerLog:
    """The log of a trace.  `idle` is what the meter shows at idle; 0 says that zero is no standing spindle."""
    closed = trace.missing.copy()
    if idle is None or abs(idle) > NEAR_ZERO * np.percentile(trace.power, 98):
        closed |= with_start_up(standstill(trace.power, trace.interval), trace.interval)
    found = cut(trace.power, trace.interval, closed)
    if trace.contact is not None:
        found = _by_channel(trace, found)
    words: list[tuple[str, str]] = []
    parts, refusal = NO_PARTS, no_levels(trace)
    if found is not None:
        words = _words(trace, found, closed, infeed_time)
        parts = _read(trace, found, words, closed, idle)
        infeeds = [infeed_seconds(trace.power, trace.interval, *pair) for pair in zip(parts.stretches, parts.idle.values)]
        named = [word for word, _ in words]
        level, wave = 1.0, None
        if parts.stretches and not sweep:
            level = level_share(trace.power, parts.stretches, parts.idle.values)
            wave = wave_like(trace.power, trace.interval, parts.stretches, parts.idle.values)
        steady = [] if sweep else parts.steady  # a part that is swept does not stay level
        refusal = refusal_of(
            trace, found.stretches, named, np.array(infeeds), level, steady, infeed_time, trace.contact is not None, wave
        )
    readings = _readings(trace, parts) if refusal.is_grinding else ()
    said = trace_remarks(trace) + (part_remarks(trace, parts, readings, words, load_kind) if readings and not sweep else [])
    swept: tuple[SweptPart, ...] = ()
    if sweep and refusal.is_grinding:
        swept, refusal = _swept(trace, parts, sweep, infeed_time, refusal)
        said += [sweep_remark(swept)] if swept else []
    return PowerLog(
        source,
        load_kind,
        len(trace.power) * trace.interval,
        clock,
        is_clock,
        _stretches(trace, found, words, refusal) if found else (),
        readings,
        parts.lag if readings else None,
        parts.idle.step if readings else 0.0,
        trace.holes,
        tuple(remarks + said),
        refusal.text,
        trace,
        swept,
    )


def _swept(
    trace: Trace, parts: Parts, sweep: tuple[float, ...], infeed_time: float, refusal: Refusal
) -> tuple[tuple[SweptPart, ...], Refusal]:
    """What the parts give in which the work rpm was swept, and why it is not handed on."""
    each = zip(parts.numbers, parts.stretches, parts.idle.values)
    swept = tuple(swept_part(trace, number, stretch, float(idle), sweep, infeed_time) for number, stretch, idle in each)
    why = refusal.text or sweep_refusal(swept, infeed_time, len(sweep) - 1)
    return swept, Refusal(why, refusal.is_grinding)


def _by_channel(trace: Trace, found: Cut | None) -> Cut | None:
    """The stretches that the contact channel shows, on the idle that the power shows between them."""
    stretches = by_contact(trace.contact, trace.interval)
    if not stretches:
        return None
    outside = np.ones(len(trace.power), bool)
    for first, last in stretches:
        outside[first:last] = False
    idle = found.idle if found else np.full(len(trace.power), np.median(trace.power[outside]) if outside.any() else 0.0)
    level = float(np.median(trace.power[~outside])) - float(np.median(idle))
    return Cut(stretches, [], idle, level)


def _words(trace: Trace, found: Cut, closed: np.ndarray, infeed_time: float | None) -> list[tuple[str, str]]:
    """Word and reason of every stretch, those that are clipped among them."""
    words = sort_out(found.stretches, trace.power, trace.interval, found.idle, trace.missing, closed, infeed_time)
    parts = [place for place, (word, _) in enumerate(words) if word == PART]
    share = [float(trace.at_top[slice(*found.stretches[place])].mean()) for place in parts]
    if (
        trace.quantum
        and np.median([_usual_share(trace.power[slice(*found.stretches[place])]) for place in parts] or [0]) > AT_TOP
    ):
        return words  # a quiet log in whole steps: to stand at one value says nothing
    for place, at_top in zip(parts, share):
        if at_top > AT_TOP:
            top = f"{trace.power.max():.5g}"
            words[place] = (
                CLIPPED,
                f"{100 * at_top:.0f} % of it stand at {top}, the highest value of the log: the meter ends there",
            )
    return words


def _usual_share(values: np.ndarray) -> float:
    """The share of the commonest value."""
    return float(np.unique(values, return_counts=True)[1].max() / len(values))


def _read(trace: Trace, found: Cut, words: list[tuple[str, str]], closed: np.ndarray, given_idle: float | None) -> Parts:
    """Idle, lag and steady stretch of the parts; those without idle get their word."""
    power, interval = trace.power, trace.interval
    places = [place for place, (word, _) in enumerate(words) if word == PART]
    stretches = [found.stretches[place] for place in places]
    if not stretches:
        return NO_PARTS
    every = sorted(found.stretches + found.touches)
    levels = np.array([np.percentile(power[first:last] - found.idle[first:last], 75) for first, last in stretches])
    lag, steady = 0.0, []
    known = np.zeros(len(stretches), bool)
    while True:  # the idle windows need the lag, and the lag needs idle
        beside = idles(power, interval, stretches, every, closed, levels, lag)
        if given_idle is not None:
            missing = ~np.isfinite(beside.values)
            beside = beside._replace(
                values=np.where(missing, given_idle, beside.values), errors=np.where(missing, 0.0, beside.errors)
            )
        known = np.isfinite(beside.values)
        if not known.any():
            break
        kept = [one for one, is_known in zip(stretches, known) if is_known]
        before, (lag, steady) = lag, steady_stretches(power, interval, kept, beside.values[known])
        if before or LAGS_BEHIND * lag <= BEHIND:
            break
    for place, is_known in zip(places, known):
        if not is_known:
            words[place] = (NO_IDLE, "no free second of idle on either side; say the idle reading with idle")
    beside = Idles(beside.values[known], beside.errors[known], beside.step, beside.short[known])
    numbers = np.cumsum([word in GROUND for word, _ in words])[places][known].tolist()
    return Parts(numbers, [one for one, is_known in zip(stretches, known) if is_known], beside, lag, steady)


def _readings(trace: Trace, parts: Parts) -> tuple[PartReading, ...]:
    readings = []
    per_place = max(1.0, trace.interval / trace.row_interval)
    for number, (first, last), idle, idle_error, steady in zip(
        parts.numbers, parts.stretches, parts.idle.values, parts.idle.errors, parts.steady
    ):
        variance = steady.error**2 + np.nan_to_num(idle_error) ** 2
        if steady.scatter * per_place**0.5 < trace.quantum:  # nothing dithers the rounding, of level and idle alike
            variance += 2 * trace.quantum**2 / 12
        readings.append(
            PartReading(
                number,
                trace.time(first),
                trace.time(last),
                trace.time(steady.first),
                trace.time(steady.last),
                float(idle + steady.net),
                float(idle),
                float(steady.net),
                float(SAID * variance**0.5),
                float(steady.slope),
                rpm_within(trace, steady)[0],
            )
        )
    return tuple(readings)


def _stretches(trace: Trace, found: Cut, words: list[tuple[str, str]], refusal: Refusal) -> tuple[Stretch, ...]:
    named = [(*stretch, *word) for stretch, word in zip(found.stretches, words)]
    for first, last in found.touches:
        height = np.median((trace.power - found.idle)[first:last]) / found.level
        named.append((first, last, TOUCH, f"rises to {100 * height:.0f} % of the usual level only"))
    named.sort()
    if not refusal.is_grinding:
        named = [(first, last, UNCLEAR if word in GROUND else word, why) for first, last, word, why in named]
    return tuple(
        Stretch(number, trace.time(first), trace.time(last), word, why)
        for number, (first, last, word, why) in enumerate(named, 1)
    )
