"""Units: what shops write, and how much of the library's own unit it is.  Exact; standard library only.

A unit is a product of powers of the spellings in `_SPELLINGS`, written in any of the usual ways: mm/min, mm min^-1, J/mm³,
hp·min/in³, "mm pro min".  What cannot be read whole is no unit: nothing is guessed and nothing is dropped.
Inch, pound, pound-force and horsepower are exact by definition (international yard and pound, 1959; standard gravity).
"""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

_NONE = (Fraction(0),) * 5
_LONGEST = 40  # signs; a longer text is a remark


class Unit(NamedTuple):
    """The size of a unit in SI, its exponents of metre, second, kilogram, ampere and kelvin, and of revolutions."""

    size: Fraction
    powers: tuple[Fraction, ...] = _NONE
    turns: Fraction = Fraction(0)

    def __mul__(self, other: Unit) -> Unit:  # type: ignore[override]
        powers = tuple(one + two for one, two in zip(self.powers, other.powers))
        return Unit(self.size * other.size, powers, self.turns + other.turns)

    def to(self, exponent: Fraction) -> Unit:
        """The unit to a power; a half power is exact only where the size is 1."""
        size = self.size if self.size == 1 else self.size ** int(exponent)
        return Unit(size, tuple(power * exponent for power in self.powers), self.turns * exponent)

    @property
    def is_per_turn(self) -> bool:
        """A length for each revolution, such as mm/rev: a speed once the rpm is known."""
        return self.turns == -1 and self.powers == _LENGTH.powers


def _of(size: str | int | Fraction, metre: int = 0, second: int = 0, kilogram: int = 0, ampere: int = 0, kelvin: int = 0) -> Unit:
    return Unit(Fraction(size), tuple(map(Fraction, (metre, second, kilogram, ampere, kelvin))))


_LENGTH, _TIME, _TURN = _of(1, 1), _of(1, 0, 1), Unit(Fraction(1), _NONE, Fraction(1))
_INCH, _FOOT, _POUND_FORCE = Fraction("0.0254"), Fraction("0.3048"), Fraction("4.4482216152605")
_POWER, _ENERGY, _FORCE = (2, -3, 1), (2, -2, 1), (1, -2, 1)  # exponents of metre, second, kilogram
_HORSEPOWER, _METRIC_HORSEPOWER = 550 * _FOOT * _POUND_FORCE, Fraction("735.49875")

