"""The commands, a module each: its options stand beside what it does.  A new one is a module and a name in this list."""

from __future__ import annotations

from importlib import import_module

from .command import Command

_MODULES = (
    "demo",
    "setup",
    "plan",
    "log",
    "knee",
    "next",
    "report",
    "compare",
    "record",
    "confirm",
    "table",
    "templates",
    "share",
    "addin",
    "check",
    "functions",
)
COMMANDS: tuple[Command, ...] = tuple(import_module(f".{name}", __name__).COMMAND for name in _MODULES)
