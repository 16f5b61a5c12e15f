"""speed_table.xlsx: the work rpm that holds a grit depth, for part diameters by infeed rates, with limits in words."""

from __future__ import annotations

from typing import Any

from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Border, Font, Side
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.styles.numbers import NumberFormat
from openpyxl.utils import get_column_letter

from ... import example
from ...planning import LIMIT_WORDS
from ...quantities import QUANTITIES, Quantity
from .. import knee_record
from ..blocks.limits import beyond, limit_cases, limit_inputs, order_checks, power_limit_check
from ..blocks.record import OUTDATED, look_up, record_inputs, record_pages
from ..blocks.slips import watch_cells
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
from ..book import FONT, INCH, OK, ROW_WIDTHS, Book, Page, number_format
from ..conditions import are_numbers, first_of, quoted
from ..read_me import read_me_page
from ..words import RADIUS
from . import fastest as fastest_sheet
from . import wear as wear_sheet
from .setup import RPM_FORMAT, UNKNOWN, limit_word, work_rpm

ROWS = COLUMNS = 12
TARGET_DEPTH = 1.36  # µm, of the invented example

_STOCK = Quantity("stock", "-", "stock on the radius", "mm", "Radial stock of one plunge.", inch_unit="in")


def defaults() -> dict[str, Any]:
    """The invented example as input values."""
    limits = {name: getattr(example.LIMITS, name) for name, _, _ in LIMIT_WORDS}
    record = knee_record.defaults()
    return dict(
        limits,
        title=example.TITLE,
        target_depth=TARGET_DEPTH,
        band=2.0,
        side="external",
        units="mm",
        infeed_basis="radius",
        wheel_diameter=example.SETUP["wheel_diameter"],
        wheel_speed=example.SETUP["wheel_speed"],
        marked_wheel_speed=example.MARKED_WHEEL_SPEED,
        shape_ratio=example.SETUP["shape_ratio"],
        grit_size=example.DESIGNATION,
        concentration=example.GRIT["concentration"],
        active_fraction=example.GRIT["active_fraction"],
        contact_width=example.CONTACT_WIDTH,
        specific_energy=example.TRUE_LEVEL,
        idle_power=example.IDLE_POWER,
        diameters=example.WORK_DIAMETERS,
        infeed_rates=example.INFEED_RATES,
        stock=0.15,
        smallest_wheel_diameter=150.0,
        reference_diameter=20.0,
        reference_infeed_rate=0.6,
        today=record["today"],
        months=record["months"],
        records=record["records"][:2],
        lookup_key=None,
    )


def build(values: dict[str, Any] | None = None):
    """The workbook, filled with the values (names without in_) in place of those of the example."""
    values = {**defaults(), **(values or {})}
    book = Book("Speed table at constant grit depth", has_units=True)
    _read_me(book)
    _inputs(book, values)
    _tables(book, values)
    fastest_sheet.add(book, ROWS, lambda row: f"'Speed table'!$A{_FIRST_ROW + row}")
    wear_sheet.add(book)
    record_pages(book, values["records"])
    _checks(book)
    book.checks_page()
    tables_page(book)
    return book.finish()


def _read_me(book: Book) -> None:
    read_me_page(
        book,
        "Speed table: the work rpm that holds a grit depth",
        purpose=(
            "Once the knee of a wheel, material and machine is known, every setup should hold that grit depth. This "
            "workbook gives the work rpm for part diameters and infeed rates, and says in words which limit a setup "
            "breaks.",
        ),
        steps=(
            "Inputs: fill in the target depth (the knee from the trial), wheel, grits and the limits of the machine. "
            "Keep C and r as they were in the trial: then the target means the same cut.",
            "Speed table: fill in up to 12 part diameters and 12 infeed rates in the tinted cells, in any order; leave "
            "the rest blank. The upper block gives the work rpm, the lower block says ok or names the broken limit.",
            "An rpm with an exclamation mark breaks a limit: do not use it; read the word in the lower block.",
            "Details: work speed, speed ratio, removal rate, power, time and the rpm window of the band. Fastest: the "
            "highest infeed within all limits for each part. Wheel wear: what holds the depth as the wheel gets "
            "smaller. Record: knees of the shop.",
        ),
        background=(
            "At constant grit depth, work rpm times infeed rate is fixed for a part diameter: half the infeed takes "
            "twice the rpm. Depth within ±2 % needs rpm within about ±8 %.",
            RADIUS,
        ),
    )


