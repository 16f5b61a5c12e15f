"""plunge_cycle.xlsx: cached values = LibreOffice = Python, every word driven, nonsense stopped, costs by a textbook's ratio."""

from __future__ import annotations

import math

import openpyxl
import pytest
from open_book import OpenBook
from test_templates import cells_by_name, differences, same, saved

import gritfuncs as gf
from gritfuncs.planning import LIMIT_WORDS
from gritfuncs.spreadsheets.evaluate import workbook_values
from gritfuncs.workbooks.plunge_cycle import build as plunge_cycle
from gritfuncs.workbooks.plunge_cycle.stages import ABOVE, BELOW, PLUNGES, STAGES, TOO_FAST

NO_ROUGH = dict(rough_infeed_rate=None, rough_stock=None, rough_work_rpm=None)
NO_SEMI = dict(semi_infeed_rate=None, semi_stock=None, semi_work_rpm=None)
NO_SPARK = dict(spark_revolutions=None, spark_work_rpm=None)
TRAVERSE = dict(
    traverse_stock=0.004,
    traverse_work_rpm=90.0,
    traverse_passes=2,
    traverse_rate=450.0,
    traverse_ground_length=30.0,
    traverse_overrun=0.0,
)
CASES = {
    "example": {},
    "internal on the diameter": dict(
        side="internal",
        infeed_basis="diameter",
        work_diameter=60.0,
        wheel_diameter=45.0,
        wheel_speed=28.0,
        grit_size=64.0,
        target_depth=0.8,
        new_wheel_diameter=46.0,
        smallest_wheel_diameter=40.0,
        rough_infeed_rate=0.5,
        rough_work_rpm=90.0,
        **NO_SEMI,
    ),
    "traverse, no spark-out, own energies": dict(
        finish_specific_energy=160.0, traverse_specific_energy=210.5, **{**TRAVERSE, "traverse_overrun": 4.5}, **NO_SPARK
    ),
    "no power, no cost": dict(
        contact_width=None,
        specific_energy=None,
        idle_power=None,
        highest_power=None,
        hourly_rate=None,
        other_time=None,
        wheel_price=None,
        grinding_ratio=None,
        wheel_speed=None,
        wheel_rpm=2000.0,
        **NO_ROUGH,
    ),
    "one stage": dict(grit_density=12.0, side=1, wheel_price=None, **NO_ROUGH, **NO_SEMI, **NO_SPARK),
    "width only": dict(specific_energy=None, idle_power=None, highest_power=None, new_wheel_diameter=None, **TRAVERSE),
}
UNKNOWN = "not known"


