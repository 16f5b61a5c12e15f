"""The knee from one part, while whose infeed the work rpm is swept.  All logs are simulated; nothing of it was tried on a machine."""

from __future__ import annotations

import numpy as np
import pytest
from simulated_logs import swept

import gritfuncs as gf
from gritfuncs.cli import main
from gritfuncs.trial.log.result import SweptPart
from gritfuncs.trial.log.sweep import _errors, _lagged, _shares, refusal, remark
from gritfuncs.trial.log.sweep_plan import SAID, sweep_points

POINTS, INFEED = (48.0, 192.0, 48.0, 192.0, 48.0), 44.0
KNEE_RPM = 105.0


def read(seed, points=POINTS, infeed=INFEED, **changes):
    time, power, rpm = swept(seed, points, infeed, KNEE_RPM, **changes)
    has_channel = changes.pop("has_channel", False)
    return gf.read_log(power=power, time=time, rpm=rpm if has_channel else None, infeed_time=infeed, sweep=points)


def judged(log):
    """Whether a knee is found, its error, and whether the interval holds the truth; depth is the fourth root of rpm."""
    knee = log.trial().knee
    true = (KNEE_RPM / 100) ** 0.25
    unit = log.trial().depths[0] / (log.trial().used[0].work_rpm / 100) ** 0.25
    if knee.verdict != "found":
        return False, None, None
    return True, knee.knee / unit / true - 1, knee.low / unit <= true <= knee.high / unit


@pytest.mark.parametrize("fall", [0.5, 0.25])
def test_the_knee_is_found_within_an_interval_that_covers(fall):
    """Over 200 fresh logs each: docs/power-log.md."""
    answers = [judged(read(seed, fall=fall)) for seed in range(10)]
    found = [answer for answer in answers if answer[0]]
    assert len(found) >= (9 if fall == 0.5 else 5)
    assert np.mean([covered for *_, covered in found]) >= 0.8
    assert np.percentile(np.abs([off for _, off, _ in found]), 90) < (0.02 if fall == 0.5 else 0.04)


@pytest.mark.parametrize("shape", ["level", "straight", "power law"])
def test_what_has_no_knee_gives_none(shape):
    assert sum(judged(read(seed, shape=shape))[0] for seed in range(6)) <= 1


def test_the_lag_is_that_of_the_process_and_a_late_start_of_the_sweep_is_taken_back():
    for late in (0.0, 1.5):
        (part,) = read(3, late=late).swept
        assert part.lag == pytest.approx(0.8, rel=0.4)
        truth = 2.0 * (1 + 0.5 * np.maximum(0, 1 - (np.array(part.work_rpms) / KNEE_RPM) ** 0.25) / (1 - (48 / KNEE_RPM) ** 0.25))
        assert np.array(part.nets) == pytest.approx(truth, rel=0.04)


@pytest.mark.parametrize("changes, least", [(dict(slow=0.0, drift=0.0, bowl=0.0), 0.85), (dict(), 0.6)])
def test_two_standard_errors_hold_the_true_load_of_most_rpm(changes, least):
    """Over 30 logs: docs/power-log.md."""
    inside = []
    for seed in range(6):
        (part,) = read(seed, shape="level", noise=0.05, **changes).swept
        inside += [abs(net - 2.0) <= error for net, error in zip(part.nets, part.errors)]
        assert max(part.errors) < 0.5  # they are no excuse: 2 is the load
    assert np.mean(inside) >= least


def test_every_output_says_that_it_is_simulated_only(tmp_path):
    log = read(1)
    log.write_readings(tmp_path / "readings.csv")
    log.picture(tmp_path / "log.svg")
    for text in (log.report(), *(path.read_text(encoding="utf-8") for path in tmp_path.iterdir()), " ".join(log.trial().remarks)):
        assert SAID in text
    assert len(gf.read_trial(tmp_path / "readings.csv").used) == len(log.swept[0].work_rpms)
    with pytest.raises(ValueError, match="work_rpms must be left out where the rpm was swept"):
        log.trial([120.0])


