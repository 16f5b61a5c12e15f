"""A line that gives a setup value, taken apart: its word, value, unit and basis."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, NamedTuple

from ..quantities import QUANTITIES
from ..refused import Refused
from ..units import is_unit, ratio
from ..values import is_blank
from .headings import basis_of, heads_idle, plain, read_heading, without_basis, words
from .readings import Unreadable
from .rows import Measured, Row, one_line, quoted, short
from .stated_units import holds_number, is_number, number_and_unit, split_value, unit_of
from .words import ALSO_GIVEN_AS, STEADY_WORDS, TEXT_WORDS, WORD_CALLED, may_be_mark, quantity_of

CELLS = "\t"  # parts the cells of a row where a file has no other sign between them
_LONGEST_LINE = 500  # signs; a longer one is a remark
_LINE = re.compile(r"#?\s*([^=:]*?)\s*[=:]\s*(.*)", re.DOTALL)
_SENTENCE = re.compile(r"#?\s*([^\d=:]*[^\d=:\s.,+-])\s+([+-]?[.,]?\d.*)", re.DOTALL)  # wheel diameter 200 mm
_MENTIONS = re.compile(
    r"\b(?:radius|diam|diám|diâm|dia\b|durchmesser|rayon|raggio|radi[oe]n?\b|raio|średnic|promie|průměr|poloměr)|ø"
)
_RADIUS = re.compile(r"\b(?:radius|rayon|raggio|radio|raio|radie|promien|polomer)\b")
_PARTS = re.compile(r"[,;=]|\s/\s")  # mm/min, 0.3 mm/min on radius


class Line(NamedTuple):
    row: int
    value: Any
    unit: str = ""  # "" where none is stated
    basis: str = ""  # radius or diameter, where the label says so


class Lead(NamedTuple):
    """What stands above the headings: the words that are known, and the rows with a number that nothing was made of."""

    lines: dict[str, Line]
    unread: tuple[str, ...] = ()
    title: str = ""  # the first text that is neither a word that is known nor a number


def leading_lines(rows: Iterable[Row], delimiter: str = CELLS) -> Lead:
    """Values by word, from rows such as `wheel diameter | 200 | mm` or `# wheel_diameter = 200 mm`.

    Rows that begin with no known word are titles and remarks; those with a number are given back as unread.
    """
    found: dict[str, Line] = {}
    unread, title = [], ""
    for row in (part for whole in rows for part in _one_label_each(whole)):
        word, heading, rest = _parts(row, delimiter)
        if word is None:
            first = row.cells[0] if row.cells else ""
            said = [str(cell) for cell in (first, *rest) if not isinstance(cell, Unreadable)]
            marked = len(str(first)) < _LONGEST_LINE and any(map(str.isdigit, "".join(said))) and may_be_mark(str(first))
            if any(map(holds_number, [*rest, *_behind_words(row)])) or marked:
                unread.append(f"row {row.number} '{short(row.cells[0] if row.cells else '')}'")
            title = title or _title(row, delimiter)
            continue
        word, line = _line(row.number, word, heading, rest)
        if word in found:
            raise Refused(word, "be given once", f"it in rows {found[word].row} and {row.number}")
        found[word] = line
        more = [cell for cell in rest if is_number(cell)][1:]
        if more:
            unread.append(f"row {row.number} {short(more[0])} behind '{short(row.cells[0])}'")
    return Lead(found, tuple(unread), title)


def _title(row: Row, delimiter: str) -> str:
    """The row as a line of text, "" where it begins with none."""
    cells = [cell for cell in row.cells if not is_blank(cell)]
    if not cells or not isinstance(cells[0], str) or is_number(cells[0]):
        return ""
    between = {CELLS: " ", ",": ", "}.get(delimiter, delimiter)
    return one_line(between.join(str(cell).strip() for cell in cells if not isinstance(cell, Unreadable))).strip("# ")


def line_of(number: int, word: str, value: Any) -> tuple[str, Line]:
    """What a line says that gives a word one value, 200 or "200 mm"; a wheel speed in 1/min is another word."""
    return _line(number, word, _Label(), [value])


def _line(number: int, word: str, heading: _Label, rest: list[Any]) -> tuple[str, Line]:
    """Word, value, unit and basis of a line, from what its label says and the cells behind it."""
    if len(rest) > 1 and _is_symbol(word, rest[0]) and is_number(rest[1]):  # label, symbol, value
        rest = rest[1:]
    if len(rest) > 1 and is_unit(rest[0]) and is_number(rest[1]):  # the unit before the value
        rest = [rest[1], rest[0], *rest[2:]]
    value, *behind = rest if rest and not is_unit(rest[0]) else [None] + rest
    tail = shown = ""
    if isinstance(value, Measured):
        value, shown = value.shown, value.unit
    if isinstance(value, str) and word not in TEXT_WORDS:
        value, tail = split_value(word, value)
    behind = [cell for cell in behind if isinstance(cell, str)]
    basis, doubtful = heading.basis, heading.doubtful
    if word in ("infeed_rate", "lowest_infeed_rate", "highest_infeed_rate"):
        basis, doubtful, tail, *behind = _basis_beside(basis, [doubtful, tail, *behind])
        if word != "infeed_rate" and basis == "diameter":
            raise Refused(word, "be on the radius: half of what is on the diameter", quoted(value))
    if word in ("wheel_diameter", "work_diameter"):
        _refuse_radius(word, value, [heading.doubtful, tail, *behind[:1]])
    unit = unit_of(word, [heading.unit, tail, shown] + behind[:1], doubtful)
    if word in ALSO_GIVEN_AS and unit and ratio(unit, QUANTITIES[word].unit) is None:
        if ratio(unit, QUANTITIES[ALSO_GIVEN_AS[word]].unit) is not None:
            word = ALSO_GIVEN_AS[word]  # a wheel speed in rpm
    return word, Line(number, value, unit, basis)


def _refuse_radius(word: str, value: Any, texts: list[str]) -> None:
    """Refuse a diameter that the words beside it call a radius; a radius with its own number is a remark."""
    for text in texts:
        if _RADIUS.search(words(text)) and not any(map(str.isdigit, text)):
            raise Refused(word, "be a diameter, twice the radius", quoted(f"{value} {text}"))


def _one_label_each(row: Row) -> list[Row]:
    """The row in parts that each begin with a label of the setup: wheel diameter | 200 | mm | work diameter | 20 | mm."""
    cells = [cell for cell in row.cells if not is_blank(cell)]
    first = next((place for place, cell in enumerate(cells) if isinstance(cell, str) and word_of(cell)[0]), None)
    if first != 0:
        return [row]
    starts = [0] + [place for place, cell in enumerate(cells) if place > 1 and _is_label(cell)] + [len(cells)]
    return [row._replace(cells=cells[start:end]) for start, end in zip(starts, starts[1:])]


def _is_label(cell: Any) -> bool:
    return isinstance(cell, str) and not is_unit(cell) and word_of(cell)[0] is not None


def _is_symbol(word: str, cell: Any) -> bool:
    """Whether a cell is the symbol of a word, or a sign between label and value."""
    quantity = quantity_of(word)
    return isinstance(cell, str) and (cell.strip() in ("=", ":") or bool(quantity) and words(cell) == words(quantity.symbol))


def _basis_beside(basis: str, texts: list[str]) -> list[str]:
    """The basis of an infeed rate that its label or a text beside its value says, and these texts without the words for it."""
    left = []
    for text in texts:
        rest, said = without_basis(re.sub(r"[(\[{](.*?)[)\]}]", r", \1", text))
        if basis_of(text):
            rest, said = "", basis_of(text)
        elif _MENTIONS.search(plain(rest if said else text)) or said and holds_number(_PARTS.split(rest)[-1].strip()):
            must = "say radius or diameter in plain words, such as 'on diameter'"
            raise Refused("infeed_rate", must, quoted(text), hint="or give a line infeed_basis")
        if said and basis and said != basis:
            raise Refused("infeed_rate", "be on the radius or on the diameter", f"{basis} and {said}")
        basis = basis or said
        left.append(rest if said else text)
    return [basis, *left]


def _behind_words(row: Row) -> list[str]:
    """What stands behind the words of a row's first text; a number alone, as in "Trial 7", belongs to them."""
    text = next((cell for cell in row.cells if not is_blank(cell)), None)
    sentence = _SENTENCE.fullmatch(text.strip()) if isinstance(text, str) and len(text) <= _LONGEST_LINE else None
    return [] if sentence is None or is_number(sentence.group(2)) else [sentence.group(2)]


