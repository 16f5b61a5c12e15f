"""How many readings a trial takes, one reading at a time, against the fixed ladder of rpm steps stopped by the same rule.

    PYTHONPATH=.:tests python3 tests/benchmarks/sequential.py [--trials N] [--seed S] [--noises 1,2,3,5] [--shapes WORD,...]

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

from gritfuncs.knee import ALREADY_LEVEL, FOUND, NOT_RESOLVED, STILL_FALLING, USUAL_DRIFT, FourthRoot, next_reading
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
WITHOUT_KNEE = ("no knee", "flat")


def by_ladder(advice, rpms, energies):
    return LADDER[len(rpms) % len(LADDER)]


def by_advice(advice, rpms, energies):
    return advice.work_rpm


def by_simple_rule(advice, rpms, energies, limits):
    """The rule of the trial workbook, which needs the verdict, its reach and means of readings only."""
    knee, step, n = advice.knee, NOMINAL / 10, len(rpms)
    if n == 0:
        return NOMINAL
    slowest, fastest = min(rpms), max(rpms)
    at_slowest = mean(u for rpm, u in zip(rpms, energies) if rpm == slowest)
    at_fastest = mean(u for rpm, u in zip(rpms, energies) if rpm == fastest)
    hot = at_slowest >= 1.5 * min(energies)
    slower = slowest if hot else max(limits.lowest_work_rpm, slowest - min(step, slowest / 5))
    faster = min(limits.highest_work_rpm, fastest + step)
    if knee.verdict == STILL_FALLING:
        return faster
    if knee.verdict == ALREADY_LEVEL:
        return slower
    if knee.verdict in (FOUND, NOT_RESOLVED) and knee.scatter_high is not None:
        places = sorted({SETUP.depth(rpm) for rpm in rpms})
        if knee.scatter_low <= places[1] and slower < slowest:
            return slower
        if knee.scatter_high > places[-2] and faster > fastest:
            return faster
        middle = SETUP.rpm_for((knee.scatter_low + knee.scatter_high) / 2)
        return (slower, NOMINAL + step * round((middle - NOMINAL) / step), faster)[n % 3]
    between = [u for rpm, u in zip(rpms, energies) if slowest < rpm < fastest]
    goes_faster = at_fastest < mean(between) if between else fastest == NOMINAL
    if faster == fastest or slower == slowest:
        return slower if faster == fastest else faster
    return faster if goes_faster else slower


def is_found(advice):
    return advice.stop and advice.reason.startswith(KNEE_FOUND)


def ladder_ends(advice):
    """Whether the ladder is through and no knee is in its range."""
    return advice.knee.n_readings % len(LADDER) == 0 and advice.knee.verdict in (STILL_FALLING, ALREADY_LEVEL)


def play(shape, noise, draw, choose, limits, drift=USUAL_DRIFT):
    """One trial: (rpms, last advice, true knee); drift None for a rule that does not judge it."""
    knee = (1 + draw.uniform(-0.4, 0.3)) ** 0.25
    energy = SHAPES[shape](draw, knee, exp(draw.uniform(log(1.5), log(4.0))))
    scatter = random.Random(draw.random())
    rpms, depths, energies = [], [], []
    while True:
        advice = next_reading(depths, energies, SETUP, limits, nominal_rpm=NOMINAL, drift=drift)
        if advice.stop or choose is by_ladder and ladder_ends(advice):
            return rpms, advice, None if shape in WITHOUT_KNEE else knee
        rpms.append(choose(advice, rpms, energies))
        depths.append(SETUP.depth(rpms[-1]))
        energies.append(energy(depths[-1]) * (1 + noise * scatter.gauss(0, 1)))


def row(label, shape, noise, trials, seed, choose, limits, drift=USUAL_DRIFT):
    """One line of the table, and the mean number of readings."""
    draw = random.Random(f"{seed} {shape} {noise}")  # the same trials for every rule
    played = [play(shape, noise, draw, choose, limits, drift) for _ in range(trials)]
    counts = [len(rpms) for rpms, _, _ in played]
    found = [(advice.knee, knee) for _, advice, knee in played if is_found(advice)]
    wrong = sum(knee is None or abs(answer.knee - knee) > WANTED * knee for answer, knee in found)
    covered = sum(knee is not None and answer.low <= knee <= answer.high for answer, knee in found)
    when = sorted(len(rpms) for rpms, advice, _ in played if is_found(advice))
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
            advised = row("next reading", *common, by_advice, limits)
            simple = row("workbook's rule", *common, lambda *given: by_simple_rule(*given, limits), limits, None)
            print(
                f"| | | *against the ladder* | {100 * (advised / ladder - 1):+.0f} %, workbook {100 * (simple / ladder - 1):+.0f} % | | | | | | |",
                flush=True,
            )


if __name__ == "__main__":
    main()
