"""Remarks on a trial: what could not be computed, and what is odd about its values."""

from __future__ import annotations

from ..formulas import catalogue
from ..planning import LIMIT_WORDS, Limits, breaks, broken_limits
from ..quantities import QUANTITIES
from ..quantity import Check
from ..refused import Refused
from .headings import mentions_damage
from .own_settings import OWN, Base
from .readings import BLANK, EXCLUDED, MICROMETRE, Reading
from .result import Trial
from .setup import Setup
from .table import Table
from .ways import way_remarks
from .words import QUANTITY_WORDS

# Conventions, no source: no plan goes so far from one value to the next, nor further than a step beyond those tried.
FAR, A_STEP = 3.0, 1.25  # factors
FEWEST_ALIKE = 3  # numbers


def setup_remarks(table: Table, setup: Setup | None, missing: list[str], kind: str) -> list[str]:
    """What could not be computed for want of a value."""
    words, told = table.words, []
    if setup is None and not table.depth_given:
        given = [word for word in QUANTITY_WORDS if word in words.values]
        lack = f" The setup lacks {', '.join(missing)}." if given else ""
        told.append(
            "No setup: grit depths are relative, (work rpm / first used work rpm)^(1/4), at constant infeed "
            "rate, wheel and work." + lack
        )
    without = [name for word, name in (("volts", "volts"), ("power_factor", "power factor")) if words.get(word) is None]
    if kind == "current" and without:
        told.append(f"No {' and '.join(without)}: energies are net current, which has the same knee.")
    elif kind in ("power", "current") and setup is None:
        told.append("Without a complete setup energies are net load, not specific energy; the knee is the same.")
    elif kind in ("power", "current") and setup.contact_width is None:
        told.append("No contact width: energies are net load, not specific energy; the knee is the same.")
    return told


def reading_remarks(readings: list[Reading], limits: Limits, idle: float | None, table: Table, kind: str) -> list[str]:
    """What is odd about the readings."""
    told = []
    used = [reading for reading in readings if reading.is_used]
    if used and not table.energy_given and idle is None and not any(entry.idle is not None for entry in table.entries):
        told.append("No idle taken off: the readings count as they stand, which hides part of the fall; the knee is the same.")
    below = [reading for reading in used if not table.energy_given and reading.idle is not None and reading.idle < 0]
    if below:
        rows = _first_three([f"row {reading.row}: {reading.idle:.4g}" for reading in below])
        told.append(
            f"Idle is below zero, so taking it off adds to the load ({rows}). That is right only where the meter was set to zero "
            "with the wheel running; elsewhere check the sign."
        )
    low, high = limits.lowest_work_rpm, limits.highest_work_rpm
    tried = [(reading.row, reading.work_rpm) for reading in readings if reading.work_rpm is not None and reading.kind != "blank"]
    beyond = [f"row {row}: {rpm:.6g}" for row, rpm in tried if broken_limits({"work_rpm": rpm}, limits)]
    if beyond:
        told.append(Check(f"Outside the machine's limits, {_span(low, high)} 1/min ({_first_three(beyond)})."))
    for word in OWN:
        told += _odd(word, [(reading.row, value) for reading in used if (value := getattr(reading, word)) is not None])
    told += _odd("work_rpm", [(reading.row, reading.work_rpm) for reading in used if reading.work_rpm is not None])
    if kind == "power":
        told += _odd("power", [(reading.row, reading.load) for reading in used if reading.load is not None], False)
        told += _odd("idle_power", [(reading.row, reading.idle) for reading in used if reading.idle is not None], False)
    return told + slip_remarks(readings)


