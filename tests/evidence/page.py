"""The sections of docs/evidence.md as text, from notes of the test run and from simulated trials."""

from __future__ import annotations

import json
from math import ceil, floor, log10
from pathlib import Path

from mutation.run import modules
from scipy.stats import binomtest

from gritfuncs.knee.result import VERDICTS

from . import hard_tables, knee_tables, peers, stepping
from .notes import SEEN, digits_of
from .trials import RPM_RANGES

DOCS = Path(__file__).resolve().parents[2] / "docs"
PAGE = DOCS / "evidence.md"
MUTATION_HEADING = "## Do the tests notice?"
DRAW = "python3 tests/mutation/run.py FOLDER/ ... --draw N --seed K --seconds 60 --without-test up_to_date --write"
RECORDS = DOCS / "evidence"  # results of the long runs, which have commands of their own

HEAD = """# Evidence

Numbers that a sceptical engineer can check. Everything below is written by `python3 tests/evidence/run.py` (about a quarter of an hour; it \
sets up its own environment) from a run of all tests and from simulated trials with fixed seeds; it writes nothing when a test fails. \
Differences of computed numbers are rounded up to the next power of ten. How fast it is: [benchmarks](benchmarks.md). How to read the \
interval of one trial: [how sure is this knee](how-sure.md).

What no test reaches: nothing was run inside Excel (other engines recalculate the workbooks instead, see below), and no trial \
of a real machine is among the data: the knee's figures are from simulated readings with independent, Gaussian scatter. A real wheel drifts, \
loads and wears; repeat the trial when its first and last reading at nominal rpm differ.

Never run a wheel above the speed marked on it; guards closed; extraction on; local rules and the makers' instructions come first \
([safety](safety.md)).
"""


def table(headings, rows):
    lines = ["| " + " | ".join(headings) + " |", "|" + "---|" * len(headings)]
    return "\n".join(lines + ["| " + " | ".join(str(cell) for cell in row) + " |" for row in rows])


def at_most(difference):
    """A difference rounded up to a power of ten, so that the last digits of a processor do not show."""
    return "≤ 1e-15" if difference <= 1e-15 else f"≤ 1e{ceil(log10(difference)):d}"


def at_least(count):
    return "1" if count == 1 else f"≥ {10 ** floor(log10(count))}" if count >= 10 else str(count)


def of_kind(notes, kind):
    return [row for row in notes if row["kind"] == kind]


def published_table(notes):
    rows = []
    for row in of_kind(notes, "published"):
        source, quantity, printed = row["key"]
        rows.append(
            [
                source,
                "seen" if row["seen"] == SEEN else "from memory",
                quantity,
                printed,
                f"{row['ours']:.{max(digits_of(printed) + 2, 4)}g}",
                row["unit"] or "-",
                f"{100 * row['difference']:.2g} %" if row["difference"] > 1e-12 else "0 %",
            ]
        )
    return table(["source", "number", "quantity", "printed", "ours", "unit", "difference"], sorted(rows))


def published(notes):
    return f"""## Published numbers

Each is compared to the digits printed. "Seen": the source was open when the number was written into the test; "from memory": it was not, so \
check it in your copy. Example of reading a line: the book prints 0.006 mm, we compute 0.005928 mm, which prints as 0.006.

{published_table(notes)}
"""


def computed(notes):
    rows = sorted(
        [quantity, way, at_least(row["count"]), at_most(row["difference"])]
        for row in of_kind(notes, "computed")
        for quantity, way in [row["key"]]
    )
    return f"""## The same by another way

Second computations that share no code with the library: the physics once more in SI units, exact geometry, scipy, numpy, published tables of \
sieves. The difference is relative (for sums of squares: to the spread of the readings).

{table(["quantity", "other way", "comparisons", "largest difference"], rows)}

The contact length differs from the exact arc because √(a_e d_e) is its limit for small depths; the peak temperature rise is the limit of \
Jaeger's integral for large Peclet numbers; the burn coefficient follows from rounded properties.
"""


