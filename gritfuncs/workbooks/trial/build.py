"""trial.xlsx: plan an rpm trial, take the readings, see depth, energy, knee, interval and verdict."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ... import example
from ...planning import STEP_PERCENT, STEPS_EACH_SIDE
from ...quantities import NO_WORDS, QUANTITIES, YES_WORDS, Quantity
from ...trial.readings import (
    BLANK,
    EXCLUDED,
    IDLE_MISSING,
    IS_BLANK,
    LEFT_OUT,
    NOT_A_NUMBER,
    NOT_ABOVE_IDLE,
    NOT_POSITIVE,
    SAME_AS,
    USE_UNCLEAR,
    USED,
)
from ...trial.words import LOAD_KINDS
from ..blocks.knee import knee_block
from ..blocks.limits import beyond, limit_cases, order_checks
from ..blocks.wheel import (
    band_input,
    formula,
    grit_inputs,
    infeed_basis_input,
    infeed_factor_result,
    side_input,
    tables_page,
    title_input,
    wheel_inputs,
    wheel_results,
)
from ..book import OK, ROW_WIDTHS, STOP, Book, Page
from ..conditions import first_of, quoted
from ..read_me import read_me_page
from ..words import PREFACTOR, RADIUS
from . import chart as trial_chart
from . import next as trial_next
from . import watch as trial_watch
from .other_trials import other_trials

ROWS = 40
FIRST_ROW = 7  # of the readings, on the sheets Readings and Calculation alike
LAST_ROW = FIRST_ROW + ROWS - 1
SAME_RPM = 0.01  # readings within 1 % of the nominal rpm count as repeats of it
OUTSIDE = "outside limits"

_STEP = Quantity("rpm_step", "-", "step of work rpm", "% of nominal", "Step between planned readings.", high=50.0)
_STEPS = Quantity(
    "steps_each_side",
    "-",
    "steps to each side",
    "-",
    "Planned steps faster and slower than nominal.",
    low=1.0,
    low_open=False,
    high=18.0,
)
_NOISE = Quantity("noise", "-", "scatter of the readings", "%", "Relative scatter of repeated readings.", high=50.0)
_HALF_WIDTH = Quantity(
    "wanted_half_width", "-", "wanted interval of the knee, ±", "%", "Half the interval, of the knee.", high=50.0
)


def defaults() -> dict[str, Any]:
    """The invented example as input values, without readings: rows of an example left among one's own would be computed with."""
    return dict(
        example.SETUP,
        title=example.TITLE,
        side="external",
        infeed_basis="radius",
        grit_size=example.DESIGNATION,
        concentration=example.GRIT["concentration"],
        active_fraction=example.GRIT["active_fraction"],
        marked_wheel_speed=example.MARKED_WHEEL_SPEED,
        contact_width=example.CONTACT_WIDTH,
        load_kind="power",
        nominal_rpm=example.NOMINAL_RPM,
        rpm_step=STEP_PERCENT,
        steps_each_side=STEPS_EACH_SIDE,
        lowest_work_rpm=example.LIMITS.lowest_work_rpm,
        highest_work_rpm=example.LIMITS.highest_work_rpm,
        band=2.0,
        plan_spacing="rpm",
        wanted_half_width=5.0,
        readings=(),
        observations=(),
        other_trials=(),
    )


def build(values: dict[str, Any] | None = None):
    """The workbook, filled with the values (names without in_) in place of those of the example.

    `readings` are rows of (work rpm, load, idle, use?, note), shorter rows allowed.
    """
    values = {**defaults(), **(values or {})}
    book = Book("Grit depth trial")
    _read_me(book)
    _inputs(book, values)
    _readings(book, values["readings"], values["observations"])
    _steps(book)
    block = _knee(book)
    _calculation(book)
    book.workbook.move_sheet("Knee", 1)  # people read the rows first
    results = _results(book, block)
    trial_watch.add(book, block, FIRST_ROW, LAST_ROW)
    trial_next.add(book, block, _table, _rpm_for)
    others = other_trials(book, values["other_trials"])
    trial_chart.add(book, results, block, FIRST_ROW, LAST_ROW, others)
    _checks(book)
    book.checks_page()
    tables_page(book)
    return book.finish()


