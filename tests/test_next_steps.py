"""Trials taken reading by reading with rpm and infeed stepped together: what is set, where it ends, and the pair before it stops."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from test_trial_own_settings import LINES, net_power, read, table

import gritfuncs as gf
from gritfuncs.cli import main

HEADS = ("rpm", "power", "idle", "infeed rate")


def played(folder, limits, wrong_idle=0.0, scatter=0.005, nominal=120.0, seed=1, heads=HEADS, expected=None):
    """A trial by the advice alone, from nominal: every reading (rpm, infeed), and the advice that stopped it.

    In the dict `expected` how many readings were still expected when (rpm, infeed) was advised.
    """
    draw, rows, taken = random.Random(seed), [], [(nominal, 0.6)]
    for _ in range(30):
        rpm, infeed = taken[-1]
        power = net_power(rpm, infeed_rate=infeed) * (1 + scatter * draw.gauss(0, 1))
        rows.append((rpm, power + 0.5, 0.5 - wrong_idle * net_power(120), infeed))
        trial = read(folder, LINES + table(heads, rows))
        advice = trial.next_reading(limits, steps="rpm and infeed", nominal_rpm=nominal)
        if advice.stop:
            return taken, advice, trial
        taken.append((advice.work_rpm, advice.infeed_rate))
        if expected is not None:
            expected[taken[-1]] = advice.expected_more
    raise AssertionError("no end")


@pytest.mark.parametrize("wrong_idle", [0.0, 0.2])
def test_the_pair_comes_before_the_stop_and_the_knee_is_right_whatever_idle(tmp_path, wrong_idle):
    limits = gf.Limits(lowest_work_rpm=20, highest_work_rpm=400, lowest_infeed_rate=0.1, highest_infeed_rate=2)
    expected: dict = {}
    taken, advice, trial = played(tmp_path, limits, wrong_idle, expected=expected)
    assert advice.reason.startswith("knee found") and trial.knee.offset is not None
    assert trial.knee_rpm == pytest.approx(118, rel=0.12)
    pair = [(rpm, infeed) for rpm, infeed in taken if abs(infeed / rpm / 0.005 - 1) > 0.1]
    assert pair == [pytest.approx((80, 0.9)), pytest.approx((180, 0.4))]
    assert [expected[half] for half in pair] == [2, 1]
    for rpm, infeed in taken:
        assert 72 - 1e-9 <= rpm <= 168 + 1e-9 or (rpm, infeed) in pair


@pytest.mark.parametrize("seed", range(6))
def test_no_limit_is_ever_left(tmp_path, seed):
    draw = random.Random(f"limits {seed}")
    limits = gf.Limits(
        lowest_work_rpm=draw.uniform(60, 115),
        highest_work_rpm=draw.uniform(125, 200),
        lowest_infeed_rate=draw.uniform(0.3, 0.58),
        highest_infeed_rate=draw.uniform(0.62, 1.0),
    )
    taken, _, _ = played(tmp_path, limits, seed=seed, scatter=0.01)
    for rpm, infeed in taken:
        assert limits.lowest_work_rpm <= rpm * (1 + 1e-12) and rpm <= limits.highest_work_rpm * (1 + 1e-12)
        assert limits.lowest_infeed_rate <= infeed * (1 + 1e-12) and infeed <= limits.highest_infeed_rate * (1 + 1e-12)
        along, across = infeed / rpm == pytest.approx(0.005, rel=1e-3), infeed * rpm == pytest.approx(72, rel=1e-3)
        assert along or across, (rpm, infeed)  # a step by one factor, or a half of the pair at nominal depth


def test_without_room_for_the_pair_it_is_said(tmp_path):
    taken, advice, _ = played(tmp_path, gf.Limits(highest_infeed_rate=0.75))
    assert max(infeed for _, infeed in taken) <= 0.75
    assert not advice.reason.startswith("knee found") or "no room for the pair" in advice.reason


def test_the_limit_of_power_holds_for_the_steps_and_for_the_pair(tmp_path):
    taken, advice, trial = played(tmp_path, gf.Limits(highest_power=1.25))
    assert max(reading.load for reading in trial.used) <= 1.25 * 1.02 and advice.reason.startswith("knee found")
    pair = [infeed for rpm, infeed in taken if abs(infeed / rpm / 0.005 - 1) > 0.1]
    assert pair == [pytest.approx(0.6 * 0.75 / 0.57, rel=0.02), pytest.approx(0.4)]  # 0.57 kW net at nominal


def test_the_power_of_the_first_reading_tells_how_fast_the_limit_allows(tmp_path):
    limit = 0.5 + 1.2 * net_power(60.0, infeed_rate=0.6)  # power goes with infeed, and so with rpm
    taken, advice, _ = played(tmp_path, gf.Limits(highest_power=limit), nominal=60.0, scatter=0)
    assert 71.5 <= max(rpm for rpm, _ in taken) <= 72 * (1 + 1e-9) and "a limit of rpm, infeed or power" in advice.reason


def test_a_limit_of_power_says_nothing_of_loads_that_are_none(tmp_path):
    heads = ("rpm", "load", "idle", "infeed rate")
    taken, _, trial = played(tmp_path, gf.Limits(highest_power=1.25), heads=heads)
    assert trial.load_kind == "relative" and {0.9, 0.4} <= {round(infeed, 3) for _, infeed in taken}


def test_the_end_of_the_steps_is_said_with_how_far_from_nominal_it_is(tmp_path):
    taken, advice, _ = played(tmp_path, gf.Limits(), nominal=60.0)
    assert advice.reason.endswith("a limit of rpm, infeed or power is reached, or 40 % from nominal")
    assert max(rpm for rpm, _ in taken) == pytest.approx(1.4 * 60)


def test_the_command_says_rpm_and_infeed(tmp_path, capsys):
    rows = [(rpm, net_power(rpm, infeed_rate=rpm / 200) + 0.5, 0.5, rpm / 200) for rpm in (120, 132, 110)]
    path = tmp_path / "trial.csv"
    path.write_text(LINES + table(HEADS, rows), encoding="utf-8")
    assert main(["next", str(path)]) == 0
    assert " mm/min infeed, " in capsys.readouterr().out
    assert main(["next", str(path), "--steps", "rpm"]) == 1
    assert "or rpm and infeed together" in capsys.readouterr().err


def test_damage_stops_it(tmp_path):
    text = LINES + table((*HEADS, "damage"), [(120, 3, 0.5, 0.6, ""), (132, 3.2, 0.5, 0.66, "burn")])
    advice = read(tmp_path, text).next_reading()
    assert advice.stop and "burn, crack or wheel breakdown was seen" in advice.reason


# --- the advice beside the verdict, with the fitted load in mind ----------------------------------------------------------

WIDE = gf.Limits(lowest_work_rpm=20, highest_work_rpm=400, lowest_infeed_rate=0.1, highest_infeed_rate=2)
NEAR_THE_SLOW_END = [  # invented and simulated: rpm, power, infeed; 0.5 kW idle, each half of the pair once
    (144, 1.284, 0.72), (72, 1.063, 0.36), (96, 1.077, 0.48), (168, 1.405, 0.84), (80, 1.448, 0.9), (84, 1.057, 0.42),
    (108, 1.153, 0.54), (180, 1.006, 0.4), (156, 1.315, 0.78), (108, 1.122, 0.54), (96, 1.294, 0.75), (72, 1.062, 0.36),
    (84, 1.04, 0.42), (168, 1.435, 0.84),
]  # fmt: skip


def of(folder, rows):
    return read(folder, LINES + table(HEADS, [(rpm, power, 0.5, infeed) for rpm, power, infeed in rows]))


def test_a_knee_that_the_fitted_load_withdraws_does_not_stop_the_trial_but_asks_for_the_pair_again(tmp_path):
    trial = of(tmp_path, NEAR_THE_SLOW_END)
    assert trial.knee.verdict == "not resolved" and "A load that does not go" in trial.knee.reasons[0]
    advice = trial.next_reading(WIDE, nominal_rpm=120)
    assert (advice.stop, advice.knee.verdict, advice.knee.knee) == (False, "not resolved", None)
    assert "could have made this knee (not resolved so far" in advice.line() and "knee found" not in advice.line()
    assert (advice.work_rpm, advice.infeed_rate) == (pytest.approx(80), pytest.approx(0.9))
    other_half = of(tmp_path, [*NEAR_THE_SLOW_END, (80, 1.42, 0.9)]).next_reading(WIDE, nominal_rpm=120)
    assert (other_half.work_rpm, other_half.infeed_rate) == (pytest.approx(180), pytest.approx(0.4))
    resolved = of(tmp_path, [*NEAR_THE_SLOW_END, (80, 1.45, 0.9)])
    assert resolved.next_reading(WIDE, nominal_rpm=120).reason == "knee found within ±4.6 %" and resolved.knee.verdict == "found"
    narrow = trial.next_reading(gf.Limits(highest_infeed_rate=0.7), nominal_rpm=120)
    assert narrow.stop and "could have made this knee; the limits leave no room for the pair" in narrow.reason


# Invented and simulated.  No knee with half a standard deviation more drift, as the verdict wants it; one with 1.64 of them.
LOST_IN_BETWEEN = [
    (120, 1.084, 0.6), (132, 1.093, 0.66), (108, 1.09, 0.54), (144, 1.187, 0.72), (98, 1.086, 0.49), (156, 1.271, 0.78),
    (120, 1.081, 0.6), (120, 1.039, 0.6), (80, 1.362, 0.9), (132, 1.092, 0.66), (89, 1.052, 0.445), (108, 1.078, 0.54),
    (81, 1.055, 0.405), (108, 1.048, 0.54), (132, 1.118, 0.66), (180, 0.88, 0.4),
]  # fmt: skip


def test_a_knee_that_a_drift_between_the_ends_withdraws_does_not_stop_the_trial(tmp_path):
    trial = of(tmp_path, LOST_IN_BETWEEN)
    assert trial.knee.verdict == "not resolved" and trial.knee.reasons[0].startswith("A drift of ")
    advice = trial.next_reading(WIDE, nominal_rpm=120, wanted=0.15)
    assert (advice.stop, advice.knee.verdict) == (False, "not resolved"), advice.line()
    assert "drift could have made this verdict" in advice.reason


def drawn(folder, seed, count):
    """A trial at steps drawn at random, in any order, the last two of them a pair; its scatter is given."""
    draw = random.Random(seed)
    scatter, pair = draw.uniform(0.002, 0.04), draw.uniform(1.2, 1.5)
    path = [(factor, factor) for factor in (draw.randint(6, 14) / 10 for _ in range(count - 2))]
    rows = [
        (120 * rpm, net_power(120 * rpm, infeed_rate=0.6 * infeed) * (1 + scatter * draw.gauss(0, 1)) + 0.5, 0.5, 0.6 * infeed)
        for rpm, infeed in [*path, (1 / pair, pair), (pair, 1 / pair)]
    ]
    return read(folder, f"{LINES}noise;{100 * scatter}\n" + table(HEADS, rows))


def test_the_interval_that_stops_a_trial_is_the_one_with_the_fitted_load(tmp_path):
    """±7.0 % without the load in mind, ±7.2 % with it: what is wanted lies between them, then above both."""
    trial = drawn(tmp_path, 368, 16)
    more = trial.next_reading(WIDE, nominal_rpm=120, wanted=0.071)
    assert not more.stop and "leaves the knee less sure than wanted (found so far" in more.line(), more.line()
    assert abs(more.infeed_rate / more.work_rpm / 0.005 - 1) > 0.5  # one of the pair
    done = trial.next_reading(WIDE, nominal_rpm=120, wanted=0.08)
    assert (done.stop, done.reason) == (True, "knee found within ±7.2 %")
    assert (done.knee.high - done.knee.low) / 2 / done.knee.knee == pytest.approx(0.0725, abs=1e-4)


def test_after_30_readings_it_stops_and_says_that_the_load_is_why(tmp_path):
    advice = drawn(tmp_path, 248, 30).next_reading(WIDE, nominal_rpm=120, wanted=0.04)  # ±3.8 % without the load, ±4.5 % with it
    assert advice.stop and advice.reason.startswith("30 readings, and a load that does not go with removal")


@pytest.mark.parametrize("readings", [NEAR_THE_SLOW_END, NEAR_THE_SLOW_END[:13], [*NEAR_THE_SLOW_END, (80, 1.45, 0.9)]])
def test_what_the_advice_says_of_the_knee_is_the_verdict(tmp_path, readings):
    trial = of(tmp_path, readings)
    advice = trial.next_reading(WIDE, nominal_rpm=120)
    assert advice.knee.verdict == trial.knee.verdict


def test_a_half_of_the_pair_that_stands_first_does_not_set_the_steps(tmp_path):
    """The rows in another order, as a file sorted by rpm has them: what is set keeps the depth of cut of the path."""
    steps = [(80, 0.9), (180, 0.4), *((rpm, rpm / 200) for rpm in (120, 132, 108, 144))]
    rows = [(rpm, net_power(rpm, infeed_rate=infeed) + 0.5, infeed) for rpm, infeed in steps]
    for order in (rows, rows[::-1], [rows[1], rows[0], *rows[2:]]):
        advice = of(tmp_path, order).next_reading(WIDE, nominal_rpm=120)
        assert (advice.work_rpm, advice.infeed_rate) == (pytest.approx(98), pytest.approx(0.49)), advice.line()


def test_where_nothing_is_left_to_try_it_says_how_far_from_nominal_it_goes(tmp_path):
    """Energy falls as far as it was read: no knee up to 40 % on both sides."""
    rows = [(rpm, 0.01 * rpm**0.5, rpm / 200) for rpm in (120, 132, 108, 144, 96, 156, 84, 168, 72, 168, 72, 168, 168)]
    advice = of(tmp_path, [(rpm, power + 0.5, infeed) for rpm, power, infeed in rows]).next_reading(WIDE, nominal_rpm=120)
    assert advice.stop and "or 40 % from nominal" in advice.reason, advice.reason


def test_a_limit_of_power_says_nothing_of_a_load_meter(tmp_path):
    rows = [(rpm, power, 0.5, infeed) for rpm, power, infeed in NEAR_THE_SLOW_END]
    trial = read(tmp_path, LINES + table(("rpm", "load", "idle", "infeed rate"), rows))
    assert trial.load_kind == "relative"
    free, limited = (trial.next_reading(limits, nominal_rpm=120) for limits in (WIDE, replace(WIDE, highest_power=2.0)))
    assert (limited.work_rpm, limited.infeed_rate) == (free.work_rpm, free.infeed_rate) == (pytest.approx(80), pytest.approx(0.9))


@pytest.mark.parametrize("nominal", [1.0, 120.0])
def test_without_limits_it_goes_down_to_60_percent_of_any_nominal_rpm(tmp_path, nominal):
    """Level as far as it was read: slower each time, also where the work turns once a minute."""
    steps, slower = [(nominal, 0.6), (1.1 * nominal, 0.66)], []
    for _ in range(4):
        trial = of(tmp_path, [(rpm, 0.5 + infeed, infeed) for rpm, infeed in steps])
        advice = trial.next_reading(gf.Limits(), nominal_rpm=nominal)
        slower.append(advice.work_rpm / nominal)
        steps = [*steps, (advice.work_rpm, advice.infeed_rate)]
    assert min(slower) < 0.85 and min(slower) >= 0.6
    assert [infeed / rpm * nominal for rpm, infeed in steps] == pytest.approx([0.6] * len(steps), rel=1e-3)


def test_infeed_and_rpm_are_advised_in_as_many_figures_as_can_be_set(tmp_path):
    """Four for an infeed rate along the steps, six for rpm and infeed of the pair; 0.005 mm are cut for each revolution."""
    trial = of(tmp_path, [(120, 0.5 + 0.6, 0.6), (132, 0.5 + 0.66, 0.66)])
    step = trial.next_reading(gf.Limits(), nominal_rpm=113.1235)
    assert step.infeed_rate == pytest.approx(0.005 * step.work_rpm, rel=1e-4) and step.infeed_rate == float(
        f"{step.infeed_rate:.4g}"
    )
    assert step.infeed_rate != float(f"{0.005 * step.work_rpm:.5g}")
    pair = of(tmp_path, NEAR_THE_SLOW_END).next_reading(WIDE, nominal_rpm=113.1235)
    assert (pair.work_rpm, pair.infeed_rate) == (75.4157, 0.848426)  # 113.1235 / 1.5 and 1.5 * 0.5656175


def test_every_option_of_the_combined_steps_counts(tmp_path):
    level = [(rpm, rpm / 200 + 0.5, rpm / 200) for rpm in (120, 132, 108)]

    def advised(lines="", readings=level, **options):
        rows = [(rpm, power, 0.5, infeed) for rpm, power, infeed in readings]
        return read(tmp_path, LINES + lines + table(HEADS, rows)).next_reading(**options)

    assert advised().work_rpm == pytest.approx(98)  # slower by at most 5 % of depth, 10 % of rpm
    assert advised(step_percent=5).work_rpm == pytest.approx(102)  # 5 % of nominal below 108
    assert advised(step_percent=5, nominal_rpm=100).work_rpm == pytest.approx(103)
    assert advised("nominal rpm;100\n", step_percent=5).work_rpm == pytest.approx(103)
    assert advised("nominal rpm;100\n", step_percent=5, nominal_rpm=120).work_rpm == pytest.approx(102)
    stopped = advised(damage_seen=True)
    assert stopped.stop and "burn, crack or wheel breakdown was seen" in stopped.reason
    bound = advised("lowest infeed rate;0.5\n")
    assert bound.work_rpm == pytest.approx(100) and bound.infeed_rate == pytest.approx(0.5)
    free = advised("lowest infeed rate;0.5\n", limits=gf.Limits())
    assert free.work_rpm == pytest.approx(98) and free.infeed_rate == pytest.approx(0.49)
    fast = "lowest infeed rate;0.53\n"  # nothing is left on the slow side
    assert advised(fast).reason.endswith("not slower, a limit of rpm, infeed or power is reached, or 40 % from nominal")
    assert advised(fast).infeed_rate == pytest.approx(0.72)  # depth goes with the root: 20 % of rpm for 10 %
    assert advised(f"{fast}highest infeed rate;0.68\n").work_rpm == pytest.approx(136)
    assert advised(f"{fast}highest work rpm;138\n").work_rpm == pytest.approx(138)
    assert advised(f"{fast}highest power;1.2\n").work_rpm == pytest.approx(140, abs=1)  # 0.5 kW idle, 0.6 kW net at 120 rpm
    with pytest.raises(
        ValueError, match=r"^trial.csv: highest_power must be > 0.5 kW, what the machine draws idle \(got 0.45\)$"
    ):
        advised("highest power;0.45\n")
    for noise in (4, 6):  # more than is seen in the repeats
        assert advised(f"noise;{noise}\n", NEAR_THE_SLOW_END).knee.noise == pytest.approx(noise / 100)


@pytest.mark.parametrize(
    "limit, is_second, half",
    [
        ({}, False, (80, 0.9)),
        ({"lowest_work_rpm": 90}, False, (90, 0.8)),
        ({"highest_infeed_rate": 0.8}, False, (90, 0.8)),
        ({"highest_power": 1.4}, False, (120 * 0.653 / 0.9, 0.6 * 0.9 / 0.653)),  # 0.784 kW net at 144 rpm, the first reading
        ({"highest_work_rpm": 160}, False, (80, 0.9)),
        ({}, True, (180, 0.4)),
        ({"lowest_infeed_rate": 0.45}, True, (160, 0.45)),
        ({"highest_work_rpm": 160}, True, (160, 0.45)),
        ({"lowest_work_rpm": 90}, True, (180, 0.4)),
    ],
)
def test_a_limit_brings_the_half_of_the_pair_nearer_that_it_forbids(tmp_path, limit, is_second, half):
    """Without limits 1.5 times: rpm and infeed go against one another, their product stays."""
    rows = [*NEAR_THE_SLOW_END, *([(80, 1.42, 0.9)] if is_second else [])]
    advice = of(tmp_path, rows).next_reading(replace(WIDE, **limit), nominal_rpm=120)
    assert (advice.work_rpm, advice.infeed_rate) == pytest.approx(half, rel=1e-3)
    assert advice.expected_more == (1 if is_second else 2)


def test_an_infeed_rate_that_is_rounded_stays_within_its_limit(tmp_path):
    rows = [(rpm, rpm / 200 + 0.5, rpm * 0.0050005) for rpm in (120, 132, 108)]
    highest = 136 * 0.0050005  # 0.680068; with four figures 0.6801
    advice = of(tmp_path, rows).next_reading(gf.Limits(lowest_work_rpm=107, highest_infeed_rate=highest))
    assert advice.infeed_rate == highest and advice.work_rpm == pytest.approx(136, abs=1)


def test_a_half_that_was_set_in_round_numbers_counts_as_read(tmp_path):
    """1.3 times is the least that counts as a half; 0.778 mm/min is that within 1 %."""
    again = of(tmp_path, [*NEAR_THE_SLOW_END, (92.5, 1.3, 0.778)]).next_reading(WIDE, nominal_rpm=120)
    assert (again.work_rpm, again.infeed_rate) == (pytest.approx(180), pytest.approx(0.4))
