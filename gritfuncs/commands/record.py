"""gritfuncs record"""

from __future__ import annotations

import datetime
from argparse import ArgumentTypeError, Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from ..refused import Refused
from ..trial import read_trial
from ..trial.setup_file import ENTRY_TEXTS
from ..values import is_blank
from .command import DONE, Command
from .options import add_json, add_reading_options, one_of, reading_options, typed_options
from .output import print_json
from .parser import Parser
from .setup_options import add_record_file, add_setup_options, around_of

if TYPE_CHECKING:
    from ..record import Entry

ADD, LIST, SHOW = "add", "list", "show"


def add(parser: Parser) -> None:
    words = (ADD, LIST, SHOW)
    parser.add_argument("what", type=one_of(words), choices=words, help="what to do with the record")
    parser.add_argument("subject", nargs="?", metavar="FILE or KEY", help="add: the trial; show: the key of an entry")
    parser.add_argument("--key", metavar="KEY", help="add: the name of the new entry, short and used once")
    for name in ENTRY_TEXTS:
        parser.add_argument(f"--{name}", metavar="TEXT", help=f"add: the column {name}, where the setup does not say it")
    parser.add_argument(
        "--date", type=day, metavar="YYYY-MM-DD", help="add: day of the trial (default: what trial.xlsx says, or today)"
    )
    add_record_file(parser)
    add_reading_options(parser)
    add_setup_options(parser, record=False)
    add_json(parser)


def day(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text.strip())
    except ValueError:
        raise ArgumentTypeError(f"must be a day such as 2026-03-01 (got {text!r})") from None


def run(chosen: Namespace) -> int:
    if chosen.what != ADD:
        _refuse_what_only_adding_uses(chosen)
    return {ADD: _add, LIST: _list, SHOW: _show}[chosen.what](chosen)


def _refuse_what_only_adding_uses(chosen: Namespace) -> None:
    if chosen.what == LIST and chosen.subject is not None:
        raise Refused("KEY", f"be left out with {LIST}: {SHOW} takes the key of one entry", chosen.subject)
    for option, got in typed_options(chosen):
        if option not in ("--file", "--json"):
            raise Refused(option, f"be left out with {chosen.what}: only {ADD} goes by it", got)


def _add(chosen: Namespace) -> int:
    from ..record import add as add_to_record

    if chosen.subject is None:
        raise Refused("FILE", "be given", hint="gritfuncs record add FILE --key KEY")
    trial = read_trial(chosen.subject, setup=around_of(chosen), **reading_options(chosen))
    key = chosen.key or trial.given.words.get("key")
    if key is None:
        raise Refused("--key", "be given: a short name that is used once", hint="gritfuncs record add FILE --key KEY")
    texts = {name: getattr(chosen, name) for name in ENTRY_TEXTS}
    added = add_to_record(chosen.record_file, trial, key, texts, chosen.date)
    if chosen.json:
        print_json(
            {"file": str(added.path), "backup": added.backup, "remarks": list(added.remarks), "entry": added.entry.as_dict()}
        )
        return DONE
    print(f"{added.path}: {'new' if added.backup is None else 'added'}: {_line(added.entry)}")
    if added.backup is not None:
        print(f"as it was before: {Path(added.backup).name}")
    for remark in added.remarks:
        print(remark)
    print(f"Next: gritfuncs table --record {_quoted(added.entry.key)}")
    return DONE


def _list(chosen: Namespace) -> int:
    from ..record import read_record

    entries = read_record(chosen.record_file).entries
    if chosen.json:
        print_json([entry.as_dict() for entry in entries])
        return DONE
    print("\n".join(map(_line, entries)) or f"{chosen.record_file}: no entries yet")
    return DONE


def _show(chosen: Namespace) -> int:
    from ..record import read_record
    from ..workbooks.blocks.record import COLUMNS
    from ..workbooks.blocks.record_setups import SETUP_COLUMNS

    if chosen.subject is None:
        raise Refused("KEY", "be given", hint="gritfuncs record list shows the keys")
    entry = read_record(chosen.record_file).entry(chosen.subject)
    if chosen.json:
        print_json(entry.as_dict())
        return DONE
    print(f"{entry.key}: {entry.status}" + (f", missing or wrong: {entry.wrong}" if entry.wrong else ""))
    rows = [(column.heading, entry.values.get(column.name)) for column in COLUMNS[1:]]
    rows += [(column.heading, entry.setup.get(column.name)) for column in SETUP_COLUMNS[1:]]
    for heading, value in rows:
        if not is_blank(value):
            print(f"    {heading:<44} = {_shown(value)}")
    return DONE


def _line(entry: Entry) -> str:
    values = entry.values
    said = ", ".join(_shown(values[name]) for name in ("wheel", "material", "machine") if not is_blank(values.get(name)))
    knee, low, high = (_shown(values.get(name)) for name in ("knee", "low", "high"))
    return f"{entry.key or '(no key)'}: {knee} µm, {low} to {high} µm; {said}; {_shown(values.get('date'))} ({entry.status})"


def _shown(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.6g}"
    return "-" if value is None else str(value)


def _quoted(key: str) -> str:
    return key if key.replace("-", "").isalnum() else f'"{key}"'


COMMAND = Command(
    "record",
    "add the knee of a trial to the shop's record, list the record, or show one of its entries",
    add,
    run,
    example="gritfuncs record list --file gritfuncs-demo/knee_record.xlsx",
    details="The record is the workbook knee_record.xlsx; it is made where it is not there, and what a shop has added to it stays. "
    "Adding leaves a backup with a number beside it. Only a knee that was found is added.",
    remark="To look up knees and print them: [knee_record.xlsx](../workbook_templates/knee_record.xlsx).",
)