def expected(given):
    """{name without out_: value} by the library's functions and plain arithmetic; stages that are not used have no entry."""
    v = {**plunge_cycle.defaults(), **given}
    factor = {"radius": 1.0, "diameter": 0.5}[v["infeed_basis"]]
    side = {"external": 1, "internal": -1}.get(v["side"], v["side"])
    wheel_speed = v.get("wheel_speed") or gf.wheel_speed(v["wheel_diameter"], v["wheel_rpm"])
    size = v["grit_size"] if isinstance(v["grit_size"], float) else gf.mean_grit_size(v["grit_size"])
    density = v.get("grit_density") or gf.grit_density(size, v["concentration"], v["active_fraction"])
    grits = dict(wheel_speed=wheel_speed, grit_density=density, shape_ratio=v["shape_ratio"])
    wheel = dict(wheel_diameter=v["wheel_diameter"], side=side)
    low, high = (v["target_depth"] * (1 + sign * v["band"] / 100) for sign in (-1, 1))
    width = v.get("contact_width")
    found, diameter = {}, v["work_diameter"]
    powers, time, volume, first_word = [], 0.0, 0.0, "ok"
    for stage in reversed(STAGES):
        rpm = v.get(f"{stage.name}_work_rpm")
        if rpm is None:
            continue
        speed = gf.work_speed(diameter, rpm)
        here = dict(work_diameter=diameter, work_speed=speed, speed_ratio=gf.speed_ratio(wheel_speed, speed))
        ends = [dict(work_rpm=rpm, speed_ratio=here["speed_ratio"])]  # what is limited, at the end and at the start of the stage
        depths = []
        if stage.name == "spark":
            here["time"] = v["spark_revolutions"] / (rpm / 60)
        else:
            stock = factor * v[f"{stage.name}_stock"]
            start = diameter + 2 * side * stock
            start_speed = gf.work_speed(start, rpm)
            if stage in PLUNGES:
                rate = factor * v[f"{stage.name}_infeed_rate"]
                here.update(
                    infeed_rate=rate,
                    depth_of_cut=gf.depth_of_cut(rate, rpm),
                    removal_rate=gf.removal_rate(diameter, rate),
                    grit_depth=gf.plunge_grit_depth(rpm, diameter, rate, **wheel, **grits),
                    target_rpm=gf.work_rpm_for(v["target_depth"], diameter, rate, **wheel, **grits),
                    time=stock / (rate / 60),
                )
                started = dict(
                    start_removal_rate=gf.removal_rate(start, rate),
                    start_grit_depth=gf.plunge_grit_depth(rpm, start, rate, **wheel, **grits),
                )
                cut_width = ground = width
            else:
                cut = dict(
                    depth_of_cut=1000 * stock / v["traverse_passes"],
                    equivalent_diameter=gf.equivalent_diameter(v["wheel_diameter"], diameter, side),
                )
                cut_width, ground = v["traverse_rate"] / rpm, v["traverse_ground_length"]
                started_cut = dict(cut, equivalent_diameter=gf.equivalent_diameter(v["wheel_diameter"], start, side))
                started = dict(
                    start_removal_rate=gf.pass_removal_rate(cut["depth_of_cut"], start_speed),
                    start_grit_depth=gf.grit_depth(start_speed, **started_cut, **grits),
                )
                here.update(
                    depth_of_cut=cut["depth_of_cut"],
                    removal_rate=gf.pass_removal_rate(cut["depth_of_cut"], speed),
                    grit_depth=gf.grit_depth(speed, **cut, **grits),
                    feed=cut_width,
                    target_rpm=gf.work_rpm(diameter, gf.work_speed_for(v["target_depth"], **cut, **grits)),
                    time=v["traverse_passes"] * (ground + v["traverse_overrun"]) / (v["traverse_rate"] / 60),
                )
            energy = v.get(f"{stage.name}_specific_energy") or v["specific_energy"]
            known = energy and cut_width and v["idle_power"] is not None
            here.update(started, start_speed_ratio=gf.speed_ratio(wheel_speed, start_speed))
            power, start_power = (
                energy * here[f"{at}removal_rate"] * cut_width / 1000 + v["idle_power"] if known else UNKNOWN
                for at in ("", "start_")
            )
            removed = math.pi * (start + diameter) / 2 * stock * ground if ground else UNKNOWN
            here.update(
                stock=stock,
                start_diameter=start,
                specific_energy=energy or UNKNOWN,
                power=power,
                start_power=start_power,
                volume=removed,
            )
            names = ("speed_ratio", "removal_rate", "power")
            ends = [{name: here[at + name] for name in names if here[at + name] != UNKNOWN} for at in ("", "start_")]
            ends = [dict(end, work_rpm=rpm, **({"infeed_rate": rate} if stage in PLUNGES else {})) for end in ends]
            powers += [power, start_power] if known else []
            depths = [here["grit_depth"], here["start_grit_depth"]]
            volume += removed if ground else 0.0
            diameter = start
        limits = gf.Limits(**{name: v[name] for name, _, _ in LIMIT_WORDS})
        broken = {word for end in ends for word in gf.planning.broken_limits(end, limits)}
        word = next((word for _, _, word in LIMIT_WORDS if word in broken), "ok")
        if word == "ok" and here.get("feed", 0) > (v["wheel_width"] or math.inf):
            word = TOO_FAST
        if word == "ok" and depths:
            word = BELOW if min(depths) < low else ABOVE if max(depths) > high else "ok"
        here.update(word=word, turns=rpm / 60 * here["time"])
        first_word = first_word if word == "ok" else f"{stage.label}: {word}"
        time += here["time"]
        found.update({f"{stage.name}_{name}": value for name, value in here.items()})
    cycle = time + (v["other_time"] or 0.0)
    layer = v["new_wheel_diameter"] and v["smallest_wheel_diameter"] and v["wheel_width"]
    usable = (
        math.pi / 4 * (v["new_wheel_diameter"] ** 2 - v["smallest_wheel_diameter"] ** 2) * v["wheel_width"] if layer else UNKNOWN
    )
    wear = volume / v["grinding_ratio"] if width and v["grinding_ratio"] else UNKNOWN
    parts = usable / wear if UNKNOWN not in (usable, wear) else UNKNOWN
    wheel_cost = v["wheel_price"] / parts if parts != UNKNOWN and v["wheel_price"] is not None else UNKNOWN
    machine_cost = v["hourly_rate"] / 3600 * cycle if v["hourly_rate"] is not None else UNKNOWN
    return dict(
        found,
        cycle_word=first_word,
        grinding_time=time,
        cycle_time=cycle,
        parts_per_hour=3600 / cycle,
        highest_stage_power=max(powers) if powers else UNKNOWN,
        work_volume=volume if width else UNKNOWN,
        usable_volume=usable,
        wheel_wear=wear,
        parts_per_wheel=parts,
        wheel_cost=wheel_cost,
        machine_cost=machine_cost,
        start_diameter=diameter,
        part_cost=wheel_cost + machine_cost if UNKNOWN not in (wheel_cost, machine_cost) else UNKNOWN,
    )


