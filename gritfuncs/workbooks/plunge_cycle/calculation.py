"""The sheet `calc cycle` of plunge_cycle.xlsx: what follows from each stage, in shop units, by the names out_<stage>_<word>."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Callable

from openpyxl.utils import get_column_letter

from ...sheets.book import Book
from ...sheets.checks import OK
from ...sheets.conditions import are_numbers, first_of, quoted
from ...sheets.page import Page
from ...sheets.styles import number_format
from ..blocks.limits import above, below, limit_cases
from ..blocks.wheel import formula
from .stages import (
    ABOVE,
    BELOW,
    CALC,
    FIRST_COLUMN,
    FIRST_INPUT_ROW,
    INPUTS,
    NOTHING,
    PLUNGES,
    REMOVING,
    SHEET,
    SPARK,
    STAGES,
    START,
    TOO_FAST,
    TRAVERSE,
    UNKNOWN,
    Stage,
)

_USED_ROW = 6  # the results follow


def over(function: str, word: str, stages: Sequence[Stage] = STAGES, given: bool = False) -> str:
    """SUM, COUNT or MAX of a row over stages that stand beside each other; texts in it do not count, no stages give 0."""
    if not stages:
        return "0"
    row = FIRST_INPUT_ROW + list(INPUTS).index(word) if given else _USED_ROW + 1 + [result[0] for result in RESULTS].index(word)
    first, last = (get_column_letter(FIRST_COLUMN + STAGES.index(stage)) for stage in (stages[0], stages[-1]))
    sheet = SHEET if given else f"'{CALC}'"
    return f"{function}({sheet}!${first}${row}:${last}${row})"


def calc_page(book: Book) -> None:
    """What follows from the stages, in shop units: the names out_<stage>_<word>."""
    page = book.page(
        CALC, "Calculation of the stages, in mm, m/min, kW (nothing to type here)", (46, 14) + (16,) * len(STAGES) + (60,)
    )
    page.row = _USED_ROW - 1
    page.table_head(("what follows", "unit") + tuple(f"={stage.value('label')}" for stage in STAGES) + ("what it is",))
    _row(
        page,
        "used",
        "stage is used (1 yes, 0 no)",
        "-",
        0,
        "At least one of its cells is filled in.",
        lambda stage: f"IF(COUNTA({','.join(map(stage.given, stage.inputs))})=0,0,1)",
        STAGES,
        gated=False,
    )
    for word, label, unit, digits, text, compute, stages in RESULTS:
        _row(page, word, label, unit, digits, text, compute, stages)
    page.sheet.freeze_panes = f"C{_USED_ROW}"


def _row(
    page: Page,
    word: str,
    label: str,
    unit: str,
    digits: int,
    text: str,
    compute: Callable[[Stage], str],
    stages: Sequence[Stage],
    gated: bool = True,
) -> None:
    """A row of results, named out_<stage>_<word>; blank in a stage that is not used."""
    cells, formats = [], []
    for stage in STAGES:
        if stage not in stages:
            cells.append(NOTHING)
        elif gated:
            cells.append(f'=IF({stage.value("used")}=1,IF(out_ready=1,{compute(stage)},NA()),"")')
        else:
            cells.append("=" + compute(stage))
        formats.append("@" if cells[-1] == NOTHING or word == "word" else number_format(digits))
    page.cells((label, unit, *cells, text), formats=(None, None, *formats))
    for column, stage in enumerate(STAGES, start=FIRST_COLUMN):
        if stage in stages:
            page.book.name(stage.value(word), page.sheet, page.sheet.cell(page.row - 1, column).coordinate)


def _stock(stage: Stage) -> str:
    return stage.used("stock")


def _end_diameter(stage: Stage) -> str:
    later = STAGES[STAGES.index(stage) + 1 :]
    return f"use_work_diameter+out_side*2*out_infeed_factor*out_length_factor*{over('SUM', 'stock', later, given=True)}"


def _depth_of_cut(stage: Stage) -> str:
    if stage is TRAVERSE:
        return f"1000*{stage.value('stock')}/{stage.given('passes')}"
    return formula("depth_of_cut", infeed_rate=stage.value("infeed_rate"), work_rpm=stage.given("work_rpm"))


def _grit(stage: Stage, **more: str) -> dict[str, str]:
    return dict(wheel_speed="out_wheel_speed", grit_density="out_grit_density", shape_ratio="in_shape_ratio", **more)


def _cut(stage: Stage) -> dict[str, str]:
    return dict(depth_of_cut=stage.value("depth_of_cut"), equivalent_diameter=stage.value("equivalent_diameter"))


def _equivalent_diameter(stage: Stage, at: str = "") -> str:
    return formula("equivalent_diameter", wheel_diameter="use_wheel_diameter", work_diameter=stage.diameter(at), side="out_side")


def _work_speed(stage: Stage, at: str = "") -> str:
    return formula("work_speed", work_diameter=stage.diameter(at), work_rpm=stage.given("work_rpm"))


def _speed_ratio(stage: Stage, at: str = "") -> str:
    return formula(
        "speed_ratio", wheel_speed="out_wheel_speed", work_speed=_work_speed(stage, at) if at else stage.value("work_speed")
    )


def _grit_depth(stage: Stage, at: str = "") -> str:
    cut = dict(_cut(stage), equivalent_diameter=_equivalent_diameter(stage, at)) if at else _cut(stage)
    return formula("grit_depth", work_speed=_work_speed(stage, at) if at else stage.value("work_speed"), **_grit(stage), **cut)


def _target_rpm(stage: Stage) -> str:
    if stage is TRAVERSE:
        speed = formula("work_speed_for", grit_depth="in_target_depth", **_grit(stage), **_cut(stage))
        return formula("work_rpm", work_diameter=stage.value("work_diameter"), work_speed=speed)
    return formula(
        "work_rpm_for",
        grit_depth="in_target_depth",
        work_diameter=stage.value("work_diameter"),
        infeed_rate=stage.value("infeed_rate"),
        wheel_diameter="use_wheel_diameter",
        side="out_side",
        **_grit(stage),
    )


def _removal_rate(stage: Stage, at: str = "") -> str:
    if stage is TRAVERSE:
        speed = _work_speed(stage, at) if at else stage.value("work_speed")
        return formula("pass_removal_rate", depth_of_cut=stage.value("depth_of_cut"), work_speed=speed)
    return formula("removal_rate", work_diameter=stage.diameter(at), infeed_rate=stage.value("infeed_rate"))


def _width(stage: Stage) -> str:
    return TRAVERSE.value("feed") if stage is TRAVERSE else "use_contact_width"


def _energy(stage: Stage) -> str:
    own = stage.given("specific_energy")
    cases = ((are_numbers(own), stage.used("specific_energy")), (are_numbers("use_specific_energy"), "use_specific_energy"))
    return first_of(*cases, otherwise=quoted(UNKNOWN))


def _power(stage: Stage, at: str = "") -> str:
    power = formula(
        "grinding_power",
        specific_energy=stage.value("specific_energy"),
        removal_rate=stage.value(at + "removal_rate"),
        contact_width=_width(stage),
    )
    known = are_numbers(stage.value("specific_energy"), _width(stage), "use_idle_power")
    return first_of((known, f"{power}+use_idle_power"), otherwise=quoted(UNKNOWN))


def _time(stage: Stage) -> str:
    if stage is SPARK:
        return f"60*{stage.given('revolutions')}/{stage.given('work_rpm')}"
    if stage is TRAVERSE:
        return f"60*{stage.given('passes')}*({stage.used('ground_length')}+{stage.used('overrun')})/{stage.used('rate')}"
    return f"60*{stage.value('stock')}/{stage.value('infeed_rate')}"


def _volume(stage: Stage) -> str:
    start, end = stage.value("start_diameter"), stage.value("work_diameter")
    width = stage.used("ground_length") if stage is TRAVERSE else "use_contact_width"
    ring = formula("ring_volume", outer_diameter=f"MAX({start},{end})", inner_diameter=f"MIN({start},{end})", axial_width=width)
    return first_of((are_numbers(width), ring), otherwise=quoted(UNKNOWN))


def _word(stage: Stage) -> str:
    """The first that applies of: a limit of the machine, traverse feed, band of depth; else ok."""
    if stage is SPARK:
        cases = limit_cases(work_rpm=stage.given("work_rpm"), speed_ratio=stage.value("speed_ratio"))
        return first_of(*cases, otherwise=quoted(OK))
    judged: dict[str, str | tuple[str, str]] = {name: stage.both_ends(name) for name in ("speed_ratio", "removal_rate", "power")}
    if stage in PLUNGES:
        judged["infeed_rate"] = stage.value("infeed_rate")
    cases = limit_cases(work_rpm=stage.given("work_rpm"), **judged)
    if stage is TRAVERSE:
        cases.append((above(stage.value("feed"), "use_wheel_width"), quoted(TOO_FAST)))
    depths = ",".join(stage.both_ends("grit_depth"))
    cases.append((below(f"MIN({depths})", "out_target_low"), quoted(BELOW)))
    cases.append((above(f"MAX({depths})", "out_target_high"), quoted(ABOVE)))
    return first_of(*cases, otherwise=quoted(OK))


_AT_START = "at the start of the stage"


def _started(compute: Callable[[Stage, str], str]) -> Callable[[Stage], str]:
    return lambda stage: compute(stage, START)


RESULTS = (
    (
        "infeed_rate",
        "infeed rate on the radius",
        "mm/min",
        3,
        "Half of what is shown on the diameter.",
        lambda stage: stage.used("infeed_rate"),
        PLUNGES,
    ),
    ("stock", "stock on the radius", "mm", 4, "What the stage takes off.", _stock, REMOVING),
    (
        "start_diameter",
        f"work diameter, {_AT_START}",
        "mm",
        4,
        "",
        lambda stage: f"{stage.value('work_diameter')}+out_side*2*{stage.value('stock')}",
        REMOVING,
    ),
    ("work_diameter", "work diameter, at the end of the stage", "mm", 4, "", _end_diameter, STAGES),
    ("equivalent_diameter", "equivalent wheel diameter", "mm", 3, "", _equivalent_diameter, REMOVING),
    ("work_speed", "work speed", "m/min", 3, "", _work_speed, STAGES),
    (START + "speed_ratio", f"speed ratio, {_AT_START}", "-", 1, "", _started(_speed_ratio), REMOVING),
    ("speed_ratio", "speed ratio", "-", 1, "Wheel speed over work speed.", _speed_ratio, STAGES),
    ("depth_of_cut", "depth of cut", "µm", 3, "Per work revolution; traverse: per pass.", _depth_of_cut, REMOVING),
    (
        "feed",
        "traverse feed per work revolution",
        "mm",
        3,
        "Must stay below the width of the wheel face.",
        lambda stage: f"{stage.used('rate')}/{stage.given('work_rpm')}",
        (TRAVERSE,),
    ),
    (START + "grit_depth", f"grit depth, {_AT_START}", "µm", 3, "", _started(_grit_depth), REMOVING),
    ("grit_depth", "grit depth", "µm", 3, "Prefactor 4. Spark-out: falls towards 0, not shown.", _grit_depth, REMOVING),
    (
        "target_rpm",
        "work rpm that holds the target",
        "1/min",
        1,
        "At the end of the stage. Set this, where the limits allow it.",
        _target_rpm,
        REMOVING,
    ),
    (START + "removal_rate", f"specific removal rate, {_AT_START}", "mm³/(mm·s)", 3, "", _started(_removal_rate), REMOVING),
    ("removal_rate", "specific removal rate", "mm³/(mm·s)", 3, "", _removal_rate, REMOVING),
    ("specific_energy", "specific energy", "J/mm³", 1, "Of the stage, else of Inputs.", _energy, REMOVING),
    (START + "power", f"spindle power, idle included, {_AT_START}", "kW", 3, "", _started(_power), REMOVING),
    ("power", "spindle power, idle included", "kW", 3, "", _power, REMOVING),
    ("time", "time", "s", 2, "As set: deflection adds to it.", _time, STAGES),
    ("turns", "work revolutions", "-", 1, "", lambda stage: f"{stage.given('work_rpm')}*{stage.value('time')}/60", STAGES),
    ("volume", "work removed", "mm³", 2, "", _volume, REMOVING),
    (
        "word",
        "is it within band and limits",
        "-",
        0,
        "ok, or the first limit or edge of the band that the stage breaks.",
        _word,
        STAGES,
    ),
)
