"""knee_record.xlsx: the shop's record of knees, a look-up by key that says whether an entry may be used, and whether one still holds."""

from __future__ import annotations

import datetime
from typing import Any

from .. import example
from ..sheets.book import Book
from ..sheets.order import CHECKS, HELP, arrange, caution_lines
from ..sheets.words import DENSITY
from .blocks.record import RECORD_CHECKS, RECORD_SHEET, look_up, looked_up, record_inputs, record_pages
from .blocks.record_setups import SETUP_COLUMNS, SETUPS, setups_page
from .blocks.wheel import title_input
from .confirm import sheet as confirm
from .read_me import read_me_page

LOOK_UP = "Look up"

TITLE = "Invented example: no entry is of a real wheel, machine or person. Replace all of them by your own."


def defaults() -> dict[str, Any]:
    """The invented example as input values."""
    density = round(example.setup()["grit_density"], 2)
    day = datetime.date
    records = (
        (
            "PIN-D126-A",
            "resin, 200 mm",
            "D126",
            "resin",
            75,
            "carbide K20",
            "grinder 1",
            "emulsion 5 %",
            day(2025, 11, 12),
            1.36,
            1.31,
            1.42,
            118.0,
            density,
            10.0,
            "invented",
            "the trial of trial.xlsx",
            1.8,
            12,
            3.6,
            1.13,
            1.59,
            "metric",
        ),
        (
            "PIN-D64-A",
            "resin, 200 mm",
            "D64",
            "resin",
            100,
            "carbide K10",
            "grinder 1",
            "emulsion 5 %",
            day(2025, 9, 3),
            0.82,
            0.78,
            0.87,
            145.0,
            68.0,
            10.0,
            "invented",
            None,
        ),
        (
            "BORE-B91-V",
            "vitrified, 40 mm",
            "B91",
            "vitrified",
            150,
            "steel 62 HRC",
            "grinder 2",
            "oil",
            day(2024, 3, 18),
            1.05,
            0.98,
            1.13,
            52.0,
            60.0,
            12.0,
            "invented",
            "outdated: repeat it",
        ),
        (
            "PUNCH-D107-M",
            "metal, 150 mm",
            "D107",
            "metal",
            75,
            "carbide K40",
            "grinder 2",
            "oil",
            day(2025, 10, 7),
            1.12,
            1.05,
            None,
            None,
            22.0,
            10.0,
            "invented",
            "the upper end is missing",
        ),
        (
            "SEAT-D91-R",
            "resin, 300 mm",
            "D91",
            "resin",
            75,
            "ceramic",
            "grinder 3",
            "emulsion 5 %",
            day(2025, 6, 2),
            0.71,
            0.66,
            0.77,
            None,
            30.0,
            10.0,
            "invented",
            "two rows with this key",
        ),
        (
            "SEAT-D91-R",
            "resin, 300 mm",
            "D91",
            "resin",
            75,
            "ceramic",
            "grinder 3",
            "emulsion 5 %",
            day(2025, 12, 1),
            0.75,
            0.70,
            0.80,
            None,
            30.0,
            10.0,
            "invented",
            "two rows with this key",
        ),
    )
    setup = dict(
        example.SETUP,
        key="PIN-D126-A",
        side="external",
        marked_wheel_speed=example.MARKED_WHEEL_SPEED,
        contact_width=example.CONTACT_WIDTH,
        idle_power=example.IDLE_POWER,
        nominal_rpm=example.NOMINAL_RPM,
        **vars(example.LIMITS),
    )
    setups = (tuple(setup.get(column.name) for column in SETUP_COLUMNS),)
    return dict(confirm.defaults(), title=TITLE, today=None, months=18.0, lookup_key="PIN-D126-A", records=records, setups=setups)


def build(values: dict[str, Any] | None = None):
    """The workbook, filled with the values (names without in_) in place of those of the example.

    `records` are rows by the columns of blocks.record.COLUMNS, `setups` by those of blocks.record_setups.SETUP_COLUMNS, shorter
    rows allowed.
    """
    values = {**defaults(), **(values or {})}
    links = ((LOOK_UP, LOOK_UP), (confirm.SHEET, confirm.SHEET), (RECORD_SHEET, RECORD_SHEET), (HELP, HELP))
    book = Book("Record of knees", state=confirm.state(), links=links)
    page = book.page(LOOK_UP, "Look up a knee")
    caution_lines(page)
    page.rows_head()
    title_input(page, values)
    record_inputs(page, values["today"], values["months"])
    page.heading("What the record says for a key")
    page.rows_head()
    look_up(page, values["lookup_key"])
    looked_up(page)
    record_pages(book, values["records"])
    setups_page(book, values["setups"])
    confirm.confirm_pages(book, values)
    book.look_if(
        "the key that is looked up may not be used as it stands", 'out_lookup_word<>"ok"', "out_lookup_word on Look up says why"
    )
    book.checks_page()
    _help(book)
    book.finish()
    arrange(book, (LOOK_UP, confirm.SHEET, RECORD_SHEET, SETUPS.sheet), (RECORD_CHECKS, CHECKS, HELP), LOOK_UP)
    return book.workbook


def _help(book: Book) -> None:
    read_me_page(
        book,
        "Record of knees: what each wheel, material and machine needs",
        purpose=(
            "A knee found by trial is worth keeping: with it the next part needs no trial. This workbook keeps what was"
            " found, with what it was found on, and says which entries are double, incomplete or outdated.",
        ),
        steps=(
            "Record: after each trial with the verdict found, fill in a row. Take knee, interval, level, C and r from "
            "the trial, not from memory. Rows may stand in any order and rows between may stay blank.",
            "Look up: fill in the months after which a knee is to be tried again; choose a key. Ages count from the newest "
            "entry, or from today's date if you type it. The "
            "word beside it says whether the entry may be used; values are shown only for ok and outdated.",
            "Setups: wheel, part and limits of each trial by its key, filled in by the command gritfuncs record add.",
            "Confirm: choose the key on Look up, type the work rpm that cuts the recorded knee in the new part's setup (speed_table.xlsx "
            "has it), then set and type what it asks for. At most eight readings say whether the recorded knee still holds.",
            "The record stands here, in one place. speed_table.xlsx holds a copy of its rows with the date of copying, plunge_cycle.xlsx the "
            "depth and where it comes from: links between files break when files move, and say nothing of it. Copy rows as they are and "
            "paste them as values (Ctrl+Shift+V in LibreOffice, paste special in Excel): a plain paste carries formulas and links.",
            "Whatever units a trial was typed in, the record is in the units of its headings: depths in µm, level in J/mm³, C in 1/mm². Its "
            "column units says which the trial was typed in.",
        ),
        name=HELP,
        background=(
            DENSITY,
            "An entry holds for its wheel, bond, material, coolant and machine. For another one it is a place to start "
            "a trial, not a result.",
            "The rows that stand here are invented, to show the words. Delete them before the first row of your own.",
        ),
    )
