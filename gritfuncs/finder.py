"""Finding a function: every public function with what it takes and gives, by words, symbols and other names."""

from __future__ import annotations

from dataclasses import dataclass, field
from difflib import get_close_matches

from .formulas import catalogue
from .quantities import QUANTITIES
from .quantity import Quantity
from .registry import Formula, finds, phrases_of, same


@dataclass(frozen=True)
class Entry:
    """A public function as a list of functions shows it; `formula` is None for one that is no closed formula."""

    name: str
    title: str
    chapter: str
    cells: tuple[str, ...]  # its names in a cell
    takes: tuple[Quantity, ...]
    gives: tuple[Quantity, ...]
    also: tuple[str, ...] = ()
    formula: Formula | None = field(default=None, compare=False)

    @property
    def main_phrases(self) -> tuple[str, ...]:
        """What it is called, and what it gives."""
        return (self.name, self.title) + tuple(cell[len("GRIT_") :] for cell in self.cells) + self.also + phrases_of(self.gives)

    @property
    def phrases(self) -> tuple[str, ...]:
        return self.main_phrases + phrases_of(self.takes)


def _tool(name: str, title: str, chapter: str, cells: str, takes: str, gives: str, *also: str) -> Entry:
    quantities = [tuple(QUANTITIES[word] for word in words.split()) for words in (takes, gives)]
    return Entry(name, title, chapter, tuple(cells.split()), *quantities, also=also)


_SETUP = "wheel_speed wheel_diameter side grit_density shape_ratio"
TOOLS = (
    _tool(
        "read_trial",
        "Trial read from a workbook or text file, each row judged",
        "trial",
        "",
        "work_rpm power idle_power",
        "grit_depth specific_energy",
        "readings",
        "file",
        "csv",
        "import",
    ),
    _tool(
        "read_log",
        "Parts in a log of spindle power against time, with a reading for each",
        "trial",
        "",
        "power",
        "net_power idle_power",
        "power log",
        "logger",
        "time series",
        "trace",
    ),
    _tool(
        "find_knee",
        "Knee of a trial with its interval and verdict",
        "knee",
        "GRIT_KNEE GRIT_KNEE_LOW GRIT_KNEE_HIGH GRIT_KNEE_LEVEL GRIT_KNEE_VERDICT GRIT_KNEE_REPORT",
        "grit_depth specific_energy",
        "grit_depth",
        "corner",
        "hinge",
        "level",
        "threshold",
    ),
    _tool(
        "next_reading",
        "Which work rpm to try next in a trial, or that it can stop",
        "knee",
        "GRIT_NEXT_RPM",
        "grit_depth specific_energy",
        "work_rpm",
        "sequential",
        "stopping",
    ),
    _tool(
        "confirm_knee",
        "Whether a recorded knee still holds on a new part or after dressing, or which work rpm to read to know it",
        "knee",
        "",
        "grit_depth specific_energy",
        "work_rpm",
        "record",
        "check",
        "dressing",
        "changed",
    ),
    _tool(
        "compare_trials",
        "Differences between the knees and levels of trials, with intervals, and whether they can be the same wheel behaviour",
        "knee",
        "",
        "grit_depth specific_energy",
        "grit_depth specific_energy",
        "wheels side by side",
        "drift",
        "difference",
    ),
    _tool("plan_trial", "Rpm steps of a trial in run order", "planning", "", "work_rpm", "work_rpm", "ladder", "trial plan"),
    _tool(
        "speed_table",
        "Work rpm for part diameters by infeed rates, under limits",
        "planning",
        "",
        f"grit_depth work_diameter infeed_rate {_SETUP}",
        "work_rpm",
        "rpm table",
        "speeds and feeds",
    ),
    _tool(
        "fastest_setup",
        "Highest infeed rate that holds a grit depth within all limits",
        "planning",
        "",
        f"grit_depth work_diameter {_SETUP}",
        "infeed_rate work_rpm",
        "cycle time",
        "shortest cycle",
        "highest feed",
    ),
)
ENTRIES: tuple[Entry, ...] = (
    tuple(
        Entry(record.name, record.title, record.chapter, (record.sheet_name,), record.arguments, (record.gives,), formula=record)
        for record in catalogue
    )
    + TOOLS
)


def search(words: str) -> tuple[tuple[Entry, ...], tuple[Entry, ...]]:
    """The functions that all the words find: those meant by name, or else by what they give; then those that take it."""
    found = [entry for entry in ENTRIES if finds(words, entry.phrases + entry.cells)]
    named = [entry for entry in found if words.strip().lower() in (name.lower() for name in (entry.name,) + entry.cells)]
    first = named or [entry for entry in found if finds(words, entry.main_phrases)]
    first.sort(key=lambda entry: (words not in entry.main_phrases, not any(same(words, phrase) for phrase in entry.main_phrases)))
    return tuple(first), tuple(entry for entry in found if entry not in first)


def nearest(words: str) -> tuple[str, ...]:
    """Up to three names that look most like the words."""
    names = {}
    for entry in ENTRIES:
        for phrase in entry.phrases:
            if phrase != entry.title:
                names.setdefault(phrase.lower(), phrase)
    return tuple(names[match] for match in get_close_matches(words.lower(), names, n=3, cutoff=0.7))
