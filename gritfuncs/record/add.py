"""A knee that was found, added to the record of the shop: a row in its file, all else in it as it was, with a backup."""

from __future__ import annotations

import datetime
import io
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..files import check_new, replace_with_backup
from ..knee import RecordedKnee
from ..refused import Refused, Unusable
from ..sheets.save import save_workbook
from ..spreadsheets.constant_cells import with_constants
from ..spreadsheets.evaluate import stored_values
from ..spreadsheets.formula_text import with_values
from ..spreadsheets.package import Package, packed, read_package, sheet_parts
from ..spreadsheets.stored_cells import defined_names
from ..spreadsheets.workbook_part import compute_on_load
from ..trial import Trial
from ..trial.readings import MICROMETRE
from ..trial.rows import one_line
from ..trial.setup_file import ENTRY_TEXTS
from ..values import is_blank
from ..workbooks import knee_record
from ..workbooks.blocks.record import COLUMNS, UNITS
from ..workbooks.blocks.record_setups import SETUP_COLUMNS
from .entries import Area, Entry, Record, read_record, record_in, side_word

_DIGITS = 6  # significant ones; a trial knows fewer


@dataclass(frozen=True)
class Added:
    """What `add` did."""

    path: Path
    entry: Entry
    backup: str | None  # None where the file is new
    remarks: tuple[str, ...]


def add(path: Path, trial: Trial, key: str, texts: Mapping[str, Any], day: datetime.date | None = None) -> Added:
    """Add the knee of a trial to the record at a path, which is made where it is not there.

    texts : what the trial does not say, by the names of the columns; blank where nobody said it
    day : of the trial; without it that which a trial.xlsx states, else today

    ValueError in one line where the trial has no knee to set a machine by, where a column that must be filled in is not, where
    the key is taken or the record full, and where the file cannot be written; then everything is as it was.
    """
    values, setup = _values(trial, key, texts, day), _setup(trial, key)
    if os.path.lexists(path):
        return _append(path, key, values, setup)
    row, setup_row = tuple(values[column.name] for column in COLUMNS), tuple(setup[column.name] for column in SETUP_COLUMNS)
    check_new(path, ".xlsx")
    made = dict(title="Record of knees", records=(row,), setups=(setup_row,), lookup_key=values["key"])
    save_workbook(knee_record.build(made), path)
    return Added(path, read_record(path).entry(key), None, ())


def _values(trial: Trial, key: str, texts: Mapping[str, Any], day: datetime.date | None) -> dict[str, Any]:
    """The row of the trial, by the names of the columns."""
    if is_blank(key) or one_line(key) != key.strip() or len(key) > 60:
        raise Refused("key", "be a short text in one line", repr(one_line(key, 70)))
    knee = trial.knee
    if knee.knee is None:
        raise Unusable(f"not added: the verdict is {knee.verdict}; {knee.advice or '; '.join(knee.reasons)}", (trial.source,))
    if trial.knee_rpm is None and trial.damage:
        rows = ", ".join(f"row {row}: {one_line(words, 40)}" for row, words in trial.damage[:3])
        raise Unusable(f"not added: damage was seen ({rows}), so its knee is none to set a machine by", (trial.source,))
    if trial.setup is None or trial.depth_unit != MICROMETRE:
        lacking = ", ".join(trial.given.missing()) or "grit_density, shape_ratio"
        hint = "gritfuncs setup --new writes a file for --setup"
        raise Refused(
            "setup", "be complete: a knee in µm means a depth only with its C and r", f"no {lacking}", (trial.source,), hint
        )
    recorded = RecordedKnee.of(knee, trial.depths)
    level = knee.level if trial.energy_unit == "J/mm³" else None
    said = {name: trial.given.words.get(name) for name in (*ENTRY_TEXTS, "concentration", "designation", "grit_size")}
    said_day = trial.given.words.get("date")
    grit = said.pop("designation") or said.pop("grit_size", None)
    found = {
        **said,
        "grit": grit if isinstance(grit, str) or grit is None else f"{grit:g} µm",
        **{name: text for name, text in texts.items() if not is_blank(text)},
        "key": key.strip(),
        "date": day or said_day or datetime.date.today(),
        "knee": knee.knee,
        "low": knee.low,
        "high": knee.high,
        "level": level,
        "density": trial.setup.grit_density,
        "ratio": trial.setup.shape_ratio,
        "scatter": 100 * recorded.noise,
        "degrees_of_freedom": recorded.noise_freedom,
        "steepness": recorded.steepness,
        "shallowest": recorded.shallowest,
        "deepest": recorded.deepest,
        "units": UNITS[0],
    }
    missing = [column.name for column in COLUMNS if column.required and is_blank(found.get(column.name))]
    if missing:
        hint = " ".join(f'--{name} "..."' for name in missing)
        if "grit" in missing:
            hint += "; in the file grit is grit_size or designation"
        raise Refused(", ".join(missing), "be given, as an option or in the file of --setup", "blank", hint=f"add {hint}")
    return {column.name: _rounded(found.get(column.name)) for column in COLUMNS}