@pytest.mark.parametrize("kind, unit", [("power", "kW"), ("current", "A"), ("relative", "")])
def test_report_and_readings_hold_every_rpm_of_the_part(kind, unit, tmp_path):
    time, power, _ = swept(1, POINTS, INFEED, KNEE_RPM)
    log = gf.read_log(power=power, time=time, infeed_time=INFEED, sweep=POINTS, load_kind=kind)
    (part,) = log.swept
    head, names, units, *rows, last = log.report().partition("[[Part ")[2].splitlines()
    assert head == f"1, swept: {SAID}]] lag {part.lag:.2g} s; idle {part.idle:.4g} {unit}"
    assert names.split() == ["work", "rpm", "net", "±"] and units.split() == ["1/min", *[unit] * 2 * bool(unit)]
    assert [row.split() for row in rows] == [
        [f"{rpm:.4g}", f"{net:.4g}", f"{error:.2g}"] for rpm, net, error in zip(part.work_rpms, part.nets, part.errors)
    ]
    assert len(rows) == 11 and last.startswith("    ± is two standard errors of net by the fit")
    log.write_readings(tmp_path / "readings.csv")
    used = gf.read_trial(tmp_path / "readings.csv").used
    assert [each.work_rpm for each in used] == pytest.approx(part.work_rpms, rel=1e-6)
    assert [each.load for each in used] == pytest.approx([part.idle + net for net in part.nets], rel=1e-6)
    assert [each.note for each in used] == [f"part 1, swept, ± {error:.2g}; {SAID}" for error in part.errors]


def test_a_part_of_a_sweep_that_is_none_is_not_handed_on(tmp_path):
    halves = [swept(seed, POINTS, INFEED, KNEE_RPM) for seed in (1, 2)]
    power = np.concatenate([power for _, power, _ in halves])
    log = gf.read_log(power=power, interval=halves[0][0][1], infeed_time=INFEED, sweep=POINTS)
    assert [part.number for part in log.swept] == [1, 2]
    for leave_out in ((), (1,), (2,)):
        path = tmp_path / f"{len(leave_out)}{sum(leave_out)}.csv"
        log.write_readings(path, leave_out=leave_out)
        numbers = {int(each.note.split()[1].rstrip(",")) for each in gf.read_trial(path).used}
        assert numbers == {1, 2} - set(leave_out)


def test_too_much_lag_for_the_infeed_is_refused():
    log = read(1, lag=2.5)
    assert "infeed must last 40 lags" in log.refusal
    with pytest.raises(ValueError, match="40 lags"):
        log.trial()


@pytest.mark.parametrize(
    "options, said",
    [
        (dict(sweep=(60, 180)), "turning points"),
        (dict(sweep=(60, 180, 70)), "turning points"),
        (dict(sweep=(60, -5, 60)), "turning points"),
        (dict(sweep=60), "turning points"),
        (dict(sweep=(60, 180, 60), infeed_time=8), "legs of 5 s and 5 turns"),
        (dict(sweep=(6, 18, 6)), "legs of 5 s and 5 turns"),
        (dict(sweep=(60, 180, 60), infeed_time=None), "infeed_time must be given with sweep"),
    ],
)
def test_a_sweep_that_cannot_be_read_is_one_line(options, said):
    with pytest.raises(ValueError, match=said) as caught:
        gf.read_log(**{"power": [1.0] * 50, "interval": 0.1, "infeed_time": 40, **options})
    assert "\n" not in str(caught.value)


def test_a_plan_keeps_the_conditions():
    for lag in (0.2, 0.8, 2.0):
        for lowest, highest in ((10.0, 30.0), (60.0, 180.0)):
            points, infeed = sweep_points(lowest, highest, lag)
            leg = infeed / (len(points) - 1)
            assert infeed >= 40 * lag * 0.999 and leg >= max(5, 10 * lag) and leg * (lowest + highest) / 120 >= 4.999


