"""Every verdict, number and threshold against the whole rule computed a second time."""

from __future__ import annotations

import random
import re

import numpy as np
import pytest
from evidence.notes import computed
from knee_rule import out_of_line, rule

from gritfuncs.knee import ALREADY_LEVEL, FOUND, NOT_RESOLVED, STILL_FALLING, TOO_FEW, find_knee
from gritfuncs.knee.readings import read
from gritfuncs.knee.verdict import judge

NUMBERS = ("knee", "low", "high", "level", "slope", "scatter_low", "scatter_high", "noise", "noise_floor", "definition_allowance")
SHAPES = {
    "hinge": lambda h, knee, fall: 1 + fall * max(0.0, knee - h),
    "two slopes": lambda h, knee, fall: 1 + fall * (max(0.0, knee - h) + 0.25 * min(0.0, knee - h) + 0.1),
    "gentle": lambda h, knee, fall: 1 + fall * (max(0.0, knee - h) + 0.12 * min(0.0, knee - h) + 0.1),
    "rises again": lambda h, knee, fall: 1 + fall * (max(0.0, knee - h) - 0.2 * min(0.0, knee - h)),
    "line": lambda h, knee, fall: 2.5 - 0.3 * fall * h,
    "nearly flat": lambda h, knee, fall: 1 + 0.05 * fall * max(0.0, knee - h),
    "rise": lambda h, knee, fall: 1 + 0.3 * fall * h,
    "power": lambda h, knee, fall: h**-fall,
    "power to level": lambda h, knee, fall: max(1.0, (knee / h) ** (2 * fall)),
}


def trial(seed):
    """Any of the shapes, with or without repeats, with little or much scatter, sometimes with an offset below zero."""
    draw = random.Random(seed)
    shape = draw.choice(list(SHAPES))
    places = draw.randint(5, 11)
    depths = [0.6 + (step + draw.uniform(-0.2, 0.2)) * 0.8 / (places - 1) for step in range(places)]
    depths += [draw.choice(depths) for _ in range(draw.choice([0, 0, 1, 2, 4]))]
    knee, fall, noise = draw.uniform(0.75, 1.3), draw.uniform(0.5, 3.0), draw.choice([0.002, 0.01, 0.02, 0.05, 0.1])
    offset = draw.choice([0.0, 0.0, 0.0, 0.0, -0.9, -3.0])
    size = draw.choice([1e-3, 1.0, 40.0])
    energies = [size * (SHAPES[shape](h, knee, fall) + offset + noise * draw.gauss(0, 1)) for h in depths]
    return depths, energies, draw.choice([None, None, 0.001, 0.03])


@pytest.mark.parametrize("block", range(8))
def test_the_whole_rule_computed_again(block):
    seen = []
    for seed in range(60 * block, 60 * (block + 1)):
        depths, energies, noise = trial(seed)
        ours, theirs = judge(read(depths, energies), noise), rule(depths, energies, noise)
        assert ours.verdict == theirs["verdict"] and theirs["why"] in ours.reasons[0], (seed, theirs["why"], ours.reasons)
        for name in NUMBERS:
            our, their = getattr(ours, name), theirs.get(name)
            if our is None or their is None:
                assert our is None and their is None, (seed, name, our, their)
                continue
            computed(
                f"`find_knee`: {name.replace('_', ' ')}", "the whole rule again, with numpy and scipy", their, our, within=1e-6
            )
        assert ours.curved == theirs.get("curved", False), seed
        seen.append(ours.verdict)
    assert {FOUND, STILL_FALLING, NOT_RESOLVED} <= set(seen)


def without_numbers(text):
    return re.sub(r"[0-9][0-9.e+-]*", "#", text)


def said(depths, energies, noise):
    """The verdict and its first reason without numbers."""
    answer = judge(read(depths, energies), noise)
    return answer.verdict, without_numbers(answer.reasons[0])


def changes(depths, energies):
    """The noises at which the answer changes."""
    grid = np.geomspace(0.002, 0.9, 60).tolist()
    for low, high in zip(grid, grid[1:]):
        before = said(depths, energies, low)
        if said(depths, energies, high) != before:
            while high - low > 1e-12:
                middle = (low + high) / 2
                low, high = (middle, high) if said(depths, energies, middle) == before else (low, middle)
            yield high


@pytest.mark.parametrize("block", range(4))
def test_the_answer_changes_at_the_same_noise(block):
    """Every test of the rule is measured by the noise, so a threshold that is off shows here, however little."""
    seen = set()
    for seed in range(1000 + 50 * block, 1050 + 50 * block):
        depths, energies, _ = trial(seed)
        for noise in changes(depths, energies):
            for side in (noise * (1 - 1e-7), noise * (1 + 1e-7)):
                theirs, (verdict, because) = rule(depths, energies, side), said(depths, energies, side)
                assert verdict == theirs["verdict"] and without_numbers(theirs["why"]) in because, (seed, side, theirs)
                seen.add(because)
    assert len(seen) >= 12


def test_random_trials_come_to_every_verdict():
    verdicts = [judge(read(*trial(seed)[:2]), trial(seed)[2]).verdict for seed in range(480)]
    assert all(verdicts.count(verdict) >= 8 for verdict in (FOUND, STILL_FALLING, NOT_RESOLVED, ALREADY_LEVEL, TOO_FEW))


@pytest.mark.parametrize("readings", [7, 9, 12])
@pytest.mark.parametrize("noise", [None, 0.004, 0.02])
def test_a_reading_out_of_line_is_named_from_the_chance_that_is_stated(readings, noise):
    draw = random.Random(readings)
    depths = [0.6 + 0.8 * step / (readings - 1) for step in range(readings)]
    clean = [40 + 60 * max(0.0, 1.0 - h) + 0.3 * draw.gauss(0, 1) for h in depths]
    named = []
    for step in range(40):
        energies = list(clean)
        energies[readings // 2 + 1] += 0.4 * step
        expected = out_of_line(depths, energies, noise)
        assert find_knee(depths, energies, noise=noise).suspect == expected
        named.append(expected)
    assert None in named and readings // 2 + 1 in named
