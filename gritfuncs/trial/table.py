"""Table: what a file of any kind holds, before anything is computed from it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Callable, NamedTuple

from ..quantities import shown
from ..refused import Refused
from .headings import SHOWN_UNITS, UNITS, plain
from .layout import Layout
from .readings import Entry
from .rows import Row
from .words import LOAD_KINDS, Line, Words

RELATIVE = "relative"  # kind of load of any unit; unit of depths and energies that are only in proportion


class Table(NamedTuple):
    """The rows of a file, and the words that stand beside them."""

    source: str
    entries: list[Entry]
    words: Words
    load_kind: str  # as the file has it
    depth_given: bool
    energy_given: bool
    remarks: tuple[str, ...]
    setup_required: bool = False


def chosen_kind(found: str, wanted: str | None) -> str:
    """The wanted kind of load, unless the column that was found holds something else."""
    if wanted is None or wanted == found:
        return found
    if found == "specific_energy":
        raise Refused("load_kind", "be left out where specific energies are given", shown(wanted))
    if RELATIVE not in (wanted, found):
        raise Refused("load_kind", f"be {found} or {RELATIVE} for this file", shown(wanted))
    return wanted


def table_of(source: str, rows: Sequence[Row], layout: Layout, lines: dict[str, Line], value: Callable[[str, Any], Any]) -> Table:
    """The table that a layout finds in the rows; `value` turns the cell of a role into what it means."""
    words = Words({word: line.value for word, line in lines.items()})
    kind = "specific_energy" if layout.load is None else {"load": RELATIVE}.get(layout.load, layout.load)
    kind = chosen_kind(kind, words.choice("load_kind", LOAD_KINDS))
    idle_unit = lines["idle"].unit if "idle" in lines else ""
    if idle_unit and kind in SHOWN_UNITS and plain(idle_unit) not in UNITS[kind]:
        raise Refused("idle", f"be in {SHOWN_UNITS[kind]}", f"{idle_unit!r:.40}")
    read = ", ".join(f"{role} from '{heading}'" for role, heading in layout.headings.items())
    return Table(
        source,
        layout.entries(rows, value),
        words,
        kind,
        "grit_depth" in layout.columns,
        layout.load is None,
        (f"Columns read: {read}.",),
    )