def limit_remarks(readings: list[Reading], limits: Limits, base: Base, kind: str) -> list[str]:
    """The readings beyond a limit of the machine other than that of the work rpm, a sentence for each limit."""
    values = {}
    for reading in readings:
        if reading.is_used:
            own = {"power": reading.load if kind == "power" else None}
            if base.setup is not None and reading.work_rpm:
                setup = base.setup_of(reading)
                speed = catalogue["work_speed"].call(setup.work_diameter, reading.work_rpm)
                own.update(
                    infeed_rate=setup.infeed_rate,
                    removal_rate=setup.removal_rate,
                    speed_ratio=catalogue["speed_ratio"].call(setup.wheel_speed, speed),
                )
            values[reading.row] = own
    told = []
    for limit_name, name, words in LIMIT_WORDS:
        limit = getattr(limits, limit_name)
        rows = {row: own[name] for row, own in values.items() if own.get(name) is not None} if limit is not None else {}
        beyond = [f"row {row}: {value:.4g}" for row, value in rows.items() if breaks(limit_name, limit, value)]
        if beyond:
            unit = "" if QUANTITIES[name].unit == "-" else f" {QUANTITIES[name].unit}"
            limited = f"{words}: {limit_name.replace('_', ' ')} is {limit:.4g}{unit}"
            told.append(Check(f"Outside the machine's limits, {limited} ({_first_three(beyond)})."))
    return told


def _first_three(named: list[str]) -> str:
    return ", ".join(named[:3]) + (", ..." if named[3:] else "")


def _span(low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return f"at most {high:g}" if low is None else f"at least {low:g}"
    return f"{low:g} to {high:g}"


def _odd(name: str, values: list[tuple[int, float]], refuses: bool = True) -> list[str]:
    """One sentence on the values of rows that are unusual; Refused where one cannot be, unless `refuses` is False."""
    quantity = QUANTITIES[name]
    for row, value in values if refuses else ():
        if quantity.possible is not None and value > quantity.possible:
            must = f"be <= {quantity.possible:g} {quantity.unit}, there is no more: is it in another unit?"
            raise Refused(name, must, f"{value:g}", place=(f"row {row}",))
    odd = [(row, value) for row, value in values if not quantity.is_usual(value)]
    if not odd:
        return []
    rows = _first_three([f"row {row}: {value:.4g}" for row, value in odd])
    return [Check(f"Check the {quantity.label}: usual is {quantity.usual_range} ({rows}).")]


def slip_remarks(readings: list[Reading]) -> list[str]:
    """The numbers that stand far from those of the other rows, and among them with their decimal sign one place further."""
    rows = [reading for reading in readings if reading.kind not in (BLANK, EXCLUDED)]
    told = []
    for word, name in (("work_rpm", "work rpm"), ("load", "load reading"), ("idle", "idle reading")):
        values = [(reading.row, value) for reading in rows if (value := getattr(reading, word)) is not None and value > 0]
        for row, value, meant in _slipped(values):
            odd = f"Check the {name} in row {row}: {value:.6g} stands far from the others"
            told.append(Check(f"{odd}; with its decimal sign moved, {meant:.6g}, it would stand among them."))
    return told


def _slipped(values: list[tuple[int, float]]) -> list[tuple[int, float, float]]:
    """Row, number and what it would be, of each number far from most of them that a factor of ten brings among those."""
    ordered = sorted(value for _, value in values)
    groups: list[list[float]] = []
    for value in ordered:
        if groups and value < FAR * groups[-1][-1]:
            groups[-1].append(value)
        else:
            groups.append([value])
    most = max(groups, key=len, default=[])
    if len(groups) < 2 or len(most) < FEWEST_ALIKE or 2 * len(most) <= len(ordered):
        return []
    low, high = most[0] / A_STEP, most[-1] * A_STEP
    return [
        (row, value, value * factor)
        for row, value in values
        for factor in (10, 0.1)
        if not most[0] <= value <= most[-1] and low <= value * factor <= high
    ]


def result_remarks(trial: Trial) -> list[str]:
    """What is odd about the depths and energies that follow."""
    told = []
    if trial.depth_unit == MICROMETRE:
        told += _odd("grit_depth", [(reading.row, reading.depth) for reading in trial.used])
    if trial.energy_unit == QUANTITIES["specific_energy"].unit:
        told += _odd("specific_energy", [(reading.row, reading.energy) for reading in trial.used])
    told += way_remarks(trial)
    noted = [reading.row for reading in trial.readings if not reading.damage and mentions_damage(reading.note)]
    if noted:
        rows = ", ".join(map(str, noted[:6]))
        told.append(f"The note of row {rows} speaks of damage: if there was any, say so in a column headed damage.")
    return told
