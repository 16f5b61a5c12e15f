"""The chart of a comparison: all trials over one measure of depth, each with its own shape, stroke and hatching."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..pictures.chart import COLOURS, SHAPES, STROKES, Band, Chart, Layer, Line, Points, Upright
from ..refused import Refused
from ..trial.picture import fit_layers

if TYPE_CHECKING:
    from .result import Comparison

_PLAIN_SHAPES = tuple(shape for shape in SHAPES if shape not in ("ring", "cross"))
MOST_TRIALS = len(_PLAIN_SHAPES)


def chart_of(comparison: Comparison) -> Chart:
    """Specific energies as they are; other loads as shares of their level, so that all stand side by side."""
    if len(comparison.trials) > MOST_TRIALS:
        raise Refused("trials", f"be at most {MOST_TRIALS} for a chart: more cannot be told apart", str(len(comparison.trials)))
    absolute = all(trial.energy_unit == "J/mm³" for trial in comparison.trials)
    behind: list[Layer] = []
    front: list[Layer] = []
    for number, (trial, name, knee) in enumerate(zip(comparison.trials, comparison.names, comparison.knees)):
        colour, stroke, factor = COLOURS[number], STROKES[number], comparison.factors[number]
        scale = 1.0 if absolute or not trial.knee.level else 1 / trial.knee.level
        lean, said = 1 if number % 2 == 0 else -1, f"interval of {name}"
        behind.append(Band(knee.low, knee.high, said, colour, lean))
        for line in fit_layers(trial.knee, min(trial.depths), max(trial.depths)):
            front.append(Line([x * factor for x in line.x], [y * scale for y in line.y], "", stroke, colour))
        xs, ys = [depth * factor for depth in trial.depths], [energy * scale for energy in trial.energies]
        front.append(Points(xs, ys, f"{name}, line {stroke}", _PLAIN_SHAPES[number], colour))
        front.append(Upright(knee.value, f"knee of {name}: {knee.value:.4g}", stroke, colour))
    unit = "µm" if comparison.depth_unit == "µm" else f"relative to {comparison.names[0]}"
    energy = "specific energy, J/mm³" if absolute else "energy over its level"
    return Chart(f"Compared with {comparison.names[0]}", f"grit depth, {unit}", energy, (*behind, *front))
