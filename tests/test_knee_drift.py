"""Drift from reading to reading: it is measured by repeats, taken off, and a knee that it could have made is none."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from evidence.drifting import drawn, row

from gritfuncs.knee import FOUND, NOT_RESOLVED, FourthRoot, find_knee, knee_of_trial, next_reading
from gritfuncs.knee.drift import USUAL_DRIFT, drift_range
from gritfuncs.knee.next_reading import MOST_READINGS
from gritfuncs.knee.readings import read
from gritfuncs.planning import plan_trial
from gritfuncs.trial import read_trial

ALTERNATING = [(reading.work_rpm / 100) ** 0.25 for reading in plan_trial(100.0, order="alternating")]
OUT_AND_BACK = [(reading.work_rpm / 100) ** 0.25 for reading in plan_trial(100.0)]
TWICE = OUT_AND_BACK * 2
OUTWARD = list(dict.fromkeys(ALTERNATING))  # each depth once


def hinge(h, knee=1.0, steep=3.0):
    return 40 * (1 + steep * max(0.0, 1 - h / knee))


def drifting(depths, truth, drift, noise=0.0, seed=1):
    """Readings of a level of 40 that gain a share of it from each to the next."""
    draw = random.Random(seed)
    return [truth(h) * (1 + noise * draw.gauss(0, 1)) + 40 * drift * number for number, h in enumerate(depths)]


# --- how large is it


@pytest.mark.parametrize("drift", [-0.004, 0.0, 0.002, 0.01])
def test_repeats_show_the_drift_and_prior_and_scatter_say_how_far_to_trust_them(drift):
    energies = drifting(OUT_AND_BACK, hinge, drift)
    found = drift_range(read(OUT_AND_BACK, energies), find_knee(OUT_AND_BACK, energies), 0.004)
    times = np.array([0.0, 7.0, 14.0])  # of the nominal readings
    squares, scatter = (
        ((times - times.mean()) ** 2).sum(),
        found.level * max(0.01, min(0.05, find_knee(OUT_AND_BACK, energies).noise)),
    )
    assert found.seen == pytest.approx(40 * drift, abs=1e-9)
    assert found.error == pytest.approx(scatter / math.sqrt(squares))
    weights = np.array([1 / found.error**2, 1 / (0.004 * found.level) ** 2])  # normal prior of no drift, normal repeats
    assert found.centre == pytest.approx(found.seen * weights[0] / weights.sum(), abs=1e-12)
    assert found.deviation == pytest.approx(weights.sum() ** -0.5)
    assert found.is_seen == (abs(found.seen) > 2 * found.error)


def test_without_repeats_the_usual_drift_is_all_that_is_known():
    depths = ALTERNATING[:7]
    found = drift_range(read(depths, [hinge(h) for h in depths]), find_knee(depths, [hinge(h) for h in depths]), 0.004)
    assert found.centre == 0 and not found.is_seen and found.deviation == pytest.approx(0.004 * found.level)


def test_repeats_of_an_rpm_that_was_not_set_quite_the_same_serve_too():
    """A reading at 100.4 instead of 100 1/min, on the steep side: the fall between the two is not taken for drift."""
    steep = [hinge(h, knee=1.1, steep=5.0) for h in OUT_AND_BACK]
    depths = [h * (1.001 if number == 7 else 1.0) for number, h in enumerate(OUT_AND_BACK)]
    energies = [hinge(h, knee=1.1, steep=5.0) for h in depths]
    assert energies[7] < steep[7] - 0.1
    found = drift_range(read(depths, energies), find_knee(depths, energies), 0.004)
    assert found.seen == pytest.approx(0.0, abs=1e-6) and found.error < math.inf


@pytest.mark.parametrize("factor, offset", [(1e-3, 0.0), (1e3, 0.0), (1.0, 20.0)])
def test_shares_of_drift_are_of_the_level_whatever_the_unit(factor, offset):
    energies = [factor * u + offset for u in drifting(TWICE, hinge, 0.004)]
    answer = find_knee(TWICE, energies, drift=0.004)
    assert answer.drift == pytest.approx(0.004 * 40 * factor / answer.level, rel=0.05)


# --- find_knee


def test_a_power_law_made_a_knee_by_drift_is_not_resolved_and_says_what_to_repeat():
    without = with_drift = 0
    for seed in range(60):
        energies = drifting(OUTWARD, lambda h: 16 + 24 / h, 0.004, 0.01, seed)
        plain, answer = find_knee(OUTWARD, energies), find_knee(OUTWARD, energies, drift=USUAL_DRIFT)
        without += plain.verdict == FOUND
        with_drift += answer.verdict == FOUND
        if plain.verdict == FOUND and answer.drift is not None and "could have made the knee" in answer.reasons[0]:
            assert answer.verdict == NOT_RESOLVED and answer.knee is answer.low is answer.high is answer.level is None
            assert answer.advice.startswith("repeat reading ") and 1 <= int(answer.advice.split()[-1]) <= 13
    assert without > 15 and with_drift <= 1


def test_a_steep_knee_stands_with_its_drift_taken_off_and_named():
    energies = drifting(TWICE, hinge, 0.006, 0.005)
    answer, plain = find_knee(TWICE, energies, drift=USUAL_DRIFT), find_knee(TWICE, energies)
    assert answer.verdict == FOUND and answer.low <= 1.0 <= answer.high
    assert answer.noise < plain.noise  # what drift had added to the scatter is gone
    assert any("drift by +0." in reason and "taken off" in reason for reason in answer.reasons)
    assert "% of the level a reading taken off" in answer.report() and answer.as_dict()["drift"] == answer.drift


def test_the_interval_holds_those_of_the_least_and_the_largest_possible_drift():
    energies = drifting(OUT_AND_BACK, lambda h: hinge(h, steep=2.0), 0.0, 0.02, 5)
    answer = find_knee(OUT_AND_BACK, energies, drift=USUAL_DRIFT)
    assert answer.verdict == FOUND
    time = np.arange(15) - 7.0
    level = find_knee(OUT_AND_BACK, energies).level
    ends = [
        find_knee(OUT_AND_BACK, list(energies - time * level * (answer.drift + side * 1.64 * answer.drift_deviation)))
        for side in (-1, 0, 1)
    ]
    assert (answer.low, answer.high) == pytest.approx((min(end.low for end in ends), max(end.high for end in ends)))


def test_unless_drift_is_asked_for_the_order_does_not_matter():
    energies = drifting(ALTERNATING, hinge, 0.004, 0.01)
    answer = find_knee(ALTERNATING, energies)
    assert answer.drift is answer.drift_deviation is None and "drift" not in answer.report()
    assert find_knee(ALTERNATING[::-1], energies[::-1]).knee == answer.knee
    backward = find_knee(ALTERNATING[::-1], energies[::-1], drift=0.004)
    assert backward.drift == pytest.approx(-find_knee(ALTERNATING, energies, drift=0.004).drift, rel=0.1)


def test_a_trial_whose_level_is_not_above_zero_is_judged_by_its_largest_reading():
    energies = [u - 80 for u in drifting(OUT_AND_BACK, hinge, 0.0, 0.001)]
    assert find_knee(OUT_AND_BACK, energies, drift=0.004).drift is not None
    assert find_knee(OUT_AND_BACK, [0.0] * 15, drift=0.004).verdict == NOT_RESOLVED


@pytest.mark.parametrize("drift", [0, -0.004, 1, float("nan"), "0.4 %", True])
def test_a_drift_that_is_none_gets_one_clear_line(drift):
    for call in (
        lambda: find_knee(OUT_AND_BACK, OUT_AND_BACK, drift=drift),
        lambda: next_reading([1.0], [1.0], FourthRoot(), drift=drift),
    ):
        with pytest.raises(
            ValueError, match=r"^drift must be > 0 and < 1, a share of the level a reading, 0.004 for 0.4 %, or None \(got "
        ):
            call()


def test_a_usual_drift_as_small_as_a_number_can_be_is_as_good_as_none():
    energies = drifting(OUT_AND_BACK, hinge, 0.0, 0.001)
    for level in (1e-90, 1.0, 1e90):
        tiny, small = (find_knee(OUT_AND_BACK, [level * u for u in energies], drift=drift) for drift in (5e-324, 1e-9))
        assert tiny == small and tiny.knee == pytest.approx(find_knee(OUT_AND_BACK, energies).knee)


# --- next_reading


def test_a_stop_that_drift_could_have_made_asks_for_a_repeat():
    """Shallow and outward, without repeats: a usual drift is enough to make such a knee."""
    setup, asked = FourthRoot(100**-0.25), 0
    rpms = [100.0, 110.0, 90.0, 120.0, 80.0, 130.0, 70.0, 140.0, 60.0]
    for seed in range(40):
        depths = [setup.depth(rpm) for rpm in rpms]
        energies = drifting(depths, lambda h: 16 + 24 / h, 0.006, 0.01, seed)
        plain, advice = (next_reading(depths, energies, setup, nominal_rpm=100.0, drift=drift) for drift in (None, USUAL_DRIFT))
        if plain.stop and "drift" in advice.reason:
            asked += 1
            assert not advice.stop and advice.work_rpm in rpms and advice.reason.startswith("repeat ")
            assert advice.knee.verdict == NOT_RESOLVED or "less sure than wanted" in advice.reason
    assert asked > 5


def test_a_drift_that_repeats_show_is_named():
    setup = FourthRoot()
    energies = drifting(TWICE[:25], hinge, 0.01, 0.01)
    advice = next_reading(TWICE[:25], energies, setup, wanted=0.002)
    assert "; the readings drift by +" in advice.line() and "% of the level from one to the next" in advice.line()
    calm = next_reading(OUT_AND_BACK, drifting(OUT_AND_BACK, hinge, 0.0, 0.0001), setup, wanted=0.0001)
    assert "drift by" not in calm.line()


@pytest.mark.parametrize("order", ["next reading", "alternating"])
def test_drift_hardly_fakes_a_knee_reading_by_reading(order):
    """Simulated: +0.4 % of the level a reading, 1 % scatter, a + b/h, 60 trials."""
    with_drift, without = (
        row("a + b/h", 0.01, "+0.4 %", 60, rule=rule, order=order, seed="gate")[1] for rule in ("with drift", "without drift")
    )
    assert with_drift <= 3 and without >= 10


def test_a_knee_costs_about_one_reading_more_and_is_found_as_often():
    """Simulated: hinges, 1 % scatter, no drift, 40 trials."""
    (more, found, holds, _), (readings, *_) = (
        row("hinge", 0.01, "none", 40, rule=rule, seed="gate") for rule in ("with drift", "without drift")
    )
    assert found >= 38 and holds >= 37 and readings < more < readings + 1.6 < MOST_READINGS


# --- a whole trial


def test_a_whole_trial_is_judged_where_an_rpm_was_read_again_late_enough():
    energies = drifting(OUT_AND_BACK, hinge, 0.004, 0.01)
    judged = knee_of_trial(OUT_AND_BACK, energies)
    assert judged.verdict == FOUND and 0.001 < judged.drift < 0.004  # between none, as is usual, and what the repeats show
    once = knee_of_trial(OUTWARD, drifting(OUTWARD, hinge, 0.0, 0.01))
    assert once.verdict == FOUND and once.drift is None and "no rpm was read again half a trial later" in once.reasons[-1]
    pairs = [h for h in OUTWARD for _ in range(2)]  # side by side, as in sorted rows
    assert knee_of_trial(pairs, drifting(pairs, hinge, 0.0, 0.01)).drift is None
    assert knee_of_trial(TWICE, drifting(TWICE, hinge, 0.0, 0.01)).drift is not None
    assert knee_of_trial([1.0], [5.0]).verdict == "too few readings"


@pytest.mark.parametrize("seed", range(5))
def test_its_interval_holds_half_a_standard_deviation_of_drift_to_both_sides(seed):
    energies = drifting(OUT_AND_BACK, lambda h: hinge(h, steep=2.0), 0.002, 0.01, seed)
    answer = knee_of_trial(OUT_AND_BACK, energies)
    level, time = find_knee(OUT_AND_BACK, energies).level, np.arange(15) - 7.0
    drifts = [answer.drift + side * 0.5 * answer.drift_deviation for side in (-1, 0, 1)]
    ends = [find_knee(OUT_AND_BACK, list(energies - time * level * drift)) for drift in drifts]
    if answer.verdict == FOUND:
        assert (answer.low, answer.high) == pytest.approx((min(end.low for end in ends), max(end.high for end in ends)))
    else:
        assert any(end.verdict != FOUND for end in ends)


def test_a_plan_under_drift_hardly_fakes_a_knee_and_finds_as_many():
    """Simulated: the alternating order, 2 % scatter, +0.4 % of the level a reading, 60 trials a truth."""
    counts = {"a + b/h": [0, 0], "hinge": [0, 0]}
    for shape, found in counts.items():
        for number in range(60):
            _, energy, _, scatter = drawn(shape, 0.02, number, "whole")
            energies = [energy(h) * (1 + 0.02 * scatter.gauss(0, 1)) + 0.004 * i for i, h in enumerate(ALTERNATING)]
            for place, judge in enumerate((find_knee, knee_of_trial)):
                found[place] += judge(ALTERNATING, energies).verdict == FOUND
    assert counts["a + b/h"][1] <= 3 <= counts["a + b/h"][0] and counts["hinge"][1] >= counts["hinge"][0] - 8


def test_a_file_is_judged_in_the_order_of_its_rows(tmp_path):
    energies = drifting(OUT_AND_BACK, hinge, 0.004, 0.005)
    rows = "".join(f"{100 * h**4:.6f};{u!r}\n" for h, u in zip(OUT_AND_BACK, energies))
    (tmp_path / "trial.csv").write_text("rpm;load\n" + rows, encoding="utf-8")
    trial = read_trial(tmp_path / "trial.csv")
    assert 0.001 < trial.knee.drift < 0.004 and "of the level a reading taken off" in trial.report()
