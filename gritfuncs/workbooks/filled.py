"""Workbooks filled from what was read and computed, so that nothing is typed twice: input values for their `build`."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from ..planning import LIMIT_WORDS, SpeedTable
from ..quantities import SIDE_WORDS
from ..refused import Refused
from ..trial import Trial
from ..trial.given import Given
from ..trial.inputs import ENERGY, GRITS, INPUTS, OBSERVED_COLUMNS, RECORD, WHEEL
from ..trial.readings import BLANK, EXCLUDED
from ..trial.rows import one_line
from ..trial.ways import BOTH, RPM
from .speed_table.build import ON_THE_PAGE
from .trial.tables import ROWS


def trial_values(trial: Trial) -> dict[str, Any]:
    """The input values of a trial.xlsx with the setup and the readings of a trial; ValueError where it cannot hold them."""
    values = {given.name: given.default for given in INPUTS}
    values.update(_setup_values(trial))
    kind, words = {"specific_energy": ENERGY}.get(trial.load_kind, trial.load_kind), trial.given.words
    if kind == "current" and None in (words.get("volts"), words.get("power_factor")):
        kind = "relative"
    first = next((reading.work_rpm for reading in trial.used), None)
    values.update(
        title=trial.title or f"Readings of {one_line(trial.source, 80)}",
        load_kind=kind,
        volts=words.number("volts"),
        power_factor=words.number("power_factor"),
        noise=None if trial.noise is None else 100 * trial.noise,
        nominal_rpm=trial.nominal_rpm or first,
        lowest_work_rpm=trial.limits.lowest_work_rpm,
        highest_work_rpm=trial.limits.highest_work_rpm,
        lowest_infeed_rate=trial.limits.lowest_infeed_rate,
        highest_infeed_rate=trial.limits.highest_infeed_rate,
        steps=BOTH if trial.way == BOTH else RPM,
        idle=None,
        **{given.name: words.get(given.name) for given in RECORD},
    )
    return {**values, **_readings(trial), "other_trials": ()}


def _setup_values(trial: Trial) -> dict[str, Any]:
    """The inputs of wheel, work and grits as they were given; from the setup alone where it came as one."""
    words, setup = trial.given.words, trial.setup
    missing = list(trial.given.missing()) if setup is None else []
    if words.get("marked_wheel_speed") is None:
        missing.append("marked_wheel_speed")
    if missing:
        hint = f"add {' '.join('--' + word.replace('_', '-') + ' ...' for word in missing)}, or a file with --setup"
        raise Refused("setup", f"have {', '.join(missing)}: the workbook needs them", hint=hint, place=(trial.source,))
    values = wheel_values(trial.given)
    values.update(
        work_diameter=setup.work_diameter,
        side=_side(setup.side),
        infeed_rate=setup.infeed_rate,
        infeed_basis="radius",
        contact_width=setup.contact_width,
    )
    if trial.given.missing():  # the setup came as one
        values.update({name: value for name, value in vars(setup).items() if name in values and name != "side"}, wheel_rpm=None)
    return values


def wheel_values(given: Given) -> dict[str, Any]:
    """The inputs of wheel and grits, as they were given."""
    words = given.words
    values = {name: words.number(name) for name in (each.name for each in (*WHEEL, *GRITS)) if name != "grit_size"}
    size = words.get("designation") or words.get("grit_size")
    values["grit_size"] = size.replace(" ", "") if isinstance(size, str) else size
    return values


def _side(number: float) -> str:
    return next(word for word, side in SIDE_WORDS.items() if side == number)


def _readings(trial: Trial) -> dict[str, Any]:
    rows = [reading for reading in trial.readings if reading.kind != BLANK]
    if len(rows) > ROWS:
        raise Refused("readings", f"be at most {ROWS}: trial.xlsx holds no more", str(len(rows)), (trial.source,))
    is_energy = trial.load_kind == "specific_energy"
    for reading in trial.used:
        own = {} if reading.infeed_rate is None else {"infeed_rate": reading.infeed_rate}
        depth = None if reading.work_rpm is None else replace(trial.setup, **own).depth(reading.work_rpm)
        if depth is None or reading.depth is None or not math.isclose(depth, reading.depth, rel_tol=1e-9):
            must = "have readings whose depth follows from the work rpm and the setup: the workbook computes it from them"
            raise Refused("", must, f"row {reading.row}: another depth", (trial.source,))
    readings, observations, infeeds = [], [], []
    for reading in rows:
        note, use = reading.note, None
        if not reading.is_used:
            use = "no"
            if reading.kind != EXCLUDED:
                note = f"{reading.status}{'; ' + note if note else ''}"
        load, idle = (reading.energy, None) if is_energy else (reading.load, reading.idle)
        readings.append((reading.work_rpm, load, idle, use, one_line(note, 200) or None))
        seen = {"damage": one_line(reading.damage, 200) or None}
        infeeds.append(reading.infeed_rate)
        observations.append(tuple(seen.get(name) for name in OBSERVED_COLUMNS))
    return dict(readings=readings, observations=observations, row_infeed_rates=infeeds)


def table_values(table: SpeedTable, given: Given, title: str, records: Sequence[Sequence[Any]] = ()) -> dict[str, Any]:
    """The input values of a speed_table.xlsx with the depth, the setups and the limits of a table."""
    energy = table.specific_energy
    limits: Mapping[str, Any] = {name: getattr(table.limits, name) for name, _, _ in LIMIT_WORDS}
    return dict(
        limits,
        **{
            **wheel_values(given),
            "wheel_diameter": table.wheel_diameter,
            "wheel_speed": table.wheel_speed,
            "wheel_rpm": None,
            "grit_density": table.grit_density,
            "shape_ratio": table.shape_ratio,
        },
        title=one_line(title, 120),
        target_depth=table.grit_depth,
        band=100 * table.band,
        side=_side(table.side),
        units="mm",
        infeed_basis="radius",
        specific_energy=energy,
        contact_width=table.contact_width,
        idle_power=None if energy is None else table.idle_power,
        diameters=table.work_diameters,
        infeed_rates=table.infeed_rates,
        stock=None,
        smallest_wheel_diameter=None,
        reference_diameter=table.work_diameters[0],
        reference_infeed_rate=table.infeed_rates[0],
        records=records,
        lookup_key=None,
        **{name: given.words.get(name) for name, _, _ in ON_THE_PAGE},
    )