class _Label(NamedTuple):
    unit: str = ""
    basis: str = ""
    doubtful: str = ""


def is_line(row: Row) -> bool:
    """Whether a row is one of the setup's."""
    return _parts(row, CELLS)[0] is not None


def _parts(row: Row, delimiter: str) -> tuple[str | None, _Label, list[Any]]:
    """Word, what else its label says, and the cells behind it; without a word the cells that stand for its value."""
    cells = [cell for cell in row.cells if not is_blank(cell)]
    if not cells or not isinstance(cells[0], str):
        return None, _Label(), cells[1:]
    if len(cells) > 1:
        word, heading = word_of(cells[0])
        if word is not None:
            return word, heading, cells[1:]
    text = delimiter.join(map(str, cells)).strip()
    if len(text) > _LONGEST_LINE:
        return None, _Label(), cells[1:]
    joined = _LINE.fullmatch(text)
    if joined is not None:
        word, heading = word_of(joined.group(1))
        return word, heading, _apart(joined.group(2), delimiter) or [None]  # label: value; unit
    if any(map(is_number, cells[1:])):
        return None, _Label(), cells[1:]
    sentence = _SENTENCE.fullmatch(text)
    word, heading = word_of(sentence.group(1)) if sentence else (None, _Label())
    if word is not None:
        return word, heading, _apart(sentence.group(2), delimiter)
    word, heading = word_of(text) if len(cells) == 1 else (None, _Label())
    return word, heading, cells[1:]


