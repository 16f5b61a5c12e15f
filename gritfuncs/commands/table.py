"""gritfuncs table"""

from __future__ import annotations

from argparse import Namespace
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..files import check_new
from ..planning import BAND, SpeedTable, speed_table
from ..quantities import EXTERNAL, QUANTITIES
from ..refused import Refused, Unusable
from ..trial import Trial, read_trial
from ..trial.given import Given
from ..trial.readings import MICROMETRE
from ..trial.setup_file import OPTION_WORDS
from ..trial.setup_values import limits_from, setup_from
from ..trial.words import BASES, LOAD_KINDS
from .command import DONE, Command
from .options import (
    add_json,
    add_quantities,
    add_quantity,
    add_reading_options,
    add_share,
    one_of,
    reading_options,
    refuse_reading_options,
)
from .output import print_json
from .parser import Parser
from .setup_options import OPTION, add_setup_options, around_of, entry_of, line_that_supplies, options_of, way_to_supply

if TYPE_CHECKING:
    from ..record import Entry

NEEDED = ("wheel_diameter", "wheel_speed", "marked_wheel_speed", "side", "grit_density", "shape_ratio")


def add(parser: Parser) -> None:
    add_quantity(parser, "grit_depth", "depth to hold (default: the knee of the trial, or of the record)")
    add_quantities(parser, "work_diameters", "MM,MM,...", "part diameters [mm] (default: that of the setup)")
    add_quantities(
        parser,
        "infeed_rates",
        "RATE,RATE,...",
        "infeed rates on the radius [mm/min], or as --infeed-basis says (default: that of the setup)",
    )
    parser.add_argument(
        "--infeed-basis",
        dest="rates_basis",
        type=one_of(BASES),
        choices=BASES,
        help="what --infeed-rates count on (default: radius)",
    )
    parser.add_argument("--trial", type=Path, metavar="FILE", help="trial that gives depth, energy, wheel, C and r")
    for name in ("specific_energy", "idle_power"):
        add_quantity(parser, name)
    add_share(parser, "band", "allowed deviation of depth", BAND)
    parser.add_argument("--write", type=Path, metavar="FILE", help="write a filled speed_table.xlsx to print, too")
    add_reading_options(parser)
    add_setup_options(parser, [word for word in OPTION_WORDS if word != "infeed_basis"])
    add_json(parser)


@dataclass(frozen=True)
class _Target:
    """The depth to hold and what is known with it, each with where it came from."""

    given: Given
    grit_depth: float | None = None
    specific_energy: float | None = None
    idle_power: float | None = None
    source: str = ""
    idle_source: str = ""


def run(chosen: Namespace) -> int:
    if chosen.write is not None:
        check_new(chosen.write, ".xlsx")
    entry = entry_of(chosen)
    target = _target(chosen, entry)
    given, words = target.given, target.given.words
    values = {"side": EXTERNAL, **setup_from(words)[0], "marked_wheel_speed": words.number("marked_wheel_speed")}
    work_diameters, infeed_rates = _axes(chosen, given, values)
    found: dict[str, Any] = {
        "grit_depth": _first(chosen.grit_depth, target.grit_depth),
        "work_diameters": work_diameters,
        "infeed_rates": infeed_rates,
        **{name: values[name] for name in NEEDED},
    }
    _refuse_missing(found)
    energy = _first(chosen.specific_energy, target.specific_energy)
    width = values["contact_width"]
    if energy is None and given.sources.get("contact_width") != OPTION:
        width = None  # nothing follows from it alone
    if width is None and chosen.specific_energy is None:
        energy = None
    try:
        table = speed_table(
            **found,
            limits=limits_from(words),
            band=chosen.band,
            specific_energy=energy,
            contact_width=width,
            idle_power=_first(chosen.idle_power, target.idle_power, 0.0),
        )
    except Unusable:
        raise
    except Refused as refused:
        raise refused.named(given.shown(refused.name)) from None
    if chosen.write is not None:
        _write(table, given, entry, target.source, chosen.write)
    if chosen.json:
        print_json({**table.as_dict(), "sources": _sources(chosen, target, given)})
        return DONE
    print("\n".join([*_told(_sources(chosen, target, given)), table.report()]))
    if energy is not None and table.idle_power == 0:
        print("The idle power is not known: powers are those of grinding alone. Give it by --idle-power.")
    if chosen.write is not None:
        print(f"written: {chosen.write}")
    return DONE


def _target(chosen: Namespace, entry: Entry | None) -> _Target:
    """What trial and record say; the trial goes before the record."""
    around = around_of(chosen)
    if chosen.trial is not None:
        trial = read_trial(chosen.trial, setup=around, **reading_options(chosen))
        idle = {reading.idle for reading in trial.used} if trial.load_kind == "power" else set()
        knee = _knee_of(trial, chosen)
        level = trial.knee.level if trial.used and trial.energy_unit == QUANTITIES["specific_energy"].unit else None
        power = (idle.pop() or None) if len(idle) == 1 else None  # 0 where none was taken off
        return _Target(trial.given, knee, level, power, trial.source, trial.source)
    refuse_reading_options(chosen, "--trial")
    if chosen.noise is not None:
        raise Refused("--noise-percent", "be given together with --trial, or be left out", f"{100 * chosen.noise:g}")
    given = around.alone
    words = given.words
    power, word = words.number("idle") if words.choice("load_kind", LOAD_KINDS) == "power" else None, "idle"
    if power is None:  # a setup file goes before the record's setup, here as elsewhere
        power, word = words.number("idle_power"), "idle_power"
    if entry is None:
        return _Target(given, idle_power=power, idle_source=given.source_of(word))
    return _Target(given, entry.values["knee"], entry.values.get("level"), power, f"record {entry.key}", given.source_of(word))


