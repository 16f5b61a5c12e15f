"""The sheet Results of plunge_cycle.xlsx, with the answers at its head, and the sheet `calc results` that computes them."""

from __future__ import annotations

from openpyxl.styles import Alignment

from ...sheets.book import Book
from ...sheets.checks import OK, STOP
from ...sheets.conditions import are_numbers, first_of, quoted
from ...sheets.panels import merged, panel, row_heights, title
from ...sheets.styles import font, outline
from ...sheets.words import PREFACTOR
from ..blocks.shown import shown, unit_words
from ..blocks.wheel import formula
from .calculation import over
from .stages import STAGES, START, UNKNOWN

SHEET, CALC = "Results", "calc results"
_WIDTHS = (36, 13, 12, 2) + (12.1,) * 8
_LAST = "L"
CHARTS = ("E", 8)  # column and row where the charts begin
_ROWS = (  # out_<name>, label, unit, decimals; a text without a name is a heading
    ("", "Time", "", 0),
    ("grinding_time", "grinding time", "s", 2),
    ("cycle_time", "cycle time, other time included", "s", 2),
    ("parts_per_hour", "parts per hour", "1/h", 1),
    ("highest_stage_power", "highest power within a stage, idle included", "kW", 2),
    ("work_volume", "work removed per part", "mm³", 2),
    ("", "Wheel", "", 0),
    ("usable_volume", "usable volume of a new wheel", "mm³", 0),
    ("wheel_wear", "wheel lost per part", "mm³", 3),
    ("parts_per_wheel", "parts per wheel", "-", 0),
    ("", "Cost per part", "", 0),
    ("wheel_cost", "wheel", "money", 4),
    ("machine_cost", "machine", "money", 4),
    ("part_cost", "wheel and machine", "money", 4),
)


