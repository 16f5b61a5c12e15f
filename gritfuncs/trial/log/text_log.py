"""Text files of any length: their dialect from the beginning, then the wanted columns piece by piece."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np

from ...refused import Refused
from ..numbers import decimal_sign, looks_like_number, parse
from ..rows import one_line
from .clock import DATE, STAMP
from .columns import TRUTHS, number_of

ENDINGS = (".csv", ".tsv", ".txt", ".log", ".dat", ".asc", ".prn")
DELIMITERS = (";", "\t", ",", "|", " ")  # a blank parts columns wherever any number of blanks stands
_HEAD = 1 << 18  # bytes that are looked at to learn the dialect
_PIECE = 1 << 21  # bytes that are read at a time
SAMPLE = 200  # rows
_ABOVE = 60  # rows above the data at most
_WIDEST_STAMP = 40
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
_BINARY = re.compile("[\x00-\x08\x0b\x0e-\x1f]")
_RATE = re.compile(r"(?<![\w.,])(\d+(?:[.,]\d+)?)\s*(k?)hz\b", re.IGNORECASE)
_UNITS = "µs|us|ms|sec|seconds|s|min|hz|khz|1/s"
_INTERVAL = re.compile(
    r"#?\s*(?:sample |sampling |scan |log(?:ging)? |time )?(interval|period|rate|frequency|time step|timestep|dt|delta ?t|increment|abtastrate|abtastintervall)"
    rf"[^\d:=;,\t\[(]*(?:[\[(]\s*({_UNITS})\s*[\])])?[^\d:=;,\t]*[:=;,\t\s]+\s*([\d.,]+)\s*[;,\t]?\s*[\[(]?\s*(?:({_UNITS})\b)?.*",
    re.IGNORECASE,
)


class Dialect(NamedTuple):
    """How the rows of a file are written, and where they begin."""

    encoding: str
    delimiter: str
    decimal: str
    quoted: bool
    first: int  # lines above the data
    above: list[list[str]]
    sample: list[list[str]]
    interval: float | None  # s, where a line above the data or a heading says it


def dialect(path: Path) -> Dialect:
    """What the beginning of the file shows; ValueError where it shows no rows of numbers."""
    with path.open("rb") as file:
        data = file.read(_HEAD)
    whole = len(data) < _HEAD
    if data.startswith(b"PK\x03\x04"):
        raise Refused("", "be a text file, but it is a zip file; give a workbook the ending .xlsx")
    encoding = _encoding(data)
    text = data.decode(encoding, errors="replace").lstrip("\ufeff")
    if _BINARY.search(text):
        raise Refused(
            "", "be text or .xlsx", "another kind of file", hint="read it with its own reader, and give arrays of time and power"
        )
    lines = text.splitlines()
    lines = lines if whole else lines[:-1]
    delimiter, first = _delimiter(lines)
    rows = [_cells(line, delimiter) for line in lines[first : first + SAMPLE] if line.strip()]
    above = [_cells(line, delimiter) for line in lines[:first] if line.strip()]
    texts = [cell for row in rows for cell in row if looks_like_number(cell)]
    sign = decimal_sign(texts, delimiter)
    return Dialect(
        encoding,
        delimiter,
        sign,
        any('"' in line for line in lines[first : first + SAMPLE]),
        first,
        above[-_ABOVE:],
        rows,
        interval_in(lines[:first]),
    )


def _encoding(data: bytes) -> str:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return encoding
    try:
        codecs.getincrementaldecoder("utf-8")().decode(data)
        return "utf-8"
    except UnicodeDecodeError:
        return "cp1252"


def _cells(line: str, delimiter: str) -> list[str]:
    if delimiter == " ":
        return line.split()
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])]
    except csv.Error:
        return line.split(delimiter)


def _delimiter(lines: list[str]) -> tuple[str, int]:
    """The delimiter under which most lines are rows of data, and the first of these."""
    best: tuple[int, int, str, int] = (0, 0, "", 0)  # rows, columns, delimiter, first row
    for delimiter in DELIMITERS:
        kinds = [_width(_cells(line, delimiter)) if line.strip() else 0 for line in lines[: _ABOVE + SAMPLE]]
        width = max(set(kinds) - {0}, key=kinds.count, default=0)
        if width and delimiter == "," and _is_decimal_comma(lines, kinds, width):
            continue
        count = kinds.count(width) if width else 0
        no_less = (
            delimiter == "," and count == best[0] and width > best[1] == 1
        )  # whole numbers look like ones with a decimal comma
        if no_less or count > best[0] * (1.0 if width > 1 else 1.5):
            best = (count, width, delimiter, next(place for place in range(len(kinds)) if _begins(kinds, place, width)))
    if best[0] < 3:
        raise Refused(
            "",
            "have rows of numbers with power in a column",
            one_line(next((line for line in lines if line.strip()), "no text"), 60),
        )
    return best[2], best[3]


def _begins(kinds: list[int], place: int, width: int) -> bool:
    """Whether the data begin here: this line and the next ones are rows."""
    following = kinds[place : place + 3]
    return kinds[place] == width and following.count(width) >= min(3, len(following)) - 1


def _width(cells: list[str]) -> int:
    """The number of cells of a line that is a row of data, else 0."""
    filled = [cell for cell in cells if cell]
    good = sum(
        looks_like_number(cell) or bool(STAMP.fullmatch(cell) or DATE.fullmatch(cell)) or cell.lower() in TRUTHS
        for cell in filled
    )
    numbers = sum(looks_like_number(cell) or number_of(cell) is not None for cell in filled)
    return len(cells) if numbers and good >= 0.6 * len(filled) else 0


def _is_decimal_comma(lines: list[str], kinds: list[int], width: int) -> bool:
    """Whether the comma that seems to part two columns is a decimal comma: the heading above has one column only, or is none."""
    first = next(place for place in range(len(kinds)) if kinds[place] == width)
    heading = next((line for line in reversed(lines[:first]) if line.strip()), "")
    is_one = bool(heading) or looks_like_number(lines[first].strip())
    return width == 2 and is_one and "," not in heading and not re.search(r"[;\t|]", lines[first])


def interval_in(lines: list[str]) -> float | None:
    """Seconds from row to row, as a line above the data says it: interval = 0.1 s, rate: 10 Hz, Power (10 Hz)."""
    for line in lines:
        match = _INTERVAL.fullmatch(line.strip().replace('"', ""))
        if match:
            value = number_of(match[3].rstrip(".,"))
            unit = (match[4] or match[2] or "").lower()
            is_rate = unit in ("hz", "khz", "1/s") or not unit and match[1].lower() in ("rate", "frequency", "abtastrate")
            if value and value > 0 and (unit or is_rate):
                size = {"ms": 1e-3, "us": 1e-6, "µs": 1e-6, "min": 60.0, "khz": 1e3}.get(unit, 1.0)
                return 1 / (value * size) if is_rate else value * size
    rates = {float(value.replace(",", ".")) * (1000 if kilo else 1) for line in lines for value, kilo in _RATE.findall(line)}
    return 1 / rates.pop() if len(rates) == 1 and min(rates) > 0 else None


class Piece(NamedTuple):
    """The wanted columns of some rows: numbers, or bytes where texts were wanted."""

    columns: list[np.ndarray]
    unread: int  # rows without a number in any wanted column
    first_unread: str


def pieces(
    path: Path, how: Dialect, numbers: list[int], texts: list[int], progress: Callable[[float], None] | None = None
) -> Iterator[Piece]:
    """The columns in the order numbers, texts, piece by piece; rows that hold no number there are counted."""
    size, done = max(1, path.stat().st_size), 0
    read = _Reader(how, numbers, texts)
    with path.open("r", encoding=how.encoding, errors="replace", newline=None) as file:
        for _ in range(how.first):
            file.readline()
        rest = ""
        while True:
            text = file.read(_PIECE)
            done += len(text)
            if not text:
                break
            if progress:
                progress(min(0.99, done / size))
            end = text.rfind("\n") + 1
            if not end:
                rest += text
                continue
            whole, rest = rest + text[:end], text[end:]
            yield read(whole)
    if rest.strip():
        yield read(rest)
    if progress:
        progress(1.0)


class _Reader:
    """Reads the text of whole lines."""

    def __init__(self, how: Dialect, numbers: list[int], texts: list[int]):
        self.how, self.numbers, self.texts = how, numbers, texts
        self.fields = [(f"n{column}", "f8") for column in numbers] + [(f"t{column}", f"S{_WIDEST_STAMP}") for column in texts]
        self.decimal_in_quotes = how.quoted and how.delimiter == how.decimal == ","
        self.blank = (
            re.compile(rf"(?<={re.escape(how.delimiter)})(?=[{re.escape(how.delimiter)}\r\n])") if how.delimiter != " " else None
        )

    def __call__(self, text: str) -> Piece:
        if not text.strip():
            return Piece([np.array([], kind) for _, kind in self.fields], 0, "")
        if not self.decimal_in_quotes:
            plain = text.replace('"', "") if self.how.quoted else text
            if self.how.decimal == "," and self.how.delimiter != ",":
                plain = plain.replace(",", ".")
            for prepared in (str, self._with_blanks):
                try:
                    return Piece(self._fast(prepared(plain)), 0, "")
                except ValueError:
                    continue
        return self._row_by_row(text)

    def _with_blanks(self, text: str) -> str:
        """The text with nan in blank cells."""
        return self.blank.sub("nan", text) if self.blank else text

    def _fast(self, text: str) -> list[np.ndarray]:
        # the C reader of numpy; columns in the order of the file, then put into ours
        order = self.numbers + self.texts
        delimiter = None if self.how.delimiter == " " else self.how.delimiter
        lines = io.StringIO(text)
        if self.texts:
            data = np.loadtxt(
                lines, dtype=self.fields, delimiter=delimiter, usecols=order, comments=None, ndmin=1, encoding="utf-8"
            )
            return [data[name] for name, _ in self.fields]
        data = np.loadtxt(lines, delimiter=delimiter, usecols=order, comments=None, ndmin=2)
        return list(data.T)

    def _row_by_row(self, text: str) -> Piece:
        """The same cell by cell: what is no number is nan."""
        columns: list[list] = [[] for _ in self.fields]
        unread, first_unread = 0, ""
        for line in text.splitlines():
            if not line.strip():
                continue
            cells = _cells(line, self.how.delimiter)
            values = [self._number(cells[column]) if column < len(cells) else np.nan for column in self.numbers]
            stamps = [cells[column].encode("latin-1", "replace") if column < len(cells) else b"" for column in self.texts]
            is_data = any(value == value for value in values) and all(map(_starts_with_digit, stamps))
            if not is_data and (self.texts and not all(map(_starts_with_digit, stamps)) or not self.texts and not _width(cells)):
                unread, first_unread = unread + 1, first_unread or one_line(line, 40)
                continue
            for column, value in zip(columns, values + stamps):
                column.append(value)
        return Piece([np.array(column, kind) for column, (_, kind) in zip(columns, self.fields)], unread, first_unread)

    def _number(self, cell: str) -> float:
        value = parse(cell, self.how.decimal)
        if value is None:
            value = TRUTHS.get(cell.strip().lower(), np.nan)
        return value


def _starts_with_digit(stamp: bytes) -> bool:
    return stamp[:1].isdigit()
