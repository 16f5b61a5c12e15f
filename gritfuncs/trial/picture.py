"""The chart of a trial: energy over grit depth, what was fitted, and where damage was seen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..knee.picture import fit_layers, interval_layers, reading_layers
from ..pictures.chart import Chart, Layer, Points, Upright
from .readings import MICROMETRE

if TYPE_CHECKING:
    from .result import Trial

DAMAGE = "damage seen"


def energy_label(trial: Trial) -> str:
    """What the vertical axis shows, with its unit."""
    if trial.energy_unit == "J/mm³":
        return "specific energy, J/mm³"
    if trial.energy_unit == "relative":
        return "net load, as the meter shows it"
    return f"net load, {trial.energy_unit}"


def depth_label(trial: Trial) -> str:
    return "grit depth, µm" if trial.depth_unit == MICROMETRE else "grit depth, relative: (work rpm / first used work rpm)^(1/4)"


def chart_of(trial: Trial) -> Chart:
    """The readings of a trial with the fitted curve and the interval of the knee."""
    layers: list[Layer] = []
    if trial.used:
        knee = trial.knee
        layers += interval_layers(knee, trial.depth_unit)
        layers += fit_layers(knee, min(trial.depths), max(trial.depths))
        layers += reading_layers(knee, trial.depths, trial.energies, trial.names)
        hurt = [reading for reading in trial.used if reading.damage]
        if hurt:
            words = [f"row {reading.row}" for reading in hurt]
            layers.append(
                Points(
                    [reading.depth for reading in hurt], [reading.energy for reading in hurt], DAMAGE, "cross", "#b00020", words
                )
            )
        if knee.knee is not None:
            unit = " µm" if trial.depth_unit == MICROMETRE else ""
            rpm = "" if trial.knee_rpm is None else f", {trial.knee_rpm:.4g} 1/min"
            layers.append(Upright(knee.knee, f"knee {knee.knee:.4g}{unit}{rpm}"))
    return Chart(trial.source, depth_label(trial), energy_label(trial), tuple(layers))
