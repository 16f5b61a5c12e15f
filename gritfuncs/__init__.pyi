"""Made by docs/build.py from public.py and the catalogue: not to be edited by hand."""

from collections.abc import Sequence
from typing import Any, overload

from numpy import float64
from numpy.typing import NDArray

from .comparison import Comparison as Comparison
from .comparison import compare_trials as compare_trials
from .formulas import catalogue as catalogue
from .knee import Advice as Advice
from .knee import Confirmation as Confirmation
from .knee import FourthRoot as FourthRoot
from .knee import Knee as Knee
from .knee import RecordedKnee as RecordedKnee
from .knee import confirm_knee as confirm_knee
from .knee import find_knee as find_knee
from .knee import next_reading as next_reading
from .planning import FastestSetup as FastestSetup
from .planning import Limits as Limits
from .planning import SpeedTable as SpeedTable
from .planning import fastest_setup as fastest_setup
from .planning import plan_trial as plan_trial
from .planning import speed_table as speed_table
from .quantities import EXTERNAL as EXTERNAL
from .quantities import FLAT as FLAT
from .quantities import INTERNAL as INTERNAL
from .quantities import QUANTITIES as QUANTITIES
from .trial import Setup as Setup
from .trial import Trial as Trial
from .trial import read_trial as read_trial
from .trial.log import PowerLog as PowerLog
from .trial.log import read_log as read_log

_Numbers = float | Sequence[float] | NDArray[Any]

__version__: str

@overload
def wheel_speed(wheel_diameter: float, wheel_rpm: float) -> float:  # type: ignore[overload-overlap]
    """Peripheral speed of the wheel: wheel_diameter [mm], wheel_rpm [1/min] -> wheel speed [m/s]."""
@overload
def wheel_speed(wheel_diameter: _Numbers, wheel_rpm: _Numbers) -> NDArray[float64]: ...


@overload
def work_speed(work_diameter: float, work_rpm: float) -> float:  # type: ignore[overload-overlap]
    """Peripheral speed of the work: work_diameter [mm], work_rpm [1/min] -> work speed [m/min]."""
@overload
def work_speed(work_diameter: _Numbers, work_rpm: _Numbers) -> NDArray[float64]: ...


@overload
def wheel_rpm(wheel_diameter: float, wheel_speed: float) -> float:  # type: ignore[overload-overlap]
    """Speed of rotation that gives the wheel a peripheral speed: wheel_diameter [mm], wheel_speed [m/s] -> wheel speed of rotation [1/min]."""
@overload
def wheel_rpm(wheel_diameter: _Numbers, wheel_speed: _Numbers) -> NDArray[float64]: ...


@overload
def work_rpm(work_diameter: float, work_speed: float) -> float:  # type: ignore[overload-overlap]
    """Speed of rotation that gives the work a peripheral speed: work_diameter [mm], work_speed [m/min] -> work speed of rotation [1/min]."""
@overload
def work_rpm(work_diameter: _Numbers, work_speed: _Numbers) -> NDArray[float64]: ...


@overload
def speed_ratio(wheel_speed: float, work_speed: float) -> float:  # type: ignore[overload-overlap]
    """Wheel speed over work speed, both in the same unit: wheel_speed [m/s], work_speed [m/min] -> speed ratio."""
@overload
def speed_ratio(wheel_speed: _Numbers, work_speed: _Numbers) -> NDArray[float64]: ...


@overload
def equivalent_diameter(wheel_diameter: float, work_diameter: float, side: float) -> float:  # type: ignore[overload-overlap]
    """Diameter of the wheel that has the same contact on a flat: wheel_diameter [mm], work_diameter [mm], side -> equivalent wheel diameter [mm]."""
@overload
def equivalent_diameter(wheel_diameter: _Numbers, work_diameter: _Numbers, side: _Numbers) -> NDArray[float64]: ...


@overload
def depth_of_cut(infeed_rate: float, work_rpm: float) -> float:  # type: ignore[overload-overlap]
    """Radial depth removed per work revolution in plunge grinding: infeed_rate [mm/min], work_rpm [1/min] -> depth of cut [µm]."""
@overload
def depth_of_cut(infeed_rate: _Numbers, work_rpm: _Numbers) -> NDArray[float64]: ...


@overload
def contact_length(depth_of_cut: float, equivalent_diameter: float) -> float:  # type: ignore[overload-overlap]
    """Length of the arc of contact, without deflection of wheel and work: depth_of_cut [µm], equivalent_diameter [mm] -> geometric contact length [mm]."""