def _inputs(book: Book, values: dict[str, Any]) -> None:
    page = book.page("Inputs", "Inputs", ROW_WIDTHS + (22,))
    page.rows_head(True)
    title_input(page, values)
    page.choice(
        "units",
        values["units"],
        ("mm", INCH),
        label="units of the inputs",
        text="mm, m/s, kW or inch, ft/min, hp; the unit column follows. Change it first: values are not rewritten. Grit depth stays in µm.",
    )
    page.input(
        "target_depth",
        values["target_depth"],
        optional=True,
        quantity=QUANTITIES["grit_depth"],
        label="target grit depth",
        text="The knee of the trial. Blank: looked up in the record below by its key.",
    )
    band_input(page, values)
    wheel_inputs(page, values)
    page.heading("Work and infeed")
    page.rows_head(True)
    side_input(page, values)
    infeed_basis_input(page, values)
    grit_inputs(page, values)
    page.heading("Power to expect (all three, or none)")
    page.rows_head(True)
    page.input(
        "specific_energy", values.get("specific_energy"), optional=True, text="Level beyond the knee, from the trial in J/mm³."
    )
    page.input("contact_width", values.get("contact_width"), optional=True)
    page.input("idle_power", values.get("idle_power"), optional=True)
    limit_inputs(page, values)
    page.heading("Time for the stock")
    page.rows_head(True)
    page.input("stock", values.get("stock"), optional=True, quantity=_STOCK, text="What the plunge takes off, on the radius.")
    wear_sheet.inputs(page, values)
    page.heading("Target from the shop's record (sheet Record: paste the rows of knee_record.xlsx there)")
    page.rows_head()
    record_inputs(page, values["today"], values["months"])
    look_up(page, values["lookup_key"])
    page.heading("Steps")
    page.rows_head()
    usable = f'IF(out_lookup_word="{OK}",TRUE,out_lookup_word="{OUTDATED}")'
    page.quantity_result(
        "grit_depth",
        f"IF(ISNUMBER(in_target_depth),in_target_depth,IF({usable},out_lookup_knee,NA()))",
        name="target_depth",
        label="target grit depth",
        kind="step",
        text="As given, else the knee of the record.",
    )
    book.stop_unless(
        "target grit depth is given or stands in the record",
        "ISNUMBER(out_target_depth)",
        "fill in in_target_depth, or leave it blank and choose in_lookup_key; out_lookup_word says what is wrong with the key",
    )
    wheel_results(page)
    book.look_if(
        "the target comes from an outdated entry of the record",
        f'ISNUMBER(in_target_depth)+(out_lookup_word<>"{OUTDATED}")=0',
        "repeat the trial; use the knee with care until then",
    )
    book.look_if(
        "C r differs from that of the record by more than 1 %",
        "(1-ISNUMBER(in_target_depth))*(ABS(out_grit_density*in_shape_ratio/(out_lookup_density*out_lookup_ratio)-1)>0.01)>0",
        "the target means the same cut only with the C and r of its trial; or another wheel of known C r",
    )
    infeed_factor_result(page)
    page.result(
        "length_factor",
        f'IF(in_units="mm",1,IF(in_units="{INCH}",25.4,NA()))',
        label="mm per unit of part diameter and infeed",
        digits=1,
        kind="step",
        text="25.4 for inches.",
    )
    book.stop_unless("units are known", "ISNUMBER(out_length_factor)", "in_units: must be mm or inch")
    page.result(
        "power_known",
        f"IF({are_numbers('use_specific_energy', 'use_contact_width', 'use_idle_power')},1,0)",
        label="power can be expected (1 yes, 0 no)",
        digits=0,
        kind="step",
        text="All three of its inputs are given.",
    )
    page.result(
        "rpm_low_factor",
        "(1-in_band/100)^4",
        label="lowest rpm within the band, per rpm of the table",
        digits=4,
        text="Depth goes with the fourth root of rpm.",
    )
    page.result(
        "rpm_high_factor",
        "(1+in_band/100)^4",
        label="highest rpm within the band, per rpm of the table",
        digits=4,
        text="Depth goes with the fourth root of rpm.",
    )


