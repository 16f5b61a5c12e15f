"""The sheet Speed table of speed_table.xlsx: the page to pin up at the machine, with the rpm in large print.

A setup that breaks a limit carries no number here, only words: a pinned page must not show what must not be set.
"""

from __future__ import annotations

from typing import Any

from openpyxl.formatting.rule import Rule
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.styles.differential import DifferentialStyle

from ...quantities import QUANTITIES
from ...sheets.book import Book
from ...sheets.checks import OK, STOP
from ...sheets.columns import filled_up
from ...sheets.conditions import are_numbers, first_of, quoted
from ...sheets.inches import IN_INCHES
from ...sheets.page import Page
from ...sheets.panels import NOTHING, merged, panel, row_heights, title
from ...sheets.styles import font, outline, warning_format
from ...trial.inputs import DATE_FORMAT
from ..blocks.record import OUTDATED
from ..blocks.shown import factor, in_words, unit_words
from ..blocks.slips import watch_cells
from ..blocks.state import speed_words
from .grid import AXIS, COLUMNS, FIRST_ROW, LETTERS, ROWS, TABLE, Setup
from .setup import DOES_NOT_FIT, NO_RPM

_WIDTHS = (19,) + (11.8,) * COLUMNS
_LAST = LETTERS[-1]
_FOOT = FIRST_ROW + ROWS
_HEIGHTS = {1: 24, 2: 28, 3: 16, 4: 34, 5: 17, 6: 18, 7: 18, 8: 20, 9: 26, 10: 16, _FOOT: 26}
_INCH_FACTOR = QUANTITIES["wheel_diameter"].inch_factor
RPM_FORMAT = "[<0.5]0.0E+0;[<100]0.0;0"
_ROUNDED_UP = ((100.0, 5.0), (20.0, 1.0), (0.0, 0.1))  # from this wheel diameter on, mm: to so many mm
_ROUNDED_UP_INCH = ((4.0, 0.2), (0.8, 0.05), (0.0, 0.005))  # inch


def page_sheet(book: Book, values: dict[str, Any]) -> None:
    sheet = book.sheet(TABLE, _WIDTHS)
    page = Page(book, sheet, len(_WIDTHS))
    title(sheet, "F")
    book.state_line(sheet, len(_WIDTHS))
    row_heights(sheet, {**_HEIGHTS, **dict.fromkeys(range(FIRST_ROW, _FOOT), 26)})
    _head(book, sheet)
    _panels(sheet)
    _axes(page, values)
    _table(book, sheet)
    sheet.freeze_panes = f"A{FIRST_ROW}"
    sheet.print_area = f"A1:{_LAST}{_FOOT}"
    sheet.page_setup.fitToHeight = 1
    sheet.print_options.horizontalCentered = True
    for selection in sheet.sheet_view.selection:
        selection.activeCell = selection.sqref = f"B{AXIS}"


def footer(sheet) -> None:
    """To call when the book is finished: what stands at the foot of the printed page."""
    sheet.oddFooter.right.text = "valid until the wheel, the part or the infeed changes"
    sheet.page_margins.top, sheet.page_margins.bottom = 0.5, 0.6


def _text(name: str) -> str:
    """A text input, or nothing."""
    return f'IF(ISERROR(in_{name}),"",in_{name}&"")'


def _labelled(label: str, name: str) -> str:
    return f'IF({_text(name)}="","",{quoted(label)}&{_text(name)}&"   ")'


def _head(book: Book, sheet) -> None:
    for cell, word in (("G1", "Inputs"), ("H1", "Details"), ("I1", "Checks")):
        book.link(sheet, cell, word, f"'{word}'!A1")
    sheet["K1"], sheet["K1"].style, sheet["K1"].number_format = '=IF(ISNUMBER(in_date),in_date,"no date")', "gf line", DATE_FORMAT
    sheet["K1"].alignment = Alignment(horizontal="right", vertical="center")
    merged(sheet, f"L1:{_LAST}1", f'=IF({_text("who")}="","no name","by "&{_text("who")})', "gf line")
    what = "&".join(_labelled(f"{name}: ", name) for name in ("material", "machine"))
    merged(sheet, "A7:F7", f"={what}", "gf line", horizontal="left", vertical="center", indent=1, shrink_to_fit=True).font = font(
        10, bold=True
    )
    merged(
        sheet, f"G7:{_LAST}7", "=out_check", "gf line", horizontal="left", vertical="center", indent=1, shrink_to_fit=True
    ).font = font(9, bold=True)


