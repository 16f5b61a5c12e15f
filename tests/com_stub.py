"""Stand-ins for the modules of pywin32, so that xlwings runs its Windows code anywhere: only COM is replaced.

`install()` makes them importable.  `Range` stands for the Excel range that a user-defined function receives.
"""

from __future__ import annotations

import ctypes
import datetime
import sys
import types


class com_error(Exception):
    pass


class IID(str):
    def __new__(cls, text):
        return super().__new__(cls, str(text).upper())


class TimeType(datetime.datetime):
    """A date as Excel hands it over."""


RANGE = IID("{00020846-0000-0000-C000-000000000046}")
DISPATCH = IID("{00020400-0000-0000-C000-000000000046}")


class PyIDispatch:
    """A COM object before it is wrapped by Dispatch."""

    def __init__(self, target):
        self.target = target

    def GetTypeInfo(self):
        return self

    def GetDocumentation(self, _):
        return type(self.target).__name__, None, 0, None

    def GetTypeAttr(self):
        return types.SimpleNamespace(iid=self.target.IID)


class Range:
    """An Excel range: Value is the value of a single cell, or a tuple of rows."""

    IID = CLSID = RANGE
    Row = Column = 1
    _application = types.SimpleNamespace(Name="Microsoft Excel", Version="16.0", Hwnd=1)
    _workbook = types.SimpleNamespace(Name="Book1.xlsm", FullName="Book1.xlsm", Application=_application)
    Worksheet = types.SimpleNamespace(Name="Sheet1", Parent=_workbook, Application=_application)

    def __init__(self, rows):
        rows = tuple(tuple(row) for row in rows)
        self.Rows = types.SimpleNamespace(Count=len(rows))
        self.Columns = types.SimpleNamespace(Count=len(rows[0]))
        self.Count = self.Rows.Count * self.Columns.Count
        self.Value = rows if self.Count > 1 else rows[0][0]
        self._oleobj_ = PyIDispatch(self)

    def GetAddress(self, *_):
        return "$A$1"


def _dispatch(target, *_, **__):
    return target.target if isinstance(target, PyIDispatch) else target


def _not_wrapped(_):
    raise TypeError("not a Python object behind COM")


class _Library:
    """A Windows library whose functions all answer 0."""

    def __getattr__(self, _):
        return _Library()

    def __call__(self, *_):
        return 0


def _modules():
    plain = type("Plain", (), {})
    yield "pywintypes", {"com_error": com_error, "IID": IID, "TimeType": TimeType}
    yield (
        "pythoncom",
        {"com_error": com_error, "IID_IDispatch": DISPATCH, "TypeIIDs": {DISPATCH: PyIDispatch}, "CoInitialize": lambda: None},
    )
    for name in (
        "win32api",
        "win32con",
        "win32event",
        "win32gui",
        "win32timezone",
        "win32com",
        "win32com.server",
        "win32com.server.dispatcher",
    ):
        yield name, {}
    yield "win32process", {"GetWindowThreadProcessId": lambda _: (0, 1)}
    yield (
        "win32com.client",
        {
            "CDispatch": plain,
            "CoClassBaseClass": plain,
            "DispatchBaseClass": plain,
            "Dispatch": _dispatch,
            "DispatchEx": _dispatch,
        },
    )
    yield "win32com.server.policy", {"DefaultPolicy": plain}
    yield "win32com.server.util", {"unwrap": _not_wrapped}


def install():
    for name, content in _modules():
        module = types.ModuleType(name)
        module.__file__ = __file__
        module.__dict__.update(content)
        sys.modules[name] = module
        parent, _, child = name.rpartition(".")
        if parent:
            setattr(sys.modules[parent], child, module)
    ctypes.windll = ctypes.oledll = _Library()
    ctypes.PyDLL = lambda *_: _Library()