@overload
def contact_length(depth_of_cut: _Numbers, equivalent_diameter: _Numbers) -> NDArray[float64]: ...


@overload
def removal_rate(work_diameter: float, infeed_rate: float) -> float:  # type: ignore[overload-overlap]
    """Specific removal rate of plunge grinding: work_diameter [mm], infeed_rate [mm/min] -> specific removal rate [mm³/(mm·s)]."""
@overload
def removal_rate(work_diameter: _Numbers, infeed_rate: _Numbers) -> NDArray[float64]: ...


@overload
def pass_removal_rate(depth_of_cut: float, work_speed: float) -> float:  # type: ignore[overload-overlap]
    """Specific removal rate of one pass, or of one work revolution, at a depth of cut: depth_of_cut [µm], work_speed [m/min] -> specific removal rate [mm³/(mm·s)]."""
@overload
def pass_removal_rate(depth_of_cut: _Numbers, work_speed: _Numbers) -> NDArray[float64]: ...


@overload
def equivalent_thickness(removal_rate: float, wheel_speed: float) -> float:  # type: ignore[overload-overlap]
    """Thickness of the layer of chips that would leave with the wheel surface: removal_rate [mm³/(mm·s)], wheel_speed [m/s] -> equivalent grinding thickness [µm]."""
@overload
def equivalent_thickness(removal_rate: _Numbers, wheel_speed: _Numbers) -> NDArray[float64]: ...


@overload
def grit_density(grit_size: float, concentration: float, active_fraction: float) -> float:  # type: ignore[overload-overlap]
    """Active grits per area of wheel surface, from grit size and concentration: grit_size [µm], concentration, active_fraction -> active grits per area [1/mm²]."""
@overload
def grit_density(grit_size: _Numbers, concentration: _Numbers, active_fraction: _Numbers) -> NDArray[float64]: ...


def mean_grit_size(designation: str) -> float:
    """Mean of the two sieve apertures of a grit designation: designation -> mean grit size [µm]."""


@overload
def grit_depth(work_speed: float, wheel_speed: float, depth_of_cut: float, equivalent_diameter: float, grit_density: float, shape_ratio: float) -> float:  # type: ignore[overload-overlap]
    """Maximum undeformed chip thickness of a grit: work_speed [m/min], wheel_speed [m/s], depth_of_cut [µm], equivalent_diameter [mm], grit_density [1/mm²], shape_ratio -> grit depth [µm]."""
@overload
def grit_depth(work_speed: _Numbers, wheel_speed: _Numbers, depth_of_cut: _Numbers, equivalent_diameter: _Numbers, grit_density: _Numbers, shape_ratio: _Numbers) -> NDArray[float64]: ...


@overload
def plunge_grit_depth(work_rpm: float, work_diameter: float, infeed_rate: float, wheel_speed: float, wheel_diameter: float, side: float, grit_density: float, shape_ratio: float) -> float:  # type: ignore[overload-overlap]
    """Grit depth of plunge grinding from what the operator sets: work_rpm [1/min], work_diameter [mm], infeed_rate [mm/min], wheel_speed [m/s], wheel_diameter [mm], side, grit_density [1/mm²], shape_ratio -> grit depth [µm]."""
@overload
def plunge_grit_depth(work_rpm: _Numbers, work_diameter: _Numbers, infeed_rate: _Numbers, wheel_speed: _Numbers, wheel_diameter: _Numbers, side: _Numbers, grit_density: _Numbers, shape_ratio: _Numbers) -> NDArray[float64]: ...


@overload
def work_speed_for(grit_depth: float, wheel_speed: float, depth_of_cut: float, equivalent_diameter: float, grit_density: float, shape_ratio: float) -> float:  # type: ignore[overload-overlap]
    """Work speed that gives a grit depth at a depth of cut: grit_depth [µm], wheel_speed [m/s], depth_of_cut [µm], equivalent_diameter [mm], grit_density [1/mm²], shape_ratio -> work speed [m/min]."""
@overload
def work_speed_for(grit_depth: _Numbers, wheel_speed: _Numbers, depth_of_cut: _Numbers, equivalent_diameter: _Numbers, grit_density: _Numbers, shape_ratio: _Numbers) -> NDArray[float64]: ...


@overload
def work_rpm_for(grit_depth: float, work_diameter: float, infeed_rate: float, wheel_speed: float, wheel_diameter: float, side: float, grit_density: float, shape_ratio: float) -> float:  # type: ignore[overload-overlap]
    """Work rpm that gives a grit depth in plunge grinding: grit_depth [µm], work_diameter [mm], infeed_rate [mm/min], wheel_speed [m/s], wheel_diameter [mm], side, grit_density [1/mm²], shape_ratio -> work speed of rotation [1/min]."""
