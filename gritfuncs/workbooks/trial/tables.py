"""The columns of the two tables of trial.xlsx that have a row for each reading: Readings, and Calculation behind it."""

from __future__ import annotations

from ..columns import Column, Columns

ROWS = 40
FIRST_ROW = 7
LAST_ROW = FIRST_ROW + ROWS - 1

READINGS = Columns(
    "Readings",
    (
        Column("number", "no.", 6, "0"),
        Column("planned_step", "step, %", 9, "+0;-0;0"),
        Column("planned_rpm", "planned work rpm, 1/min", 14, "0.0"),
        Column("planned_depth", "planned grit depth, µm", 14, "0.000"),
        Column("work_rpm", "work rpm, 1/min", 13, is_input=True),
        Column("load", "load", 12, is_input=True),
        Column("idle", "idle", 12, is_input=True),
        Column("use", "use?", 8, is_input=True),
        Column("note", "note", 26, is_input=True),
        Column("status", "what became of it", 40),
        Column("depth", "grit depth, µm", 12, "0.000"),
        Column("energy", "energy", 12, "0.0"),
        Column("finish", "finish Ra, µm", 10, is_input=True),
        Column("wear", "wheel wear, µm", 10, is_input=True),
        Column("damage", "burn, crack or wheel breakdown seen", 14, is_input=True),
    ),
    FIRST_ROW,
    LAST_ROW,
)
CALCULATION = Columns(
    "Calculation",
    (
        Column("number", "no.", 6, "0"),
        Column("rpm_state", "rpm cell", 17),
        Column("load_state", "load cell", 17),
        Column("use", "use?", 8),
        Column("idle_state", "idle cell", 9),
        Column("idle", "idle taken", 11, "0.000"),
        Column("net", "load less idle", 11, "0.000"),
        Column("judged", "judged", 34),
        Column("first_same", "first row with this rpm, load and idle", 12, "0"),
        Column("status", "what became of it", 36),
        Column("speed", "work speed, m/min", 12, "0.000"),
        Column("cut", "depth of cut, µm", 12, "0.000"),
        Column("depth", "grit depth, µm", 12, "0.0000"),
        Column("energy", "energy", 12, "0.00"),
        Column("counts", "counts (1 yes)", 9, "0"),
        Column("nominal", "no. if at nominal rpm, else 0", 9, "0"),
        Column("damaged", "damage was seen (1 yes)", 9, "0"),
        Column("step", "steps from nominal in the plan", 11, "0"),
        Column("rpm", "rpm that counts, 1/min", 11, "0.0"),
        Column("rpm_read", "rpm, if it is one, 1/min", 11, "0.0"),
        Column("load_read", "load, if it is one", 11, "0.000"),
        Column("depth_read", "grit depth at this rpm, µm", 11, "0.0000"),
        Column("outside", "rpm outside the machine's limits (1 yes)", 11, "0"),
    ),
    FIRST_ROW,
    LAST_ROW,
)