# Every spelling of a unit; those of several letters in any case, but where two of them differ in case only.
_SPELLINGS: dict[Unit, str] = {
    _of("1e-9", 1): "nm",
    _of("1e-6", 1): "μm um micron microns mikron mikrometer mikrometern micrometer micrometers micrometre micrometres "
    "micromètre micromètres micrometro micrometri",
    _of("1e-3", 1): "mm millimeter millimeters millimetern millimetre millimetres millimètre millimètres millimetro millimetri",
    _of("1e-2", 1): "cm centimeter centimeters zentimeter centimetre centimetres centimètre centimètres centimetro centimetri",
    _of("1e-1", 1): "dm",
    _of(1, 1): "m meter meters metern metre metres mètre mètres metro metri",
    _of(1000, 1): "km",
    _of(_INCH, 1): "in inch inches zoll pollice pollici pouce pouces \" '' ′′",
    _of(_INCH / 1000, 1): "thou thous mil mils",
    _of(_INCH / 10**6, 1): "μin uin microinch microinches mikrozoll",
    _of(_FOOT, 1): "ft foot feet fuß fuss",
    _of("1e-3", 0, 1): "ms",
    _TIME: "s sec secs second seconds sek sekunde sekunden seconde secondes secondo secondi segundo segundos",
    _of(60, 0, 1): "min mins mn minute minutes minuten minuto minuti minutos minut",
    _of(3600, 0, 1): "h hr hrs hour hours std stunde stunden heure heures ora ore",
    _TURN: "rev revs r revolution revolutions turn turns u umdr umdrehung umdrehungen tr tour tours giro giri obr ot varv vuelta vueltas rot",
    _of(1, 0, -1): "hz hertz",
    _of("1e-3", *_POWER): "mW",
    _of(1, *_POWER): "w watt watts",
    _of(1000, *_POWER): "kw kilowatt kilowatts",
    _of(10**6, *_POWER): "MW",
    _of(_HORSEPOWER, *_POWER): "hp bhp horsepower",
    _of(_METRIC_HORSEPOWER, *_POWER): "ps cv ch",
    _of("1e-3", *_ENERGY): "mJ",
    _of(1, *_ENERGY): "j joule joules ws Nm",
    _of(1000, *_ENERGY): "kj kws",
    _of(10**6, *_ENERGY): "MJ",
    _of(10**9, *_ENERGY): "GJ",
    _of(3600, *_ENERGY): "wh",
    _of(3600000, *_ENERGY): "kwh",
    _of(1, *_FORCE): "n newton newtons",
    _of(1000, *_FORCE): "kn",
    _of(_POUND_FORCE, *_FORCE): "lbf",
    _of("1e-3", 0, 0, 0, 1): "ma milliampere milliamperes milliamps",
    _of(1, 0, 0, 0, 1): "a amp amps ampere amperes ampère ampères",
    _of(1000, 0, 0, 0, 1): "ka",
    _of(1, 2, -3, 1, -1): "v volt volts",
    _of(1000, 2, -3, 1, -1): "kv",
    _of(1, 0, 0, 0, 0, 1): "k",
    Unit(Fraction(1), (Fraction(0), Fraction(1, 2), Fraction(0), Fraction(0), Fraction(0))): "√s",
    _of(Fraction(1, 100)): "% percent prozent pct pourcent percento",
    _of(1): "-",
}
# Spellings of a whole unit in one word.
_WHOLE = {
    "rpm": "rev/min",
    "upm": "rev/min",
    "r.p.m": "rev/min",
    "rps": "rev/s",
    "ipm": "in/min",
    "ipr": "in/rev",
    "fpm": "ft/min",
    "sfpm": "ft/min",
    "sfm": "ft/min",
    "kmh": "km/h",
    "mps": "m/s",
    "/min": "1/min",
    "/s": "1/s",
    "ips": "in/s",
}
_PER = re.compile(r"\s(?:per|pro|par|je|al|alla|a la|à la)\s")
_ATOM = re.compile(r"((?:(?:sq|cu) )?[^\W\d]+|%|\"|''|′′|√s|1)(?:\s?(?:\^|\*\*)?\s?(-[1-9]|\+?[2-9]))?")  # A1 and k0 are names
_SURFACE = re.compile(r"^surface (?=f[et]+\b)", re.IGNORECASE)
_ABBREVIATION = re.compile(r"([^\W\d_])\.(?=$|[\s*/)])")
_JOINED = re.compile(r"\b(hp|ps|cv|k?w|k?n) (min|s|h|m)\b", re.IGNORECASE)
_TIMES_INVERSE = re.compile(r"(?<=[^\W_]) (?=[^\W\d_]+\s?(?:\^|\*\*)?\s?-\d)")  # mm min^-1


def _by_spelling() -> tuple[dict[str, Unit], dict[str, Unit]]:
    """The units by their spelling as it stands, and in small letters where that has one meaning."""
    exact = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings.split()}
    folded: dict[str, set[Unit]] = {}
    for spelling, unit in exact.items():
        folded.setdefault(spelling.casefold(), set()).add(unit)
    return exact, {spelling: units.pop() for spelling, units in folded.items() if len(units) == 1}


_EXACT, _FOLDED = _by_spelling()
_SIGNS = ("%", "-", '"', "''", "′′")