def _read_me(book: Book) -> None:
    read_me_page(
        book,
        "Grit depth trial: find the depth at which the wheel works well",
        purpose=(
            "Each wheel, material and machine has a range of grit depth where the wheel works well. Shallower, the "
            "grits rub: power and heat climb. Deeper, grits are torn out. This workbook plans a trial in which the work"
            " rpm is stepped, takes the power read at each step, and finds the knee: the depth where the falling curve "
            "levels off.",
        ),
        steps=(
            "Inputs: fill in wheel, work, infeed and the nominal work rpm. Cells to fill in are tinted, have a strong "
            "border and say input or choice beside them.",
            "Readings: run the planned rpm in the order given, nominal again in the middle and at the end. Let each "
            "step settle, then write down what rpm and load really were. Rows may be left blank or switched off with "
            "no.",
            "Results: verdict, knee with its interval, the work rpm that holds it, and the chart. Only the verdict "
            "found carries a knee to set a machine by; every other verdict says what to do next.",
            "Next reading: after each reading, which work rpm to try next or that the trial can stop. Watch: range of "
            "the plan, readings needed, drift, damage. Other trials: earlier trials to show on the same chart.",
        ),
        background=(
            "The knee is the corner of the least-squares curve that falls in a straight line and then stays level. The "
            "interval is what scatter leaves possible at 95 %, widened to half the mean gap between depths because real"
            " curves are rounded. This workbook does not search for a single reading out of line: look at the chart, or"
            " use the command gritfuncs knee.",
            RADIUS,
        ),
    )


def _inputs(book: Book, values: dict[str, Any]) -> None:
    page = book.page("Inputs", "Inputs")
    page.rows_head()
    title_input(page, values)
    wheel_inputs(page, values)
    page.heading("Work and infeed")
    page.rows_head()
    page.input("work_diameter", values["work_diameter"])
    side_input(page, values)
    page.input(
        "infeed_rate",
        values["infeed_rate"],
        label="infeed rate, kept constant through the trial",
        text="As the machine shows it; choose radius or diameter below.",
    )
    infeed_basis_input(page, values)
    page.input(
        "contact_width",
        values.get("contact_width"),
        optional=True,
        text="Width of the wheel in contact. Blank: the vertical axis is the load itself; the knee is the same.",
    )
    grit_inputs(page, values)
    page.heading("Load reading")
    page.rows_head()
    page.choice(
        "load_kind",
        values["load_kind"],
        LOAD_KINDS,
        label="kind of load reading",
        text="power: kW. current: A of a three-phase motor. relative: any load meter, % or divisions.",
    )
    page.input("volts", values.get("volts"), optional=True, text="Only for current: voltage between two phases.")
    page.input("power_factor", values.get("power_factor"), optional=True, text="Only for current.")
    page.input(
        "idle",
        values.get("idle"),
        optional=True,
        quantity=QUANTITIES["idle_power"],
        label="idle reading",
        unit="as the readings",
        text="For rows without an idle reading of their own: at speed, coolant on, wheel off the work. Blank: none.",
    )
    page.input(
        "noise",
        values.get("noise"),
        optional=True,
        quantity=_NOISE,
        text="Scatter of repeated readings if you know it. Blank: from the repeats at equal rpm, else 1 %.",
    )
    page.heading("Plan and target")
    page.rows_head()
    page.input(
        "nominal_rpm",
        values["nominal_rpm"],
        quantity=QUANTITIES["work_rpm"],
        label="nominal work rpm",
        text="Where the trial starts and returns to.",
    )
    page.input("rpm_step", values["rpm_step"], quantity=_STEP, text="10 is common practice.")
    page.input(
        "steps_each_side",
        values["steps_each_side"],
        quantity=_STEPS,
        text="6 steps of 10 % reach ±60 %; depth moves with the fourth root of rpm only.",
    )
    page.choice(
        "plan_spacing",
        values["plan_spacing"],
        ("rpm", "depth"),
        label="equal steps of",
        text="rpm: equal steps of rpm. depth: the same range, cut at the limits below, in equal steps of grit depth.",
    )
    page.input(
        "lowest_work_rpm",
        values.get("lowest_work_rpm"),
        optional=True,
        quantity=QUANTITIES["work_rpm"],
        label="lowest work rpm",
        text="Limit of the machine. Blank: no limit.",
    )
    page.input(
        "highest_work_rpm",
        values.get("highest_work_rpm"),
        optional=True,
        quantity=QUANTITIES["work_rpm"],
        label="highest work rpm",
        text="Limit of the machine or chuck. Blank: no limit.",
    )
    page.input(
        "target_depth",
        values.get("target_depth"),
        optional=True,
        quantity=QUANTITIES["grit_depth"],
        label="target grit depth",
        text="Depth to hold. Blank: the knee.",
    )
    band_input(page, values)
    page.input(
        "wanted_half_width", values["wanted_half_width"], quantity=_HALF_WIDTH, text="Half the width of the interval you want."
    )


