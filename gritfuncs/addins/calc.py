"""The Calc extension: builds the .oxt from the list of cell functions.

It needs no compiler or development kit: LibreOffice reads the interface as plain text.
"""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from .. import __version__
from ..files import write_new
from ..refused import Refused
from .functions import FUNCTIONS, Argument, CellFunction
from .naming import CALC_SERVICE

ENDING = ".oxt"
IDENTIFIER = "org.gritfuncs.calc"
# What the functions import; all of it needs the standard library only.
_BUNDLED = (
    "__init__.py",
    "refused.py",
    "units.py",
    "values.py",
    "quantity.py",
    "quantities.py",
    "registry.py",
    "cells.py",
    "sources.py",
    "formulas/*.py",
    "knee/*.py",
    "addins/__init__.py",
    "addins/functions.py",
    "addins/naming.py",
)
_OLDEST = "7.0"  # the first whose own Python is 3.8, on Windows
_ROWS = "sequence< sequence< any > >"
_XML = '<?xml version="1.0" encoding="UTF-8"?>\n'
_EARLIEST = (1980, 1, 1, 0, 0, 0)  # the same bytes whenever it is built


def build_oxt(path) -> Path:
    """Write the extension to a new file; returns the path.  The same sources give the same bytes."""
    path = Path(path)
    if path.suffix.lower() != ENDING:
        raise Refused("", f"end in {ENDING}, or LibreOffice does not take it", place=(str(path),))
    package = Path(__file__).resolve().parents[1]
    parts = {
        "META-INF/manifest.xml": _manifest(),
        "description.xml": _description(),
        "cells.idl": _interface(),
        "CalcAddIns.xcu": _wizard_texts(),
        "calc_component.py": (package / "addins" / "calc_component.py").read_text(encoding="utf-8"),
    }
    for pattern in _BUNDLED:
        for source in sorted(package.glob(pattern)):
            parts["pythonpath/gritfuncs/" + source.relative_to(package).as_posix()] = source.read_text(encoding="utf-8")
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as archive:
        for name, text in parts.items():
            entry = zipfile.ZipInfo(name, _EARLIEST)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, text.encode("utf-8"))
    write_new(path, content.getvalue())
    return path


def _manifest() -> str:
    kinds = (
        ("application/vnd.sun.star.uno-typelibrary;type=RDB", "cells.idl"),
        ("application/vnd.sun.star.uno-component;type=Python", "calc_component.py"),
        ("application/vnd.sun.star.configuration-data", "CalcAddIns.xcu"),
    )
    entries = "".join(
        f' <manifest:file-entry manifest:media-type="{kind}" manifest:full-path="{name}"/>\n' for kind, name in kinds
    )
    return f'{_XML}<manifest:manifest xmlns:manifest="http://openoffice.org/2001/manifest">\n{entries}</manifest:manifest>\n'


def _description() -> str:
    return (
        f'{_XML}<description xmlns="http://openoffice.org/extensions/description/2006"'
        ' xmlns:l="http://libreoffice.org/extensions/description/2011">\n'
        f' <identifier value="{IDENTIFIER}"/>\n <version value="{__version__}"/>\n'
        ' <display-name><name lang="en">gritfuncs: grit depth of plunge grinding</name></display-name>\n'
        f' <dependencies><l:LibreOffice-minimal-version value="{_OLDEST}" l:name="LibreOffice {_OLDEST}"/></dependencies>\n'
        "</description>\n"
    )


def _interface() -> str:
    """The interface in UNO's language, which refuses lower-case names with an underscore."""
    methods = []
    for function in FUNCTIONS:
        arguments = ", ".join(f"[in] {_type(argument)} {argument.name.upper()}" for argument in function.arguments)
        methods.append(f"    {_ROWS if function.fills_range else 'any'} {function.sheet_name}( {arguments} );\n")
    return "module org { module gritfuncs {\ninterface XCells\n{\n" + "".join(methods) + "};\n}; };\n"


def _type(argument: Argument) -> str:
    """How Calc hands an argument over.

    Calc makes 0 of a single blank cell, except where a text is asked for.  So a choice, of which 0 is one, comes as text;
    measured numbers do not, because text keeps fewer digits and follows the cell's format.
    """
    if argument.quantity is None:
        return _ROWS
    return "string" if argument.quantity.choices else "any"


def _wizard_texts() -> str:
    functions = "".join(map(_function_texts, FUNCTIONS))
    return (
        f'{_XML}<oor:component-data xmlns:oor="http://openoffice.org/2001/registry" '
        'xmlns:xs="http://www.w3.org/2001/XMLSchema" oor:name="CalcAddIns" oor:package="org.openoffice.Office">\n'
        f'<node oor:name="AddInInfo"><node oor:name="{CALC_SERVICE}" oor:op="replace">'
        f'<node oor:name="AddInFunctions">\n{functions}</node></node></node>\n</oor:component-data>\n'
    )


def _function_texts(function: CellFunction) -> str:
    return (
        _node(function.sheet_name)
        + _text("DisplayName", function.sheet_name)
        + _text("Description", function.help)
        + '<prop oor:name="Category"><value>Add-In</value></prop>'
        + _text("CompatibilityName", function.sheet_name)
        + '\n<node oor:name="Parameters">\n'
        + "".join(map(_argument_texts, function.arguments))
        + "</node></node>\n"
    )


def _argument_texts(argument: Argument) -> str:
    return _node(argument.name.upper()) + _text("DisplayName", argument.name) + _text("Description", argument.help) + "</node>\n"


def _node(name: str) -> str:
    return f'<node oor:name={quoteattr(name)} oor:op="replace">'


def _text(name: str, value: str) -> str:
    return f'<prop oor:name="{name}"><value xml:lang="en">{escape(value)}</value></prop>'
