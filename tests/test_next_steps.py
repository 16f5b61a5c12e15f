"""Trials taken reading by reading with rpm and infeed stepped together: what is set, where it ends, and the pair before it stops."""

from __future__ import annotations

import random

import pytest
from test_trial_own_settings import LINES, net_power, read, table

import gritfuncs as gf
from gritfuncs.cli import main

HEADS = ("rpm", "power", "idle", "infeed rate")


def played(folder, limits, wrong_idle=0.0, scatter=0.005, nominal=120.0, seed=1):
    """A trial by the advice alone, from nominal: every reading (rpm, infeed), and the advice that stopped it."""
    draw, rows, taken = random.Random(seed), [], [(nominal, 0.6)]
    for _ in range(30):
        rpm, infeed = taken[-1]
        power = net_power(rpm, infeed_rate=infeed) * (1 + scatter * draw.gauss(0, 1))
        rows.append((rpm, power + 0.5, 0.5 - wrong_idle * net_power(120), infeed))
        trial = read(folder, LINES + table(HEADS, rows))
        advice = trial.next_reading(limits, steps="rpm and infeed", nominal_rpm=nominal)
        if advice.stop:
            return taken, advice, trial
        taken.append((advice.work_rpm, advice.infeed_rate))
    raise AssertionError("no end")


@pytest.mark.parametrize("wrong_idle", [0.0, 0.2])
def test_the_pair_comes_before_the_stop_and_the_knee_is_right_whatever_idle(tmp_path, wrong_idle):
    limits = gf.Limits(lowest_work_rpm=20, highest_work_rpm=400, lowest_infeed_rate=0.1, highest_infeed_rate=2)
    taken, advice, trial = played(tmp_path, limits, wrong_idle)
    assert advice.reason.startswith("knee found") and trial.knee.offset is not None
    assert trial.knee_rpm == pytest.approx(118, rel=0.12)
    pair = [(rpm, infeed) for rpm, infeed in taken if abs(infeed / rpm / 0.005 - 1) > 0.1]
    assert pair == [pytest.approx((80, 0.9)), pytest.approx((180, 0.4))]
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


def test_without_room_for_the_pair_it_is_said(tmp_path):
    taken, advice, _ = played(tmp_path, gf.Limits(highest_infeed_rate=0.75))
    assert max(infeed for _, infeed in taken) <= 0.75
    assert not advice.reason.startswith("knee found") or "no room for the pair" in advice.reason


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
