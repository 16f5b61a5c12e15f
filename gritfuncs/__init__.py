"""Grit depth of plunge grinding: the functions, the knee of a trial, and the work speeds that hold it.

Public names load when first used, so that importing the package costs next to nothing.
"""
__version__ = "0.1.0"


def __getattr__(name):
    if name.startswith("_"):
        raise AttributeError(name)
    from . import surface

    try:
        return getattr(surface, name) if name == "catalogue" else surface.PUBLIC[name]
    except KeyError:
        raise AttributeError(f"module 'gritfuncs' has no attribute {name!r}") from None


def __dir__():
    from . import surface

    return sorted(surface.PUBLIC)
