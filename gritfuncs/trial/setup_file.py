"""Setups in files: setup.toml, written with comments and read; and what any other file says of a setup."""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping
from dataclasses import fields
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from ..planning import Limits
from ..quantities import SIDE_WORDS
from ..refused import Refused
from . import text_file, workbook_file
from .any_file import reading, table_of_file
from .given import Given
from .inputs import GRITS, INPUTS, LOAD, LOAD_MORE, WHEEL, WORK
from .lines import Line, line_of
from .numbers import SIGN_NAMES, looks_like_number, only_number, parse
from .rows import one_line, quoted, short
from .shop_units import designated_concentration, in_shop_units
from .trial_workbook import inputs_of, is_trial_workbook
from .words import LOAD_KINDS, quantity_of

if sys.version_info >= (3, 11):
    import tomllib
else:
    import tomli as tomllib

ENDING = ".toml"
LIMITS = tuple(limit.name for limit in fields(Limits))
# What the record of knees says beside the numbers; the record needs all but bond and coolant.
RECORD_TEXTS = {
    "wheel": "wheel, as the shop calls it",
    "bond": "bond of the wheel",
    "material": "work material",
    "machine": "machine",
    "coolant": "coolant",
    "who": "who found the knee",
}
ENTRY_TEXTS = (*RECORD_TEXTS, "grit", "note")  # that a command takes for an entry of the record
_GROUPS = {
    "Wheel": tuple(given.name for given in WHEEL),
    "Work and infeed": tuple(given.name for given in WORK),
    "Grits: the density, or the three below it; only density times shape ratio counts": tuple(given.name for given in GRITS),
    "Load reading": tuple(given.name for given in (*LOAD, *LOAD_MORE) if given.is_read),
    "Machine": ("nominal_rpm", *LIMITS),
    "For the record of knees": tuple(RECORD_TEXTS),
}
KEYS = tuple(name for names in _GROUPS.values() for name in names) + ("designation",)
# Those that a command takes as options; what kind of reading it is belongs to the file.
OPTION_WORDS = tuple(
    name
    for names in _GROUPS.values()
    for name in names
    if name not in RECORD_TEXTS and name not in ("load_kind", "idle", "noise")
)
_HELP = {given.name: given for given in INPUTS}
# Shown beside the key in a new file; the numbers are those of the invented example.
_SHOWN = {
    "wheel_diameter": '"200 mm"', "wheel_speed": '"22 m/s"', "wheel_rpm": "2100", "marked_wheel_speed": '"35 m/s"',
    "work_diameter": '"20 mm"', "side": '"external"', "infeed_rate": '"0.6 mm/min"', "infeed_basis": '"radius"',
    "contact_width": '"15 mm"', "grit_density": "18.9", "grit_size": '"D126"', "concentration": "75", "active_fraction": "0.5",
    "shape_ratio": "10", "load_kind": '"power"', "volts": "400", "power_factor": "0.8", "idle": "0.86", "noise": "1.2",
    "nominal_rpm": "120", "lowest_work_rpm": "20", "highest_work_rpm": "400", "lowest_infeed_rate": "0.1",
    "highest_infeed_rate": "2.0", "lowest_speed_ratio": "60", "highest_speed_ratio": "600", "highest_removal_rate": "3.0",
    "highest_power": '"4 kW"', "wheel": '"resin, 200 mm"', "bond": '"resin"', "material": '"carbide K20"',
    "machine": '"grinder 1"', "coolant": '"emulsion 5 %"', "who": '"AB"',
}  # fmt: skip
_LARGEST = 100_000  # bytes


def read_given(path: Path) -> Given:
    """What a file says of a setup: a .toml file, a filled trial.xlsx or speed_table.xlsx, or any trial file.

    ValueError in one line that begins with the name of the file.
    """
    with reading(path):
        if path.suffix.lower() == ENDING:
            return _toml(path)
        if path.suffix.lower() in workbook_file.ENDINGS:
            book = workbook_file.Workbook(path)
            if is_trial_workbook(book) or "in_wheel_diameter" in book.names:
                words, _ = inputs_of(book, _cells(book))
                return Given.in_(one_line(path.name), words.values, words.shown, words.written)
        elif path.suffix.lower() not in text_file.ENDINGS:
            endings = ", ".join((ENDING, *workbook_file.ENDINGS, *text_file.ENDINGS))
            raise Refused("", f"end in {endings}", f"{path.suffix or 'no ending'!r:.40}")
        words = table_of_file(path).words
        return Given.in_(one_line(path.name), words.values, words.shown, words.written)


def _cells(book: workbook_file.Workbook) -> dict[str, str]:
    """The name of the cell of each word; a speed table has the part of its wear table, with the infeed on the radius."""
    cells = {word: f"in_{word}" for word in KEYS}
    if "in_work_diameter" not in book.names and "in_reference_diameter" in book.names:
        cells.update(work_diameter="in_reference_diameter", infeed_rate="in_reference_infeed_rate")
        del cells["infeed_basis"]
    return cells