def results_sheet(book: Book) -> None:
    sheet = book.sheet(SHEET, _WIDTHS)
    title(sheet, "F")
    book.state_line(sheet, len(_WIDTHS))
    row_heights(sheet, {1: 20, 2: 28, 3: 16, 4: 34, 5: 17, 6: 18, 7: 20, **dict.fromkeys(range(8, 8 + len(_ROWS)), 20)})
    _panels(sheet)
    merged(sheet, f"A7:{_LAST}7", "=out_check", "gf line").font = font(10, bold=True)
    for row, (name, label, unit, digits) in enumerate(_ROWS, 8):
        if not name:
            merged(sheet, f"A{row}:C{row}", label, "gf panel label")
            continue
        cells = sheet[f"A{row}"], sheet[f"B{row}"], sheet[f"C{row}"]
        for cell, content, style in zip(
            cells, (label, "=" + shown(f"out_{name}", unit), "=" + unit_words(unit)), ("gf word", "gf result", "gf word")
        ):
            cell.value, cell.style = content, style
        cells[0].alignment = Alignment(horizontal="left", vertical="center", indent=1, shrink_to_fit=True)
        cells[1].font, cells[1].number_format = font(10, bold=True), "0" if digits == 0 else "0." + "0" * digits
        cells[1].alignment = Alignment(horizontal="right", vertical="center")
    last = 7 + len(_ROWS)
    outline(sheet, f"A8:C{last}")
    for row, text in (
        (
            last + 2,
            "Time is what the settings say; deflection, dressing and gauging add to it. Wheel cost is only as good as the grinding ratio.",
        ),
        (last + 3, PREFACTOR),
    ):
        merged(sheet, f"A{row}:C{row}", text, "gf line", horizontal="left", vertical="top", wrap_text=True)
        row_heights(sheet, {row: 20 + 13 * (len(text) // 60)})
    row_heights(sheet, {last + 1: 20})
    sheet.print_area = f"A1:{_LAST}{last + 14}"
    sheet.page_setup.fitToHeight = 1


def _panels(sheet) -> None:
    ready = "out_ready=1"
    named = f'IF(out_cycle_word="{OK}","within band and limits","! "&out_cycle_word)'
    stop = quoted(STOP)
    panel(
        sheet,
        "A",
        "B",
        "IS THE CYCLE WITHIN BAND AND LIMITS",
        first_of((ready, f'IF(out_cycle_word="{OK}","{OK}","no")'), otherwise=stop),
        first_of((ready, named), otherwise=quoted("see the line above")),
        first_of((ready, '"target "&FIXED(in_target_depth,3,TRUE)&" µm within ±"&in_band&" %"'), otherwise=quoted("")),
        size=20,
    )

    def number(name: str, digits: int, unit: str) -> str:
        return f'IF(ISNUMBER({name}),FIXED({name},{digits},TRUE)&"{unit}","not known")'

    panel(
        sheet,
        "C",
        "F",
        "CYCLE TIME",
        first_of((ready, "out_cycle_time"), otherwise=stop),
        first_of((ready, f'"grinding time "&{number("out_grinding_time", 1, " s")}'), otherwise=quoted("")),
        first_of((ready, f"{number('out_parts_per_hour', 1, ' parts per hour')}"), otherwise=quoted("")),
        '0.0" s"',
        size=20,
    )
    power = shown("out_highest_stage_power", "kW")
    panel(
        sheet,
        "G",
        "I",
        "HIGHEST POWER",
        first_of(
            (ready, f'IF(ISNUMBER(out_highest_stage_power),FIXED({power},2,TRUE)&" "&{unit_words("kW")},"not known")'),
            otherwise=stop,
        ),
        quoted("within a stage, idle included"),
        quoted(""),
        size=20,
    )
    panel(
        sheet,
        "J",
        _LAST,
        "COST PER PART",
        first_of((ready, f"{number('out_part_cost', 3, '')}"), otherwise=stop),
        first_of(
            (ready, f'"wheel "&{number("out_wheel_cost", 3, "")}&", machine "&{number("out_machine_cost", 3, "")}'),
            otherwise=quoted(""),
        ),
        first_of((ready, f"{number('out_parts_per_wheel', 0, ' parts per wheel')}"), otherwise=quoted("")),
        size=20,
    )


def _known(condition: str, value: str) -> str:
    return first_of(("out_ready<>1", "NA()"), (condition, value), otherwise=quoted(UNKNOWN))


def calc_page(book: Book) -> None:
    """The results in shop units: the names out_..."""
    page = book.page(CALC, "Calculation of the results, in s, mm³, kW (nothing to type here)")
    page.rows_head()
    word = first_of(
        *(
            (
                f"out_{stage.name}_used*(out_{stage.name}_word<>{quoted(OK)})=1",
                f'out_{stage.name}_label&": "&out_{stage.name}_word',
            )
            for stage in STAGES
        ),
        otherwise=quoted(OK),
    )
    ready = "IF(out_ready=1,{},NA())".format
    usable = formula(
        "ring_volume",
        outer_diameter="use_new_wheel_diameter",
        inner_diameter="use_smallest_wheel_diameter",
        axial_width="use_wheel_width",
    )
    of_wheel = are_numbers("use_new_wheel_diameter", "use_smallest_wheel_diameter", "use_wheel_width")
    worn = formula("wheel_wear", work_volume="out_work_volume", grinding_ratio="in_grinding_ratio")
    formulas = {
        "grinding_time": ready(over("SUM", "time")),
        "cycle_time": "out_grinding_time+IF(ISNUMBER(in_other_time),in_other_time,0)",
        "parts_per_hour": "3600/out_cycle_time",
        "highest_stage_power": _known(
            over("COUNT", "power") + ">0", f"MAX({over('MAX', START + 'power')},{over('MAX', 'power')})"
        ),
        "work_volume": _known("ISNUMBER(use_contact_width)", over("SUM", "volume")),
        "usable_volume": _known(of_wheel, usable),
        "wheel_wear": _known(are_numbers("out_work_volume", "in_grinding_ratio"), worn),
        "parts_per_wheel": _known(are_numbers("out_usable_volume", "out_wheel_wear"), "out_usable_volume/out_wheel_wear"),
        "wheel_cost": _known(are_numbers("out_parts_per_wheel", "in_wheel_price"), "in_wheel_price/out_parts_per_wheel"),
        "machine_cost": _known("ISNUMBER(in_hourly_rate)", "in_hourly_rate*out_cycle_time/3600"),
        "part_cost": _known(are_numbers("out_wheel_cost", "out_machine_cost"), "out_wheel_cost+out_machine_cost"),
    }
    page.sentence("cycle_word", f'IF(out_ready=1,{word},"{STOP}: see Checks")', label="is the cycle within band and limits")
    for name, label, unit, digits in _ROWS:
        if name:
            page.result(name, formulas[name], label=label, unit=unit, digits=digits)
