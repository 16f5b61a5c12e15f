"""The next reading where rpm and infeed are stepped together, with the pair that tells idle from the knee before the trial stops."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from ..knee import Advice, Knee, next_reading
from ..knee.find import with_offset, without_offset
from ..knee.next_reading import KNEE_FOUND, MOST_READINGS, found_within
from ..knee.offset import tells_offset
from ..knee.result import found_in
from ..planning import Limits, broken_limits
from ..planning.plan import FURTHEST_PERCENT, LEAST_PAIR, PAIR
from ..refused import Refused
from .ways import BOTH

if TYPE_CHECKING:
    from .readings import Reading
    from .result import Trial

FURTHEST = FURTHEST_PERCENT[BOTH] / 100
END_REACHED = f"a limit of rpm, infeed or power is reached, or {100 * FURTHEST:g} % from nominal"
PAIR_WORDS = "pair at nominal depth: it tells a load that does not go with removal, such as wrong idle, from the knee"
NO_PAIR_WORDS = "the limits leave no room for the pair, so idle must be right"
SAME_CUT = 0.02  # share of the depth of cut for each revolution; infeeds and rpm are set in round numbers
LOAD_MADE_IT = "a load that does not go with removal, such as wrong idle, could have made this knee"
LOAD_WIDENS = "a load that does not go with removal, such as wrong idle, leaves the knee less sure than wanted"


class CombinedSteps:
    """Depth and work rpm where rpm and infeed change by one factor: depth goes with the square root of the rpm."""

    largest_slowing = 0.1  # of the slowest rpm: 5 % of depth

    def __init__(self, work_rpm: float, depth: float):
        self.work_rpm, self.at_rpm = work_rpm, depth

    def depth(self, work_rpm: float) -> float:
        """Grit depth at a work rpm [1/min]."""
        return self.at_rpm * (work_rpm / self.work_rpm) ** 0.5

    def rpm_for(self, depth: float) -> float:
        """Work rpm [1/min] at a grit depth."""
        return self.work_rpm * (depth / self.at_rpm) ** 2


def next_of_both(
    trial: Trial, limits: Any, nominal_rpm: float | None, step_percent: float, wanted: float, damage_seen: bool
) -> Advice:
    """The next rpm and infeed rate, or the stop; never beyond the limits of rpm, infeed and power, nor ±40 % from nominal."""
    if not trial.used:
        raise Refused("", "have at least one usable reading, at nominal", place=(trial.source,))
    first, per_turn = _on_the_path(trial)
    nominal = nominal_rpm or trial.nominal_rpm or first.work_rpm
    steps = CombinedSteps(first.work_rpm, first.depth)
    highest_power = getattr(limits, "highest_power", None)
    given = {name: getattr(limits, name, None) for name in _NAMES}
    low = max(given["lowest_work_rpm"] or 0.0, (given["lowest_infeed_rate"] or 0.0) / per_turn, nominal * (1 - FURTHEST))
    high = min(
        given["highest_work_rpm"] or math.inf, (given["highest_infeed_rate"] or math.inf) / per_turn, nominal * (1 + FURTHEST)
    )
    idle = net = 0.0
    if highest_power is not None and trial.load_kind == "power" and first.load is not None:
        idle = first.idle or 0.0
        if highest_power <= idle:
            must = f"be > {idle:g} kW, what the machine draws idle"
            raise Refused("highest_power", must, f"{highest_power:g}", place=(trial.source,))
        net = (first.load - idle) / first.work_rpm
        high = min(high, (highest_power - idle) / net)
    energies, offset = without_offset(trial.depths, list(trial.energies), trial.removal_ratios)
    advice = next_reading(
        trial.depths,
        energies,
        steps,
        Limits(lowest_work_rpm=low, highest_work_rpm=high),
        noise=trial.noise,
        wanted=wanted,
        nominal_rpm=nominal,
        step_percent=step_percent,
        damage_seen=damage_seen or bool(trial.damage),
    )
    reason = advice.reason.replace("the machine's lowest rpm is reached", END_REACHED)
    advice = replace(advice, reason=reason.replace("the machine's highest rpm is reached", END_REACHED))
    told = advice.knee  # without the load that was taken off in mind
    advice = replace(advice, knee=with_offset(told, offset))
    if not advice.stop and advice.work_rpm is not None:
        rate = float(f"{advice.work_rpm * per_turn:.4g}")
        kept = min(max(rate, given["lowest_infeed_rate"] or 0.0), given["highest_infeed_rate"] or math.inf)
        return replace(advice, infeed_rate=kept)
    if not advice.reason.startswith(KNEE_FOUND):
        return advice
    is_fitted = offset is not None
    why = _load_doubt(advice.knee, wanted) if is_fitted else _asks_first(trial)
    if not why:
        before, found = found_in(told), found_in(advice.knee)
        assert before is not None and found is not None  # it stops with a knee
        return replace(advice, reason=advice.reason.replace(found_within(before), found_within(found)))
    if is_fitted and told.n_readings >= MOST_READINGS:
        return replace(advice, reason=f"{told.n_readings} readings, and {why}")
    pair = _pair(trial, steps, nominal, per_turn, given, (idle, net, highest_power))
    if pair is None:
        return replace(advice, reason=f"{why if is_fitted else advice.reason}; {NO_PAIR_WORDS}")
    return replace(advice, stop=False, reason=why, work_rpm=pair.work_rpm, infeed_rate=pair.infeed_rate, expected_more=pair.more)


def _on_the_path(trial: Trial) -> tuple[Reading, float]:
    """The first reading of the path of steps, and the depth of cut for each revolution that stays along it: that of most readings.

    A half of the pair, which lies beside the path, may stand before it.
    """
    readings = [
        (reading, infeed / reading.work_rpm)
        for reading in trial.used
        if (infeed := reading.infeed_rate or trial.infeed_rate) and reading.work_rpm and reading.work_rpm > 0 and reading.depth
    ]
    if not readings:
        raise Refused("infeed_rate", "be given, in a line or a column", "nothing", place=(trial.source,))
    return max(readings, key=lambda one: sum(abs(cut / one[1] - 1) <= SAME_CUT for _, cut in readings))


def _asks_first(trial: Trial) -> str:
    """Why the pair is to be taken where no load was fitted; empty where the readings could tell one."""
    return "" if tells_offset(trial.depths, trial.removal_ratios) else PAIR_WORDS


def _load_doubt(knee: Knee, wanted: float) -> str:
    """Why the pair is to be taken again, with the load that was fitted in mind; empty where the knee is as sure as wanted."""
    found = found_in(knee)
    if found is None:
        return LOAD_MADE_IT
    return LOAD_WIDENS if found.high - found.low > 2 * wanted * found.knee else ""


_NAMES = ("lowest_work_rpm", "highest_work_rpm", "lowest_infeed_rate", "highest_infeed_rate")


class _Half(NamedTuple):
    """A reading of the pair."""

    work_rpm: float  # 1/min
    infeed_rate: float  # mm/min on the radius
    more: int  # readings until both halves were read equally often


def _pair(
    trial: Trial,
    steps: CombinedSteps,
    nominal: float,
    per_turn: float,
    limits: dict[str, float | None],
    power: tuple[float, float, float | None],
) -> _Half | None:
    """The half of the pair that was read less often, the one with more infeed first; None where the limits leave no room."""
    idle, net, highest = power
    infeed = nominal * per_turn
    up = min(PAIR, (limits["highest_infeed_rate"] or math.inf) / infeed, nominal / (limits["lowest_work_rpm"] or 1e-300))
    if net and highest is not None:
        up = min(up, (highest - idle) / (net * nominal))
    down = min(PAIR, infeed / (limits["lowest_infeed_rate"] or 1e-300), (limits["highest_work_rpm"] or math.inf) / nominal)
    if min(up, down) < LEAST_PAIR:
        return None
    at_nominal = [
        (reading.infeed_rate or trial.infeed_rate or infeed) / infeed
        for reading in trial.used
        if abs(reading.depth / steps.depth(nominal) - 1) < 0.02
    ]
    least = LEAST_PAIR * 0.98
    is_down = sum(ratio >= least for ratio in at_nominal) > sum(ratio <= 1 / least for ratio in at_nominal)
    factor = 1 / down if is_down else up
    rpm, rate = float(f"{nominal / factor:.6g}"), float(f"{infeed * factor:.6g}")
    if broken_limits({"work_rpm": rpm, "infeed_rate": rate}, Limits(**limits)):
        rpm, rate = nominal / factor, infeed * factor
    return _Half(rpm, rate, 1 if is_down else 2)
