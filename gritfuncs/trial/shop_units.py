"""Setup values by word in the shop's units, whatever unit their lines were written in."""

from __future__ import annotations

import re
from typing import Any, Callable, NamedTuple

from ..quantities import QUANTITIES
from ..quantity import Quantity
from ..refused import Refused
from ..units import parse, ratio
from ..values import finite_in, is_blank
from ..values import shown as shown_value
from .headings import basis_of
from .lines import Line
from .numbers import looks_like_number
from .readings import Unreadable
from .rows import one_line, quoted, short
from .stated_units import CONCENTRATION_REQUIREMENT
from .words import BASES, TEXT_WORDS, quantity_of, side_word


class Words(NamedTuple):
    """Values by word, in the shop's units, and the name by which a message calls each."""

    values: dict[str, Any]
    shown: Callable[[str], str] = str
    written: dict[str, str] = {}  # as they stand in the file, with their unit

    def get(self, word: str) -> Any:
        """The value, None where it is absent or blank."""
        value = self.values.get(word)
        if isinstance(value, Unreadable):
            raise Refused(self.shown(word), "be a value", value.why)
        return None if is_blank(value) else value

    def number(self, word: str) -> float | None:
        """The number of a word, within its limits and what can be; None where it is absent."""
        value, quantity = self.get(word), quantity_of(word)
        if value is None or quantity is None:
            return None
        if isinstance(value, str) and looks_like_number(value):
            hint = "it is a text there: is its decimal sign the one of the spreadsheet?"
            raise Refused(self.shown(word), f"be a number, {quantity.requirement}", shown_value(value), hint=hint)
        return quantity.check_possible(quantity.check_one(value, self.shown(word)), self.shown(word))

    def choice(self, word: str, choices: tuple[str, ...], default: str | None = None) -> str | None:
        value = self.get(word)
        if value is None and (word not in self.values or default is None):
            return default
        said = value.strip().lower() if isinstance(value, str) else ""
        if said not in choices and basis_of(said) in choices:
            said = basis_of(said)
        if said not in choices:
            got = "blank" if value is None else repr(value)[:60]
            raise Refused(self.shown(word), f"be {' or '.join(choices)}", got)
        return said


def in_shop_units(lines: dict[str, Line], shown: Callable[[str], str] = str) -> tuple[Words, list[str]]:
    """The values in the shop's units, and a sentence for each that was written in another; `idle` stays as it is."""
    values = {word: line.value for word, line in lines.items()}
    told = []
    for word in sorted(lines, key="nominal_rpm".__ne__):  # the one that another may need comes first
        line = lines[word]
        quantity, name = quantity_of(word), shown(word)
        if word == "date" and isinstance(line.value, Unreadable) and line.value.day:
            values[word] = line.value.day
        if not line.unit or word == "idle" or word in TEXT_WORDS or is_blank(line.value):
            continue
        if word == "concentration" and line.unit.strip() != "-":
            raise Refused(name, CONCENTRATION_REQUIREMENT, repr(line.unit))
        if word == "noise":
            values[word] = _as_percent(name, line)
            continue
        if quantity is None or isinstance(line.value, Unreadable):
            continue
        turns = None
        if word == "infeed_rate" and (parse(line.unit) or parse("mm")).is_per_turn:
            turns = Words(values, shown).number("nominal_rpm")
            if turns is None:
                must = f"be in {quantity.unit}: for each revolution it changes with the work rpm"
                hint = "give nominal_rpm too, if it is kept at what it is there"
                raise Refused(name, must, repr(f"{line.value} {line.unit}"), hint=hint)
        values[word] = quantity.converted(line.value, line.unit, name, turns)
        if values[word] != line.value:
            label = QUANTITIES[word].label.partition(" on the ")[0] if word in QUANTITIES else word.replace("_", " ")
            used = f"{line.value:.9g} {line.unit} is used as {values[word]:.9g}{unit_behind(quantity)}."
            told.append(f"{label[0].upper()}{label[1:]} {used}")
    if isinstance(values.get("side"), str):
        values["side"] = side_word(values["side"])
    _put_basis(lines, values, shown)
    designated = designated_concentration(values.get("concentration", ""))
    if designated is not None:
        values["concentration"] = designated
    return Words(values, shown, {word: _as_written(line) for word, line in lines.items() if not is_blank(line.value)}), told


def designated_concentration(value: Any) -> float | None:
    """The number of a concentration such as C100; None for anything else."""
    number = re.fullmatch(r"[ckCK]\s?(\d{2,3})", str(value).strip())
    return float(number[1]) if number else None


def _as_written(line: Line) -> str:
    """What the file says, in one line."""
    value = line.value.why if isinstance(line.value, Unreadable) else line.value
    number = finite_in(value)
    unit = "" if line.unit.strip() == "-" else short(line.unit)
    said = f"{one_line(value, 60) if number is None else f'{number:.10g}'} {unit}".strip()
    return f"{said} on the {line.basis}" if line.basis else said


def unit_behind(quantity: Quantity) -> str:
    return "" if quantity.unit == "-" else f" {quantity.unit}"


def _as_percent(name: str, line: Line) -> Any:
    factor = ratio(line.unit, "%")
    if factor is None:
        raise Refused(name, "be in %", quoted(line.unit))
    number = finite_in(line.value)
    return line.value if number is None else float(number * factor)


def _put_basis(lines: dict[str, Line], values: dict[str, Any], shown: Callable[[str], str]) -> None:
    """The basis that the label of the infeed rate states, unless a word of its own contradicts it."""
    basis = lines["infeed_rate"].basis if "infeed_rate" in lines else ""
    if not basis:
        return
    said = Words(values, shown).choice("infeed_basis", BASES)
    if said is not None and said != basis:
        raise Refused(shown("infeed_basis"), f"be {basis}, as the label of {shown('infeed_rate')} says", said)
    values["infeed_basis"] = basis
