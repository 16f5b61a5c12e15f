"""Remarks on a trial: what could not be computed, and what is odd about its values."""

from __future__ import annotations

from ..formulas import catalogue
from ..planning import LIMIT_WORDS, Limits, breaks, broken_limits
from ..quantities import QUANTITIES, Check
from ..refused import Refused
from .headings import mentions_damage
from .own_settings import OWN, Base
from .readings import MICROMETRE, Reading
from .result import Trial
from .setup import Setup
from .table import Table
from .ways import way_remarks
from .words import QUANTITY_WORDS


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


def reading_remarks(readings: list[Reading], limits: Limits, idle: float | None, table: Table) -> list[str]:
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
    return told


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


def _odd(name: str, values: list[tuple[int, float]]) -> list[str]:
    """One sentence on the values of rows that are unusual; Refused where one cannot be."""
    quantity = QUANTITIES[name]
    for row, value in values:
        if quantity.possible is not None and value > quantity.possible:
            must = f"be <= {quantity.possible:g} {quantity.unit}, there is no more: is it in another unit?"
            raise Refused(name, must, f"{value:g}", place=(f"row {row}",))
    odd = [(row, value) for row, value in values if not quantity.is_usual(value)]
    if not odd:
        return []
    rows = _first_three([f"row {row}: {value:.4g}" for row, value in odd])
    return [Check(f"Check the {quantity.label}: usual is {quantity.usual_range} ({rows}).")]


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
