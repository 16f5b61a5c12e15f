"""Text files: encoding, rows under a delimiter, and the table of readings in them."""

from __future__ import annotations

import codecs
import csv
import io
import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..refused import Refused
from .layout import find_layout
from .numbers import SIGN_NAMES, decimal_sign, looks_like_number, parse
from .rows import Row, filled, one_line
from .table import Table, table_of
from .words import Words, leading_lines

ENDINGS = (".csv", ".tsv", ".txt")
DELIMITERS = (";", "\t", ",")  # the comma last, because it may also be a decimal sign
MAX_BYTES = 2_000_000
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
NUMBER_ROLES = ("work_rpm", "power", "current", "load", "idle", "grit_depth", "specific_energy")
_NOT_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f]")


def table(path: Path, columns: Mapping[str, str] | None, load_kind: str | None) -> Table:
    """What a text file holds, under the first delimiter with which it has readings."""
    text = read_text(path)
    problems: list[ValueError] = []
    for delimiter in DELIMITERS:
        try:
            rows = split(text, delimiter)
            layout = find_layout(rows, columns, load_kind, _is_number)
            break
        except ValueError as problem:
            problems.append(problem)
    else:
        raise max(problems, key=lambda problem: getattr(problem, "nearness", math.inf))
    lines = leading_lines(rows[: layout.start], delimiter)
    decimal = Words({word: line.value for word, line in lines.items()}).choice("decimal", tuple(SIGN_NAMES.values()))
    if decimal is None:
        written = [
            row.cell(layout.columns[role]) for row in rows[layout.start :] for role in NUMBER_ROLES if role in layout.columns
        ]
        written += [line.value for line in lines.values()]
        sign = decimal_sign([item for item in written if isinstance(item, str)], delimiter)
    else:
        sign = next(sign for sign, name in SIGN_NAMES.items() if name == decimal)

    def value(role: str, cell: Any) -> Any:
        number = parse(cell, sign) if isinstance(cell, str) and role in NUMBER_ROLES else None
        return cell if number is None else number

    numbered = {word: line._replace(value=value("power", line.value)) for word, line in lines.items()}
    return table_of(one_line(path.name), rows, layout, numbered, value)


def _is_number(cell: Any) -> bool:
    return isinstance(cell, str) and looks_like_number(cell)


def read_text(path: Path) -> str:
    """The text of a file: UTF-8, UTF-16 with byte order mark, or Windows-1252; ValueError for anything else."""
    with path.open("rb") as file:
        data = file.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise Refused("", f"be at most {MAX_BYTES / 1e6:g} MB: condense a log to a few dozen readings")
    if data.startswith(b"PK\x03\x04"):
        raise Refused("", "be a text file, but it is a zip file; give a workbook the ending .xlsx")
    encodings = [encoding for mark, encoding in _MARKS if data.startswith(mark)] or ["utf-8", "cp1252"]
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if _NOT_TEXT.search(text):
            break
        if not text.strip():
            raise Refused("", "hold readings, but it is empty")
        return text
    raise Refused("", "be a text file in UTF-8, UTF-16 with byte order mark or Windows-1252")


def split(text: str, delimiter: str) -> list[Row]:
    """The filled rows under this delimiter, numbered by the line they start in; ValueError for broken quotes."""
    return filled(_rows(text, delimiter))


def _rows(text: str, delimiter: str):
    # strict, because a quote that is never closed would swallow all rows after it without a word
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True, skipinitialspace=True)
    start = 1
    try:
        for cells in reader:
            yield Row(start, cells)
            start = reader.line_num + 1
    except csv.Error as error:
        raise Refused(f"line {start}", f"be text with closed quotes ({error})") from None
