"""Reading a trial from a file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Callable

from ..formulas import catalogue
from ..formulas.energy import line_power, net_power
from ..frames import is_frame
from ..knee.offset import tells_offset
from ..knee.thresholds import LARGEST, SMALLEST
from ..quantities import QUANTITIES
from ..refused import Refused
from ..values import finite_in, shown
from . import frame_table
from .any_file import path_of, reading, table_of_file
from .given import Around, Given
from .layout import check_columns
from .own_settings import Base, changes, check_one_speed, check_own, own_numbers, with_own
from .readings import MICROMETRE, Reading, judge
from .remarks import limit_remarks, reading_remarks, result_remarks, setup_remarks
from .result import Trial
from .setup import Setup
from .setup_file import read_given
from .setup_values import check_marked, limits_from, setup_from, unusual
from .shop_units import Words
from .table import RELATIVE, Table, chosen_kind
from .words import BASES, LOAD_KINDS

DENSITY_HINT = " (or grit size, concentration and active fraction)"


def read_trial(
    path: str | Path | Any,
    *,
    sheet: str | None = None,
    columns: Mapping[str, str] | None = None,
    setup: Setup | str | Path | Around | None = None,
    load_kind: str | None = None,
    idle: float | None = None,
    noise: float | None = None,
    heading_row: int | None = None,
) -> Trial:
    """Read the rows of a trial, judge each, and give what the knee needs.

    Parameters
    ----------
    path : a filled trial workbook; any other workbook (.xlsx, .xlsm, .ods); or a text file (.csv, .tsv, .txt) with comma,
        semicolon or tab between columns and decimal point or comma; or a DataFrame of pandas, whose columns have the same
        headings and whose attrs may hold the setup, {"wheel_diameter": "8 in"}
    sheet : the sheet to read; needed where more than one has readings.  With sheet, columns or heading_row a trial workbook
        is read like any other
    columns : where columns are that the headings do not tell, {"power": "C"} or {"work_rpm": "B", "power": "Wirkl. kW"}; it
        adds to what is recognised, and goes before it.  Keys are work_rpm [1/min] or grit_depth [µm]; one of power [kW],
        current [A], load [any unit], specific_energy [J/mm³]; idle, use, note, damage; infeed_rate, wheel_speed, wheel_rpm,
        work_diameter, wheel_diameter.  One or two capital letters are a column letter, anything else is a heading in any case
    setup : what stays the same in the trial, as a Setup or the name of a file that `Setup.read` reads; goes before the values
        in the file, and may be a part of a setup where the file has the rest.  A text file or sheet gives them in
        lines above the headings, `wheel_diameter; 200; mm`, the names being those of Setup or wheel_rpm, grit_size,
        designation, concentration, active_fraction, volts, power_factor, marked_wheel_speed, infeed_basis, load_kind,
        idle, noise (in %), nominal_rpm and the names of Limits.  Without a complete setup depths are relative
    load_kind : "power" [kW], "current" [A] or "relative" (any unit); goes before what the file says
    idle : idle reading, in the unit of the readings, for rows without their own; goes before the file's
    noise : reading-to-reading scatter as a share, > 0 and < 1 (0.02 = 2 %); goes before the file's
    heading_row : number of the row of headings in the file, where more than one looks like one

    Headings are understood in English, German, French, Italian, Spanish, Portuguese, Polish, Czech and Swedish, with a row of
    units below them or on two lines; a cell merged over several rows holds for each of them.  Values may have any unit of their
    kind (15 µm/s, 8 in, 8500 sfpm, 2.8 hp): they are converted, and the remarks of the trial say so; an unknown unit is refused.
    An infeed rate "on the diameter" is halved.  Columns with numbers that were not read, values outside of what is usual,
    readings outside the machine's limits and idle power that was not taken off are named in the remarks.  Damage noted at the
    knee, or at no known depth, withdraws its rpm.

    A column of infeed rate, wheel speed, wheel rpm, work diameter or wheel diameter that changes gives each row its own; a blank
    cell is the setup's.  Depth and energy then follow for each row, and the rpm of the knee holds for the setup's values.  Where
    the removal rate changes idle must be given, or two readings at one depth with the infeed 1.5 times apart; where the wheel
    speed changes power in kW, idle in every row and the marked wheel speed.

    Grit depths in the table count in place of the rpm, and specific energies in place of the load.  Hidden rows count
    like others; of a formula its stored value is read.  At most 500 filled rows.

    Raises
    ------
    ValueError
        One line that names the file: what must be different, and what it was.
    """
    place = _frame(path) if is_frame(path) else reading(path_of(path))
    if isinstance(setup, (str, Path)):
        setup = Around(after=read_given(path_of(setup)).outside())
    with place:
        _check_arguments(sheet, setup, load_kind, heading_row)
        check_columns(columns)
        if load_kind is None and isinstance(setup, Around):
            load_kind = setup.after.words.choice("load_kind", LOAD_KINDS)
        if is_frame(path):
            if sheet is not None or heading_row is not None:
                raise Refused("sheet and heading_row", "be left out for a DataFrame")
            table = frame_table.table(path, columns, load_kind)
        else:
            table = table_of_file(path_of(path), sheet, columns, load_kind, heading_row)
        return _trial(table, setup, load_kind, idle, noise)


@contextmanager
def _frame(given: Any) -> Iterator[None]:
    """What goes wrong with a frame names it."""
    try:
        yield
    except Refused as refused:
        raise refused.at(frame_table.source_of(given)) from None


def _check_arguments(sheet: Any, setup: Any, load_kind: Any, heading_row: Any) -> None:
    if sheet is not None and not isinstance(sheet, str):
        raise Refused("sheet", "be the name of a sheet", shown(sheet))
    if setup is not None and not isinstance(setup, (Setup, Around)):
        raise Refused("setup", "be a Setup, or the name of a file with one", shown(setup))
    if load_kind is not None and not (isinstance(load_kind, str) and load_kind in LOAD_KINDS):
        raise Refused("load_kind", f"be {', '.join(LOAD_KINDS)}", shown(load_kind))
    whole = isinstance(heading_row, int) and not isinstance(heading_row, bool)
    if heading_row is not None and not (whole and heading_row > 0):
        raise Refused("heading_row", "be the number of a row, from 1", shown(heading_row))


def _trial(table: Table, setup: Setup | Around | None, load_kind: str | None, idle: float | None, noise: float | None) -> Trial:
    given = Given.in_(table.source, table.words.values, table.words.shown, table.words.written)
    if isinstance(setup, Around):
        given, setup = setup.with_file(given), None
    words, remarks = given.words, list(table.remarks)
    kind = chosen_kind(table.load_kind, load_kind)
    missing: list[str] = []
    needed: set[str] = set()
    if setup is None:
        values, missing = setup_from(words)
        setup = None if missing else Setup(**values)
        needed = {word for word in table.assumed if given.sources.get(word) == table.source}
        check_one_speed(words, table.own_words)
    else:
        values = asdict(setup)
        check_marked(words, setup.wheel_speed)
        given = given.without_setup()
    if missing and table.setup_required:
        hint = DENSITY_HINT if "grit_density" in missing else ""
        raise Refused(", ".join(map(words.shown, missing)), f"be given{hint}", "blank")
    missing = [words.shown(word) for word in missing]
    if idle is not None:  # in the unit of the readings, as they stand in the file
        idle = _plain_number("idle", idle)
        idle = idle if table.load_factor == 1 else float(idle * table.load_factor)
    else:
        idle = _plain_number(words.shown("idle"), words.get("idle"))
    readings = judge(table.entries, idle=idle, depth_given=table.depth_given, energy_given=table.energy_given, needed=needed)
    base = Base(setup, values, words.number("wheel_rpm"))
    readings, unplaced = _with_own(readings, table, base, words, needed)
    limits = limits_from(words)
    remarks += setup_remarks(table, setup, missing, kind)
    remarks += unusual(words) + reading_remarks(readings, limits, idle, table, kind)
    remarks += limit_remarks(readings, limits, base, kind)
    volts, factor = words.number("volts"), words.number("power_factor")
    changing = changes([reading.removal_ratio or 1.0 for reading in readings if reading.is_used])
    depth_unit = MICROMETRE if setup or table.depth_given else RELATIVE
    energy, energy_unit = _energy(kind, volts, factor, base, changing)
    first = next((reading.rpm for reading in readings if reading.is_used), None)

    def depth(reading: Reading) -> float:
        return base.depth(reading) if setup else (reading.rpm / first) ** 0.25

    def _placed(reading: Reading) -> Reading:
        """The depth of damage that was seen at a reading that does not count, where the rpm tells it."""
        known = (reading.work_rpm or 0) > 0 and not table.depth_given and (setup or first) and reading.row not in unplaced
        try:
            return replace(reading, depth=depth(reading)) if reading.damage and known else reading
        except (Refused, OverflowError):
            return reading

    def computed(reading: Reading) -> Reading:
        if not reading.is_used:
            return _placed(reading)
        try:
            reading = replace(reading, depth=depth(reading) if reading.depth is None else reading.depth)
            reading = replace(reading, energy=reading.energy if table.energy_given else energy(reading))
            _check_size(reading, depth_unit, energy_unit, table.energy_given)
            return reading
        except Refused as refused:
            raise refused.at(f"row {reading.row}") from None
        except OverflowError:
            raise Refused("", "hold numbers that can be computed with", place=(f"row {reading.row}",)) from None

    trial = Trial(
        table.source,
        tuple(map(computed, readings)),
        setup,
        kind,
        depth_unit,
        energy_unit,
        _noise(words, noise),
        limits=limits,
        nominal_rpm=words.number("nominal_rpm"),
        given=given,
        title=table.title,
        depth_given=table.depth_given,
    )
    if changing:
        _check_idle(trial, idle, table)
    return replace(trial, remarks=tuple(remarks + result_remarks(trial)))


def _check_size(reading: Reading, depth_unit: str, energy_unit: str, energy_given: bool) -> None:
    """Refused where no knee can be computed with the reading."""
    if reading.depth < SMALLEST:
        raise Refused("grit depth", f"be >= {SMALLEST:g}{_behind(depth_unit)}", shown(reading.depth))
    if reading.energy > LARGEST:
        idle = "" if energy_given else " with idle taken off"
        raise Refused("energy", f"be at most {LARGEST:g}{_behind(energy_unit)}{idle}", shown(reading.energy))


def _behind(unit: str) -> str:
    return "" if unit == RELATIVE else f" {unit}"


def _with_own(
    readings: list[Reading], table: Table, base: Base, words: Words, needed: set[str]
) -> tuple[list[Reading], set[int]]:
    """The readings with the settings that their rows have of their own and what follows; rows whose own settings are not known."""
    if not table.own_words:
        return readings, set()
    on_diameter = (table.infeed_basis or words.choice("infeed_basis", BASES, "radius")) == "diameter"
    settings = {entry.row: own_numbers(entry.settings or {}, on_diameter) for entry in table.entries}
    unplaced = {row for row, own in settings.items() if not needed <= own.keys()}
    found = []
    for each in readings:
        try:
            counts = each.is_used or each.damage
            found.append(with_own(each, settings[each.row], base) if counts else each)
        except Refused as refused:
            if each.is_used:
                raise refused.at(f"row {each.row}") from None
            found.append(each)
            unplaced.add(each.row)
    used = [each for each in found if each.is_used]
    check_own(used, base, words, table.load_kind, {entry.row for entry in table.entries if finite_in(entry.idle) is not None})
    return found, unplaced


def _check_idle(trial: Trial, idle: float | None, table: Table) -> None:
    """Refused where the removal rate changes and nothing tells the idle power from the knee."""
    ratios = [reading.removal_ratio or 1.0 for reading in trial.used]
    if table.energy_given or idle is not None or any(finite_in(entry.idle) is not None for entry in table.entries):
        return
    if not tells_offset(trial.depths, ratios):
        must = "be given where infeed rate or diameter changes between rows, or two readings at one depth with infeed 1.5 times apart"
        raise Refused("idle", must, "neither")


def _energy(
    kind: str, volts: float | None, factor: float | None, base: Base, changing: bool
) -> tuple[Callable[[Reading], float], str]:
    """How the energy follows from a reading, and its unit; where the removal rate changes a net load is over its ratio."""
    setup = base.setup
    if kind == "specific_energy":
        return (lambda reading: reading.energy), QUANTITIES["specific_energy"].unit

    def net(reading: Reading) -> float:
        if kind == "current" and None not in (volts, factor):
            return net_power(*(line_power(volts, amps, factor) for amps in (reading.load, reading.idle)))
        return net_power(reading.load, reading.idle)

    def over_removal(reading: Reading) -> float:
        return net(reading) if reading.removal_ratio is None else net(reading) / reading.removal_ratio

    if kind == RELATIVE:
        return over_removal, RELATIVE
    if kind == "current" and None in (volts, factor):
        return net, "A"
    if setup is None or setup.contact_width is None:
        return over_removal, "kW at the setup's removal rate" if changing else "kW"
    energy, width = catalogue["specific_energy"], setup.contact_width
    return (lambda reading: energy.call(net(reading), base.removal_rate(reading), width)), energy.gives.unit


def _noise(words: Words, noise: float | None) -> float | None:
    if noise is not None:
        return _share("noise", noise, 1.0, "a share: 0.02 means 2 %")
    percent = words.get("noise")
    return None if percent is None else _share(words.shown("noise"), percent, 100.0, "in %") / 100


def _share(name: str, value: Any, whole: float, meaning: str) -> float:
    number = _plain_number(name, value)
    if not 0 < number < whole:
        raise Refused(name, f"be > 0 and < {whole:g}, {meaning}", shown(value))
    return number


def _plain_number(name: str, value: Any) -> float | None:
    if value is None:
        return None
    number = finite_in(value)
    if number is None:
        raise Refused(name, "be a number", shown(value))
    return number