def laws(notes):
    rows = sorted(
        [f"`{function}`", f"`{word}`", f"{exponent:g}", at_most(row["difference"])]
        for row in of_kind(notes, "laws")
        for function, word, exponent in [row["key"]]
    )
    return f"""## Scaling laws

Random setups, with one word multiplied by a random factor from 0.2 to 5: the result must follow the power exactly.

{table(["function", "word", "power", "largest deviation"], rows)}
"""


def engines(notes, versions):
    rows = sorted(
        [book, f"{engine} {versions[engine]}", row["cells"], row["numbers"], at_most(row["difference"])]
        for row in of_kind(notes, "engines")
        for engine, book in [row["key"]]
    )
    return f"""## Spreadsheet engines

Every workbook carries its values, computed by Python when it was built. Engines that are no part of this project recalculate all formulas; words \
and errors must be the same, and numbers agree to 1e-9.

{table(["workbook", "engine", "formula cells", "of them numbers", "largest relative difference"], rows)}

The same workbooks with other inputs, blank rows and nonsense are compared with LibreOffice and with the Python functions in the tests.
"""


def knee(coverage_rows, width_rows, confusion_rows, definition_rows):
    head = ["noise", "rpm range", *(f"{n} readings" for n in knee_tables.READINGS)]
    return f"""## The knee: how often is it right?

Simulated trials: nominal depth 1, depth with the fourth root of the rpm, even steps of depth over the rpm range ("1 to 16" is a quarter to \
four times nominal: a factor 2 in depth), the knee anywhere in the middle two fifths, energy falling by 1.5 to 4 times the relative depth below \
the knee, independent Gaussian scatter. {knee_tables.TRIALS} trials a cell; seeds are in `tests/evidence/trials.py`, one a trial, so each cell can \
be run alone. A share of 95 % out of {knee_tables.TRIALS} trials is known to about ±2 %.

**A sharp corner: found in how many trials, % / of these, the stated interval holds the true knee, %**

{table(head, coverage_rows)}

Where few trials are found, those few are the ones whose scatter happens to look small, and their intervals are too narrow: with ±20 % of rpm \
and 5 % noise do not trust a "found"; widen the range or repeat readings. The command `next` and the sheet Next reading lead there.

**The same trials: half-width of the stated interval, median, % of the knee / error of the knee that 95 % of the found trials stay below, %**

{table(head, width_rows)}

**Verdicts by truth, % of {knee_tables.CONFUSION_TRIALS * len(knee_tables.READINGS) * len(knee_tables.RPM_RANGES)} trials a row \
(all ranges and numbers of readings together)**

{table(["truth", "noise", *VERDICTS[:4], "of found: interval holds the corner", "of still falling: knee below the bound"], confusion_rows)}

"two slopes": goes on falling with 3 to 15 % of the slope; "rounded": corner rounded off within 0.5 to 2 % of the depth; "power, level": a power \
law (exponent 1.5 to 4) that runs into a level; the last three have no knee. "Bound": with `still falling` the report gives a depth above which \
any knee should lie; the last column says in how many of these trials the true knee was below it after all.

**What the definition does: median error of the found knees, % of the knee / of these, the stated interval holds the true corner, %** \
({knee_tables.DEFINITION_CASE[0]} readings, {100 * knee_tables.DEFINITION_CASE[1]:g} % noise)

{table(["truth", *RPM_RANGES], definition_rows)}

The knee is the corner of a straight fall and a level ([why](knee.md)). Where the fall is strongly curved over a wide range, that corner lies at \
shallower depth than the point where the curve meets its level, and the interval, which covers scatter and a small rounding, often misses that \
point. If the falling readings bend visibly, take a second trial over a narrower range about the knee.
"""


