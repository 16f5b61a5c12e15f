"""The verdict: whether the readings show a knee, how sure it is, and what to do next."""

from __future__ import annotations

from math import inf, isfinite, sqrt
from typing import Any, NamedTuple

from . import thresholds as limit
from .curved import CurvedFall, curved_fall, rise
from .evidence import Evidence
from .hinge import Corner, fit_corner, fit_stick, level_line, straight_line
from .interval import Hull, hinge_hull, stick_hull
from .quantiles import f1_quantile, f2_quantile, t_quantile
from .readings import Readings
from .result import ALREADY_LEVEL, FOUND, NOT_RESOLVED, STILL_FALLING, TOO_FEW, Knee
from .sentence import DEPTH_UNIT, Sentence

MORE_DEPTHS = "take more readings at other rpm, within the machine's limits"
WIDER_MORE = "take more readings over a wider range of rpm, within the machine's limits"
HIGHER = "test higher rpm, within the machine's limits"
LOWER = "test lower rpm, within the machine's limits and watching for burn"
MORE = "take more readings over the same range"
OUT_AND_BACK = "dress the wheel and repeat the trial, stepping the rpm out and back"
WHEEL = "A wheel that dulls, loads or loses grits during the trial does this."
CHECK_METER = "check the meter"
SUBTRACT = "If the readings include idle power or an unknown offset, take it off first: it hides the fall."


def _answer(
    trial: Evidence,
    verdict: str,
    reasons: list[str],
    advice: str,
    hull: Hull | None = None,
    sse: float | None = None,
    **fields: Any,
) -> Knee:
    readings = trial.readings
    hull = hull or Hull(readings.depths[0], inf)
    sse = trial.hinge.sse if sse is None else sse
    noise = sqrt(trial.variance(sse, 3)) / trial.scale if trial.positive else None
    return Knee(
        verdict,
        tuple(map(Sentence, reasons)),
        advice,
        readings.n,
        len(readings.places),
        scatter_low=hull.low,
        scatter_high=hull.high if isfinite(hull.high) else None,
        noise=noise,
        noise_floor=trial.noise_floor,
        sse=sse,
        **fields,
    )


def judge(readings: Readings, noise: float | None) -> Knee:
    """The verdict on the readings as they are, with the noise as given or else from the repeats."""
    depths = len(readings.places)
    if readings.n < limit.MIN_READINGS or depths < limit.MIN_DEPTHS:
        have = f"There are {readings.n} readings at {depths} depths"
        need = f"a knee needs at least {limit.MIN_READINGS} readings at {limit.MIN_DEPTHS} depths"
        return Knee(TOO_FEW, (f"{have}; {need}.",), MORE_DEPTHS, readings.n, depths)
    trial = Evidence.of(readings, noise)
    if not trial.positive and readings.all.syy == 0:
        return _answer(trial, NOT_RESOLVED, ["All readings are the same and not above zero."], CHECK_METER)
    return _judge_level(trial) or _judge_corner(trial)


def _judge_level(trial: Evidence) -> Knee | None:
    """The answer where the readings do not fall."""
    readings, hinge = trial.readings, trial.hinge
    line, level = straight_line(readings), level_line(readings)
    deviation = sqrt(trial.variance(line.sse, 2) / readings.all.sxx)
    error = t_quantile(limit.CONFIDENCE, readings.n - 2) * deviation
    rises = line.slope + error < 0
    gain = (level.sse - hinge.sse) / trial.variance(hinge.sse, 3)
    falls = gain > 2 * f2_quantile(limit.CONFIDENCE, readings.n - 3)
    if trial.positive and not rises:
        # Both ways, as in a test of equivalence: a fall that turns into a rise has no slope on the whole.
        change = (abs(line.slope) + error) * readings.span / readings.all.y
        fitted_fall = hinge.slope * (hinge.knee - readings.depths[0]) / hinge.level
        if change <= limit.LEVEL_FALL and (not falls or fitted_fall <= limit.LEVEL_FALL):
            seen = f"The readings change by {100 * change:.2g} % at most: any knee lies below {_depth(readings.depths[0])} {DEPTH_UNIT}."
            return _answer(trial, ALREADY_LEVEL, [seen, SUBTRACT], LOWER, level=readings.all.y)
    if falls:
        return None
    if rises:
        seen = f"The readings rise with depth; before a knee they fall. {WHEEL}"
        return _answer(trial, NOT_RESOLVED, [seen], OUT_AND_BACK)
    stick = fit_stick(readings)
    if _better(trial, stick) and not _gentle(stick) and stick.right_slope < 0:
        return _rises_again(trial, stick)
    seen = "The scatter is as large as any fall in the readings."
    return _answer(trial, NOT_RESOLVED, [seen, SUBTRACT], WIDER_MORE)