@pytest.mark.parametrize("case", CASES)
def test_cached_equals_libreoffice_equals_python(case, tmp_path, libreoffice):
    path = saved(plunge_cycle.build, CASES[case], tmp_path)
    recalculated = libreoffice.recalc(path)
    assert differences(path, recalculated) == []
    seen = cells_by_name(path, recalculated)
    wanted = expected(CASES[case])
    assert {name: (seen[f"out_{name}"], value) for name, value in wanted.items() if not same(seen[f"out_{name}"], value)} == {}
    stages = {stage.name for stage in STAGES}
    shown = {
        name[4:]
        for name, value in seen.items()
        if name.startswith("out_") and name.split("_")[1] in stages and value not in (None, "")
    }
    assert shown - set(wanted) - {f"{stage}_{word}" for stage in stages for word in ("used", "label")} <= {
        name for name in shown if name.endswith("equivalent_diameter")
    }
    assert {stage for stage in stages if seen[f"out_{stage}_used"] == 1} == {
        stage for stage in stages if f"{stage}_word" in wanted
    }


WORDS = [
    ("rough", "rpm too high", dict(highest_work_rpm=60.0)),
    ("rough", "rpm too low", dict(lowest_work_rpm=70.0)),
    ("rough", "infeed too high", dict(highest_infeed_rate=0.8)),
    ("finish", "infeed too low", dict(lowest_infeed_rate=0.4)),
    ("rough", "ratio too high", dict(highest_speed_ratio=300.0)),
    ("finish", "ratio too low", dict(lowest_speed_ratio=150.0)),
    ("rough", "Q'w too high", dict(highest_removal_rate=0.9)),
    ("rough", "power too high", dict(highest_power=2.5)),
    ("semi", BELOW, dict(semi_work_rpm=90.0)),
    ("finish", ABOVE, dict(finish_work_rpm=250.0)),
    ("spark", "rpm too high", dict(spark_work_rpm=401.0)),
    ("spark", "rpm too low", dict(spark_work_rpm=19.0)),
    ("spark", "ratio too low", dict(lowest_speed_ratio=100.0, spark_work_rpm=230.0)),
    ("traverse", TOO_FAST, dict(TRAVERSE, traverse_rate=1801.0)),
    ("traverse", BELOW, dict(TRAVERSE, traverse_work_rpm=60.0)),
    ("traverse", ABOVE, dict(TRAVERSE, traverse_stock=0.08)),
    ("traverse", "power too high", dict(TRAVERSE, traverse_specific_energy=3e4)),
]


