"""Calls user-defined functions through xlwings' own Windows code, in a process of its own.

Only COM is replaced: decorators, conversion of arguments and results, the call (com_server.XLPython.CallUDF)
and the VBA text of "Import Functions" are xlwings' code.  A value stands for a cell as in JSON, or is one of
these: {"range": rows}, {"array": rows} if computed, {"error": COM number}, {"date": [2024, 3, 1]},
{"currency": "1.25"}.
"""

from __future__ import annotations

import atexit
import datetime
import decimal
import importlib
import json
import subprocess
import sys
import traceback
import types
from pathlib import Path


class Excel:
    """The client: one process that has imported the module of functions as xlwings does on Windows."""

    def __init__(self, module):
        self.module = module

    def __enter__(self):
        self.process = subprocess.Popen(
            [sys.executable, __file__, self.module], text=True, encoding="utf-8", stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        return self

    def __exit__(self, *_):
        self.process.stdin.close()
        self.process.wait()
        self.process.stdout.close()

    def _ask(self, **request):
        self.process.stdin.write(json.dumps(request) + "\n")
        self.process.stdin.flush()
        answer = json.loads(self.process.stdout.readline())
        if "failed" in answer:
            raise RuntimeError(answer["failed"])
        return answer["answer"]

    def cell(self, function, *arguments):
        """What =function(arguments) shows: a value, or a list of rows."""
        return self._ask(do="cell", function=function, arguments=arguments)

    def imported(self):
        """What Import Functions does: the VBA text, and what Excel is told about each function."""
        return self._ask(do="imported")


def cells(*rows):
    """An argument that is a range of cells; rows of values, or values of one row."""
    return {"range": [list(row) if isinstance(row, (list, tuple)) else [row] for row in rows]}


def _load_xlwings():
    import com_stub

    # What looks at the platform when it is imported must be in before it changes.
    for name in (
        "asyncio",
        "concurrent.futures",
        "locale",
        "logging",
        "numpy",
        "pandas",
        "pathlib",
        "shlex",
        "subprocess",
        "tempfile",
        "uuid",
        "matplotlib.pyplot",
        "PIL.ImageGrab",
        "jinja2",
    ):
        try:
            importlib.import_module(name)
        except ImportError:
            pass
    com_stub.install()
    platform, sys.platform = sys.platform, "win32"
    try:
        import xlwings
        import xlwings.com_server
        from xlwings import _xlwindows, udfs
    finally:
        sys.platform = platform
    atexit.unregister(_xlwindows.cleanup)
    if xlwings.func is not udfs.xlfunc:
        raise RuntimeError("xlwings did not take its Windows path")


def _value(value):
    import com_stub

    if isinstance(value, dict):
        ((kind, content),) = value.items()
        return {
            "range": lambda: com_stub.PyIDispatch(com_stub.Range([map(_value, row) for row in content])),
            "array": lambda: tuple(tuple(map(_value, row)) for row in content),
            "error": lambda: content,
            "date": lambda: com_stub.TimeType(*content, tzinfo=datetime.timezone.utc),
            "currency": lambda: decimal.Decimal(content),
        }[kind]()
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _shown(value):
    """What Excel shows for a returned value; a text over 255 characters inside an array is an error."""
    if isinstance(value, (list, tuple)):
        rows = value if isinstance(value[0], (list, tuple)) else [value]
        return [[_shown_in_array(item) for item in row] for row in rows]
    if value is not None and type(value) not in (str, bool, float):
        raise TypeError(f"{type(value).__name__} is not handed over to Excel as it is")
    return value


def _shown_in_array(value):
    return "#VALUE!" if isinstance(value, str) and len(value) > 255 else _shown(value)


class _Workbook:
    """A workbook that records what xlwings' import does to it."""

    Name = "Book1.xlsm"

    def __init__(self):
        self.text, self.options = None, {}
        self.VBProject = types.SimpleNamespace(VBComponents=self)
        self.Application = types.SimpleNamespace(Version="16.0", MacroOptions=self._options)

    def __call__(self, name):
        return name

    def Remove(self, _):
        pass

    def Import(self, path):
        self.text = Path(path).read_text()

    def _options(self, macro, **options):
        self.options[macro] = options


def _serve(module):
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
    _load_xlwings()
    import com_stub
    from xlwings import com_server, udfs

    answers, sys.stdout = sys.stdout, sys.stderr  # whatever is printed must not end up between the answers
    udfs.get_udf_module(module, None)
    caller = com_stub.PyIDispatch(com_stub.Range([[None]]))
    for line in sys.stdin:
        request = json.loads(line)
        try:
            if request["do"] == "cell":
                arguments = tuple(map(_value, request["arguments"]))
                result = com_server.XLPython().CallUDF(module, request["function"], arguments, None, caller)
                answer = _shown(result)
            else:
                workbook = _Workbook()
                udfs.import_udfs(module, workbook)
                answer = {"text": workbook.text, "options": workbook.options}
            reply = {"answer": answer}
        except Exception:  # noqa: BLE001 - the client decides what is wrong
            reply = {"failed": traceback.format_exc()}
        print(json.dumps(reply), file=answers, flush=True)


if __name__ == "__main__":
    _serve(sys.argv[1])
