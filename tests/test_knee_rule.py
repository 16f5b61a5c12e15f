"""Every verdict, number and threshold against the whole rule computed a second time."""
import random

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
        assert ours.verdict == theirs["verdict"], seed
        for name in NUMBERS:
            our, their = getattr(ours, name), theirs.get(name)
            if our is None or their is None:
                assert our is None and their is None or ours.verdict in (NOT_RESOLVED, STILL_FALLING, ALREADY_LEVEL), (seed, name, our, their)
                continue
            computed(f"`find_knee`: {name.replace('_', ' ')}", "the whole rule again, with numpy and scipy", their, our, within=1e-6)
        seen.append(ours.verdict)
    assert {FOUND, STILL_FALLING, NOT_RESOLVED} <= set(seen)


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