@overload
def work_rpm_for(grit_depth: _Numbers, work_diameter: _Numbers, infeed_rate: _Numbers, wheel_speed: _Numbers, wheel_diameter: _Numbers, side: _Numbers, grit_density: _Numbers, shape_ratio: _Numbers) -> NDArray[float64]: ...


@overload
def infeed_rate_for(grit_depth: float, work_rpm: float, work_diameter: float, wheel_speed: float, wheel_diameter: float, side: float, grit_density: float, shape_ratio: float) -> float:  # type: ignore[overload-overlap]
    """Infeed rate, on the radius, that gives a grit depth in plunge grinding: grit_depth [µm], work_rpm [1/min], work_diameter [mm], wheel_speed [m/s], wheel_diameter [mm], side, grit_density [1/mm²], shape_ratio -> infeed rate on the radius [mm/min]."""
@overload
def infeed_rate_for(grit_depth: _Numbers, work_rpm: _Numbers, work_diameter: _Numbers, wheel_speed: _Numbers, wheel_diameter: _Numbers, side: _Numbers, grit_density: _Numbers, shape_ratio: _Numbers) -> NDArray[float64]: ...


@overload
def wheel_speed_for(grit_depth: float, work_rpm: float, work_diameter: float, infeed_rate: float, wheel_diameter: float, side: float, grit_density: float, shape_ratio: float) -> float:  # type: ignore[overload-overlap]
    """Wheel speed that gives a grit depth in plunge grinding: grit_depth [µm], work_rpm [1/min], work_diameter [mm], infeed_rate [mm/min], wheel_diameter [mm], side, grit_density [1/mm²], shape_ratio -> wheel speed [m/s]."""
@overload
def wheel_speed_for(grit_depth: _Numbers, work_rpm: _Numbers, work_diameter: _Numbers, infeed_rate: _Numbers, wheel_diameter: _Numbers, side: _Numbers, grit_density: _Numbers, shape_ratio: _Numbers) -> NDArray[float64]: ...


@overload
def chip_rate(wheel_speed: float, contact_width: float, grit_density: float) -> float:  # type: ignore[overload-overlap]
    """Chips formed per second over the grinding width, one by each active grit that passes: wheel_speed [m/s], contact_width [mm], grit_density [1/mm²] -> chips per second [1/s]."""
@overload
def chip_rate(wheel_speed: _Numbers, contact_width: _Numbers, grit_density: _Numbers) -> NDArray[float64]: ...


@overload
def chip_volume(work_speed: float, wheel_speed: float, depth_of_cut: float, grit_density: float) -> float:  # type: ignore[overload-overlap]
    """Mean volume of one chip: what is removed over how many chips form: work_speed [m/min], wheel_speed [m/s], depth_of_cut [µm], grit_density [1/mm²] -> mean chip volume [µm³]."""
@overload
def chip_volume(work_speed: _Numbers, wheel_speed: _Numbers, depth_of_cut: _Numbers, grit_density: _Numbers) -> NDArray[float64]: ...


@overload
def net_power(power: float, idle_power: float) -> float:  # type: ignore[overload-overlap]
    """Power that goes into grinding: power [kW], idle_power [kW] -> grinding power [kW]."""
@overload
def net_power(power: _Numbers, idle_power: _Numbers) -> NDArray[float64]: ...


@overload
def line_power(volts: float, amps: float, power_factor: float) -> float:  # type: ignore[overload-overlap]
    """Electrical power that a three-phase motor draws: volts [V], amps [A], power_factor -> power reading [kW]."""
@overload
def line_power(volts: _Numbers, amps: _Numbers, power_factor: _Numbers) -> NDArray[float64]: ...


@overload
def specific_energy(net_power: float, removal_rate: float, contact_width: float) -> float:  # type: ignore[overload-overlap]
    """Grinding energy per volume of work removed: net_power [kW], removal_rate [mm³/(mm·s)], contact_width [mm] -> specific energy [J/mm³]."""
@overload
def specific_energy(net_power: _Numbers, removal_rate: _Numbers, contact_width: _Numbers) -> NDArray[float64]: ...


@overload
def grinding_power(specific_energy: float, removal_rate: float, contact_width: float) -> float:  # type: ignore[overload-overlap]
    """Grinding power to expect from a specific energy; the idle power comes on top: specific_energy [J/mm³], removal_rate [mm³/(mm·s)], contact_width [mm] -> grinding power [kW]."""
