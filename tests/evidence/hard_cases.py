"""How often the knee is right on the harder trials: PYTHONPATH=.:tests python3 -m evidence.hard_cases [--trials N] [--noises 1,2,3].

Prints for each truth: found % / of these the interval holds the knee, % / found and more than 5 % of the knee off (or there
is none), % of all / more than 10 % off, % of all.
"""

from __future__ import annotations

import argparse

from gritfuncs.knee import FOUND, find_knee

from .hard_trials import RPM_RANGES, SHAPES, WITH_KNEE, trial


def judged(shape, noise, trials, seed="hard"):
    """[(truth, Knee)] over all ranges of rpm."""
    drawn = [trial(shape, rpm_range, noise, number, seed=seed) for rpm_range in RPM_RANGES for number in range(trials)]
    return [(each.knee, find_knee(each.depths, each.energies)) for each in drawn]


def shares(answers):
    """(found, holds, more than 5 % off, more than 10 % off, of how many trials and found) as counts."""
    found = [(truth, knee) for truth, knee in answers if knee.verdict == FOUND]
    holds = sum(truth is not None and knee.low <= truth <= knee.high for truth, knee in found)
    off = [sum(truth is None or abs(knee.knee / truth - 1) > share for truth, knee in found) for share in (0.05, 0.1)]
    return len(answers), len(found), holds, *off


def line(name, counts):
    trials, found, holds, off5, off10 = counts
    held = f"{100 * holds / found:.1f}" if found and holds else "-"
    return f"{name:<26}{100 * found / trials:6.1f} /{held:>6} /{100 * off5 / trials:5.1f} /{100 * off10 / trials:5.2f}"


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trials", type=int, default=100, help="of each truth, scatter and range of rpm (default: %(default)s)")
    parser.add_argument("--noises", default="1,2,3", help="scatter, percent")
    parser.add_argument("--seed", default="hard")
    chosen = parser.parse_args()
    noises = [float(percent) / 100 for percent in chosen.noises.split(",")]
    totals = {}
    for shape in SHAPES:
        counts = [shares(judged(shape, noise, chosen.trials, chosen.seed)) for noise in noises]
        print(line(shape, map(sum, zip(*counts))), flush=True)
        if shape in WITH_KNEE:
            for noise, each in zip(noises, counts):
                totals[noise] = tuple(map(sum, zip(each, totals.get(noise, (0,) * 5))))
    for noise, counts in totals.items():
        print(line(f"with a knee, {100 * noise:g} %", counts))
    print(line("with a knee, all", map(sum, zip(*totals.values()))))


if __name__ == "__main__":
    main()
