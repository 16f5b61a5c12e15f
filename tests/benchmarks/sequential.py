"""How many readings a trial takes, one reading at a time, against the fixed ladder of rpm steps stopped by the same rule.

    PYTHONPATH=.:tests python3 tests/benchmarks/sequential.py [--trials N] [--seed S] [--noises 1,2,3,5] [--shapes WORD,...]
    ... --recorded: with `next_reading` and trial.xlsx starting at the rpm of a knee recorded earlier, 2 % of depth off (a
    standard deviation), the ladder as before.

Prints a markdown table.  Invented machines: nominal 100 1/min, depth with the fourth root of the rpm, the knee anywhere
between -40 % and +30 % of nominal rpm, a fall of 1.5 to 4 times the relative depth below it.  A trial that has not
stopped after as many readings as `next_reading` allows counts with that many.
"""

from __future__ import annotations

import argparse
import random
from math import ceil, exp, log
from statistics import mean, median

from evidence.trials import flat, hinge, no_knee, power_with_level, rounded, two_slope
from sheet_rule import answer

from gritfuncs.knee import ALREADY_LEVEL, STILL_FALLING, FourthRoot, next_reading
from gritfuncs.knee.next_reading import KNEE_FOUND, MOST_READINGS, WANTED
from gritfuncs.planning import ALTERNATING, Limits, plan_trial

NOMINAL = 100.0
SETUP = FourthRoot(NOMINAL**-0.25)  # depth 1 at nominal
LADDER = [reading.work_rpm for reading in plan_trial(NOMINAL, order=ALTERNATING)]
LADDER_LIMITS = Limits(lowest_work_rpm=min(LADDER), highest_work_rpm=max(LADDER))
SHAPES = {
    "hinge": hinge,
    "two-slope": two_slope,
    "rounded": rounded,
    "power, level": power_with_level,
    "no knee": no_knee,
    "flat": flat,
}
RECORDED_ERROR = 0.02  # of the depth of a recorded knee, as a standard deviation
WITHOUT_KNEE = ("no knee", "flat")


def by_ladder(advice, rpms, energies):
    return LADDER[len(rpms) % len(LADDER)]


def by_advice(advice, rpms, energies):
    return advice.work_rpm


def is_found(advice):
    return advice.stop and advice.reason.startswith(KNEE_FOUND)


def ladder_ends(advice):
    """Whether the ladder is through and no knee is in its range."""
    return advice.knee.n_readings % len(LADDER) == 0 and advice.knee.verdict in (STILL_FALLING, ALREADY_LEVEL)


def drawn(shape, noise, draw):
    """(true knee, reading at a depth)"""
    knee = (1 + draw.uniform(-0.4, 0.3)) ** 0.25
    energy = SHAPES[shape](draw, knee, exp(draw.uniform(log(1.5), log(4.0))))
    scatter = random.Random(draw.random())
    return None if shape in WITHOUT_KNEE else knee, lambda depth: energy(depth) * (1 + noise * scatter.gauss(0, 1))


def play(shape, noise, draw, choose, limits, recorded=False):
    """One trial: (rpms, the knee that was found or None, true knee); without a way to choose by the rule of trial.xlsx."""
    knee, reading = drawn(shape, noise, draw)
    start = NOMINAL
    if recorded and knee:
        start = min(max(SETUP.rpm_for(knee * random.Random(knee).gauss(1, RECORDED_ERROR)), min(LADDER)), max(LADDER))
    rpms, depths, energies = [], [], []
    while True:
        if choose is None:
            said = answer(rpms, energies, SETUP, limits, start)
            if said.work_rpm is None:
                return rpms, said.knee, knee
            rpms.append(said.work_rpm)
        else:
            advice = next_reading(depths, energies, SETUP, limits, nominal_rpm=start)
            if advice.stop or choose is by_ladder and ladder_ends(advice):
                return rpms, advice.knee if is_found(advice) else None, knee
            rpms.append(choose(advice, rpms, energies))
        depths.append(SETUP.depth(rpms[-1]))
        energies.append(reading(depths[-1]))


def row(label, shape, noise, trials, seed, choose, limits, recorded=False):
    """One line of the table, and the mean number of readings."""
    draw = random.Random(f"{seed} {shape} {noise}")  # the same trials for every rule
    played = [play(shape, noise, draw, choose, limits, recorded) for _ in range(trials)]
    counts = [len(rpms) for rpms, _, _ in played]
    found = [(stated, knee) for _, stated, knee in played if stated is not None]
    wrong = sum(knee is None or abs(stated.knee - knee) > WANTED * knee for stated, knee in found)
    covered = sum(knee is not None and stated.low <= knee <= stated.high for stated, knee in found)
    when = sorted(len(rpms) for rpms, found_knee, _ in played if found_knee is not None)
    most = when[ceil(0.8 * trials) - 1] if len(when) >= 0.8 * trials else f"> {MOST_READINGS}"
    slowest = min(min(rpms) for rpms, _, _ in played)
    fastest = max(max(rpms) for rpms, _, _ in played)
    cover = "-" if shape in WITHOUT_KNEE or not found else f"{100 * covered / len(found):.1f}"
    print(
        f"| {shape} | {100 * noise:g} % | {label} | {mean(counts):.1f} | {median(counts):g} | {most} | {100 * len(found) / trials:.1f} | "
        f"{100 * wrong / trials:.1f} | {cover} | {slowest:.0f} to {fastest:.0f} |",
        flush=True,
    )
    return mean(counts)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=200, help="trials a line (default: %(default)s)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--noises", default="1,2,3,5", help="scatter of the readings, percent")
    parser.add_argument("--shapes", default=",".join(SHAPES).replace("power, level", "power; level"))
    parser.add_argument("--wide", action="store_true", help="machine limits 20 to 200 1/min instead of the ladder's 40 to 160")
    parser.add_argument("--recorded", action="store_true", help="start at the rpm of a knee recorded earlier")
    chosen = parser.parse_args()
    limits = Limits(lowest_work_rpm=20.0, highest_work_rpm=200.0) if chosen.wide else LADDER_LIMITS
    print(
        "| truth | noise | rule | readings, mean | median | for 80 % found | found, % | wrong, % | interval holds, % | rpm tried |"
    )
    print("|---|---|---|---|---|---|---|---|---|---|")
    for shape in chosen.shapes.replace(";", ",").replace("power, level", "power_level").split(","):
        shape = shape.replace("power_level", "power, level")
        for noise in (float(percent) / 100 for percent in chosen.noises.split(",")):
            common = (shape, noise, chosen.trials, chosen.seed)
            ladder = row("ladder", *common, by_ladder, LADDER_LIMITS)
            advised = row("next reading", *common, by_advice, limits, chosen.recorded)
            simple = row("trial.xlsx", *common, None, limits, chosen.recorded)
            print(
                f"| | | *against the ladder* | {100 * (advised / ladder - 1):+.0f} %, trial.xlsx {100 * (simple / ladder - 1):+.0f} % | | | | | | |",
                flush=True,
            )


if __name__ == "__main__":
    main()
