"""Trials taken reading by reading while something drifts: PYTHONPATH=.:tests python3 -m evidence.drifting [--trials N] [--rules ...].

Prints for each truth, scatter and drift: mean readings / found % / of these the interval holds the knee, % (where there is
none: readings / found %, all of it false).  Nominal 100 1/min, limits 40 to 160, depth with the fourth root of the rpm, the
knee between -40 % and +30 % of nominal rpm, a fall of 1.5 to 4 times the relative depth below it.
"""

from __future__ import annotations

import argparse
import random
from math import exp, log
from statistics import mean

from gritfuncs.knee import FourthRoot, next_reading
from gritfuncs.knee.next_reading import KNEE_FOUND, MOST_READINGS
from gritfuncs.planning import Limits, plan_trial

from .hard_trials import SHAPES, WITH_KNEE

NOMINAL, LOWEST, HIGHEST = 100.0, 40.0, 160.0
SETUP = FourthRoot(NOMINAL**-0.25)  # depth 1 at nominal
LIMITS = Limits(lowest_work_rpm=LOWEST, highest_work_rpm=HIGHEST)

DRIFTS = {  # share of the level that reading number i has gained
    "none": lambda i, dressed: 0.0,
    "+0.2 %": lambda i, dressed: 0.002 * i,
    "+0.4 %": lambda i, dressed: 0.004 * i,
    "-0.4 %": lambda i, dressed: -0.004 * i,
    "settling": lambda i, dressed: 0.032 * (1 - exp(-i / 4)),  # to +3.2 % in all
    "dressing": lambda i, dressed: 0.004 * (i if i < dressed else i - dressed),  # +0.4 % a reading, back to 0 once
}


def drawn(shape, noise, number, seed="drift"):
    """One trial: (knee, energy at a depth, reading before which the wheel is dressed, source of the scatter)."""
    draw = random.Random(f"{seed}, {shape}, {noise}, {number}")
    knee = (1 + draw.uniform(-0.4, 0.3)) ** 0.25
    energy = SHAPES[shape](
        draw, knee, exp(draw.uniform(log(1.5), log(4.0))), (LOWEST / NOMINAL) ** 0.25, (HIGHEST / NOMINAL) ** 0.25
    )
    return knee, energy, draw.randint(4, 9), random.Random(draw.random())


def played(shape, noise, drift, number, rule="with drift", order="next reading", seed="drift"):
    """One trial: (readings, the advice at its end, true knee or None)."""
    knee, energy, dressed, scatter = drawn(shape, noise, number, seed)
    ladder = None if order == "next reading" else [reading.work_rpm for reading in plan_trial(NOMINAL, order=order)]
    options = {} if rule == "with drift" else dict(drift=None)
    depths, energies = [], []
    while True:
        n = len(depths)
        advice = next_reading(depths, energies, SETUP, LIMITS, nominal_rpm=NOMINAL, **options)
        through = (
            ladder
            and n
            and (n % len(ladder) == 0 and advice.knee.verdict in ("still falling", "already level") or n >= MOST_READINGS)
        )
        if advice.stop or through:
            return n, advice, knee if shape in WITH_KNEE else None
        depths.append(SETUP.depth(ladder[n % len(ladder)] if ladder else advice.work_rpm))
        energies.append(energy(depths[-1]) * (1 + noise * scatter.gauss(0, 1)) + DRIFTS[drift](n, dressed))


def row(shape, noise, drift, trials, **options):
    """(mean readings, found, interval holds, more than 5 % off or false) of so many trials; the last three as counts."""
    ended = [played(shape, noise, drift, number, **options) for number in range(trials)]
    found = [(advice.knee, truth) for _, advice, truth in ended if advice.stop and advice.reason.startswith(KNEE_FOUND)]
    holds = sum(truth is not None and knee.low <= truth <= knee.high for knee, truth in found)
    off = sum(truth is None or abs(knee.knee / truth - 1) > 0.05 for knee, truth in found)
    return mean(readings for readings, _, _ in ended), len(found), holds, off


def shown(shape, trials, readings, found, holds, off):
    if shape not in WITH_KNEE:
        return f"{readings:.1f}/{100 * found / trials:.1f}"
    return f"{readings:.1f}/{100 * found / trials:.0f}/{100 * holds / max(1, found):.0f}"


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=100)
    parser.add_argument("--noises", default="1,2,3", help="scatter, percent")
    parser.add_argument("--shapes", default="a + b/h;exponential, 40 % left;hinge;two slopes")
    parser.add_argument("--drifts", default=";".join(DRIFTS))
    parser.add_argument("--rules", default="without drift;with drift")
    parser.add_argument("--orders", default="next reading", help="next reading, or an order of plan_trial")
    parser.add_argument("--seed", default="drift")
    chosen = parser.parse_args()
    for shape in chosen.shapes.split(";"):
        for noise in (float(percent) / 100 for percent in chosen.noises.split(",")):
            for order in chosen.orders.split(";"):
                for rule in chosen.rules.split(";"):
                    cells = [
                        shown(
                            shape,
                            chosen.trials,
                            *row(shape, noise, drift, chosen.trials, rule=rule, order=order, seed=chosen.seed),
                        )
                        for drift in chosen.drifts.split(";")
                    ]
                    print(
                        f"{shape:<24}{100 * noise:g} %  {order:<14}{rule:<14}" + "".join(f"{cell:>14}" for cell in cells),
                        flush=True,
                    )


if __name__ == "__main__":
    main()
