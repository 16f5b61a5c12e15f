"""The physics, a module a chapter.  Importing this package fills the catalogue, in this order."""

# ruff: noqa: I001
from __future__ import annotations
from ..registry import catalogue  # noqa: F401
from . import speeds, geometry, removal, wheel, depth, inverse, chips, energy, wear, heat  # noqa: F401