_PLAN_HEADINGS = ("no.", "step, %", "planned work rpm, 1/min", "planned grit depth, µm")
_READING_HEADINGS = ("work rpm, 1/min", "load", "idle", "use?", "note")
_OBSERVED_HEADINGS = ("finish Ra, µm", "wheel wear, µm", "burn, crack or wheel breakdown seen")
_SEEN_HEADINGS = ("what became of it", "grit depth, µm", "energy")


def _readings(book: Book, rows: Sequence[Sequence[Any]], observed: Sequence[Sequence[Any]]) -> None:
    page = book.page("Readings", "Readings", (6, 9, 14, 14, 13, 12, 12, 8, 26, 40, 12, 12, 10, 10, 14), one_page=True)
    page.note(
        "Planned steps in run order on the left; write what was really read in the tinted cells. use? takes yes or no (blank is yes). "
        "Load and idle in kW, A or divisions, as chosen on Inputs. Stop going slower when power climbs fast.",
        2,
    )
    page.table_head(_PLAN_HEADINGS + _READING_HEADINGS + _SEEN_HEADINGS + _OBSERVED_HEADINGS, lines=4)
    if len(rows) > ROWS:
        raise ValueError(f"readings must be at most {ROWS} rows (got {len(rows)})")
    for name, given, width in (("readings", rows, 5), ("observations", observed, 3)):
        if any(len(row) > width for row in given):
            raise ValueError(f"{name} must be rows of at most {width} values (got {max(map(len, given))})")
    for number in range(1, ROWS + 1):
        row, calculation = page.row, f"Calculation!{{}}{page.row}"
        reading = tuple(rows[number - 1]) if number <= len(rows) else ()
        status = calculation.format("J")
        page.cells(
            (number, "=" + _planned_step(calculation.format("R")), "=" + _planned_rpm(f"B{row}"), "=" + _planned_depth(f"C{row}"))
            + reading
            + (None,) * (5 - len(reading))
            + (f'=IF({status}="{BLANK}","",{status})', "=" + calculation.format("M"), "=" + calculation.format("N")),
            formats=("0", "+0;-0;0", "0.0", "0.000", None, None, None, None, None, None, "0.000", "0.0"),
        )
        page.row -= 1
        page.cells(tuple(observed[number - 1]) if number <= len(observed) else (None,) * 3, column=13)
        for column in (5, 6, 7, 8, 9, 13, 14, 15):
            page.mark_input(row, column)
    book.name("in_readings", page.sheet, f"E{FIRST_ROW}:I{LAST_ROW}")
    book.name("in_observations", page.sheet, f"M{FIRST_ROW}:O{LAST_ROW}")
    page.sheet.freeze_panes = f"B{FIRST_ROW}"
    page.sheet.print_title_rows = f"{FIRST_ROW - 1}:{FIRST_ROW - 1}"