def _setup(trial: Trial, key: str) -> dict[str, Any]:
    """The row of the sheet Setups."""
    words = trial.given.words
    found = {column.name: words.number(column.name) for column in SETUP_COLUMNS if column.quantity}
    found.update({name: value for name, value in vars(trial.setup).items() if name in found})
    found.update(key=key.strip(), side=side_word(trial.setup.side), nominal_rpm=trial.nominal_rpm)
    found.update({name: value for name, value in vars(trial.limits).items() if value is not None})
    if trial.load_kind == "power" and found["idle_power"] is None:
        idle = {reading.idle for reading in trial.used}
        found["idle_power"] = (idle.pop() or None) if len(idle) == 1 else None  # 0 where none was taken off
    return {column.name: _rounded(found.get(column.name)) for column in SETUP_COLUMNS}


def _rounded(value: Any) -> Any:
    return float(f"{value:.{_DIGITS}g}") if isinstance(value, float) else value


def _append(path: Path, key: str, values: Mapping[str, Any], setup: Mapping[str, Any]) -> Added:
    _refuse_open(path)
    was = _content(path)
    record = read_record(path)
    if any(entry.key.casefold() == values["key"].casefold() for entry in record.entries):
        free = next(f"{values['key']}-{number}" for number in range(2, 1000) if _is_free(record, f"{values['key']}-{number}"))
        raise Refused(
            "key", "be one that the record has not yet", repr(values["key"]), (record.name,), f"choose another: --key {free}"
        )
    remarks = [
        f"{record.name} has no column {name}: what the trial says of it is not kept there."
        for name, value in values.items()
        if name not in record.columns and value is not None
    ]
    _put(record, record.columns, {**values, "date": record.number_of(values["date"])})
    if record.setups:
        _put(record, record.setups, setup)
    else:
        remarks.append(f"{record.name} has no sheet Setups: wheel, part and limits of the trial are not kept there.")
    remarks += _compute(record)

    def check(temporary: str) -> None:
        written = record_in(read_package(temporary, record.name)).entry(values["key"])
        kept = {name: value for name, value in values.items() if name in record.columns}
        if {name: written.values[name] for name in kept} != {name: _stored(value) for name, value in kept.items()}:
            raise Unusable("cannot be added to: the new row does not read back as it was written", (record.name,))

    backup = replace_with_backup(path, packed(record.package), was, check)
    return Added(path, read_record(path).entry(key), backup, tuple(remarks))


def _stored(value: Any) -> Any:
    return float(value) if isinstance(value, int) else value


def _is_free(record: Record, key: str) -> bool:
    return all(entry.key.casefold() != key.casefold() for entry in record.entries)


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise Unusable(f"cannot be read ({error.strerror or error})", (str(path),)) from None


def _refuse_open(path: Path) -> None:
    """Refused while a spreadsheet program has the file open: it would write over the new row."""
    for name in (f".~lock.{path.name}#", f"~${path.name}"):
        if (path.parent / name).exists():
            raise Refused("", "not be open in another program", f"its lock file {name}", (str(path),), "close it there first")


def _put(record: Record, areas: Mapping[str, Area], values: Mapping[str, Any]) -> None:
    """Write the values into the first free row of a table."""
    place = record.free_place(areas)
    first = next(iter(areas.values()))
    if place is None:
        most = first.bottom - first.top + 1
        raise Refused(
            "", f"have a free row of its {most}", "none", (record.name,), "delete old rows, or start another with --file"
        )
    filled = {name: value for name, value in values.items() if name in areas and value is not None}
    above = record.cells[first.sheet].get(first.top, {})
    styles = {areas[name].address(place): above[areas[name].column].style for name in filled if areas[name].column in above}
    part = sheet_parts(record.package)[first.sheet]
    cells = {areas[name].address(place): value for name, value in filled.items()}
    try:
        record.package.put(part, with_constants(record.package.data(part), cells, styles))
    except ValueError as error:
        raise record.package.damaged(f"part {part}: {error}") from None


def _compute(record: Record) -> list[str]:
    """Give the cells with formulas their values, as far as they are known here; a spreadsheet program computes all on opening."""
    package = record.package
    ours = {area.sheet for area in (*record.columns.values(), *record.setups.values())} | _named_sheets(package)
    values = stored_values(io.BytesIO(packed(package)), ours)
    compute_on_load(package)
    if values is None:
        return [f"{record.name}: its formulas are computed when a spreadsheet program opens it."]
    for sheet, part in sheet_parts(package).items():
        package.put(part, with_values(package.data(part), values.get(sheet, {})))
    return []


def _named_sheets(package: Package) -> set[str]:
    """The sheets with cells that are named as this project's are."""
    titles = sheet_parts(package)
    names = defined_names(package).get(None, {})
    meanings = [meaning for name, meaning in names.items() if name.startswith(("IN_", "OUT_"))]
    return {title for title in titles for meaning in meanings if meaning.startswith((f"{title}!", f"'{title}'!"))}
