"""What is ready on this machine for each spreadsheet host, and what the next step is."""

from __future__ import annotations

import os
import platform
import shutil
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

from .. import __version__
from .calc import IDENTIFIER

READY, NOT_READY, UNKNOWN = "ready", "not ready", "cannot be told from here"
SECONDS = 60  # that LibreOffice may take to list its extensions


class HostState(NamedTuple):
    host: str
    state: str
    found: str  # what was seen
    next_step: str


def host_states() -> tuple[HostState, ...]:
    """One line for each way in; nothing is changed."""
    return (_python(), _excel(), _excel_names(), _libreoffice(), _no_add_in())


def _python() -> HostState:
    return HostState(
        "Python and command line", READY, f"gritfuncs {__version__} on Python {platform.python_version()}", "gritfuncs demo"
    )


def _excel() -> HostState:
    if sys.platform != "win32":
        return HostState(
            "Excel through xlwings",
            NOT_READY,
            f"needs Excel on Windows (this is {platform.system() or sys.platform})",
            "gritfuncs addin names BOOK, or gritfuncs share BOOK",
        )
    import winreg

    try:
        winreg.CloseKey(winreg.OpenKey(winreg.HKEY_CLASSES_ROOT, "Excel.Application"))
    except OSError:
        return HostState("Excel through xlwings", NOT_READY, "Excel is not installed", "gritfuncs addin calc, for LibreOffice")
    return HostState(
        "Excel through xlwings",
        UNKNOWN,
        "Excel is installed; whether the functions are imported shows in Excel only",
        "type =GRIT_VERSION() into a cell; if that is #NAME?: gritfuncs addin excel DIR",
    )


def _excel_names() -> HostState:
    return HostState("Excel 365 names", READY, "nothing to install; Excel must know LAMBDA", "gritfuncs addin names BOOK")


def _libreoffice() -> HostState:
    host = "LibreOffice Calc"
    unopkg = shutil.which("unopkg") or _beside_soffice()
    if not unopkg:
        return HostState(host, NOT_READY, "LibreOffice was not found", "install LibreOffice, then gritfuncs addin calc")
    command = f'gritfuncs addin calc, then "{unopkg}" add gritfuncs.oxt'
    try:
        listed = subprocess.run([unopkg, "list"], capture_output=True, text=True, timeout=SECONDS, env=_environment())
    except (OSError, subprocess.TimeoutExpired):
        return HostState(host, UNKNOWN, "LibreOffice did not list its extensions (is it open?)", command)
    if IDENTIFIER in listed.stdout:
        return HostState(host, READY, "the extension is installed", "type =GRIT_VERSION() into a cell")
    if listed.returncode:
        return HostState(
            host, UNKNOWN, "LibreOffice did not list its extensions (is it open, or is this the administrator?)", command
        )
    return HostState(host, NOT_READY, "the extension is not installed", command)


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


def _no_add_in() -> HostState:
    return HostState(
        "any spreadsheet, no add-in", READY, "native formulas only", "gritfuncs templates DIR, or gritfuncs share BOOK"
    )


def report() -> str:
    """The states as text."""
    lines = []
    for host in host_states():
        lines += [f"{host.host}: {host.state}", f"    {host.found}", f"    next: {host.next_step}"]
    return "\n".join(lines)
