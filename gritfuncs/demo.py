"""The demonstration: the whole job on the invented example, from readings to the record, the page on the wall and the report."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Callable

from . import example
from .files import write_new
from .planning import SpeedTable, speed_table
from .quantities import QUANTITIES
from .record import add
from .reports.trial import trial_page
from .sheets.save import save_workbook
from .sheets.words import CAUTION
from .trial import Trial, read_trial
from .trial.log.example import example_log
from .workbooks.blocks.record import COLUMNS
from .workbooks.speed_table import build as speed_table_book
from .workbooks.speed_table.grid import TABLE
from .workbooks.trial import build as trial_book

READINGS_FILE, TRIAL_FILE, TABLE_FILE, LOG_FILE = "readings.csv", "trial.xlsx", "speed_table.xlsx", "power-log.csv"
RECORD_FILE, REPORT_FILE = "knee_record.xlsx", "readings-report.html"
RECORD_KEY, RECORD_DAY = "DEMO", datetime.date(2025, 11, 12)
RECORD_TEXTS = dict(
    wheel="resin, 200 mm",
    grit=example.DESIGNATION,
    bond="resin",
    material="carbide K20",
    machine="grinder 1",
    coolant="emulsion 5 %",
    who="invented",
    note="invented example",
)


def run(folder: Path, say: Callable[[str], None] = print) -> None:
    """Do the whole job in a new folder and say what happens at each step."""
    folder.mkdir(parents=True)
    say(f"{example.TITLE}\n")
    say(f"1. The readings: {folder / READINGS_FILE}")
    write_new(folder / READINGS_FILE, readings_text().encode("utf-8"))

    say("2. Grit depth and specific energy of each reading, and the knee:\n")
    trial = read_trial(folder / READINGS_FILE)
    say(_indented(trial.report()))

    say(f"\n3. The same readings in a workbook with native formulas and a chart: {folder / TRIAL_FILE}")
    save_workbook(trial_book.build(dict(readings=example.readings())), folder / TRIAL_FILE)

    say(f"4. The knee in the shop's record, with its setup: {folder / RECORD_FILE}")
    entry = add(folder / RECORD_FILE, trial, RECORD_KEY, RECORD_TEXTS, RECORD_DAY).entry

    depth = round(trial.knee.knee, 3)
    say(f"5. Solved back: the work rpm that holds {depth} µm on other parts:\n")
    table = table_for(trial, depth)
    say(_indented(table.report()))

    say(f"\n6. The same table as a page to print and pin up: {folder / TABLE_FILE}, sheet Speed table")
    values = dict(
        target_depth=depth,
        specific_energy=round(trial.knee.level, 1),
        records=[tuple(entry.values.get(column.name) for column in COLUMNS)],
    )
    save_workbook(speed_table_book.build(values, opens=TABLE), folder / TABLE_FILE)

    say(f"7. The trial as a page for whoever asks, with its chart: {folder / REPORT_FILE}")
    write_new(folder / REPORT_FILE, trial_page(trial, title=example.TITLE).encode("utf-8"))

    say(f"8. The trial as a log of spindle power, simulated, to try the command log with: {folder / LOG_FILE}")
    write_new(folder / LOG_FILE, example_log().encode("utf-8"))

    say(f"\n{CAUTION} These numbers are invented: measure your own.")
    say(f"Next: open {folder / TRIAL_FILE}, replace the inputs by your own, and look at the sheet 2 Trial.")
    say("With a sheet of your own: gritfuncs setup --new, fill it in, and gritfuncs knee SHEET --setup setup.toml.")


def readings_text() -> str:
    """The example as a text file: the setup in lines above the headings, then the readings."""
    setup = dict(example.setup(), contact_width=example.CONTACT_WIDTH, marked_wheel_speed=example.MARKED_WHEEL_SPEED)
    lines: list[str] = [f"# {example.TITLE}"]
    for name, value in setup.items():
        unit = QUANTITIES["wheel_speed" if name == "marked_wheel_speed" else name].unit
        lines.append(f"{name},{value:.10g},{unit}")
    lines.append("work rpm [1/min],power [kW],idle [kW]")
    lines += [f"{rpm:g},{power:.2f},{idle:.2f}" for rpm, power, idle in example.readings()]
    return "\n".join(lines) + "\n"


def table_for(trial: Trial, depth: float) -> SpeedTable:
    """A small rpm table at a grit depth for the wheel of the trial and the machine of the example."""
    return speed_table(
        grit_depth=depth,
        work_diameters=example.WORK_DIAMETERS,
        infeed_rates=example.INFEED_RATES,
        wheel_speed=trial.setup.wheel_speed,
        marked_wheel_speed=example.MARKED_WHEEL_SPEED,
        wheel_diameter=trial.setup.wheel_diameter,
        side=trial.setup.side,
        grit_density=trial.setup.grit_density,
        shape_ratio=trial.setup.shape_ratio,
        limits=example.LIMITS,
        specific_energy=trial.knee.level,
        contact_width=trial.setup.contact_width,
        idle_power=example.IDLE_POWER,
    )


def _indented(text: str) -> str:
    return "\n".join("   " + line if line else line for line in text.splitlines())
