"""The shop's record of knees as a file: read, and appended to without harm to what a shop has added to it."""

from __future__ import annotations

from .add import Added, add
from .entries import Entry, Record, read_record

__all__ = ["Added", "Entry", "Record", "add", "read_record"]