def test_the_commands(tmp_path, capsys):
    assert main(["plan", "--nominal-rpm", "120", "--sweep", "0.8"]) == 0
    shown = capsys.readouterr().out
    assert SAID in shown and "--sweep 48,192,48,192,48 --infeed-time 32" in shown
    time, power, _ = swept(2, POINTS, INFEED, KNEE_RPM)
    path = tmp_path / "one.csv"
    path.write_text("time [s],power [kW]\n" + "\n".join(f"{t:.2f},{p:.4f}" for t, p in zip(time, power)), encoding="utf-8")
    assert main(["log", str(path), "--sweep", "48,192,48,192,48", "--infeed-time", "44"]) == 0
    assert SAID in capsys.readouterr().out
    assert main(["knee", str(tmp_path / "one-readings.csv")]) == 0
    assert "found" in capsys.readouterr().out


def test_a_plan_is_no_longer_than_it_must_be():
    assert sweep_points(60, 180, 0.5) == ((60, 180, 60, 180, 60), 20)  # 5 s a leg
    assert sweep_points(60, 180, 2) == ((60, 180, 60, 180, 60), 80)  # 10 lags a leg
    assert sweep_points(6, 18, 0.1) == ((6, 18, 6, 18, 6), 100)  # 5 turns at 12 1/min in the mean
    assert sweep_points(60, 180, 2, passes=3)[1] == 120
    assert sweep_points(60, 180, 2, passes=1)[1] == 80  # 40 lags in all


def part_of(lag=1.0, lowest=0.5, passes=2.0):
    return SweptPart(1, lag, (60.0, 180.0), (lowest, 2.0), 1.0, (0.1, 0.1), passes)


@pytest.mark.parametrize(
    "infeed, legs, lag, is_refused",
    [(40, 4, 1.0, False), (40, 4, 1.02, True), (40, 5, 1.0, True), (50, 5, 1.0, False), (39, 2, 1.0, True)],
)
def test_the_infeed_is_40_lags_or_more_and_each_leg_10(infeed, legs, lag, is_refused):
    said = refusal([part_of(lag)], infeed, legs)
    assert ("must last 40 lags" in said and "10 a leg" in said) if is_refused else said == ""


def test_a_sweep_needs_a_part_and_a_load_above_idle_at_every_rpm():
    assert refusal([], 40, 4).startswith("sweep must have a part that can be read")
    assert refusal([part_of(lowest=-0.25)], 40, 4).startswith("the net load of a sweep must be > 0 at every rpm (got -0.25)")
    assert refusal([part_of(lowest=0.01)], 40, 4) == ""
    assert "(got -0.5): was the rpm really swept" in refusal([part_of(), part_of(lowest=-0.5), part_of(lowest=-0.25)], 40, 4)


@pytest.mark.parametrize("lags, is_refused", [((1.0, 1.0, 9.0), False), ((0.1, 2.0, 2.0), True)])
def test_of_several_parts_the_usual_lag_counts(lags, is_refused):
    said = refusal([part_of(lag) for lag in lags], 40, 4)
    assert said == (
        "the sweep's infeed must last 40 lags of 2 s, 10 a leg (got 40 s in 4 legs); infeed longer, or sweep once" * is_refused
    )


def test_of_a_swept_part_only_the_sweep_is_remarked():
    """Its power is not steady, as it must be."""
    log = read(1)
    assert log.remarks == ("Power is taken as kW; say load_kind for another meter.", remark(log.swept))
    assert log.remarks[1] == (
        "Work rpm swept within a part: simulated only, not tried on a machine. Look first with it where the knee is, then confirm it "
        "with parts at fixed rpm about it; one part is one state of the wheel."
    )


def test_one_pass_is_said_to_take_drift_for_a_knee():
    assert "one pass only: drift within the part can look like a knee" in remark([part_of(passes=1.0)])
    assert "one pass only" in remark([part_of(passes=1.5)]) and "one pass" not in remark([part_of()])