@pytest.fixture(scope="module")
def book():
    return OpenBook(plunge_cycle.build())


def filled(book, **values):
    blank = {name[3:]: None for name in book.names() if name.startswith("in_")}
    book.fill(**{**blank, **plunge_cycle.defaults(), **values})
    book.read()


def computed(book, values):
    filled(book, **values)
    assert book["out_stops"] == 0
    return book


@pytest.mark.parametrize("stage, word, values", WORDS)
def test_every_word_can_be_driven(book, stage, word, values):
    seen = computed(book, values)
    assert seen[f"out_{stage}_word"] == word == expected(values)[f"{stage}_word"]
    assert seen["out_cycle_word"] == expected(values)["cycle_word"] != "ok"
    looks = [book.at("Checks", f"B{line}") for line in range(1, 120) if book.at("Checks", f"C{line}") == "look"]
    assert "stages outside the band or a limit" in looks


# What changes with the work diameter is judged where it is largest or smallest: 3 mm of stock on 20 mm change it much.
FREE = dict(dict.fromkeys(name for name, _, _ in LIMIT_WORDS), band=20.0, rough_stock=3.0, **NO_SEMI, **NO_SPARK)
BORE = dict(side="internal", work_diameter=60.0, wheel_diameter=45.0, new_wheel_diameter=46.0, smallest_wheel_diameter=40.0)
LARGEST_AT = {"start_": FREE, "": dict(FREE, **BORE)}  # power, removal rate and depth; an outside is large first, a bore last
OTHER = {"start_": "", "": "start_"}
A_LITTLE = 1 + 1e-6


def test_a_plunge_of_much_stock_is_judged_at_its_start(book):
    """By hand: 3 + 0.08 + 0.02 mm on each side of 20 mm are 26.2 mm at the start of the stage, 20.2 mm at its end."""
    seen = computed(book, dict(rough_stock=3.0, highest_power=2.8))
    assert (seen["out_rough_start_diameter"], seen["out_rough_work_diameter"]) == (pytest.approx(26.2), pytest.approx(20.2))
    removal_rate = math.pi * 26.2 * 0.9 / 60
    power = 118.0 * removal_rate * 15.0 / 1000 + 0.86
    assert seen["out_rough_word"] == "power too high" and seen["out_cycle_word"] == "rough: power too high"
    assert seen["out_rough_start_removal_rate"] == pytest.approx(removal_rate, rel=1e-12)
    assert seen["out_rough_start_power"] == seen["out_highest_stage_power"] == pytest.approx(power, rel=1e-12)
    # h² goes with v_w / √d_e, where d_e = d_s d_w / (d_s + d_w) and d_s = 200 mm
    grown = math.sqrt((26.2 / 20.2) / math.sqrt((26.2 / 226.2) / (20.2 / 220.2)))
    assert seen["out_rough_start_grit_depth"] == pytest.approx(seen["out_rough_grit_depth"] * grown, rel=1e-12)


