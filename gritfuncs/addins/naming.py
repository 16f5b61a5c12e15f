"""The names of functions as they are stored in files.  Calc without the extension writes the name back in small letters,
so case never counts.
"""

from __future__ import annotations

import re

CALC_SERVICE = "org.gritfuncs.Cells"  # stored in users' files: never to be changed
_STORED = re.compile(rf"(?:.*!)?(?:{re.escape(CALC_SERVICE)}\.|_xll\.|_xludf\.|_xlfn\.)?(.+)", re.IGNORECASE)


def calc_stored_name(sheet_name: str) -> str:
    """How Calc writes a function into a file, before the opening bracket."""
    return f"{CALC_SERVICE}.{sheet_name}".upper()


def sheet_name(stored: str) -> str:
    """The sheet name, from the name that any host stored: without workbook, service and case."""
    found = _STORED.fullmatch(stored)
    return (found[1] if found else stored).upper()