def _apart(text: str, delimiter: str) -> list[Any]:
    return [part.strip() for part in text.split(delimiter) if part.strip()]


def word_of(label: str) -> tuple[str | None, _Label]:
    """The word that a label names, with the unit and the basis that it states."""
    if len(label) > _LONGEST_LINE:
        return None, _Label()
    label = label.strip().lstrip("# ").rstrip(" :=")
    for text in (label, re.sub("^in[_ ]", "", label, flags=re.IGNORECASE)):
        if words(text) in WORD_CALLED and not re.search(r"[(\[{%\"]", text):
            word = WORD_CALLED[words(text)]
            return word, _Label(basis=without_basis(text)[1] if word == "infeed_rate" else "")
        heading = read_heading(text)
        phrase = re.sub("^in ", "", heading.phrase)
        if phrase in WORD_CALLED and WORD_CALLED[phrase] != "idle":
            return WORD_CALLED[phrase], _Label(heading.unit, heading.basis, heading.doubtful)
        if heads_idle(text, heading.phrase, heading.unit, heading.doubtful) and not _states_value(text):
            return "idle", _Label(heading.unit, "", heading.doubtful)
    return None, _Label()


def _states_value(text: str) -> bool:
    """Whether a text is more than a label: idle = 0.86, idle 0.86 kW."""
    sentence = _SENTENCE.fullmatch(text)
    return _LINE.fullmatch(text) is not None or sentence is not None and number_and_unit(sentence[2]) is not None


def column_line(heading: str) -> tuple[str, str, str]:
    """The setup word that heads a column, "" for none, with its unit and basis."""
    word, label = word_of(heading)
    if word is None or word not in STEADY_WORDS:
        return "", "", ""
    if word in ALSO_GIVEN_AS and label.unit and ratio(label.unit, QUANTITIES[ALSO_GIVEN_AS[word]].unit) is not None:
        word = ALSO_GIVEN_AS[word]
    basis, doubtful = label.basis, label.doubtful
    if word == "infeed_rate":
        basis, doubtful = _basis_beside(basis, [doubtful])
    return word, unit_of(word, [label.unit], doubtful), basis
