"""Trials in which more than the work rpm changes from row to row: infeed rate, wheel speed, diameters in columns of their own."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook
from test_trial_ods import row as ods_row
from test_trial_ods import save as save_ods

import gritfuncs as gf
from gritfuncs.quantities import QUANTITIES
from gritfuncs.refused import Refused
from gritfuncs.trial import read_trial

LINES = (
    "wheel_diameter;200\nwork_diameter;20\nwheel_speed;25\nmarked_wheel_speed;30\ninfeed_rate;0.6\nside;external\n"
    "grit_density;20\nshape_ratio;10\ncontact_width;15\n"
)
SETUP = gf.Setup(
    work_diameter=20,
    infeed_rate=0.6,
    wheel_speed=25,
    wheel_diameter=200,
    side=1,
    grit_density=20,
    shape_ratio=10,
    contact_width=15,
)
RPMS = (120, 144, 96, 168, 72, 120, 156, 84, 132, 108, 120)
KNEE = SETUP.depth(118.0)


def energy(depth):
    """An invented curve: 60 J/mm³ beyond the knee."""
    return 60 + 150 * max(0.0, 1 - depth / KNEE)


def net_power(rpm, **own):
    setup = gf.Setup(**{**vars(SETUP), **own})
    return energy(setup.depth(rpm)) * setup.removal_rate * 15 / 1000


def read(folder, text, name="trial.csv", **options):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return read_trial(path, **options)


def refusal(folder, text, **options):
    with pytest.raises(Refused) as caught:
        read(folder, text, **options)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def table(heads, rows):
    return ";".join(heads) + "\n" + "".join(";".join("" if cell is None else str(cell) for cell in row) + "\n" for row in rows)


# --- what follows for each row ----------------------------------------------------------------------------------------


def test_rows_that_differ_in_nothing_but_rpm_come_out_as_without_the_column(tmp_path):
    """One odd row makes the column count; all the others are the same to the last digit."""
    plain = [(rpm, net_power(rpm) + 0.4, 0.4) for rpm in RPMS]
    before = read(tmp_path, LINES + table(("rpm", "power", "idle"), plain))
    odd = (120, net_power(120, infeed_rate=0.9) + 0.4, 0.4, 0.9)
    own = read(tmp_path, LINES + table(("rpm", "power", "idle", "infeed rate"), [(*row, 0.6) for row in plain] + [odd]))
    assert (own.depths[:-1], own.energies[:-1]) == (before.depths, before.energies)
    assert own.depths[-1] == gf.Setup(**{**vars(SETUP), "infeed_rate": 0.9}).depth(120)
    assert own.energies[-1] == pytest.approx(energy(own.depths[-1]), rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(
    rpm=st.floats(5, 2000),
    own=st.fixed_dictionaries(
        {},
        optional=dict(
            infeed_rate=st.floats(0.01, 0.59) | st.floats(0.61, 5),
            wheel_speed=st.floats(8, 24.7) | st.floats(25.3, 30),
            work_diameter=st.floats(5, 19.7) | st.floats(20.3, 90),
            wheel_diameter=st.floats(100, 197) | st.floats(203, 400),
        ),
    ),
)
def test_the_equivalent_rpm_gives_the_depth_under_the_setups_conditions(tmp_path_factory, rpm, own):
    heads = ("rpm", "power", "idle", "infeed rate", "wheel speed", "work diameter", "wheel diameter")
    words = ("infeed_rate", "wheel_speed", "work_diameter", "wheel_diameter")
    rows = [(120, 3, 0.4) + (None,) * 4, (rpm, 9, 0.4, *(own.get(word) for word in words))]
    trial = read(tmp_path_factory.mktemp("own"), LINES + table(heads, rows))
    reading = trial.readings[1]
    assert reading.depth == pytest.approx(gf.Setup(**{**vars(SETUP), **own}).depth(rpm), rel=1e-12)
    equivalent = rpm if reading.equivalent_rpm is None else reading.equivalent_rpm
    assert SETUP.depth(equivalent) == pytest.approx(reading.depth, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(rpm=st.floats(10, 1000), infeed=st.floats(0.05, 3), factor=st.floats(0.2, 5))
def test_only_the_product_of_rpm_and_infeed_counts(rpm, infeed, factor):
    """h depends on n · v_f alone while wheel and diameters stay."""
    one, other = (gf.Setup(**{**vars(SETUP), "infeed_rate": rate}) for rate in (infeed, infeed / factor))
    assert one.depth(rpm) == pytest.approx(other.depth(rpm * factor), rel=1e-12)


def test_a_flat_energy_with_the_infeed_lowered_as_the_rpm_rises_is_no_knee(tmp_path):
    """Read as if the infeed had stayed, such a trial shows a knee that is not there."""
    rows = []
    for rpm in RPMS:
        infeed = 0.6 * (120 / rpm) ** 1.5 if rpm < 120 else 0.6
        rows.append((rpm, 120 * gf.Setup(**{**vars(SETUP), "infeed_rate": infeed}).removal_rate * 0.015 + 0.5, 0.5, infeed))
    heads = ("rpm", "power", "idle", "infeed rate (mm/min)")
    assert read(tmp_path, LINES + table(heads, rows)).knee.verdict != "found"
    assert read(tmp_path, LINES + table(heads[:3], [row[:3] for row in rows])).knee.verdict == "found"


STRANGERS = {
    "German, commas, m/min": (
        "Scheibendurchmesser;200;mm\nWerkstückdurchmesser;20;mm\nScheibengeschwindigkeit;1500;m/min\n"
        "zulässige Umfangsgeschwindigkeit;30;m/s\nVorschub;0,6;mm/min\nside;external\ngrit_density;20\nshape_ratio;10\n"
        "Schleifbreite;15;mm\n",
        ("Drehzahl", "Spindelleistung (kW)", "Leerlauf (kW)", "Vorschub (µm/s)", "Scheibengeschwindigkeit (m/min)"),
        lambda row: [f"{value:.9g}".replace(".", ",") for value in (*row[:3], row[3] / 0.06, row[4] * 60)],
    ),
    "inches": (
        "wheel diameter;7.874015748;in\nwork diameter;0.7874015748;in\nwheel speed;4921.259843;sfpm\nmarked speed;30;m/s\n"
        "infeed;0.02362204724;in/min\nside;external\ngrit_density;20\nshape_ratio;10\nplunge width;0.59055118;in\n",
        ("work rpm", "power, hp", "idle, hp", "infeed (on dia) ipm", "wheel surface speed ft/min"),
        lambda row: [row[0], row[1] / 0.745699872, row[2] / 0.745699872, 2 * row[3] / 25.4, row[4] / 0.3048 * 60],
    ),
    "wheel rpm, feed for each revolution": (
        LINES,
        ("rpm", "power", "idle", "feed rate (mm/rev)", "spindle rpm"),
        lambda row: [*row[:3], row[3] / row[0], row[4] * 60000 / (math.pi * 200)],
    ),
}


@pytest.mark.parametrize("name", STRANGERS)
def test_any_unit_and_language_of_the_vocabulary(tmp_path, name):
    lines, heads, written = STRANGERS[name]
    if name == "inches":  # the machine shows the infeed on the diameter, above the table too
        lines = lines.replace("0.02362204724", "0.04724409449")
    rows = []
    for place, rpm in enumerate(RPMS):
        step, speed = rpm / 120, 25 - place % 3
        power = net_power(rpm, infeed_rate=0.6 * step, wheel_speed=speed)
        rows.append((rpm, power + 0.5, 0.5, 0.6 * step, speed))
    trial = read(tmp_path, lines + table(heads, [written(row) for row in rows]))
    expected = [gf.Setup(**{**vars(SETUP), "infeed_rate": row[3], "wheel_speed": row[4]}).depth(row[0]) for row in rows]
    assert trial.depths == pytest.approx(expected, rel=1e-6)
    assert trial.energies == pytest.approx(list(map(energy, expected)), rel=1e-5)
    assert trial.setup.infeed_rate == pytest.approx(0.6)


def both(steps=(1, 1.4, 0.6, 1.2, 0.8, 1, 1.3, 0.7, 1.1, 0.9, 1)):
    return [(120 * step, net_power(120 * step, infeed_rate=0.6 * step) + 0.5, 0.5, 0.6 * step) for step in steps]


def test_workbooks_and_open_documents_are_read_alike(tmp_path):
    heads, rows = ("rpm", "power (kW)", "idle (kW)", "infeed rate (mm/min)"), both()
    lines = [line.split(";") for line in LINES.splitlines()]
    cells = [[name, value if name == "side" else float(value)] for name, value in lines] + [list(heads), *map(list, rows)]
    text = read(tmp_path, LINES + table(heads, rows))
    book = Workbook()
    for row in cells:
        book.active.append(row)
    book.save(tmp_path / "trial.xlsx")
    save_ods(tmp_path / "trial.ods", *(ods_row(*row) for row in cells))
    for name in ("trial.xlsx", "trial.ods"):
        other = read_trial(tmp_path / name)
        assert other.depths == pytest.approx(text.depths, rel=1e-12) and other.knee_rpm == pytest.approx(text.knee_rpm), name
        assert other.energies == pytest.approx(text.energies, rel=1e-12) and other.setup == text.setup, name


def test_without_a_setup_depths_and_loads_are_in_proportion(tmp_path):
    trial = read(tmp_path, table(("rpm", "load %", "idle", "infeed rate"), both()))
    with_setup = read(tmp_path, LINES + table(("rpm", "load %", "idle", "infeed rate"), both()))
    scale = with_setup.depths[0]
    assert trial.depths == pytest.approx([depth / scale for depth in with_setup.depths], rel=1e-12)
    assert trial.energies == pytest.approx(with_setup.energies, rel=1e-12)
    assert trial.knee_rpm == pytest.approx(with_setup.knee_rpm, rel=1e-9)


def test_a_blank_cell_is_the_line_above_and_without_one_the_row_is_left_out(tmp_path):
    rows = [(row[0], row[1], row[2], None if row[3] == 0.6 else row[3]) for row in both()]
    heads = ("rpm", "power", "idle", "infeed rate")
    assert read(tmp_path, LINES + table(heads, rows)).depths == read(tmp_path, LINES + table(heads, both())).depths
    bare = read(tmp_path, LINES.replace("infeed_rate;0.6\n", "") + table(heads, rows[1:]))
    assert [reading.status for reading in bare.readings if not reading.is_used] == ["left out: infeed rate is blank"] * 2
    assert read(tmp_path, table(heads, rows[1:]), setup=SETUP).counts["left out"] == 0
    odd = [*both(), (120, 3, 0.5, "fast"), (120, 3, 0.5, -1)]
    told = [reading.status for reading in read(tmp_path, LINES + table(heads, odd)).readings if not reading.is_used]
    assert told == ["left out: infeed rate is not a number", "left out: infeed rate is not > 0"]


SAME, OTHER = "", "infeed_rate must be the same above the table and in its column (got {} mm/min on the radius)"


@pytest.mark.parametrize(
    "line, heading, rate, refused",
    [
        ("infeed rate;0.6", "infeed rate", 0.6, SAME),
        ("infeed rate;0.6", "infeed rate", 0.605, SAME),
        ("infeed rate;0.6", "infeed rate", 0.61, OTHER.format("0.6 and 0.61")),
        ("infeed rate;10;µm/s", "infeed rate", 0.6, SAME),
        ("infeed rate;0.6", "infeed (µm/s)", 10, SAME),
        ("infeed rate;0.6", "infeed on dia", 1.2, SAME),
        ("infeed rate;1.2", "infeed on dia", 1.2, OTHER.format("1.2 and 0.6")),
        ("infeed rate on dia;1.2", "infeed on radius", 0.6, SAME),
        ("infeed rate on dia;2.4", "infeed on radius", 0.6, OTHER.format("1.2 and 0.6")),
        ("infeed rate on dia;1.2", "infeed", 1.2, SAME),
        ("infeed rate on dia;1.2", "infeed", 0.6, OTHER.format("0.6 and 0.3")),
        ("infeed rate;1.2\ninfeed_basis;diameter", "infeed on radius", 0.6, SAME),
        ("infeed rate;1.2\ninfeed_basis;diameter", "infeed on radius", 1.2, OTHER.format("0.6 and 1.2")),
        ("infeed rate;;mm/min", "infeed", 0.6, SAME),
    ],
)
def test_a_line_and_a_column_of_one_value_must_say_the_same_on_radius_or_diameter(tmp_path, line, heading, rate, refused):
    """On the diameter an infeed counts half; what contradicts the line by a factor of two must not pass."""
    text = LINES.replace("infeed_rate;0.6", line) + table(
        ("rpm", "power", "idle", heading), [(120, 3, 0.5, rate), (132, 3, 0.5, rate)]
    )
    if refused:
        assert refused in refusal(tmp_path, text)
    else:
        assert read(tmp_path, text).setup.infeed_rate == pytest.approx(0.6)


@pytest.mark.parametrize("line", ["infeed_rate;0.6", "infeed_rate on dia;1.2", "infeed_rate;"])
def test_a_column_on_the_diameter_counts_half_in_every_row_whatever_the_line_is_on(tmp_path, line):
    heads = ("rpm", "power", "idle", "infeed on dia")
    own = read(tmp_path, LINES.replace("infeed_rate;0.6", line) + table(heads, [(*row[:3], 2 * row[3]) for row in both()]))
    on_radius = read(tmp_path, LINES + table((*heads[:3], "infeed rate"), both()))
    assert own.depths == pytest.approx(on_radius.depths) and own.energies == pytest.approx(on_radius.energies)


def test_a_blank_line_leaves_it_to_the_column(tmp_path):
    lines = LINES.replace("infeed_rate;0.6", "infeed_rate;")
    own = read(tmp_path, lines + table(("rpm", "power", "idle", "infeed rate"), both()))
    assert (
        own.setup.infeed_rate == 0.6
        and own.depths == read(tmp_path, LINES + table(("rpm", "power", "idle", "infeed rate"), both())).depths
    )


def test_diameters_in_line_and_column_are_no_infeed_rates(tmp_path):
    """The basis of the infeed rate says nothing of them."""
    text = (
        LINES
        + "infeed_basis;diameter\n"
        + table(("rpm", "power", "idle", "work diameter"), [(120, 3, 0.5, 20), (132, 3, 0.5, 20)])
    )
    assert read(tmp_path, text).setup.work_diameter == 20
    other = text.replace("0.5;20", "0.5;25")
    assert "work_diameter must be the same above the table and in its column (got 20 and 25 mm)" in refusal(tmp_path, other)


def test_an_infeed_for_each_revolution_is_taken_at_the_rpm_of_its_row_in_any_unit(tmp_path):
    rows = [(rpm, power, idle, 0.6 / rpm) for rpm, power, idle, _ in both()]
    feeds = read(tmp_path, LINES + table(("rpm", "power", "idle", "infeed (mm/rev)"), rows))
    assert [reading.infeed_rate for reading in feeds.used] == pytest.approx([0.6] * len(rows))
    seconds = [(rpm / 60, *others) for rpm, *others in rows]
    hertz = read(tmp_path, LINES + table(("n (1/s)", "power", "idle", "infeed (mm/rev)"), seconds))
    assert hertz.depths == pytest.approx(feeds.depths) and hertz.energies == pytest.approx(feeds.energies)
    assert any(
        "infeed_rate is written in mm/rev, for each revolution of the work at the rpm of its row." in told
        for told in hertz.remarks
    )
    bare = read(tmp_path, LINES.replace("infeed_rate;0.6\n", "") + table(("rpm", "power", "idle", "infeed (mm/rev)"), rows))
    assert bare.setup.infeed_rate == pytest.approx(0.6)


def test_very_slow_work_counts_like_any_other(tmp_path):
    rows = [(rpm / 200, power, idle, infeed) for rpm, power, idle, infeed in both()]
    trial = read(tmp_path, LINES + table(("rpm", "power", "idle", "infeed rate"), rows))
    assert [reading.equivalent_rpm for reading in trial.used] == pytest.approx([row[0] * row[3] / 0.6 for row in rows])
    feeds = read(
        tmp_path, LINES + table(("rpm", "power", "idle", "infeed (mm/rev)"), [(*row[:3], row[3] / row[0]) for row in rows])
    )
    assert feeds.depths == pytest.approx(trial.depths)


WORN = [(120, 3, 0.5, 200, 2400), (132, 3, 0.5, 190, 2400), (144, 3, 0.5, 180, 2600), (120, 3, 0.5, 180, None)]


def test_the_wheel_speed_follows_from_the_rpm_and_diameter_of_the_row(tmp_path):
    """Of its own where it has them, of the setup where not: 2387.32 1/min of 200 mm are 25 m/s."""
    lines = LINES.replace("wheel_speed;25", f"wheel_rpm;{25 * 60000 / (math.pi * 200)!r}")
    trial = read(tmp_path, lines + table(("rpm", "power", "idle", "wheel diameter", "wheel rpm"), WORN))
    rpms = [2400, 2400, 2600, 25 * 60000 / (math.pi * 200)]
    assert [reading.wheel_speed for reading in trial.used] == pytest.approx(
        [math.pi * row[3] * rpm / 60000 for row, rpm in zip(WORN, rpms)]
    )
    alone = table(("rpm", "power", "idle", "wheel rpm"), [(120, 3, 0.5, 2300), (120, 3, 0.5, 2400)])
    bare = "marked_wheel_speed;30\n" + alone
    assert "row 3: wheel_diameter must be given where the wheel rpm changes (got blank)" in refusal(tmp_path, bare)


@pytest.mark.parametrize(
    "rpm, agrees", [(2387 * 1.008, True), (2387 * 0.992, True), (2387 * 1.012, False), (2387 * 0.988, False)]
)
def test_wheel_speed_and_rpm_of_a_row_agree_within_one_percent(tmp_path, rpm, agrees):
    rows = [(120, 3, 0.5, 22, 22 / 25 * 2387.32), (132, 3, 0.5, 25, rpm)]
    text = LINES + table(("rpm", "power", "idle", "wheel speed", "wheel rpm"), rows)
    if agrees:
        assert len(read(tmp_path, text).used) == 2
    else:
        assert "row 12: wheel_speed must agree with wheel_rpm within 1 %" in refusal(tmp_path, text)


def test_a_named_column_has_the_kind_that_its_unit_says(tmp_path):
    """What the caller calls wheel speed and the heading has in 1/min is a wheel rpm; one in bar is neither."""
    rows = [(120, 3, 0.5, 2300), (132, 3, 0.5, 2400)]
    trial = read(tmp_path, LINES + table(("rpm", "power", "idle", "turns (1/min)"), rows), columns={"wheel_speed": "D"})
    assert [reading.wheel_speed for reading in trial.used] == pytest.approx([math.pi * 200 * row[3] / 60000 for row in rows])
    speeds = [(*row[:3], row[3] / 100) for row in rows]
    trial = read(tmp_path, LINES + table(("rpm", "power", "idle", "v (m/s)"), speeds), columns={"wheel_speed": "D"})
    assert [reading.wheel_speed for reading in trial.used] == pytest.approx([23, 24])
    for word, unit in (("wheel_speed", "kW"), ("infeed_rate", "1/min"), ("work_diameter", "m/s")):
        text = LINES + table(("rpm", "power", "idle", f"v ({unit})"), speeds)
        assert f"{word} must be in " in refusal(tmp_path, text, columns={word: "D"})
    feeds = [(*row[:3], 0.005) for row in rows]
    trial = read(tmp_path, LINES + table(("rpm", "power", "idle", "v (mm/rev)"), feeds), columns={"infeed_rate": "D"})
    assert [reading.infeed_rate for reading in trial.used] == pytest.approx([0.6, 0.66])


def test_the_caller_names_a_column(tmp_path):
    text = LINES + table(("rpm", "power", "idle", "eingestellt"), both())
    for where in ("D", "eingestellt"):
        named = read(tmp_path, text, columns={"infeed_rate": where})
        assert named.depths == read(tmp_path, text.replace("eingestellt", "infeed rate")).depths
    assert "must have one column headed 'nowhere'" in refusal(tmp_path, text, columns={"infeed_rate": "nowhere"})
    unread = read(tmp_path, text)
    assert any("not read: 'eingestellt'" in remark for remark in unread.remarks)


def test_damage_is_placed_by_the_settings_of_its_row(tmp_path):
    heads, rows = ("rpm", "power", "idle", "infeed rate", "damage", "use"), [(*row, None, None) for row in both()]
    at_knee = [*rows, (236, 9, 0.5, 0.3, "burn", "no")]  # the same product of rpm and infeed as the knee's
    assert read(tmp_path, LINES + table(heads, at_knee)).knee_rpm is None
    away = [*rows, (118, 9, 0.5, 0.3, "burn", "no")]
    assert read(tmp_path, LINES + table(heads, away)).knee_rpm == pytest.approx(118, rel=0.02)
    nowhere = [*rows, (60, 9, 0.5, 0, "burn", "no")]  # an infeed rate that cannot be: its depth is not known
    assert read(tmp_path, LINES + table(heads, nowhere)).knee_rpm is None
    constant = [(rpm, net_power(rpm) + 0.5, 0.5, 0.6, None, None) for rpm in RPMS]
    assert read(tmp_path, LINES + table(heads, [*constant, (118, 9, 0.5, 0.6, "burn", "no")])).knee_rpm is None
    assert read(tmp_path, LINES + table(heads, [*constant, (118, 9, 0.5, 0.3, "burn", "no")])).knee_rpm is not None


# --- mixed trials -----------------------------------------------------------------------------------------------------


def test_two_diameters_in_one_trial(tmp_path):
    rows = []
    for place, rpm in enumerate(RPMS):
        diameter = (20, 25)[place % 2]
        rows.append((rpm, net_power(rpm, work_diameter=diameter) + 0.5, 0.5, diameter))
    trial = read(tmp_path, LINES + table(("rpm", "power", "idle", "part diameter"), rows))
    assert trial.knee.verdict == "found" and trial.knee.low <= KNEE <= trial.knee.high
    assert trial.energies == pytest.approx([energy(depth) for depth in trial.depths], rel=1e-9)
    narrow = read(tmp_path, LINES.replace("contact_width;15\n", "") + table(("rpm", "power", "idle", "part diameter"), rows))
    in_kw = SETUP.removal_rate * 15 / 1000  # net power at the setup's removal rate
    assert narrow.energies == pytest.approx([each * in_kw for each in trial.energies], rel=1e-9)
    assert narrow.energy_unit == "kW at the setup's removal rate" and narrow.knee_rpm == pytest.approx(trial.knee_rpm)


def test_a_worn_wheel_at_constant_rpm_is_a_change_of_wheel_speed(tmp_path):
    lines = LINES.replace("wheel_speed;25", f"wheel_rpm;{25 * 60000 / (math.pi * 200)!r}").replace("marked_wheel_rpm", "")
    rows = []
    for place, rpm in enumerate(RPMS):
        diameter = 200 - 2 * place
        own = dict(wheel_diameter=diameter, wheel_speed=25 * diameter / 200)
        rows.append((rpm, net_power(rpm, **own) + 0.5, 0.5, diameter))
    heads = ("rpm", "power", "idle", "wheel diameter")
    trial = read(tmp_path, lines + table(heads, rows))
    assert trial.used[-1].wheel_speed == pytest.approx(25 * 180 / 200) and trial.used[-1].removal_ratio == 1
    assert trial.knee.verdict == "found" and trial.knee.low <= KNEE <= trial.knee.high
    kept = read(tmp_path, LINES + table(heads, rows))  # a machine that keeps the wheel speed
    assert kept.used[-1].wheel_speed is None
    told = LINES + f"wheel_rpm;{25 * 60000 / (math.pi * 200)!r}\n"
    speeds = [(*row, 25 * row[3] / 200) for row in rows]
    assert len(read(tmp_path, told + table((*heads, "wheel speed"), speeds)).used) == len(rows)  # each row says it
    both_said = LINES + f"wheel_rpm;{25 * 60000 / (math.pi * 200)!r}\n" + table(heads, rows)
    assert "wheel_speed and wheel_rpm must not both be given where the wheel diameter changes" in refusal(tmp_path, both_said)


# --- what is refused --------------------------------------------------------------------------------------------------

SPEEDS = [(120, 3, 0.5, 25), (120, 3, 0.5, 22), (120, 3, 0.5, 19)]
REFUSED = {
    "no idle, no pair": (
        LINES + table(("rpm", "power", "infeed rate"), [(*row[:2], row[3]) for row in both()]),
        "idle must be given where infeed rate or diameter changes between rows, or two readings at one depth with infeed 1.5 times apart (got neither)",
    ),
    "one idle for all wheel speeds": (
        LINES + "idle;0.5\n" + table(("rpm", "power", "wheel speed"), [(*row[:2], row[3]) for row in SPEEDS]),
        "idle must be read at each wheel speed, a value in every row (got none in row 12)",
    ),
    "current": (
        LINES + "volts;400\npower_factor;0.8\n" + table(("rpm", "current", "idle", "infeed rate"), both()),
        "readings must be power in kW, or a meter that rises evenly with power, where more than the work rpm changes (got current)",
    ),
    "current, with twice the infeed in a row": (
        LINES
        + "volts;400\npower_factor;0.8\n"
        + table(("rpm", "current", "idle", "infeed rate"), [(120, 3, 0.5, ""), (140, 3, 0.5, 1.2)]),
        "readings must be power in kW, or a meter that rises evenly with power, where more than the work rpm changes (got current)",
    ),
    "load meter at several wheel speeds": (
        LINES + table(("rpm", "load", "idle", "wheel speed"), SPEEDS),
        "readings must be power in kW where the wheel speed changes: a load meter may show torque (got relative)",
    ),
    "no mark": (
        LINES.replace("marked_wheel_speed;30\n", "") + table(("rpm", "power", "idle", "wheel speed"), SPEEDS),
        "marked_wheel_speed must be given where the wheel speed changes between rows (got blank)",
    ),
    "above the mark": (
        LINES + table(("rpm", "power", "idle", "wheel speed"), [*SPEEDS, (120, 3, 0.5, 30.5)]),
        "row 14: wheel_speed must be <= marked_wheel_speed, 30 m/s: never run a wheel above the speed marked on it (got 30.5 m/s)",
    ),
    "above the mark in rpm": (
        LINES + table(("rpm", "power", "idle", "wheel rpm"), [(120, 3, 0.5, 2300), (120, 3, 0.5, 2900)]),
        "row 12: wheel_speed must be <= marked_wheel_speed, 30 m/s",
    ),
    "line and column": (
        LINES + table(("rpm", "power", "idle", "infeed rate"), [(120, 3, 0.5, 0.72), (132, 3, 0.5, 0.72)]),
        "infeed_rate must be the same above the table and in its column (got 0.6 and 0.72 mm/min on the radius)",
    ),
    "width": (
        LINES.replace("contact_width;15\n", "") + table(("rpm", "power", "contact width"), [(120, 3, 15), (132, 3, 12)]),
        "contact_width must be the same in every reading",
    ),
    "diameter without a setup": (
        table(("rpm", "power", "idle", "work diameter"), [(120, 3, 0.5, 20), (132, 3, 0.5, 25)]),
        "work_diameter must be the same in every reading unless the setup is complete",
    ),
    "two columns": (
        LINES + table(("rpm", "power", "idle", "infeed", "feed rate"), [(120, 3, 0.5, 0.6, 0.6), (132, 3, 0.5, 0.7, 0.7)]),
        "must have one column of infeed_rate that changes from row to row (got two)",
    ),
    "wheel speed and wheel rpm": (
        LINES + table(("rpm", "power", "idle", "v_s", "wheel rpm"), [(120, 3, 0.5, 25, 2387), (120, 3, 0.5, 22, 2387)]),
        "wheel_speed must agree with wheel_rpm within 1 %",
    ),
    "impossible": (
        LINES + table(("rpm", "power", "idle", "wheel diameter"), [(120, 3, 0.5, 200), (120, 3, 0.5, 200000)]),
        "row 12: wheel_diameter must be <=",
    ),
    "two bases": (
        LINES + "infeed_basis;radius\n" + table(("rpm", "power", "idle", "infeed on dia"), both()),
        "infeed_basis must be diameter",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_computed_is_refused_in_one_line(tmp_path, name):
    text, said = REFUSED[name]
    assert said in refusal(tmp_path, text)


def test_given_energies_need_neither_idle_nor_power(tmp_path):
    rows = [(row[0], energy(SETUP.depth(row[0] ** 2 / 120)), row[3]) for row in both()]
    trial = read(tmp_path, LINES + table(("rpm", "specific energy", "infeed rate"), rows))
    assert trial.knee.verdict == "found" and trial.knee.low <= KNEE <= trial.knee.high
    speeds = [(row[0], row[1], 25 - place) for place, row in enumerate(rows)]
    trial = read(tmp_path, LINES + "infeed_basis;diameter\n" + table(("rpm", "specific energy", "wheel speed"), speeds))
    assert trial.way == "several settings" and len(trial.used) == len(rows) and trial.setup.infeed_rate == 0.3


# --- what is said -----------------------------------------------------------------------------------------------------


def planned(wrong_idle=0.0, pair=True, scatter=0.0):
    """A trial by the plan for rpm and infeed together, load in kW, with an idle reading that is off by a share of net."""
    import random

    draw = random.Random("planned")
    nominal = net_power(120)
    rows = []
    for reading in gf.plan_trial(120, steps="rpm and infeed", infeed_rate=0.6):
        if pair or not reading.note:
            power = net_power(reading.work_rpm, infeed_rate=reading.infeed_rate) * (1 + scatter * draw.gauss(0, 1))
            rows.append((reading.work_rpm, power + 0.5, 0.5 - wrong_idle * nominal, reading.infeed_rate))
    return LINES + table(("rpm", "power", "idle", "infeed rate"), rows)


def test_the_pair_makes_a_wrong_idle_harmless_and_its_load_is_named(tmp_path):
    right, wrong = (read(tmp_path, planned(share, scatter=0.01)) for share in (0, 0.2))
    assert right.way == wrong.way == "rpm and infeed" and right.as_dict()["steps"] == "rpm and infeed"
    assert wrong.knee.verdict == "found" and wrong.knee_rpm == pytest.approx(right.knee_rpm, rel=1e-6)
    assert right.knee_rpm == pytest.approx(118, rel=0.1)
    expected = 0.2 * net_power(120)
    assert wrong.knee.offset - right.knee.offset == pytest.approx(expected * 1000 / (SETUP.removal_rate * 15), rel=1e-6)
    report = wrong.report()
    assert "Load that does not go with removal, left after idle: 0.1" in report and "kW. It was fitted beside the knee" in report
    assert "Stepped: rpm and infeed rate together. An rpm that is given for a depth holds at infeed 0.6 mm/min" in report
    assert "the knee may lie up to 2 % of depth elsewhere (textbook models, nothing measured): confirm" in report


@pytest.mark.parametrize(
    "heads, lines, unit",
    [
        ("power (kW)", LINES, "kW"),
        ("power (kW)", "", "kW"),
        ("power (kW)", LINES.replace("contact_width;15\n", ""), "kW"),
        ("load (%)", LINES, "in the unit of the load readings"),
    ],
)
def test_the_load_that_is_left_after_idle_is_one_as_the_meter_shows_it(tmp_path, heads, lines, unit):
    """Idle is off by 0.3 of the net load at nominal more in the one than in the other."""

    def left(share):
        text = planned(share, scatter=0.01).replace(LINES, lines).replace(";power;", f";{heads};")
        (remark,) = (one for one in read(tmp_path, text).remarks if one.startswith("Load that does not go with removal"))
        load, error, said = remark.partition(": ")[2].partition(". It was")[0].split(" ", 2)
        assert said == unit and float(error.strip("±")) > 0
        return float(load)

    assert left(0.3) - left(0) == pytest.approx(0.3 * net_power(120), abs=0.01)


def test_without_idle_the_pair_serves(tmp_path):
    text = planned(scatter=0.01)
    body = text.replace(";0.5;", ";").replace("power;idle;", "power;")
    bare, right = read(tmp_path, body), read(tmp_path, text)
    assert bare.knee_rpm == pytest.approx(right.knee_rpm, rel=1e-6)
    assert bare.knee.offset - right.knee.offset == pytest.approx(500 / (SETUP.removal_rate * 15), rel=1e-6)


def test_without_the_pair_it_is_said_what_a_wrong_idle_would_do(tmp_path):
    trial = read(tmp_path, planned(pair=False, scatter=0.005))
    assert trial.knee.verdict == "found" and trial.knee.offset is None
    assert any(remark.startswith("If idle were wrong by 5 % of the net load") for remark in trial.remarks)


STEPS = (1, 1.4, 0.6, 1.2, 0.8, 1, 1.3, 0.7, 1.1, 0.9, 1)


def stepped(heads, *settings):
    """A trial of these settings, rpm first, with 0.5 kW idle and the invented energy."""
    rows = []
    for rpm, *own in settings:
        rows.append((rpm, net_power(rpm, **dict(zip(heads, own))) + 0.5, 0.5, *own))
    return table(("rpm", "power", "idle", *(head.replace("_", " ") for head in heads)), rows)


@pytest.mark.parametrize(
    "heads, settings, words, percent",
    [
        (("infeed_rate",), [(120, 0.6 * step**2) for step in STEPS], "the infeed rate", 4),
        (("infeed_rate",), [(120 * step, 0.6 * step) for step in STEPS], "rpm and infeed rate together", 2),
        (("wheel_speed",), [(120, 22 / step) for step in STEPS], "the wheel speed", 2),
        (("infeed_rate", "wheel_speed"), [(120, 0.6 * step, 22 / step**0.5) for step in STEPS], "several settings", 4),
    ],
)
def test_what_was_stepped_and_how_far_the_knee_may_differ_is_told(tmp_path, heads, settings, words, percent):
    lines = LINES.replace("marked_wheel_speed;30", "marked_wheel_speed;40")
    trial = read(tmp_path, lines + stepped(heads, *settings))
    assert trial.knee.verdict == "found"
    assert any(
        remark.startswith(f"Stepped: {words}. An rpm that is given for a depth holds at infeed 0.6 mm/min, ")
        for remark in trial.remarks
    )
    assert any(f"the knee may lie up to {percent} % of depth elsewhere" in remark for remark in trial.remarks)
    bare = read(tmp_path, f"marked_wheel_speed;40\n{stepped(heads, *settings)}")
    assert any("holds at the conditions of the first reading." in remark for remark in bare.remarks)


def test_what_a_wrong_idle_would_do_is_what_it_does(tmp_path):
    """5 % of the net load at the level, taken off more or less in every reading."""
    heads, settings = ("infeed_rate",), [(120 * step, 0.6 * step) for step in STEPS]
    text = stepped(heads, *settings)
    trial = read(tmp_path, LINES + text)
    off = 0.05 * trial.knee.level * SETUP.removal_rate * 15 / 1000
    knees = [read(tmp_path, LINES + text.replace(";0.5;", f";{0.5 + sign * off!r};")).knee.knee for sign in (1, -1)]
    said = f"If idle were wrong by 5 % of the net load the knee would be {min(knees):.4g} to {max(knees):.4g}"
    assert f"{said} µm." in trial.remarks
    scale = trial.depths[0]
    bare = read(tmp_path, text)
    assert f"{said.partition(' be ')[0]} be {min(knees) / scale:.4g} to {max(knees) / scale:.4g} (relative)." in bare.remarks
    energies = read(tmp_path, LINES + table(("rpm", "specific energy", "infeed rate"), [(rpm, energy(SETUP.depth(rpm * infeed / 0.6)), infeed) for rpm, infeed in settings]))  # fmt: skip
    assert not any("idle were wrong" in remark for remark in energies.remarks)


def test_rpm_steps_are_told_nothing_of_all_this(tmp_path):
    trial = read(
        tmp_path, LINES + table(("rpm", "power", "idle", "infeed rate"), [(r, net_power(r) + 0.5, 0.5, 0.6) for r in RPMS])
    )
    assert trial.way == "rpm" and not any("Stepped" in remark or "idle were wrong" in remark for remark in trial.remarks)


def test_the_way_is_known(tmp_path):
    infeeds = [(120, net_power(120, infeed_rate=f) + 0.5, 0.5, f) for f in (0.6, 0.8, 0.4, 0.7, 0.5, 0.6)]
    assert read(tmp_path, LINES + table(("rpm", "power", "idle", "infeed"), infeeds)).way == "infeed"
    speeds = [(120, net_power(120, wheel_speed=v) + v * v / 1000, v * v / 1000, v) for v in (25, 22, 28, 19, 16, 25)]
    trial = read(tmp_path, LINES + table(("rpm", "power", "idle", "wheel speed"), speeds))
    assert trial.way == "wheel speed" and trial.energies == pytest.approx([energy(depth) for depth in trial.depths])


def test_damage_without_the_setting_that_its_row_needs_is_nowhere_and_withdraws_the_rpm(tmp_path):
    """A row that is set aside has no infeed rate, and there is none for all rows: its rpm alone tells no depth."""
    lines = [f"{word};{value}" for word, value in dict(SETUP_LINES, idle=0).items() if word != "infeed_rate"]
    setup = gf.Setup(**{**SETUP_LINES, "infeed_rate": 0.6})
    rows = [f"{rpm};{1.2 * (1 + 3.5 * max(0, 1 - setup.depth(rpm) / 1.36)):.4f};0.6;;" for rpm in range(48, 200, 12)]
    rows.append("160;1.8;0.9;;")
    head = [*lines, "rpm;power (kW);infeed rate (mm/min);use?;damage"]
    for typed, damage_depths in (("0.6", 1), ("", 0), ("x", 0), ("0", 0), ("-0.6", 0)):
        path = tmp_path / "trial.csv"
        path.write_text("\n".join([*head, *rows, f"40;2.4;{typed};no;burn"]) + "\n", encoding="utf-8")
        trial = gf.read_trial(path)
        (seen,) = [reading for reading in trial.readings if reading.damage]
        assert trial.knee.verdict == "found" and (seen.depth is not None) == bool(damage_depths)
        assert (trial.knee_rpm is not None) == bool(damage_depths)


SETUP_LINES = dict(work_diameter=20, wheel_speed=22, wheel_diameter=200, side="external", grit_density=18.9, shape_ratio=10)


@pytest.mark.parametrize("infeed, is_another", [(0.605, False), (0.594, False), (0.612, True), (0.5939, True)])
def test_an_infeed_rate_within_one_percent_is_the_same_setting(tmp_path, infeed, is_another):
    """Net current does not go with removal: it is taken only where that stays the same."""
    text = LINES + table(("rpm", "current", "idle", "infeed rate"), [(120, 9, 4, 0.6), (132, 8.9, 4, infeed), (108, 9.3, 4, 0.6)])
    if is_another:
        assert "readings must be power in kW, or a meter that rises evenly with power" in refusal(tmp_path, text)
    else:
        assert len(read(tmp_path, text).used) == 3


@pytest.mark.parametrize("speed, is_another", [(25.4, False), (25.8, True)])
def test_a_wheel_speed_within_two_percent_keeps_its_idle(tmp_path, speed, is_another):
    text = LINES + table(("rpm", "power", "idle", "wheel speed"), [(120, 9, 4, 25), (132, 8.9, None, speed), (108, 9.3, 4, 25)])
    text = "idle;4\n" + text
    if is_another:
        assert "idle must be read at each wheel speed, a value in every row" in refusal(tmp_path, text)
    else:
        assert len(read(tmp_path, text).used) == 3


@pytest.mark.parametrize("row", [(144, None, 0.5, 0.9), (None, 3, 0.5, 0.9), (144, "x", 0.5, 0.9), ("x", 3, 0.5, 0.9)])
def test_rows_that_are_no_readings_do_not_make_a_setting_change(tmp_path, row):
    rows = [(120, 3, 0.5, 0.6), (132, 3, 0.5, 0.6), row]
    trial = read(tmp_path, LINES + table(("rpm", "power", "idle", "infeed rate"), rows))
    assert [reading.infeed_rate for reading in trial.readings] == [None, None, None] and len(trial.used) == 2


@pytest.mark.parametrize(
    "heads, changed, way",
    [
        ("infeed rate", [(0.6, 120), (0.7, 120), (0.5, 120)], "infeed"),
        ("infeed rate", [(0.6, 120), (0.7, 140), (0.5, 100)], "rpm and infeed"),
        ("infeed rate", [(0.6, 120), (0.6, 140), (0.6, 100)], "rpm"),
        ("wheel speed", [(25, 120), (22, 120), (19, 120)], "wheel speed"),
        ("wheel speed", [(25, 120), (22, 140), (19, 100)], "several settings"),
        ("work diameter", [(20, 120), (25, 120), (22, 120)], "several settings"),
        ("wheel diameter", [(200, 120), (180, 120), (190, 120)], "several settings"),
        ("infeed rate", [(0.6, 120), (0.603, 121), (0.6, 120)], "rpm"),
    ],
)
def test_the_way_is_what_changes_from_reading_to_reading(tmp_path, heads, changed, way):
    """A setting that the rows do not have is the setup's, and changes within a percent are none."""
    rows = [(rpm, 3, 0.5, value) for value, rpm in changed] + [(120, 3, 0.5, None)]
    trial = read(tmp_path, LINES + table(("rpm", "power", "idle", heads), [(*row[:2], row[2], row[3]) for row in rows]))
    assert trial.way == way


