"""The commands, a module each: its options stand beside what it does.  A new one is a module and a name in this list."""

from __future__ import annotations

from . import (
    addin,
    check,
    compare,
    confirm,
    demo,
    functions,
    knee,
    log,
    next,
    plan,
    record,
    report,
    setup,
    share,
    table,
    templates,
)
from .command import Command

COMMANDS: tuple[Command, ...] = tuple(
    module.COMMAND
    for module in (
        demo,
        setup,
        plan,
        log,
        knee,
        next,
        report,
        compare,
        record,
        confirm,
        table,
        templates,
        share,
        addin,
        check,
        functions,
    )
)