def _position(number: str) -> str:
    """Steps from nominal in run order: 0, +1, -1, +2, -2 ..., nominal again after half of them and at the end."""
    middle = "2*INT((in_steps_each_side+1)/2)+2"
    last = "2*in_steps_each_side+3"
    outward = f"({number}-IF({number}>{middle},2,1))"
    return (
        f'IF(out_ready=1,IF({number}>{last},"",IF(OR({number}=1,{number}={middle},{number}={last}),0,'
        f'IF(MOD({outward},2)=1,1,-1)*INT(({outward}+1)/2))),"")'
    )


def _planned_step(position: str) -> str:
    """Percent of nominal: equal steps of rpm, or of depth, which goes with the fourth root of rpm."""
    by_depth = f"100*((1+ABS({position})/in_steps_each_side*(IF({position}>0,out_fastest_step,out_slowest_step)^0.25-1))^4-1)"
    return f'IF(ISNUMBER({position}),IF(in_plan_spacing="depth",{by_depth},{position}*in_rpm_step),"")'


def _planned_rpm(step: str) -> str:
    rpm = f"in_nominal_rpm*(100+{step})/100"
    outside = ((beyond(limit, rpm), quoted(OUTSIDE)) for limit in ("highest_work_rpm", "lowest_work_rpm"))
    return first_of((f"ISNUMBER({step})", first_of(*outside, otherwise=rpm)), otherwise=quoted(""))


def _plunge_depth(rpm: str) -> str:
    return formula(
        "plunge_grit_depth",
        work_rpm=rpm,
        work_diameter="in_work_diameter",
        infeed_rate="out_infeed_rate",
        wheel_speed="out_wheel_speed",
        wheel_diameter="in_wheel_diameter",
        side="out_side",
        grit_density="out_grit_density",
        shape_ratio="in_shape_ratio",
    )


def _planned_depth(rpm: str) -> str:
    return f'IF(ISNUMBER({rpm}),{_plunge_depth(rpm)},"")'


_OUTCOME_HEADINGS = (
    "no.",
    "rpm cell",
    "load cell",
    "use?",
    "idle cell",
    "idle taken",
    "load less idle",
    "judged",
    "key of rpm, load, idle",
    "what became of it",
    "work speed, m/min",
    "depth of cut, µm",
    "grit depth, µm",
    "energy",
    "counts (1 yes)",
    "no. if at nominal rpm, else 0",
    "depth if damage was seen, else 0",
    "steps from nominal in the plan",
    "rpm that counts, 1/min",
)