def _toml(path: Path) -> Given:
    with path.open("rb") as file:
        data = file.read(_LARGEST + 1)
    if len(data) > _LARGEST:
        raise Refused("", f"be at most {_LARGEST // 1000} kB")
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
        found = tomllib.loads(text)
    except UnicodeDecodeError:
        raise Refused("", "be a text file in UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        hint = 'lines are key = number, or key = "text": a number with a unit or a decimal comma needs the quotes'
        raise Refused("", f"be written as TOML ({error})", hint=hint) from None
    lines: dict[str, Line] = {}
    texts: dict[str, Any] = {}
    for key, value in found.items():
        number = _number_of_line(text, key)
        try:
            _check_key(key, value)
            if key in RECORD_TEXTS:
                texts[key] = _text(key, value)
                continue
            word, line = _line(number, key, value)
        except Refused as refused:
            raise refused.at(f"line {number}") from None
        if word in lines:
            raise Refused(word, "be given once", f"it in lines {lines[word].row} and {number}")
        lines[word] = line

    def shown(word: str) -> str:
        return f"line {lines[word].row}: {word}" if word in lines else word

    words, _ = in_shop_units(lines, shown)
    return Given.in_(one_line(path.name), {**words.values, **texts}, shown, words.written)


def _check_key(key: str, value: Any) -> None:
    if isinstance(value, Mapping):
        raise Refused(f"[{short(key)}]", "be left out: keys stand without sections")
    if key not in KEYS:
        near = get_close_matches(key, KEYS, 1, 0.5)
        hint = f"nearest: {near[0]}" if near else "gritfuncs setup --new FILE writes a file with all keys"
        raise Refused(short(key), "be a key of a setup", hint=hint)
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise Refused(key, "be a number, or a text in quotes", short(value))


def _line(number: int, key: str, value: Any) -> tuple[str, Line]:
    try:
        word, line = line_of(number, key, value)
    except Refused as refused:
        raise Refused(key, refused.must, refused.got) from None  # its hint is for a table
    if word == "idle" and line.unit:
        raise Refused(key, "be a number without a unit, in that of the load readings", quoted(value))
    quantity = quantity_of(word)
    is_designation = word == "grit_size" and not line.unit or designated_concentration(line.value) is not None
    is_number = (quantity is not None or word == "noise") and word not in ("side", "designation") and not is_designation
    if isinstance(line.value, str) and is_number:
        written = only_number(line.value)
        if written is None and looks_like_number(line.value):
            both = " or ".join(f"{parse(line.value, sign):.10g}" for sign in SIGN_NAMES)
            raise Refused(key, f"be a number of one meaning, {both}", quoted(value))
        if written is None:
            requirement = f", {quantity.requirement}" if quantity else ""
            raise Refused(key, f"be a number{requirement}", quoted(value))
        line = line._replace(value=written)
    return word, line


def _text(key: str, value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise Refused(key, "be a text in quotes", short(value))
    return one_line(value, 200)


def _number_of_line(text: str, key: str) -> int:
    """The line where a key stands; the first one where it is written in a way that hides it."""
    found = re.search(rf"""^[ \t]*(?:\[+[ \t]*)?["']?{re.escape(key)}["']?[ \t]*[=.\]]""", text, re.MULTILINE)
    return text.count("\n", 0, found.start()) + 1 if found else 1


def setup_text(values: Mapping[str, Any], sources: Mapping[str, str], caution: str) -> str:
    """The text of a setup file: a line for each key, those without a value as a comment with an invented one."""
    lines = [
        "# Setup of a trial: what stays the same while the work rpm is stepped.",
        "# Take the # from a line to fill it in; every number behind a # is invented.",
        '# A number may have its unit: "0.6 mm/min", "8 in", "8500 sfpm". Without one it is in the unit named beside it.',
        f"# {caution}",
    ]
    for heading, names in _GROUPS.items():
        lines += ["", f"# {heading}"]
        for name in names:
            value = values.get(name)
            if name == "side" and value in SIDE_WORDS.values():
                value = next(word for word, number in SIDE_WORDS.items() if number == value)
            shown = f"{name} = {_SHOWN[name] if value is None else _as_toml(value)}"
            source = f"from {sources[name]}; " if value is not None and name in sources else ""
            lines.append(f"{'# ' if value is None else ''}{shown:<32} # {source}{_comment(name)}")
    return "\n".join(lines) + "\n"


def _as_toml(value: Any) -> str:
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        return f'"{escaped}"'
    return repr(float(value)).removesuffix(".0")


def _comment(name: str) -> str:
    if name in RECORD_TEXTS:
        return RECORD_TEXTS[name]
    given, quantity = _HELP.get(name), quantity_of(name)
    if name == "infeed_basis":
        return "radius or diameter: what the machine shows"
    if name == "idle":
        return "idle reading, in the unit of the load readings; of rows without their own"
    if name == "noise":
        return "%, scatter of repeated readings, if you know it"
    if name == "load_kind":
        return f"{', '.join(LOAD_KINDS)}: what the readings are, kW, A, or any load meter"
    if given is not None and given.choices:
        return f"{', '.join(given.choices)}: {given.label or quantity.label}"
    unit = "" if quantity.unit == "-" else f"{quantity.unit}, "
    if name == "grit_size":
        return "µm, or a designation in quotes such as D126, B126 or 120/140: mean grit size"
    if name in LIMITS:
        return f"{unit}{name.replace('_', ' ')}" + (", on the radius" if "infeed" in name else "")
    label = given.label if given is not None and given.label else quantity.label
    return f"{unit}{label}" + ("; see infeed_basis" if name == "infeed_rate" else "")
