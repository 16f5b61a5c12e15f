"""The command line: thin, one function a command; what it prints on standard output is the result, errors are one line."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Sequence
from dataclasses import fields
from inspect import signature
from itertools import count, groupby
from pathlib import Path
from typing import Any

from . import __version__
from .finder import ENTRIES, nearest, search
from .knee import FourthRoot, next_reading
from .knee.next_reading import WANTED
from .planning import BAND, STEP_PERCENT, STEPS_EACH_SIDE, Limits, plan_trial, speed_table
from .public import PUBLIC
from .quantities import QUANTITIES, SIDE_WORDS
from .trial.rows import one_line
from .trial.words import LOAD_KINDS

CAUTION = "Never run a wheel above the speed marked on it. Guards closed, extraction on; the makers' instructions come first."
DONE, FAILED = 0, 1
LONGEST_MESSAGE = 500  # signs
DEMO_FOLDER = "gritfuncs-demo"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; 0 only when it did its job."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a console that cannot show µ or ³ shows ? instead of ending the command
            stream.reconfigure(errors="replace")
    chosen = _parser().parse_args(arguments)
    try:
        state = chosen.run(chosen)
        sys.stdout.flush()
        return state
    except BrokenPipeError:  # a reader such as head has enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # nothing is left to complain at the end
        return DONE
    except (ValueError, OSError) as error:
        print(f"gritfuncs {chosen.command}: {_one_line(error)}", file=sys.stderr)
        return FAILED


def _one_line(error: Exception) -> str:
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename or 'file'}: {error.strerror}"
    return one_line(error, LONGEST_MESSAGE)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="gritfuncs",
        description="Grit depth of plunge grinding: from a trial's readings to work speeds that hold the knee.",
        epilog=CAUTION,
    )
    parser.add_argument("--version", action="version", version=f"gritfuncs {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)

    def command(name: str, run, help_text: str, details: str = "") -> argparse.ArgumentParser:
        added = commands.add_parser(
            name, help=help_text, description=f"{help_text[0].upper()}{help_text[1:]}. {details}".strip(), epilog=CAUTION
        )
        added.set_defaults(run=run)
        return added

    demo = command("demo", _demo, "do the whole job once on invented readings, in a folder of its own")
    demo.add_argument(
        "folder", nargs="?", type=Path, help=f"new folder to write into (default: {DEMO_FOLDER}, numbered if it exists)"
    )

    plan = command(
        "plan",
        _plan,
        "list the rpm steps of a trial in run order",
        "Nominal, outward to both sides by every second step, nominal, home by the others, nominal.",
    )
    plan.add_argument(
        "--nominal-rpm", type=float, metavar="NUMBER", required=True, help="work rpm where the trial starts [1/min]"
    )
    plan.add_argument(
        "--step-percent",
        type=float,
        metavar="NUMBER",
        default=STEP_PERCENT,
        help="step in percent of nominal (default: %(default)g)",
    )
    plan.add_argument("--steps-each-side", type=int, default=STEPS_EACH_SIDE, help="steps to each side (default: %(default)s)")
    plan.add_argument(
        "--spacing",
        choices=("rpm", "depth"),
        default="rpm",
        help="equal steps of rpm, or of grit depth within the machine's limits (default: %(default)s)",
    )
    _add_quantity(plan, "lowest_work_rpm", "lowest work rpm of the machine")
    _add_quantity(plan, "highest_work_rpm", "highest work rpm of the machine or chuck")
    plan.add_argument("--json", action="store_true", help="print JSON instead of text")

    knee = command(
        "knee",
        _knee,
        "read trials and find the knee of each",
        "FILE is a filled trial.xlsx, a text file with columns (.csv), or any workbook whose columns have headings.",
    )
    knee.add_argument("files", nargs="+", metavar="FILE", type=Path, help="trial to read")
    _add_reading_options(knee)
    knee.add_argument("--json", action="store_true", help="print JSON instead of text")

    following = command(
        "next",
        _next,
        "say which work rpm a trial tries next, or that it can stop",
        "FILE is a trial so far, as for the command knee. Give the limits of the machine: nothing outside is proposed.",
    )
    following.add_argument("file", metavar="FILE", type=Path, help="trial so far")
    _add_quantity(following, "lowest_work_rpm", "lowest work rpm of the machine")
    _add_quantity(following, "highest_work_rpm", "highest work rpm of the machine or chuck")
    following.add_argument(
        "--nominal-rpm",
        type=float,
        metavar="NUMBER",
        help="work rpm where the trial starts (default: the first reading's) [1/min]",
    )
    following.add_argument(
        "--step-percent",
        type=float,
        metavar="NUMBER",
        default=STEP_PERCENT,
        help="furthest step beyond the rpm tried, in percent of nominal (default: %(default)g)",
    )
    following.add_argument(
        "--wanted-percent",
        type=float,
        metavar="NUMBER",
        default=100 * WANTED,
        help="half-width of the knee's interval that is good enough (default: ±%(default)g %%)",
    )
    following.add_argument("--damage-seen", action="store_true", help="burn, a crack or wheel breakdown was seen: stop")
    _add_reading_options(following)
    following.add_argument("--json", action="store_true", help="print JSON instead of text")

    table = command("table", _table, "print the work rpm that holds a grit depth, for part diameters by infeed rates")
    table.add_argument(
        "--grit-depth", type=float, metavar="NUMBER", required=True, help="depth to hold, the knee of the trial [µm]"
    )
    table.add_argument("--work-diameters", type=_numbers, required=True, metavar="MM,MM,...", help="part diameters [mm]")
    table.add_argument(
        "--infeed-rates",
        type=_numbers,
        required=True,
        metavar="RATE,RATE,...",
        help="infeed rates on the radius [mm/min]; halve what a machine shows on the diameter",
    )
    for name in ("wheel_diameter", "wheel_speed"):
        _add_quantity(table, name, required=True)
    table.add_argument(
        "--marked-wheel-speed", type=float, metavar="NUMBER", required=True, help="highest speed marked on the wheel [m/s]"
    )
    table.add_argument("--side", choices=tuple(SIDE_WORDS), default="external", help="side of contact (default: %(default)s)")
    for name in ("grit_density", "shape_ratio"):
        _add_quantity(table, name, required=True)
    for name in ("specific_energy", "contact_width", "idle_power"):
        _add_quantity(table, name)
    for field in fields(Limits):
        _add_quantity(table, field.name, f"limit of the machine: {field.name.replace('_', ' ')}")
    table.add_argument(
        "--band-percent",
        type=float,
        metavar="NUMBER",
        default=100 * BAND,
        help="allowed deviation of depth (default: ±%(default)g %%)",
    )
    table.add_argument("--json", action="store_true", help="print JSON instead of text")

    templates = command("templates", _templates, "write the workbooks, ready to fill in")
    templates.add_argument("folder", type=Path, metavar="DIR", help="folder to write into; existing files are never overwritten")

    share = command(
        "share",
        _share,
        "write a copy of a workbook for someone without gritfuncs",
        "Every call of a gritfuncs function becomes an equal native formula; the original stays as it is. Ends with 1 when "
        "a call is left or a value changes; the report names the cells.",
    )
    share.add_argument("book", type=Path, metavar="BOOK", help="workbook (.xlsx, .xlsm) saved by Excel or LibreOffice")
    share.add_argument(
        "--to",
        choices=("native", "calc", "excel"),
        default="native",
        help="native formulas, or only respelled for the extension of LibreOffice or for Excel (default: %(default)s)",
    )
    share.add_argument("--output", type=Path, help="file to write (default: beside the original, with (shared) in its name)")

    addin = command(
        "addin",
        _addin,
        "make the add-in for a spreadsheet program",
        "calc: the extension for LibreOffice. excel: a folder with a workbook for xlwings, and the steps. "
        "names: a copy of BOOK with the functions as names for Excel 365.",
    )
    addin.add_argument("host", choices=("calc", "excel", "names"), help="for which program")
    addin.add_argument(
        "source",
        nargs="?",
        type=Path,
        metavar="BOOK or DIR",
        help="names: the workbook to copy; excel: the new folder (default: gritfuncs-excel)",
    )
    addin.add_argument(
        "--output", type=Path, help="calc, names: file to write (default: gritfuncs.oxt, BOOK with (names) in its name)"
    )

    command("check", _check, "tell what is ready on this machine for each spreadsheet program, and the next step")

    functions = command("functions", _functions, "list the functions, or explain those that words find")
    functions.add_argument(
        "words", nargs="*", metavar="WORD", help="name, symbol or shop word, such as rpm, h_m, MRR; all of several words must fit"
    )
    return parser


def _add_reading_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--sheet", help="sheet of the workbook that has the readings")
    parser.add_argument(
        "--column",
        action="append",
        default=[],
        metavar="WORD=COLUMN",
        help="where a column is: its letter or heading; WORD is work_rpm, power, current, load, idle, use, note, "
        "grit_depth or specific_energy (may be given several times)",
    )
    parser.add_argument("--load-kind", choices=LOAD_KINDS, help="what the load readings are: kW, A, or any load meter")
    parser.add_argument(
        "--idle", type=float, metavar="NUMBER", help="idle reading for rows without their own, in the unit of the readings"
    )
    parser.add_argument(
        "--noise-percent", type=float, metavar="NUMBER", help="scatter of repeated readings in percent, if you know it"
    )


def _add_quantity(parser: argparse.ArgumentParser, name: str, help_text: str = "", required: bool = False) -> None:
    quantity = QUANTITIES.get(name) or QUANTITIES[name.partition("_")[2]]
    unit = "" if quantity.unit == "-" else f" [{quantity.unit}]"
    parser.add_argument(
        "--" + name.replace("_", "-"), type=float, required=required, metavar="NUMBER", help=(help_text or quantity.label) + unit
    )


def _numbers(text: str) -> list[float]:
    try:
        return [float(part) for part in text.split(",")]
    except ValueError:
        raise argparse.ArgumentTypeError(f"must be numbers separated by commas, with decimal points (got {text!r})") from None


def _print_json(value: Any) -> None:
    text = json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False)
    # a note may hold signs that command a terminal: these alone are written by their numbers
    print(
        "".join(
            sign
            if sign.isprintable() or sign == "\n"
            else f"\\u{ord(sign):04x}"
            if ord(sign) < 0x10000
            else json.dumps(sign)[1:-1]
            for sign in text
        )
    )


def _demo(chosen) -> int:
    from . import demo

    folder = chosen.folder
    if folder is None:
        names = (f"{DEMO_FOLDER}{number}" for number in ("" if tried == 1 else f"-{tried}" for tried in count(1)))
        folder = next(Path(name) for name in names if not Path(name).exists())
    elif folder.exists():
        raise ValueError(f"folder must not exist yet, nothing is overwritten (got {str(folder)!r})")
    demo.run(folder, lambda text: print(text, flush=True))
    return DONE


def _plan(chosen) -> int:
    plan = plan_trial(
        chosen.nominal_rpm,
        step_percent=chosen.step_percent,
        steps_each_side=chosen.steps_each_side,
        lowest_work_rpm=chosen.lowest_work_rpm,
        highest_work_rpm=chosen.highest_work_rpm,
        spacing=chosen.spacing,
    )
    if chosen.json:
        _print_json([vars(reading) for reading in plan])
        return DONE
    print("reading   step, %   work rpm, 1/min")
    for reading in plan:
        rpm = "outside limits: skip" if reading.work_rpm is None else f"{reading.work_rpm:.1f}"
        print(f"{reading.number:>7}{reading.step_percent:>10.4g}   {rpm:>15}")
    print("\nStop going slower when power climbs fast; stop at once at burn, cracks or wheel breakdown.")
    return DONE


def _reading_options(chosen) -> dict[str, Any]:
    """What read_trial is told beside the file."""
    columns: dict[str, str] = {}
    for given in chosen.column:
        word, separator, column = given.partition("=")
        if not separator or not column:
            raise ValueError(f"--column must be WORD=COLUMN, such as work_rpm=B (got {given!r})")
        columns[word.strip()] = column.strip()
    noise = None if chosen.noise_percent is None else chosen.noise_percent / 100
    return {"sheet": chosen.sheet, "columns": columns or None, "load_kind": chosen.load_kind, "idle": chosen.idle, "noise": noise}


def _knee(chosen) -> int:
    from .trial import read_trial

    options, state, results = _reading_options(chosen), DONE, []
    for path in chosen.files:
        try:
            trial = read_trial(path, **options)
            text = trial.as_dict() if chosen.json else trial.report()
        except ValueError as error:
            print(f"gritfuncs knee: {_one_line(error)}", file=sys.stderr)
            state = FAILED
            continue
        if chosen.json:
            results.append(text)
        else:
            print(text, end="\n\n" if path != chosen.files[-1] else "\n")
        if not trial.used:
            state = FAILED
    if chosen.json:
        _print_json(results)
    return state


def _next(chosen) -> int:
    from .trial import read_trial

    trial = read_trial(chosen.file, **_reading_options(chosen))
    known = [reading for reading in trial.used if reading.work_rpm]
    if len(known) < len(trial.used):
        raise ValueError(
            f"{trial.source}: every reading must have a work rpm, > 0 1/min (row {_first_without_rpm(trial)} has none)"
        )
    setup = FourthRoot(known[0].depth / known[0].work_rpm ** 0.25) if known else FourthRoot()
    advice = next_reading(
        trial.depths,
        trial.energies,
        setup,
        Limits(lowest_work_rpm=chosen.lowest_work_rpm, highest_work_rpm=chosen.highest_work_rpm),
        noise=trial.noise,
        wanted=chosen.wanted_percent / 100,
        nominal_rpm=chosen.nominal_rpm,
        step_percent=chosen.step_percent,
        damage_seen=chosen.damage_seen,
    )
    if chosen.json:
        _print_json(advice.as_dict())
        return DONE
    for row, reason in trial.left_out:
        print(f"row {row}: {reason}")
    line = advice.line()
    if advice.knee.suspect is not None and "repeat reading" in line:
        line = line.replace(f"reading {advice.knee.suspect + 1}", f"the reading in row {trial.used[advice.knee.suspect].row}", 1)
    print(line)
    return DONE


def _first_without_rpm(trial) -> int:
    return next(reading.row for reading in trial.used if not reading.work_rpm)


def _table(chosen) -> int:
    limits = Limits(**{field.name: getattr(chosen, field.name) for field in fields(Limits)})
    table = speed_table(
        grit_depth=chosen.grit_depth,
        work_diameters=chosen.work_diameters,
        infeed_rates=chosen.infeed_rates,
        wheel_speed=chosen.wheel_speed,
        marked_wheel_speed=chosen.marked_wheel_speed,
        wheel_diameter=chosen.wheel_diameter,
        side=SIDE_WORDS[chosen.side],
        grit_density=chosen.grit_density,
        shape_ratio=chosen.shape_ratio,
        limits=limits,
        band=chosen.band_percent / 100,
        specific_energy=chosen.specific_energy,
        contact_width=chosen.contact_width,
        idle_power=chosen.idle_power or 0.0,
    )
    if chosen.json:
        _print_json(table.as_dict())
    else:
        print(table.report())
    return DONE


def _templates(chosen) -> int:
    from .workbooks.templates import write_all

    for path in write_all(chosen.folder):
        print(path, flush=True)
    return DONE


def _share(chosen) -> int:
    from .share.job import share

    shared = share(chosen.book, chosen.output, to=chosen.to)
    print(shared.report())
    return DONE if shared.complete else FAILED


def _addin(chosen) -> int:
    if chosen.host == "calc":
        from .addins.calc import build_oxt

        path = chosen.output or Path("gritfuncs.oxt")
        if path.exists():
            raise ValueError(f"{path} must not exist yet, nothing is overwritten (got an existing file)")
        print(build_oxt(path))
        print(
            f"next: Tools > Extension Manager > Add in LibreOffice, or: unopkg add {path}; then restart LibreOffice and type "
            "=GRIT_VERSION() into a cell"
        )
    elif chosen.host == "excel":
        from .addins.excel import instructions, write_folder

        for path in write_folder(chosen.source or Path("gritfuncs-excel")):
            print(path)
        print(f"\n{instructions()}", end="")
    else:
        from .share.names import add_names, functions_left_out

        if chosen.source is None:
            raise ValueError("BOOK must be given: gritfuncs addin names BOOK (got nothing)")
        output = chosen.output or chosen.source.with_name(f"{chosen.source.stem} (names){chosen.source.suffix}")
        names = add_names(chosen.source, output)
        print(f"{output}: {len(names)} names; not among them: {', '.join(functions_left_out())}")
    return DONE


def _check(chosen) -> int:
    from .addins.check import report

    print(report())
    return DONE


def _functions(chosen) -> int:
    words = " ".join(chosen.words)
    if not words.strip():
        for chapter, entries in groupby(ENTRIES, key=lambda entry: entry.chapter):
            print(f"\n{chapter}")
            print("\n".join(map(_listed, entries)))
        print("\ngritfuncs functions WORD explains; in a cell the name is GRIT_ and capitals, see there.")
        return DONE
    first, others = search(words)
    if not first and not others:
        near = ", ".join(nearest(words))
        raise ValueError(
            f"no function has {words!r} in its name, symbols or quantities "
            f"({f'nearest: {near}; ' if near else ''}gritfuncs functions lists all)"
        )
    explained = first or others
    print("\n\n".join(map(_explained, explained)))
    if first and others:
        print("\nIt is also an input or part of:")
        print("\n".join(map(_listed, others)))
    return DONE


def _listed(entry) -> str:
    units = dict.fromkeys(quantity.unit for quantity in entry.gives)
    return f"  {entry.name:<22} {entry.title}  [{', '.join(units)}]"


def _explained(entry) -> str:
    if entry.formula is None:
        cells = f"\n  in a cell: {', '.join(entry.cells)}" if entry.cells else ""
        names = ", ".join(signature(PUBLIC[entry.name]).parameters)
        return f"{entry.name}({names})\n  {entry.title}{cells}"
    formula = entry.formula
    names = ", ".join(quantity.name for quantity in formula.arguments)
    lines = [
        f"{formula.name}({names})",
        f"  {formula.title}",
        f"  in a cell: ={formula.sheet_name}({names})",
        f"  source: {formula.source}",
    ]
    for quantity in formula.arguments + (formula.gives,):
        unit = "" if quantity.unit == "-" else f" [{quantity.unit}]"
        arrow = "  -> " if quantity is formula.gives else "     "
        lines.append(f"{arrow}{quantity.name:<20} {quantity.symbol:<6} {quantity.label}{unit}, {quantity.requirement}")
    return "\n".join(lines)
