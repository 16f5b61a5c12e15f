"""Send hostile files through every command that reads one, each in a process of its own, and see that none does harm.

    python3 tests/fuzz.py --inputs 1000 --seed 1

A command reads the file, or refuses it with one line; nothing else may happen.  The same seed and number of inputs give
the same files.  Prints what was found and writes the counts to docs/evidence/fuzz.json.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import pickle
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from pathlib import Path
from typing import NamedTuple

from hostile_files import KINDS, LARGE, hostile

from gritfuncs import cli
from gritfuncs.spreadsheets.package import read_package

MOST_MEMORY = 1_000_000_000  # bytes that a command may take, whatever the file
MOST_SECONDS = 60  # computing time that a command may take, whatever the file
TIME_BUCKETS = (2, 20, MOST_SECONDS)  # s
MEMORY_BUCKETS = (250, 500, MOST_MEMORY // 1_000_000)  # MB
LARGE_EVERY = 100  # one input in so many is of a kind that takes seconds
EVIDENCE = Path(__file__).parents[1] / "docs" / "evidence" / "fuzz.json"
COMMANDS = {
    "knee": ["knee", "FILE"],
    "knee --json": ["knee", "FILE", "--json"],
    "knee --column": ["knee", "FILE", "--column", "work_rpm=A", "--column", "load=B"],
    "next": ["next", "FILE", "--nominal-rpm", "120"],
    "setup": ["setup", "--setup", "FILE"],
    "record": ["record", "list", "--file", "FILE"],
    "share": ["share", "FILE"],
    "share --to excel": ["share", "FILE", "--to", "excel", "--output", "OTHER"],
    "addin names": ["addin", "names", "FILE"],
}
FOR_TEXT = ("knee", "knee --json", "knee --column", "next", "setup", "record")


class Result(NamedTuple):
    """What became of one input: each command's one line, or "read"; what must never be; what the hungriest command took."""

    lines: dict[str, str]
    faults: list[str]
    megabytes: float
    seconds: float

    @property
    def is_read(self) -> bool:
        return "read" in self.lines.values()


def warm_up():
    """Load what the commands load, so that each child finds it there."""
    import openpyxl.workbook.defined_name  # noqa: F401
    import scipy.special  # noqa: F401

    import gritfuncs.share.job  # noqa: F401


def run(kind, seed, most_commands=99) -> Result:
    """Run the commands on one input, each in a child that cannot take more than the bounds."""
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    result = Result({}, [], 0.0, 0.0)
    try:
        given = hostile(kind, seed)
        path = folder / given.name
        path.write_bytes(given.content) if isinstance(given.content, bytes) else given.content(path)
        fitting = FOR_TEXT if path.suffix.lower() in (".csv", ".txt", ".tsv") else tuple(COMMANDS)
        chosen = random.Random(f"commands {seed}").sample(fitting, min(most_commands, len(fitting)))
        for name in (name for name in fitting if name in chosen):
            told = folder.with_suffix(".told")
            child = os.fork()
            if child == 0:
                _limited_child(name, path, given, told)
            _, status, used = os.wait4(child, 0)
            line, faults = pickle.loads(told.read_bytes()) if told.exists() else ("", [f"the process ended with status {status}"])
            told.unlink(missing_ok=True)
            result.lines[name] = line
            result.faults.extend(f"{name}: {fault}" for fault in faults)
            scale = 1 if sys.platform == "darwin" else 1024
            result = result._replace(
                megabytes=max(result.megabytes, used.ru_maxrss * scale / 1e6),
                seconds=max(result.seconds, used.ru_utime + used.ru_stime),
            )
    finally:
        shutil.rmtree(folder)
    return result


def _limited_child(name, path, given, told):
    """Never returns."""
    try:
        resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS + 1))
        if sys.platform == "linux":  # address space beyond what is there already; others do not count it in this way
            taken = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
            resource.setrlimit(resource.RLIMIT_AS, (taken + MOST_MEMORY, taken + MOST_MEMORY))
        signal.alarm(10 * MOST_SECONDS)  # a file that never ends to arrive takes no computing time
        told.write_bytes(pickle.dumps(_examined(name, path, given)))
    except BaseException:  # noqa: BLE001 - the parent must never be run twice
        told.write_bytes(pickle.dumps(("", [traceback.format_exc()])))
    os._exit(0)