@pytest.mark.parametrize("end", LARGEST_AT)
@pytest.mark.parametrize("limit", ["highest_power", "highest_removal_rate", "lowest_speed_ratio", "highest_speed_ratio"])
def test_a_limit_is_compared_with_the_worse_end_of_a_stage(book, end, limit):
    """Power and removal rate are largest, the speed ratio is smallest, at the larger diameter."""
    quantity, outwards = limit.partition("_")[2], 1 if limit.startswith("highest") else -1
    worse = OTHER[end] if limit == "highest_speed_ratio" else end
    values = expected(LARGEST_AT[end])
    value = values[f"rough_{worse}{quantity}"]
    assert (value - values[f"rough_{OTHER[worse]}{quantity}"]) * outwards > 0
    word = next(word for name, _, word in LIMIT_WORDS if name == limit)
    for tight, broken in ((value, False), (value * A_LITTLE**outwards, False), (value / A_LITTLE**outwards, True)):
        seen = computed(book, dict(LARGEST_AT[end], **{limit: tight}))
        assert (seen["out_rough_word"] == word) == broken


@pytest.mark.parametrize("end", LARGEST_AT)
def test_the_band_is_compared_with_both_ends_of_a_stage(book, end):
    values = expected(LARGEST_AT[end])
    deep, shallow = values[f"rough_{end}grit_depth"], values[f"rough_{OTHER[end]}grit_depth"]
    assert deep > 1.01 * shallow
    middle, half = (deep + shallow) / 2, 100 * (deep - shallow) / (deep + shallow)
    for target, band, wanted in (
        (middle, half, "ok"),
        (middle, half * A_LITTLE, "ok"),
        (shallow / (1 - half / 100) * A_LITTLE, half * 1.1, "ok"),
        (shallow / (1 - half / 100) * A_LITTLE, half, BELOW),
        (deep / (1 + half / 100) / A_LITTLE, half, ABOVE),
    ):
        assert computed(book, dict(LARGEST_AT[end], target_depth=target, band=band))["out_rough_word"] == wanted


def test_the_words_driven_are_all_that_there_are():
    assert {word for _, word, _ in WORDS} == {word for _, _, word in LIMIT_WORDS} | {BELOW, ABOVE, TOO_FAST}


def test_a_limit_just_reached_is_kept_and_the_rpm_shown_for_the_target_holds_it(book):
    wanted = expected({})
    seen = computed(
        book,
        dict(
            highest_work_rpm=205.0,
            highest_infeed_rate=0.9,
            lowest_infeed_rate=0.3,
            highest_removal_rate=wanted["rough_start_removal_rate"],
            **{f"{stage.name}_work_rpm": wanted[f"{stage.name}_target_rpm"] for stage in PLUNGES},
        ),
    )
    assert seen["out_cycle_word"] == "ok"
    assert [seen[f"out_{stage.name}_grit_depth"] for stage in PLUNGES] == pytest.approx([1.36] * 3, rel=1e-12)


def test_wheel_lost_per_part_by_the_grinding_ratio_of_a_textbook(book):
    """Groover, internal grinding problem (recalled): bore 250 to 252.5 mm, 125 mm long, G = 104.77481, wheel loses 1177.1155 mm³."""
    seen = computed(
        book,
        dict(
            side="internal",
            infeed_basis="diameter",
            work_diameter=252.5,
            contact_width=125.0,
            wheel_diameter=150.0,
            wheel_width=130.0,
            rough_stock=2.0,
            semi_stock=0.4,
            finish_stock=0.1,
            grinding_ratio=104.77481,
        ),
    )
    assert seen["out_start_diameter"] == pytest.approx(250.0, rel=1e-14)
    assert seen["out_work_volume"] == pytest.approx(123332.055, rel=1e-8)
    assert seen["out_wheel_wear"] == pytest.approx(1177.1155, rel=1e-7)


