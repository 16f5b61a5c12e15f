"""gritfuncs setup"""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from ..files import check_new, write_new
from ..sheets.words import CAUTION
from ..trial.setup_file import ENDING, KEYS, setup_text
from ..trial.setup_values import setup_from
from .command import DONE, Command
from .parser import Parser
from .setup_options import add_setup_options, around_of, line_that_supplies

FILE = Path("setup.toml")


def add(parser: Parser) -> None:
    parser.add_argument("--new", nargs="?", type=Path, const=FILE, metavar="FILE", help=f"write a new file (default: {FILE})")
    add_setup_options(parser)


def run(chosen: Namespace) -> int:
    if chosen.new is not None:
        check_new(chosen.new, ENDING)
    given = around_of(chosen).alone
    values, missing = setup_from(given.words)
    if chosen.new is not None:
        write_new(chosen.new, setup_text(given.values, given.sources, CAUTION).encode("utf-8"))
        print(f"{chosen.new}: {len(given.sources)} values filled in, the others are comments: take the # away and fill them in.")
        print(f"Then: gritfuncs knee FILE --setup {chosen.new}")
        return DONE
    for word in (key for key in KEYS if key in given.sources):
        print(f"{word:<22} = {_shown(given.values[word]):<20} from {given.sources[word]}")
    print(f"missing: {', '.join(missing)}\nadd: {line_that_supplies(missing)}" if missing else "The setup is complete.")
    return DONE


def _shown(value: object) -> str:
    return f"{value:.9g}" if isinstance(value, (int, float)) else str(value)


COMMAND = Command(
    "setup",
    "write a setup file to fill in, or show what a setup says and where it comes from",
    add,
    run,
    example="gritfuncs setup --setup gritfuncs-demo/trial.xlsx --infeed-rate '0.9 mm/min'",
    details="A setup is said once, in a file, and every command takes it by --setup.",
    remark="What stands in the file: [setup files](trial-files.md#setup-files).",
)