def test_a_row_set_aside_does_not_make_a_setting_change(tmp_path):
    heads, rows = ("rpm", "power", "idle", "infeed rate", "use"), [(120, 3, 0.5, 0.6, ""), (132, 3, 0.5, 0.6, "yes")]
    for use, infeeds in (("no", [None] * 3), ("yes", [0.6, 0.6, 0.9])):
        trial = read(tmp_path, LINES + table(heads, [*rows, (144, 3, 0.5, 0.9, use)]))
        assert [reading.infeed_rate for reading in trial.readings] == infeeds


def test_an_infeed_rate_beside_given_depths_tells_the_energy(tmp_path):
    rows = [(1.2, 3, 0.5, 0.6), (1.2, 3, 0.5, 0.9)]
    trial = read(tmp_path, LINES + table(("grit depth", "power", "idle", "infeed rate"), rows))
    assert trial.energies[0] == pytest.approx(1.5 * trial.energies[1]) and trial.depths == (1.2, 1.2)


def test_a_wheel_rpm_above_the_table_gives_no_row_a_wheel_speed_of_its_own(tmp_path):
    """It is the setup's, 2387.324 1/min of 200 mm; what a column says goes before it."""
    lines = LINES.replace("wheel_speed;25", "wheel_rpm;2387.324")
    heads = ("rpm", "power", "idle", "infeed rate")
    trial, before = read(tmp_path, lines + table(heads, both())), read(tmp_path, LINES + table(heads, both()))
    assert {reading.wheel_speed for reading in trial.used} == {None} and trial.way == "rpm and infeed"
    assert trial.depths == pytest.approx(before.depths, rel=1e-6)
    rows = [(120, 3, 0.5, 25), (120, 3, 0.5, 20)]
    own = read(tmp_path, lines + table(("rpm", "power", "idle", "wheel speed"), rows))
    assert [reading.wheel_speed for reading in own.used] == [25, 20]