BAD = [
    (dict(wheel_speed=35.1), "marked on the wheel"),
    (dict(marked_wheel_speed=None), "marked on the wheel"),
    (dict(target_depth=0), "target grit depth"),
    (dict(work_diameter="x"), "finished work diameter"),
    (dict(rough_stock=None), "rough: its inputs"),
    (dict(semi_work_rpm=-5.0), "semi-finish: its inputs"),
    (dict(finish_infeed_rate="slow"), "finish: its inputs"),
    (dict(spark_work_rpm=None), "spark-out: its inputs"),
    (dict(TRAVERSE, traverse_overrun=None), "traverse: its inputs"),
    (dict(TRAVERSE, traverse_passes=1.5), "passes is whole"),
    (dict(TRAVERSE, traverse_passes=0), "traverse: its inputs"),
    (dict(TRAVERSE, wheel_width=None), "width of the wheel face is given"),
    (dict(rough_specific_energy=0), "rough: specific energy"),
    (dict(NO_ROUGH, **NO_SEMI, finish_infeed_rate=None, finish_stock=None, finish_work_rpm=None), "at least one plunge stage"),
    (dict(side="flat"), "external or internal"),
    (dict(side="internal"), "fits the bore"),
    (dict(side="internal", work_diameter=200.5), "fits the bore"),
    (dict(infeed_basis="both"), "infeed rate as the machine shows it"),
    (dict(idle_power=None), "power can be compared"),
    (dict(smallest_wheel_diameter=203.0), "smaller diameter than new"),
    (dict(grinding_ratio=0), "grinding ratio"),
    (dict(hourly_rate=-1), "rate of the machine"),
    (dict(lowest_infeed_rate=3.0), "not above the highest"),
]


@pytest.mark.parametrize("values, said", BAD)
def test_nonsense_stops_all_results_and_is_named(book, values, said):
    filled(book, **values)
    seen = book.results()
    assert seen["out_check"].startswith("STOP") and said in seen["out_check"]
    steps = {
        "wheel_speed",
        "side",
        "grit_size",
        "grit_density",
        "infeed_factor",
        "target_low",
        "target_high",
        "start_diameter",
        "length_factor",
        "energy_factor",
        "state",
        "first_stop",
        "first_look",
        "check",
        "stops",
        "looks",
        "ready",
        *(f"{stage.name}_{word}" for stage in STAGES for word in ("label", "used")),
    }
    results = {name[4:]: value for name, value in seen.items() if name[4:] not in steps}
    assert results.pop("cycle_word").startswith("STOP")
    assert [name for name, value in results.items() if value not in (None, "") and not str(value).startswith("#")] == []


def test_looks_are_asked_for(book):
    for values, said in (
        (dict(new_wheel_diameter=199.0), "usable layer"),
        (dict(smallest_wheel_diameter=201.0), "usable layer"),
        (dict(wheel_width=14.0), "larger than the wheel face"),
    ):
        assert said in computed(book, values)["out_check"]


def test_the_charts_show_what_the_stages_say(tmp_path):
    path = saved(plunge_cycle.build, TRAVERSE, tmp_path)
    rows = [
        tuple(cell.value for cell in row[:3])
        for row in openpyxl.load_workbook(path, data_only=True)["calc charts"].iter_rows(min_row=7)
    ]
    wanted = expected(TRAVERSE)
    stock = [(time, value) for label, time, value in rows if label.startswith("stock left")]
    assert stock[0] == (0, pytest.approx(sum(wanted[f"{name}_stock"] for name in ("rough", "semi", "finish", "traverse"))))
    assert stock[-1] == (pytest.approx(wanted["grinding_time"]), 0)
    assert [one[1] >= other[1] for one, other in zip(stock, stock[1:])] == [True] * 5
    for stage in STAGES:
        depths = [value for label, _, value in rows if label == f"grit depth, {stage.label}, µm"]
        ends = [wanted.get(f"{stage.name}_{at}grit_depth") for at in ("start_", "")]
        assert depths == ([] if stage.name == "spark" else pytest.approx(ends))
    for edge, sign in (("lower", -1), ("upper", 1)):
        given = {**plunge_cycle.defaults(), **TRAVERSE}
        band = given["target_depth"] * (1 + sign * given["band"] / 100)
        drawn = [row[1:] for row in rows if row[0] == f"{edge} edge of the band, µm"]
        assert drawn == [(0, pytest.approx(band)), (pytest.approx(wanted["grinding_time"]), pytest.approx(band))]


