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
from ..values import is_blank
from .headings import NUMBER_ROLES, roles_in, words
from .layout import Layout, find_layout
from .lines import Lead
from .lines_around import lines_around
from .numbers import SIGN_NAMES, decimal_sign, looks_like_number, parse
from .own_columns import setting_in
from .rows import Row, filled, one_line, quoted
from .shop_units import Words
from .stated_units import number_and_unit
from .table import Table, table_of
from .words import KNOWN

ENDINGS = (".csv", ".tsv", ".txt")
DELIMITERS = (";", "\t", ",")  # the comma last, because it may also be a decimal sign
MAX_BYTES = 2_000_000
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
_CODE_PAGES = ("cp1252", "cp1250", "iso8859-2")  # of Western and of Central Europe
_NOT_LATIN = re.compile(b"[\x80-\x9f]")  # control signs that no text has
_NOT_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f]")


def table(path: Path, columns: Mapping[str, str] | None, load_kind: str | None, heading_row: int | None = None) -> Table:
    """What a text file holds, under the first delimiter with which it has readings."""
    text = read_text(path)
    problems: list[Refused] = []
    for delimiter in DELIMITERS:
        try:
            rows = split(text, delimiter)
            layout = find_layout(rows, columns, load_kind, _is_number, heading_row)
            break
        except Refused as problem:
            problems.append(problem)
    else:
        raise max(problems, key=lambda problem: getattr(problem, "nearness", math.inf))
    _check_commas(rows, layout, delimiter)
    lead, rows = lines_around(rows, layout, _is_number, delimiter)
    sign = _decimal_sign(rows, layout, lead, delimiter)

    def value(cell: Any) -> Any:
        number = parse(cell, sign) if isinstance(cell, str) else None
        return cell if number is None else number

    numbered = {word: line._replace(value=value(line.value)) for word, line in lead.lines.items()}
    lead = lead._replace(lines=numbered)
    return table_of(one_line(path.name), rows, layout, lead, value, lambda text: parse(text, sign))


def _check_commas(rows: list[Row], layout: Layout, delimiter: str) -> None:
    """Refused where a row has whole numbers beyond the headings, as decimal commas make them where commas part the columns."""
    if delimiter != "," or not any(layout.texts):
        return
    headed = 1 + max(column for column, text in enumerate(layout.texts) if text)
    for row in rows[layout.start :]:
        beyond = [cell for cell in row.cells[headed:] if not is_blank(cell)]
        if len(row.cells) > len(layout.texts) and beyond and all(cell.strip().isdecimal() for cell in beyond):
            must = f"have no more cells than there are headings, {headed}, where commas part the columns"
            hint = "if numbers have a decimal comma, part the columns by semicolons"
            raise Refused(f"row {row.number}", must, quoted(",".join(row.cells)), hint=hint)


def _decimal_sign(rows: list[Row], layout: Layout, lead: Lead, delimiter: str) -> str:
    """The sign that a line states, or the one that the numbers that are read settle."""
    stated = Words({word: line.value for word, line in lead.lines.items()}).choice("decimal", tuple(SIGN_NAMES.values()))
    if stated is not None:
        return next(sign for sign, name in SIGN_NAMES.items() if name == stated)
    roles = [role for role in NUMBER_ROLES if role in layout.columns]
    steady = [column for column in layout.other_columns() if setting_in(layout, column)[0]]
    written = [row.cell(column) for row in rows[layout.start :] for column in [layout.columns[role] for role in roles] + steady]
    written = [(number_and_unit(item) or (item,))[0] for item in written if isinstance(item, str)]
    written += [line.value for word, line in lead.lines.items() if word != "date" and isinstance(line.value, str)]
    return decimal_sign(written, delimiter)


def _is_number(cell: Any) -> bool:
    return isinstance(cell, str) and looks_like_number(cell)


def read_text(path: Path) -> str:
    """The text of a file: UTF-8, UTF-16 with byte order mark, or a code page; ValueError for anything else.

    A file does not say its code page: it is the one of _CODE_PAGES under which most words are known, the first of several.
    """
    with path.open("rb") as file:
        data = file.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise Refused("", f"be at most {MAX_BYTES / 1e6:g} MB: condense a log to a few dozen readings")
    if data.startswith(b"PK\x03\x04"):
        raise Refused("", "be a text file, but it is a zip file; give a workbook the ending .xlsx")
    marked = next((encoding for mark, encoding in _MARKS if data.startswith(mark)), "")
    text = _under(marked or "utf-8", data)
    if text is None and not marked:
        text = max((_under(page, data) for page in _CODE_PAGES), key=_known)
    if text is None:
        must = "be a text file in UTF-8, UTF-16 with byte order mark, Windows-1252, Windows-1250 or ISO 8859-2"
        raise Refused("", must, hint="a spreadsheet program saves it as CSV UTF-8")
    if not text.strip():
        raise Refused("", "hold readings, but it is empty")
    return text


def _under(encoding: str, data: bytes) -> str | None:
    """The text under an encoding; None where it is none."""
    if encoding == "iso8859-2" and _NOT_LATIN.search(data):
        return None
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        return None
    return None if _NOT_TEXT.search(text) else text


def _known(text: str | None) -> int:
    """How many words of a text are known as ones of headings or setup lines; short ones come about by chance."""
    return sum(len(word) > 3 and word in KNOWN for word in words(text).split()) if text else 0


class BrokenQuotes(Refused):
    """A quote that is never closed, or text behind a closed one: under another delimiter it may be whole."""

    nearness = -1.0


def split(text: str, delimiter: str) -> list[Row]:
    """The filled rows under this delimiter, numbered by the line they start in; ValueError for broken quotes."""
    rows: list[Row] = []
    try:
        for row in _rows(text, delimiter):
            rows.append(row)
    except BrokenQuotes as problem:
        if any(roles_in(row.cells)[0] for row in rows):  # this is how the file is parted
            problem.nearness = math.inf
        raise
    return filled(rows)


def _rows(text: str, delimiter: str):
    # strict, because a quote that is never closed would swallow all rows after it without a word
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True, skipinitialspace=True)
    start = 1
    try:
        for cells in reader:
            yield Row(start, cells)
            start = reader.line_num + 1
    except csv.Error as error:
        raise BrokenQuotes(f"line {start}", f"be text with closed quotes ({error})") from None