def _length(cell: str, digits: int = 1) -> str:
    """Formula text of a length in mm as words in the units chosen."""
    return in_words(cell, "mm", digits, digits + 2)


def _panels(sheet) -> None:
    edges = 'FIXED(100*(out_rpm_low_factor-1),1,TRUE)&" to +"&FIXED(100*(out_rpm_high_factor-1),1,TRUE)&" %"'
    of_record = first_of(
        ("ISNUMBER(in_target_depth)", quoted("target as typed on Inputs")),
        (f"out_lookup_word={quoted(OUTDATED)}", '"! record "&out_lookup_trimmed&": outdated"'),
        otherwise='"record "&out_lookup_trimmed&": "&out_lookup_word',
    )
    ready = "out_ready=1"
    panel(
        sheet,
        "A",
        "C",
        "HOLD GRIT DEPTH",
        first_of((ready, "out_target_depth"), otherwise=quoted(STOP)),
        first_of((ready, f'"±"&in_band&" % of depth = rpm "&{edges}'), otherwise=quoted("see the line above")),
        first_of((ready, of_record), otherwise=quoted("")),
        '0.000" µm"',
        size=20,
    )
    rpm = first_of((ready, 'FIXED(out_wheel_rpm_now,0,TRUE)&" 1/min"'), otherwise=quoted("– 1/min"))
    diameter = _length("use_wheel_diameter")
    wheel = first_of(
        (f'{_text("wheel")}<>""', _text("wheel")),
        otherwise='IF(ISERROR(in_grit_size),"",in_grit_size&"")&IF(ISNUMBER(in_concentration),", concentration "&in_concentration,"")',
    )
    panel(
        sheet,
        "D",
        "F",
        "WHEEL",
        first_of(("ISNUMBER(use_wheel_diameter)", diameter), otherwise=quoted(NOTHING)),
        wheel,
        first_of((ready, f'"at "&{rpm}&": print again below "&{_length("out_print_again_below")}'), otherwise=quoted("")),
        size=20,
    )
    panel(
        sheet,
        "G",
        "I",
        "WHEEL SPEED",
        first_of(("ISNUMBER(out_wheel_speed)", speed_words("out_wheel_speed")), otherwise=quoted(NOTHING)),
        first_of((ready, f'{rpm}&" at "&{diameter}'), otherwise=quoted("")),
        first_of(
            ("ISNUMBER(use_marked_wheel_speed)", f'"marked on the wheel: "&{speed_words("use_marked_wheel_speed")}'),
            otherwise=quoted("marked on the wheel: not given"),
        ),
        size=20,
    )
    panel(sheet, "J", _LAST, "LIMITS", _between("work_rpm", "0", " 1/min", "no rpm limit"), _more_limits(), _counts(), size=20)


def _between(what: str, digits: str, unit: str, none: str, factor: str = "1") -> str:
    low, high = (f"use_{end}_{what}" for end in ("lowest", "highest"))
    shown = {cell: f"FIXED({cell}/{factor},{digits},TRUE)" for cell in (low, high)}
    return first_of(
        (are_numbers(low, high), f'{shown[low]}&" to "&{shown[high]}&"{unit}"'),
        (f"ISNUMBER({low})", f'"from "&{shown[low]}&"{unit}"'),
        (f"ISNUMBER({high})", f'"up to "&{shown[high]}&"{unit}"'),
        otherwise=quoted(none),
    )