def _steps(book: Book) -> None:
    page = book.page("Steps", "Steps: what follows from the inputs before any reading")
    page.rows_head()
    wheel_results(page)
    infeed_factor_result(page)
    page.quantity_result("infeed_rate", "in_infeed_rate*out_infeed_factor", kind="step", text="On the radius.")
    page.quantity_result(
        "equivalent_diameter",
        formula("equivalent_diameter", wheel_diameter="in_wheel_diameter", work_diameter="in_work_diameter", side="out_side"),
        kind="step",
    )
    page.quantity_result(
        "removal_rate",
        formula("removal_rate", work_diameter="in_work_diameter", infeed_rate="out_infeed_rate"),
        kind="step",
        text="Does not change with work rpm.",
    )
    page.quantity_result(
        "grit_depth",
        _plunge_depth("in_nominal_rpm"),
        name="nominal_grit_depth",
        label="grit depth at nominal work rpm",
        kind="step",
        text="In the middle of the trial.",
    )
    for name, edge, function, limit in (("slowest", "-", "MAX", "lowest"), ("fastest", "+", "MIN", "highest")):
        page.result(
            f"{name}_step",
            f"{function}((100{edge}in_steps_each_side*in_rpm_step)/100,IF(ISNUMBER(in_{limit}_work_rpm),"
            f"in_{limit}_work_rpm/in_nominal_rpm,(100{edge}in_steps_each_side*in_rpm_step)/100))",
            label=f"{name} planned rpm, of nominal",
            digits=3,
            kind="step",
            text="Cut at the machine's limit, for equal steps of depth.",
        )
    page.result(
        "energy_unit",
        'IF(in_load_kind="relative","load units",IF(ISNUMBER(in_contact_width),"J/mm³","kW"))',
        label="unit of the energy axis",
        digits=None,
        kind="step",
        text="J/mm³ where the width of contact is known, else kW; a bare load keeps its own unit.",
    )
    page.result(
        "noise_given",
        'IF(ISNUMBER(in_noise),in_noise/100,"")',
        label="scatter of the readings, if given",
        digits=4,
        unit="share of the level",
        kind="step",
        text="Blank: from the repeats, else 1 %.",
    )
    page.result(
        "own_idles",
        _counted("E", "number"),
        label="rows with an idle reading of their own",
        digits=0,
        kind="step",
        text="If some rows have one and no common idle is given, rows without are left out.",
    )
    book.stop_unless(
        "diameters fit together",
        "out_equivalent_diameter>0",
        "in_work_diameter: must be larger than the wheel for internal grinding",
    )


def _calculation(book: Book) -> None:
    page = book.page(
        "Calculation",
        "Calculation: one row for each reading",
        (6, 17, 17, 8, 9, 11, 11, 34, 38, 36, 12, 12, 12, 12, 9, 9, 9, 11, 11),
        one_page=True,
    )
    page.note("Rows are judged in the order of the columns; a row that does not count gives no depth and no energy.")
    page.table_head(_OUTCOME_HEADINGS, lines=3)
    for number in range(1, ROWS + 1):
        page.cells(
            (number,) + tuple("=" + text for text in _outcome(page.row)),
            formats=(
                "0",
                None,
                None,
                None,
                None,
                "0.000",
                "0.000",
                None,
                None,
                None,
                "0.000",
                "0.000",
                "0.0000",
                "0.00",
                "0",
                "0",
                "0",
                "0",
                "0.0",
            ),
        )
    page.sheet.freeze_panes = f"B{FIRST_ROW}"
    page.sheet.print_title_rows = f"{FIRST_ROW - 1}:{FIRST_ROW - 1}"


def _table(column: str) -> str:
    return f"Calculation!${column}${FIRST_ROW}:${column}${LAST_ROW}"


def _counted(column: str, word: str) -> str:
    """How many rows that are neither blank nor switched off have the word in a column."""
    return (
        f'SUMPRODUCT(({_table(column)}="{word}")*({_table("D")}<>"no")'
        f'*(1-({_table("B")}="{_short(IS_BLANK, "rpm")}")*({_table("C")}="{_short(IS_BLANK, "load")}")))'
    )


def _short(words: str, quantity: str) -> str:
    """The words of a status without 'left out: '."""
    return words.format(quantity).split(": ", 1)[1]


def _cell_state(cell: str, quantity: str, positive: bool) -> str:
    """ok, or why a reading cell holds no usable number."""
    number = f'IF({cell}>0,"{OK}","{_short(NOT_POSITIVE, quantity)}")' if positive else f'"{OK}"'
    not_a_number = f'"{_short(NOT_A_NUMBER, quantity)}"'
    return (
        f"IF(ISERROR({cell}),{not_a_number},IF(ISLOGICAL({cell}),{not_a_number},IF(ISNUMBER({cell}),{number},"
        f'IF(TRIM({cell})="","{_short(IS_BLANK, quantity)}",{not_a_number}))))'
    )


