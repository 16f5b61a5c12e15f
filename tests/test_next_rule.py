"""Every next reading against the whole rule computed a second time."""

from __future__ import annotations

import random
from dataclasses import asdict, replace
from fnmatch import fnmatchcase
from functools import partial

import pytest
from evidence.notes import computed
from next_rule import corner_of, narrowness, possible_corners, rule
from test_next_reading import Machine, steady

from gritfuncs.knee import find_knee
from gritfuncs.knee.next_reading import FourthRoot, next_reading

SETUP = FourthRoot(0.4)


def nine_digits(rpm):
    return float(f"{rpm:.9g}")


def trials(seed):
    """Machines with a trial as it is advised, from the first reading to the last; sometimes a wheel that changes, or a slip."""
    draw = random.Random(seed)
    machine = (
        Machine.random(draw)
        if draw.random() < 0.5
        else steady(
            lowest=draw.choice((None, 20.0, 60.0, 92.0)),
            highest=draw.choice((None, 108.0, 150.0, 200.0)),
            knee_rpm=draw.uniform(30, 250),
            noise=draw.choice((0.0, 0.01, 0.03, 0.06)),
            steepness=draw.choice((0.0, 1.5, 3.0, 8.0)),
        )
    )
    machine = replace(
        machine,
        noise=max(machine.noise, 0.002),  # with exact readings fits tie, and rounding decides
        **{
            name: value and nine_digits(value)
            for name, value in asdict(machine).items()
            if name in ("nominal", "lowest", "highest")
        },
    )
    drift, slip = draw.choice((0, 0, 0.02)), draw.choice((None, None, 3, 6))
    start = draw.choice((1, 1, 0.7, 1.3))
    noise, wanted = draw.choice((None, None, 0.02)), draw.choice((0.05, 0.02))
    rpms = [min(machine.highest or 9e9, max(machine.lowest or 0, nine_digits(start * machine.nominal)))]
    energies = []
    while True:
        energy = machine.energy(rpms[-1], draw) * (1 + drift * len(energies))
        energies.append(energy * (1.4 if len(energies) == slip else 1))
        advice = next_reading(
            [SETUP.depth(rpm) for rpm in rpms],
            energies,
            SETUP,
            machine.limits,
            nominal_rpm=machine.nominal,
            step_percent=machine.step_percent,
            noise=noise,
            wanted=wanted,
        )
        yield machine, rpms, energies, advice, noise, wanted
        if advice.stop:
            return
        rpms.append(nine_digits(advice.work_rpm))


@pytest.mark.parametrize("block", range(6))
def test_the_whole_rule_computed_again(block):
    seen = set()
    for seed in range(25 * block, 25 * (block + 1)):
        for machine, rpms, energies, advice, noise, wanted in trials(seed):
            depths = [SETUP.depth(rpm) for rpm in rpms]
            rpm, why, more, knee = rule(machine, rpms, energies, partial(find_knee, depths, noise=noise), noise, wanted)
            assert fnmatchcase(advice.reason, f"*{why}*"), (seed, len(rpms), why, advice.line())
            assert advice.expected_more == more, (seed, len(rpms), advice.line())
            if rpm is None or advice.stop:
                assert rpm is None and advice.stop, (seed, len(rpms), advice.line())
                if "knee found" in why:
                    assert (advice.knee.low, advice.knee.high) == pytest.approx((knee.low, knee.high))
            elif advice.work_rpm != pytest.approx(rpm, rel=1e-8):  # two that are as good as each other
                corners = (
                    [knee.knee, knee.low, knee.high]
                    if knee.knee and "drift" in why
                    else possible_corners(corner_of(depths, energies), knee)
                )
                theirs, ours = (narrowness(depths, corners, r) for r in (rpm, advice.work_rpm))
                assert "narrows" in why or "drift" in why, (seed, len(rpms), rpm, advice.line())
                assert theirs == pytest.approx(ours, rel=1e-9), (seed, len(rpms), rpm, advice.line())
            else:
                computed(
                    "`next_reading`: work rpm", "the whole rule again, with numpy and scipy", rpm, advice.work_rpm, within=1e-8
                )
            seen.add(" ".join(word for word in why.split() if word.isalpha()))
    assert len(seen) >= 20