_AXIS_ROW = 6  # infeed rates as given; on the radius one row below
_FIRST_ROW = 9  # of the part diameters
_LETTERS = tuple(get_column_letter(2 + column) for column in range(COLUMNS))


def _tables(book: Book, values: dict[str, Any]) -> None:
    table = book.page("Speed table", "Speed table", (44,) + (14,) * COLUMNS)
    details = book.page("Details", "Details of each setup", (44,) + (14,) * COLUMNS)
    _axes(table, values)
    rpm = _block(table, _FIRST_ROW, "rpm_table", RPM_FORMAT, _rpm)
    for title, name, digits, compute in (
        ("work speed, m/min", "work_speed_table", 2, _work_speed),
        ("speed ratio, -", "speed_ratio_table", 0, _speed_ratio),
        ("specific removal rate, mm³/(mm·s)", "removal_rate_table", 3, _removal_rate),
        ("spindle power, kW, idle included", "power_table", 2, _power),
        ("time for the stock, s", "time_table", 1, _time),
        ("lowest work rpm within the band, 1/min (! breaks a limit)", "rpm_low_table", 1, _rpm_low),
        ("highest work rpm within the band, 1/min (! breaks a limit)", "rpm_high_table", 1, _rpm_high),
    ):
        _repeat_axes(details, title)
        area = _block(details, details.row, name, RPM_FORMAT if name in _EDGES else number_format(digits), compute)
        if name in _EDGES:
            first, _, _ = area.partition(":")
            of_table = f"INDEX(out_limit_table,ROW()-{first.lstrip('B')}+1,COLUMN()-1)"
            beyond_edge = (beyond(limit, first) for limit in ("highest_work_rpm", "lowest_work_rpm"))
            _mark(details, area, f"{of_table}<>{quoted(OK)}", *beyond_edge)
    table.row = _FIRST_ROW + ROWS
    _repeat_axes(table, "is it within the limits")
    words = _block(table, table.row, "limit_table", "@", _word)
    _mark(table, rpm, f"{words.partition(':')[0]}<>{quoted(OK)}")
    table.sheet.freeze_panes = f"B{_FIRST_ROW}"


