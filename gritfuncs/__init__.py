"""Grit depth of plunge grinding: the functions, the knee of a trial, and the work speeds that hold it.

Public names load when first used, so that importing the package costs next to nothing.
"""

from __future__ import annotations

__version__ = "0.1.0"


def __getattr__(name):
    from importlib.util import find_spec

    if not name.startswith("_") and find_spec(f"{__name__}.{name}") is None:
        from .public import PUBLIC

        if name in PUBLIC:
            globals()[name] = PUBLIC[name]  # found without this function from now on
            return PUBLIC[name]
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__():
    from .public import PUBLIC

    return sorted(PUBLIC)
