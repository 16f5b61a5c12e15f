"""LibreOffice Calc for the tests: recalculates workbooks, computes typed formulas, prints, holds extensions.

`uno_worker.py` drives it, under a Python that has LibreOffice's bindings; this file talks to the worker.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from functools import cache
from pathlib import Path

from gritfuncs.spreadsheets.cell_values import CellError

INSTALL = "apt-get install libreoffice-calc python3-uno libreoffice-script-provider-python"
FILTERS = {".xlsx": "Calc MS Excel 2007 XML", ".ods": "calc8", ".pdf": "calc_pdf_Export"}
COUNTRY = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Setup/L10N"><prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{}</value></prop></item>
</oor:items>
"""
WORKER = Path(__file__).with_name("uno_worker.py")
NOBODY = 65534


class Missing(RuntimeError):
    """LibreOffice or its Python bindings are not installed."""


@cache
def uno_python() -> str:
    """A Python that can import uno; the one of a virtual environment usually cannot."""
    folders = [*os.environ.get("PATH", "").split(os.pathsep), "/usr/bin"]
    pythons = [os.path.join(folder, "python3") for folder in folders]
    for candidate in dict.fromkeys([sys.executable, *pythons]):
        if os.access(candidate, os.X_OK):
            probe = subprocess.run([candidate, "-c", "import uno"], capture_output=True, timeout=600, check=False)
            if probe.returncode == 0:
                return candidate
    raise Missing(f"no Python here can import uno: {INSTALL}")


def program(name: str) -> str:
    found = shutil.which(name)
    if not found:
        raise Missing(f"LibreOffice is not installed ({name} not found): {INSTALL}")
    return found


def clean_environment() -> dict:
    """The Python inside LibreOffice takes its prefix from the first python3 on PATH; where that is a virtual
    environment or pyenv, extensions vanish without a word.  So the Python that has uno goes first."""
    unwanted = ("PYTHONHOME", "PYTHONPATH", "VIRTUAL_ENV", "__PYVENV_LAUNCHER__", "URE_BOOTSTRAP")
    environment = {name: value for name, value in os.environ.items() if name not in unwanted}
    environment["PATH"] = os.pathsep.join([os.path.dirname(uno_python()), environment.get("PATH", "")])
    return environment


def install_extension(extension, profile) -> str:
    """Add an .oxt to a profile folder and return what unopkg lists then."""
    return change_extensions(profile, "add", "-f", "-v", extension=extension)


def change_extensions(profile, *command, extension=None) -> str:
    """Run an unopkg command on a profile folder, last argument the extension if one is given, and return its list then.

    unopkg refuses to work for root without --shared, so root lets an unprivileged user do it on a copy.
    """
    with tempfile.TemporaryDirectory(prefix="extension-") as folder:
        package = [shutil.copy(extension, folder)] if extension else []
        copy = os.path.join(folder, "profile")
        shutil.copytree(profile, copy, symlinks=True)
        user = {}
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            user = {"user": NOBODY, "group": NOBODY, "extra_groups": []}
            for top, folders, files in os.walk(folder):
                for name in [top, *(os.path.join(top, name) for name in folders + files)]:
                    os.chown(name, NOBODY, NOBODY, follow_symlinks=False)
        where = "-env:UserInstallation=" + Path(copy).as_uri()
        environment = {**clean_environment(), "HOME": folder}
        common = dict(capture_output=True, text=True, cwd=folder, timeout=600, env=environment, **user)
        done = subprocess.run([program("unopkg"), *command, where, *package], check=False, **common)
        if done.returncode:
            raise RuntimeError(f"unopkg {command[0]} ended with {done.returncode}: {done.stdout}{done.stderr}")
        listed = subprocess.run([program("unopkg"), "list", where], check=True, **common).stdout
        shutil.rmtree(profile)
        shutil.copytree(copy, profile, symlinks=True)
        return listed


def value_of(answer):
    """A value as the worker sends it."""
    return CellError(answer["error"]) if isinstance(answer, dict) else answer


