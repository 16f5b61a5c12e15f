"""Trials that step the rpm, rpm and infeed, the infeed or the wheel speed: PYTHONPATH=.:tests python3 -m evidence.stepping [--trials N].

Everything is simulated.  Nominal depth is 1, nominal removal rate 1, net load at nominal about 1.  The knee lies where nominal rpm
-40 to +30 % lies, the fall is 1.5 to 4 times the relative depth below it; scatter is a share of the net load.  An idle that is wrong
by d (share of the net load at nominal) adds d to every net load.  Prints found % / more than 5 % off % / interval holds the knee %.
"""

from __future__ import annotations

import argparse
import random
from math import exp, log
from typing import NamedTuple

from gritfuncs.knee import find_knee
from gritfuncs.knee.result import FOUND
from gritfuncs.planning import plan_trial

from .trials import SHAPES, WITH_KNEE

# By way: what plan_trial is told; then the same plan without its pair, and combined steps to a narrower range.
WAYS = {
    "rpm ±40 %": dict(steps="rpm", steps_each_side=4),
    "infeed ±40 %": dict(steps="infeed", infeed_rate=1.0, steps_each_side=4),
    "rpm and infeed ±40 %, with the pair": dict(steps="rpm and infeed", infeed_rate=1.0),
    "wheel speed ±40 %, idle at each": dict(steps="wheel speed", wheel_speed=20.0, marked_wheel_speed=35.0),
    "wheel speed from the mark down to 60 %": dict(steps="wheel speed", wheel_speed=35.0, marked_wheel_speed=35.0),
    "rpm and infeed ±20 %, with the pair": dict(steps="rpm and infeed", infeed_rate=1.0, step_percent=5.0, steps_each_side=4),
}
SHAPES_WITH, SHAPES_WITHOUT = tuple(WITH_KNEE), ("power law", "flat")
OFF = 0.05


class Planned(NamedTuple):
    depths: list[float]
    rates: list[float]  # removal rate over nominal


def planned(way: str) -> Planned:
    """Depths and removal rates of the readings of a plan, with nominal at 1."""
    depths, rates = [], []
    options = WAYS[way]
    for reading in plan_trial(1.0, **options):
        if reading.work_rpm is not None:
            infeed = 1.0 if reading.infeed_rate is None else reading.infeed_rate
            speed = 1.0 if reading.wheel_speed is None else reading.wheel_speed / options["wheel_speed"]
            depths.append((reading.work_rpm * infeed) ** 0.25 * speed**-0.5)
            rates.append(infeed)
    return Planned(depths, rates)


def one(way: str, shape: str, noise: float, idle: float, number: int):
    """(Knee, true depth of it or None) of one trial; slower steps end where the energy is 1.5 times the lowest so far."""
    draw = random.Random(f"steps, {way}, {shape}, {noise}, {idle}, {number}")
    knee = (1 + draw.uniform(-0.4, 0.3)) ** 0.25
    if "mark" in way:  # from the mark a wheel goes deeper only: the knee in reach
        knee = draw.uniform(1.05, 1.2)
    energy = SHAPES[shape](draw, knee, exp(draw.uniform(log(1.5), log(4.0))))
    wrong = idle * draw.choice((-1, 1))
    depths, energies, rates = [], [], []
    for depth, rate in zip(*planned_once(way)):
        if depths and depth < min(depths) and energies[depths.index(min(depths))] >= 1.5 * min(energies):
            continue
        depths.append(depth)
        rates.append(rate)
        energies.append(energy(depth) * (1 + noise * draw.gauss(0, 1)) + wrong / rate)
    return find_knee(depths, energies, removal_rates=rates), knee if shape in WITH_KNEE else None


_PLANS: dict[str, Planned] = {}


def planned_once(way: str) -> Planned:
    if way not in _PLANS:
        _PLANS[way] = planned(way)
    return _PLANS[way]


def row(way: str, noise: float, idle: float, trials: int, shapes=SHAPES_WITH) -> tuple[int, int, int, int]:
    """(trials, found, more than 5 % off or false, interval holds the knee), as counts over the shapes in equal parts."""
    found = off = holds = 0
    for number in range(trials):
        knee, truth = one(way, shapes[number % len(shapes)], noise, idle, number)
        if knee.verdict == FOUND:
            found += 1
            off += truth is None or abs(knee.knee / truth - 1) > OFF
            holds += truth is not None and knee.low <= truth <= knee.high
    return trials, found, off, holds


def shown(counts: tuple[int, int, int, int]) -> str:
    trials, found, off, holds = counts
    return f"{100 * found / trials:.0f} / {100 * off / trials:.1f} / {100 * holds / max(1, found):.0f}"


# For the page of evidence: scatter, and by how much of net the idle is wrong.
TRIALS = 160  # a cell
NOISES, IDLES = (0.01, 0.02, 0.05), (0.0, 0.05, 0.2)
ROWS = tuple((way, idle) for way in WAYS for idle in IDLES)


def page_row(way: str, idle: float) -> list[str]:
    """A row of the page: way, idle error, a cell for each scatter, and what is found where there is no knee at 2 % scatter."""
    false = [row(way, 0.02, idle, TRIALS, (shape,))[1] for shape in SHAPES_WITHOUT]
    cells = [shown(row(way, noise, idle, TRIALS)) for noise in NOISES]
    return [way, f"{100 * idle:g} %", *cells, " / ".join(f"{100 * each / TRIALS:.1f}" for each in false)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=200)
    parser.add_argument("--ways", default=";".join(WAYS))
    parser.add_argument("--noises", default="1,2,5", help="scatter, percent")
    parser.add_argument("--idles", default="0,5,20", help="idle wrong by so many percent of net")
    chosen = parser.parse_args()
    for way in chosen.ways.split(";"):
        for idle in map(float, chosen.idles.split(",")):
            noises = [float(noise) / 100 for noise in chosen.noises.split(",")]
            cells = [shown(row(way, noise, idle / 100, chosen.trials)) for noise in noises]
            none = [
                f"{100 * row(way, noise, idle / 100, chosen.trials, (shape,))[1] / chosen.trials:.1f}"
                for shape in SHAPES_WITHOUT
                for noise in noises
            ]
            print(
                f"{way}; idle {idle:g} %: {' | '.join(cells)}; false on {', '.join(SHAPES_WITHOUT)}: {' '.join(none)}", flush=True
            )


if __name__ == "__main__":
    main()
