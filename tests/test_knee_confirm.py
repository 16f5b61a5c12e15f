"""A recorded knee confirmed: where it reads, what it says, when it stops, and the rule computed a second time."""

from __future__ import annotations

import json
import math
import random
from dataclasses import replace

import numpy as np
import pytest
from evidence.confirming import played, row
from knee_reference import falling
from scipy.stats import f, norm

import gritfuncs as gf
from gritfuncs.knee import (
    CHANGED,
    CONFIRMED,
    GO_ON,
    FourthRoot,
    RecordedKnee,
    confirm_knee,
    find_knee,
    machine_noise,
    pooled_noise,
)
from gritfuncs.knee.confirm import MOST_CONFIRMING
from gritfuncs.planning import Limits

SETUP = FourthRoot(100**-0.25)  # depth 1 at 100 1/min
RECORD = RecordedKnee(knee=1.0, low=0.96, high=1.04, steepness=2.5, noise=0.01)


def hinge(depth, knee=1.0, steep=2.5):
    return 40 * (1 + steep * max(0.0, 1 - depth / knee))


def taken(knee=1.0, noise=0.01, seed=1, record=RECORD, limits=None, truth=hinge, **options):
    """A trial as it is asked for: (depths, energies, all answers)."""
    draw, depths, energies, answers = random.Random(seed), [], [], []
    while True:
        answers.append(confirm_knee(depths, energies, record, SETUP, limits, **options))
        if answers[-1].work_rpm is None:
            return depths, energies, answers
        depths.append(SETUP.depth(answers[-1].work_rpm))
        energies.append(truth(depths[-1], knee) * (1 + noise * draw.gauss(0, 1)))


# --- what it says


def test_a_knee_that_stayed_is_confirmed_with_four_readings():
    depths, _, answers = taken(noise=0.003, record=replace(RECORD, steepness=4.0), truth=lambda h, knee: hinge(h, knee, 4.0))
    answer = answers[-1]
    assert len(depths) == 4 and [each.word for each in answers] == [GO_ON] * 4 + [CONFIRMED]
    assert answer.low <= 1.0 <= answer.high and answer.knee == pytest.approx(1.0, abs=0.02) and not answer.full_trial
    assert max(answer.knee - answer.low, answer.high - answer.knee) <= 0.05 * answer.knee
    assert (
        "found" not in answer.line()
        and answer.line().startswith("confirmed: ")
        and "from the record and 4 new readings" in answer.line()
    )
    assert json.loads(json.dumps(answer.as_dict()))["word"] == CONFIRMED


def test_the_depths_are_about_the_recorded_knee_level_side_first():
    depths, _, answers = taken(noise=0.003)
    assert depths[:4] == pytest.approx([1.035, 0.91, 1.11, 0.82], abs=0.003) and set(depths[4:]) <= set(depths[:4])
    assert answers[0].line() == "next: 115 1/min, reading 1 of 4 about the recorded knee (go on)"
    steep = taken(noise=0.003, record=replace(RECORD, steepness=9.0), truth=lambda h, knee: hinge(h, knee, 9.0))[0]
    assert steep[:4] == pytest.approx([1.035, 0.975, 1.11, 0.95], abs=0.003)  # 0.45 levels of rise at 5 % below the knee


@pytest.mark.parametrize("moved", [-0.2, 0.2])
def test_a_knee_that_moved_far_is_not_confirmed(moved):
    for seed in range(12):
        answer = taken(1 + moved, 0.01, seed)[2][-1]
        assert answer.word in (CHANGED, GO_ON) and answer.full_trial and answer.knee is None
        assert "take a full trial from the recorded knee's rpm" in answer.line() and answer.nominal_rpm == pytest.approx(100.0)


def test_readings_that_fit_nothing_have_changed():
    answer = confirm_knee([1.05, 0.91, 1.11, 0.82], [40, 52, 48, 41], RECORD, SETUP)
    assert answer.word == CHANGED and "fit neither" in answer.reason


