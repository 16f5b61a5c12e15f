"""The report of a trial, for whoever stands at the machine."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from ..quantities import QUANTITIES, SIDE_WORDS
from .readings import BLANK, MICROMETRE, USED
from .rows import named_rows, one_line

if TYPE_CHECKING:
    from .result import Trial

LOAD_UNITS = {"power": "kW", "current": "A"}
# Columns of what a row may have of its own.
OWN_HEADS = {
    "infeed_rate": ("infeed", "mm/min"),
    "wheel_speed": ("wheel", "m/s"),
    "work_diameter": ("part", "mm"),
    "wheel_diameter": ("wheel", "mm"),
}


def report(trial: Trial) -> str:
    counts = ", ".join(f"{number} {kind}" for kind, number in trial.counts.items() if number or kind == USED)
    lines = [f"Trial: {trial.source}", f"Rows: {counts}"]
    named = [
        (reading.row, reading.status + (f" ({one_line(reading.note, 60)})" if reading.note else ""))
        for reading in trial.readings
        if reading.status not in (USED, BLANK)
    ]
    lines += [f"    {line}" for line in named_rows(named)]
    lines += [f"    {remark}" for remark in trial.remarks]
    lines += [f"    DAMAGE SEEN in row {row}: {one_line(words, 60)}" for row, words in trial.damage]
    lines += _setup_lines(trial) + _reading_lines(trial)
    if not trial.used:
        return "\n".join(lines + ["No reading can be used, so nothing can be said about a knee."])
    return "\n".join(lines + [trial.knee.report(**knee_words(trial))] + _rpm_lines(trial))


def _setup_lines(trial: Trial) -> list[str]:
    if trial.setup is None:
        return []
    side = next(word for word, number in SIDE_WORDS.items() if number == trial.setup.side)
    rows = [
        (name, QUANTITIES[name].label, f"{value:.6g}", QUANTITIES[name].unit)
        for name, value in asdict(trial.setup).items()
        if name != "side" and value is not None
    ] + [("side", "side of contact", side, "-")]
    sources = {name: trial.given.source_of(name) for name, *_ in rows}
    several = set(sources.values()) - {"", trial.source}
    return ["[[Setup]]"] + [
        f"    {label:<30} = {value:>10} {'' if unit == '-' else unit:<8}{f' from {sources[name]}' if several else ''}".rstrip()
        for name, label, value, unit in rows
    ]


def _reading_lines(trial: Trial) -> list[str]:
    if not trial.used:
        return []
    load = LOAD_UNITS.get(trial.load_kind, "")
    heads = (
        ("row", ""),
        ("rpm", "1/min"),
        ("load", load),
        ("idle", load),
        ("depth", trial.depth_unit),
        ("energy", trial.energy_unit),
    )
    own = [word for word in OWN_HEADS if any(getattr(reading, word) is not None for reading in trial.used)]
    heads = heads[:2] + tuple(OWN_HEADS[word] for word in own) + heads[2:]
    cells = [
        (
            str(reading.row),
            figures(reading.work_rpm, 5),
            *(
                figures(value if (value := getattr(reading, word)) is not None else getattr(trial.setup, word, None), 5)
                for word in own
            ),
            figures(reading.load, 6),
            figures(reading.idle, 6),
            figures(reading.depth, 4),
            figures(reading.energy, 4),
        )
        for reading in trial.used
    ]
    table = [tuple(name for name, _ in heads), tuple(unit for _, unit in heads)] + cells
    return ["[[Used]]"] + ["    " + "".join(f"{cell:>10}" for cell in row).rstrip() for row in table]


def figures(value: float | None, digits: int) -> str:
    """A number with so many figures; a dash where there is none."""
    return "-" if value is None else f"{value:.{digits}g}"


def knee_words(trial: Trial) -> dict[str, Any]:
    """The trial's own units, and its readings by their rows, as `Knee.report` and `Knee.rows` take them."""
    in_um = trial.depth_unit == MICROMETRE
    return {
        "depth_unit": MICROMETRE if in_um else f"({trial.depth_unit})",
        "per_depth": MICROMETRE if in_um else "unit of relative depth",
        "energy_unit": "the unit of the load readings" if trial.energy_unit == "relative" else trial.energy_unit,
        "readings": trial.names,
    }


def _rpm_lines(trial: Trial) -> list[str]:
    low, high = (None if depth is None else trial.rpm_for(depth) for depth in (trial.knee.low, trial.knee.high))
    if low is None:
        return []
    if trial.damage_at_knee or trial.damage and trial.knee.knee is None:
        return [
            "[[Work rpm]]",
            "    Damage was seen in this trial: no rpm of it is given to set a machine by.",
            "    Find what caused it, and take the depths without damage as the limit; then repeat the trial.",
        ]
    if trial.knee_rpm is None:
        return ["[[Work rpm]]", f"    {'knee':<10} = above {low:.4g} 1/min, if there is one"]
    lines = [
        "[[Work rpm]]",
        f"    {'knee':<10} = {trial.knee_rpm:.4g} 1/min in this setup",
        f"    {'interval':<10} = {low:.4g} to {high:.4g} 1/min",
    ]
    if trial.damage:
        lines.append("    DAMAGE WAS SEEN outside the band about the knee: stay within the band, and watch the first parts.")
    if trial.depth_unit != MICROMETRE:
        lines.append("    Holds for the wheel, work, infeed rate and wheel speed of this trial only.")
    return lines