def _outcome(row: int) -> Sequence[str]:
    """The formulas of one row of the calculation table, columns B to S; the order of judging is that of trial.readings."""
    rpm, load, idle, use = (f"Readings!{letter}{row}" for letter in "EFGH")
    yes, no = (",".join(f'TRIM({use})="{word}"' for word in words) for words in (YES_WORDS, NO_WORDS))
    use_word = f'IF(ISERROR({use}),"?",IF(TRIM({use})="","yes",IF(OR({yes}),"yes",IF(OR({no}),"no","?"))))'
    idle_word = f'IF(ISERROR({idle}),"text",IF(ISLOGICAL({idle}),"text",IF(ISNUMBER({idle}),"number",IF(TRIM({idle})="","blank","text"))))'
    both_blank = f'AND(B{row}="{_short(IS_BLANK, "rpm")}",C{row}="{_short(IS_BLANK, "load")}")'
    left_out = f'"{LEFT_OUT.format("")}"&'
    damage = f"Readings!O{row}"
    said_no = ",".join(f'TRIM({damage})="{word}"' for word in NO_WORDS)
    no_idle = f'AND(E{row}="blank",NOT(ISNUMBER(in_idle)),out_own_idles>0)'
    judged = (
        f'IF({both_blank},"{BLANK}",IF(D{row}="no","{EXCLUDED}",IF(D{row}="?","{USE_UNCLEAR}",'
        f'IF(B{row}<>"{OK}",{left_out}B{row},IF(C{row}<>"{OK}",{left_out}C{row},'
        f'IF(E{row}="text","{NOT_A_NUMBER.format("idle")}",IF({no_idle},"{IDLE_MISSING}",'
        f'IF({load}<=F{row},"{NOT_ABOVE_IDLE}","{USED}"))))))))'
    )
    key = f'IF(H{row}="{USED}","rpm "&TEXT({rpm},"0.000000")&", load "&TEXT({load},"0.000000")&", idle "&TEXT(F{row},"0.000000"),"")'
    earlier = f"MATCH(I{row},I${FIRST_ROW - 1}:I{row - 1},0)"
    status = f'IF(ISNUMBER({earlier}),IF(H{row}="{USED}","{SAME_AS.format("")}"&TEXT({earlier}-1,"0"),H{row}),H{row})'
    line = {
        name: formula("line_power", volts="in_volts", amps=cell, power_factor="in_power_factor")
        for name, cell in (("load", load), ("idle", f"F{row}"))
    }
    net = f'IF(H{row}="{USED}",IF(in_load_kind="current",{line["load"]}-{line["idle"]},{load}-F{row}),"")'
    counts = f"O{row}=1"
    speed = formula("work_speed", work_diameter="in_work_diameter", work_rpm=rpm)
    cut = formula("depth_of_cut", infeed_rate="out_infeed_rate", work_rpm=rpm)
    depth = formula(
        "grit_depth",
        work_speed=f"K{row}",
        wheel_speed="out_wheel_speed",
        depth_of_cut=f"L{row}",
        equivalent_diameter="out_equivalent_diameter",
        grit_density="out_grit_density",
        shape_ratio="in_shape_ratio",
    )
    energy = formula("specific_energy", net_power=f"G{row}", removal_rate="out_removal_rate", contact_width="in_contact_width")
    return (
        _cell_state(rpm, "rpm", True),
        _cell_state(load, "load", False),
        use_word,
        idle_word,
        f'IF(E{row}="number",{idle},IF(ISNUMBER(in_idle),in_idle,0))',
        net,
        judged,
        key,
        status,
        f'IF({counts},{speed},"")',
        f'IF({counts},{cut},"")',
        f'IF({counts},{depth},"")',
        f'IF({counts},IF(out_energy_unit="J/mm³",{energy},G{row}),"")',
        f'IF(H{row}="{USED}",out_ready,0)',
        f"IF({counts},IF(ABS({rpm}-in_nominal_rpm)<={SAME_RPM}*in_nominal_rpm,A{row},0),0)",
        f'IF({counts},IF(ISERROR({damage}),M{row},IF(OR({said_no},TRIM({damage})=""),0,M{row})),0)',
        _position(f"A{row}"),
        f'IF({counts},{rpm},"")',
    )


