"""The results as text: one line as it is printed, and docs/benchmarks.md."""

from __future__ import annotations

from datetime import date
from pathlib import Path

PAGE = Path(__file__).resolve().parents[2] / "docs" / "benchmarks.md"
COMMAND = "python3 tests/benchmarks/run.py"
HEADINGS = ("what", "ours", "against", "theirs", "ratio (range)", "goal", "reached")

HEAD = f"""# Benchmarks

How long the library takes, beside what people would otherwise use for the same. Each line gives the time of ours over the time
of the other side: below 1 ours is the faster one. Both sides run in turn on the same data within one run, after a warm-up; the
ratio is the median of the ratios of these pairs, with the smallest and the largest behind it. Times alone say little about
another machine; ratios travel better. A number of this page is no permission to grind: [safety](safety.md).

Run it: `{COMMAND}` sets up the environment of the tests with the libraries to compare with and measures everything;
`{COMMAND} arrays table` measures these two; `--here` uses the Python at hand as it is; `--write` writes this page;
`--strict` ends with 1 when a goal is missed. `tests/benchmarks/` holds a small module for each section.
"""


def duration(seconds):
    for unit, size in (("s", 1.0), ("ms", 1e-3)):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds / 1e-6:.3g} µs"


def as_ratio(ratio):
    """A ratio in a few digits, small ones as 1/180."""
    if ratio < 0.2:
        return f"1/{1 / ratio:.0f}"
    return f"{ratio:.0f}" if ratio >= 100 else f"{ratio:.2g}" if ratio >= 10 else f"{ratio:.2f}"


def goal_text(goal):
    return "-" if goal is None else f"at most {as_ratio(goal) if goal < 0.2 else f'{goal:g}'}"


def columns(result):
    case = result.case
    reached = "-" if case.goal is None else "**no**" if result.missed else "yes"
    return (
        case.what,
        duration(result.ours),
        case.against_what,
        duration(result.against),
        f"{as_ratio(result.ratio)} ({as_ratio(result.lowest)} to {as_ratio(result.highest)})",
        goal_text(case.goal),
        reached,
    )


def paragraphs(text):
    """The text with a line for each paragraph."""
    return "\n\n".join(" ".join(paragraph.split()) for paragraph in text.split("\n\n")) + "\n"


def table(results):
    rows = [HEADINGS, ("---",) * len(HEADINGS), *map(columns, results)]
    return "\n".join("| " + " | ".join(row) + " |" for row in rows)


def verdict(sections):
    """What was not reached, in words."""
    goals = [result for _, results in sections for result in results if result.case.goal is not None]
    missed = [result for result in goals if result.missed]
    if not missed:
        return f"All {len(goals)} goals were reached."
    lines = [f"{len(goals) - len(missed)} of {len(goals)} goals were reached. Not reached:", ""]
    return "\n".join(
        lines
        + [
            f"- {result.case.what}: {as_ratio(result.ratio)} times {result.case.against_what}, goal {goal_text(result.case.goal)}."
            for result in missed
        ]
    )


def page(sections, machine):
    """The page from [(module, results)] and what they ran on."""
    parts = [
        paragraphs(HEAD),
        "## Goals\n",
        verdict(sections) + "\n",
        "## Machine and versions\n",
        f"Measured on {date.today().isoformat()}: " + "; ".join(f"{what} {value}" for what, value in machine) + ".\n",
    ]
    for module, results in sections:
        title, _, rest = module.__doc__.strip().partition("\n\n")
        parts += [f"## {title.rstrip('.')}\n", paragraphs(rest), table(results) + "\n"]
        notes = [note for result in results for note in result.notes]
        parts += ["\n".join(f"- {note}" for note in notes) + "\n"] if notes else []
    return "\n".join(parts)