@pytest.mark.parametrize(
    "values, row, said",
    [
        (dict(rough_infeed_rate=90.0), 7, "infeed rate as the machine shows it: usually 0.01 to 10 mm/min"),
        (dict(rough_infeed_rate=19.0, infeed_basis="diameter"), 7, ""),
        (dict(semi_work_rpm=4.0), 9, "work rpm: usually 5 to 2000 1/min"),
        (dict(spark_work_rpm=2001.0), 9, "work rpm: usually 5 to 2000 1/min"),
        (dict(finish_specific_energy=5.0), 15, "specific energy of this stage: usually 10 to 500 J/mm³"),
        (dict(rough_stock=30.0), 8, "stock as the machine shows it: usually 0.001 to 5 mm"),
    ],
)
def test_an_unusual_input_of_a_stage_is_named_beside_it_and_among_the_checks(book, values, row, said):
    computed(book, dict(dict.fromkeys(name for name, _, _ in LIMIT_WORDS), **values))
    looks = [book.at("Checks", f"B{line}") for line in range(1, 120) if book.at("Checks", f"C{line}") == "look"]
    assert [look for look in looks if "usually" in look] == ([said] if said else [])
    beside = {line: str(book.at("Cycle", f"H{line}")) for line in range(7, 16)}
    assert [line for line, text in beside.items() if text.startswith("! usually")] == ([row] if said else [])


def test_an_impossible_input_of_a_stage_stops(book):
    for values, said in ((dict(semi_work_rpm=1e6), "work rpm"), (dict(rough_infeed_rate=1e5), "infeed rate as the machine")):
        book.fill(**{**plunge_cycle.defaults(), **values})
        book.read()
        assert book["out_check"].startswith("STOP") and said in book["out_check"]


def test_inch_and_metric_give_the_same_cycle_and_show_it_in_the_units_chosen(book):
    """The same machine, wheel and stages typed in inches, ft/min, hp; factors exact by definition (inch 1959, 550 ft lbf/s)."""
    inch, foot, horsepower = 25.4, 0.3048, 0.74569987158227022
    lengths = "wheel_diameter work_diameter contact_width new_wheel_diameter smallest_wheel_diameter wheel_width".split()
    stages = [f"{stage}_{word}" for stage in ("rough", "semi", "finish") for word in ("infeed_rate", "stock")]
    traverse = ["traverse_stock", "traverse_rate", "traverse_ground_length", "traverse_overrun"]
    factors = {
        **dict.fromkeys((*lengths, *stages, *traverse, "lowest_infeed_rate", "highest_infeed_rate"), inch),
        **dict.fromkeys(("wheel_speed", "marked_wheel_speed"), foot / 60),
        **dict.fromkeys(("idle_power", "highest_power"), horsepower),
        **dict.fromkeys(("specific_energy", "finish_specific_energy"), horsepower * 60e3 / inch**3),
        "highest_removal_rate": inch**2 / 60,
    }
    more = dict(traverse_overrun=4.5, finish_specific_energy=150.0, highest_removal_rate=3.0)
    metric = {**plunge_cycle.defaults(), **TRAVERSE, **more}
    typed = {name: value / factors[name] if name in factors and value is not None else value for name, value in metric.items()}
    seen = []
    for values in (metric, {**typed, "units": "inch"}):
        computed(book, values)
        assert book["out_ready"] == 1, book["out_check"]
        seen.append(book.results())
    assert seen[1]["out_state"].startswith("Wheel 4331 ft/min")
    apart = ("out_length_factor", "out_energy_factor", "out_state", "out_check", "out_first_look", "out_looks")
    compared = [name for name in seen[0] if name not in apart]
    assert len(compared) > 80
    for name in compared:
        left, right = seen[0][name], seen[1][name]
        assert left == right if isinstance(left, str) or left is None else right == pytest.approx(left, rel=1e-9), name
    rows = {book.at("Cycle", f"A{row}"): (book.at("Cycle", f"B{row}"), book.at("Cycle", f"C{row}")) for row in range(18, 41)}
    unit, shown = rows["work speed"]
    assert unit == "ft/min" and shown == pytest.approx(seen[0]["out_rough_work_speed"] / foot, rel=1e-9)
    unit, shown = rows["grit depth"]
    assert unit == "µm" and shown == pytest.approx(seen[0]["out_rough_grit_depth"], rel=1e-9)


