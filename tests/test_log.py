"""Power logs: which parts are found, what is read of each, how sure that is, and what is refused.  All logs are simulated."""

from __future__ import annotations

import csv
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simulated_logs import KNEE_RPM, NO_GRINDING, RPMS, pattern, simulate

import gritfuncs as gf

SCENES = {
    "plain": {},
    "a fine stage": dict(fine=6.0),
    "a fine stage below the threshold": dict(fine=6.0, fine_share=0.2),
    "dressing": dict(strokes=3),
    "strong dressing": dict(strokes=3, stroke_share=1.4),
    "cycles without a part": dict(empty=(3, 8)),
    "an emergency stop": dict(stopped=5),
    "spindle switched": dict(spindle_off=True),
    "coolant switched": dict(coolant=0.25),
    "whole tenths without noise": dict(step=0.1, noise=0.01, wander=0.01),
    "drop-outs": dict(dropped=6),
    "a lag of 2.5 s": dict(lag=2.5, infeed=25.0),
    "short parts": dict(infeed=6.0, gap=8.0),
    "long spark-out": dict(spark_out=10.0, lag=1.2),
    "one row a second": dict(rate=1.0),
    "200 rows a second": dict(rate=200.0, infeed=10.0),
}


def read(log, **options):
    return gf.read_log(power=log.power, time=log.time, **options)


def off(log, read_as):
    """Error of each part over the truth, and what was stated."""
    assert len(read_as.parts) == len(log.nets), [stretch.word for stretch in read_as.stretches]
    nets, errors = np.array([(part.net, part.error) for part in read_as.parts]).T
    return nets / log.nets - 1, errors / log.nets


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("changes", [{}, dict(coolant=0.4), dict(fine=8.0)])
def test_noise_of_two_fifths_of_the_level_hides_no_part(changes, seed):
    log = simulate(seed=seed, noise=0.72, **changes)
    errors, stated = off(log, read(log))
    assert changes.get("coolant") or np.mean(abs(errors) < stated) > 0.75  # coolant of less than the noise is not seen to come on


@pytest.mark.parametrize("name", SCENES)
def test_every_part_is_found_and_read_within_what_is_stated(name):
    errors, stated = [], []
    for seed in (1, 2):
        log = simulate(seed=seed, **SCENES[name])
        read_as = read(log)
        assert not read_as.refusal
        for part, start in zip(read_as.parts, log.starts):
            assert abs(part.start - start) < 4 and part.start < part.steady_start < part.steady_end < part.end
        one, other = off(log, read_as)
        errors.append(one)
        stated.append(other)
    errors, stated = np.concatenate(errors), np.concatenate(stated)
    assert np.sqrt(np.mean(errors**2)) < 0.018
    assert abs(errors.mean()) < 0.008
    assert np.mean(np.abs(errors) < stated) > 0.65
    assert np.median(stated) < 0.08


def test_two_standard_errors_hold_the_truth_about_19_times_in_20():
    errors, stated = np.hstack([off(log := simulate(seed=seed, rpms=RPMS[:5]), read(log)) for seed in range(20, 28)])
    assert 0.85 < np.mean(np.abs(errors) < stated) <= 1
    assert 0.85 < np.mean((stated / 2) ** 2) ** 0.5 / np.std(errors) < 1.35  # nor are they wider than they must be


@pytest.mark.parametrize("lag", [0.4, 1.0, 2.5])
def test_the_lag_is_that_of_the_process(lag):
    assert read(simulate(lag=lag, infeed=25.0)).lag == pytest.approx(lag, rel=0.08)


def test_other_stretches_keep_a_word_and_a_reason():
    words = [stretch.word for stretch in read(simulate(strokes=3)).stretches]
    assert words.count("part") == 14 and words.count("short") == 12
    stopped = [stretch for stretch in read(simulate(stopped=5)).stretches if stretch.word != "part"]
    assert [stretch.word for stretch in stopped] == ["short"] and "stop" in stopped[0].why
    log = read(simulate(seed=2, empty=(3, 8)))
    assert [stretch.word for stretch in log.stretches if stretch.word != "part"] == ["touch", "touch"]
    assert [stretch.number for stretch in log.stretches] == list(range(1, len(log.stretches) + 1))
    assert all(stretch.why for stretch in log.stretches)


