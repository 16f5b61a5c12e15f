"""The wheel: grit size from its designation, active grits per area."""

from __future__ import annotations

from math import pi

from ..refused import Refused
from ..registry import formula
from ..values import shown

# Upper and lower sieve aperture in µm (ASTM E11) and the US sieve numbers of each designation (ISO 6106).
SIEVES = {
    1181: ("16/18", 1180, 1000),
    1001: ("18/20", 1000, 850),
    851: ("20/25", 850, 710),
    711: ("25/30", 710, 600),
    601: ("30/35", 600, 500),
    501: ("35/40", 500, 425),
    426: ("40/45", 425, 355),
    356: ("45/50", 355, 300),
    301: ("50/60", 300, 250),
    251: ("60/70", 250, 212),
    213: ("70/80", 212, 180),
    181: ("80/100", 180, 150),
    151: ("100/120", 150, 125),
    126: ("120/140", 125, 106),
    107: ("140/170", 106, 90),
    91: ("170/200", 90, 75),
    76: ("200/230", 75, 63),
    64: ("230/270", 63, 53),
    54: ("270/325", 53, 45),
    46: ("325/400", 45, 38),
    1182: ("16/20", 1180, 850),
    852: ("20/30", 850, 600),
    602: ("30/40", 600, 425),
    502: ("35/45", 500, 355),
    427: ("40/50", 425, 300),
    252: ("60/80", 250, 180),
}


@formula(
    gives="grit_density",
    source="grit-packing",
    equation=r"C = 10^6 f \left(\frac{6 V}{\pi d_g^3}\right)^{2/3},\quad V = \frac{K}{400}",
    example=dict(grit_size=107.0, concentration=100.0, active_fraction=0.5, grit_density=26.678621),
)
def grit_density(grit_size, concentration, active_fraction):
    """Active grits per area of wheel surface, from grit size and concentration.

    Equal spheres, spread evenly, of which the active fraction cuts. A count on the wheel surface is better; where
    neither is known any fixed value serves, as long as it stays the same for this wheel.
    """
    return 1e6 * active_fraction * (6 * (concentration / 400) / (pi * grit_size**3)) ** (2 / 3)


@formula(
    gives="grit_size",
    source="iso-6106",
    native=False,
    equation=r"d_g = \frac{\text{upper aperture} + \text{lower aperture}}{2}",
    example=dict(designation="D126", grit_size=115.5),
)
def mean_grit_size(designation):
    """Mean of the two sieve apertures of a grit designation.

    Diamond (D126), cBN (B126) and sieve numbers (120/140) give the same size. The number in the designation is about
    the upper aperture, not the mean.
    """
    text = designation.strip().upper().replace(" ", "")
    for number, (sieves, upper, lower) in SIEVES.items():
        if text in (f"D{number}", f"B{number}", sieves):
            return (upper + lower) / 2
    sizes = "D46 to D1182, B46 to B1182 or its sieve numbers such as 120/140"
    raise Refused("designation", f"be an ISO 6106 sieve size from {sizes}", shown(designation))
