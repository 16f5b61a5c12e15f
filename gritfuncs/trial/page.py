"""A trial as HTML: chart, answer, readings and setup, for a notebook and for the report."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from ..knee.page import PICTURE_WIDTH, rows_table
from ..markup import Markup, element, joined, table
from ..pictures.svg import chart_svg
from ..quantities import QUANTITIES, SIDE_WORDS
from ..values import finite_in
from .picture import chart_of
from .readings import BLANK
from .report import LOAD_UNITS, OWN_HEADS, figures, knee_words
from .words import quantity_of

if TYPE_CHECKING:
    from .result import Trial

FOLLOWS, BESIDE = "follows from the others", "given beside the file"  # of a value that the file does not state


def trial_page(trial: Trial) -> Markup:
    """What a notebook shows of a trial."""
    return joined([chart(trial), answer(trial), readings_table(trial)])


def chart(trial: Trial) -> Markup:
    """The chart of a trial; a sentence where no reading can be used."""
    if not trial.used:
        return element("p", "No reading can be used, so nothing can be said about a knee.")
    return element("div", chart_svg(chart_of(trial)), style=PICTURE_WIDTH)


def answer(trial: Trial) -> Markup:
    """The knee in numbers and sentences, and its rpm."""
    if not trial.used:
        return Markup("")
    rows = trial.knee.rows(**knee_words(trial))
    if trial.knee_rpm is not None:
        rows.append(("work rpm", f"{trial.knee_rpm:.4g} 1/min holds the knee in this setup"))
    return rows_table(rows)


def readings_table(trial: Trial) -> Markup:
    """Every row that is not blank, and what became of it."""
    load = LOAD_UNITS.get(trial.load_kind, "")
    own = [word for word in OWN_HEADS if any(getattr(reading, word) is not None for reading in trial.readings)]
    heads = [
        "row",
        "work rpm, 1/min",
        *(", ".join(OWN_HEADS[word]) for word in own),
        f"load, {load}" if load else "load",
        f"idle, {load}" if load else "idle",
        f"grit depth, {trial.depth_unit}",
        f"energy, {trial.energy_unit}",
        "what became of it",
        "note",
    ]
    rows = []
    for reading in trial.readings:
        if reading.kind == BLANK:
            continue
        status: Any = reading.status
        if reading.damage:
            status = joined([status, element("strong", f"DAMAGE SEEN: {reading.damage}")], "; ")
        if reading == (trial.suspect if trial.used else None):
            status = joined([status, element("strong", "out of line with the others")], "; ")
        rows.append(
            [
                reading.row,
                figures(reading.work_rpm, 5),
                *(figures(getattr(reading, word), 5) for word in own),
                figures(reading.load, 6),
                figures(reading.idle, 6),
                figures(reading.depth, 4),
                figures(reading.energy, 4),
                status,
                reading.note,
            ]
        )
    return table(heads, rows, class_="readings")


def setup_table(trial: Trial) -> Markup:
    """Each value of setup, meter and machine: as it was given, as it was used, and where it came from."""
    given, rows = trial.given, []
    setup = asdict(trial.setup) if trial.setup is not None else {}
    for word, value in setup.items():
        if value is not None:
            quantity, source = QUANTITIES[word], given.source_of(word)
            said = BESIDE if not source else _written(trial, word) if word in given.sources else FOLLOWS
            rows.append([quantity.label, said, _side(value) if word == "side" else f"{value:.6g}", _unit(quantity.unit), source])
    for word in given.sources:
        if word not in setup or setup[word] is None:
            known, number = quantity_of(word), finite_in(given.values[word])
            label = known.label if known is not None and known.name == word else word.replace("_", " ")
            unit = "%" if word == "noise" else _unit(known.unit) if known is not None and number is not None else ""
            used = str(given.values[word]) if number is None else f"{number:.6g}"
            rows.append([label, _written(trial, word), used, unit, given.sources[word]])
    if len({row[-1] for row in rows} - {""}) < 2:  # all from the one file
        rows = [row[:-1] for row in rows]
    heads = ["what", "as given", "as used", "unit", "from"]
    return table(heads[: len(rows[0])], rows, class_="setup") if rows else Markup("")


def _written(trial: Trial, word: str) -> str:
    return trial.given.written.get(word) or str(trial.given.values[word])


def _side(number: Any) -> str:
    return next(word for word, side in SIDE_WORDS.items() if side == number)


def _unit(unit: str) -> str:
    return "" if unit == "-" else unit
