"""One reading of a trial, and the rule by which a row of a table is used, excluded or left out.

The trial workbook judges its rows by the same words in the same order.  Standard library only.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from ..quantities import QUANTITIES
from ..values import NO_DAMAGE_WORDS, finite_in, is_blank, word_in, yes_or_no

USED = "used"
SAME_AS = "used, same as row {}"
BLANK = "blank"
EXCLUDED = "excluded"
LEFT_OUT = "left out: {}"
USE_UNCLEAR = LEFT_OUT.format("use? must be yes or no")
IS_BLANK = LEFT_OUT.format("{} is blank")
NOT_A_NUMBER = LEFT_OUT.format("{} is not a number")
NOT_POSITIVE = LEFT_OUT.format("{} is not > 0")
IDLE_MISSING = LEFT_OUT.format("idle is missing, other rows have it")
NOT_ABOVE_IDLE = LEFT_OUT.format("load is not above idle")

# What a row may have a value of its own for, in the place of the setup's.
SETTINGS = ("infeed_rate", "wheel_speed", "wheel_rpm", "work_diameter", "wheel_diameter")
CHANGED = 0.01  # of a value; less from reading to reading is the same setting, as meters are read
RPM, LOAD, IDLE, DEPTH, ENERGY = "rpm", "load", "idle", "grit depth", "specific energy"
MICROMETRE = QUANTITIES["grit_depth"].unit


class Unreadable(NamedTuple):
    """A cell that holds something, but nothing that could be a value; `why` says what, `day` which day a date is."""

    why: str
    day: str = ""  # as 2026-11-05


class Entry(NamedTuple):
    """A row as it stands in the table: numbers, texts, None for a blank cell, or Unreadable."""

    row: int
    work_rpm: Any = None
    load: Any = None
    idle: Any = None
    use: Any = None
    note: Any = None
    grit_depth: Any = None
    specific_energy: Any = None
    damage: Any = None
    settings: Mapping[str, Any] | None = None  # by the words of SETTINGS, where the table has columns of them that change


@dataclass(frozen=True)
class Reading:
    """One row of a trial and what became of it.

    Numbers that the row does not hold are None; `idle` of a used row is the idle reading that was taken off its load.
    """

    row: int  # number in the file, or in the readings table of the trial workbook, counted from 1
    work_rpm: float | None  # 1/min
    load: float | None  # kW, A or the unit of the load meter
    idle: float | None  # in the unit of load
    status: str  # one of the words above
    note: str = ""
    depth: float | None = None  # µm or relative; of a used row, and of one with damage where it is known
    energy: float | None = None  # in the trial's energy unit, of a used row
    damage: str = ""  # burn, crack or wheel breakdown, as noted; "" for none
    infeed_rate: float | None = None  # mm/min on the radius, where the row has its own; so the next three
    wheel_speed: float | None = None  # m/s
    work_diameter: float | None = None  # mm
    wheel_diameter: float | None = None  # mm
    equivalent_rpm: float | None = None  # 1/min that give the depth under the setup's conditions, of a row with its own
    removal_ratio: float | None = None  # removal rate over the setup's, of a row with its own

    @property
    def is_used(self) -> bool:
        return self.status.startswith(USED)

    @property
    def rpm(self) -> float | None:
        """The work rpm that counts [1/min]: that under the setup's conditions."""
        return self.work_rpm if self.equivalent_rpm is None else self.equivalent_rpm

    @property
    def kind(self) -> str:
        """The status in one of four words: used, excluded, left out, blank."""
        return self.status.split(":")[0].split(",")[0]


