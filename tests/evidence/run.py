"""Write docs/evidence.md: python3 tests/evidence/run.py [--here] [--records].

Sets up the environment of the tests with the libraries to compare with (--here: uses this Python as it is), runs all tests, simulates
trials, and writes the page.  Nothing is written when a test fails.  --records writes only the sections of the long runs anew (changes of
the code, hostile files), from what those runs have stored.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from importlib import metadata
from multiprocessing import Pool
from pathlib import Path

HERE = Path(__file__).resolve()
TESTS = HERE.parent.parent
sys.path[:0] = [str(TESTS), str(TESTS.parent)]

import run as environment  # noqa: E402

PEERS = ("pwlf", "piecewise-regression", "kneed")


def main() -> int:
    if "--records" in sys.argv[1:]:
        return write_records()
    if "--here" in sys.argv[1:]:
        return write_page()
    return environment.again_inside(HERE)


def write_page() -> int:
    from benchmarks.machine import libreoffice
    from engines import OTHERS

    from evidence import hard_tables, knee_tables, notes, page, peers, stepping

    versions = {
        "LibreOffice": ".".join(libreoffice().split(".")[:2]),
        **{name: metadata.version(name.lower()) for name in (*OTHERS, *PEERS)},
    }
    records = [page.mutation(), page.fuzz()]  # first, as the versions are, so that what is missing is seen before the long work
    with tempfile.TemporaryDirectory() as scratch:
        environment.say("running all tests")
        arguments = [
            "-n",
            str(min(4, os.cpu_count() or 1)),
            "--dist",
            "loadfile",
            "--evidence",
            str(Path(scratch, "notes")),
            "--ignore",
            "tests/test_evidence.py",
        ]  # it checks the page that is being written
        tests = subprocess.run([sys.executable, "-m", "pytest", *arguments], cwd=TESTS.parent, env={**os.environ, "CI": "true"})
        if tests.returncode:
            print("evidence: a test failed, so the page stays as it is", file=sys.stderr)
            return 1
        noted = notes.read(Path(scratch).iterdir())
    with Pool() as pool:
        coverage, widths = zip(*rows(pool, knee_tables.coverage_rows, knee_tables.COVERAGE_ROWS, "trials with a sharp corner"))
        confusion = rows(pool, knee_tables.confusion_row, knee_tables.CONFUSION_ROWS, "verdicts by truth")
        definition = rows(pool, knee_tables.definition_row, knee_tables.DEFINITION_ROWS, "corners by shape")
        cases = rows(pool, hard_tables.case_row, hard_tables.CASE_ROWS, "hard cases")
        plans = rows(pool, hard_tables.plan_row, hard_tables.PLAN_ROWS, "plans under drift")
        sequential = rows(pool, hard_tables.sequential_row, hard_tables.SEQUENTIAL_ROWS, "reading by reading under drift")
        seen = hard_tables.seen_rows(rows(pool, hard_tables.seen, hard_tables.SEEN_CASES, "by what the readings show"))
        stepped = rows(pool, stepping.page_row, stepping.ROWS, "steps of more than the rpm")
        compared = rows(pool, peers.row, peers.ROWS, "beside other libraries")
    sections = [
        page.HEAD,
        page.published(noted),
        page.computed(noted),
        page.laws(noted),
        page.engines(noted, versions),
        page.knee(coverage, widths, confusion, definition),
        page.hard(cases, plans, sequential, seen),
        page.steps(stepped),
        page.comparison(compared, versions),
        *records,
    ]
    page.PAGE.write_text("\n".join(sections), encoding="utf-8")
    print(f"written: docs/{page.PAGE.name}")
    return 0


def write_records() -> int:
    from evidence import page

    head = page.PAGE.read_text(encoding="utf-8").partition(page.MUTATION_HEADING)[0]
    page.PAGE.write_text(head + "\n".join([page.mutation(), page.fuzz()]), encoding="utf-8")
    return 0


def rows(pool, function, cases, name):
    """function(*case) for all cases, in their order, with progress."""
    jobs, found = [pool.apply_async(function, case) for case in cases], []
    for number, job in enumerate(jobs, start=1):
        found.append(job.get())
        print(f"\r== {name}: {number} of {len(jobs)}", end="" if number < len(jobs) else "\n", flush=True)
    return found


if __name__ == "__main__":
    sys.exit(main())
