"""The options by which a command is told a setup: a file, an entry of the record, single values; later ones go first."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..quantity import Quantity
from ..refused import Refused
from ..trial.given import NOTHING, Around, Given
from ..trial.inputs import INPUTS
from ..trial.setup_file import LIMITS, OPTION_WORDS, read_given
from ..trial.words import quantity_of as known_quantity
from ..values import is_blank
from .options import in_unit_of, one_of
from .parser import Parser

if TYPE_CHECKING:
    from ..record import Entry

RECORD_FILE = "knee_record.xlsx"
OPTION = "option"  # where a value came from
_DEST = "setup_"  # so that a value which a file gives is never called by an option
_CHOICES = {given.name: given.choices for given in INPUTS if given.choices}
_LABELS = {given.name: given.label for given in INPUTS if given.label}


def add_setup_options(parser: Parser, words: Iterable[str] = OPTION_WORDS, record: bool = True) -> None:
    """--setup, --record and an option for each word."""
    group = parser.add_setup_group()
    group("--setup", action="append", default=[], type=Path, metavar="FILE", help="setup.toml, or any file with a setup")
    if record:
        group("--record", metavar="KEY", help="entry of the record of knees: its setup, C and r")
        add_record_file(parser)
    for word in words:
        if word in _CHOICES:
            group(_option(word), dest=_DEST + word, type=one_of(_CHOICES[word]), choices=_CHOICES[word], help=_LABELS[word])
        elif word == "grit_size":
            group(_option(word), dest=_DEST + word, metavar="SIZE", help="mean grit size [µm], or a designation such as D126")
        else:
            quantity = _quantity(word)
            unit = "" if quantity.unit == "-" else f" [{quantity.unit}]"
            label = word.replace("_", " ") if word in LIMITS else _LABELS.get(word, quantity.label)
            group(_option(word), dest=_DEST + word, type=in_unit_of(quantity), metavar="NUMBER", help=label + unit)


def add_record_file(parser: Parser) -> None:
    parser.add_argument(
        "--file",
        dest="record_file",
        type=Path,
        metavar="FILE",
        default=Path(RECORD_FILE),
        help="the record (default: %(default)s)",
    )


def around_of(chosen: Namespace) -> Around:
    """What the options say beside a file: the record's setup before it; setup files, the record's C and r, options after it."""
    entry = entry_of(chosen)
    before, after = NOTHING, NOTHING
    for path in chosen.setup:
        after = after.under(read_given(path).outside())
    if entry is not None:
        recorded = entry.around()
        before, after = recorded.before, after.under(recorded.after)
    typed = {word: getattr(chosen, _DEST + word) for word in OPTION_WORDS if hasattr(chosen, _DEST + word)}
    given = {word: _size(value) if word == "grit_size" else value for word, value in typed.items() if not is_blank(value)}
    return Around(before, after.under(Given.in_(OPTION, given, _option)))


def typed_as(chosen: Namespace, word: str) -> Any:
    """What was typed for a word of the setup, or of the command itself; None where nothing was, whatever a file gives."""
    return getattr(chosen, _DEST + word, getattr(chosen, word, None))


def typed_among(chosen: Namespace, words: Iterable[str]) -> Iterator[tuple[str, str, str]]:
    """(word, its option, what was typed) of each of the words that was typed, whatever a file gives."""
    for word in words:
        typed = typed_as(chosen, word)
        if typed is not None:
            yield word, _option(word), typed if isinstance(typed, str) else f"{typed:g}"


def entry_of(chosen: Namespace) -> Entry | None:
    """The entry of the record that was asked for, which may be used."""
    if getattr(chosen, "record", None) is None:
        if hasattr(chosen, "record") and chosen.record_file != Path(RECORD_FILE):
            raise Refused("--file", "be given together with --record, or be left out", str(chosen.record_file))
        return None
    from ..record import read_record

    record = read_record(chosen.record_file)
    entry = record.entry(chosen.record)
    entry.refuse_unusable(record.name)
    return entry


def line_that_supplies(missing: Iterable[str]) -> str:
    """The options that give what a setup lacks, in one line."""
    return " ".join(_example(word) for word in missing)


def way_to_supply(missing: Iterable[str]) -> str:
    """What to do about what a setup lacks, for the end of an error."""
    return f"add {line_that_supplies(missing)}, or a file with --setup"


def options_of(missing: Iterable[str]) -> str:
    """The options without values, for the head of an error."""
    return ", ".join(map(_option, missing))


def _example(word: str) -> str:
    if word in _CHOICES:
        return f"{_option(word)} {'|'.join(_CHOICES[word])}"
    unit = _quantity(word).unit
    return f"{_option(word)} {'NUMBER' if unit == '-' else unit.upper() if unit.isalpha() else repr(f'... {unit}')}"


def _option(word: str) -> str:
    return "--" + word.replace("_", "-")


def _size(text: str) -> Any:
    try:
        return in_unit_of(_quantity("grit_size"))(text)
    except Exception:  # noqa: BLE001 - a designation, judged where it is used
        return text


def _quantity(word: str) -> Quantity:
    quantity = known_quantity(word)
    assert quantity is not None, word
    return quantity
