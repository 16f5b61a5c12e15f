"""gritfuncs demo"""

from __future__ import annotations

import os
from argparse import ArgumentParser, Namespace
from itertools import count
from pathlib import Path

from .command import DONE, Command

FOLDER = "gritfuncs-demo"


def add(parser: ArgumentParser) -> None:
    parser.add_argument(
        "folder", nargs="?", type=Path, help=f"new folder to write into (default: {FOLDER}, numbered if it exists)"
    )


def run(chosen: Namespace) -> int:
    from .. import demo

    folder = chosen.folder
    if folder is None:
        names = (f"{FOLDER}{number}" for number in ("" if tried == 1 else f"-{tried}" for tried in count(1)))
        folder = next(Path(name) for name in names if not os.path.lexists(name))
    elif os.path.lexists(folder):
        raise ValueError(f"folder must not exist yet, nothing is overwritten (got {str(folder)!r})")
    demo.run(folder, lambda text: print(text, flush=True))
    return DONE


COMMAND = Command(
    "demo",
    "do the whole job once on invented readings, in a folder of its own",
    add,
    run,
    example="gritfuncs demo my-first-trial",
    remark=f"Never overwrites: without a name the folder is `{FOLDER}`, or `{FOLDER}-2` and so on.",
)
