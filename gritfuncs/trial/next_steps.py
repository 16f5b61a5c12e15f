"""The next reading where rpm and infeed are stepped together, with the pair that tells idle from the knee before the trial stops."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ..knee import Advice, next_reading
from ..knee.find import without_offset
from ..knee.next_reading import KNEE_FOUND
from ..knee.offset import tells_offset
from ..planning import Limits, broken_limits
from ..planning.plan import FURTHEST_PERCENT, LEAST_PAIR, PAIR
from ..refused import Refused
from .ways import BOTH

if TYPE_CHECKING:
    from .result import Trial

FURTHEST = FURTHEST_PERCENT[BOTH] / 100
END_REACHED = f"a limit of rpm, infeed or power is reached, or {100 * FURTHEST:g} % from nominal"
PAIR_WORDS = "pair at nominal depth: it tells a load that does not go with removal, such as wrong idle, from the knee"
NO_PAIR_WORDS = "the limits leave no room for the pair, so idle must be right"


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
    first = trial.used[0]
    infeed = first.infeed_rate or trial.infeed_rate
    if infeed is None or first.work_rpm is None or first.work_rpm <= 0 or first.depth is None:
        raise Refused("infeed_rate", "be given, in a line or a column", "nothing", place=(trial.source,))
    nominal = nominal_rpm or trial.nominal_rpm or first.work_rpm
    per_turn = infeed / first.work_rpm  # depth of cut for each revolution, which stays
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
    if not advice.stop and advice.work_rpm is not None:
        rate = float(f"{advice.work_rpm * per_turn:.4g}")
        kept = min(max(rate, given["lowest_infeed_rate"] or 0.0), given["highest_infeed_rate"] or math.inf)
        return replace(advice, infeed_rate=kept)
    if not advice.reason.startswith(KNEE_FOUND) or offset is not None or tells_offset(trial.depths, trial.removal_ratios):
        return advice
    return _pair(trial, advice, steps, nominal, per_turn, given, (idle, net, highest_power))


_NAMES = ("lowest_work_rpm", "highest_work_rpm", "lowest_infeed_rate", "highest_infeed_rate")


def _pair(
    trial: Trial,
    advice: Advice,
    steps: CombinedSteps,
    nominal: float,
    per_turn: float,
    limits: dict[str, float | None],
    power: tuple[float, float, float | None],
) -> Advice:
    """The reading of the pair that is still to be taken, before a knee that was found stops the trial."""
    idle, net, highest = power
    infeed = nominal * per_turn
    up = min(PAIR, (limits["highest_infeed_rate"] or math.inf) / infeed, nominal / (limits["lowest_work_rpm"] or 1e-300))
    if net and highest is not None:
        up = min(up, (highest - idle) / (net * nominal))
    down = min(PAIR, infeed / (limits["lowest_infeed_rate"] or 1e-300), (limits["highest_work_rpm"] or math.inf) / nominal)
    if min(up, down) < LEAST_PAIR:
        return replace(advice, reason=f"{advice.reason}; {NO_PAIR_WORDS}")
    at_nominal = [
        (reading.infeed_rate or trial.infeed_rate or infeed) / infeed
        for reading in trial.used
        if abs(reading.depth / steps.depth(nominal) - 1) < 0.02
    ]
    factor = 1 / down if any(ratio >= LEAST_PAIR * 0.98 for ratio in at_nominal) else up
    rpm, rate = float(f"{nominal / factor:.6g}"), float(f"{infeed * factor:.6g}")
    if broken_limits({"work_rpm": rpm, "infeed_rate": rate}, Limits(**limits)):
        rpm, rate = nominal / factor, infeed * factor
    return replace(advice, stop=False, reason=PAIR_WORDS, work_rpm=rpm, infeed_rate=rate, expected_more=1 if factor < 1 else 2)