def _knee(book: Book) -> dict[str, str]:
    """The sheet that finds the knee; gives the addresses of its results by name."""
    page = book.page("Knee", "Knee: the fit, step by step", (44, 16, 24) + (12,) * 60)
    block = knee_block(
        _table("M"), _table("N"), ROWS, sheet_name=page.sheet.title, anchor=f"A{page.row}", noise="out_noise_given"
    )
    for address, content in block.cells.items():
        page.put(address, content)
    page.sheet.print_area = "A1:C145"  # the steps; the table of 40 rows below them is to be read on the screen
    return block.results


def _results(book: Book, block: dict[str, str]) -> Page:
    page = book.page("Results", "Results", ROW_WIDTHS[:4] + (4,) + (13,) * 9, one_page=True)
    page.row_columns = 4

    def shown(name: str) -> str:
        return f"IF(out_ready=1,{block[name]},NA())"

    page.sentence("verdict", f'IF(out_ready=1,{block["verdict"]},"{STOP}: see Checks")', label="verdict")
    page.sentence(
        "reason", f'IF(out_ready=1,{block["reason"]},"Inputs are missing or do not fit together.")', label="what was seen"
    )
    page.sentence(
        "advice",
        f'IF(out_ready=1,IF(out_verdict="found","set the machine by the knee; watch the first parts",'
        f'{block["advice"]}),"mend the inputs that the sheet Checks names")',
        label="what to do next",
    )
    page.sentence(
        "warning",
        'IF(out_damage_count>0,"damage: "&out_damage_word,"no damage noted")&IF(out_drift_word="drifts","; the nominal '
        'readings drift","")',
        label="seen in the trial",
    )
    page.row += 1
    page.chart_row = page.row
    page.rows_head()
    page.quantity_result("grit_depth", shown("knee"), name="knee", label="knee")
    for end, name in (("lower", "low"), ("upper", "high")):
        page.quantity_result("grit_depth", shown(name), name=f"knee_{name}", label=f"knee, {end} end of the interval")
    page.result(
        "knee_level", shown("level"), label="level of energy beyond the knee", digits=1, unit="=out_energy_unit", symbol="u"
    )
    page.result("knee_slope", shown("slope"), label="fall of energy below the knee", digits=1, unit="per µm")
    page.result("noise", f"100*{shown('noise')}", label="scatter used for the interval", unit="% of the level", digits=2)
    page.result("n_readings", f"SUM({_table('O')})", label="readings used", digits=0)
    page.result("n_depths", shown("n_depths"), label="different depths", digits=0)
    page.result(
        "n_left_out",
        f'{ROWS}-SUM({_table("O")})-COUNTIF({_table("J")},"{BLANK}")',
        label="readings left out or excluded",
        digits=0,
    )
    page.heading("What to set")
    page.rows_head()
    page.quantity_result(
        "grit_depth",
        "IF(out_ready=1,IF(ISNUMBER(in_target_depth),in_target_depth,out_knee),NA())",
        name="target_depth",
        label="target: as given, else the knee",
    )
    page.quantity_result("grit_depth", "out_target_depth*(1-in_band/100)", name="target_low", label="lower edge of the band")
    page.quantity_result("grit_depth", "out_target_depth*(1+in_band/100)", name="target_high", label="upper edge of the band")
    page.quantity_result("work_rpm", _rpm_for("out_target_depth"), name="target_rpm", label="work rpm that holds the target")
    page.quantity_result("work_rpm", _rpm_for("out_target_low"), name="target_rpm_low", label="lowest rpm within the band")
    page.quantity_result("work_rpm", _rpm_for("out_target_high"), name="target_rpm_high", label="highest rpm within the band")
    page.result(
        "limit_word",
        f'IF(ISNUMBER(out_target_rpm),{_rpm_word("out_target_rpm")},"no target")',
        label="does the machine allow it",
        digits=None,
    )
    page.row += 2
    page.note(
        "The interval is scatter at 95 %, widened because real curves are rounded. The rpm hold for this wheel, part, infeed and "
        "wheel speed. The verdict is one of found, still falling, already level, not resolved, too few readings; only found "
        "carries a knee to set a machine by.",
        2,
    )
    page.note(PREFACTOR, 2)
    return page