def _more_limits() -> str:
    """Infeed on the radius and power, in the units chosen."""
    infeed = _between("infeed_rate", f"IF({IN_INCHES},4,2)", "", "", factor("mm/min"))
    power = in_words("use_highest_power", "kW", 1, 1)
    limited = "ISNUMBER(use_lowest_infeed_rate)+ISNUMBER(use_highest_infeed_rate)>0"
    return (
        f'IF({limited},"infeed "&{infeed}&IF({IN_INCHES}," in/min"," mm/min")&" on the radius","no infeed limit")'
        f'&IF(ISNUMBER(use_highest_power),", power "&{power},"")'
    )


def _counts() -> str:
    width = f'IF(ISNUMBER(use_contact_width),", width "&{_length("use_contact_width")},"")'
    return (
        f'IF(ISERROR(in_side),"",in_side&"")&{width}&", infeed counts on the "&IF(ISERROR(in_infeed_basis),"",in_infeed_basis&"")'
    )


def _axes(page: Page, values: dict[str, Any]) -> None:
    sheet, book = page.sheet, page.book
    rates, diameters = (filled_up(name, values[name], most) for name, most in (("infeed_rates", COLUMNS), ("diameters", ROWS)))
    length = unit_words("mm")
    basis = 'IF(ISERROR(in_infeed_basis),"",in_infeed_basis&"")'
    head = f'="infeed rate as the machine shows it, "&{length}&"/min, on the "&{basis}&"; below it work rpm, 1/min"'
    sheet["A8"], sheet["A8"].style = "type in the tinted cells", "gf unit"
    merged(sheet, f"B8:{_LAST}8", head, "gf head")
    sheet[f"A{AXIS}"], sheet[f"A{AXIS}"].style = "infeed rates  ►", "gf head"
    sheet["A10"], sheet["A10"].style = f'="▼  part diameter, "&{length}', "gf unit"
    factor = "out_infeed_factor*out_length_factor"
    said = [
        watch_cells(
            book,
            "in_infeed_rates",
            QUANTITIES["infeed_rate"],
            "infeed rates",
            factor=factor,
            where="in_infeed_rates",
            in_inches=True,
        ),
        watch_cells(
            book,
            "in_diameters",
            QUANTITIES["work_diameter"],
            "part diameters",
            factor="out_length_factor",
            where="in_diameters",
            in_inches=True,
        ),
    ]
    heading = {"infeed rates": said[0], "part diameters": said[1]}
    warned = first_of(*((f'{text}<>""', f'{text}&"({label})"') for label, text in heading.items()), otherwise=quoted(""))
    merged(sheet, f"B10:{_LAST}10", "=" + warned, "gf unit", horizontal="left", vertical="center")
    warning_format(sheet, f"B10:{_LAST}10", 'LEFT($B$10,1)="!"')
    for place, rate in enumerate(rates, start=2):
        _axis(sheet.cell(AXIS, place), rate, 14)
    for place, diameter in enumerate(diameters, start=FIRST_ROW):
        _axis(sheet.cell(place, 1), diameter, 16)
    for name, cells, quantity, label in (
        ("in_infeed_rates", f"B{AXIS}:{_LAST}{AXIS}", "infeed_rate", "infeed rate"),
        ("in_diameters", f"A{FIRST_ROW}:A{_FOOT - 1}", "work_diameter", "part diameter"),
    ):
        outline(sheet, cells)
        book.name(name, sheet, cells)
        page.validate(cells, QUANTITIES[quantity], label, "> 0, in the unit that stands beside")
    for rule in sheet.data_validations.dataValidation:
        rule.showInputMessage = False  # it would cover the table; what a cell must be is said when it is not


def _axis(cell, value: Any, size: float) -> None:
    cell.value, cell.style = value, "gf input"
    cell.font, cell.alignment = font(size, bold=True), Alignment(horizontal="center", vertical="center")