def hard(cases, plans, sequential, seen):
    noises = [f"{100 * noise:g} %" for noise in hard_tables.NOISES]
    return f"""## The knee in hard cases

All simulated. The tables above are kind: even depths, the knee in the middle, no drift, Gaussian scatter in percent of the reading. Here one thing \
at a time is not. Each cell: found, % / of these, the stated interval holds the true knee, % / found and more than 5 % off (or there is none), % of \
all. {hard_tables.TRIALS} trials a cell of 8 to 12 readings: a share of 5 % is known to ±1.3, one of 50 % to ±2.9.

{table(["what is not kind", *(f"{noise} scatter" for noise in noises)], cases)}

(The line with 10 % of scatter has one cell.) Narrow range and large scatter find little, and what they find holds less often. A power meter with constant scatter in kW over an \
infeed trial scatters most where the infeed is slow. "Two knees" has a third of its slope left between the first and the second, which is the one \
asked for. A step (the wheel dressed, the meter switched) and a vee are found as knees now and then: no verdict sees that.

**Drift over a whole plan** (15 readings, ±60 %, judged as `gritfuncs knee` and trial.xlsx judge it; found, % / interval holds, %; on a + b/h all found \
are false). Shares are of the level a reading; "dressing": +0.4 % a reading, back to 0 once.

{table(["order", "truth", "scatter", *hard_tables.PLAN_DRIFTS], plans)}

**Drift in trials taken reading by reading**: mean readings / found, % / interval holds, %; where there is no knee, readings / found, all false. \
"Next reading" is `next_reading`, and `GRIT_NEXT_RPM` is the same function; "sheet" is the rule of trial.xlsx. {hard_tables.SEQUENTIAL_TRIALS} trials a \
cell: a share of 5 % is known to ±2.8. The column without drift shows what luck of the scatter alone does where every reading is followed by a look.

{table(["truth", "scatter", "rule", *hard_tables.SEQUENTIAL_DRIFTS], sequential)}

**By what the readings show**: of the found knees (hinge and rounded, 6 to 14 readings), the share of intervals that hold, % (how many were found), by the \
fitted fall over the fitted scatter. Lines are level, columns are not: a trial of large scatter that came out small by luck looks like one of small \
scatter. No bar on what one trial shows can tell them apart; the scatter of the machine's earlier trials (`noise=`) can.

{table(["fall / scatter", "all", *(f"{100 * noise:g} % true scatter" for noise in hard_tables.SEEN_NOISES), *hard_tables.SEEN_RANGES], seen)}
"""


def steps(rows):
    noises = [f"{100 * noise:g} % scatter" for noise in stepping.NOISES]
    return f"""## Steps of more than the rpm

All simulated: plans of `plan_trial`, shallower steps ended at 1.5 times the lowest energy, the knee where nominal rpm -40 to +30 % lies (from the mark down: \
where the wheel reaches it), falls 1.5 to 4 times as steep as the depth, four shapes in equal parts. Each cell: found, % / found and more than 5 % off, % of all / \
of the found the interval holds the knee, %. "Idle" is wrong by so much of the net load at nominal, up or down; with rpm and wheel steps it adds the same to \
every energy. The last column: found, %, where there is no knee, on a power law / a flat curve at 2 % scatter. {stepping.TRIALS} trials a cell: a share of 50 % is \
known to ±4, one of 1 % to ±0.8. [What to step](steps.md).

{table(["steps", "idle wrong by", *noises, "no knee"], rows)}
"""


def comparison(rows, versions):
    return f"""## Beside general-purpose libraries

The same {peers.TRIALS} trials of each truth for all ({peers.READINGS} readings over {peers.RPM_RANGE} of rpm, {100 * peers.NOISE:g} % noise). \
pwlf {versions["pwlf"]} and piecewise-regression {versions["piecewise-regression"]} fit two lines with a free corner, kneed {versions["kneed"]} takes \
the point farthest from the chord. A knee on one of the last three truths is false: there is none. How long they take is in \
[benchmarks](benchmarks.md).

{table(["truth", "library", "gives a knee, %", "median error, %", "RMS error, %", "interval holds the corner, %"], rows)}

They answer the question "where is the best corner"; whether there is one is the question that a machine is set by.
"""