def judge(
    entries: Iterable[Entry],
    *,
    idle: float | None = None,
    depth_given: bool = False,
    energy_given: bool = False,
    needed: Collection[str] = (),
) -> list[Reading]:
    """Judge the rows of a table, in their order; nothing is dropped and nothing is used without a word.

    Parameters
    ----------
    entries : the rows
    idle : idle reading for rows without their own, in the unit of the loads; None where there is none
    depth_given : the table has grit depths [µm]; they count in place of the rpm
    energy_given : the table has specific energies [J/mm³]; they count in place of the load, and idle plays no part
    needed : words of SETTINGS for which nothing stands in for a blank cell
    """
    entries = list(entries)
    across, along = ("grit_depth", DEPTH) if depth_given else ("work_rpm", RPM)
    upward, up = ("specific_energy", ENERGY) if energy_given else ("load", LOAD)
    idle_expected = (
        not energy_given
        and idle is None
        and any(finite_in(entry.idle) is not None for entry in entries if not _set_aside(entry, across, upward))
    )
    earlier: dict[tuple[Any, ...], int] = {}
    readings = []
    for entry in entries:
        x, y, own_idle = (finite_in(getattr(entry, name)) for name in (across, upward, "idle"))
        taken_off = 0.0 if idle is None else idle
        if own_idle is not None:
            taken_off = own_idle
        status = (
            _set_aside(entry, across, upward)
            or _use_doubt(entry)
            or _number_doubt(getattr(entry, across), along)
            or (NOT_POSITIVE.format(along) if x <= 0 else "")
            or _settings_doubt(entry.settings or {}, needed)
            or _number_doubt(getattr(entry, upward), up)
        )
        if energy_given:
            status = status or (NOT_POSITIVE.format(up) if y <= 0 else USED)
        else:
            status = status or _idle_doubt(entry.idle, idle_expected) or (NOT_ABOVE_IDLE if y <= taken_off else USED)
        used, damage = status == USED, damage_in(entry.damage)
        if used:
            settings = tuple((word, finite_in(value)) for word, value in (entry.settings or {}).items())
            key = ((x, y) if energy_given else (x, y, taken_off)) + settings
            if key in earlier:
                status = SAME_AS.format(earlier[key])
            earlier.setdefault(key, entry.row)
        readings.append(
            Reading(
                entry.row,
                finite_in(entry.work_rpm),
                finite_in(entry.load),
                taken_off if used and not energy_given else own_idle,
                status,
                "" if is_blank(entry.note) or isinstance(entry.note, Unreadable) else str(entry.note).strip(),
                x if depth_given and (used or damage and (x or 0) > 0) else None,
                y if used and energy_given else None,
                damage,
            )
        )
    return readings


def damage_in(value: Any) -> str:
    """What a cell says of damage; "" where it is blank or says that there was none."""
    if is_blank(value) or word_in(value).replace(".", "").replace("!", "").strip() in NO_DAMAGE_WORDS:
        return ""
    return value.why if isinstance(value, Unreadable) else str(value).strip()


def _set_aside(entry: Entry, across: str, upward: str) -> str:
    if is_blank(getattr(entry, across)) and is_blank(getattr(entry, upward)):
        return BLANK
    return EXCLUDED if yes_or_no(entry.use) is False else ""


def _use_doubt(entry: Entry) -> str:
    return "" if is_blank(entry.use) or yes_or_no(entry.use) is not None else USE_UNCLEAR


def _number_doubt(value: Any, what: str) -> str:
    if is_blank(value):
        return IS_BLANK.format(what)
    if finite_in(value) is not None:
        return ""
    return NOT_A_NUMBER.format(what) + (f" ({value.why})" if isinstance(value, Unreadable) else "")


def _settings_doubt(settings: Mapping[str, Any], needed: Collection[str]) -> str:
    for word, value in settings.items():
        name, number = word.replace("_", " "), finite_in(value)
        if not is_blank(value) or word in needed:
            doubt = _number_doubt(value, name) or (NOT_POSITIVE.format(name) if number is not None and number <= 0 else "")
            if doubt:
                return doubt
    return ""


def _idle_doubt(value: Any, expected: bool) -> str:
    if is_blank(value):
        return IDLE_MISSING if expected else ""
    return _number_doubt(value, IDLE)