def test_of_a_slow_meter_idle_is_read_once_its_lag_is_over():
    """Behind a part power falls with the lag of 2.5 s (simulated): read too soon it would lift idle by 0.7 % of the level."""
    logs = [simulate(rpms=(120.0, 96.0, 144.0), lag=2.5, infeed=25.0, seed=seed) for seed in range(1, 5)]
    idles = [part.idle for log in logs for part in gf.read_log(power=log.power, time=log.time).parts]
    assert len(idles) == 24 and np.mean(idles) == pytest.approx(logs[0].scene.idle, abs=0.004 * logs[0].scene.net)


def test_the_coolants_step_is_idle_and_is_said():
    log = read(simulate(coolant=0.25))
    assert log.idle_step == pytest.approx(0.25, rel=0.2)
    assert any("coolant" in remark for remark in log.remarks)
    assert read(simulate()).idle_step == 0


def test_parts_at_the_end_of_the_meter_are_counted_and_not_read():
    simulated = simulate(ceiling=3.6)
    log = read(simulated)
    clipped = int((simulated.nets + 1.1 > 3.6).sum())
    assert [stretch.word for stretch in log.stretches].count("clipped") == clipped > 0
    assert len(log.parts) == 14 - clipped and {part.number for part in log.parts} < set(range(1, 15))
    trial = log.trial(RPMS, 2)
    assert trial.counts["excluded"] == clipped and len(trial.used) == 14 - clipped
    assert {reading.work_rpm for reading in trial.used} == {
        rpm for rpm, net in zip(np.repeat(RPMS, 2), simulated.nets) if net + 1.1 <= 3.6
    }


def test_a_quiet_meter_in_whole_steps_is_not_taken_for_clipped():
    log = read(simulate(step=0.1, noise=0.005, wander=0.0, scatter=0.0))
    assert [stretch.word for stretch in log.stretches] == ["part"] * 14
    assert all(part.error >= 2 * 0.1 * (2 / 12) ** 0.5 for part in log.parts)  # rounding of level and of idle


def test_a_hole_parts_the_log_and_the_part_beside_it_is_not_read():
    simulated = simulate()
    hole = (simulated.time > simulated.starts[4] + 5) & (simulated.time < simulated.starts[4] + 10)
    log = gf.read_log(power=simulated.power[~hole], time=simulated.time[~hole])
    assert len(log.holes) == 1 and log.holes[0][1] - log.holes[0][0] == pytest.approx(5, abs=0.3)
    assert len(log.parts) == 13 and any("missing" in remark for remark in log.remarks)
    assert log.refusal == ""


def test_a_contact_channel_cuts_where_there_is_one():
    simulated = simulate(strokes=3, stroke_share=1.0)
    log = gf.read_log(power=simulated.power, time=simulated.time, contact=simulated.contact)
    assert [stretch.word for stretch in log.stretches] == ["part"] * 14
    errors, _ = off(simulated, log)
    assert np.abs(errors).max() < 0.05


def test_a_contact_channel_tells_two_parts_from_what_is_none():
    simulated = simulate(rpms=RPMS[:1])
    log = gf.read_log(power=simulated.power, time=simulated.time, contact=simulated.contact)
    assert log.refusal == "" and len(log.parts) == 2
    assert "parts must be 3 or more" in gf.read_log(power=simulated.power, time=simulated.time).refusal


@pytest.mark.parametrize("tared", [0.0, 0.01])
def test_a_meter_that_is_zeroed_at_idle_is_read_over_it(tared):
    simulated = simulate()
    log = gf.read_log(power=simulated.power - 1.1 + tared, time=simulated.time, idle=0)
    errors, _ = off(simulated, log)
    assert np.abs(errors).max() < 0.05


@pytest.mark.parametrize("idle, net", [(None, 2.0), (0, 2.3), (0.1, 2.3), (-0.1, 2.3), (0.2, 2.0)])
def test_zero_before_a_low_start_is_a_standing_spindle_but_where_it_is_said_to_be_idle(idle, net):
    """Ten seconds at 0.3 before each part: a spindle that starts, or, on a meter that was zeroed at idle, a load over it."""
    piece = np.repeat([0.0, 0.3, 2.3, 0.3], [150, 100, 180, 30])
    power = np.concatenate((np.tile(piece, 8), np.zeros(150)))
    power += 0.02 * np.random.default_rng(1).standard_normal(len(power))
    log = gf.read_log(power=power, interval=0.1, idle=idle)
    assert [part.net for part in log.parts] == pytest.approx([net] * 8, rel=0.02)


