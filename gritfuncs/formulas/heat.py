"""Heat in the contact: indications of how warm the work gets, never a permission to grind.

The share of heat that enters the work is the weak point: it is rarely known better than by a factor of two, and every
temperature scales with it.  Coolant that boils off, deflection and a worn wheel are not in these formulas.
"""

from __future__ import annotations

from math import pi

from ..registry import formula


@formula(
    gives="heat_flux",
    source="definition",
    equation=r"q_w = \frac{1000\, R_w P_g}{l_g\, b}",
    example=dict(contact_length=1.2, net_power=2.3, contact_width=20.0, heat_fraction=0.6, heat_flux=57.5),
)
def heat_flux(contact_length, net_power, contact_width, heat_fraction):
    """Mean heat flux into the work over the contact zone.

    Takes the geometric contact length; the real contact is longer, so the true mean flux is lower. The share of heat
    that enters the work is an assumption, to be stated with every result.
    """
    return 1000 * heat_fraction * net_power / (contact_length * contact_width)


@formula(
    gives="peclet_number",
    source="jaeger",
    equation=r"L = \frac{1000\, v_w l_g}{240\, \alpha}",
    example=dict(work_speed=12.0, contact_length=1.2, diffusivity=9.0, peclet_number=6.6666667),
)
def peclet_number(work_speed, contact_length, diffusivity):
    """Peclet number of the contact, half its length over twice the diffusivity times the speed.

    It says whether peak_temperature_rise may be used as it stands: its coefficient 1.128 is really 1.12 at L = 50,
    1.10 at 10, 1.08 at 5, 0.99 at 1 and 0.92 at 0.5.
    """
    return 1000 * work_speed * contact_length / (240 * diffusivity)


@formula(
    gives="temperature_rise",
    source="jaeger",
    equation=r"\Delta T = \frac{2}{\sqrt{\pi}}\, \frac{1000\, q_w}{k} \sqrt{\frac{60\, \alpha\, l_g}{1000\, v_w}}",
    example=dict(
        work_speed=12.0, contact_length=1.2, heat_flux=57.5, conductivity=40.0, diffusivity=9.0, temperature_rise=376.92921
    ),
)
def peak_temperature_rise(work_speed, contact_length, heat_flux, conductivity, diffusivity):
    """Peak temperature rise of a work surface under a moving band of even heat flux.

    An indication, never a permission. Assumes a flat half space of constant properties, no cooling within the contact and
    a high Peclet number (coefficient 2/√π, printed as 1.13; too high by 4 % at L = 5). Coolant makes the true rise lower
    until it boils off.
    """
    return 2 * (1000 * heat_flux / conductivity) * (60 * diffusivity * contact_length / (1000 * work_speed * pi)) ** 0.5


@formula(
    gives="burn_coefficient",
    source="malkin",
    equation=r"B = \frac{\sqrt{\pi}}{2}\, \frac{k\, \Delta T}{1000 \sqrt{\alpha}}",
    example=dict(temperature_rise=725.0, conductivity=34.0, diffusivity=9.0, burn_coefficient=7.2818312),
)
def burn_coefficient(temperature_rise, conductivity, diffusivity):
    """Burn coefficient of a work material, from the rise that damages it.

    For plain carbon steel about 7.2 (Malkin & Guo), at which the surface turns to austenite.
    """
    return conductivity * temperature_rise / 2000 * (pi / diffusivity) ** 0.5


@formula(
    gives="specific_energy",
    source="malkin",
    equation=r"u^* = u_0 + B\, d_e^{1/4} \left(\frac{a_e}{1000}\right)^{-3/4} \left(\frac{1000\, v_w}{60}\right)^{-1/2}",
    example=dict(
        work_speed=12.0, depth_of_cut=20.0, equivalent_diameter=200.0, base_energy=6.2, burn_coefficient=7.2, specific_energy=42.2
    ),
)
def burn_threshold_energy(work_speed, depth_of_cut, equivalent_diameter, base_energy, burn_coefficient):
    """Specific energy above which burn is to be expected, as an indication.

    u_0 = 6.2 J/mm³ and B = 7.2 J/(mm²·√s) hold for plain carbon steel under conventional abrasive (Malkin & Guo); for
    no other material without a trial. A wheel that conducts well (cBN, diamond) takes heat away and bears more. Energy
    below the threshold is no permission: look at the parts, etch them.
    """
    return (
        base_energy
        + burn_coefficient * equivalent_diameter**0.25 / (depth_of_cut / 1000) ** 0.75 / (1000 * work_speed / 60) ** 0.5
    )
