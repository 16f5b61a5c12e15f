"""The smallest workbook that has the names of a trial workbook, filled with invented values."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.workbook.defined_name import DefinedName

VALUES = dict(
    wheel_diameter=200,
    wheel_speed=None,
    wheel_rpm=2400,
    marked_wheel_speed=35,
    work_diameter=20,
    side="external",
    infeed_rate=1.2,
    infeed_basis="diameter",
    grit_density=None,
    grit_size="D126",
    concentration=100,
    active_fraction=0.5,
    shape_ratio=10,
    contact_width=15,
    load_kind="power",
    volts=None,
    power_factor=None,
    idle=None,
    noise=None,
    nominal_rpm=120,
    rpm_step=10,
    lowest_work_rpm=20,
    highest_work_rpm=400,
)
ROWS = [
    (120, 2.05, 0.86),
    (132, 1.99, 0.86, "yes"),
    (108, 2.13, 0.86, "no", "coolant off"),
    (144, 1.95, 0.86),
    (),
    (96, 2.2, 0.86),
    (156, 1.94, 0.86),
    (84, "?", 0.86),
    (168, 1.95, 0.86),
    (72, 2.44, 0.86),
    (180, 1.94, 0.86),
    (60, 2.6, 0.86),
    (120, 2.05, 0.86),
]


def save(path, rows=None, **changes):
    """Write the workbook with some values changed; a name given as `leave_out` is not defined at all."""
    leave_out = changes.pop("leave_out", None)
    book = Workbook()
    inputs, readings = book.active, book.create_sheet("My readings")
    inputs.title = "Inputs"
    for number, (name, value) in enumerate(dict(VALUES, **changes).items(), 1):
        inputs.cell(number, 1, name)
        inputs.cell(number, 2, value)
        if name != leave_out:
            book.defined_names[f"in_{name}"] = DefinedName(f"in_{name}", attr_text=f"Inputs!$B${number}")
    for column, heading in enumerate(("Work rpm", "Load reading", "Idle reading", "Use?", "Note"), 3):
        readings.cell(4, column, heading)
    for number, row in enumerate(ROWS if rows is None else rows, 5):
        for column, value in enumerate(row, 3):
            readings.cell(number, column, value)
    book.defined_names["in_readings"] = DefinedName("in_readings", attr_text="'My readings'!$C$5:$G$44")
    book.save(path)
    return path
