"""gritfuncs/__init__.pyi: the public names as editors and type checkers see them, since the package hands them out when asked."""

from __future__ import annotations

import ast
from pathlib import Path

from gritfuncs import public
from gritfuncs.formulas import catalogue
from gritfuncs.registry import Formula

HEAD = '''"""Made by docs/build.py from public.py and the catalogue: not to be edited by hand."""

from collections.abc import Sequence
from typing import Any, overload

from numpy import float64
from numpy.typing import NDArray

_Numbers = float | Sequence[float] | NDArray[Any]
'''
# A checker sees that one number fits both signatures, and that the results differ: the first one that fits counts.
OVERLAP = "  # type: ignore[overload-overlap]"


def stub() -> str:
    """The text of the stub: names of other modules as imports, formulas as functions of numbers or of arrays."""
    imports = [
        f"from .{node.module} import {alias.name} as {alias.name}"
        for node in ast.parse(Path(public.__file__).read_text(encoding="utf-8")).body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
        if alias.name in public.PUBLIC
    ]
    head, names, aliases = HEAD.partition("\n_Numbers")
    return "\n".join([head.rstrip("\n"), "", *imports, names + aliases, "__version__: str", *map(_function, catalogue)])


def _function(record: Formula) -> str:
    title = f'"""{record.title}: {_units(record)}."""'
    if any(quantity.is_text for quantity in record.arguments):
        arguments = ", ".join(f"{quantity.name}: {'str' if quantity.is_text else 'float'}" for quantity in record.arguments)
        return f"\ndef {record.name}({arguments}) -> float:\n    {title}\n"
    numbers, arrays = (", ".join(f"{quantity.name}: {kind}" for quantity in record.arguments) for kind in ("float", "_Numbers"))
    return (
        f"\n@overload\ndef {record.name}({numbers}) -> float:{OVERLAP}\n    {title}\n"
        f"@overload\ndef {record.name}({arrays}) -> NDArray[float64]: ...\n"
    )


def _units(record: Formula) -> str:
    inputs = ", ".join(quantity.name + ("" if quantity.unit == "-" else f" [{quantity.unit}]") for quantity in record.arguments)
    gives = "" if record.gives.unit == "-" else f" [{record.gives.unit}]"
    return f"{inputs} -> {record.gives.label}{gives}"