def test_limits_of_the_machine_hold_for_what_each_row_has_of_its_own(tmp_path):
    """Q'w is pi d_w v_f / 60: 0.88 mm³/(mm·s) at 0.84 mm/min; the work at 168 1/min turns with 10.56 m/min."""
    limits = "highest_infeed_rate;0.8\nhighest_removal_rate;0.85\nhighest_speed_ratio;200\nlowest_speed_ratio;150\n"
    rows = [(120, 3, 0.5, 0.6, 25), (168, 3, 0.5, 0.84, 25), (120, 3, 0.5, 0.5, 20), (120, 3, 0.5, 0.5, 28)]
    heads = ("rpm", "power", "idle", "infeed rate", "wheel speed")
    trial = read(tmp_path, LINES + limits + table(heads, [*rows, ("x", 3, 0.5, 0.9, 25)]))
    assert {check.partition("limits, ")[2] for check in trial.checks if "limits" in check} == {
        "infeed too high: highest infeed rate is 0.8 mm/min (row 16: 0.84).",
        "ratio too high: highest speed ratio is 200 (row 18: 222.8).",
        "ratio too low: lowest speed ratio is 150 (row 16: 142.1).",
        "Q'w too high: highest removal rate is 0.85 mm³/(mm·s) (row 16: 0.8796).",
    }


