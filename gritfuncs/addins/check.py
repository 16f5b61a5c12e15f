"""What is ready on this machine for each way into a spreadsheet, and what the next step is.  Nothing is changed."""

from __future__ import annotations

import os
import platform
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from .. import __version__
from .calc import IDENTIFIER

READY, NOT_READY, UNKNOWN = "ready", "not ready", "cannot be told from here"
SECONDS = 60  # that LibreOffice may take to list its extensions
_INSTALLED = re.compile(
    rf"^Identifier: {re.escape(IDENTIFIER)}\n\s*Version: (?P<version>\S+)\n(?:(?!Identifier:).*\n)*?\s*is registered: (?P<registered>\w+)",
    re.MULTILINE,
)
_TYPE_VERSION = "type =GRIT_VERSION() into a cell"


class State(NamedTuple):
    """One way into a spreadsheet: what was seen of it, and what to do next."""

    title: str
    state: str  # READY, NOT_READY or UNKNOWN
    found: str
    next_step: str


def python_state() -> State:
    return State(
        "Python and command line", READY, f"gritfuncs {__version__} on Python {platform.python_version()}", "gritfuncs demo"
    )


def no_add_in_state() -> State:
    return State("any spreadsheet, no add-in", READY, "native formulas only", "gritfuncs templates DIR, or gritfuncs share BOOK")


def has_excel() -> bool:
    """Whether Windows knows a program of this name."""
    if sys.platform != "win32":
        return False
    import winreg

    try:
        winreg.CloseKey(winreg.OpenKey(winreg.HKEY_CLASSES_ROOT, "Excel.Application"))
    except OSError:
        return False
    return True


def excel_state() -> State:
    title = "Excel through xlwings"
    if sys.platform != "win32":
        system = platform.system() or sys.platform
        step = "gritfuncs addin names BOOK, or gritfuncs share BOOK"
        return State(title, NOT_READY, f"needs Excel on Windows (this is {system})", step)
    if not has_excel():
        return State(title, NOT_READY, "Excel is not installed", "gritfuncs addin calc, for LibreOffice")
    found = "Excel is installed; whether the functions are imported shows in Excel only"
    return State(title, UNKNOWN, found, f"{_TYPE_VERSION}; if that is #NAME?: gritfuncs addin excel DIR")


def calc_state() -> State:
    title = "LibreOffice Calc"
    unopkg = shutil.which("unopkg") or _beside_soffice()
    if not unopkg:
        return State(title, NOT_READY, "LibreOffice was not found", "install LibreOffice, then gritfuncs addin calc")
    install = f'gritfuncs addin calc, then "{unopkg}" add -f gritfuncs.oxt'
    lists = [text for text in (_listed(unopkg), _listed(unopkg, "--shared")) if text is not None]
    installed = next(filter(None, map(_INSTALLED.search, lists)), None)
    if installed is None:
        if len(lists) < 2:
            found = "LibreOffice did not list all its extensions (is it open, or is this the administrator?)"
            return State(title, UNKNOWN, found, install)
        return State(title, NOT_READY, "the extension is not installed", install)
    if installed["registered"] != "yes":
        return State(title, NOT_READY, "the extension is installed but switched off", "Tools > Extension Manager > Enable")
    if installed["version"] != __version__:
        return State(title, NOT_READY, f"the extension of version {installed['version']} is installed", install)
    return State(title, READY, "the extension is installed", _TYPE_VERSION)


def _listed(unopkg: str, *whose: str) -> str | None:
    """The extensions of this user, or of all users, as LibreOffice lists them; None where it does not."""
    # into a file: a process that outlives the time limit would keep a pipe open, and us waiting
    with tempfile.TemporaryFile() as output:
        try:
            ended = subprocess.run(
                [unopkg, "list", *whose],
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.DEVNULL,
                timeout=SECONDS,
                env=_environment(),
            )
        except (OSError, subprocess.TimeoutExpired):
            return None
        output.seek(0)
        return None if ended.returncode else output.read().decode("utf-8", "replace").replace("\r\n", "\n")


def _beside_soffice() -> str | None:
    """unopkg where it is not on PATH: beside soffice, or in the customary folders of Windows and macOS."""
    soffice = shutil.which("soffice")
    places = [Path(soffice).resolve().parent] if soffice else []
    places += [Path(r"C:\Program Files\LibreOffice\program"), Path("/Applications/LibreOffice.app/Contents/MacOS")]
    found = (place / name for place in places for name in ("unopkg.com", "unopkg.exe", "unopkg"))
    return next((str(path) for path in found if path.exists()), None)


def _environment() -> dict[str, str]:
    """Without what a virtual environment sets: it would mislead the Python inside LibreOffice."""
    return {name: value for name, value in os.environ.items() if name not in ("PYTHONHOME", "PYTHONPATH", "VIRTUAL_ENV")}


def report(states: Iterable[State]) -> str:
    """The states as text."""
    lines = []
    for state in states:
        lines += [f"{state.title}: {state.state}", f"    {state.found}", f"    next: {state.next_step}"]
    return "\n".join(lines)