class TestRefusals:
    @pytest.mark.parametrize("name", NO_GRINDING)
    def test_what_is_no_grinding_gives_no_readings(self, name, tmp_path):
        time, power = pattern(name)
        log = gf.read_log(power=power, time=time)
        assert log.parts == () and log.refusal.startswith("power must")
        with pytest.raises(ValueError, match="^arrays: power must [^\n]*$"):
            log.trial(RPMS, 2)
        log.picture(tmp_path / "picture.svg")
        assert not any(stretch.word == "part" for stretch in log.stretches)
        assert "No readings" in log.report()

    @pytest.mark.parametrize(
        "scene", [dict(lag=3.0, infeed=14.0, gap=16.0), dict(lag=0.3, coolant=0.4), dict(rate=1.0, infeed=8.0)]
    )
    def test_a_slow_rise_of_grinding_is_no_slow_wave(self, scene):
        assert read(simulate(seed=31, **scene)).refusal == ""

    def test_a_contact_channel_says_that_a_slow_wave_is_grinding(self):
        time, power = pattern("slow sine")
        log = gf.read_log(power=power, time=time, contact=power > 1.5)
        assert "slow wave" not in log.refusal

    def test_a_spindle_that_is_only_switched_names_the_way_on(self):
        time, power = pattern("spindle on and off")
        assert "idle=0" in gf.read_log(power=power, time=time).refusal

    def test_fewer_than_three_parts_need_the_infeed_time(self):
        simulated = simulate(rpms=(120.0,))
        assert "infeed_time" in read(simulated).refusal
        assert read(simulated, infeed_time=18).refusal == "" and len(read(simulated, infeed_time=18).parts) == 2

    def test_the_infeed_time_must_fit(self):
        assert "infeed time" in read(simulate(), infeed_time=120).refusal

    @pytest.mark.parametrize(
        "options, text",
        [
            (dict(power=[1.0] * 5, interval=0.1), "power must have at least 20 values"),
            (dict(power=[1.0] * 50), "interval must be known"),
            (dict(power=["x"] * 50, interval=0.1), "power must be numbers"),
            (dict(power=[1.0] * 50, time=[0.1] * 50), "time must grow"),
            (dict(power=[1.0] * 50, time=list(range(49))), "time must have as many values as power, 50"),
            (dict(power=[1.0] * 50, time=[*range(40), *range(10)]), r"time must grow \(got 0 after 39 s in value 41\)"),
            (dict(power=[float("nan")] * 50, interval=0.1), "power must have numbers"),
            (dict(power=[1.0] * 50, interval=0), "interval must be > 0 s"),
            (dict(power=[1.0] * 50, interval=0.1, idle="x"), "idle must be a number"),
            (dict(power=[1.0] * 50, interval=0.1, load_kind="kW"), "load_kind must be power, current, relative"),
            (dict(power=[1.0] * 50, interval=0.1, between="5"), "between must be two times"),
            (dict(power=[1.0] * 50, interval=0.1, between=(9, 3)), "between must be from an earlier"),
            (dict(time=[1.0] * 50), "power must be given"),
        ],
    )
    def test_bad_input_is_one_line(self, options, text):
        with pytest.raises(ValueError, match=text) as caught:
            gf.read_log(**options)
        assert "\n" not in str(caught.value)


