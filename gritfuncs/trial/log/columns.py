"""Which column of a log is what: by its heading, by the name that the caller gives, or because no other can be it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, NamedTuple

from ...refused import Refused
from ...units import is_unit, ratio
from ...values import finite_in, is_blank, shown
from ..headings import PHRASES, plain, read_heading
from ..headings import words as bare_words
from ..numbers import looks_like_number
from .clock import DATE, STAMP

LOADS = ("power", "current", "load")
KINDS = {"power": "power", "current": "current", "load": "relative"}
UNITS = {"power": "kW", "current": "A", "load": "%", "time": "s", "work_rpm": "1/min"}
_TIME = re.compile(
    r"(?:.* )?(?:time|timestamp|datetime|elapsed|zeit|uhrzeit|zeitstempel|zeitpunkt|temps|heure|horodatage|tempo|ora|tiempo|hora)"
    r"(?: .*)?|clock"
)
_TIME_LETTER = re.compile(r"t ?\d*|x")  # in another unit than of time it is a temperature or a place
_DATE_WORD = re.compile(r"date|datum|day|tag|jour|data|giorno|fecha")
_ROW_NUMBER = re.compile(
    r"(?:row|sample|record|line|index|idx|no|nr|num|number|count|counter|scan|point|zeile|zahler|lfd nr)(?: (?:no|nr|number|index))?|n|"
)
_CONTACT = re.compile(
    r"contact|in contact|contact signal|cycle signal|in cycle|cycle active|cycle running|infeed running|infeed active|in cut|grinding active|"
    r"kontakt|anschnitt|zustellung aktiv|contatto"
)
_POWER_WORD = re.compile(r"power|leistung|puissance|potenza|potencia")
_MEAN, _EXTREME = (
    re.compile(r"\b(?:mean|avg|average|mittel|mittelwert|moyenne|media)\b"),
    re.compile(r"\b(?:min|max|minimum|maximum|peak|spitze)\b"),
)
_RPM_WORD = re.compile(
    r"(?=.*\b(?:work|workpiece|part|werkstuck|piece|pezzo)\b).*\b(?:rpm|speed|drehzahl|vitesse|velocita|giri)\b|"
    r"(?:vitesse|velocita|giri)\b.*\b(?:piece|pezzo)"
)
_OF_OTHER_UNIT = "speed"  # the role of a speed of the work in another unit than 1/min
_LETTERS = re.compile("[A-Z]{1,2}")


class Heading(NamedTuple):
    phrase: str
    unit: str  # "" where it names none
    text: str  # as it stands in the file


class Chosen(NamedTuple):
    """Columns by their place; None for one that is not there."""

    power: int
    load_kind: str
    factor: float  # of the power's unit
    time: int | None
    date: int | None
    rpm: int | None
    contact: int | None
    times: dict[int, int | None]  # the time column of rpm and contact, where it is another one
    headings: list[Heading]
    remarks: list[str]


def heading_of(text: str, unit: str = "") -> Heading:
    """Phrase and unit of a heading, where a unit that stands below it goes before its own."""
    apart = re.sub(r"(?<=[a-z]{2})(?=[A-Z][a-z])", " ", text)  # OutputPower
    read = read_heading(apart)
    return Heading(read.phrase, unit or read.unit, " ".join(text.split()))


def headings_of(above: Sequence[Sequence[Any]], width: int) -> list[Heading]:
    """The heading of each column, from the row above the data that says most, and the units that have a row of their own."""
    rows = [[str(cell).strip() if isinstance(cell, str) else "" for cell in row] + [""] * width for row in above]
    units = next((row for row in reversed(rows) if _is_unit_row(row[:width])), [""] * width)
    named = [row for row in rows if row is not units and (width == 1 or sum(map(bool, row[:width])) > 1)]
    if not named:
        return [heading_of("", unit.strip("[]() ")) for unit in units[:width]]
    best = max(reversed(named), key=lambda row: sum(bool(_role(heading_of(cell))) for cell in row[:width]))
    return [heading_of(text, unit.strip("[]() ")) for text, unit in zip(best[:width], units)]


def _is_unit_row(row: Sequence[str]) -> bool:
    filled = [cell.strip("[]() ") for cell in row if cell.strip("[]() -")]
    return bool(filled) and sum(map(is_unit, filled)) > len(filled) / 2


def _role(heading: Heading) -> str:
    """What a heading names; "" for nothing known."""
    phrase = bare_words(_MEAN.sub(" ", heading.phrase)).strip()
    is_in_time = bool(heading.unit) and ratio(heading.unit, "s") is not None
    if _TIME.fullmatch(phrase) or is_in_time and not phrase:
        return "time"
    if _TIME_LETTER.fullmatch(phrase):
        return "time" if is_in_time or not heading.unit and "°" not in heading.text else ""
    if phrase and _DATE_WORD.fullmatch(phrase):
        return "date"
    if _CONTACT.fullmatch(phrase):
        return "contact"
    if phrase in PHRASES["work_rpm"] or _RPM_WORD.fullmatch(phrase):
        if heading.unit not in ("", "-") and ratio(heading.unit, "1/min") != 1:
            return _OF_OTHER_UNIT
        return "work_rpm"
    if not phrase and heading.unit and ratio(heading.unit, "1/min") == 1:
        return "work_rpm"
    if _EXTREME.search(phrase):
        return ""
    if not heading.unit and heading.text == "%":
        return "load"
    for role in LOADS:
        if phrase in PHRASES[role]:
            if role != "load" and heading.unit and ratio(heading.unit, UNITS[role]) is None:
                return "load" if ratio(heading.unit, "%") is not None else ""
            return role if role != "load" else _by_unit(heading.unit) or role  # spindle load [hp] is power
    if heading.unit and phrase in ("", "p", "i", "spindle", "wheel spindle", "motor", "wheel"):
        return _by_unit(heading.unit)
    return ""


def _by_unit(unit: str) -> str:
    """The kind of load that has this unit; "" where none has."""
    return next((role for role in LOADS if ratio(unit, UNITS[role]) is not None), "") if unit else ""


def choose(
    above: Sequence[Sequence[Any]], sample: Sequence[Sequence[Any]], wanted: dict[str, str | None], load_kind: str | None
) -> Chosen:
    """The columns of a log; `wanted` are headings or letters by role, which go before what is recognised."""
    width = max(map(len, sample))
    headings, remarks = headings_of(above, width), []
    named = {role: _find(role, name, above, headings, width) for role, name in wanted.items() if name is not None}
    roles = [_role(heading) for heading in headings]
    numeric = [column for column in range(width) if _is_numeric(sample, column)]
    stamps = [column for column in range(width) if _is_stamp(sample, column)]
    dates = [column for column in range(width) if _is_date(sample, column) and column not in stamps]
    times = stamps + [column for column in numeric if roles[column] == "time" and column not in stamps]
    times = times or [column for column in numeric if roles[column] == "date"]
    times = sorted(column for column in times if column not in named.values())
    if not times and "time" not in named and not any(heading.text for heading in headings) and len(numeric) > 1:
        times = _growing(sample, numeric)
        if times:
            remarks.append(f"Without headings: column {times[0] + 1} grows, and is taken as time in seconds.")
    power, kind = _power(headings, roles, numeric, named, times, load_kind, remarks)
    time = named.get("time", _own_time(times, power))
    date = dates[0] if dates and time in stamps and not _has_date(sample, time) else None
    rpm = named.get("rpm", _only(roles, numeric, "work_rpm", power, remarks))
    other = [headings[column].text for column in numeric if roles[column] == _OF_OTHER_UNIT]
    if "rpm" in named and headings[rpm].text in other:
        raise Refused("rpm", "be a column in 1/min", f"{headings[rpm].text!r:.60}")
    if rpm is None and other:
        remarks.append(f"{other[0]!r:.60} is not in 1/min: no work rpm is read.")
    contact = named.get("contact", _only(roles, numeric, "contact", power, remarks))
    own = {column: _own_time(times, column) for column in (rpm, contact) if column is not None and len(times) > 1}
    heading = headings[power]
    factor = 1.0
    if kind != "relative":
        size = ratio(heading.unit, UNITS[kind]) if heading.unit else None
        factor = 1.0 if size is None else float(size)
        if size is None:
            remarks.append(f"The column of the {kind} names no unit: taken as {UNITS[kind]}.")
    elif heading.unit == "":
        remarks.append("The power has no unit: only its course counts, which has the same knee.")
    remarks.insert(0, _read(headings, dict(time=time, date=date, power=power, work_rpm=rpm, contact=contact)))
    return Chosen(power, kind, factor, time, date, rpm, contact, own, headings, remarks)


def _read(headings: list[Heading], columns: dict[str, int | None]) -> str:
    said = [
        f"{role} from {headings[column].text!r:.60}" if headings[column].text else f"{role} from column {column + 1}"
        for role, column in columns.items()
        if column is not None
    ]
    return f"Columns read: {', '.join(said)}."


def _find(role: str, name: str, above: Sequence[Sequence[Any]], headings: list[Heading], width: int) -> int:
    """The column that is called so, in any row of headings, or by its letter."""
    cells = [
        (plain(cell), column) for row in above for column, cell in enumerate(row) if isinstance(cell, str) and column < width
    ]
    cells += [(plain(heading.text), column) for column, heading in enumerate(headings)]
    cells += [(heading.phrase, column) for column, heading in enumerate(headings)]
    found = sorted({column for text, column in cells if text and text == plain(name)})
    if not found and _LETTERS.fullmatch(name.strip()):
        from openpyxl.utils import column_index_from_string

        column = column_index_from_string(name.strip()) - 1
        found = [column] if column < width else []
    if len(found) != 1:
        known = ", ".join(repr(heading.text) for heading in headings if heading.text)[:200]
        raise Refused(role, f"be the heading or letter of one column{f', such as {known}' if known else ''}", shown(name))
    return found[0]


def _power(
    headings: list[Heading],
    roles: list[str],
    numeric: list[int],
    named: dict[str, int],
    times: list[int],
    load_kind: str | None,
    remarks: list[str],
) -> tuple[int, str]:
    """The column of power, current or load, and its kind."""
    taken = set(times) | {column for role, column in named.items() if role != "power"}
    if "power" in named:
        found = [named["power"]]
    else:
        free = [column for column in numeric if column not in taken]
        found = next((columns for role in LOADS if (columns := [column for column in free if roles[column] == role])), [])
        found = found or [
            column
            for column in free
            if _POWER_WORD.search(headings[column].phrase) and not _EXTREME.search(headings[column].phrase)
        ]
        found = found or [
            column
            for column in free
            if roles[column] == "" and not (headings[column].text and _ROW_NUMBER.fullmatch(headings[column].phrase))
        ]
        if len(found) > 1 and all(_MEAN.search(headings[column].phrase) for column in found[:1]):
            found = [column for column in found if _MEAN.search(headings[column].phrase)]
    if len(found) != 1:
        known = ", ".join(repr(headings[column].text or f"column {column + 1}") for column in found or numeric)[:200]
        raise Refused(
            "power",
            "be one column of power, current or load",
            f"{len(found)} that may be it: {known}" if found else "none",
            hint="say power, its heading or letter",
        )
    heading = headings[found[0]]
    if load_kind is not None:
        if load_kind != "relative" and heading.unit and ratio(heading.unit, UNITS[load_kind]) is None:
            raise Refused("load_kind", f"fit the unit of column {heading.text!r:.60}", shown(load_kind))
        return found[0], load_kind
    role = _role(heading)
    if role not in LOADS and heading.unit:
        role = _by_unit(heading.unit) or "load"
    elif role not in LOADS:
        role = "power" if _POWER_WORD.search(heading.phrase) else "load"
    if heading.unit and ratio(heading.unit, UNITS[role]) is None:
        role = "load"
    return found[0], KINDS[role]


def _only(roles: list[str], numeric: list[int], role: str, power: int, remarks: list[str]) -> int | None:
    """The only column of a role; None where there is none, or several to choose from, which is said."""
    found = [column for column in numeric if roles[column] == role and column != power]
    if len(found) > 1:
        remarks.append(f"{len(found)} columns may be the {role.replace('_', ' ')}: none is read, say which.")
    return found[0] if len(found) == 1 else None


def _own_time(times: list[int], column: int) -> int | None:
    """The time column of a channel: the nearest to its left, else the first."""
    left = [time for time in times if time < column]
    return left[-1] if left else (times[0] if times else None)


def _growing(sample: Sequence[Sequence[Any]], numeric: list[int]) -> list[int]:
    """The first column, where it grows throughout and is no row number."""
    values = [number_of(_cell(row, numeric[0])) for row in sample]
    known = [value for value in values if value is not None]
    steps = [later - one for one, later in zip(known, known[1:])]
    return [numeric[0]] if steps and min(steps) > 0 and not all(step == 1 for step in steps) else []


def _cell(row: Sequence[Any], column: int) -> Any:
    return row[column] if column < len(row) else None


def number_of(cell: Any) -> float | None:
    """A number for looks only: a decimal comma counts as a point."""
    if isinstance(cell, str):
        try:
            return float(cell.strip().replace(",", "."))
        except ValueError:
            return None
    return finite_in(cell)


def _is_numeric(sample: Sequence[Sequence[Any]], column: int) -> bool:
    filled = [cell for row in sample if not is_blank(cell := _cell(row, column))]
    numbers = sum(
        looks_like_number(cell) or cell.strip().lower() in TRUTHS
        if isinstance(cell, str)
        else finite_in(cell) is not None or isinstance(cell, bool)
        for cell in filled
    )
    return numbers > len(filled) / 2


TRUTHS = {
    "true": 1.0,
    "false": 0.0,
    "on": 1.0,
    "off": 0.0,
    "wahr": 1.0,
    "falsch": 0.0,
    "vrai": 1.0,
    "faux": 0.0,
    "vero": 1.0,
    "falso": 0.0,
}


def _matches(sample: Sequence[Sequence[Any]], column: int, pattern: re.Pattern) -> bool:
    filled = [cell for row in sample if not is_blank(cell := _cell(row, column))]
    return bool(filled) and sum(isinstance(cell, str) and bool(pattern.fullmatch(cell)) for cell in filled) > len(filled) / 2


def _is_stamp(sample: Sequence[Sequence[Any]], column: int) -> bool:
    return _matches(sample, column, STAMP)


def _is_date(sample: Sequence[Sequence[Any]], column: int) -> bool:
    return _matches(sample, column, DATE)


def _has_date(sample: Sequence[Sequence[Any]], column: int) -> bool:
    first = next(cell for row in sample if isinstance(cell := _cell(row, column), str) and STAMP.fullmatch(cell))
    return STAMP.fullmatch(first)[1] is not None
