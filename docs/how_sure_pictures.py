"""The pictures of docs/how-sure.md: python3 docs/how_sure_pictures.py draws them (needs matplotlib); all trials in them are invented."""

from __future__ import annotations

import random
import sys
from pathlib import Path
from statistics import median

DOCS = Path(__file__).resolve().parent
sys.path[:0] = [str(DOCS.parent), str(DOCS.parent / "tests")]

import numpy as np  # noqa: E402
from knee_reference import profile  # noqa: E402

from gritfuncs.knee import FOUND, find_knee  # noqa: E402
from gritfuncs.knee.quantiles import f1_quantile  # noqa: E402

TRUE_KNEE, TRUE_LEVEL, STEEPNESS = 1.2, 60.0, 3.0  # µm, J/mm³, relative fall over relative depth
LOWEST, HIGHEST = 1.2 * 0.4**0.25, 1.2 * 1.6**0.25  # µm: ±60 % of the rpm about the knee
READINGS, REPEATS, NOISE = 10, 25, 0.025
NOISES, COUNTS, SIMULATED = (0.01, 0.02, 0.05), (6, 8, 10, 12, 15, 20, 30), 150


def hinge(depth):
    return TRUE_LEVEL * (1 + STEEPNESS * max(0.0, TRUE_KNEE - depth) / TRUE_KNEE)


def trial(seed, readings=READINGS, noise=NOISE, curve=hinge, low=LOWEST, high=HIGHEST):
    """(depths, energies) of an invented trial."""
    draw = random.Random(seed)
    depths = [low + (high - low) * step / (readings - 1) for step in range(readings)]
    return depths, [curve(depth) * (1 + noise * draw.gauss(0, 1)) for depth in depths]


def interval(pyplot):
    """One trial, its fit and interval, and the sums of squares that the interval comes from."""
    depths, energies = trial(1, 8, noise=0.01)
    knee = find_knee(depths, energies)
    figure, (left, right) = pyplot.subplots(1, 2, figsize=(11, 4), layout="constrained")
    left.axvspan(knee.low, knee.high, color="0.88", label="stated interval")
    left.axvspan(knee.scatter_low, knee.scatter_high, color="0.75", label="from scatter alone")
    line = np.array([min(depths), knee.knee, max(depths)])
    left.plot(line, knee.level + knee.slope * np.maximum(0, knee.knee - line), color="black", label="fit: falls, then level")
    left.plot(depths, energies, "o", color="black", label="readings")
    left.axvline(TRUE_KNEE, color="black", linestyle=":", label="true knee")
    left.set(xlabel="grit depth, µm", ylabel="specific energy, J/mm³", title="The readings and the fit")
    left.legend(fontsize=8)
    corners = np.linspace(sorted(depths)[1], sorted(depths)[-2], 300)
    squares, _ = profile(depths, energies, corners)
    limit = knee.sse + f1_quantile(0.95, len(depths) - 3) * (knee.noise * knee.level) ** 2
    right.plot(corners, squares, color="black")
    right.axhline(limit, color="black", linestyle="--", linewidth=1)
    right.annotate(
        "limit: corners below it fit about as well",
        (0.02, limit),
        xycoords=("axes fraction", "data"),
        xytext=(0, 4),
        textcoords="offset points",
        fontsize=8,
    )
    right.axvspan(knee.scatter_low, knee.scatter_high, color="0.75")
    right.set(
        xlabel="corner held at this depth, µm",
        ylabel="sum of squared residuals, (J/mm³)²",
        ylim=(0, 5 * limit),
        title="How well each corner fits",
    )
    return figure


def repeats(pyplot):
    """The same trial taken many times."""
    figure, axis = pyplot.subplots(figsize=(8, 5), layout="constrained")
    for number in range(1, REPEATS + 1):
        knee = find_knee(*trial(f"repeat {number}"))
        if knee.verdict != FOUND:
            axis.annotate(knee.verdict, (1.085, number), fontsize=7, va="center")
            continue
        holds = knee.low <= TRUE_KNEE <= knee.high
        axis.plot(
            [knee.low, knee.high],
            [number] * 2,
            color="black" if holds else "0.4",
            linewidth=2 if holds else 4,
            linestyle="-" if holds else "--",
        )
        axis.plot(knee.knee, number, "o" if holds else "X", color="black", markersize=5 if holds else 8)
    axis.axvline(TRUE_KNEE, color="black", linestyle=":")
    axis.set(
        xlim=(1.08, 1.32),
        ylim=(0, REPEATS + 1),
        xlabel="grit depth, µm",
        ylabel="trial",
        title="The same trial 25 times: intervals and the true knee (dotted)",
    )
    return figure


def widths(pyplot):
    """How the half-width goes with readings and scatter."""
    figure, axis = pyplot.subplots(figsize=(8, 4), layout="constrained")
    for noise, style in zip(NOISES, ("-o", "--s", ":^")):
        shown = []
        for count in COUNTS:
            knees = [find_knee(*trial(f"{noise} {count} {number}", count, noise)) for number in range(SIMULATED)]
            found = [(knee.high - knee.low) / 2 / knee.knee for knee in knees if knee.verdict == FOUND]
            shown.append((count, 100 * median(found), len(found) / SIMULATED))
        axis.plot(
            [count for count, _, _ in shown],
            [width for _, width, _ in shown],
            style,
            color="black",
            label=f"{100 * noise:g} % scatter",
        )
        for count, width, share in shown:
            if share < 0.995:
                axis.annotate(
                    f"{100 * share:.0f} %", (count, width), xytext=(0, 6), textcoords="offset points", fontsize=8, ha="center"
                )
    axis.set(xlabel="readings", ylabel="half-width, % of the knee", ylim=(0, 5.2), title="Half-width of the stated interval")
    axis.legend()
    return figure


def verdicts(pyplot):
    """One trial for each verdict."""
    cases = [
        ("hinge", trial(1, noise=0.015)),
        ("a fall without end", trial(1, noise=0.015, curve=lambda h: 70.0 / h)),
        ("no fall", trial(2, noise=0.015, curve=lambda h: 60.0)),
        ("scatter as large as the fall", trial(3, noise=0.12)),
        ("four readings", trial(1, 4, noise=0.015)),
    ]
    figure, axes = pyplot.subplots(1, 5, figsize=(13, 3), sharey=True, layout="constrained")
    for axis, (_, (depths, energies)) in zip(axes, cases):
        knee = find_knee(depths, energies)
        axis.plot(depths, energies, "o", color="black", markersize=4)
        if knee.verdict == FOUND:
            axis.axvspan(knee.low, knee.high, color="0.85")
        axis.set_title(f"{knee.verdict}", fontsize=11)
    figure.supxlabel("grit depth, µm")
    figure.supylabel("specific energy, J/mm³")
    return figure


PICTURES = {"how-sure-interval": interval, "how-sure-repeats": repeats, "how-sure-widths": widths, "how-sure-verdicts": verdicts}


def draw(folder):
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    for name, picture in PICTURES.items():
        figure = picture(pyplot)
        figure.savefig(folder / f"{name}.png", dpi=80, metadata={"Software": None})
        pyplot.close(figure)


if __name__ == "__main__":
    draw(DOCS / "pictures")