def _knee_of(trial: Trial, chosen: Namespace) -> float | None:
    """The knee of the trial; Refused where it is none to set a machine by."""
    if chosen.grit_depth is not None:
        return None
    knee = trial.knee
    if knee.knee is None:
        raise Unusable(
            f"no depth to hold: the verdict is {knee.verdict}; {knee.advice or '; '.join(knee.reasons)}", (trial.source,)
        )
    if trial.damage and trial.knee_rpm is None:
        rows = ", ".join(f"row {row}" for row, _ in trial.damage[:3])
        raise Unusable(f"no depth to hold: damage was seen ({rows}), so its knee is none to set a machine by", (trial.source,))
    if trial.depth_unit != MICROMETRE:
        missing = trial.given.missing()
        hint = way_to_supply(missing)
        raise Refused(
            "setup", f"have {', '.join(missing)}: without it the knee is no depth in µm", place=(trial.source,), hint=hint
        )
    return knee.knee


def _axes(chosen: Namespace, given: Given, values: dict[str, Any]) -> tuple[list[float] | None, list[float] | None]:
    """Part diameters, and infeed rates on the radius; those of the setup where none were typed."""
    diameters, rates = chosen.work_diameters, chosen.infeed_rates
    if diameters is None and values["work_diameter"] is not None:
        diameters = [values["work_diameter"]]
    if rates is None:
        if chosen.rates_basis is not None:
            raise Refused("--infeed-basis", "be given together with --infeed-rates, or be left out", chosen.rates_basis)
        return diameters, None if values["infeed_rate"] is None else [values["infeed_rate"]]
    if chosen.rates_basis is None and given.words.choice("infeed_basis", BASES, "radius") == "diameter":
        must = "be given with --infeed-rates: the setup counts infeed on the diameter"
        raise Refused("--infeed-basis", must, hint="add --infeed-basis radius or --infeed-basis diameter")
    return diameters, [rate / 2 for rate in rates] if chosen.rates_basis == "diameter" else rates


def _refuse_missing(found: dict[str, Any]) -> None:
    """Refused with everything that is missing, and the line that supplies it."""
    missing = [name for name, value in found.items() if value is None]
    if missing:
        plain = {
            "grit_depth": "--grit-depth µm",
            "work_diameters": "--work-diameters MM,MM",
            "infeed_rates": "--infeed-rates RATE,RATE",
        }
        line = " ".join(plain.get(name) or line_that_supplies([name]) for name in missing)
        raise Refused(options_of(missing), "be given", hint=f"add {line}, or a file with --setup")


def _first(*values: float | None) -> Any:
    return next((value for value in values if value is not None), None)


def _sources(chosen: Namespace, target: _Target, given: Given) -> dict[str, str]:
    """Where each value came from, by word."""
    sources = {word: source for word in (*NEEDED, "contact_width") if (source := given.source_of(word))}
    for name in ("grit_depth", "specific_energy", "idle_power"):
        if getattr(chosen, name) is not None:
            sources[name] = OPTION
        elif getattr(target, name) is not None:
            sources[name] = target.idle_source if name == "idle_power" else target.source
    for name, word in (("work_diameters", "work_diameter"), ("infeed_rates", "infeed_rate")):
        sources[name] = OPTION if getattr(chosen, name) is not None else given.source_of(word)
    sources.update({name: given.sources[name] for name, value in vars(limits_from(given.words)).items() if value is not None})
    return sources


def _told(sources: dict[str, str]) -> list[str]:
    """A line for each place from which values came that were not typed."""
    places = [source for source in dict.fromkeys(sources.values()) if source != OPTION]
    lines = [
        f"from {place}: {', '.join(_label(word) for word, source in sources.items() if source == place)}" for place in places
    ]
    return [*lines, ""] if lines else []


def _label(word: str) -> str:
    return word.replace("_", " ")


def _write(table: SpeedTable, given: Given, entry: Entry | None, source: str, path: Path) -> None:
    from ..sheets.save import save_workbook
    from ..workbooks.blocks.record import COLUMNS
    from ..workbooks.filled import table_values
    from ..workbooks.speed_table import build
    from ..workbooks.speed_table.grid import TABLE

    records = [] if entry is None else [tuple(entry.values.get(column.name) for column in COLUMNS)]
    title = f"Speed table at {table.grit_depth:.4g} µm" + (f", from {source}" if source else "")
    save_workbook(build.build(table_values(table, given, title, records), opens=TABLE), path)


COMMAND = Command(
    "table",
    "print the work rpm that holds a grit depth, for part diameters by infeed rates",
    add,
    run,
    example="gritfuncs table --trial gritfuncs-demo/readings.csv --work-diameters 12,20 --infeed-rates 0.3,0.6 --highest-work-rpm 300",
    details="Depth, wheel, C and r come from a trial or from the record, or from a setup file and options: nothing is typed twice.",
    remark="The same in Python: [speed_table](functions/speed_table.md). To fill in and print: "
    "[speed_table.xlsx](../workbook_templates/speed_table.xlsx).",
)