def test_with_much_scatter_it_takes_eight_readings_and_then_a_full_trial():
    counts = set()
    for seed in range(10):
        depths, _, answers = taken(noise=0.06, seed=seed, record=replace(RECORD, noise=0.06))
        counts.add(len(depths))
        assert len(depths) <= MOST_CONFIRMING
        if len(depths) == MOST_CONFIRMING and answers[-1].word == GO_ON:
            assert answers[-1].full_trial and "after 8 readings" in answers[-1].reason
    assert MOST_CONFIRMING in counts


# --- safe


@pytest.mark.parametrize(
    "lowest, highest, shallowest, deepest",
    [(60.0, 140.0, None, None), (None, None, 0.87, 1.09), (60.0, None, None, 1.08), (50.0, 160.0, 0.85, 1.2)],
)
def test_it_stays_within_the_machine_and_the_depths_of_the_record(lowest, highest, shallowest, deepest):
    record = replace(RECORD, shallowest=shallowest, deepest=deepest)
    depths, _, answers = taken(record=record, limits=Limits(lowest_work_rpm=lowest, highest_work_rpm=highest))
    for depth, answer in zip(depths, answers):
        assert (lowest or 0) <= answer.work_rpm <= (highest or 1e9)
        assert (shallowest or 0) * (1 - 1e-12) <= depth <= (deepest or 9) * (1 + 1e-12)
    assert len(set(depths)) >= 4


@pytest.mark.parametrize(
    "limits",
    [
        Limits(lowest_work_rpm=95.0),
        Limits(highest_work_rpm=105.0),
        Limits(lowest_work_rpm=500.0),
        Limits(highest_work_rpm=20.0),
        Limits(lowest_work_rpm=100.0, highest_work_rpm=100.0),
    ],
)
def test_where_the_limits_leave_too_few_depths_a_full_trial_is_due(limits):
    answer = confirm_knee([], [], RECORD, SETUP, limits)
    assert (answer.word, answer.work_rpm, answer.full_trial) == (GO_ON, None, True) and "fewer than four depths" in answer.reason


def test_damage_stops_it_at_any_time():
    depths, energies, _ = taken()
    for count in range(5):
        answer = confirm_knee(depths[:count], energies[:count], RECORD, SETUP, damage_seen=True)
        assert answer.word == CHANGED and answer.work_rpm is None and "burn" in answer.line() and answer.knee is None


def test_it_goes_no_slower_when_the_energy_has_risen():
    answer = confirm_knee([1.05, 0.91, 1.11], [40, 61, 40], RECORD, SETUP)
    assert (answer.word, answer.work_rpm, answer.full_trial) == (GO_ON, None, True) and "risen to 1.5 times" in answer.reason
    assert confirm_knee([1.05, 0.91, 1.11], [40, 59, 40], RECORD, SETUP).work_rpm is not None


# --- the rule again


