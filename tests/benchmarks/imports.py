"""Importing.

What importing the package adds to the start of Python, in child processes that start in turn. Public names load when first
used, so a bare import costs next to nothing; the second line shows what comes with the first name.
"""

from __future__ import annotations

import subprocess
import sys

from .timing import Case

FULL, TINY = 21, 1
GOAL = 1.3


def running(code):
    return lambda: subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout


def cases(stack, size=FULL):
    bare, said = "Python started to do nothing", "print('done')"
    yield Case("`import gritfuncs`", bare, running(f"import gritfuncs; {said}"), running(said), str.__eq__, GOAL, pairs=size)
    yield Case(
        "`from gritfuncs import find_knee`",
        bare,
        running(f"from gritfuncs import find_knee; {said}"),
        running(said),
        str.__eq__,
        pairs=size,
    )
