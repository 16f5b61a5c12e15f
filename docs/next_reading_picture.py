"""The example of docs/next-reading.md: python3 docs/next_reading_picture.py prints its lines and draws its picture (needs matplotlib)."""

from __future__ import annotations

import random
import sys
from pathlib import Path

DOCS = Path(__file__).resolve().parent
sys.path.insert(0, str(DOCS.parent))

from gritfuncs import example  # noqa: E402
from gritfuncs.knee import FOUND, next_reading  # noqa: E402
from gritfuncs.trial import Setup  # noqa: E402

SETUP = Setup(**example.setup())
SEED, SCATTER, WANTED = 6, 0.02, 0.03
COLUMNS = 3


def trial():
    """The invented trial of the example, reading by reading: (depths, energies, advice) before each reading and at the end."""
    scatter, depths, energies, stages = random.Random(SEED), [], [], []
    while True:
        advice = next_reading(depths, energies, SETUP, example.LIMITS, nominal_rpm=example.NOMINAL_RPM, wanted=WANTED)
        stages.append((list(depths), list(energies), advice))
        if advice.stop:
            return stages
        depths.append(SETUP.depth(advice.work_rpm))
        fall = max(0.0, 1 - depths[-1] / example.TRUE_KNEE)
        energies.append(example.TRUE_LEVEL * (1 + example.TRUE_STEEPNESS * fall) * (1 + SCATTER * scatter.gauss(0, 1)))


def lines():
    """What the tool says before each reading."""
    return [f"{len(depths):>2} readings   {advice.line()}" for depths, _, advice in trial()]


def draw(path):
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    stages = trial()[3:]
    rows = -(-len(stages) // COLUMNS)
    figure, axes = pyplot.subplots(rows, COLUMNS, figsize=(11, 2.9 * rows), sharex=True, sharey=True, layout="constrained")
    for axis in axes.flat[len(stages) :]:
        axis.axis("off")
    for axis, (depths, energies, advice) in zip(axes.flat, stages):
        axis.plot(depths[:-1], energies[:-1], "o", color="black", markersize=4)
        axis.plot(depths[-1:], energies[-1:], "s", color="black", markersize=6)
        knee = advice.knee
        low = knee.low if knee.verdict == FOUND else knee.scatter_low
        high = knee.high if knee.verdict == FOUND else knee.scatter_high
        if high is not None:
            axis.axvspan(low, high, color="0.85")
            axis.annotate(
                "knee in here", ((low + high) / 2, 0.96), xycoords=("data", "axes fraction"), ha="center", va="top", fontsize=8
            )
        elif low is not None and low > min(depths):
            axis.axvline(low, color="0.5", linestyle=":")
            axis.annotate(
                "any knee is right of this", (low, 0.96), xycoords=("data", "axes fraction"), va="top", ha="center", fontsize=8
            )
        if not advice.stop:
            axis.axvline(SETUP.depth(advice.work_rpm), color="black", linestyle="--", linewidth=1)
        said = "stop: " + advice.reason if advice.stop else f"next {advice.work_rpm:g} rpm, {advice.reason}"
        axis.set_title(f"{len(depths)} readings\n" + said.replace(": ", ":\n", 1), fontsize=9)
    figure.supxlabel("grit depth, µm")
    figure.supylabel("specific energy, J/mm³")
    figure.savefig(path, dpi=80)


if __name__ == "__main__":
    print("\n".join(lines()))
    draw(DOCS / "pictures" / "next-reading.png")
