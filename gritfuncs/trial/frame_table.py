"""Trials in frames of pandas: the columns of a frame by their headings, and a trial as a frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, fields
from typing import TYPE_CHECKING, Any

from ..frames import frame
from ..values import finite_in
from .layout import find_layout
from .lines import Lead, leading_lines, word_of
from .own_settings import OWN
from .readings import EXCLUDED, Reading
from .rows import Row, filled, one_line
from .setup_values import setup_from
from .table import Table, table_of
from .words import LIMIT_WORDS, LOAD_KINDS
from .workbook_file import typed

if TYPE_CHECKING:
    from .result import Trial

NAME = "DataFrame"
_KEPT = ("volts", "power_factor", "noise", "nominal_rpm", "marked_wheel_speed", *LIMIT_WORDS)  # beside the setup itself
_HEAD = 0  # the number of the row of headings; readings count from 1


def table(given: Any, columns: Mapping[str, str] | None, load_kind: str | None) -> Table:
    """What a frame holds: its columns as those of a sheet, what stands in its attrs as the lines above them."""
    heads = [" ".join(map(str, name)) if isinstance(name, tuple) else str(name) for name in given.columns]
    cells = ([_cell(value) for value in row] for row in given.itertuples(index=False, name=None))
    rows = [Row(_HEAD, heads), *filled(Row(number, row) for number, row in enumerate(cells, 1))]
    layout = find_layout(rows, columns, load_kind, lambda cell: finite_in(cell) is not None, _HEAD)
    known = {str(name): value for name, value in given.attrs.items() if word_of(str(name))[0] is not None and value is not None}
    lead = leading_lines(Row(_HEAD, [name, value]) for name, value in known.items())
    lines = {word: line._replace(value=typed(line.value)) for word, line in lead.lines.items()}
    return table_of(source_of(given), rows, layout, Lead(lines), lambda cell: cell)


def source_of(given: Any) -> str:
    """What a frame is called: by the `source` in its attrs."""
    return one_line(given.attrs.get("source", NAME))


def _cell(value: Any) -> Any:
    """A cell of a sheet: what is missing in a frame is blank there."""
    try:
        missing = value is None or bool(value != value)
    except TypeError:  # pandas' own sign for what is missing has no truth
        missing = True
    except ValueError:  # a cell that holds a list of its own
        missing = False
    return None if missing else value


def frame_of(trial: Trial) -> Any:
    """A row for each reading; the units and the setup are in the attrs."""
    columns: dict[str, Any] = {
        field.name: [getattr(reading, field.name) for reading in trial.readings] for field in fields(Reading)
    }
    for word in (*OWN, "equivalent_rpm", "removal_ratio"):  # most trials change the work rpm alone
        if all(value is None for value in columns[word]):
            del columns[word]
    if trial.depth_given:
        columns["grit_depth"] = columns["depth"]  # by these names they are read back
    if trial.load_kind not in LOAD_KINDS:
        columns["specific_energy"] = columns["energy"]
    columns["use"] = ["no" if reading.kind == EXCLUDED else "yes" for reading in trial.readings]
    attributes: dict[str, Any] = dict(source=trial.source, depth_unit=trial.depth_unit, energy_unit=trial.energy_unit)
    if trial.load_kind in LOAD_KINDS:
        attributes["load_kind"] = trial.load_kind
    attributes.update((word, trial.given.values[word]) for word in _KEPT if word in trial.given.sources)
    setup = asdict(trial.setup) if trial.setup else setup_from(trial.given.words)[0]  # what rows may have of their own goes by it
    attributes.update((word, value) for word, value in setup.items() if value is not None)
    return frame(columns, **attributes)
