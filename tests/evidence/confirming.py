"""Recorded knees confirmed on new parts: PYTHONPATH=.:tests python3 -m evidence.confirming [--trials N] [--moved 0,-10,10].

Prints for each truth, scatter and move of the knee: readings in all, those of a full trial included where one is due / of a full
trial alone / confirmed % / of these the interval holds the knee, % / confirmed and more than 5 % of the knee off, % of all.  The
record is within ±4 % (normal, two standard deviations), the knee moves by 2 % from part to part, the recorded scatter is off by up to
20 %; machine 20 to 250 1/min, full trials 40 to 160.
"""

from __future__ import annotations

import argparse
import random
from math import exp, log
from statistics import mean

from gritfuncs.knee import CONFIRMED, RecordedKnee, confirm_knee, next_reading
from gritfuncs.planning import Limits

from .drifting import LIMITS, NOMINAL, SETUP
from .hard_trials import SHAPES

MACHINE = Limits(lowest_work_rpm=20.0, highest_work_rpm=250.0)


def full_trial(energy, nominal, depths, energies):
    """How many readings a full trial has in the end."""
    while True:
        advice = next_reading(depths, energies, SETUP, LIMITS, nominal_rpm=nominal)
        if advice.stop:
            return len(depths)
        depths.append(SETUP.depth(advice.work_rpm))
        energies.append(energy(depths[-1]))


def played(shape, noise, moved, number, seed="confirm"):
    """(readings in all, readings of a full trial alone, the confirmation, true knee)."""
    draw = random.Random(f"{seed}, {shape}, {noise}, {moved}, {number}")
    old = (1 + draw.uniform(-0.3, 0.3)) ** 0.25
    steep = exp(draw.uniform(log(1.5), log(4.0)))
    knee = old * (1 + 0.02 * draw.gauss(0, 1)) * (1 + moved)
    truth = SHAPES[shape](
        draw, knee, steep, (LIMITS.lowest_work_rpm / NOMINAL) ** 0.25, (LIMITS.highest_work_rpm / NOMINAL) ** 0.25
    )
    known = old * (1 + 0.02 * draw.gauss(0, 1))
    record = RecordedKnee(knee=known, low=0.96 * known, high=1.04 * known, steepness=steep, noise=noise * draw.uniform(0.8, 1.2))

    def energy(depth):
        return truth(depth) * (1 + noise * draw.gauss(0, 1))

    depths, energies = [], []
    while True:
        answer = confirm_knee(depths, energies, record, SETUP, MACHINE)
        if answer.work_rpm is None:
            break
        depths.append(SETUP.depth(answer.work_rpm))
        energies.append(energy(depths[-1]))
    nominal = min(LIMITS.highest_work_rpm, max(LIMITS.lowest_work_rpm, answer.nominal_rpm))
    alone = full_trial(energy, NOMINAL, [], [])
    return full_trial(energy, nominal, depths, energies) if answer.full_trial else len(depths), alone, answer, knee


def row(shape, noise, moved, trials, seed="confirm"):
    """(readings in all, readings of a full trial alone, confirmed, interval holds, more than 5 % off); the last three as counts."""
    ended = [played(shape, noise, moved, number, seed) for number in range(trials)]
    confirmed = [(answer, knee) for _, _, answer, knee in ended if answer.word == CONFIRMED]
    holds = sum(answer.low <= knee <= answer.high for answer, knee in confirmed)
    off = sum(abs(answer.knee / knee - 1) > 0.05 for answer, knee in confirmed)
    return mean(each[0] for each in ended), mean(each[1] for each in ended), len(confirmed), holds, off


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=100)
    parser.add_argument("--noises", default="1,2,3", help="scatter, percent")
    parser.add_argument("--moved", default="0", help="move of the knee, percent")
    parser.add_argument("--shapes", default="hinge;rounded;two slopes;power to level")
    parser.add_argument("--seed", default="confirm")
    chosen = parser.parse_args()
    for shape in chosen.shapes.split(";"):
        for noise in (float(percent) / 100 for percent in chosen.noises.split(",")):
            for moved in (float(percent) / 100 for percent in chosen.moved.split(",")):
                every, alone, confirmed, holds, off = row(shape, noise, moved, chosen.trials, chosen.seed)
                held = f"{100 * holds / confirmed:.0f}" if confirmed else "-"
                print(
                    f"{shape:<16}{100 * noise:g} %  moved {100 * moved:+.0f} %  {every:.1f} / {alone:.1f} / {100 * confirmed / chosen.trials:.0f} / "
                    f"{held} / {100 * off / chosen.trials:.1f}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