def again(h, u, record, wanted=0.05):
    """(word, knee, low, high) from the description, by numpy."""
    h, u = np.array(h), np.array(u)
    corners = record.knee * np.linspace(0.70, 1.35, 241)

    def squares(x, places, ratio=0.0):
        line, level = np.polyfit(x, u, 1), ((u - u.mean()) ** 2).sum()
        beyond = ((u - np.polyval(line, x)) ** 2).sum() if line[0] < 0 else level
        inner = falling(x, u, ratio)(np.clip(places, x.min() + 1e-9, x.max() - 1e-9))
        return np.where(places >= x.max(), beyond, np.where(places <= x.min(), level, inner))

    both = np.minimum(np.minimum(squares(h, corners), squares(h, corners, 0.1)), squares(-1 / h**2, -1 / corners**2))
    fine = np.linspace(h.min() + 1e-9, h.max(), 40001)
    best = fine[np.argmin(falling(h, u)(fine))]
    z = np.maximum(0, best - h)
    fit = np.linalg.lstsq(np.column_stack([np.ones_like(h), z]), u, rcond=None)[0][0]
    expected, nu, n = (record.noise * fit) ** 2, record.noise_freedom + len(h) - 3, len(h)
    if both.min() / (n - 3) > 6.6 * expected:
        return CHANGED, None, None, None
    s2, bar = (record.noise_freedom * expected + both.min()) / nu, f.ppf(0.95, 1, nu)
    inside = corners[both <= both.min() + bar * s2]
    own = corners[np.argmin(both)]
    if inside.min() <= np.unique(h)[1] or inside.max() >= h.max():
        return GO_ON, None, None, None
    variance = ((record.high - record.low) / 2 / norm.ppf(0.975)) ** 2 + (0.02 * record.knee) ** 2
    if abs(own - record.knee) > 2 * math.sqrt(variance + (np.ptp(inside) / 4) ** 2):
        return CHANGED, None, None, None
    posterior = both / s2 + (corners - record.knee) ** 2 / variance
    knee, inside = corners[np.argmin(posterior)], corners[posterior <= posterior.min() + bar]
    low, high = min(inside.min(), own, 0.98 * knee), max(inside.max(), own, 1.02 * knee)
    return (CONFIRMED, knee, low, high) if max(knee - low, high - knee) <= wanted * knee else (GO_ON, None, None, None)


def test_the_whole_rule_computed_again():
    seen = []
    for seed in range(120):
        draw = random.Random(seed)
        truth = draw.choice([hinge, lambda h, knee: 40 * max(1.0, knee / h) ** 2.5])
        record = replace(RECORD, noise=draw.choice((0.005, 0.01, 0.02)), noise_freedom=draw.choice((4, 8, 20)))
        depths, energies, answers = taken(1 + draw.choice((0.0, 0.0, 0.04, -0.06, 0.09)), record.noise, seed, record, truth=truth)
        for count in range(4, len(depths) + 1):
            word, *numbers = again(depths[:count], energies[:count], record)
            assert answers[count].word == word, (seed, count, answers[count].line())
            if word == CONFIRMED:
                assert (answers[count].knee, answers[count].low, answers[count].high) == pytest.approx(numbers, rel=1e-6)
            seen.append(word)
    assert all(seen.count(word) >= 10 for word in (CONFIRMED, CHANGED, GO_ON))


# --- how often it is right (simulated)


def test_confirmed_knees_hold_and_moved_ones_are_seldom_confirmed():
    readings, _, confirmed, holds, off = row("hinge", 0.01, 0.0, 40, seed="gate")
    assert confirmed >= 28 and holds >= 0.9 * confirmed and off <= 1 and readings < 6.5
    words = [played("hinge", 0.01, 0.1, number, "gate")[2].word for number in range(15)]
    assert words.count(CONFIRMED) <= 4


# --- record, input


def test_a_record_from_a_knee_that_was_found():
    depths = [0.6 + 0.05 * number for number in range(13)]
    knee = find_knee(depths, [hinge(h) for h in depths])
    record = RecordedKnee.of(knee, depths)
    assert record.steepness == pytest.approx(2.5) and (record.shallowest, record.deepest) == pytest.approx((0.6, 1.2))
    assert (record.noise, record.noise_freedom) == (knee.noise, 10) == (knee.noise, knee.noise_freedom)
    with pytest.raises(
        ValueError, match=r"^knee must be one that was found, with a level above zero \(got the verdict 'too few readings'\)"
    ):
        RecordedKnee.of(find_knee([1.0], [1.0]))


