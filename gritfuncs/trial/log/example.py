"""A simulated log of the invented example's trial, to try the reading of logs with.  No machine is behind it."""

from __future__ import annotations

from ...example import readings

RATE = 5.0  # rows a second
LAG, INFEED, SPARK_OUT, GAP, PAUSE = 0.8, 18.0, 3.0, 12.0, 20.0  # s
NOISE = 0.03  # kW
SEED = 4


def example_log() -> str:
    """The text of the log: a cycle without a part, then a part at each work rpm of the example, with dressing in the middle."""
    import numpy as np
    from scipy.signal import lfilter

    trial = readings()
    idle = trial[0][2]
    pieces = [(PAUSE, 0.0), (INFEED, 0.0), (PAUSE, 0.0)]  # seconds, net power
    for place, (_, power, own_idle) in enumerate(trial):
        if place == len(trial) // 2:
            pieces += [(2.5, 1.0), (3.0, 0.0)] * 4
        pieces += [(GAP, 0.0), (INFEED, power - own_idle), (SPARK_OUT, 0.0)]
    pieces.append((PAUSE, 0.0))
    net = np.concatenate([np.full(int(seconds * RATE), value) for seconds, value in pieces])
    share = -np.expm1(-1 / (RATE * LAG))
    power = idle + lfilter([share], [1, share - 1], net) + NOISE * np.random.default_rng(SEED).standard_normal(len(net))
    rows = [f"{place / RATE:.1f},{value:.3f}" for place, value in enumerate(power)]
    return "\n".join(["# Simulated: the invented example, no machine is behind it", "time [s],spindle power [kW]", *rows]) + "\n"