class TestSteps:
    LOG = read(simulate(pause=30.0))

    def test_the_trial_gives_the_knee(self):
        trial = self.LOG.trial(RPMS, 2)
        assert trial.counts["used"] == 14 and trial.load_kind == "power"
        assert trial.knee.verdict == "found"
        assert trial.knee_rpm == pytest.approx(KNEE_RPM, rel=0.1)
        assert "part 3" in trial.used[2].note and "±" in trial.used[2].note
        assert trial.source == "arrays"

    def test_a_plan_counts_as_its_work_rpm(self):
        plan = gf.plan_trial(120, steps_each_side=3)
        rpms = [reading.work_rpm for reading in plan if reading.work_rpm][:7]
        assert [r.work_rpm for r in self.LOG.trial(plan[:7], 2).used] == [r.work_rpm for r in self.LOG.trial(rpms, 2).used]

    def test_counts_that_differ_are_refused_with_the_long_gaps(self):
        with pytest.raises(ValueError) as caught:
            self.LOG.trial(RPMS, 3)
        text = str(caught.value)
        assert "parts must be 21, 7 steps of 3 (got 14; longest gaps after parts 2, 4, 6, 8, 10, 12)" in text
        assert "--parts) 2,2,2,2,2,2,2" in text and "--not" in text

    def test_parts_that_are_none_are_left_out_and_nothing_moves(self):
        trial = self.LOG.trial(RPMS, [2, 1, 2, 2, 2, 2, 2], leave_out=[3])
        assert [reading.work_rpm for reading in trial.used][:4] == [120, 120, 132, 108]
        assert trial.counts["excluded"] == 1 and len(trial.readings) == 14

    def test_each_row_of_the_readings_says_where_it_is_from(self, tmp_path):
        self.LOG.write_readings(tmp_path / "a.csv", RPMS, [2, 1, 2, 2, 2, 2, 2], leave_out=[3])
        rows = list(csv.reader((tmp_path / "a.csv").read_text(encoding="utf-8").splitlines()))
        assert rows[:2] == [
            ["# Readings of arrays. Errors behind ± are 2 standard errors."],
            ["work rpm [1/min]", "power [kW]", "idle", "use?", "note"],
        ]
        assert len(rows) == 16
        for number, (row, part) in enumerate(zip(rows[2:], self.LOG.parts), 1):
            when = f"{part.start // 60:.0f}:{round(part.start % 60, 1):04.1f}"
            load = [f"{part.level:.7g}", f"{part.idle:.7g}"]
            note = f"part {number}, {when}, ± {part.error:.2g}"
            rpm = f"{[120, 120, None, *np.repeat(RPMS, 2)[3:]][number - 1]:g}" if number != 3 else ""
            assert row == ([rpm, *load, "yes", note] if number != 3 else ["", *load, "no", f"part 3, {when}: said to be none"])

    CLIPPED = replace(
        LOG,
        parts=tuple(part for part in LOG.parts if part.number != 5),
        stretches=tuple(replace(each, word="clipped") if each.number == 5 else each for each in LOG.stretches),
    )

    @pytest.mark.parametrize("side", ["external", "flat", "internal"])
    @pytest.mark.parametrize("kind", ["power", "current", "relative"])
    @pytest.mark.parametrize("mean", [False, True])
    def test_the_whole_file_of_readings(self, mean, kind, side, tmp_path):
        """Part 3 is said to be none, part 5 cannot be read."""
        setup = gf.Setup(40, 0.6, 25, 30 if side == "internal" else 200, side, 20.5, 10, 15 if mean else None)
        log = replace(self.CLIPPED, load_kind=kind)
        log.write_readings(tmp_path / "a.csv", RPMS, [2, 1, 2, 2, 2, 2, 2], [3], mean_of_step=mean, setup=setup)
        assert (tmp_path / "a.csv").read_bytes().count(b"\r") == 0
        rows = list(csv.reader((tmp_path / "a.csv").read_text(encoding="utf-8").splitlines()))
        given = [
            ["# Readings of arrays. Errors behind ± are 2 standard errors."],
            ["work_diameter", "40", "mm"],
            ["infeed_rate", "0.6", "mm/min"],
            ["wheel_speed", "25", "m/s"],
            ["wheel_diameter", "30" if side == "internal" else "200", "mm"],
            ["side", side],
            ["grit_density", "20.5", "1/mm²"],
            ["shape_ratio", "10", "-"],
            *([["contact_width", "15", "mm"]] if mean else []),
            *([["load_kind", "relative"]] if kind == "relative" else []),
        ]
        head = {"power": "power [kW]", "current": "current [A]", "relative": "load"}[kind]
        assert rows[: len(given) + 1] == [*given, ["work rpm [1/min]", head, "idle", "use?", "note"]]
        parts = {part.number: part for part in self.LOG.parts}
        when = {number: f"{part.start // 60:.0f}:{round(part.start % 60, 1):04.1f}" for number, part in parts.items()}
        three = [f"{parts[3].level:.7g}", f"{parts[3].idle:.7g}"]
        expected = []
        for rpm, numbers in zip(RPMS, ([1, 2], [3, 4], [5, 6], [7, 8], [9, 10], [11, 12], [13, 14])):
            read = [parts[number] for number in numbers if number not in (3, 5)]
            if 3 in numbers:
                expected.append(["", *three, "no", f"part 3, {when[3]}: said to be none"])
            if 5 in numbers:
                expected.append([f"{rpm:g}", "", "", "no", f"part 5, {when[5]}: clipped"])
            if mean:
                level, idle = (sum(getattr(part, name) for part in read) / len(read) for name in ("level", "idle"))
                error = sum(part.error**2 for part in read) ** 0.5 / len(read)
                note = f"mean of parts {', '.join(str(part.number) for part in read)}, ± {error:.2g}"
                expected.append([f"{rpm:g}", f"{level:.7g}", f"{idle:.7g}", "yes", note])
            else:
                for part in read:
                    note = f"part {part.number}, {when[part.number]}, ± {part.error:.2g}"
                    expected.append([f"{rpm:g}", f"{part.level:.7g}", f"{part.idle:.7g}", "yes", note])
        assert rows[len(given) + 1 :] == expected
        trial = log.trial(RPMS, [2, 1, 2, 2, 2, 2, 2], [3], mean_of_step=mean, setup=setup)
        assert trial.setup == setup and trial.load_kind == kind and trial.source == "arrays"
        assert [reading.note for reading in trial.readings] == [row[-1] for row in expected]

    def test_the_trial_says_what_the_log_said_and_then_what_its_steps_show(self):
        parts = tuple(replace(part, net=part.net + 2 * (part.number == 4), error=0.5) for part in self.LOG.parts)
        said = replace(self.LOG, parts=parts, remarks=("one", "two")).trial(RPMS, 2).remarks
        assert said[-3:-1] == ("one", "two") and said[-1].startswith("Parts 3, 4 of one step differ by ")
        assert said[-1].endswith(
            ", more than 3 times their error: scatter from part to part, or the steps do not lie where the plan has them."
        )

    def test_the_larger_error_of_two_parts_says_how_far_they_may_differ(self):
        parts = tuple(
            replace(part, net=2.0 + 0.25 * (part.number == 4), error=0.1 if part.number % 2 else 0.01) for part in self.LOG.parts
        )
        assert not any("of one step" in remark for remark in replace(self.LOG, parts=parts).trial(RPMS, 2).remarks)
        left_out = replace(self.LOG, parts=tuple(replace(part, net=2.0 + 9 * (part.number == 4)) for part in parts))
        remarks = left_out.trial(RPMS, [2, 1, 2, 2, 2, 2, 2], [4]).remarks
        assert not any("of one step" in remark for remark in remarks)  # a part that is none differs from nothing

    @pytest.mark.parametrize(
        "steps, text",
        [
            ((RPMS[:3], [2, 1, 2]), "parts must be 5, steps of 2, 1, 2 (got 14; longest gaps after parts 2, 4, 6, 8, 10, 12)"),
            ((RPMS[:3], 2), "look at the picture; say parts_per_step (--parts) 2,2,2,..., or leave_out (--not) for a stretch that is no"),
            ((RPMS, 2, [1, 2]), "parts must be 14, 7 steps of 2 (got 12; longest gaps after parts 4, 6, 8, 10, 12)"),
            ((RPMS, 2, [3, 99, 50]), "leave_out must be numbers of parts, 1 to 14 (got 50)"),
            ((RPMS, 2, [0]), "leave_out must be numbers of parts, 1 to 14 (got 0)"),
            ((None, 2), "work_rpms must be given with parts_per_step (got none)"),
            (([], 2), "work_rpms must have at least one work rpm (got none)"),
            (([None], 2), "work_rpms must have at least one work rpm (got none)"),
            ((RPMS, []), "parts_per_step must be whole numbers >= 0 (got [])"),
            ((120, 2), "work_rpms must be a list of work rpm or a plan (got 120)"),
        ],
    )  # fmt: skip
    def test_steps_that_do_not_fit_are_told_with_both_numbers(self, steps, text, tmp_path):
        with pytest.raises(ValueError) as caught:
            self.LOG.write_readings(tmp_path / "a.csv", *steps)
        assert str(caught.value).startswith("arrays: ") and text in str(caught.value) and not list(tmp_path.iterdir())

    def test_rows_of_a_plan_without_an_rpm_are_no_step(self):
        assert [reading.work_rpm for reading in self.LOG.trial([None, *RPMS, None], 2).used] == list(np.repeat(RPMS, 2))

    @pytest.mark.parametrize("kind, unit", [("power", "kW"), ("current", "A"), ("relative", "")])
    @pytest.mark.parametrize("clock", ["", "2026-03-04 10:00:00"])
    def test_the_head_of_the_report_and_its_units(self, kind, unit, clock):
        log = replace(self.LOG, load_kind=kind, clock=clock, remarks=("one", "two"), duration=754.4)
        lines = log.report().splitlines()
        assert lines[:2] == ["Power log: arrays", f"{log.trace.rows} rows over 12 min 34 s{', from ' * bool(clock)}{clock}"]
        assert lines[2:6] == [
            "    one",
            "    two",
            "[[Stretches]] 14 above idle",
            f"[[Parts]] 14, of which 14 can be read; lag {log.lag:.2g} s",
        ]
        assert lines[7].split() == [*[unit] * 3 * bool(unit), "1/min"]
        assert lines[-1] == "    ± is two standard errors of net; slope is the change over the steady stretch."
        refused = replace(log, refusal="power must be another").report().splitlines()
        assert refused[:5] == lines[:5] and refused[5:] == ["No readings: power must be another"]

    def test_the_report_has_a_line_for_each_part(self):
        text = replace(self.LOG, parts=tuple(replace(part, work_rpm=132.0) for part in self.LOG.parts[:1]) + self.LOG.parts[1:])
        lines = text.report().partition("[[Parts]]")[2].splitlines()
        assert lines[1].split() == ["part", "at", "net", "±", "idle", "slope,", "%", "work", "rpm"]
        assert lines[2].split() == ["kW", "kW", "kW", "1/min"] and len(lines) == 1 + 2 + 14 + 1
        for line, part in zip(lines[3:], self.LOG.parts):
            _, *cells, rpm = line.split()
            assert cells[1:] == [f"{part.net:.4g}", f"{part.error:.2g}", f"{part.idle:.4g}", f"{100 * part.slope:+.1f}"]
            assert rpm == ("132" if part.number == 1 else "-") and len(line) <= 4 + 7 * 11

    def test_the_mean_of_a_step(self):
        trial = self.LOG.trial(RPMS, 2, mean_of_step=True)
        assert [reading.work_rpm for reading in trial.used] == list(RPMS)
        pair = self.LOG.parts[:2]
        assert trial.used[0].load == pytest.approx((pair[0].level + pair[1].level) / 2, rel=1e-6)

    def test_where_no_steps_are_said_each_part_is_a_reading(self):
        simulated = simulate()
        log = gf.read_log(power=simulated.power, time=simulated.time, rpm=simulated.rpm)
        trial = log.trial(mean_of_step=True)
        assert [reading.work_rpm for reading in trial.used] == pytest.approx([rpm for rpm in RPMS for _ in range(2)])

    def test_the_error_of_a_mean_is_that_of_its_parts_over_the_root_of_their_number(self):
        parts = tuple(replace(part, error=0.03 if part.number % 2 else 0.04) for part in self.LOG.parts)
        trial = replace(self.LOG, parts=parts).trial(RPMS, 2, mean_of_step=True)
        assert trial.used[0].note == "mean of parts 1, 2, ± 0.025"

    @pytest.mark.parametrize("apart, is_said", [(2.5, False), (3.5, True)])
    def test_parts_of_one_step_that_differ_by_more_than_three_errors_are_named(self, apart, is_said):
        parts = tuple(replace(part, net=2.0 + (apart * 0.1 if part.number == 4 else 0), error=0.1) for part in self.LOG.parts)
        said = [remark for remark in replace(self.LOG, parts=parts).trial(RPMS, 2).remarks if "of one step differ" in remark]
        assert len(said) == is_said
        assert not said or said[0].startswith("Parts 3, 4 of one step differ by 0.35, more than 3 times their error:")

    @pytest.mark.parametrize(
        "arguments, text",
        [
            ((), "work_rpms must be given, one a step"),
            ((RPMS, [2, 2]), "parts_per_step must be one number or one a step, 7"),
            ((RPMS, 0.5), "parts_per_step must be whole numbers"),
            ((RPMS, -1), "parts_per_step must be whole numbers >= 0"),
            ((RPMS, 2, [99]), "leave_out must be numbers of parts, 1 to 14"),
            ((RPMS, 2, range(1, 15)), "parts must be 14, 7 steps of 2 .got 0."),
            (([-3] * 7, 2), "work_rpm must be > 0"),
            ((120, 2), "work_rpms must be a list"),
        ],
    )
    def test_bad_steps_are_one_line(self, arguments, text):
        with pytest.raises(ValueError, match=text) as caught:
            self.LOG.trial(*arguments)
        assert "\n" not in str(caught.value)

    def test_a_setup_gives_depth_and_energy(self, tmp_path):
        setup = gf.Setup(20, 0.6, 25, 200, "external", 20, 10, 15)
        trial = self.LOG.trial(RPMS, 2, setup=setup)
        assert (trial.depth_unit, trial.energy_unit) == ("µm", "J/mm³") and trial.setup == setup
        path = tmp_path / "readings.csv"
        self.LOG.write_readings(path, RPMS, 2, setup=setup)
        read_back = gf.read_trial(path)
        assert (read_back.depths, read_back.energies, read_back.setup) == (trial.depths, trial.energies, trial.setup)
        with pytest.raises(ValueError, match="must not exist yet"):
            self.LOG.write_readings(path, RPMS, 2)

    @pytest.mark.parametrize("kind", ["power", "current", "relative"])
    def test_the_kind_of_load_travels(self, kind, tmp_path):
        log = read(simulate(), load_kind=kind)
        log.write_readings(tmp_path / "a.csv", RPMS, 2)
        assert gf.read_trial(tmp_path / "a.csv").load_kind == log.trial(RPMS, 2).load_kind == kind

    def test_without_any_rpm_the_column_is_left_to_be_typed(self, tmp_path):
        self.LOG.write_readings(tmp_path / "a.csv")
        trial = gf.read_trial(tmp_path / "a.csv")
        assert len(trial.readings) == 14 and not trial.used