def _examined(name, path, given):
    """The line with which a command refuses the file, or "read"; and its faults."""
    other = path.with_name("other" + path.suffix)
    outputs = {path.with_name(f"{path.stem} ({ending}){path.suffix}") for ending in ("shared", "names")} | {other}
    before = set(path.parent.iterdir())
    arguments = [{"FILE": str(path), "OTHER": str(other)}.get(word, word) for word in COMMANDS[name]]
    code, out, err, fault = _called(arguments)
    new = set(path.parent.iterdir()) - before
    faults = [fault] if fault else _faults(arguments, code, out, err, new, outputs)
    if isinstance(given.content, bytes) and path.read_bytes() != given.content:
        faults.append("the file was changed")
    for made in new:
        made.unlink()
    return err.strip() or "read", faults


def _called(arguments):
    """Exit code, both outputs, and the traceback of what must not be."""
    out, err = io.StringIO(), io.StringIO()
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), warnings.catch_warnings():
            warnings.simplefilter("error")
            return cli.main(arguments), out.getvalue(), err.getvalue(), ""
    except BaseException:  # noqa: BLE001 - anything that gets out is what is looked for
        return None, "", "", traceback.format_exc()


def _faults(arguments, code, out, err, new, outputs) -> list[str]:
    faults = []
    if code not in (0, 1):
        faults.append(f"exit code {code}")
    if err and not (err.startswith(f"gritfuncs {arguments[0]}: ") and err.count("\n") == 1 and err.endswith("\n")):
        faults.append(f"more than one line on standard error: {err!r:.2000}")
    if len(err) > 1000 or any(not letter.isprintable() for letter in err.rstrip("\n")):
        faults.append(f"a line that cannot be read on standard error: {err!r:.2000}")
    if err and code != 1 or not err and code == 1 and not out.strip():
        faults.append(f"exit code {code} with {err!r:.500} on standard error and {out!r:.500} on standard output")
    if any(not letter.isprintable() and letter != "\n" for letter in out):
        faults.append("signs on standard output that no line should have")
    if "--json" in arguments:
        json.loads(out, parse_constant=lambda word: faults.append(f"{word} in JSON"))
    if new - outputs or err and new:
        faults.append(f"left behind: {sorted(path.name for path in new)}")
    for path in new & outputs:
        read_package(path)
    return faults


def bucket(value, buckets) -> str:
    return next((f"at most {bound}" for bound in buckets if value <= bound), f"above {buckets[-1]}")


def kind_of(number) -> str:
    """The kind of an input, by its number: all in turn."""
    kinds, large = sorted(KINDS), sorted(LARGE)
    if number % LARGE_EVERY == LARGE_EVERY - 1:
        return large[number // LARGE_EVERY % len(large)]
    return kinds[number % len(kinds)]


def main(arguments=None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--inputs", type=int, default=1000, help="number of files (default: %(default)s, some minutes)")
    parser.add_argument("--minutes", type=float, help="stop after so many minutes; what is written then depends on the machine")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--output", type=Path, default=EVIDENCE, help="where to write the counts (default: %(default)s)")
    chosen = parser.parse_args(arguments)
    warm_up()
    start, counts, faults, memory, seconds, done = time.monotonic(), {}, [], 0.0, 0.0, 0
    for number in range(chosen.inputs if chosen.minutes is None else sys.maxsize):
        if chosen.minutes is not None and time.monotonic() - start > 60 * chosen.minutes:
            break
        name = kind_of(number)
        result = run(name, f"{chosen.seed} {number}", 1 if name in LARGE else 99)
        count = counts.setdefault(name, {"inputs": 0, "read by a command": 0, "refused by all": 0})
        count["inputs"] += 1
        count["read by a command" if result.is_read else "refused by all"] += 1
        memory, seconds, done = max(memory, result.megabytes), max(seconds, result.seconds), number + 1
        for fault in result.faults:
            faults.append(f"{name}, seed '{chosen.seed} {number}': {fault}")
            print("\n".join([faults[-1].splitlines()[0], *faults[-1].splitlines()[1:][-5:]])[:1500], flush=True)
        if done % 200 == 0:
            print(f"{done} files, {len(faults)} faults, {memory:.0f} MB and {seconds:.1f} s at most", flush=True)
    summary = {
        "what": "hostile files sent through the commands that read files; a command reads a file or refuses it with one line",
        "command": f"python3 tests/fuzz.py --inputs {done} --seed {chosen.seed}",
        "inputs": done,
        "faults": len(faults),
        "commands": list(COMMANDS),
        "bound of memory, MB": MOST_MEMORY // 1_000_000,
        "bound of computing time, s": MOST_SECONDS,
        "most memory of a command, MB": bucket(memory, MEMORY_BUCKETS),
        "most computing time of a command, s": bucket(seconds, TIME_BUCKETS),
        "kinds": dict(sorted(counts.items())),
    }
    chosen.output.parent.mkdir(parents=True, exist_ok=True)
    chosen.output.write_text(json.dumps(summary, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    print(f"{done} files, {len(faults)} faults; written to {chosen.output}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