class LibreOffice:
    """A headless LibreOffice with a throw-away profile, and in it the extensions given, less those removed again by their
    identifiers; close it, or use `with`.  It has the settings of a country, such as de-DE, where one is given."""

    def __init__(self, extensions=(), removed=(), country=None):
        soffice = program("soffice")
        self.profile = tempfile.mkdtemp(prefix="libreoffice-")
        if country:
            settings = Path(self.profile, "user", "registrymodifications.xcu")
            settings.parent.mkdir()
            settings.write_text(COUNTRY.format(country), encoding="utf-8")
        self.listed = [install_extension(extension, self.profile) for extension in extensions]
        self.listed += [change_extensions(self.profile, "remove", identifier) for identifier in removed]
        self.process = subprocess.Popen(
            [uno_python(), str(WORKER), soffice, self.profile],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            encoding="utf-8",
            env={**clean_environment(), "PYTHONIOENCODING": "utf-8"},
        )
        try:
            self._answer()
        except RuntimeError:
            self.close()
            raise

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def close(self):
        try:
            self.process.communicate(timeout=600)  # the worker ends with its input
        except subprocess.TimeoutExpired:
            self.process.kill()
        shutil.rmtree(self.profile, ignore_errors=True)

    def _answer(self):
        line = self.process.stdout.readline()
        if not line:
            raise RuntimeError("LibreOffice did not start, or ended")
        answer = json.loads(line)
        if "failed" in answer:
            raise RuntimeError(answer["failed"])
        return answer

    def _call(self, command, **arguments):
        self.process.stdin.write(json.dumps({"command": command, **arguments}) + "\n")
        self.process.stdin.flush()
        return self._answer()

    def recalc(self, path) -> dict:
        """{sheet: {"A1": value}}, all recalculated: float, text, bool (only formulas) or CellError."""
        sheets = self._call("recalculate", path=os.path.abspath(path))["values"]
        return {sheet: {address: value_of(value) for address, value in cells.items()} for sheet, cells in sheets.items()}

    def formulas(self, path) -> dict:
        """{sheet: {"A1": formula}} as LibreOffice reads them, with English names and semicolons."""
        return self._call("recalculate", path=os.path.abspath(path))["formulas"]

    def convert(self, path, output, sheets=None):
        """Store a recalculated workbook as .pdf, .xlsx or .ods; a PDF of the sheets that are named."""
        self._call(
            "convert",
            path=os.path.abspath(path),
            output=os.path.abspath(output),
            filter=FILTERS[Path(output).suffix.lower()],
            sheets=sheets,
        )
        return output

    def type(self, formulas, data=None, save=None, times=0) -> dict:
        """Type formulas into an empty sheet and return {"A1": value}.

        `formulas` maps places to English formulas with semicolons: "A1" takes one, a range is filled down,
        and "{=F(..)}" on a range is one array formula.  `data` maps a first cell to rows of constants typed
        before.  `save` stores the sheet; `times` asks for so many timed recalculations, read from `seconds`.
        """
        answer = self._call(
            "type",
            formulas=formulas,
            data=data or {},
            times=times,
            save=save and [os.path.abspath(save), FILTERS[Path(save).suffix.lower()]],
        )
        self.seconds = answer["seconds"]
        return {address: value_of(value) for address, value in answer["values"].items()}

    def functions(self, word) -> dict:
        """What the function wizard shows of the functions with this word in their names:
        {name: (help, [(argument name, help, optional)])}."""
        found = self._call("functions", word=word)["functions"]
        return {name: (text, [tuple(argument) for argument in arguments]) for name, text, arguments in found}


def stored_formulas(path) -> list:
    """Formula texts as they stand in the XML of an .xlsx or .ods file."""
    import zipfile

    with zipfile.ZipFile(path) as archive:
        if str(path).endswith(".ods"):
            return re.findall(r'table:formula="([^"]*)"', archive.read("content.xml").decode())
        return [
            formula
            for name in archive.namelist()
            if name.startswith("xl/worksheets/sheet")
            for formula in re.findall(r"<f[^>]*>(.*?)</f>", archive.read(name).decode())
        ]