def _tidy(text: str) -> str:
    """One form of every sign: powers as digits, one sign for a product, no spaces around signs."""
    text = unicodedata.normalize("NFKC", text).replace("\u2212", "-").replace("\u2044", "/")
    text = _PER.sub("/", " ".join(text.split()))
    for sign in "·∙⋅×":
        text = text.replace(sign, "*")
    text = _ABBREVIATION.sub(r"\1", _SURFACE.sub("", text))
    return re.sub(r"\s*([*/()])\s*", r"\1", _JOINED.sub(r"\1*\2", _TIMES_INVERSE.sub("*", text)))


@lru_cache(maxsize=2000)
def parse(text: str) -> Unit | None:
    """The unit that a text writes, or None where it is none."""
    tidy = _tidy(text) if len(text) <= _LONGEST else ""
    if tidy not in _SIGNS and not any(letter.isalpha() for letter in tidy):
        return None  # a number is none
    whole = _WHOLE.get(tidy.casefold())
    if whole is None and _atom(tidy, None) == _TURN:
        return None  # a revolution alone: r and U are symbols of other things
    unit, rest = _product(whole or tidy)
    return unit if not rest else None


def _product(text: str) -> tuple[Unit | None, str]:
    """The unit at the beginning of a text, as far as it goes, and the rest of the text."""
    unit, rest = _factor(text)
    divided = False
    while unit is not None and rest[:1] in ("*", "/") and rest:
        if rest[0] == "*" and divided:
            return None, rest  # a/b·c has two meanings
        divided = divided or rest[0] == "/"
        sign = Fraction(1 if rest[0] == "*" else -1)
        other, rest = _factor(rest[1:])
        unit = None if other is None else unit * other.to(sign)
    return unit, rest


def _factor(text: str) -> tuple[Unit | None, str]:
    if text.startswith("("):
        unit, rest = _product(text[1:])
        return (unit, rest[1:]) if rest.startswith(")") else (None, text)
    match = _ATOM.match(text) if text[:1] != "-" else None
    if not match:
        return (_EXACT["-"], "") if text == "-" else (None, text)
    unit = _atom(match[1], match[2])
    return unit, text[match.end() :]


def _atom(name: str, exponent: str | None) -> Unit | None:
    if name == "1" and exponent is None:
        return _EXACT["-"]
    power = 1 if exponent is None else int(exponent)
    for prefix, of_prefix in (("sq ", 2), ("cu ", 3)):
        if name.casefold().startswith(prefix) and exponent is None:
            name, power = name[3:], of_prefix
    unit = _EXACT.get(name) or _FOLDED.get(name.casefold()) or (_plain_word(name) if exponent is None else None)
    return unit and unit.to(Fraction(power))


def _plain_word(name: str) -> Unit | None:
    whole = _WHOLE.get(name.casefold())
    return _product(whole)[0] if whole else None


def is_unit(text: object) -> bool:
    """Whether it is the text of a unit."""
    return isinstance(text, str) and bool(text.strip()) and parse(text.strip()) is not None


def ratio(text: str, shop: str, turns_per_minute: float | None = None) -> Fraction | None:
    """How many of the shop's unit one of the written unit is; None where it is no unit of the same kind.

    A length for each revolution becomes a speed with the revolutions per minute [1/min, > 0].
    """
    given, own = parse(text.strip()), parse(shop)
    if given is None or own is None:
        return None
    if given.is_per_turn and turns_per_minute is not None:
        given = given * Unit(Fraction(turns_per_minute) / 60, _PER_SECOND.powers, Fraction(1))
    same = given.powers == own.powers
    if not same or given.turns != own.turns and not (own.powers == _PER_SECOND.powers and {given.turns, own.turns} <= {0, 1}):
        return None
    return given.size / own.size


_PER_SECOND = _of(1, 0, -1)


def convert(value: float, text: str, shop: str, turns_per_minute: float | None = None) -> float | None:
    """The value in the shop's unit, rounded once; None where the written unit is none of the same kind."""
    factor = ratio(text, shop, turns_per_minute)
    return None if factor is None else float(Fraction(value) * factor)