def _axes(page: Page, values: dict[str, Any]) -> None:
    for name, count in (("diameters", ROWS), ("infeed_rates", COLUMNS)):
        if len(values[name]) > count:
            raise ValueError(f"{name} must be at most {count} values (got {len(values[name])})")
    page.note(
        "Fill in the tinted cells: infeed rates across, part diameters down. An rpm with ! breaks a limit: do not use it, the "
        "block below says which."
    )
    unit = f'&IF(in_units="{INCH}","in","mm")'
    factor = "out_infeed_factor*out_length_factor"
    said = watch_cells(page.book, "in_infeed_rates", QUANTITIES["infeed_rate"], "infeed rates", factor=factor)
    shown = f'={said}&"infeed rate as the machine shows it, "{unit}&"/min"'
    page.cells((shown,) + _padded(values["infeed_rates"], COLUMNS))
    page.sheet.row_dimensions[_AXIS_ROW].height = 30  # points, of two lines
    page.cells(
        ("infeed rate on the radius, mm/min",)
        + tuple(f'=IF(ISNUMBER({letter}{_AXIS_ROW}),{letter}{_AXIS_ROW}*{factor},"")' for letter in _LETTERS),
        formats=(None,) + ("General",) * COLUMNS,
    )
    said = watch_cells(page.book, "in_diameters", QUANTITIES["work_diameter"], "part diameters", factor="out_length_factor")
    page.table_head((f'={said}&"part diameter, "{unit}', "work rpm, 1/min") + ("",) * (COLUMNS - 1), lines=2)
    page.merge_row(page.row - 1, 2)
    for row, diameter in enumerate(_padded(values["diameters"], ROWS), start=_FIRST_ROW):
        page.sheet.cell(row, 1, diameter)
        page.mark_input(row, 1)
    for column in range(2, 2 + COLUMNS):
        page.mark_input(_AXIS_ROW, column)
    for name, cells, quantity, label in (
        ("in_infeed_rates", f"B{_AXIS_ROW}:{_LETTERS[-1]}{_AXIS_ROW}", "infeed_rate", "infeed rate"),
        ("in_diameters", f"A{_FIRST_ROW}:A{_FIRST_ROW + ROWS - 1}", "work_diameter", "part diameter"),
    ):
        page.book.name(name, page.sheet, cells)
        page.validate(cells, QUANTITIES[quantity], label, "> 0, in the unit that stands beside")


def _padded(values, count: int) -> tuple:
    return tuple(values) + (None,) * (count - len(values))


def _repeat_axes(page: Page, title: str) -> None:
    """A heading row with the infeed rates on the radius; the diameters follow in the first column of the block."""
    page.row += 1
    page.table_head(("part diameter, mm",) + tuple(f"='Speed table'!{letter}{_AXIS_ROW + 1}" for letter in _LETTERS), lines=2)
    page.sheet.cell(page.row - 1, 1).value = f"{title}; part diameter, mm"


class _Setup:
    """The cells of one setup: part diameter, infeed rate on the radius, work rpm, and its place in the blocks."""

    def __init__(self, row: int, letter: str):
        self.letter, self.offset = letter, row
        self.given = f"'Speed table'!$A{_FIRST_ROW + row}"
        self.diameter = f"({self.given}*out_length_factor)"  # mm
        self.rate = f"'Speed table'!{letter}${_AXIS_ROW + 1}"
        self.rpm = f"'Speed table'!{letter}{_FIRST_ROW + row}"

    def detail(self, name: str) -> str:
        first = _DETAIL_NAMES.index(name) * (ROWS + 2) + _FIRST_DETAIL_ROW
        return f"Details!{self.letter}{first + self.offset}"


_EDGES = ("rpm_low_table", "rpm_high_table")  # of the band
_DETAIL_NAMES = ("work_speed", "speed_ratio", "removal_rate", "power")
_FIRST_DETAIL_ROW = 7


def _block(page: Page, first_row: int, name: str, number: str | None, compute) -> str:
    """Fill a block of ROWS by COLUMNS with formulas and name it out_<name>; gives its address."""
    page.row = first_row
    for row in range(ROWS):
        setups = [_Setup(row, letter) for letter in _LETTERS]
        if name != "rpm_table":  # there the diameters are filled in
            page.cells((f'=IF(ISBLANK({setups[0].given}),"",IFERROR({setups[0].diameter},{setups[0].given}))',))
            page.row -= 1
        page.cells(tuple("=" + compute(setup) for setup in setups), formats=(number,) * COLUMNS, column=2)
    address = f"B{first_row}:{_LETTERS[-1]}{page.row - 1}"
    page.book.name("out_" + name, page.sheet, address)
    return address


