"""The component inside the Calc extension: hands each call from a cell to the function of that name.

It runs under LibreOffice's own Python, from the top folder of the .oxt; outside LibreOffice it cannot be imported.
"""

from __future__ import annotations

import os
import sys
from functools import lru_cache

import unohelper

# A gritfuncs that happens to be installed for this Python must not stand in for the one that came with the extension.
sys.path.insert(0, os.path.join(os.path.dirname(__file__), "pythonpath"))

from gritfuncs.addins.functions import FUNCTIONS, missing
from gritfuncs.addins.naming import CALC_SERVICE

_TRUE_ZERO = "; for a true 0 write {0} or the cell as a range, such as B5:B5"

try:
    from org.gritfuncs import XCells
except ImportError:  # while the extension is being installed its interface is not known yet
    XCells = None


def _call(function, compute, values):
    plain = []
    for argument, value in zip(function.arguments, values):
        # Calc hands a single blank cell over as 0.  The 0 of a range, or from another function of this add-in, comes
        # inside rows, where a blank is an empty text.
        if isinstance(value, float) and value == 0.0:
            allowed = not argument.quantity.is_text and argument.quantity.allows(0.0)
            return missing(argument.name, or_zero=True, hint=_TRUE_ZERO if allowed else "")
        plain.append(_choice(value) if argument.quantity and argument.quantity.choices else value)
    return compute(*plain)


def _choice(text):
    """The number of a choice, which Calc hands over as text."""
    try:
        return float(text)
    except ValueError:
        return text


def _method(function):
    # For a range of choices Calc calls once for each cell, with the whole of the other ranges every time.
    compute = lru_cache(maxsize=4)(function.call)

    def method(self, *values):
        result = _call(function, compute, values)
        if not function.fills_range or isinstance(result, tuple):
            return result
        return ((result,),)

    return method


if XCells is not None:

    class Cells(unohelper.Base, XCells):
        """The object that Calc calls; its methods are made from the list of functions."""

        def __init__(self, context):
            self.context = context

    for _function in FUNCTIONS:
        setattr(Cells, _function.sheet_name, _method(_function))


def _create(context, *_):
    return Cells(context)


g_ImplementationHelper = unohelper.ImplementationHelper()
g_ImplementationHelper.addImplementation(_create, CALC_SERVICE, ("com.sun.star.sheet.AddIn",))