def test_a_blank_wheel_speed_is_that_of_the_lines_and_a_change_of_speed_among_the_others(tmp_path):
    """25 m/s above the table, 20 m/s in two rows: without the speed marked on the wheel that is not read."""
    lines = LINES.replace("marked_wheel_speed;30\n", "")
    rows = [(120, 3, 0.5, None), (132, 3, 0.5, 20), (144, 3, 0.5, 20)]
    heads = ("rpm", "power", "idle", "wheel speed")
    assert "marked_wheel_speed must be given where the wheel speed changes between rows (got blank)" in refusal(
        tmp_path, lines + table(heads, rows)
    )
    assert len(read(tmp_path, LINES + table(heads, rows)).used) == 3


@pytest.mark.parametrize("rpm", ["1e308", "1e-308"])
def test_damage_at_an_rpm_that_no_depth_can_be_computed_with_is_at_no_known_depth(tmp_path, rpm):
    heads = ("rpm", "power", "use", "damage")
    trial = read(tmp_path, LINES + table(heads, [(120, 3, "", ""), (rpm, 3, "no", "burn")]))
    assert [reading.depth is None for reading in trial.readings] == [False, True] and trial.damage == ((12, "burn"),)


@pytest.mark.parametrize(
    "heading, usual, odd",
    [("infeed rate", 0.6, 90), ("wheel speed", 25, 6), ("work diameter", 20, 900), ("wheel diameter", 200, 1300)],
)
def test_what_a_row_has_of_its_own_is_named_where_it_is_unusual(tmp_path, heading, usual, odd):
    trial = read(tmp_path, LINES + table(("rpm", "power", "idle", heading), [(120, 3, 0.5, usual), (120, 9, 0.5, odd)]))
    label = QUANTITIES[heading.replace(" ", "_")].label
    assert any(check.startswith(f"Check the {label}: usual is ") and f" (row 12: {odd})." in check for check in trial.checks)