class TestRpmChannel:
    def test_it_gives_the_work_rpm(self):
        simulated = simulate()
        log = gf.read_log(power=simulated.power, time=simulated.time, rpm=simulated.rpm)
        assert [part.work_rpm for part in log.parts] == list(np.repeat(RPMS, 2))
        assert [reading.work_rpm for reading in log.trial().used] == list(np.repeat(RPMS, 2))

    def test_an_rpm_that_changes_within_a_part_is_named_and_left_out(self):
        simulated = simulate()
        rpm = simulated.rpm.copy()
        rpm[simulated.time > simulated.starts[6] + 9] += 12
        log = gf.read_log(power=simulated.power, time=simulated.time, rpm=rpm)
        assert any("within part 7 (96 to 108)" in remark or "within part 7 (144 to 156)" in remark for remark in log.remarks)
        assert log.parts[6].work_rpm is None and log.trial().counts["excluded"] == 1

    def test_a_part_that_is_said_to_be_none_has_no_work_rpm(self, tmp_path):
        simulated = simulate(rpms=RPMS[:3])
        log = gf.read_log(power=simulated.power, time=simulated.time, rpm=simulated.rpm)
        log.write_readings(tmp_path / "a.csv", leave_out=[2])
        rows = list(csv.reader((tmp_path / "a.csv").read_text(encoding="utf-8").splitlines()))[2:]
        assert [(row[0], row[3]) for row in rows] == [
            (f"{rpm:g}", "yes") if number != 2 else ("", "no") for number, rpm in enumerate(np.repeat(RPMS[:3], 2), 1)
        ]

    def test_with_a_plan_too_a_part_within_which_it_changes_is_left_out(self, tmp_path):
        simulated = simulate(rpms=RPMS[:3])
        rpm = simulated.rpm.copy()
        rpm[(simulated.time > simulated.starts[2] + 9) & (simulated.time < simulated.starts[3] - 5)] += 12
        log = gf.read_log(power=simulated.power, time=simulated.time, rpm=rpm)
        log.write_readings(tmp_path / "a.csv", RPMS[:3], 2)
        rows = list(csv.reader((tmp_path / "a.csv").read_text(encoding="utf-8").splitlines()))[2:]
        assert [row[0] for row in rows] == [f"{rpm:g}" for rpm in np.repeat(RPMS[:3], 2)]
        assert [row[3] for row in rows] == ["yes", "yes", "no", "yes", "yes", "yes"]
        part, when = log.parts[2], f"{log.parts[2].start // 60:.0f}:{round(log.parts[2].start % 60, 1):04.1f}"
        assert rows[2][1:] == [f"{part.level:.7g}", f"{part.idle:.7g}", "no", f"part 3, {when}: work rpm changes within it"]
        assert log.trial(parts_per_step=2).counts["excluded"] == 1  # the channel says the steps
        used = log.trial(RPMS[:3], 2, mean_of_step=True).used
        assert [reading.work_rpm for reading in used] == list(RPMS[:3])
        assert [reading.note.partition(", ±")[0] for reading in used] == [
            "mean of parts 1, 2",
            "mean of parts 4",
            "mean of parts 5, 6",
        ]

    def test_a_plan_that_it_contradicts_is_refused(self):
        simulated = simulate()
        log = gf.read_log(power=simulated.power, time=simulated.time, rpm=simulated.rpm)
        assert len(log.trial(RPMS, 2).used) == 14
        with pytest.raises(ValueError, match="work rpm of part 3 must be within 3 % of its step in the plan, 140 1/min"):
            log.trial((120, 140, *RPMS[2:]), 2)

    @pytest.mark.parametrize("off, is_taken", [(0.029, True), (-0.029, True), (0.031, False), (-0.031, False)])
    def test_three_percent_are_no_contradiction(self, off, is_taken):
        simulated = simulate(rpms=RPMS[:3])
        log = gf.read_log(power=simulated.power, time=simulated.time, rpm=simulated.rpm * (1 + off))
        if is_taken:
            assert [reading.work_rpm for reading in log.trial(RPMS[:3], 2).used] == list(np.repeat(RPMS[:3], 2))
        else:
            with pytest.raises(ValueError, match="work rpm of part 1 must be within 3 % of its step in the plan"):
                log.trial(RPMS[:3], 2)

    def test_the_rpm_of_the_wheel_is_told_by_its_never_changing(self):
        simulated = simulate()
        log = gf.read_log(power=simulated.power, time=simulated.time, rpm=np.full(len(simulated.time), 2400.0))
        assert any("is it the wheel's" in remark for remark in log.remarks)