def _rpm(setup: _Setup) -> str:
    rpm = work_rpm(
        work_diameter=setup.diameter, infeed_rate=setup.rate, wheel_speed="out_wheel_speed", wheel_diameter="use_wheel_diameter"
    )
    return first_of(
        (f"ISBLANK({setup.given})", quoted("")),
        (f"ISBLANK('Speed table'!{setup.letter}${_AXIS_ROW})", quoted("")),
        ("out_ready=1", rpm),
        otherwise="NA()",
    ).replace("'Speed table'!", "")


def _from_rpm(setup: _Setup, value: str) -> str:
    """A value that needs the rpm: nothing where there is no setup, a dash where the wheel does not fit."""
    return f"IF(ISNUMBER({setup.rpm}),{value},{setup.rpm})"


def _work_speed(setup: _Setup) -> str:
    return _from_rpm(setup, formula("work_speed", work_diameter=setup.diameter, work_rpm=setup.rpm))


def _speed_ratio(setup: _Setup) -> str:
    return _from_rpm(setup, formula("speed_ratio", wheel_speed="out_wheel_speed", work_speed=setup.detail("work_speed")))


def _removal_rate(setup: _Setup) -> str:
    return _from_rpm(setup, formula("removal_rate", work_diameter=setup.diameter, infeed_rate=setup.rate))


def _power(setup: _Setup) -> str:
    power = formula(
        "grinding_power",
        specific_energy="use_specific_energy",
        removal_rate=setup.detail("removal_rate"),
        contact_width="use_contact_width",
    )
    return _from_rpm(setup, first_of(("out_power_known=1", f"{power}+use_idle_power"), otherwise=quoted(UNKNOWN)))


def _time(setup: _Setup) -> str:
    return _from_rpm(setup, first_of((are_numbers("use_stock"), f"60*use_stock/{setup.rate}"), otherwise=quoted(UNKNOWN)))


def _rpm_low(setup: _Setup) -> str:
    return _from_rpm(setup, f"{setup.rpm}*out_rpm_low_factor")


def _rpm_high(setup: _Setup) -> str:
    return _from_rpm(setup, f"{setup.rpm}*out_rpm_high_factor")


def _word(setup: _Setup) -> str:
    values = {name: setup.detail(name) for name in ("speed_ratio", "removal_rate", "power")}
    values.update(work_rpm=setup.rpm, infeed_rate=setup.rate)
    return limit_word(setup.rpm, *limit_cases(**values)).replace("'Speed table'!", "")


def _mark(page: Page, area: str, *broken: str) -> None:
    """An exclamation mark, bold and a frame, so that an rpm that breaks a limit shows without colour; for the first cell."""
    frame = Side(style="thin", color="000000")
    style = DifferentialStyle(
        font=Font(name=FONT, bold=True),
        border=Border(frame, frame, frame, frame),
        numFmt=NumberFormat(numFmtId=190, formatCode=";".join(part + '" !"' for part in RPM_FORMAT.split(";"))),
    )
    rule = FormulaRule(formula=[f"AND(ISNUMBER({area.partition(':')[0]}),OR({','.join(broken)}))"])
    rule.dxf = style
    page.sheet.conditional_formatting.add(area, rule)


def _checks(book: Book) -> None:
    for name, label in (("diameters", "part diameters"), ("infeed_rates", "infeed rates")):
        book.stop_unless(
            f"{label} are numbers > 0", f'COUNTA(in_{name})=COUNTIF(in_{name},">0")', f"in_{name}: must be > 0, or blank"
        )
        book.stop_unless(f"at least one of the {label} is given", f"COUNT(in_{name})>0", f"in_{name}: fill in at least one")
    order_checks(book, "work_rpm", "infeed_rate", "speed_ratio")
    power_limit_check(book)
    book.look_if(
        "setups that break a limit",
        f'COUNTIF(out_limit_table,"{OK}")<COUNT(in_diameters)*COUNT(in_infeed_rates)',
        "the lower block of the speed table names the limit; do not use the rpm with !",
    )
