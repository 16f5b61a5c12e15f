"""The sheet Trial: what to set next, the verdict, the knee, what to set for the parts, the readings and the chart, on one screen.

It shows what other sheets compute.  Nothing here decides: a word or number changes where its cell out_... is written.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from openpyxl.styles import Alignment
from openpyxl.utils import get_column_letter
from openpyxl.utils.cell import column_index_from_string, coordinate_from_string

from ...knee import TOO_FEW
from ...sheets.book import Book
from ...sheets.checks import OK
from ...sheets.conditions import are_numbers, first_of, quoted
from ...sheets.panels import NOTHING, merged, panel, row_heights, title, word_panel
from ...sheets.styles import HEAD_FILL, INPUT_TAB, THIN, font, outline, warning_format
from ...trial.inputs import DATE_FORMAT
from ...trial.readings import BLANK
from ..blocks.knee_cases import CASES
from ..blocks.limits import limit_cases
from ..blocks.shown import shown, unit_words
from .calculation import IS_BOTH
from .readings import figures, readings_table
from .tables import CALCULATION, CHECKS, FIRST_ROW, HELP, INPUTS, READINGS, RECORD, ROWS, TRIAL

_WIDTHS = (*READINGS.widths, 0.8, 14.5, 8.5, 7.5, 14.5, 8.5, 7.5)  # the table, a gap, the right half
LAST_COLUMN = "S"
_HEIGHTS = {1: 20, 2: 28, 3: 16, 4: 36, 5: 17, 6: 18, 7: 18, 8: 17, 9: 15}  # pixels
_SETTABLE = f"OR(out_limit_word={quoted(OK)},out_limit_word={quoted('in the band only')})"
_WATCH, _RUN_WITH = 24, 29  # rows


def damage_noted() -> tuple[str, str]:
    """What the line of the state warns of: a condition, and formula text that begins with !."""
    return (
        "out_damage_count>0",
        f'"! DAMAGE noted: "&out_damage_first_word&" in reading "&out_damage_row&{_at_rpm()}'
        '&". End the trial; do not set that reading again."',
    )


def _at_rpm() -> str:
    rpm = f"INDEX({CALCULATION.area('rpm_read')},out_damage_row)"
    return f'IF(ISNUMBER({rpm})," at "&FIXED({rpm},1,TRUE)&" 1/min","")'


def working_sheet(book: Book, block: Mapping[str, str], typed: Sequence[Mapping[str, Any]]):
    """Write the sheet, but for the chart."""
    sheet = book.sheet(TRIAL, _WIDTHS)
    sheet.sheet_properties.tabColor = INPUT_TAB
    _head(book, sheet)
    row_heights(sheet, _HEIGHTS)
    _panels(sheet, block)
    readings_table(book, sheet, typed)
    _captions(sheet)
    _watch(book, sheet)
    _run_with(book, sheet)
    sheet.freeze_panes = f"A{FIRST_ROW}"
    last = FIRST_ROW + ROWS - 1
    sheet.print_area = f"A1:{LAST_COLUMN}{last}"
    sheet.page_setup.fitToHeight = 1
    sheet.page_setup.scale = 81  # about what fits; a program that shows where pages end goes by it
    sheet.print_options.horizontalCentered = True
    return sheet


def _head(book: Book, sheet) -> None:
    title(sheet, "L")
    date, who = sheet["N1"], merged(sheet, "O1:P1", '=IF(ISERROR(in_who),"",IF(in_who="","","by "&in_who))', "gf line")
    date.value, date.style, date.number_format = '=IF(ISNUMBER(in_date),in_date,"")', "gf line", DATE_FORMAT
    who.alignment = Alignment(horizontal="left", vertical="center")
    for cell, word, target in (("Q1", "Inputs", INPUTS), ("R1", "Record", RECORD), ("S1", "Help", HELP)):
        book.link(sheet, cell, word, f"'{target}'!A1")
    book.state_line(sheet, len(_WIDTHS))


def _panels(sheet, block: Mapping[str, str]) -> None:
    rpm = '[<0.05]General" 1/min";[<100]0.0" 1/min";0" 1/min"'
    panel(sheet, "A", "E", _set_next(), 'IF(out_ready=1,out_next_rpm,"STOP")', "out_next_reason", "out_next_caution", rpm)
    _verdict(sheet, block)
    panel(
        sheet,
        "J",
        "L",
        "KNEE, GRIT DEPTH",
        f"IF(ISNUMBER(out_knee),out_knee,{quoted(NOTHING)})",
        _interval(),
        _knee_rpm(),
        '0.000" µm"',
    )
    set_rpm = first_of(("out_ready<>1", quoted("STOP")), (_SETTABLE, "out_target_rpm"), otherwise=quoted(NOTHING))
    panel(sheet, "N", "S", "SET FOR THE PARTS", set_rpm, _band(), _limits(), rpm)


def _set_next() -> str:
    """The label above the rpm to set; with the infeed, where both are stepped."""
    rate = f'"SET NEXT  ·  INFEED "&{figures("out_next_infeed_rate")}&IF(in_units="inch"," in/min"," mm/min")'
    return "=" + first_of(("ISNUMBER(out_next_infeed_rate)", rate), otherwise=quoted("SET NEXT"))


def _verdict(sheet, block: Mapping[str, str]) -> None:
    word = first_of(
        ("out_ready<>1", quoted("no verdict")),
        ("out_n_readings=0", quoted("no readings yet")),
        (f"out_verdict={quoted(TOO_FEW)}", quoted("unfinished")),
        otherwise="out_verdict",
    )
    first_sentences = ",".join(quoted(reason.partition(". ")[0].rstrip(".") + ".") for _, reason, _ in CASES)
    seen = first_of(
        ("out_ready<>1", quoted("STOP: nothing is computed.")),
        ("out_n_readings=0", quoted("")),
        (f"out_verdict={quoted(TOO_FEW)}", "out_reason"),
        (f"{block['offset_made_it']}=1", quoted("A load like wrong idle could have made the knee: take the pair.")),
        ("out_outlier_decides=1", '"Reading "&out_outlier_row&" is out of line with the others: repeat it."'),
        (f"{block['drift_made_it']}=1", f'"A drift could have made this knee: repeat reading "&{block["repeat_no"]}&"."'),
        otherwise=f"CHOOSE({block['case']},{first_sentences})",
    )
    word_panel(sheet, "F", "I", "VERDICT", word, seen)


def _interval() -> str:
    return first_of(
        ("out_ready<>1", quoted("STOP: not computed")),
        ("ISNUMBER(out_knee)", '"95 %: "&FIXED(out_knee_low,3,TRUE)&" to "&FIXED(out_knee_high,3,TRUE)&" µm"'),
        ("ISNUMBER(out_knee_low)", '"above "&FIXED(out_knee_low,3,TRUE)&" µm, if there is one"'),
        otherwise=quoted("not known yet"),
    )


def _knee_rpm() -> str:
    parts = [f"FIXED(out_knee_{name},1,TRUE)" for name in ("rpm", "rpm_low", "rpm_high")]
    return first_of(("ISNUMBER(out_knee)", f'{parts[0]}&" ("&{parts[1]}&" to "&{parts[2]}&") 1/min"'), otherwise=quoted(""))


def _band() -> str:
    hold = (
        'IF(ISNUMBER(in_target_depth),"target as given: ","")&FIXED(out_target_rpm_low,1,TRUE)&" to "&FIXED(out_target_rpm_high,1,TRUE)'
        f'&" 1/min"&IF({IS_BOTH}," at "&in_infeed_rate&IF(in_units="inch"," in/min"," mm/min"),"")&" hold "&FIXED(out_target_depth,3,TRUE)&" µm ±"&in_band&" %"'
        '&IF(out_damage_count>0,"","; damage: none noted")'
    )
    return first_of(
        ("out_ready<>1", quoted("see the line above")),
        (_SETTABLE, hold),
        ("out_damage_in_band>0", quoted("withdrawn")),
        ("ISNUMBER(out_target_rpm)", quoted("this machine cannot run the rpm that would hold it")),
        otherwise=quoted("only the verdict found carries a value to set"),
    )


def _limits() -> str:
    given = {end: f"ISNUMBER(in_{end}_work_rpm)" for end in ("lowest", "highest")}
    limits = {end: f"FIXED(in_{end}_work_rpm,1,TRUE)" for end in given}
    seen = '"! "&out_damage_first_word&" was seen '
    passed = [
        (
            condition,
            f'"! "&{word}&": the machine\'s {"highest" if "high" in word else "lowest"} is "&{limits["highest" if "high" in word else "lowest"]}&" 1/min"',
        )
        for condition, word in limit_cases(work_rpm="out_target_rpm")
    ]
    watch = ' Watch the first parts."'
    return first_of(
        ("out_ready<>1", quoted("")),
        ("out_damage_in_band>0", f'{seen}within this band: do not set it"'),
        ("NOT(ISNUMBER(out_target_rpm))", quoted("")),
        *passed,
        ("out_damage_count>0", f'{seen}outside this band: stay within it"'),
        (
            are_numbers("in_lowest_work_rpm", "in_highest_work_rpm"),
            f'"within the machine\'s limits, "&{limits["lowest"]}&" to "&{limits["highest"]}&" 1/min.{watch}',
        ),
        (given["highest"], f'"below the machine\'s highest, "&{limits["highest"]}&" 1/min.{watch}'),
        (given["lowest"], f'"above the machine\'s lowest, "&{limits["lowest"]}&" 1/min.{watch}'),
        otherwise='"No limit of the machine is given.' + watch,
    )


def _captions(sheet) -> None:
    bold = dict(horizontal="center", vertical="center")
    merged(sheet, "C7:I7", "▼  type at the machine", "gf line", **bold).font = font(9, bold=True)
    merged(sheet, "J7:L7", "what became of it", "gf line", **bold).font = font(9, bold=True)
    caption = first_of(
        ("out_ready<>1", quoted("no chart: STOP")),
        otherwise='out_load_word&", "&out_energy_unit&", over grit depth, µm; at the foot work rpm, 1/min"',
    )
    merged(sheet, "N7:S7", "=" + caption, "gf line").font = font(9, bold=True)
    present = {
        "N8": ("● reading", "out_n_readings>0", "FF000000"),
        "O8": ("── fit", "ISNUMBER(out_knee)", "FF1F4E79"),
        "Q8": ("│ knee   ▬ its interval", "ISNUMBER(out_knee)", "FFC00000"),
        "N9": ("▲ next", "ISNUMBER(out_next_rpm)", "FF595959"),
        "O9": ("× damage", "out_damage_count>0", "FFC00000"),
        "Q9": ("- - -  target band", "ISNUMBER(out_target_depth)", "FF3B6323"),
    }
    for row in sheet["N8:S9"]:
        for cell in row:
            cell.fill = HEAD_FILL
    outline(sheet, "N8:S9", THIN)
    for cell, (word, condition, colour) in present.items():
        sheet[cell] = f'=IF(out_ready<>1,"",IF({condition},{quoted(word)},""))'
        sheet[cell].font, sheet[cell].alignment = font(9, True, colour), Alignment(horizontal="left", vertical="center", indent=1)


class _Item(NamedTuple):
    label: str
    value: str  # formula text
    unit: str = ""
    number_format: str = "General"


def _pairs(sheet, row: int, pairs: Sequence[tuple[_Item, _Item]]) -> None:
    """Rows of two triples: label, value, unit."""
    for line, pair in enumerate(pairs, row):
        for first, item in zip(("N", "Q"), pair):
            column = column_index_from_string(first)
            label, value, unit = (sheet.cell(line, column + offset) for offset in range(3))
            label.value, label.style = item.label, "gf line"
            value.value, value.style, value.number_format = "=" + item.value, "gf value", item.number_format
            unit.value, unit.style = item.unit, "gf small"


def _or_nothing(cell: str, condition: str = "") -> str:
    return f"IF({condition or f'ISNUMBER({cell})'},{cell},{quoted(NOTHING)})"


def _watch(book: Book, sheet) -> None:
    row = _WATCH
    merged(sheet, f"N{row}:R{row}", "Watch", "gf panel label")
    book.link(sheet, f"S{row}", CHECKS, f"'{CHECKS}'!A1")
    sheet[f"S{row}"].fill = HEAD_FILL
    ready, depths = "out_ready=1", CALCULATION.area("depth")
    typed = f"{ROWS}-COUNTIF({CALCULATION.area('status')},{quoted(BLANK)})"
    _pairs(
        sheet,
        row + 1,
        (
            (
                _Item("readings used", _or_nothing("out_n_readings", ready), f'="of "&({typed})', "0"),
                _Item("left out", _or_nothing("out_n_left_out", ready), "of them", "0"),
            ),
            (
                _Item("level", _or_nothing("out_knee_level"), "=out_energy_unit", "0.0"),
                _Item("scatter", _or_nothing("out_noise"), "% of level", "0.0"),
            ),
            (
                _Item(
                    "range of depth", f"IF(COUNT({depths})>0,MAX({depths})/MIN({depths}),{quoted(NOTHING)})", "max/min", "0.00"
                ),
                _Item("drift", "out_drift_word"),
            ),
        ),
    )
    merged(sheet, f"R{row + 3}:S{row + 3}", sheet[f"R{row + 3}"].value, "gf value", horizontal="center", vertical="center")
    last = row + 4
    first_left_out = f'MATCH("!*",{READINGS.range("status")},0)'
    first = first_of(
        ("out_damage_count>0", "out_damage_first"),
        ("out_outlier_row>0", '"reading "&out_outlier_row&" is out of line"'),
        (
            f"ISNUMBER({first_left_out})",
            f'"reading "&{first_left_out}&": "&MID(INDEX({READINGS.range("status")},{first_left_out}),3,30)',
        ),
        otherwise="out_first_look",
    )
    line = first_of(
        ("out_ready<>1", f'"checks that say STOP: "&out_stops&"; see the sheet {CHECKS}"'),
        ("out_looks=0", quoted("nothing to look at")),
        otherwise=f'"! "&out_looks&" to look at: "&{first}&IF(out_looks>1,"; more on the sheet {CHECKS}","")',
    )
    merged(sheet, f"N{last}:S{last}", "=" + line, "gf line")
    warning_format(sheet, f"N{last}:S{last}", f'LEFT($N${last},1)="!"')
    outline(sheet, f"N{row}:S{last}", THIN)


def _run_with(book: Book, sheet) -> None:
    """The conditions of the trial, for the record."""
    row = _RUN_WITH

    def typed(name: str) -> str:
        return f"IF(ISERROR(in_{name}),{quoted('?')},IF(in_{name}={quoted('')},{quoted(NOTHING)},in_{name}))"

    def unit(name: str) -> str:
        place, cell = book.workbook.defined_names[f"in_{name}"].attr_text.replace("$", "").split("!")
        letter, number = coordinate_from_string(cell)
        return f"={place}!{get_column_letter(column_index_from_string(letter) + 1)}{number}"

    def given(label: str, name: str, number_format: str = "General", plain_unit: str | None = None) -> _Item:
        return _Item(label, typed(name), unit(name) if plain_unit is None else plain_unit, number_format)

    speed = f"IF(ISNUMBER(out_wheel_speed),{shown('out_wheel_speed', 'm/s')},{quoted(NOTHING)})"
    wheel_speed = _Item("wheel speed", speed, f"={unit_words('m/s')}", "[<1000]0.0;0")
    merged(sheet, f"N{row}:S{row}", "Run with", "gf panel label")
    _pairs(
        sheet,
        row + 1,
        (
            (given("wheel diameter", "wheel_diameter"), given("work diameter", "work_diameter")),
            (wheel_speed, given("side of contact", "side", plain_unit="")),
            (given("marked on wheel", "marked_wheel_speed"), given("infeed as shown", "infeed_rate")),
            (given("grit", "grit_size", plain_unit=""), given("infeed on the", "infeed_basis", plain_unit="")),
            (given("concentration", "concentration", plain_unit=""), given("grinding width", "contact_width")),
            (_Item("active grits C", _or_nothing("out_grit_density"), "1/mm²", "0.0"), given("nominal rpm", "nominal_rpm")),
            (given("chip ratio r", "shape_ratio", plain_unit=""), given("lowest rpm", "lowest_work_rpm")),
            (given("load read as", "load_kind", plain_unit=""), given("highest rpm", "highest_work_rpm")),
            (given("common idle", "idle", plain_unit="=out_load_unit"), given("target depth", "target_depth")),
            (given("band, ±", "band"), given("wanted, ±", "wanted_half_width")),
        ),
    )
    outline(sheet, f"N{row}:S{row + 10}", THIN)
