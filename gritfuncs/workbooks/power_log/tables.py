"""The tables of power_log.xlsx: the pasted rows, the stretches above idle, and the readings to copy into trial.xlsx."""

from __future__ import annotations

from ...sheets.columns import Column, Columns
from ..trial.tables import ROWS as MOST_PARTS

ROWS = 5000
MOST_STRETCHES = 60
HEAD = 8  # the row of the headings on each of the three sheets

LOG = Columns(
    "Log",
    (
        Column("row", "row", 7, "0"),
        Column("time", "time", 11, is_input=True),
        Column("power", "power, current or load", 12, is_input=True),
        Column("middle", "middle of 5 rows", 10, "0.000"),
        Column("stretch", "stretch (minus: idle behind it)", 10, "0"),
    ),
    HEAD + 1,
    HEAD + ROWS,
)
PARTS = Columns(
    "Parts",
    (
        Column("number", "stretch", 9, "0"),
        Column("start", "start, s", 10, "0.0"),
        Column("seconds", "length, s", 10, "0.0"),
        Column("word", "what it is", 34),
        Column("part", "part", 7, "0"),
        Column("level", "level, idle included", 11, "0.000"),
        Column("idle", "idle", 11, "0.000"),
        Column("net", "net", 11, "0.000"),
        Column("change", "change within, %", 9, "+0.0;-0.0;0.0"),
        Column("leave_out", "write no: it is no part", 11, is_input=True),
        Column("first", "first row", 8, "0"),
        Column("rows", "rows", 8, "0"),
        Column("running", "of these the spindle runs", 9, "0"),
        Column("mean", "mean", 9, "0.000"),
        Column("top", "mean of what is above it", 9, "0.000"),
        Column("energy", "energy over idle", 10, "0.0"),
        Column("usual", "rows, if half the energy is in stretches no longer", 12, "0"),
        Column("length", "by its length", 10),
        Column("height", "height over idle", 9, "0.000"),
        Column("high", "rows above 90 %", 9, "0"),
        Column("centre", "their middle row", 9, "0.0"),
        Column("last", "last row of infeed", 9, "0"),
        Column("near", "idle 1.5 to 3 s before", 9, "0.000"),
        Column("lag", "lag of this part, s", 9, "0.00"),
        Column("before", "idle before", 9, "0.000"),
        Column("rise", "just before, less before", 9, "0.000"),
        Column("behind", "idle behind", 9, "0.000"),
        Column("differ", "idle differs by", 9, "0.000"),
        Column("contact", "contact, in rows", 9, "0.0"),
        Column("steady", "first steady row", 9, "0"),
        Column("middle", "middle row", 9, "0"),
        Column("one", "net, first half", 9, "0.000"),
        Column("other", "net, second half", 9, "0.000"),
        Column("halves", "halves differ by", 9, "0.000"),
        Column("at_top", "share at the highest value", 9, "0.00"),
    ),
    HEAD + 1,
    HEAD + MOST_STRETCHES,
)
READINGS = Columns(
    "Readings",
    (
        Column("part", "part", 7, "0"),
        Column("start", "start, s", 10, "0.0"),
        Column("word", "what it is", 34),
        Column("typed_rpm", "type: work rpm, 1/min", 12, is_input=True),
        Column("gap", "", 4),
        Column("work_rpm", "work rpm, 1/min", 12, "General"),
        Column("load", "load", 12, "0.0000"),
        Column("idle", "idle", 12, "0.0000"),
        Column("use", "use?", 8),
        Column("note", "note", 30),
        Column("place", "row of Parts", 9, "0"),
    ),
    HEAD + 1,
    HEAD + MOST_PARTS,
)
