"""The sheet Readings of power_log.xlsx: the parts in the order ground, as a block to copy into the readings of trial.xlsx."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ...quantities import QUANTITIES
from ...sheets.book import Book
from ...sheets.columns import filled_up
from ...sheets.conditions import quoted
from .parts import PART
from .tables import HEAD, MOST_PARTS, PARTS, READINGS

BLOCK = ("work_rpm", "note")  # first and last column to copy: the columns of in_readings of trial.xlsx


def readings_page(book: Book, work_rpms: Sequence[Any]) -> None:
    typed = filled_up("work_rpms", work_rpms, MOST_PARTS)
    page = book.page("Readings", "Readings to copy into trial.xlsx", READINGS.widths, one_page=True)
    page.note(
        "Type the work rpm of every part in the order ground, as many as there are parts; or leave them all blank and type them into trial.xlsx. Then copy the block "
        f"{READINGS.here(BLOCK[0], READINGS.first_row)} to {READINGS.here(BLOCK[1], READINGS.last_row)} and paste it as values "
        "(not formulas) on the first cell under rpm on 2 Trial of trial.xlsx. Choose there on Inputs what the load is.",
        3,
    )
    page.columns_head(READINGS, lines=3)
    for number, given in enumerate(typed, start=1):
        page.columns_row(READINGS, {"part": number, "typed_rpm": given}, _formulas(page.row))
    book.name("in_work_rpms", page.sheet, READINGS.range("typed_rpm"))
    page.validate(READINGS.range("typed_rpm"), QUANTITIES["work_rpm"])
    book.name("out_readings", page.sheet, READINGS.range(*BLOCK))
    page.sheet.freeze_panes = f"A{HEAD + 1}"


def _formulas(row: int) -> dict[str, str]:
    at = READINGS.row_here(row)

    def of_part(name: str) -> str:
        return f"INDEX({PARTS.area(name)},{at['place']})"

    is_there = f"ISNUMBER({at['place']})"
    counts = f"IF({is_there},out_ready=1,FALSE)"
    is_read = f"IF({counts},{at['word']}={quoted(PART)},FALSE)"
    about = f'"part "&{at["part"]}&", at "&FIXED({at["start"]},1,TRUE)&" s"'
    return {
        "place": f'IF({at["part"]}>out_parts,"",MATCH({at["part"]},{PARTS.area("part")},0))',
        "start": f'IF({is_there},{of_part("start")},"")',
        "word": f'IF({is_there},{of_part("word")},"")',
        "work_rpm": f'IF({counts},IF({at["typed_rpm"]}="","",{at["typed_rpm"]}),"")',
        "load": f'IF({is_read},{of_part("level")},"")',
        "idle": f'IF({is_read},{of_part("idle")},"")',
        "use": f'IF({counts},IF({is_read},"yes","no"),"")',
        "note": f'IF({counts},{about}&IF({is_read},", ± "&FIXED(out_error,4,TRUE),": "&{at["word"]}),"")',
    }
