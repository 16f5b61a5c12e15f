"""Power, force and specific energy."""

from __future__ import annotations

from ..registry import formula


@formula(
    gives="net_power", source="definition", equation=r"P_g = P - P_0", example=dict(power=3.2, idle_power=0.9, net_power=2.3)
)
def net_power(power, idle_power):
    """Power that goes into grinding.

    Take the idle power at the same wheel speed with the coolant on.
    """
    return power - idle_power


@formula(
    gives="power",
    source="motor",
    equation=r"P = \frac{\sqrt{3}\, U I \cos\varphi}{1000}",
    example=dict(volts=415.0, amps=70.0, power_factor=0.88, power=44.278147),
)
def line_power(volts, amps, power_factor):
    """Electrical power that a three-phase motor draws.

    The power factor falls at low load: one fixed value overstates the change of power less than it misplaces its level.
    The motor's losses are included; the knee does not mind.
    """
    return (3 * volts**2) ** 0.5 * amps * power_factor / 1000


@formula(
    gives="specific_energy",
    source="kalpakjian-power",
    equation=r"u = \frac{1000\, P_g}{Q'_w\, b}",
    example=dict(net_power=2.3, removal_rate=0.62831853, contact_width=20.0, specific_energy=183.02818),
)
def specific_energy(net_power, removal_rate, contact_width):
    """Grinding energy per volume of work removed."""
    return 1000 * net_power / (removal_rate * contact_width)


@formula(
    gives="net_power",
    source="kalpakjian-power",
    equation=r"P_g = \frac{u\, Q'_w\, b}{1000}",
    example=dict(specific_energy=180.0, removal_rate=0.6, contact_width=20.0, net_power=2.16),
)
def grinding_power(specific_energy, removal_rate, contact_width):
    """Grinding power to expect from a specific energy; the idle power comes on top."""
    return specific_energy * removal_rate * contact_width / 1000


@formula(
    gives="tangential_force",
    source="kalpakjian-power",
    equation=r"F_t = \frac{1000\, P_g}{v_s}",
    example=dict(net_power=2.16, wheel_speed=25.0, tangential_force=86.4),
)
def tangential_force(net_power, wheel_speed):
    """Force along the wheel speed that takes the grinding power."""
    return 1000 * net_power / wheel_speed
