"""The sheet Cycle of plunge_cycle.xlsx: the stages to fill in, and what follows from them in the units chosen."""

from __future__ import annotations

from typing import Any

from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from ...quantities import QUANTITIES
from ...sheets.book import Book
from ...sheets.checks import OK
from ...sheets.conditions import number_check
from ...sheets.page import Page
from ...sheets.sizes import row_height
from ...sheets.styles import FONT, number_format, warning_format
from ..blocks.shown import shown, unit_words
from ..blocks.slips import watch_cells
from .calculation import RESULTS
from .stages import FACTORS, FIRST_COLUMN, INPUTS, NOTHING, SHEET, SPARK, STAGES, TRAVERSE, Stage

_LABEL_SIGNS, _TEXT_SIGNS = 38, 48  # in a line; bold ones are wider
_FIRST_SEEN = ("word", "target_rpm", "grit_depth")  # of the results, on the sheet Cycle


def stages_page(book: Book, values: dict[str, Any]) -> Page:
    """The sheet Cycle: the stages to fill in, and what follows from them in the units chosen."""
    page = book.page(SHEET, "Plunge cycle: its stages", (36, 11) + (13,) * len(STAGES) + (48,), one_page=True)
    page.note(
        "Fill in the tinted cells; a stage whose cells are all blank is left out. Values are those at its end where nothing else is said."
    )
    page.table_head(("to fill in", "unit") + tuple(stage.label for stage in STAGES) + ("what it is",))
    for column, stage in enumerate(STAGES, start=FIRST_COLUMN):
        book.name(stage.value("label"), page.sheet, page.sheet.cell(page.row - 1, column).coordinate)
    for word, (quantity, label, text) in INPUTS.items():
        takers = [stage for stage in STAGES if word in stage.inputs or word == "specific_energy" and stage is not SPARK]
        first, last = (f"{get_column_letter(FIRST_COLUMN + STAGES.index(stage))}{page.row}" for stage in (takers[0], takers[-1]))
        factor = "*".join([name for words, name in FACTORS if word in words] or ["1"])
        said = watch_cells(
            book, f"{SHEET}!{first}:{last}", quantity, label, factor=factor, text=text, where=f"{SHEET}!{first}", in_inches=True
        )
        page.cells(
            (label, "=" + unit_words(quantity.unit))
            + tuple(values.get(f"{stage.name}_{word}") if stage in takers else NOTHING for stage in STAGES)
            + (f"={said}",),
            formats=(None, None) + tuple("General" if stage in takers else "@" for stage in STAGES),
        )
        warning_format(page.sheet, f"H{page.row - 1}", f'LEFT($H{page.row - 1},1)="!"')
        for column, stage in enumerate(STAGES, start=FIRST_COLUMN):
            if stage in takers:
                page.table_input(f"{stage.name}_{word}", page.row - 1, column, quantity, label=label)
    for stage in STAGES:
        _check_inputs(book, stage)
    page.row += 1
    page.table_head(("what follows", "unit") + tuple(f"={stage.value('label')}" for stage in STAGES) + ("what it is",))
    ordered = sorted(RESULTS, key=lambda result: _FIRST_SEEN.index(result[0]) if result[0] in _FIRST_SEEN else len(_FIRST_SEEN))
    for word, label, unit, digits, text, _, stages in ordered:
        cells = tuple("=" + shown(stage.value(word), unit) if stage in stages else NOTHING for stage in STAGES)
        formats = tuple("@" if word == "word" or stage not in stages else number_format(digits) for stage in STAGES)
        page.cells((label, "=" + unit_words(unit), *cells, text), formats=(None, None, *formats))
        page.sheet.row_dimensions[page.row - 1].height = max(
            row_height(len(label), _LABEL_SIGNS), row_height(len(text), _TEXT_SIGNS)
        )
        if word in _FIRST_SEEN:
            for cell in page.sheet[page.row - 1]:
                cell.font = Font(name=FONT, size=10, bold=True)
        if word == "word":
            _mark_words(page, page.row - 1)
    page.sheet.freeze_panes = "C7"
    return page


def _mark_words(page: Page, row: int) -> None:
    """The words of what a stage breaks, shrunk to their cells and with the look of a warning."""
    letters = [get_column_letter(FIRST_COLUMN + place) for place in range(len(STAGES))]
    for letter in letters:
        page.sheet[f"{letter}{row}"].alignment = Alignment(horizontal="center", vertical="center", shrink_to_fit=True)
    cell = f"{letters[0]}{row}"
    broken = f'IF(ISERROR({cell}),FALSE,({cell}<>"")*({cell}<>"{OK}")*({cell}<>"{NOTHING}")>0)'
    warning_format(page.sheet, f"{cell}:{letters[-1]}{row}", broken)


def _check_inputs(book: Book, stage: Stage) -> None:
    fits = "TRUE"
    for word in reversed(stage.inputs):
        fits = f"IF({number_check(stage.given(word), INPUTS[word][0])},{fits},FALSE)"
    cells = ",".join(map(stage.given, stage.inputs))
    needs = ", ".join(INPUTS[word][1] for word in stage.inputs)
    book.stop_unless(
        f"{stage.label}: its inputs are numbers within their limits, or all blank",
        f"IF(COUNTA({cells})=0,TRUE,{fits})",
        f"{needs}: must be > 0{' (overrun >= 0)' if stage is TRAVERSE else ''}, or all blank",
    )
    if stage is TRAVERSE:
        passes = stage.given("passes")
        book.stop_unless(
            "traverse: number of passes is whole",
            f"IF(ISNUMBER({passes}),INT({passes})={passes},TRUE)",
            f"{passes} must be a whole number",
        )
    if stage is not SPARK:
        energy = stage.given("specific_energy")
        book.stop_unless(
            f"{stage.label}: specific energy",
            f'IF({energy}="",TRUE,{number_check(energy, QUANTITIES["specific_energy"])})',
            f"{energy}: must be > 0, or blank",
        )
