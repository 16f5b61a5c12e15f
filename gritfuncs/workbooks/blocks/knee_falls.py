"""The falls that the knee in cells is sought with, and the rows that each of them repeats under names of its own."""

from __future__ import annotations

from typing import NamedTuple

NONE = "9.9E+307"  # larger than any reading: no candidate here
UNIT, UNIT_SQUARED = "unit of the readings", "the same, squared"


class Fall(NamedTuple):
    """A fall that is straight over some measure of the depth; its names begin with the prefix, ~ in the templates below."""

    prefix: str
    label: str
    place: str  # unit of the measure
    slope: str  # unit of a fall over it


STRAIGHT = Fall("", "", "µm", "per µm")
CURVED = Fall("curve_", "curved: ", "no unit", UNIT)  # over 2 - (lowest depth/depth)²
BEND = Fall("bend_", "two slopes: ", "µm", "per µm")


def named(fall: Fall, template):
    """Rows of a template with the names, labels and units of a fall; PLACE in a label is the unit of the measure."""
    units = {"place": fall.place, "slope": fall.slope}
    for name, label, *unit, formula in template:
        yield (
            fall.prefix + name,
            fall.label + label.replace("PLACE", fall.place),
            *(units.get(each, each) for each in unit),
            formula.replace("~", fall.prefix),
        )