def _rpm_for(depth: str) -> str:
    return formula(
        "work_rpm_for",
        grit_depth=depth,
        work_diameter="in_work_diameter",
        infeed_rate="out_infeed_rate",
        wheel_speed="out_wheel_speed",
        wheel_diameter="in_wheel_diameter",
        side="out_side",
        grit_density="out_grit_density",
        shape_ratio="in_shape_ratio",
    )


def _rpm_word(rpm: str) -> str:
    return first_of(*limit_cases(work_rpm=rpm), otherwise=quoted(OK))


def _checks(book: Book) -> None:
    statuses, counts = _table("J"), _table("O")
    known = "+".join(f'(in_load_kind="{kind}")' for kind in LOAD_KINDS)
    book.stop_unless("kind of load reading is known", f"{known}>0", "in_load_kind: must be " + ", ".join(LOAD_KINDS))
    book.stop_unless(
        "voltage and power factor are given for readings of current",
        'IF(in_load_kind="current",ISNUMBER(in_volts)*ISNUMBER(in_power_factor)=1,TRUE)',
        "in_volts, in_power_factor: needed for readings in A",
    )
    book.stop_unless(
        "steps of work rpm stay above standstill",
        "in_rpm_step*in_steps_each_side<100",
        "in_rpm_step times in_steps_each_side must be < 100 %",
    )
    book.stop_unless(
        "spacing of the plan is known",
        '(in_plan_spacing="rpm")+(in_plan_spacing="depth")>0',
        "in_plan_spacing: must be rpm or depth",
    )
    book.stop_unless(
        "nominal work rpm is within the machine's limits, for equal steps of depth",
        'IF(in_plan_spacing="depth",(out_slowest_step<=1)*(out_fastest_step>=1)=1,TRUE)',
        "in_nominal_rpm: must be within in_lowest_work_rpm and in_highest_work_rpm",
    )
    book.stop_unless(
        "number of steps is whole", "INT(in_steps_each_side)=in_steps_each_side", "in_steps_each_side must be a whole number"
    )
    order_checks(book, "work_rpm")
    book.look_if("the verdict is found", 'out_verdict<>"found"', "see what to do next on Results")
    book.look_if(
        "readings left out",
        f'SUM({counts})+COUNTIF({statuses},"{BLANK}")+COUNTIF({statuses},"{EXCLUDED}")<{ROWS}',
        "the sheet Readings says in which row and why",
    )
    book.look_if(
        "readings excluded",
        f'COUNTIF({statuses},"{EXCLUDED}")>0',
        "rows with use? = no: excluding readings to please a curve makes the interval worthless",
    )
    book.look_if(
        "readings equal in rpm, load and idle",
        f'SUM({counts})>COUNTIF({statuses},"{USED}")',
        "a repeat, or a copy? Delete it if it is a copy",
    )
    book.look_if(
        "planned readings outside the machine's limits",
        f'COUNTIF(Readings!$C${FIRST_ROW}:$C${LAST_ROW},"{OUTSIDE}")>0',
        "the plan skips these steps: the trial gets narrower",
    )
    book.look_if(
        "idle reading is not given",
        "ISNUMBER(in_idle)+out_own_idles=0",
        "the level is too high by the idle load; the knee is the same",
    )
    book.look_if(
        "work rpm for the target is outside the machine's limits",
        f'ISNUMBER(out_target_rpm)*(out_limit_word<>"{OK}")>0',
        "out_limit_word on Results says which limit",
    )