class TestProperties:
    PLAIN = simulate(rpms=RPMS[:3])

    @given(factor=st.floats(1e-3, 1e4), shift=st.floats(-1e5, 1e5))
    @settings(max_examples=12, deadline=None)
    def test_the_unit_of_power_and_the_beginning_of_time_change_nothing(self, factor, shift):
        plain = read(self.PLAIN)
        log = gf.read_log(power=self.PLAIN.power * factor, time=self.PLAIN.time + shift)
        assert [part.net for part in log.parts] == pytest.approx([part.net * factor for part in plain.parts], rel=2e-3)
        assert [part.start for part in log.parts] == pytest.approx([part.start + shift for part in plain.parts], abs=0.11)

    @given(offset=st.floats(0.2, 50))
    @settings(max_examples=8, deadline=None)
    def test_an_offset_changes_idle_and_nothing_else(self, offset):
        plain = read(self.PLAIN)
        log = gf.read_log(power=self.PLAIN.power + offset, time=self.PLAIN.time)
        assert [part.net for part in log.parts] == pytest.approx([part.net for part in plain.parts], rel=5e-3)
        assert [part.idle for part in log.parts] == pytest.approx([part.idle + offset for part in plain.parts], rel=5e-3)

    @given(cut=st.integers(300, 2000))
    @settings(max_examples=8, deadline=None)
    def test_uneven_time_and_a_missing_row_now_and_then_change_little(self, cut):
        keep = np.arange(len(self.PLAIN.time)) % cut != cut // 2
        jitter = 0.02 * np.random.default_rng(cut).uniform(-1, 1, len(keep))
        log = gf.read_log(power=self.PLAIN.power[keep], time=(self.PLAIN.time + jitter)[keep])
        assert [part.net for part in log.parts] == pytest.approx([part.net for part in read(self.PLAIN).parts], rel=0.02)

    def test_a_log_of_changes_holds_each_value(self):
        simulated = simulate(step=0.1, noise=0.02)
        kept = np.concatenate(([True], np.diff(simulated.power) != 0))
        log = gf.read_log(power=simulated.power[kept], time=simulated.time[kept])
        errors, _ = off(simulated, log)
        assert np.abs(errors).max() < 0.05 and any("log of changes" in remark for remark in log.remarks)

    def test_between_reads_a_piece(self):
        simulated = simulate()
        log = read(simulated, between=(0, float(simulated.starts[6] - 3)))
        assert len(log.parts) == 6
        assert (
            len(
                read(
                    simulated, between=f"0:00-{int(simulated.starts[6] - 3) // 60}:{int(simulated.starts[6] - 3) % 60:02d}"
                ).parts
            )
            == 6
        )

    def test_moments_of_numpy_count_as_time(self):
        moments = np.datetime64("2026-03-04T06:00:00") + (self.PLAIN.time * 1e6).astype("timedelta64[us]")
        log = gf.read_log(power=self.PLAIN.power, time=moments)
        assert len(log.parts) == 6 and log.clock.startswith("2026-03-04 06:00")


@pytest.mark.parametrize("idle, said", [(40.0, "cannot show a knee"), (9.0, "where scatter is small"), (1.1, "can show a knee.")])
def test_how_far_grinding_lifts_the_reading_is_said_with_what_it_can_show(idle, said):
    log = read(simulate(idle=idle, noise=0.02, rpms=RPMS[:2]), load_kind="current")
    (remark,) = [remark for remark in log.remarks if "over idle when grinding" in remark]
    rise = 100 * np.median([part.net / part.idle for part in log.parts])
    assert remark.startswith(f"Your current rises by {rise:.3g} %") and said in remark


def test_of_a_meter_zeroed_at_idle_no_rise_is_said():
    simulated = simulate(rpms=RPMS[:2])
    log = gf.read_log(power=simulated.power - 1.1, time=simulated.time, idle=0)
    assert log.parts and not any("over idle when grinding" in remark for remark in log.remarks)