def _table(book: Book, sheet) -> None:
    for row in range(ROWS):
        for letter in LETTERS:
            setup = Setup(row, letter)
            rpm, word = setup.seen("rpm_table"), setup.seen("limit_table")
            cell = sheet[f"{letter}{FIRST_ROW + row}"]
            cell.value = "=" + first_of(
                (f"ISERROR({rpm})", quoted("")),
                (f"{word}={quoted(OK)}", rpm),
                (f"ISNUMBER({rpm})", f'"{NOTHING} "&SUBSTITUTE({word}," too","")'),
                (f"{rpm}={quoted(NO_RPM)}", quoted(f"{NOTHING} {DOES_NOT_FIT}")),
                otherwise=quoted(""),
            )
            cell.style, cell.number_format = "gf result", RPM_FORMAT
            cell.font = font(16, bold=True)
            cell.alignment = Alignment(horizontal="center", vertical="center", shrink_to_fit=True)
    area = f"B{FIRST_ROW}:{_LAST}{_FOOT - 1}"
    outline(sheet, area)
    book.name("out_page_table", sheet, area)
    look = DifferentialStyle(
        font=Font(bold=False, italic=True, color="FF404040"), fill=PatternFill(bgColor="FFD9D9D9", fill_type="solid")
    )
    rule = Rule(type="expression", formula=[f'LEFT(B{FIRST_ROW},1)="{NOTHING}"'], dxf=look)
    sheet.conditional_formatting.add(area, rule)
    who = f'IF({_text("who")}="","whoever signed this page",{_text("who")})'
    foot = (
        f'="{NOTHING} and words: that limit forbids the setup; the number stands on the sheet Details. At burn, cracks or wheel breakdown: '
        f'stop and tell "&{who}&"."'
    )
    merged(sheet, f"A{_FOOT}:{_LAST}{_FOOT}", foot, "gf line", horizontal="left", vertical="center", wrap_text=True, indent=1)


def worn(page: Page) -> None:
    """Where the depth leaves the band as the wheel wears at constant wheel rpm: out_print_again_below, in mm.

    The depth goes with the wheel diameter to the power -1/2 by the wheel speed, and -1/4 of that of the equivalent diameter: at most
    -3/4 outside, more in a bore, where the smallest part counts.
    """
    page.quantity_result(
        "wheel_rpm",
        "60000*out_wheel_speed/(PI()*use_wheel_diameter)",
        name="wheel_rpm_now",
        label="wheel rpm at this wheel diameter and speed",
        kind="step",
    )
    smallest = "MIN(in_diameters)*out_length_factor"
    page.step(
        "diameter_exponent",
        first_of(("out_side>=0", "0.75"), otherwise=f"0.5+0.25*{smallest}/({smallest}-use_wheel_diameter)"),
        label="exponent of the wheel diameter with which the depth grows as the wheel wears",
        digits=3,
        text="0.75 is the most outside and on a flat; in a bore that of the smallest part.",
    )
    exact = "use_wheel_diameter/(1+in_band/100)^(1/out_diameter_exponent)"
    page.step(
        "wheel_at_band",
        exact,
        label="wheel diameter at which the depth has grown by the band",
        unit="mm",
        digits=2,
        text="At constant wheel rpm, infeed and work rpm.",
    )

    def rounded(steps, unit: str) -> str:
        value = f"(out_wheel_at_band/{unit})"
        cases = [(f"use_wheel_diameter/{unit}>={least:g}", f"ROUNDUP({value}/{step:g},0)*{step:g}") for least, step in steps]
        return f"{unit}*{first_of(*cases[:-1], otherwise=cases[-1][1])}"

    shown = f"IF({IN_INCHES},{rounded(_ROUNDED_UP_INCH, f'{_INCH_FACTOR!r}')},{rounded(_ROUNDED_UP, '1')})"
    page.result(
        "print_again_below",
        f"MIN(use_wheel_diameter,{shown})",
        label="wheel diameter below which the page is to be printed again",
        unit="mm",
        digits=2,
        text="Rounded up: the depth leaves the band no earlier.",
    )


def warning_of_the_record() -> tuple[str, str]:
    """The target comes from an outdated entry: a case of the state line."""
    return (
        f'IF(out_ready=1,ISNUMBER(in_target_depth)+(out_lookup_word<>"{OUTDATED}")=0,FALSE)',
        quoted("! The target comes from an outdated entry of the record: repeat the trial, and use this with care until then."),
    )
