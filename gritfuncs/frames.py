"""Frames of pandas, which is an extra: it is imported when a frame is made."""

from __future__ import annotations

from typing import Any

from .refused import Unusable

MISSING = "pandas is not installed, which makes frames: pip install 'gritfuncs[frames]'"


def frame(columns: dict[str, Any], **attributes: Any) -> Any:
    """A DataFrame of these columns, with what holds for all of them in its attrs."""
    try:
        from pandas import DataFrame
    except ImportError:
        raise Unusable(MISSING) from None
    made = DataFrame(columns)
    made.attrs.update(attributes)
    return made


def is_frame(value: Any) -> bool:
    """Whether it is a DataFrame, or looks like one; pandas need not be there."""
    return all(hasattr(value, name) for name in ("columns", "attrs", "itertuples"))