@pytest.mark.parametrize(
    "changes, line",
    [
        (dict(knee=0.0), "knee must be > 0 µm (got 0.0)"),
        (dict(knee=1.2), "knee must be within its interval, 0.96 to 1.04 µm (got 1.2)"),
        (dict(noise=2.0), "noise must be > 0 and < 1, a share of the level, 0.02 for 2 % (got 2.0)"),
        (dict(steepness="steep"), "steepness must be > 0 (slope times knee over level) (got 'steep')"),
        (dict(noise_freedom=0), "noise_freedom must be > 0 degrees of freedom (got 0)"),
        (dict(deepest=-1), "deepest must be > 0 µm (got -1)"),
    ],
)
def test_a_bad_record_is_one_clear_line(changes, line):
    with pytest.raises(ValueError) as caught:
        replace(RECORD, **changes)
    assert str(caught.value) == line


@pytest.mark.parametrize(
    "changes, line",
    [
        (dict(record=1.0), "record must be a RecordedKnee (got 1.0)"),
        (dict(wanted=2), "wanted must be > 0 and < 1, a share of the knee, 0.05 for 5 % (got 2)"),
        (dict(damage_seen="no"), "damage_seen must be True or False (got 'no')"),
        (dict(energies=[40.0, -1.0]), "energies must be > 0, with idle taken off (got -1 in reading 2)"),
        (dict(energies=[40.0]), "depths and energies must be equally long (got 2 and 1 readings)"),
        (
            dict(limits=Limits(lowest_work_rpm=5.0), setup=None),
            "setup must have depth(work_rpm) and rpm_for(depth), as Setup and FourthRoot have (got None)",
        ),
    ],
)
def test_bad_input_is_one_clear_line(changes, line):
    with pytest.raises(ValueError) as caught:
        confirm_knee(**{**dict(depths=[1.05, 0.91], energies=[40.0, 45.0], record=RECORD, setup=SETUP), **changes})
    assert str(caught.value) == line


def test_it_is_public():
    assert gf.confirm_knee is confirm_knee and gf.RecordedKnee is RecordedKnee


# --- scatter known from before


def test_scatters_pool_by_their_degrees_of_freedom():
    pooled = pooled_noise([(0.01, 6), (0.02, 3), (0.015, 5)])
    assert pooled.noise == pytest.approx(math.sqrt((6 * 1e-4 + 3 * 4e-4 + 5 * 2.25e-4) / 14)) and pooled.freedom == 14
    assert pooled.known == pooled.noise and pooled_noise([(0.01, 7)]).known is None and pooled_noise([(0.01, 8)]).known == 0.01


@pytest.mark.parametrize(
    "trials, line",
    [
        ([], "trials must be a list of pairs of scatter and degrees of freedom (got [])"),
        ([(0.01,)], "trials must be pairs of scatter and degrees of freedom > 0 (got (0.01,))"),
        ([(0.01, 0)], "trials must be pairs of scatter and degrees of freedom > 0 (got (0.01, 0))"),
        ([(1.5, 3)], "noise must be > 0 and < 1, a share of the level, 0.02 for 2 % (got 1.5)"),
    ],
)
def test_bad_scatters_are_one_clear_line(trials, line):
    with pytest.raises(ValueError) as caught:
        pooled_noise(trials)
    assert str(caught.value) == line


def test_the_scatter_of_a_machine_comes_from_its_last_trials_in_the_record():
    def row(machine, scatter, freedom, date=""):
        return dict(machine=machine, scatter=scatter, degrees_of_freedom=freedom, date=date, knee=1.2)

    rows = [
        row("Mill 3", 1.0, 6),
        row(" mill  3", 2.0, 6),
        row("Mill 4", 9.0, 5),
        row("Mill 3", None, 6),
        row("Mill 3", "2 %", 6),
    ]
    assert machine_noise(rows, "MILL 3") == pooled_noise([(0.01, 6), (0.02, 6)])
    assert machine_noise(rows, "Mill 5") is None and machine_noise([dict(key="old")], "Mill 3") is None
    many = [row("M", 1.0 + number, 5, f"2026-01-{number + 1:02}") for number in range(12)]
    assert machine_noise(many[::-1], "M") == pooled_noise([((1.0 + number) / 100, 5) for number in range(2, 12)])
