"""gritfuncs table"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from dataclasses import fields

from ..planning import BAND, Limits, speed_table
from ..quantities import SIDE_WORDS
from .command import DONE, Command
from .options import add_choice, add_json, add_quantities, add_quantity, add_share
from .output import print_json


def add(parser: ArgumentParser) -> None:
    add_quantity(parser, "grit_depth", "depth to hold, the knee of the trial", required=True)
    add_quantities(parser, "work_diameters", "MM,MM,...", "part diameters [mm]")
    add_quantities(
        parser, "infeed_rates", "RATE,RATE,...", "infeed rates on the radius [mm/min]; halve what a machine shows on the diameter"
    )
    for name in ("wheel_diameter", "wheel_speed"):
        add_quantity(parser, name, required=True)
    add_quantity(parser, "marked_wheel_speed", "highest speed marked on the wheel", required=True)
    add_choice(parser, "--side", SIDE_WORDS, "side of contact (default: %(default)s)", default="external")
    for name in ("grit_density", "shape_ratio"):
        add_quantity(parser, name, required=True)
    for name in ("specific_energy", "contact_width", "idle_power"):
        add_quantity(parser, name)
    for field in fields(Limits):
        add_quantity(parser, field.name, f"limit of the machine: {field.name.replace('_', ' ')}")
    add_share(parser, "band", "allowed deviation of depth", BAND)
    add_json(parser)


def run(chosen: Namespace) -> int:
    limits = Limits(**{field.name: getattr(chosen, field.name) for field in fields(Limits)})
    table = speed_table(
        grit_depth=chosen.grit_depth,
        work_diameters=chosen.work_diameters,
        infeed_rates=chosen.infeed_rates,
        wheel_speed=chosen.wheel_speed,
        marked_wheel_speed=chosen.marked_wheel_speed,
        wheel_diameter=chosen.wheel_diameter,
        side=SIDE_WORDS[chosen.side],
        grit_density=chosen.grit_density,
        shape_ratio=chosen.shape_ratio,
        limits=limits,
        band=chosen.band,
        specific_energy=chosen.specific_energy,
        contact_width=chosen.contact_width,
        idle_power=chosen.idle_power or 0.0,
    )
    if chosen.json:
        print_json(table.as_dict())
    else:
        print(table.report())
    return DONE


COMMAND = Command(
    "table",
    "print the work rpm that holds a grit depth, for part diameters by infeed rates",
    add,
    run,
    example="gritfuncs table --grit-depth 1.36 --work-diameters 12,20 --infeed-rates 0.3,0.6 --wheel-diameter 200 --wheel-speed 22 "
    "--marked-wheel-speed 35 --grit-density 18.9 --shape-ratio 10 --highest-work-rpm 300",
    remark="The same in Python: [speed_table](functions/speed_table.md). To fill in and print: "
    "[speed_table.xlsx](../workbook_templates/speed_table.xlsx).",
)