@pytest.mark.parametrize(
    "name, unknown",
    [
        ("idle_power", "rough_power finish_power highest_stage_power"),
        ("contact_width", "rough_power rough_volume work_volume wheel_wear wheel_cost part_cost"),
        ("specific_energy", "rough_power highest_stage_power"),
        ("wheel_width", "usable_volume parts_per_wheel wheel_cost part_cost"),
        ("new_wheel_diameter", "usable_volume parts_per_wheel part_cost"),
        ("smallest_wheel_diameter", "usable_volume parts_per_wheel part_cost"),
        ("grinding_ratio", "wheel_wear parts_per_wheel wheel_cost part_cost"),
        ("wheel_price", "wheel_cost part_cost"),
        ("hourly_rate", "machine_cost part_cost"),
    ],
)
def test_what_an_input_that_is_blank_leaves_unknown_says_so(book, name, unknown):
    results = {f"out_{word}" for word in unknown.split()}
    computed(book, {})
    assert all(isinstance(book[result], float) for result in results)
    computed(book, {name: None, "highest_power": None})
    assert {result for result in results if book[result] == UNKNOWN} == results
    assert isinstance(book["out_cycle_time"], float)


def test_a_switch_of_units_alone_is_named_at_the_cells(book):
    """Millimetres left standing under inches: a wheel of 200 in, an infeed of 0.9 in/min."""
    filled(book, units="inch")
    said = [book.at("Inputs", f"F{row}") for row in range(1, 80)]
    named = [text for text in said if str(text).startswith("! ")]
    assert any("in: look again" in text for text in named) and len(named) >= 3
    assert str(book.at("Cycle", "H7")).startswith("! usually") and "in/min" in book.at("Cycle", "H7")


def test_a_cycle_beyond_a_limit_or_stopped_says_so_in_sight(book):
    computed(book, dict(plunge_cycle.defaults(), rough_work_rpm=90.0))
    assert book.at("Results", "A4") == "no" and book.at("Results", "A5") == f"! {book['out_cycle_word']}"
    filled(book, wheel_speed=40.0)
    assert book.at("Results", "A4") == book.at("Results", "C4") == "STOP"
    assert book["out_state"].startswith("STOP: the wheel runs at 40.0 m/s, above the 35.0 m/s marked on it")
    shown = [book.at("Cycle", f"{letter}{row}") for letter in "CDEFG" for row in range(18, 41)]
    assert {value for value in shown if value is not None} <= {"-"}


def test_every_number_of_the_stages_is_shown_with_three_figures_or_so(as_built):
    """As shipped: what is shown is off by half a percent at most, and no number has more than six figures."""
    workbook = as_built("plunge_cycle.xlsx")
    values = workbook_values(workbook)
    seen = 0
    for sheet in ("Cycle", "calc cycle", "Results"):
        for cell in (cell for row in workbook[sheet].iter_rows() for cell in row):
            value = values[sheet].get(cell.coordinate)
            if isinstance(value, float) and value and set(cell.number_format) <= set("0."):
                decimals = len(cell.number_format.partition(".")[2])
                assert abs(round(value, decimals) - value) <= 0.005 * abs(value), f"{sheet} {cell.coordinate}"
                assert decimals == 0 or decimals + math.log10(abs(value)) < 6, f"{sheet} {cell.coordinate}"
                seen += 1
    assert seen > 50
