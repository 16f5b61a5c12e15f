"""gritfuncs addin"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from ..addins.hosts import HOSTS
from ..share.names import NAMES
from .command import DONE, Command
from .options import one_of

ADD_INS = {host.name: host for host in (*HOSTS, NAMES)}


def add(parser: ArgumentParser) -> None:
    parser.add_argument("host", type=one_of(ADD_INS), choices=tuple(ADD_INS), help="for which program")
    parser.add_argument("source", nargs="?", type=Path, metavar="BOOK or DIR", help=_of_each("source"))
    parser.add_argument("--output", type=Path, help=_of_each("output"))


def _of_each(taken: str) -> str:
    """What each host takes as the source or the output."""
    return "; ".join(f"{host.name}: {said}" for host in ADD_INS.values() if (said := getattr(host, taken)))


def run(chosen: Namespace) -> int:
    for line in ADD_INS[chosen.host].make(chosen.source, chosen.output):
        print(line, flush=True)
    return DONE


COMMAND = Command(
    "addin",
    "make the add-in for a spreadsheet program",
    add,
    run,
    example="gritfuncs addin calc",
    details=" ".join(f"{host.name}: {host.makes}." for host in ADD_INS.values()),
    remark=" ".join(f"[{host.title}]({host.page})." for host in ADD_INS.values()),
)
