"""The entries of a record of knees, knee_record.xlsx or any workbook with its names, and what each says of a setup."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

from openpyxl.utils import get_column_letter
from openpyxl.utils.cell import range_boundaries
from openpyxl.utils.datetime import MAC_EPOCH, WINDOWS_EPOCH, from_excel, to_excel
from openpyxl.workbook.defined_name import DefinedName

from ..formulas import catalogue
from ..knee import PooledNoise, RecordedKnee, machine_noise
from ..quantities import SIDE_WORDS
from ..refused import Refused
from ..sheets.checks import OK
from ..spreadsheets.package import Package, read_package, sheet_parts
from ..spreadsheets.stored_cells import StoredCell, defined_names, shared_strings, stored_rows
from ..trial.given import Around, Given
from ..trial.rows import one_line
from ..values import finite_in, is_blank
from ..workbooks.blocks.record import COLUMNS, DAYS_PER_MONTH, DUPLICATE, FUTURE, INCOMPLETE, OUTDATED
from ..workbooks.blocks.record_setups import SETUP_COLUMNS

USABLE = (OK, OUTDATED)
MOST_ROWS = 5000  # of a record; its sheets have 60


class Area(NamedTuple):
    """The cells of a column that has a name."""

    sheet: str
    column: int
    top: int
    bottom: int

    def address(self, place: int) -> str:
        return f"{get_column_letter(self.column)}{self.top + place}"


@dataclass(frozen=True)
class Entry:
    """One knee of the record."""

    key: str
    status: str  # ok, or why it may not be used
    values: Mapping[str, Any]  # by the names of the columns; None where nothing stands
    setup: Mapping[str, Any]  # what the sheet Setups says of its trial; empty where it says nothing
    pooled: PooledNoise | None = None  # scatter of its machine, from the entries that may be used

    @property
    def wrong(self) -> str:
        """What is missing or wrong, in the names of the columns; "" where nothing is."""
        return " ".join(_missing(self.values))

    def as_dict(self) -> dict[str, Any]:
        """Everything, ready for JSON."""
        day = self.values.get("date")
        values = {**self.values, "date": day.isoformat() if isinstance(day, datetime.date) else day}
        return {"key": self.key, "status": self.status, **values, "setup": dict(self.setup)}

    def refuse_unusable(self, place: str) -> None:
        """Refused where the entry may not be used."""
        if self.status not in USABLE:
            why = f": {self.wrong}" if self.status == INCOMPLETE else ""
            raise Refused(f"the entry {self.key}", "be one that may be used", self.status + why, (place,))

    def around(self) -> Around:
        """What the entry says of a setup: a file may say otherwise, but for C and r, with which alone the knee is a depth."""
        values = {column.name: self.setup.get(column.name) for column in SETUP_COLUMNS[1:]}
        values.update(
            {name: self.values.get(name) for name in ("wheel", "bond", "material", "machine", "coolant", "concentration")}
        )
        values["grit_size"] = self._grit()
        if self.pooled is not None and self.pooled.known is not None:
            values["noise"] = 100 * self.pooled.known
        if values.get("infeed_rate") is not None:
            values["infeed_basis"] = "radius"
        return Around(
            self._said(values), self._said({"grit_density": self.values["density"], "shape_ratio": self.values["ratio"]})
        )

    def _said(self, values: Mapping[str, Any]) -> Given:
        given = {word: value for word, value in values.items() if not is_blank(value)}
        return Given.in_(f"record {self.key}", given, lambda word: f"record {self.key}: {word}" if word in given else word)

    def _grit(self) -> Any:
        """The designation or size, where it is one."""
        grit = self.values.get("grit")
        try:
            return grit if finite_in(grit) is not None or catalogue["mean_grit_size"].call(grit) else None
        except Refused:
            return None

    def recorded_knee(self, noise: float | None, otherwise_steep: float) -> RecordedKnee:
        """The knee as `confirm_knee` takes it.

        noise : scatter as a share, in place of the record's; `otherwise_steep` is the steepness where the record says none
        """
        scatter, freedom, steepness = (self.values.get(name) for name in ("scatter", "degrees_of_freedom", "steepness"))
        noise = scatter / 100 if noise is None and scatter is not None else noise
        if noise is None:
            hint = "type it into its column, or give --noise-percent"
            raise Refused(f"the entry {self.key}", "have the scatter of its trial in %", "blank", hint=hint)
        more = {name: self.values.get(name) for name in ("shallowest", "deepest")}
        if freedom is not None:
            more["noise_freedom"] = freedom
        knee, low, high = (self.values[name] for name in ("knee", "low", "high"))
        return RecordedKnee(knee, low, high, steepness or otherwise_steep, noise, **more)


@dataclass(frozen=True)
class Record:
    """A record of knees as it stands in its file."""

    package: Package
    name: str
    columns: Mapping[str, Area]  # of the record, those that the file has
    setups: Mapping[str, Area]  # of the sheet Setups; none in an older file
    cells: Mapping[str, Mapping[int, Mapping[int, StoredCell]]]  # of these sheets, by row and column

    @cached_property
    def entries(self) -> tuple[Entry, ...]:
        """The rows that hold anything, in their order."""
        rows = [values for values in self._rows(self.columns) if any(not is_blank(value) for value in values.values())]
        keys = [_folded(values.get("key")) for values in rows]
        setups: dict[str, Mapping[str, Any]] = {}
        for setup in self._rows(self.setups):
            if not is_blank(setup.get("key")):
                setups.setdefault(_folded(setup["key"]), {name: value for name, value in setup.items() if name != "key"})
        today, months = self._named("in_today"), self._named("in_months")
        day = self._day(today) or max((day for values in rows if (day := _date(values))), default=None)
        found = []
        for key, values in zip(keys, rows):
            status = OK
            age = (day - _date(values)).days / DAYS_PER_MONTH if day and _date(values) else 0
            if key and keys.count(key) > 1:
                status = DUPLICATE
            elif _missing(values):
                status = INCOMPLETE
            elif age < 0:
                status = FUTURE
            elif finite_in(months) is not None and age > months:
                status = OUTDATED
            found.append(Entry(one_line(values.get("key") or ""), status, values, setups.get(key, {}) if key else {}))
        return tuple(found)

    def entry(self, key: str) -> Entry:
        """The entry of a key, capitals and outer spaces aside; Refused where there is none, or several."""
        found = [entry for entry in self.entries if _folded(entry.key) == _folded(key)]
        if not found:
            keys = ", ".join(dict.fromkeys(entry.key for entry in self.entries if entry.key)) or "none yet"
            raise Refused("record", f"be a key of {self.name}: {one_line(keys, 200)}", repr(one_line(key, 40)))
        if len(found) > 1:
            raise Refused(f"the entry {key}", "be the only one with this key", f"{len(found)} of them", (self.name,))
        usable = [entry.values for entry in self.entries if entry.status in USABLE]
        return replace(found[0], pooled=machine_noise(usable, found[0].values.get("machine") or ""))

    def free_place(self, areas: Mapping[str, Area]) -> int | None:
        """The first row of a table in which nothing stands, counted from 0; None where it is full."""
        first = next(iter(areas.values()))
        for place in range(first.bottom - first.top + 1):
            cells = self.cells[first.sheet].get(first.top + place, {})
            if not any(area.column in cells for area in areas.values()):
                return place
        return None

    @property
    def epoch(self) -> datetime.datetime:
        """The day from which the file counts days."""
        counted = (element.get("date1904") for element in self.package.elements(self.package.workbook, "workbookPr"))
        return MAC_EPOCH if any(said in ("1", "true") for said in counted) else WINDOWS_EPOCH

    def number_of(self, day: datetime.date) -> float:
        return float(to_excel(day, self.epoch))

    def _rows(self, areas: Mapping[str, Area]) -> Iterator[dict[str, Any]]:
        if not areas:
            return
        first = next(iter(areas.values()))
        for place in range(first.bottom - first.top + 1):
            cells = self.cells[first.sheet].get(first.top + place, {})
            values = {name: cells[area.column].value if area.column in cells else None for name, area in areas.items()}
            if "date" in values:
                values["date"] = self._day(values["date"]) or values["date"]
            yield values

    def _day(self, number: Any) -> datetime.date | None:
        if isinstance(number, bool) or not isinstance(number, float) or not 36526 <= number <= 73050:
            return None
        return from_excel(number, self.epoch).date()

    def _named(self, name: str) -> Any:
        area = _area(defined_names(self.package).get(None, {}).get(name.upper(), ""))
        if area is None or area.sheet not in sheet_parts(self.package):
            return None
        for number, cells in stored_rows(self.package, sheet_parts(self.package)[area.sheet], shared_strings(self.package)):
            if number == area.top:
                return cells[area.column].value if area.column in cells else None
        return None


def read_record(path: Path) -> Record:
    """The record in a file; ValueError in one line that begins with its name."""
    if not path.exists():
        raise Refused("", "be a file that exists", place=(one_line(path.name),), hint="gritfuncs record add makes one")
    return record_in(read_package(path, one_line(path.name)))


def record_in(package: Package) -> Record:
    """The record that a package holds."""
    name, names = Path(str(package.path)).name, defined_names(package).get(None, {})
    parts, strings = sheet_parts(package), shared_strings(package)
    columns = _areas(names, "in_record_", [column.name for column in COLUMNS], parts)
    if "key" not in columns:
        hint = "gritfuncs record add makes one where there is none"
        raise Refused("", "be a record of knees, with the names in_record_... of its columns", "another workbook", (name,), hint)
    needed = [column.name for column in COLUMNS if column.required and column.name not in columns]
    if needed:
        raise Refused("", f"have the columns {', '.join(needed)}, by the names in_record_...", "none of these names", (name,))
    setups = _areas(names, "in_setup_", [column.name for column in SETUP_COLUMNS], parts)
    sheets = {area.sheet for area in (*columns.values(), *setups.values())}
    cells = {sheet: {row.number: row.cells for row in stored_rows(package, parts[sheet], strings)} for sheet in sheets}
    return Record(package, name, columns, setups if "key" in setups else {}, cells)


def _areas(names: Mapping[str, str], start: str, columns: list[str], parts: Mapping[str, str]) -> dict[str, Area]:
    found = {column: _area(names.get(f"{start}{column}".upper(), "")) for column in columns}
    known = {column: area for column, area in found.items() if area is not None and area.sheet in parts}
    first = known.get("key")
    return {column: area for column, area in known.items() if first and area._replace(column=0) == first._replace(column=0)}


def _area(meaning: str) -> Area | None:
    """The part of one column that a name stands for."""
    try:
        ((sheet, where),) = DefinedName("x", attr_text=meaning).destinations
        left, top, right, bottom = range_boundaries(where)
    except Exception:  # noqa: BLE001 - a name may hold nothing, several ranges or any formula
        return None
    if None in (left, top, bottom) or left != right or bottom - top >= MOST_ROWS:
        return None
    return Area(sheet, left, top, bottom)


def _folded(key: Any) -> str:
    return " ".join(str("" if key is None else key).split()).casefold()


def _date(values: Mapping[str, Any]) -> datetime.date | None:
    day = values.get("date")
    return day if isinstance(day, datetime.date) else None


def _missing(values: Mapping[str, Any]) -> list[str]:
    """The labels of the columns whose value is missing or wrong, as the workbook judges them."""
    found = []
    for column in COLUMNS:
        value = values.get(column.name)
        if column.choices:
            fits = value is None or isinstance(value, str) and value.strip().lower() in ("", *column.choices)
        elif column.quantity is None:
            fits = isinstance(value, (str, float)) and not is_blank(value) or value is None and not column.required
        elif column.name == "date":
            fits = isinstance(value, datetime.date)
        else:
            number = finite_in(value)
            fits = not column.required and value is None
            if number is not None and not isinstance(value, (bool, str)):
                limited = replace(column.quantity, high=column.quantity.high or column.quantity.possible)
                fits = bool(limited.allows(number))
        if not fits:
            found.append(column.label)
    low, knee, high = (finite_in(values.get(name)) for name in ("low", "knee", "high"))
    if None not in (low, knee, high) and not low <= knee <= high:
        found.append("interval")
    shallowest, deepest = (finite_in(values.get(name)) for name in ("shallowest", "deepest"))
    if knee is not None and (shallowest or 0) > knee or None not in (knee, deepest) and deepest < knee:
        found.append("depths read")
    return found


def side_word(number: Any) -> str | None:
    """external, flat or internal."""
    return next((word for word, side in SIDE_WORDS.items() if side == number), None)