def _judge_corner(trial: Evidence) -> Knee:
    """The answer where the readings do fall: does the fall end inside the range?"""
    readings, corner, notes = trial.readings, trial.hinge, []
    first, last = readings.depths[0], readings.depths[-1]
    freedom, variance = readings.n - 3, trial.variance(corner.sse, 3)
    hull = hinge_hull(readings, corner, corner.sse + f1_quantile(limit.CONFIDENCE, freedom) * variance)
    if not isfinite(hull.high):
        if hull.low >= first + limit.LOWER_BOUND_SHARE * readings.span:
            return _still_falling(trial, hull, "A straight fall without a knee fits the readings as well.")
        seen = (
            "A straight fall fits the readings about as well as one with a knee, which could lie anywhere"
            f" above {_depth(hull.low)} {DEPTH_UNIT}."
        )
        return _answer(trial, NOT_RESOLVED, [seen], WIDER_MORE, hull)

    stick = fit_stick(readings)
    if _better(trial, stick):
        later_fall = stick.right_slope * (last - stick.knee)
        small = later_fall <= limit.GENTLE_FALL * max(stick.level, trial.scale)
        if later_fall > 0 and not (_gentle(stick) and small):
            return _still_falling(
                trial,
                Hull(min(hull.low, stick.knee), hull.high),
                f"The fall changes at about {_depth(stick.knee)} {DEPTH_UNIT} but goes on.",
            )
        if not _gentle(stick):
            return _rises_again(trial, stick, hull)
        if later_fall > 0:
            corner, freedom, variance = stick, readings.n - 4, trial.variance(stick.sse, 4)
            hull = hull.joined(stick_hull(readings, stick, stick.sse + f1_quantile(limit.CONFIDENCE, freedom) * variance))
            notes.append("Beyond the knee the readings still fall, but gently.")
        else:
            notes.append("Beyond the knee the readings rise again a little.")

    serves: Corner | CurvedFall = corner
    fall, sse = corner.slope * (corner.knee - first), trial.hinge.sse
    curve = curved_fall(trial, corner)
    if curve:
        hull = hull.joined(curve.hull)
        if corner.sse > curve.limit:
            serves, fall, sse = curve, rise(curve.slope, curve.knee, first), curve.sse
            notes.append("Below the knee the readings fall along a curve.")
    bent = fit_corner(readings, limit.REJECTED_RATIO)
    levels = (bent.sse - corner.sse) / variance > f1_quantile(limit.REJECTED_CONFIDENCE, freedom)
    doubt = _doubt(trial, corner, serves.knee, hull, levels)
    if doubt:
        return _answer(trial, NOT_RESOLVED, [doubt.reason, *notes], doubt.advice, hull, sse)
    allowance = limit.DEFINITION_SHARE * readings.span / (len(readings.places) - 1)
    seen = (
        f"The readings fall by {100 * trial.share(fall):.2g} % of the {trial.measure} up to {_depth(serves.knee)} {DEPTH_UNIT}"
        " and level off."
    )
    return _answer(
        trial,
        FOUND,
        [seen, *notes],
        "",
        hull,
        sse,
        knee=serves.knee,
        low=max(first, min(hull.low, serves.knee - allowance)),
        high=min(last, max(hull.high, serves.knee + allowance)),
        level=serves.level,
        slope=serves.slope,
        curved=serves is not corner,
        definition_allowance=allowance,
    )


def _better(trial: Evidence, stick: Corner) -> bool:
    """Whether a right side that is not level fits better beyond chance."""
    freedom = trial.readings.n - 4
    needed = f1_quantile(limit.CONFIDENCE, freedom) * trial.variance(stick.sse, 4)
    return trial.hinge.sse - stick.sse > needed


def _gentle(stick: Corner) -> bool:
    return abs(stick.right_slope) <= limit.GENTLE_RATIO * stick.slope


class _Doubt(NamedTuple):
    reason: str
    advice: str


def _doubt(trial: Evidence, corner: Corner, knee: float, hull: Hull, levels: bool) -> _Doubt | None:
    """Why a knee inside the range is not good enough to set a machine by, or None."""
    readings = trial.readings
    if not isfinite(hull.high):
        return _Doubt(
            "A curved fall without a knee fits the readings about as well as one with a knee, which could lie anywhere"
            f" above {_depth(hull.low)} {DEPTH_UNIT}.",
            WIDER_MORE,
        )
    where = f"The knee lies between {_depth(hull.low)} and {_depth(hull.high)} {DEPTH_UNIT}"
    too_low, too_high = hull.low <= readings.places[1], _too_high(trial, corner, hull)
    if too_low and too_high:
        return _Doubt(f"{where}: anywhere in the range.", WIDER_MORE)
    if too_low:
        return _Doubt(f"{where}: too few depths lie below it to see the fall.", LOWER)
    if too_high:
        return _Doubt(f"{where}: too few depths lie beyond it to see a level.", HIGHER)
    if not levels:
        return _Doubt(f"{where}, but the readings beyond it may still be falling.", HIGHER)
    widest = min(2 * limit.MAX_HALF_WIDTH * knee, limit.MAX_RANGE_SHARE * readings.span)
    if hull.high - hull.low > widest:
        return _Doubt(f"{where}: too wide a span to set a machine by.", MORE)
    return None


def _too_high(trial: Evidence, corner: Corner, hull: Hull) -> bool:
    """Whether too few depths lie beyond the knee to see a level.

    The upper end may lie in the last gap where the corner does not, unless the readings rise at the last depth: the
    corner of a fall that turns into a rise is no knee.
    """
    readings = trial.readings
    last_but_one, last = readings.places[-2], readings.places[-1]
    if hull.high <= last_but_one:
        return False
    at_last = readings.gaps[-1].right.y - corner.level
    return hull.high > last or corner.knee > last_but_one or at_last > sqrt(trial.variance(corner.sse, 3))


def _still_falling(trial: Evidence, hull: Hull, reason: str) -> Knee:
    bound = f"Any knee lies above {_depth(hull.low)} {DEPTH_UNIT}."
    return _answer(trial, STILL_FALLING, [reason, bound], HIGHER, hull, low=hull.low)


def _rises_again(trial: Evidence, stick: Corner, hull: Hull | None = None) -> Knee:
    seen = f"The readings rise again beyond about {_depth(stick.knee)} {DEPTH_UNIT}. {WHEEL}"
    return _answer(trial, NOT_RESOLVED, [seen], OUT_AND_BACK, hull)


def _depth(value: float) -> str:
    return f"{value:.4g}"