@overload
def grinding_power(specific_energy: _Numbers, removal_rate: _Numbers, contact_width: _Numbers) -> NDArray[float64]: ...


@overload
def tangential_force(net_power: float, wheel_speed: float) -> float:  # type: ignore[overload-overlap]
    """Force along the wheel speed that takes the grinding power: net_power [kW], wheel_speed [m/s] -> tangential force [N]."""
@overload
def tangential_force(net_power: _Numbers, wheel_speed: _Numbers) -> NDArray[float64]: ...


@overload
def ring_volume(outer_diameter: float, inner_diameter: float, axial_width: float) -> float:  # type: ignore[overload-overlap]
    """Volume of a layer ground off a part, out of a bore, or worn off a wheel: outer_diameter [mm], inner_diameter [mm], axial_width [mm] -> volume of the ring [mm³]."""
@overload
def ring_volume(outer_diameter: _Numbers, inner_diameter: _Numbers, axial_width: _Numbers) -> NDArray[float64]: ...


@overload
def grinding_ratio(work_volume: float, wheel_volume: float) -> float:  # type: ignore[overload-overlap]
    """Grinding ratio: work removed per wheel lost: work_volume [mm³], wheel_volume [mm³] -> grinding ratio."""
@overload
def grinding_ratio(work_volume: _Numbers, wheel_volume: _Numbers) -> NDArray[float64]: ...


@overload
def wheel_wear(work_volume: float, grinding_ratio: float) -> float:  # type: ignore[overload-overlap]
    """Volume of wheel that a volume of work costs: work_volume [mm³], grinding_ratio -> volume of wheel lost [mm³]."""
@overload
def wheel_wear(work_volume: _Numbers, grinding_ratio: _Numbers) -> NDArray[float64]: ...


@overload
def heat_flux(contact_length: float, net_power: float, contact_width: float, heat_fraction: float) -> float:  # type: ignore[overload-overlap]
    """Mean heat flux into the work over the contact zone: contact_length [mm], net_power [kW], contact_width [mm], heat_fraction -> heat flux into the work [W/mm²]."""
@overload
def heat_flux(contact_length: _Numbers, net_power: _Numbers, contact_width: _Numbers, heat_fraction: _Numbers) -> NDArray[float64]: ...


@overload
def peclet_number(work_speed: float, contact_length: float, diffusivity: float) -> float:  # type: ignore[overload-overlap]
    """Peclet number of the contact, half its length over twice the diffusivity times the speed: work_speed [m/min], contact_length [mm], diffusivity [mm²/s] -> Peclet number of the contact."""
@overload
def peclet_number(work_speed: _Numbers, contact_length: _Numbers, diffusivity: _Numbers) -> NDArray[float64]: ...


@overload
def peak_temperature_rise(work_speed: float, contact_length: float, heat_flux: float, conductivity: float, diffusivity: float) -> float:  # type: ignore[overload-overlap]
    """Peak temperature rise of a work surface under a moving band of even heat flux: work_speed [m/min], contact_length [mm], heat_flux [W/mm²], conductivity [W/(m·K)], diffusivity [mm²/s] -> temperature rise [K]."""
@overload
def peak_temperature_rise(work_speed: _Numbers, contact_length: _Numbers, heat_flux: _Numbers, conductivity: _Numbers, diffusivity: _Numbers) -> NDArray[float64]: ...


@overload
def burn_coefficient(temperature_rise: float, conductivity: float, diffusivity: float) -> float:  # type: ignore[overload-overlap]
    """Burn coefficient of a work material, from the rise that damages it: temperature_rise [K], conductivity [W/(m·K)], diffusivity [mm²/s] -> burn coefficient of the work [J/(mm²·√s)]."""
@overload
def burn_coefficient(temperature_rise: _Numbers, conductivity: _Numbers, diffusivity: _Numbers) -> NDArray[float64]: ...


@overload
def burn_threshold_energy(work_speed: float, depth_of_cut: float, equivalent_diameter: float, base_energy: float, burn_coefficient: float) -> float:  # type: ignore[overload-overlap]
    """Specific energy above which burn is to be expected, as an indication: work_speed [m/min], depth_of_cut [µm], equivalent_diameter [mm], base_energy [J/mm³], burn_coefficient [J/(mm²·√s)] -> specific energy [J/mm³]."""
@overload
def burn_threshold_energy(work_speed: _Numbers, depth_of_cut: _Numbers, equivalent_diameter: _Numbers, base_energy: _Numbers, burn_coefficient: _Numbers) -> NDArray[float64]: ...
