"""The next reading of a trial that was read: never further than one step beyond the rpm that were read."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

import gritfuncs as gf
from gritfuncs.cli import main
from gritfuncs.knee import FourthRoot, next_reading
from gritfuncs.refused import Refused
from gritfuncs.trial import Setup, read_trial

LIMITS = gf.Limits(lowest_work_rpm=20, highest_work_rpm=400)
DEPTHS = (1.10, 1.15, 1.2, 1.25, 1.3, 1.35, 1.4, 1.45, 1.5, 1.55, 1.6, 1.65)
SETUP = Setup(work_diameter=20, infeed_rate=0.6, wheel_speed=22, wheel_diameter=200, side=1, grit_density=18.9, shape_ratio=10)


def read(folder, text, name="trial.csv", **options):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return read_trial(path, **options)


def refusal(call, *args, **options):
    with pytest.raises(Refused) as caught:
        call(*args, **options)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_depths_that_do_not_follow_from_the_rpm_are_refused(tmp_path):
    trial = read(tmp_path, "rpm;grit depth (µm);power (kW)\n120;1.00;2.30\n132;1.25;2.10\n108;0.95;2.40\n")
    message = refusal(trial.next_reading, LIMITS)
    assert (
        message.startswith("trial.csv: grit depths must follow the fourth root of the work rpm within 2 %, as at constant infeed")
        and "row 3" in message
    )
    assert trial.rpm_for(1.2) is None


def test_depths_within_what_is_read_go_by_the_rpm_that_were_read(tmp_path):
    # 1 % off the fourth root: an rpm computed back from these depths would be 4 % off
    trial = read(tmp_path, "rpm;grit depth;power\n100;1.01;2.3\n110;1.014;2.2\n90;0.964;2.4\n")
    scale = FourthRoot()
    expected = next_reading([scale.depth(rpm) for rpm in (100, 110, 90)], (2.3, 2.2, 2.4), scale, LIMITS)
    assert trial.next_reading(LIMITS).work_rpm == pytest.approx(expected.work_rpm, rel=1e-9)


def test_a_trial_without_a_setup_needs_none(tmp_path):
    trial = read(tmp_path, "rpm;power\n120;2.3\n132;2.2\n")
    assert trial.next_reading(LIMITS).work_rpm == 108
    with_setup = read(tmp_path, "rpm;power\n120;2.3\n132;2.2\n", setup=SETUP)
    assert with_setup.next_reading(LIMITS).line() == trial.next_reading(LIMITS).line()


def test_before_the_first_reading_the_nominal_rpm_is_asked_for(tmp_path):
    trial = read(tmp_path, "rpm;power\n120;\n")
    assert "nominal_rpm must be given before the first reading" in str(
        pytest.raises(ValueError, trial.next_reading, LIMITS).value
    )
    assert trial.next_reading(LIMITS, nominal_rpm=120).work_rpm == 120
    assert read(tmp_path, "nominal rpm;110\nrpm;power\n120;\n").next_reading(LIMITS).work_rpm == 110


def test_limits_of_the_file_count_unless_others_are_given(tmp_path):
    text = "highest_work_rpm;125\nlowest_work_rpm;100\nrpm;power\n120;2.3\n"
    rpm = read(tmp_path, text).next_reading().work_rpm
    assert 100 <= rpm <= 125
    assert read(tmp_path, text).next_reading(LIMITS).work_rpm == 132


def test_every_option_of_the_next_reading_counts(tmp_path):
    """Level energies: slower each time, by a step of nominal at most."""
    rows = [(120, 2), (132, 2), (108, 2)]

    def advised(lines="", readings=rows, **options):
        text = lines + "rpm;power;damage\n" + "".join(";".join(map(str, row)) + "\n" for row in readings)
        return read(tmp_path, text).next_reading(**options)

    assert advised().work_rpm == 96 and advised(steps="rpm").work_rpm == 96
    assert advised(step_percent=5).work_rpm == 102
    assert advised(step_percent=5, nominal_rpm=100).work_rpm == 103
    assert advised("nominal rpm;100\n", step_percent=5).work_rpm == 103
    assert advised("nominal rpm;100\n", step_percent=5, nominal_rpm=120).work_rpm == 102
    assert advised("lowest work rpm;100\n").work_rpm == 100
    assert advised("lowest work rpm;100\n", limits=gf.Limits()).work_rpm == 96
    stopped = advised(damage_seen=True)
    assert stopped.stop and "wheel breakdown was seen" in stopped.reason and "noted in" not in stopped.reason
    noted = advised(readings=[*rows, (90, 2, "burn")])
    assert noted.stop and noted.reason.endswith("; noted in row 5 (burn)")
    sharp = [
        (rpm, 60 + 250 * max(0.0, 1.4 - SETUP.depth(rpm))) for rpm in (120, 132, 108, 144, 96, 156, 84, 168, 72, 120, 180, 60)
    ]
    for noise in (2, 3):
        assert advised(f"noise;{noise}\n", sharp).knee.noise == pytest.approx(noise / 100)
    assert advised(readings=sharp, wanted=0.1).stop and not advised(readings=sharp, wanted=0.005).stop
    for wrong in ("infeed", 1, ["rpm"]):
        assert f"steps must be rpm or rpm and infeed (got {wrong!r})" in refusal(advised, steps=wrong)


@pytest.mark.parametrize("limit, other", [("lowest_work_rpm;108", "132;2.3"), ("highest_work_rpm;132", "108;3.0")])
def test_an_rpm_that_is_a_limit_itself_may_be_read(tmp_path, limit, other):
    """Nominal first, then a step to either side."""
    text = f"{limit}\nnominal rpm;120\nrpm;power\n120;2.3\n"
    advised = {read(tmp_path, rows).next_reading().work_rpm for rows in (text, f"{text}{other}\n")}
    assert float(limit.partition(";")[2]) in advised


def test_an_rpm_for_a_depth_is_by_the_mean_of_depths_that_nearly_follow_the_rpm(tmp_path):
    """Depths 1 % above and 1 % below the fourth root: over both, 1.0 is at 100 1/min, and not 4 % beside it."""
    rows = [(rpm, off * (rpm / 100) ** 0.25) for rpm, off in ((90, 1.01), (100, 0.99), (110, 1.01), (120, 0.99))]
    text = "rpm;grit depth;power\n" + "".join(f"{rpm};{depth!r};2\n" for rpm, depth in rows)
    assert read(tmp_path, text).rpm_for(1) == pytest.approx(100, rel=1e-6)


@pytest.mark.parametrize("side", [-1, 1])
def test_damage_withdraws_the_rpm_within_the_interval_where_it_is_wider_than_the_band(tmp_path, side):
    readings = [
        (rpm, 60 + 250 * max(0.0, 1.4 - SETUP.depth(rpm))) for rpm in (120, 132, 108, 144, 96, 156, 84, 168, 72, 120, 180, 60)
    ]

    def trial(more=""):
        text = "noise;7\nrpm;load;damage;use\n" + "".join(f"{rpm};{energy!r};;\n" for rpm, energy in readings)
        return read(tmp_path, text + more, setup=SETUP)

    knee = trial().knee
    end = knee.low if side < 0 else knee.high
    assert knee.verdict == "found" and abs(end / knee.knee - 1) > 0.025  # the band is 0.02
    for share, is_at_knee in ((0.9, True), (1.1, False)):  # of the way to the end of the interval
        rpm = SETUP.rpm_for(knee.knee + share * (end - knee.knee))
        assert bool(trial(f"{rpm!r};60;burn;no\n").damage_at_knee) == is_at_knee, share


def test_a_reading_without_an_rpm_is_named_by_its_row(tmp_path):
    trial = read(tmp_path, "Invented\nrpm;grit depth;power\n120;1;2\n;1.1;1.9\n")
    message = refusal(trial.next_reading, LIMITS)
    assert message.startswith("trial.csv: must have a work rpm in every reading, > 0 1/min (row 4 has none)")


def test_the_reading_to_repeat_is_named_by_its_row(tmp_path):
    trial_rows = [(rpm, 60 + 250 * max(0.0, 1.4 - SETUP.depth(rpm))) for rpm in (120, 132, 108, 144, 96, 156, 84, 168, 72)]
    trial_rows[4] = (96, trial_rows[4][1] * 1.5)
    lines = "".join(f"{rpm};{energy!r}\n" for rpm, energy in trial_rows)
    trial = read(tmp_path, f"Invented\nrpm;load\nnone;1\n{lines}", setup=SETUP)
    advice = trial.next_reading(LIMITS)
    assert "repeat reading in row 8" in advice.line() and advice.work_rpm == 96


def damaged(rpm_of_damage, words, use="yes"):
    """A trial with its knee at 1.4 µm, 115 1/min, and damage at one rpm."""
    steps = (120, 132, 108, 144, 96, 156, 84, 168, 72, 120, 180, 60)
    return "rpm;load;damage;use\n" + "".join(
        f"{rpm};{60 + 250 * max(0.0, 1.4 - SETUP.depth(rpm))!r};{words};{use}\n"
        if rpm == rpm_of_damage
        else f"{rpm};{60 + 250 * max(0.0, 1.4 - SETUP.depth(rpm))!r};;\n"
        for rpm in steps
    )


@pytest.mark.parametrize("use", ["yes", "no", "perhaps"])
@pytest.mark.parametrize("column, said", [("burn", "row 4 (burn)"), ("cracks at the edge", "row 4 (cracks at the edge)")])
def test_damage_at_the_knee_stops_the_trial_and_withdraws_the_rpm(tmp_path, column, said, use):
    text = damaged(108, column, use)
    trial = read(tmp_path, text, setup=SETUP)
    advice = trial.next_reading(LIMITS)
    assert advice.stop and "burn, crack or wheel breakdown was seen" in advice.reason and said in advice.reason
    assert trial.knee.verdict == "found" and trial.knee_rpm is None
    report = trial.report()
    assert f"DAMAGE SEEN in {said.replace(' (', ': ').rstrip(')')}" in report
    assert "Damage was seen in this trial: no rpm of it is given to set a machine by." in report
    assert "1/min in this setup" not in report
    assert trial.as_dict()["knee_rpm"] is None and trial.as_dict()["damage"] == [{"row": 4, "words": column}]
    unharmed = read(tmp_path, text.replace(column, ""), setup=SETUP)
    assert unharmed.knee_rpm == pytest.approx(SETUP.rpm_for(1.4), rel=1e-6)
    assert unharmed.next_reading(LIMITS, damage_seen=True).stop


@pytest.mark.parametrize("use", ["yes", "no"])
def test_damage_away_from_the_knee_leaves_the_rpm_with_a_warning(tmp_path, use, capsys):
    trial = read(tmp_path, damaged(72, "burn", use), setup=SETUP)
    assert trial.damage and not trial.damage_at_knee and trial.next_reading(LIMITS).stop
    assert trial.knee_rpm == pytest.approx(SETUP.rpm_for(1.4), rel=1e-6)
    path = tmp_path / "damaged.csv"
    path.write_text(damaged(72, "burn", use), encoding="utf-8")
    assert main(["knee", str(path)]) == 0
    for report in (trial.report(), capsys.readouterr().out):
        assert "DAMAGE SEEN in row 10: burn" in report and "1/min in this setup" in report
        assert "DAMAGE WAS SEEN outside the band about the knee: stay within the band" in report


@pytest.mark.parametrize("off, is_at_knee", [(0.978, False), (0.983, True), (1.017, True), (1.022, False)])
def test_damage_withdraws_the_rpm_within_the_band_on_both_sides_of_a_sharp_knee(tmp_path, off, is_at_knee):
    trial = read(tmp_path, damaged(0, "") + f"{SETUP.rpm_for(1.4 * off)!r};100;burn;no\n", setup=SETUP)
    assert 1.4 * 0.983 < trial.knee.low and trial.knee.high < 1.4 * 1.017 and bool(trial.damage_at_knee) == is_at_knee


def test_the_command_gives_no_rpm_where_damage_lies_at_the_knee(tmp_path, capsys):
    path = tmp_path / "damaged.csv"
    path.write_text(damaged(108, "burn"), encoding="utf-8")
    assert main(["knee", str(path)]) == 0
    assert "no rpm of it is given to set a machine by" in capsys.readouterr().out


@pytest.mark.parametrize("rpm", ["", "about 100", "0"])
def test_damage_at_no_known_depth_withdraws_the_rpm(tmp_path, rpm):
    assert read(tmp_path, damaged(72, "burn") + f"{rpm};100;crack;no\n", setup=SETUP).knee_rpm is None
    given = "grit depth;specific energy;damage\n" + "".join(f"{h};{60 + 250 * max(0.0, 1.4 - h)!r};\n" for h in DEPTHS)
    assert read(tmp_path, given).knee.verdict == "found" and not read(tmp_path, given).damage_at_knee
    assert read(tmp_path, given + "1.1;150;burn\n").damage_at_knee == ()
    assert read(tmp_path, given + ";150;burn\n").damage_at_knee == ((2 + len(DEPTHS), "burn"),)


@st.composite
def files(draw):
    """A trial of any kind with the rpm that it holds: heads, units, depths of its own, setup lines, odd rows."""
    count = draw(st.integers(0, 14))
    rpms = draw(st.lists(st.floats(20, 900).map(lambda rpm: round(rpm, 1)), min_size=count, max_size=count))
    loads = draw(st.lists(st.floats(0.01, 50).map(lambda load: round(load, 3)), min_size=count, max_size=count))
    unit, per = draw(st.sampled_from([("1/min", 1), ("1/s", 60)]))
    upward = draw(st.sampled_from(["power (kW)", "load (%)", "current (A)", "power (hp)", "specific energy (J/mm³)"]))
    given = draw(st.sampled_from(["none", "fourth root", "scattered", "any"]))
    heads, rows = [f"rpm ({unit})", upward], []
    if given != "none":
        heads.append("grit depth (µm)")
    heads.append("use")
    for rpm, load in zip(rpms, loads):
        depth = {
            "fourth root": rpm**0.25 / 3,
            "scattered": rpm**0.25 / 3 * draw(st.floats(0.97, 1.03)),
            "any": draw(st.floats(0.1, 5)),
        }.get(given, 0.0)
        row = [repr(rpm / per), repr(load)] + ([repr(depth)] if given != "none" else [])
        rows.append(row + [draw(st.sampled_from(["", "", "", "no", "?"]))])
    lines = draw(
        st.lists(st.sampled_from(["nominal rpm;150", "highest work rpm;500", "idle;0.001", "wheel diameter;200"]), unique=True)
    )
    return lines, heads, rows


@settings(max_examples=300, deadline=None)
@given(
    file=files(),
    kind=st.sampled_from(["csv", "xlsx"]),
    limits=st.sampled_from([None, LIMITS, gf.Limits(highest_work_rpm=300)]),
    step=st.sampled_from([2.0, 10.0, 25.0]),
    nominal=st.sampled_from([None, 100.0]),
)
def test_no_proposal_leaves_one_step_beyond_the_rpm_that_were_read(tmp_path_factory, file, kind, limits, step, nominal):
    lines, heads, rows = file
    path = tmp_path_factory.mktemp("next") / f"trial.{kind}"
    if kind == "csv":
        path.write_text("\n".join(["decimal;point", *lines, ";".join(heads), *map(";".join, rows)]) + "\n", encoding="utf-8")
    else:
        book = Workbook()
        for line in lines:
            name, value = line.split(";")
            book.active.append([name, float(value)])
        book.active.append(heads)
        for row in rows:
            book.active.append([*map(float, row[:-1]), row[-1] or None])
        book.save(path)
    try:
        trial = read_trial(path)
        advice = trial.next_reading(limits, nominal_rpm=nominal, step_percent=step)
    except ValueError as error:
        assert "\n" not in str(error)
        return
    tried = [reading.work_rpm for reading in trial.used]
    kept = trial.limits if limits is None else limits
    start = nominal or trial.nominal_rpm or (tried[0] if tried else None)
    assert advice.stop == (advice.work_rpm is None)
    if advice.stop:
        return
    assert (kept.lowest_work_rpm or 0) <= advice.work_rpm <= (kept.highest_work_rpm or 1e9)
    if tried:
        one_step = start * step / 100 * (1 + 1e-7)
        assert min(tried) - one_step <= advice.work_rpm <= max(tried) + one_step
    else:
        assert advice.work_rpm == start