def mutation():
    modules = json.loads((RECORDS / "mutation.json").read_text(encoding="utf-8"))
    rows = [
        [f"`{module['module']}`", module["changes"], module["changes"] - len(module["survivors"]), share_noticed(module)]
        for module in modules
    ]
    whole = dict(
        changes=sum(module["changes"] for module in modules),
        survivors=[left for module in modules for left in module["survivors"]],
    )
    rows.append(["**all**", whole["changes"], whole["changes"] - len(whole["survivors"]), share_noticed(whole)])
    left = [survived(module["module"], survivor) for module in modules for survivor in module["survivors"]]
    return f"""{MUTATION_HEADING}

Every operator and number of the physics, the knee and the planning is changed, one at a time, and the tests of that module are run: they \
should fail. `python3 tests/mutation/run.py --write` does it (about two hours) and stores the result that is shown here.

{table(["module", "changes", "noticed", "%"], rows)}

{not_run({module["module"] for module in modules})}

Not noticed:

{table(["module", "line", "changed to", "why it may stay"], left)}
{drawn()}"""


def drawn():
    folders = json.loads((RECORDS / "mutation-drawn.json").read_text(encoding="utf-8"))
    rows, left = [], []
    for folder in folders:
        noticed = folder["drawn"] - len(folder["survivors"])
        late = [survivor.get("late") for survivor in folder["survivors"]]  # None: not tried
        compared = "-" if None in late else noticed + sum(late)
        sure = binomtest(noticed, folder["drawn"]).proportion_ci(method="wilson")
        percent = [f"{100 * noticed / folder['drawn']:.0f}", f"{100 * sure.low:.0f} to {100 * sure.high:.0f}"]
        kind = "formulas" if folder["formulas"] else "code"
        rows.append(
            [f"`{folder['folder']}/`", kind, folder["changes"], folder["seed"], folder["drawn"], noticed, *percent, compared]
        )
        left += [
            [*survived(survivor["module"], survivor), {True: "yes", False: "no", None: "-"}[survivor.get("late")]]
            for survivor in folder["survivors"]
        ]
    return f"""
Where there are thousands of changes, some of each folder are drawn at random, by a seed: `{DRAW}`. A change counts as noticed when one of the tests \
that ran its line fails, those in a file called like the module first, then the quickest, within 60 s of tests: slower ones may notice \
more. The tests that compare built files with those of the repository, which notice any other byte, are left out of this count: they tell \
that something changed, not what was wrong. The last column counts with them: so a width or a height is noticed by the gate as well. The \
interval is Wilson's, 95 %, for the whole folder, without them. Where formulas are changed (`--formulas`), it is the text that a module writes \
into cells: a comparison, a sign, a number or a function of it.

{table(["folder", "changed", "changes", "seed", "drawn", "noticed", "%", "95 % interval, %", "noticed with the comparison of built files"], rows)}

Not noticed in the draw by a test of behaviour:

{table(["module", "line", "changed to", "why it may stay", "noticed by the comparison"], left)}
"""


def survived(module, survivor):
    """The row of a change that no test noticed."""
    lines = (f"`{cell(survivor[when])}`" for when in ("before", "after"))
    return [f"`{module.partition('gritfuncs/')[2]}`", *lines, survivor["reason"] or "-"]


def not_run(recorded):
    package = DOCS.parent / "gritfuncs"
    missing = sorted(
        path.relative_to(package).as_posix() for path in modules() if path.relative_to(DOCS.parent).as_posix() not in recorded
    )
    return f"Not run yet: {', '.join(f'`{path}`' for path in missing)}." if missing else "All of these modules were run."


def share_noticed(module):
    return f"{100 * (1 - len(module['survivors']) / module['changes']):.1f}"


def cell(text):
    """Code that can stand in a table."""
    return text.replace("|", "\\|")


def fuzz():
    record = json.loads((RECORDS / "fuzz.json").read_text(encoding="utf-8"))
    rows = [[kind.replace("_", " "), *counts.values()] for kind, counts in record["kinds"].items()]
    return f"""## Hostile files

{record["inputs"]} damaged, wrong and hostile files, in as many kinds as the table has lines, were sent through the commands {", ".join(f"`{command}`" for command in record["commands"])}. \
Allowed is an answer, or one line on standard error and exit code 1; files must stay as they are, memory below {record["bound of memory, MB"]} MB, \
and nothing half-written may be left. Faults: **{record["faults"]}**. Most memory of a command: {record["most memory of a command, MB"]} MB; most \
computing time: {record["most computing time of a command, s"]} s. Run again: `{record["command"]}`.

{table(["kind of file", "files", "read by a command", "refused by all"], rows)}
"""
