"""The columns of the tables of trial.xlsx that have a row for each reading, and the names of its sheets."""

from __future__ import annotations

from ...sheets.columns import Column, Columns

INPUTS, TRIAL, RECORD = "1 Inputs", "2 Trial", "3 Record"
FINISH_SHEET, OTHERS, SIZES, CHECKS, HELP = "Finish and wear", "Other trials", "Grit sizes", "Checks", "Help"
PLAN_SHEET, STEPS, ROWS_SHEET, LOAD, KNEE, DRIFT, OUTLIER, NEXT, CHART = (
    f"calc {name}" for name in ("plan", "steps", "rows", "load", "knee", "drift", "outlier", "next", "chart")
)
ORDER = (INPUTS, TRIAL, RECORD, FINISH_SHEET, OTHERS, SIZES, CHECKS, HELP)  # before the sheets that only compute

ROWS = 30  # the largest number of readings that the rule of stopping takes
FIRST_ROW = 10  # of the sheet Trial
READINGS = Columns(
    TRIAL,
    (
        Column("number", "no.", 3.7, "0"),
        Column("set", "set", 12.2, '[<100]"► "0.0;"► "0'),
        Column("infeed_rate", "infeed", 6.8, is_input=True),
        # Without a format: LibreOffice takes TRUE in a cell with the format of a number for 1.
        Column("work_rpm", "rpm", 6.9, is_input=True),
        Column("load", "load", 7, is_input=True),
        Column("idle", "idle", 7, is_input=True),
        Column("use", "use?", 5.2, is_input=True),
        Column("note", "note", 8.4, is_input=True),
        Column("damage", "damage", 9.6, is_input=True),
        Column("status", "used or left out", 19.4),
        Column("depth", "depth", 6.5, "0.000"),
        Column("energy", "energy", 7.4, "0.0"),
    ),
    FIRST_ROW,
    FIRST_ROW + ROWS - 1,
)
_FIRST, _LAST = 7, 6 + ROWS  # of the other tables
FINISH = Columns(
    FINISH_SHEET,
    (
        Column("number", "no.", 6, "0"),
        Column("finish", "finish Ra, µm", 14, is_input=True),
        Column("wear", "wheel wear, µm", 14, is_input=True),
        Column("damage", "damage, as typed on the sheet Trial", 24),
        Column("rpm", "work rpm, 1/min", 14, "0.0"),
        Column("depth", "grit depth, µm", 14, "0.000"),
        Column("note", "note", 40),
    ),
    _FIRST,
    _LAST,
)
PLAN = Columns(
    PLAN_SHEET,
    (
        Column("number", "no.", 6, "0"),
        Column("step", "steps from nominal", 12, "0"),
        Column("planned_step", "step, %", 10, "+0;-0;0"),
        Column("pair", "infeed times, rpm over: of the pair at nominal depth", 16, "0.000"),
        Column("planned_rpm", "planned work rpm, 1/min", 16, "0.0"),
        Column("planned_infeed", "planned infeed rate, mm/min on the radius", 16, "0.0000"),
        Column("planned_depth", "planned grit depth, µm", 16, "0.000"),
        Column("place", "place among those within the limits, else 0", 16, "0"),
        Column("in_turn", "work rpm of that place, 1/min", 16, "0.0"),
        Column("infeed_in_turn", "its infeed rate, as the machine shows it", 16, "0.0000"),
    ),
    _FIRST + 1,
    _LAST + 1,
)
CALCULATION = Columns(
    ROWS_SHEET,
    (
        Column("number", "no.", 6, "0"),
        Column("rpm_state", "rpm cell", 17),
        Column("infeed_state", "infeed cell", 17),
        Column("load_state", "load cell", 17),
        Column("use", "use?", 8),
        Column("idle_state", "idle cell", 9),
        Column("idle", "idle taken", 11, "0.000"),
        Column("net", "load less idle", 11, "0.000"),
        Column("judged", "judged", 34),
        Column("first_same", "first row with this rpm, infeed, load and idle", 12, "0"),
        Column("status", "what became of it", 36),
        Column("short", "the same in short, on the sheet Trial", 24),
        Column("own_infeed", "infeed rate of its own, mm/min on the radius", 12, "0.0000"),
        Column("removal", "removal rate over that of the Inputs", 12, "0.000"),
        Column("speed", "work speed, m/min", 12, "0.000"),
        Column("cut", "depth of cut, µm", 12, "0.000"),
        Column("depth", "grit depth, µm", 12, "0.0000"),
        Column("energy", "energy", 12, "0.00"),
        Column("rate", "removal rate, if it counts", 12, "0.000"),
        Column("counts", "counts (1 yes)", 9, "0"),
        Column("nominal", "no. if at nominal rpm, else 0", 9, "0"),
        Column("damage", "damage, as typed", 16),
        Column("damage_word", "the same without . and !", 16),
        Column("damaged", "damage was seen (1 yes)", 9, "0"),
        Column("rpm", "rpm that counts: at this depth along the steps, 1/min", 14, "0.0"),
        Column("rpm_read", "rpm, if it is one, 1/min", 11, "0.0"),
        Column("load_read", "load, if it is one", 11, "0.000"),
        Column("depth_read", "grit depth at this rpm and infeed, µm", 11, "0.0000"),
        Column("outside", "rpm or infeed outside the machine's limits (1 yes)", 11, "0"),
        Column("typed", "no. if anything is typed, else 0", 9, "0"),
        Column("kept_depth", "grit depth, if not the one out of line, µm", 11, "0.0000"),
    ),
    _FIRST,
    _LAST,
)
