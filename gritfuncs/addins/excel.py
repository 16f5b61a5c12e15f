"""Excel on Windows: the cell functions as xlwings functions, and a workbook that is ready to import them.

xlwings imports the functions when this module is named under its "UDF Modules".  Only the open-source part
of xlwings is used.  Off Windows the module can be imported too, but its functions reach no spreadsheet.
"""

from __future__ import annotations

import datetime
import decimal
import inspect
from pathlib import Path

import xlwings

from ..files import refuse_existing, write_new
from ..refused import Unusable
from .functions import FUNCTIONS, CellFunction, ErrorCell, failure

CATEGORY = "gritfuncs"

# xlwings names seven errors; Excel hands the later ones over as whole numbers, and numbers as floats only.
_NAMED_ERRORS = {"#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!"}
_LATER_ERRORS = {
    -2146826245: "#GETTING_DATA",
    -2146826243: "#SPILL!",
    -2146826242: "#CONNECT!",
    -2146826241: "#BLOCKED!",
    -2146826240: "#UNKNOWN!",
    -2146826239: "#FIELD!",
    -2146826238: "#CALC!",
}
_ERROR_CODES = range(-2146828288, -2146825288)


def _plain(value):
    """A cell's value as the cell functions take it."""
    if isinstance(value, str) and value in _NAMED_ERRORS:
        return ErrorCell(value)
    if type(value) is int and value in _ERROR_CODES:
        return ErrorCell(_LATER_ERRORS.get(value, "an error of Excel"))
    if isinstance(value, decimal.Decimal):  # Excel has already rounded it to four decimals
        return f"{value} in currency format"
    if isinstance(value, datetime.date):
        return f"date {value:%Y-%m-%d}"
    return value


def _argument(rows):
    """Rows of cells; a single cell as its value, so that the result is a single value too."""
    plain = [[_plain(value) for value in row] for row in rows]
    return plain[0][0] if len(plain) == len(plain[0]) == 1 else plain


def _parameter(name):
    return inspect.Parameter(name, inspect.Parameter.POSITIONAL_OR_KEYWORD)


def _user_function(function: CellFunction):
    def call(*arguments):
        try:
            return function.call(*map(_argument, arguments))
        except Exception as error:  # noqa: BLE001 - xlwings would write the whole traceback into the cell
            return failure(f"{function.sheet_name} failed ({type(error).__name__}: {error})")

    call.__name__ = call.__qualname__ = function.sheet_name
    call.__doc__ = function.help
    call.__signature__ = inspect.Signature([_parameter(argument.name) for argument in function.arguments])  # type: ignore[attr-defined]
    for argument in function.arguments:
        call = xlwings.arg(argument.name, doc=argument.help, ndim=2, err_to_str=True)(call)
    return xlwings.func(category=CATEGORY)(call)


# xlwings finds functions as attributes of the module, each under one name only.
globals().update((function.sheet_name, _user_function(function)) for function in FUNCTIONS)
__all__ = [function.sheet_name for function in FUNCTIONS]  # what a star import hands on: the functions alone

_WORKBOOK, _SETTINGS = "gritfuncs.xlsm", "xlwings.conf"


def write_folder(folder) -> tuple[Path, Path]:
    """Write a workbook that carries xlwings' macros, and beside it the settings that name this module.

    The workbook is the empty one that comes with xlwings. Its functions appear after one import inside Excel,
    which nothing but Excel can do: see `instructions`.
    """
    folder = Path(folder)
    workbook, settings = folder / _WORKBOOK, folder / _SETTINGS
    for path in (workbook, settings):
        refuse_existing(path)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise Unusable(f"cannot be written ({error.strerror or error})", (str(folder),)) from None
    write_new(workbook, Path(xlwings.__file__).with_name("quickstart_standalone.xlsm").read_bytes())
    try:
        write_new(settings, f'"UDF MODULES","{__name__}"\n'.encode("ascii"))
    except BaseException:  # neither is of use without the other
        workbook.unlink()
        raise
    return workbook, settings


def instructions() -> str:
    """The steps inside Excel, as text for the console."""
    return f"""\
Excel on Windows with Python. Once for each computer:
  1. In a command prompt, where Python and gritfuncs are: xlwings addin install
  2. In Excel, File > Options > Trust Center > Trust Center Settings > Macro Settings:
     tick "Trust access to the VBA project object model". Only importing needs it.

A new workbook:
  1. Open {_WORKBOOK}, with {_SETTINGS} in the same folder, and enable its macros.
  2. Press Alt+F8, choose ImportPythonUDFs, Run.
  3. Type =GRIT_VERSION() into a cell: the version appears.

A workbook that exists:
  1. On the xlwings tab, under "UDF Modules", type: {__name__}
  2. Save the workbook as .xlsm. Press Alt+F11, choose Tools > References, tick xlwings.
  3. On the xlwings tab press Import Functions. Type =GRIT_VERSION() into a cell: the version appears.

Import again after each update of gritfuncs. On a computer without all this the cells show their last values,
then an error once they recalculate: send workbooks through "gritfuncs share", which puts native formulas in
place of the functions.

The functions were tested through xlwings with Excel itself replaced; the steps above come from xlwings' own
macros and were not tried inside Excel.
"""
