"""Setup values by name: the words a file may give, and the setup and meter that follow from them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import fields
from typing import Any, Callable, NamedTuple

from ..formulas import catalogue
from ..quantities import QUANTITIES, is_blank
from ..refused import Refused
from .headings import KNOWN_UNITS, UNITS, plain, read_heading
from .readings import Unreadable
from .rows import Row, one_line
from .setup import Setup, side_number

SETUP_WORDS = tuple(field.name for field in fields(Setup))
SPEED_AGREEMENT = 0.01  # of the wheel speed; diameters and rpm are read to about this
LOAD_KINDS = ("power", "current", "relative")
QUANTITY_WORDS = SETUP_WORDS + (
    "wheel_rpm",
    "grit_size",
    "designation",
    "concentration",
    "active_fraction",
    "volts",
    "power_factor",
)
OTHER_WORDS = ("marked_wheel_speed", "infeed_basis", "load_kind", "idle", "noise", "decimal")
_WORDS = {plain(name.replace("_", " ")): name for name in QUANTITY_WORDS + OTHER_WORDS}
_WORDS.update({plain(QUANTITIES[name].label): name for name in QUANTITY_WORDS})
_WORDS.update({"idle power": "idle", "idle reading": "idle"})
_LONGEST_LINE = 500  # signs; a longer one is a remark
_LINE = re.compile(r"#?\s*([^=:]*?)\s*[=:]\s*(.*)", re.DOTALL)


class Words(NamedTuple):
    """Values by word, as they stand in the file, and the name by which a message calls each."""

    values: dict[str, Any]
    shown: Callable[[str], str] = str

    def get(self, word: str) -> Any:
        """The value, None where it is absent or blank."""
        value = self.values.get(word)
        if isinstance(value, Unreadable):
            raise Refused(self.shown(word), "be a value", value.why)
        return None if is_blank(value) else value

    def number(self, word: str, quantity: str | None = None) -> float | None:
        value = self.get(word)
        return None if value is None else QUANTITIES[quantity or word].check_one(value, self.shown(word))

    def choice(self, word: str, choices: tuple[str, ...], default: str | None = None) -> str | None:
        value = self.get(word)
        if value is None and (word not in self.values or default is None):
            return default
        if not isinstance(value, str) or value.strip().lower() not in choices:
            got = "blank" if value is None else repr(value)[:60]
            raise Refused(self.shown(word), f"be {' or '.join(choices)}", got)
        return value.strip().lower()


class Line(NamedTuple):
    row: int
    value: Any
    unit: str  # "" where none is stated


def leading_lines(rows: Iterable[Row], delimiter: str = " ") -> dict[str, Line]:
    """Values by word, from rows such as `wheel diameter | 200 | mm` or `# wheel_diameter = 200 mm`.

    Rows that begin with no known word are titles and remarks, and are passed over.
    """
    found: dict[str, Line] = {}
    for row in rows:
        cells = [cell for cell in row.cells if not is_blank(cell)]
        if not cells or not isinstance(cells[0], str):
            continue
        word, units = _word(cells[0])
        rest = cells[1:]
        if word is None:
            text = delimiter.join(map(str, cells)).strip()
            joined = _LINE.fullmatch(text) if len(text) <= _LONGEST_LINE else None
            word, units = _word(joined.group(1)) if joined else (None, [])
            rest = [joined.group(2)] if joined else []
        if word is None:
            continue
        if word in found:
            raise Refused(word, "be given once", f"it in rows {found[word].row} and {row.number}")
        value, *behind = rest if rest and not _is_unit(rest[0]) else [None] + rest
        if isinstance(value, str):
            value, unit = _part_unit(value)
            units = units + [unit]
        units = [unit for unit in units + behind[:1] if _is_unit(unit)]
        for unit in units:
            _check_unit(word, unit)
        found[word] = Line(row.number, value, units[0] if units else "")
    return found


def _word(name: str) -> tuple[str | None, list[str]]:
    """The word that a label names, and the unit in its brackets or behind it."""
    if len(name) > _LONGEST_LINE:
        return None, []
    heading = plain(name).lstrip("# ")
    for text, unit in ((heading, ""), read_heading(heading)):
        text = re.sub("^in ", "", " ".join(re.split(r"[\s_:=-]+", text))).strip()
        if text in _WORDS:
            return _WORDS[text], [unit]
    return None, []


def _part_unit(text: str) -> tuple[str, str]:
    """'200 mm' in two; a text without a known unit behind it stays whole."""
    number, _, unit = text.strip().rpartition(" ")
    return (number, unit) if number and _is_unit(unit) else (text.strip(), "")


def _spelt(unit: str) -> str:
    return plain(unit).replace(" ", "").replace("^", "").replace("*", "·")


_SPELLINGS = {"1/min": UNITS["work_rpm"], "μm": UNITS["grit_depth"], "a": UNITS["current"]}
_UNITS = ({_spelt(quantity.unit) for quantity in QUANTITIES.values()} | set(map(_spelt, KNOWN_UNITS))) - {""}


def _is_unit(value: Any) -> bool:
    """Whether it is the text of a unit; any other text beside a value is a remark."""
    return isinstance(value, str) and _spelt(value) in _UNITS


def _check_unit(word: str, unit: str) -> None:
    own = {"marked_wheel_speed": "m/s", "noise": "%"}.get(word)
    if word in QUANTITIES:
        own = QUANTITIES[word].unit
    if own and _spelt(unit) != _spelt(own) and plain(unit) not in _SPELLINGS.get(_spelt(own), ()):
        raise Refused(word, f"be in {own}", repr(one_line(unit, 40)))


def setup_from(given: Words) -> tuple[Setup | None, list[str]]:
    """The setup, or None with the words that are missing from it; ValueError for a value out of its limits."""
    values = {word: given.number(word) for word in SETUP_WORDS if word not in ("side", "wheel_speed", "grit_density")}
    side = given.get("side")
    if side is not None:
        values["side"] = QUANTITIES["side"].check_one(side_number(side, given.shown("side")), given.shown("side"))
    values["wheel_speed"] = _wheel_speed(given, values["wheel_diameter"])
    values["grit_density"] = _grit_density(given)
    if given.choice("infeed_basis", ("radius", "diameter"), "radius") == "diameter" and values["infeed_rate"]:
        values["infeed_rate"] /= 2
    missing = [word for word in SETUP_WORDS if word != "contact_width" and values.get(word) is None]
    if {"wheel_diameter", "wheel_speed"} <= set(missing) and given.get("wheel_rpm") is not None:
        missing.remove("wheel_speed")  # it will follow from the rpm
    return (None if missing else Setup(**values)), [given.shown(word) for word in missing]


def _wheel_speed(given: Words, wheel_diameter: float | None) -> float | None:
    speed, rpm = given.number("wheel_speed"), given.number("wheel_rpm")
    marked = given.number("marked_wheel_speed", "wheel_speed")
    if rpm is not None and wheel_diameter is not None:
        from_rpm = catalogue["wheel_speed"].call(wheel_diameter, rpm)
        if speed is not None and not math.isclose(speed, from_rpm, rel_tol=SPEED_AGREEMENT):
            got = f"{speed:g} m/s, and {from_rpm:.4g} m/s from {rpm:g} 1/min"
            raise Refused(given.shown("wheel_speed"), f"agree with {given.shown('wheel_rpm')} within 1 %", got)
        speed = from_rpm if speed is None else speed
        fastest = max(speed, from_rpm)
    else:
        fastest = speed
    if marked is not None and fastest is not None and fastest > marked:
        never = "never run a wheel above the speed marked on it"
        must = f"be <= {given.shown('marked_wheel_speed')}, {marked:g} m/s: {never}"
        raise Refused(given.shown("wheel_speed"), must, f"{fastest:.6g} m/s")
    return speed


def _grit_density(given: Words) -> float | None:
    density = given.number("grit_density")
    if density is not None:
        return density
    size = _grit_size(given)
    concentration, fraction = given.number("concentration"), given.number("active_fraction")
    if None in (size, concentration, fraction):
        return None
    return catalogue["grit_density"].call(size, concentration, fraction)


def _grit_size(given: Words) -> float | None:
    for word in ("grit_size", "designation"):
        value = given.get(word)
        if word == "designation" and value is not None or isinstance(value, str):
            try:
                return catalogue["mean_grit_size"].call(value)
            except Refused as refused:
                raise refused.at(given.shown(word)) from None
        if value is not None:
            return given.number(word)
    return None
