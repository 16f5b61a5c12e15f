"""Reading a trial from a file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from numbers import Real
from pathlib import Path
from typing import Any, Callable, NamedTuple

from ..formulas import catalogue
from ..formulas.energy import line_power, net_power
from ..quantities import QUANTITIES, number_in, shown
from . import text_file, workbook_file
from .headings import SHOWN_UNITS, UNITS, plain
from .layout import Layout, NoTable, check_columns, find_layout
from .numbers import SIGN_NAMES, decimal_sign, looks_like_number, parse
from .readings import MICROMETRE, Entry, Reading, judge
from .result import RELATIVE, Trial
from .rows import Row, one_line
from .setup import Setup
from .words import LOAD_KINDS, OTHER_WORDS, QUANTITY_WORDS, Line, Words, leading_lines, setup_from

TRIAL_NAMES = ("in_readings", "in_load_kind")  # a workbook that has them is a trial workbook
NUMBER_ROLES = ("work_rpm", "power", "current", "load", "idle", "grit_depth", "specific_energy")
DENSITY_HINT = " (or grit size, concentration and active fraction)"


class Table(NamedTuple):
    """What a file holds, before anything is computed from it."""

    source: str
    entries: list[Entry]
    words: Words
    load_kind: str  # as the file has it
    depth_given: bool
    energy_given: bool
    remarks: tuple[str, ...]
    setup_required: bool = False


def read_trial(
    path: str | Path,
    *,
    sheet: str | None = None,
    columns: Mapping[str, str] | None = None,
    setup: Setup | None = None,
    load_kind: str | None = None,
    idle: float | None = None,
    noise: float | None = None,
) -> Trial:
    """Read the rows of a trial, judge each, and give what the knee needs.

    Parameters
    ----------
    path : a filled trial workbook; any other workbook (.xlsx, .xlsm); or a text file (.csv, .tsv, .txt) with comma,
        semicolon or tab between columns and decimal point or comma
    sheet : the sheet to read; needed where more than one has readings.  With sheet or columns a trial workbook is read
        like any other
    columns : where the columns are, {"work_rpm": "B", "power": "Spindle kW"}; keys are work_rpm [1/min] or grit_depth
        [µm]; one of power [kW], current [A], load [any unit], specific_energy [J/mm³]; idle, use, note.  One or two
        capital letters are a column letter, anything else is a heading in any case.  Without columns the headings are
        recognised: work rpm, power (kW), current (A), load meter (%), idle, use, note, grit depth (µm), specific energy
    setup : what stays the same in the trial; goes before the values in the file.  A text file or sheet gives them in
        lines above the headings, `wheel_diameter; 200; mm`, the names being those of Setup or wheel_rpm, grit_size,
        designation, concentration, active_fraction, volts, power_factor, marked_wheel_speed, infeed_basis, load_kind,
        idle, noise (in %).  Without a complete setup depths are relative
    load_kind : "power" [kW], "current" [A] or "relative" (any unit); goes before what the file says
    idle : idle reading, in the unit of the readings, for rows without their own; goes before the file's
    noise : reading-to-reading scatter as a share, > 0 and < 1 (0.02 = 2 %); goes before the file's

    Grit depths in the table count in place of the rpm, and specific energies in place of the load.  Hidden rows count
    like others; of a formula its stored value is read.  At most 500 filled rows.

    Raises
    ------
    ValueError
        One line that names the file: what must be different, and what it was.
    """
    try:
        path = Path(path)
    except TypeError:
        raise ValueError(f"path must be the name of a file (got {shown(path)})") from None
    try:
        _check_arguments(sheet, setup, load_kind)
        columns = None if columns is None else check_columns(columns)
        return _trial(_table(path, sheet, columns, load_kind), setup, load_kind, idle, noise)
    except OSError as error:
        raise ValueError(f"{one_line(path.name)}: must be a file that can be read ({error.strerror or error})") from None
    except ValueError as error:
        told = str(error)
        if told.startswith(f"{path}: "):  # what reads packages names the whole path
            told = told[len(f"{path}: ") :]
        raise ValueError(f"{one_line(path.name)}: {one_line(told)}") from None


def _check_arguments(sheet: Any, setup: Any, load_kind: Any) -> None:
    if sheet is not None and not isinstance(sheet, str):
        raise ValueError(f"sheet must be the name of a sheet (got {shown(sheet)})")
    if setup is not None and not isinstance(setup, Setup):
        raise ValueError(f"setup must be a Setup (got {shown(setup)})")
    if load_kind is not None and not (isinstance(load_kind, str) and load_kind in LOAD_KINDS):
        raise ValueError(f"load_kind must be {', '.join(LOAD_KINDS)} (got {shown(load_kind)})")


def _table(path: Path, sheet: str | None, columns: dict[str, str] | None, load_kind: str | None) -> Table:
    ending = path.suffix.lower()
    if path.is_dir():
        raise ValueError("must be a file, but it is a folder")
    if not path.exists():
        raise ValueError("must be a file that exists")
    if not path.is_file():  # a pipe or device, which may never end
        raise ValueError("must be a file (got something else under that name)")
    if ending in workbook_file.ENDINGS:
        book = workbook_file.Workbook(path)
        if sheet is None and columns is None and all(name in book.names for name in TRIAL_NAMES):
            return _trial_workbook(path, book)
        return _any_workbook(path, book, sheet, columns, load_kind)
    if ending in text_file.ENDINGS:
        if sheet is not None:
            raise ValueError(f"sheet must be left out for a text file (got {shown(sheet)})")
        return _text_table(path, columns, load_kind)
    raise ValueError(
        f"must end in {', '.join(workbook_file.ENDINGS + text_file.ENDINGS)}: save it as one of these "
        f"(got {ending or 'no ending'!r:.40})"
    )


def _text_table(path: Path, columns: dict[str, str] | None, load_kind: str | None) -> Table:
    text = text_file.read_text(path)
    problems = []
    for delimiter in text_file.DELIMITERS:
        try:
            rows = text_file.split(text, delimiter)
            layout = find_layout(rows, columns, load_kind, _number_text)
            break
        except ValueError as problem:
            problems.append(problem)
    else:
        raise max(problems, key=lambda problem: getattr(problem, "nearness", math.inf))
    lines = leading_lines(rows[: layout.start], delimiter)
    decimal = Words({word: line.value for word, line in lines.items()}).choice("decimal", tuple(SIGN_NAMES.values()))
    if decimal is None:
        written = [
            row.cell(layout.columns[role]) for row in rows[layout.start :] for role in NUMBER_ROLES if role in layout.columns
        ]
        written += [line.value for line in lines.values()]
        sign = decimal_sign([item for item in written if isinstance(item, str)], delimiter)
    else:
        sign = next(sign for sign, name in SIGN_NAMES.items() if name == decimal)

    def value(role: str, cell: Any) -> Any:
        number = parse(cell, sign) if isinstance(cell, str) and role in NUMBER_ROLES else None
        return cell if number is None else number

    numbered = {word: line._replace(value=value("power", line.value)) for word, line in lines.items()}
    return _table_from(one_line(path.name), rows, layout, numbered, value)


def _number_text(cell: Any) -> bool:
    return isinstance(cell, str) and looks_like_number(cell)


def _any_workbook(
    path: Path, book: workbook_file.Workbook, sheet: str | None, columns: dict[str, str] | None, load_kind: str | None
) -> Table:
    names = {name.lower(): name for name in book.sheets}
    if sheet is not None and sheet.lower() not in names:
        raise ValueError(f"sheet must be one of {', '.join(map(repr, book.sheets))} (got {shown(sheet)})")
    wanted = book.sheets if sheet is None else [names[sheet.lower()]]
    fitting, problems = [], [NoTable("must have a sheet with cells", -1)]
    for name in wanted:
        try:
            rows = book.rows(name)
            fitting.append((name, rows, find_layout(rows, columns, load_kind, _is_number)))
        except NoTable as problem:
            problems.append(problem)
    if not fitting:
        raise max(problems, key=lambda problem: problem.nearness)
    if len(fitting) > 1:
        both = " and ".join(repr(name) for name, _, _ in fitting[:2])
        raise ValueError(f"sheet must be chosen: {both} both have readings")
    name, rows, layout = fitting[0]
    return _table_from(
        f"{one_line(path.name)}, sheet {one_line(name)}",
        rows,
        layout,
        leading_lines(rows[: layout.start]),
        lambda role, cell: cell,
    )


def _is_number(cell: Any) -> bool:
    return isinstance(cell, Real) and not isinstance(cell, bool)


def _table_from(source: str, rows: list[Row], layout: Layout, lines: dict[str, Line], value: Callable[[str, Any], Any]) -> Table:
    words = Words({word: line.value for word, line in lines.items()})
    kind = "specific_energy" if layout.load is None else {"load": RELATIVE}.get(layout.load, layout.load)
    kind = _load_kind(kind, words.choice("load_kind", LOAD_KINDS))
    idle_unit = lines["idle"].unit if "idle" in lines else ""
    if idle_unit and kind in SHOWN_UNITS and plain(idle_unit) not in UNITS[kind]:
        raise ValueError(f"idle must be in {SHOWN_UNITS[kind]} (got {idle_unit!r:.40})")
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


def _trial_workbook(path: Path, book: workbook_file.Workbook) -> Table:
    cells = {word: book.named(f"in_{word}")[0][0] for word in QUANTITY_WORDS + OTHER_WORDS if f"in_{word}" in book.names}
    words = Words(cells, lambda word: f"in_{word}")
    rows = book.named("in_readings")
    if len(rows[0]) < 5:
        raise ValueError(f"in_readings must have five columns: work rpm, load, idle, use?, note (got {len(rows[0])})")
    entries = [Entry(number, *row[:5]) for number, row in enumerate(rows, 1)]
    kind = words.choice("load_kind", LOAD_KINDS)
    if kind is None:
        raise ValueError(f"in_load_kind must be {' or '.join(LOAD_KINDS)} (got blank)")
    if kind == "current":
        for word in ("volts", "power_factor"):
            if words.get(word) is None:
                raise ValueError(f"in_{word} must be given for current readings (got blank); without it choose relative")
    return Table(one_line(path.name), entries, words, kind, False, False, (), setup_required=True)


def _trial(table: Table, setup: Setup | None, load_kind: str | None, idle: float | None, noise: float | None) -> Trial:
    words, remarks = table.words, list(table.remarks)
    kind = _load_kind(table.load_kind, load_kind)
    missing: list[str] = []
    if setup is None:
        setup, missing = setup_from(words)
    if missing and table.setup_required:
        hint = DENSITY_HINT if missing[0] == words.shown("grit_density") else ""
        raise ValueError(f"{missing[0]} must be given{hint} (got blank)")
    idle = _plain_number("idle", idle) if idle is not None else _plain_number(words.shown("idle"), words.get("idle"))
    readings = judge(table.entries, idle=idle, depth_given=table.depth_given, energy_given=table.energy_given)
    if setup is None and not table.depth_given:
        given = [word for word in QUANTITY_WORDS if word in words.values]
        lack = f" The setup lacks {', '.join(missing)}." if given else ""
        remarks.append(
            "No setup: grit depths are relative, (work rpm / first used work rpm)^(1/4), at constant infeed "
            "rate, wheel and work." + lack
        )
    volts, factor = words.number("volts"), words.number("power_factor")
    if kind == "current" and None in (volts, factor):
        remarks.append("No volts and power factor: energies are net current, which has the same knee.")
    width = setup.contact_width if setup else None
    if kind in ("power", "current") and width is None:
        remarks.append("No contact width: energies are net load, not specific energy; the knee is the same.")
    energy, energy_unit = _energy(kind, volts, factor, setup)
    first = next((reading.work_rpm for reading in readings if reading.is_used), None)

    def computed(reading: Reading) -> Reading:
        if not reading.is_used:
            return reading
        try:
            depth = reading.depth
            if depth is None:
                depth = setup.depth(reading.work_rpm) if setup else (reading.work_rpm / first) ** 0.25
            return replace(reading, depth=depth, energy=reading.energy if table.energy_given else energy(reading))
        except (ValueError, OverflowError) as error:
            raise ValueError(f"row {reading.row}: {error}") from None

    depth_unit = MICROMETRE if setup or table.depth_given else RELATIVE
    return Trial(
        table.source, tuple(map(computed, readings)), setup, kind, depth_unit, energy_unit, _noise(words, noise), tuple(remarks)
    )


def _load_kind(found: str, wanted: str | None) -> str:
    """The wanted kind of load, unless the column that was found holds something else."""
    if wanted is None or wanted == found:
        return found
    if found == "specific_energy":
        raise ValueError(f"load_kind must be left out where specific energies are given (got {shown(wanted)})")
    if RELATIVE not in (wanted, found):
        raise ValueError(f"load_kind must be {found} or {RELATIVE} for this file (got {shown(wanted)})")
    return wanted


def _energy(kind: str, volts: float | None, factor: float | None, setup: Setup | None) -> tuple[Callable[[Reading], float], str]:
    """How the energy follows from a reading, and its unit."""
    if kind == "specific_energy":
        return (lambda reading: reading.energy), QUANTITIES["specific_energy"].unit

    def net(reading: Reading) -> float:
        if kind == "current" and None not in (volts, factor):
            return net_power(*(line_power(volts, amps, factor) for amps in (reading.load, reading.idle)))
        return net_power(reading.load, reading.idle)

    if kind == RELATIVE:
        return net, RELATIVE
    if kind == "current" and None in (volts, factor):
        return net, "A"
    if setup is None or setup.contact_width is None:
        return net, "kW"
    energy = catalogue["specific_energy"]
    return (lambda reading: energy.call(net(reading), setup.removal_rate, setup.contact_width)), energy.gives.unit


def _noise(words: Words, noise: float | None) -> float | None:
    if noise is not None:
        return _share("noise", noise, 1.0, "a share: 0.02 means 2 %")
    percent = words.get("noise")
    return None if percent is None else _share(words.shown("noise"), percent, 100.0, "in %") / 100


def _share(name: str, value: Any, whole: float, meaning: str) -> float:
    number = _plain_number(name, value)
    if not 0 < number < whole:
        raise ValueError(f"{name} must be > 0 and < {whole:g}, {meaning} (got {shown(value)})")
    return number


def _plain_number(name: str, value: Any) -> float | None:
    if value is None:
        return None
    number = number_in(value)
    if number is None or not math.isfinite(number):
        raise ValueError(f"{name} must be a number (got {shown(value)})")
    return number