class TestTruth:
    """Without noise or drift the fit must give what the log was made of."""

    QUIET = dict(noise=1e-6, slow=0.0, drift=0.0, bowl=0.0)

    @pytest.mark.parametrize("shape, has_channel", [("knee", False), ("level", True), ("straight", True), ("power law", False)])
    def test_load_lag_and_passes(self, shape, has_channel):
        (part,) = read(1, shape=shape, has_channel=has_channel, **self.QUIET).swept
        depth, least = (np.array(part.work_rpms) / KNEE_RPM) ** 0.25, (48 / KNEE_RPM) ** 0.25
        most = (192 / KNEE_RPM) ** 0.25
        below = {
            "knee": np.maximum(0, 1 - depth) / (1 - least),
            "level": 0 * depth,
            "straight": (most - depth) / (most - least),
            "power law": (least / depth) ** 2,
        }[shape]
        assert part.nets == pytest.approx(2.0 * (1 + 0.5 * below), rel=0.01)
        assert part.lag == pytest.approx(0.8, rel=0.03) and part.passes == 2 and part.idle == pytest.approx(1.1, abs=1e-3)
        assert len(part.work_rpms) == 11 and np.diff(depth) == pytest.approx(np.full(10, (most - least) / 10))

    def test_a_drift_along_the_part_is_no_fall(self):
        (plain,), (drifting,) = (read(1, shape="level", **{**self.QUIET, "drift": drift}).swept for drift in (0.0, 0.1))
        assert drifting.nets == pytest.approx(plain.nets, rel=0.01)

    def test_the_errors_are_those_of_least_squares_and_wider_for_noise_that_wanders(self):
        random = np.random.default_rng(3)
        columns = random.normal(size=(400, 4))
        plain = np.sqrt(np.linalg.inv(columns.T @ columns).diagonal())
        for slow, wider in ((0.0, 1.0), (0.5, 3**0.5), (0.8, 3.0)):
            told = []
            for _ in range(20):
                noise = random.normal(size=400)
                for row in range(1, 400):
                    noise[row] += slow * noise[row - 1]
                rest = noise - columns @ np.linalg.lstsq(columns, noise, rcond=None)[0]
                told.append(_errors(rest, columns) / (2 * plain * (rest @ rest / (400 - 4)) ** 0.5))
            assert np.ptp(told, axis=1) == pytest.approx(0, abs=1e-9)
            assert np.median(told) == pytest.approx(wider, rel=0.25 if slow else 0.01)
        assert _errors(np.zeros(400), columns).tolist() == [0] * 4

    @pytest.mark.parametrize("alike, wider", [(0.08, 1.0), (0.12, 1.24)])
    def test_what_may_be_chance_widens_no_error(self, alike, wider):
        """Neighbours of a cosine resemble one another by that of its step, those two apart are unlike; 2/sqrt(400) is chance."""
        rest, columns = np.cos(np.arccos(alike) * np.arange(400)), np.ones((400, 1))
        plain = 2 * (rest @ rest / 399 / 400) ** 0.5
        assert _errors(rest, columns) == pytest.approx(plain * wider**0.5, rel=2e-3)

    def test_a_value_counts_for_the_nodes_beside_it(self):
        nodes = np.array([1.0, 2.0, 4.0, 5.0])
        shares = _shares(np.array([1.0, 1.5, 2.0, 3.5, 5.0]), nodes)
        assert shares.tolist() == [[1, 0, 0, 0], [0.5, 0.5, 0, 0], [0, 1, 0, 0], [0, 0.25, 0.75, 0], [0, 0, 0, 1]]

    def test_a_step_rises_by_one_lag(self):
        found = _lagged(np.ones((50, 2)), 0.7, 0.1)
        assert found[:, 1] == pytest.approx(1 - np.exp(-0.1 * np.arange(1, 51) / 0.7))

    @pytest.mark.parametrize(
        "points, infeed, is_taken",
        [
            ((60, 180, 60), 10, True),
            ((60, 180, 60), 9.98, False),
            ((20, 40, 20), 20, True),  # 5 turns at 30 1/min in the mean
            ((20, 40, 20), 19.9, False),
            ((0.9, 2, 0.9), 1000, True),  # slow, but turning
            ((180, 60, 180, 60), 15, True),
            ((60, 60, 60), 40, False),
            ((60, 180, 60, 170), 40, False),
            ((60, 180), 40, False),
        ],
    )
    def test_legs_of_five_seconds_and_five_turns(self, points, infeed, is_taken):
        def reading():
            return gf.read_log(power=1 + np.arange(50) % 7, interval=0.1, infeed_time=infeed, sweep=points)

        if is_taken:
            assert reading().refusal
        else:
            with pytest.raises(ValueError, match="sweep must"):
                reading()
