"""The small plots of the functions' pages: docs/functions/pictures/NAME.png (needs matplotlib).

Black lines told apart by their dashes, so that they survive a grey print; the same bytes at each run of one matplotlib.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import compare_picture

from gritfuncs import example
from gritfuncs.formulas import catalogue
from gritfuncs.formulas.wheel import SIEVES
from gritfuncs.knee import FourthRoot, RecordedKnee, confirm_knee, find_knee
from gritfuncs.planning import OK, fastest_setup, plan_trial, speed_table
from gritfuncs.quantities import QUANTITIES
from gritfuncs.quantity import Quantity
from gritfuncs.registry import Formula
from gritfuncs.trial import Setup
from gritfuncs.trial.log import read_log
from gritfuncs.trial.log.example import example_log

POINTS = 121
DASHES = ("-", "--", ":", "-.")
SIZE, RESOLUTION = (4.6, 2.9), 90


class Telling(NamedTuple):
    """The argument that a formula is drawn over, from and to, and the argument that a few lines differ in."""

    argument: str
    low: float | None = None  # 0.3 times the example's value if not given
    high: float | None = None  # 1.7 times
    family: str | None = None
    members: Sequence[Any] = ()


# Where nothing stands here, the first argument is drawn over.
TELLING: dict[str, Telling] = {
    "wheel_speed": Telling("wheel_rpm"),
    "work_speed": Telling("work_rpm"),
    "wheel_rpm": Telling("wheel_diameter", 100, 300),
    "work_rpm": Telling("work_diameter", 5, 60),
    "speed_ratio": Telling("work_speed"),
    "equivalent_diameter": Telling("work_diameter", 5, 1500, "side", (1, 0, -1)),
    "depth_of_cut": Telling("work_rpm", 40, 300),
    "contact_length": Telling("depth_of_cut", 1, 100, "equivalent_diameter", (200.0, 20.0)),
    "removal_rate": Telling("infeed_rate", 0.05, 1.5, "work_diameter", (40.0, 20.0, 10.0)),
    "pass_removal_rate": Telling("depth_of_cut"),
    "equivalent_thickness": Telling("removal_rate"),
    "grit_density": Telling("grit_size", 45, 200, "concentration", (100.0, 75.0, 50.0)),
    "mean_grit_size": Telling("designation"),
    "grit_depth": Telling("work_speed", 2, 60),
    "plunge_grit_depth": Telling("work_rpm", 20, 320, "infeed_rate", (1.2, 0.6, 0.3)),
    "work_speed_for": Telling("grit_depth", 0.4, 2.0),
    "work_rpm_for": Telling("grit_depth", 0.6, 1.8, "infeed_rate", (0.3, 0.6, 1.2)),
    "infeed_rate_for": Telling("grit_depth", 0.6, 1.8),
    "wheel_speed_for": Telling("grit_depth", 1.0, 2.0),
    "chip_rate": Telling("grit_density"),
    "chip_volume": Telling("depth_of_cut"),
    "net_power": Telling("power", 0.9, 5),
    "line_power": Telling("amps", 0, 100, "power_factor", (0.88, 0.6)),
    "specific_energy": Telling("net_power", 0, 5),
    "grinding_power": Telling("removal_rate"),
    "tangential_force": Telling("wheel_speed", 15, 45),
    "ring_volume": Telling("outer_diameter", 250.01, 255),
    "grinding_ratio": Telling("wheel_volume"),
    "wheel_wear": Telling("grinding_ratio"),
    "heat_flux": Telling("heat_fraction", 0.02, 1.0),
    "peclet_number": Telling("work_speed", 1, 30),
    "peak_temperature_rise": Telling("work_speed", 2, 40),
    "burn_coefficient": Telling("temperature_rise"),
    "burn_threshold_energy": Telling("depth_of_cut", 2, 60),
}


def telling_of(formula: Formula) -> Telling:
    return TELLING.get(formula.name) or Telling(formula.arguments[0].name)


def draw_all(folder: Path, only_missing: bool = False) -> None:
    """Draw every picture, or those that are not there, into the folder, which holds nothing else."""
    folder.mkdir(parents=True, exist_ok=True)
    drawn = {formula.name: (_sieves if formula.name == "mean_grit_size" else _curve, formula) for formula in catalogue}
    drawn.update({name: (draw, None) for name, draw in TOOLS.items()})
    for old in folder.glob("*.png"):
        if old.stem not in drawn:
            old.unlink()
    for name, (draw, formula) in drawn.items():
        if not (only_missing and (folder / f"{name}.png").exists()):
            _draw(folder / f"{name}.png", draw, formula)


def _draw(path: Path, draw, formula: Formula | None) -> None:
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axis = pyplot.subplots(figsize=SIZE, layout="constrained")
    draw(axis, *filter(None, [formula]))
    axis.grid(color="0.85", linewidth=0.6)
    axis.spines[["top", "right"]].set_visible(False)
    figure.savefig(path, dpi=RESOLUTION, metadata={"Software": None})
    pyplot.close(figure)


def _label(quantity: Quantity) -> str:
    return quantity.label + ("" if quantity.unit == "-" else f", {quantity.unit}")


def _curve(axis, formula: Formula) -> None:
    telling = telling_of(formula)
    inputs = {quantity.name: formula.example[quantity.name] for quantity in formula.arguments}
    middle = inputs[telling.argument]
    low = 0.3 * middle if telling.low is None else telling.low
    high = 1.7 * middle if telling.high is None else telling.high
    steps = [low + (high - low) * step / (POINTS - 1) for step in range(POINTS)]
    for dash, member in zip(DASHES, telling.members or (None,)):
        values = dict(inputs, **({telling.family: member} if telling.family else {}))
        points = [
            (x, formula.call(**dict(values, **{telling.argument: x})))
            for x in steps
            if _fits(formula, values, telling.argument, x)
        ]
        axis.plot(*zip(*points), dash, color="black", linewidth=1.4, label=_member(telling, member))
    axis.plot([middle], [formula.example[formula.gives.name]], "o", color="black", markersize=6)
    axis.set_xlim(low, high)
    if formula.name == "equivalent_diameter":  # without bounds where a bore is hardly larger than the wheel
        axis.set_ylim(0, 1500)
    else:
        axis.set_ylim(bottom=0)
    axis.set_xlabel(_label(QUANTITIES[telling.argument]))
    axis.set_ylabel(_label(formula.gives), wrap=True)
    if telling.family:
        axis.legend(fontsize=8, frameon=False)


def _fits(formula: Formula, values: dict[str, Any], argument: str, x: float) -> bool:
    try:
        formula.call(**dict(values, **{argument: x}))
    except ValueError:
        return False
    return True


def _member(telling: Telling, member: Any) -> str | None:
    if telling.family is None:
        return None
    if telling.family == "side":
        return {1: "external", 0: "flat", -1: "internal"}[member]
    quantity = QUANTITIES[telling.family]
    return f"{quantity.label.replace(' on the radius', '')} {member:g}" + ("" if quantity.unit == "-" else f" {quantity.unit}")


def _sieves(axis, formula: Formula) -> None:
    numbers = sorted(SIEVES)
    upper, lower, mean = (
        [SIEVES[number][1] for number in numbers],
        [SIEVES[number][2] for number in numbers],
        [formula.call(f"D{number}") for number in numbers],
    )
    axis.vlines(numbers, lower, upper, color="0.5", linewidth=2, label="between the two sieves")
    axis.plot(numbers, mean, "o", color="black", markersize=4, label="mean size")
    axis.plot([40, 1250], [40, 1250], ":", color="black", linewidth=1, label="number itself")
    axis.set_xscale("log")
    axis.set_yscale("log")
    for set_ticks in (axis.set_xticks, axis.set_yticks):
        set_ticks([50, 100, 200, 500, 1000], labels=["50", "100", "200", "500", "1000"])
    axis.minorticks_off()
    axis.set_xlabel("number in the designation")
    axis.set_ylabel("grit size, µm")
    axis.legend(fontsize=8, frameon=False)


def _readings() -> tuple[Setup, Sequence[float], Sequence[float]]:
    setup = Setup(**example.setup())
    per_kilowatt = catalogue["specific_energy"].call(1.0, setup.removal_rate, example.CONTACT_WIDTH)
    rows = example.readings()
    return setup, [setup.depth(rpm) for rpm, _, _ in rows], [(power - idle) * per_kilowatt for _, power, idle in rows]


def _knee(axis) -> None:
    _, depths, energies = _readings()
    knee = find_knee(depths, energies)
    axis.axvspan(knee.low, knee.high, color="0.85")
    ends = [min(depths), knee.knee, max(depths)]
    axis.plot(ends, [knee.level + knee.slope * max(0.0, knee.knee - depth) for depth in ends], color="black", linewidth=1.4)
    axis.plot(depths, energies, "o", color="black", markersize=4)
    axis.annotate(
        "knee, in its interval",
        (knee.high, 0.93),
        xycoords=("data", "axes fraction"),
        xytext=(4, 0),
        textcoords="offset points",
        fontsize=8,
    )
    axis.set_ylim(bottom=0)
    axis.set_xlabel(_label(QUANTITIES["grit_depth"]))
    axis.set_ylabel(_label(QUANTITIES["specific_energy"]))


def _scatter_and_number(axis) -> None:
    """Interval of the knee after each reading of the example, in the order taken."""
    _, depths, energies = _readings()
    for number in range(6, len(depths) + 1):
        knee = find_knee(depths[:number], energies[:number])
        if knee.verdict == "found":
            axis.plot([number, number], [knee.low, knee.high], color="black", linewidth=1.4)
            axis.plot([number], [knee.knee], "o", color="black", markersize=4)
        else:
            axis.annotate(knee.verdict, (number, 0.05), xycoords=("data", "axes fraction"), rotation=90, ha="center", fontsize=7)
    axis.set_xlim(5.5, len(depths) + 0.5)
    axis.set_xlabel("readings so far")
    axis.set_ylabel("knee and interval, µm")


def _confirmed(axis) -> None:
    """Four invented readings about a recorded knee, and the interval that they leave."""
    record = RecordedKnee(knee=1.36, low=1.31, high=1.41, steepness=4, noise=0.01)
    depths = [1.36 * place for place in (1.035, 0.944, 1.11, 0.888)]
    energies = [118.9, 144.2, 117.6, 170.5]
    answer = confirm_knee(depths, energies, record, FourthRoot(1.36 * 100**-0.25))
    axis.axvspan(record.low, record.high, color="0.9")
    axis.plot([record.knee] * 2, [0, 1], ":", color="0.5", transform=axis.get_xaxis_transform())
    axis.plot([answer.low, answer.high], [108.0] * 2, color="black", linewidth=3)
    axis.plot(depths, energies, "o", color="black", markersize=5)
    for number, place in enumerate(zip(depths, energies), 1):
        axis.annotate(str(number), place, xytext=(5, 4), textcoords="offset points", fontsize=8)
    axis.annotate(answer.word, (answer.knee, 108.0), xytext=(0, 4), textcoords="offset points", ha="center", fontsize=8)
    axis.set_ylim(100, 180)
    axis.set_xlabel(_label(QUANTITIES["grit_depth"]))
    axis.set_ylabel(_label(QUANTITIES["specific_energy"]))


def _plan(axis) -> None:
    plan = plan_trial(example.NOMINAL_RPM)
    numbers, rpms = [reading.number for reading in plan], [reading.work_rpm for reading in plan]
    axis.plot(numbers, rpms, ":", color="0.5", linewidth=1)
    axis.plot(numbers, rpms, "o", color="black", markersize=5)
    axis.axhline(example.NOMINAL_RPM, color="0.5", linewidth=0.8, linestyle="--")
    axis.set_ylim(bottom=0)
    axis.set_xlabel("reading, in run order")
    axis.set_ylabel(_label(QUANTITIES["work_rpm"]))


def _wheel() -> dict[str, float]:
    setup = example.setup()
    return dict(
        {name: setup[name] for name in ("wheel_speed", "wheel_diameter", "side", "grit_density", "shape_ratio")},
        marked_wheel_speed=example.MARKED_WHEEL_SPEED,
        limits=example.LIMITS,
        specific_energy=example.TRUE_LEVEL,
        contact_width=example.CONTACT_WIDTH,
        idle_power=example.IDLE_POWER,
    )


def _table(axis) -> None:
    table = speed_table(grit_depth=example.TRUE_KNEE, work_diameters=range(8, 33), infeed_rates=(0.3, 0.6, 1.2), **_wheel())
    for dash, rate, column in zip(DASHES, table.infeed_rates, zip(*table.rows)):
        axis.plot(
            table.work_diameters,
            [cell.work_rpm for cell in column],
            dash,
            color="black",
            linewidth=1.4,
            label=f"infeed rate {rate:g} mm/min",
        )
        broken = [(cell.work_diameter, cell.work_rpm) for cell in column if cell.word != OK]
        if broken:
            axis.plot(*zip(*broken), "x", color="black", markersize=5)
    axis.axhline(example.LIMITS.highest_work_rpm, color="0.5", linewidth=0.8)
    axis.annotate(
        "highest work rpm; x: breaks a limit", (32, example.LIMITS.highest_work_rpm), ha="right", va="bottom", fontsize=8
    )
    axis.set_ylim(bottom=0)
    axis.set_xlabel(_label(QUANTITIES["work_diameter"]))
    axis.set_ylabel(_label(QUANTITIES["work_rpm"]))
    axis.legend(fontsize=8, frameon=False)


def _fastest(axis) -> None:
    diameters = range(6, 61, 2)
    found = [fastest_setup(grit_depth=example.TRUE_KNEE, work_diameter=diameter, **_wheel()) for diameter in diameters]
    bounds = dict.fromkeys(answer.binds for answer in found if answer.setup)
    for marker, bound in zip("os^D", bounds):
        points = [
            (diameter, answer.setup.infeed_rate)
            for diameter, answer in zip(diameters, found)
            if answer.setup and answer.binds == bound
        ]
        axis.plot(
            *zip(*points),
            marker,
            color="black",
            markerfacecolor="white",
            markersize=5,
            label=f"bound by the {bound.replace('_', ' ')}",
        )
    axis.set_ylim(bottom=0)
    axis.set_xlabel(_label(QUANTITIES["work_diameter"]))
    axis.set_ylabel("highest infeed rate, mm/min")
    axis.legend(fontsize=8, frameon=False)


def _trial(axis) -> None:
    """Loads as read, over the work rpm: what a file of readings holds before anything is computed."""
    rows = example.readings()
    axis.plot(
        [rpm for rpm, _, _ in rows], [power for _, power, _ in rows], "o", color="black", markersize=4, label="power reading"
    )
    axis.axhline(example.IDLE_POWER, color="black", linestyle="--", linewidth=1, label="idle power")
    axis.set_ylim(bottom=0)
    axis.set_xlabel(_label(QUANTITIES["work_rpm"]))
    axis.set_ylabel("power, kW")
    axis.legend(fontsize=8, frameon=False)


def _log(axis) -> None:
    """The simulated log of the example, with the level of each part."""
    rows = [line.split(",") for line in example_log().splitlines()[2:]]
    time, power = ([float(row[place]) for row in rows] for place in (0, 1))
    axis.plot(time, power, color="0.6", linewidth=0.7, label="spindle power (simulated)")
    for place, part in enumerate(read_log(power=power, time=time).parts):
        label = dict(label="level of each part") if place == 0 else {}
        axis.plot([part.steady_start, part.steady_end], [part.level] * 2, color="black", linewidth=2.5, **label)
    axis.set_ylim(bottom=0)
    axis.set_xlabel("time, s")
    axis.set_ylabel("power, kW")
    axis.legend(fontsize=8, frameon=False)


def _compared(axis) -> None:
    compare_picture.comparison().plot(axis)


TOOLS = {
    "read_log": _log,
    "find_knee": _knee,
    "confirm_knee": _confirmed,
    "compare_trials": _compared,
    "next_reading": _scatter_and_number,
    "plan_trial": _plan,
    "speed_table": _table,
    "fastest_setup": _fastest,
    "read_trial": _trial,
}
