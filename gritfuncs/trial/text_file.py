"""Text files: encoding, and rows under a delimiter."""

from __future__ import annotations

import codecs
import csv
import io
import re
from pathlib import Path

from .rows import Row, filled

ENDINGS = (".csv", ".tsv", ".txt")
DELIMITERS = (";", "\t", ",")  # the comma last, because it may also be a decimal sign
MAX_BYTES = 2_000_000
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
_NOT_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f]")


def read_text(path: Path) -> str:
    """The text of a file: UTF-8, UTF-16 with byte order mark, or Windows-1252; ValueError for anything else."""
    with path.open("rb") as file:
        data = file.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise ValueError(f"must be at most {MAX_BYTES / 1e6:g} MB: condense a log to a few dozen readings")
    if data.startswith(b"PK\x03\x04"):
        raise ValueError("must be a text file, but it is a zip file; give a workbook the ending .xlsx")
    encodings = [encoding for mark, encoding in _MARKS if data.startswith(mark)] or ["utf-8", "cp1252"]
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if _NOT_TEXT.search(text):
            break
        if not text.strip():
            raise ValueError("must hold readings, but it is empty")
        return text
    raise ValueError("must be a text file in UTF-8, UTF-16 with byte order mark or Windows-1252")


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
        raise ValueError(f"line {start} must be text with closed quotes ({error})") from None
