"""What a sweep of the work rpm within one part needs: legs, turns and time."""

from __future__ import annotations

LEAST_LAGS, LEAST_LEG_LAGS = 40, 10  # infeed time and leg, over the lag
LEAST_LEG, LEAST_TURNS = 5.0, 5.0  # s, and turns of the work in a leg
SAID = "simulated only, not tried on a machine"


def sweep_points(lowest: float, highest: float, lag: float, passes: int = 2) -> tuple[tuple[float, ...], float]:
    """Turning points of a sweep between two work rpm, slow end first, and the infeed time [s] that it needs at a lag [s]."""
    legs = 2 * passes
    leg = max(LEAST_LEG, LEAST_LEG_LAGS * lag, LEAST_TURNS * 60 / ((lowest + highest) / 2), LEAST_LAGS * lag / legs)
    return tuple((lowest, highest)[place % 2] for place in range(legs + 1)), leg * legs
