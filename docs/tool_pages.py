"""The pages of the functions that are no closed formula: arguments from the code, examples and remarks written here."""

from __future__ import annotations

import inspect
import re
from dataclasses import fields
from functools import cached_property
from typing import NamedTuple

from doc_examples import Block, run_python, scratch

from gritfuncs.comparison import Comparison, Difference, Drift
from gritfuncs.finder import Entry
from gritfuncs.knee import Advice, Confirmation, Knee, RecordedKnee
from gritfuncs.planning import FastestSetup, PlannedReading, SpeedCell, SpeedTable
from gritfuncs.public import PUBLIC
from gritfuncs.quantities import QUANTITIES
from gritfuncs.sheets import words as sentences
from gritfuncs.trial import Trial
from gritfuncs.trial.log import PartReading, PowerLog, Stretch
from gritfuncs.trial.readings import Reading


class Tool(NamedTuple):
    """What a page says beside title and arguments."""

    code: str
    cells: tuple[tuple[str, str], ...]
    holds: str
    native: str
    related: str
    picture: str


WHEEL = "wheel_speed=22, marked_wheel_speed=35, wheel_diameter=200,\n    side=gf.EXTERNAL, grit_density=18.9, shape_ratio=10"
# Arguments that are no word of the vocabulary and have no entry in the docstring.
ARGUMENTS: dict[str, str] = {
    "work_diameters": "list of part diameters, each > 0 mm",
    "infeed_rates": "list of infeed rates on the radius, each > 0 mm/min",
    "marked_wheel_speed": "highest speed marked on the wheel, > 0 m/s; a faster wheel_speed is refused",
    "limits": "`gf.Limits(...)`: lowest and highest work rpm, infeed rate, speed ratio; highest removal rate and power",
    "band": "allowed deviation of the depth, a fraction > 0 and < 1",
    "nominal_rpm": "work rpm where the trial starts, > 0 1/min",
    "step_percent": "step in percent of nominal",
    "steps": "`rpm`, `rpm and infeed`, `infeed` or `wheel speed`: what is stepped",
    "steps_each_side": "whole number from 1 to 18; 6 where not given, or as many as lead to 40 %",
    "lowest_infeed_rate": "lowest infeed rate of the machine, > 0 mm/min",
    "highest_infeed_rate": "highest infeed rate of the machine, > 0 mm/min",
    "nominal_power": "spindle power at nominal with idle, > 0 kW",
    "highest_power": "highest spindle power with idle, > 0 kW; needs nominal_power",
    "lowest_work_rpm": "lowest work rpm of the machine, > 0 1/min",
    "highest_work_rpm": "highest work rpm of the machine or chuck, > 0 1/min",
    "spacing": "`rpm` or `depth`: equal steps of which",
    "order": "`out and back` or `alternating`",
}
PRODUCT = f"{sentences.PRODUCT}."
PREFACTOR = sentences.PREFACTOR
RADIUS = f"**Radius.** {sentences.DIAMETER_SHOWS_TWICE}: halve it."

TOOLS: dict[str, Tool] = {
    "read_trial": Tool(
        """trial = gf.read_trial("gritfuncs-demo/readings.csv")
trial.counts["used"], trial.depth_unit, trial.energy_unit  # 15, 'µm', 'J/mm³'
trial.knee.verdict, trial.knee.knee, trial.knee_rpm        # 'found', 1.362 µm, 102.9 1/min
trial.left_out                                             # ()
""",
        (),
        f"Every row is judged: used, excluded, left out with the reason, or blank; nothing is dropped in silence. {RADIUS} In a file the line "
        f'`infeed_basis; diameter` does it, or "on the diameter" beside the infeed rate. Units, headings and damage: [what a trial file may '
        f"say](../trial-files.md). {PRODUCT} {PREFACTOR} Without a setup in the file depths are relative, and the knee is known as an rpm "
        "only.",
        "The workbook [trial.xlsx](../../workbook_templates/trial.xlsx) takes the same readings and does the same with native formulas.",
        "Goes into [find_knee](find_knee.md), [next_reading](next_reading.md), [speed_table](speed_table.md). On the command line: "
        "[`gritfuncs knee`](../commands.md#gritfuncs-knee).",
        "power readings of the invented example over work rpm, with the idle power",
    ),
    "read_log": Tool(
        """log = gf.read_log("gritfuncs-demo/power-log.csv")          # simulated
len(log.parts), log.lag                                    # 15, 0.8 s
log.parts[0].net, log.parts[0].error                       # 1.12 kW, 0.011
[stretch.word for stretch in log.stretches].count("short") # 4
plan = gf.read_trial("gritfuncs-demo/readings.csv")
trial = log.trial([reading.work_rpm for reading in plan.used], setup=plan.setup)
trial.knee.verdict                                         # 'found'
""",
        (),
        "Method and limits were tried on simulated logs only: look at the picture before you believe a reading. A log must show idle beside the "
        "parts, and rise clearly above it. What a log needs, and what is refused: [power log](../power-log.md). Errors behind ± are two standard "
        "errors of the reading, not of the knee.",
        "There is no form of this in native formulas yet.",
        "Gives a trial as [read_trial](read_trial.md) does; `write_readings` writes a file for it. On the command line: "
        "[`gritfuncs log`](../commands.md#gritfuncs-log).",
        "spindle power of the simulated example over time, with the level of each part (bar)",
    ),
    "find_knee": Tool(
        """trial = gf.read_trial("gritfuncs-demo/readings.csv")
knee = gf.find_knee(trial.depths, trial.energies)
knee.verdict, knee.knee, knee.low, knee.high, knee.level   # 'found', 1.362 µm, 1.343, 1.382, 117.7 J/mm³
print(knee.report())
""",
        (
            ("the knee, when it is found", "GRIT_KNEE"),
            ("its interval", "GRIT_KNEE_LOW"),
            ("", "GRIT_KNEE_HIGH"),
            ("energy at the knee and beyond", "GRIT_KNEE_LEVEL"),
            ("the verdict", "GRIT_KNEE_VERDICT"),
            ("the report, 2 columns and 16 rows", "GRIT_KNEE_REPORT"),
        ),
        "Along a trial at constant infeed rate, wheel speed and wheel. The verdict is `found`, `still falling`, `already level`, "
        f"`not resolved` or `too few readings`; only `found` carries a knee to set a machine by. {PREFACTOR} {PRODUCT} How it works and how sure it "
        "is: [the knee](../knee.md), [how sure](../how-sure.md).",
        "`gritfuncs share` puts the knee as a sheet of native formulas at the end of the copy ([sharing](../sharing.md)); "
        "[trial.xlsx](../../workbook_templates/trial.xlsx) and [functions.xlsx](../../workbook_templates/functions.xlsx) have such a sheet. "
        "It is not among the names for Excel 365.",
        "Depths come from [read_trial](read_trial.md) or [plunge_grit_depth](plunge_grit_depth.md), energies from "
        "[specific_energy](specific_energy.md). The knee goes into [work_rpm_for](work_rpm_for.md) and [speed_table](speed_table.md); what to test next "
        "says [next_reading](next_reading.md).",
        "specific energy over grit depth: readings, fitted line and interval of the knee",
    ),
    "next_reading": Tool(
        """trial = gf.read_trial("gritfuncs-demo/readings.csv")
limits = gf.Limits(lowest_work_rpm=20, highest_work_rpm=400)
advice = gf.next_reading(trial.depths[:6], trial.energies[:6], trial.setup, limits)
advice.work_rpm, advice.stop                               # 60 1/min, False
print(advice.line())
print(trial.next_reading(limits).line())                   # all readings of a file, by the rpm that were read
""",
        (),
        "It knows nothing but rpm and load: look at part and wheel after each reading, and stop at burn, cracks or wheel breakdown "
        "(`damage_seen=True`). Loads must be net, idle taken off. Nothing outside the limits is proposed, and nothing more than one step beyond "
        f"what was tried. The rule, and what was measured of it: [the next reading](../next-reading.md). {PREFACTOR}",
        "The sheet *2 Trial* of [trial.xlsx](../../workbook_templates/trial.xlsx) has a rule simple enough for native formulas.",
        "Uses [find_knee](find_knee.md). The fixed order instead: [plan_trial](plan_trial.md). On the command line: "
        "[`gritfuncs next`](../commands.md#gritfuncs-next).",
        "knee and interval after each reading of the invented example",
    ),
    "confirm_knee": Tool(
        """trial = gf.read_trial("gritfuncs-demo/readings.csv")
record = gf.RecordedKnee(knee=1.36, low=1.31, high=1.41, steepness=4, noise=0.01)  # or RecordedKnee.of(trial.knee, trial.depths)
part = trial.setup                                         # the gf.Setup of the new part
print(gf.confirm_knee([], [], record, part).line())
depths = [1.035 * record.knee, 0.944 * record.knee, 1.11 * record.knee, 0.888 * record.knee]
answer = gf.confirm_knee(depths, [118.9, 144.2, 117.6, 170.5], record, part)
answer.word, answer.knee, answer.low, answer.high           # 'confirmed', 1.361 µm, 1.334, 1.398
print(answer.line())
""",
        (),
        "Same wheel, work material and machine as the record; a new part, or the wheel newly dressed. `confirmed` leans on the record: it is not "
        "`found`, and a full trial every few dressings stays due. `changed` and a `go on` after eight readings ask for one, by "
        "[next_reading](next_reading.md) from the recorded knee's rpm (`nominal_rpm`), with all readings so far. It knows nothing but rpm and "
        "load: look at part and wheel after each reading, and stop at burn, cracks or wheel breakdown (`damage_seen=True`). Nothing outside the "
        "machine's limits or the depths of the recorded trial is proposed. What was measured, and what it misses: "
        f"[a recorded knee](../next-reading.md#a-recorded-knee). {PREFACTOR}",
        "There is no form of this in native formulas yet.",
        "The record comes from [find_knee](find_knee.md) or [next_reading](next_reading.md).",
        "four invented readings about a recorded knee in the order taken, its recorded interval (band) and the new one (bar)",
    ),
    "compare_trials": Tool(
        """old = gf.read_trial("gritfuncs-demo/readings.csv")
new = gf.read_trial("gritfuncs-demo/trial.xlsx")           # the same readings, to see the form of the answer
compared = gf.compare_trials(old, new, names=["old", "new"], dates=["2026-01-05", "2026-03-02"])
compared.differences[0].word                               # 'can be the same'
print(compared.report())
""",
        (),
        "Each trial must have a knee that was found. Depths compare under one C r and one prefactor only: other trials are refused, and "
        f"named. {PREFACTOR} {PRODUCT} `can be the same` is no proof of it: how large a difference would not show stands beside it. What the "
        "answers mean: [trials compared](../compare.md).",
        "There is no form of this in native formulas yet.",
        "Takes what [read_trial](read_trial.md) gives. Is a recorded knee still right on a new part: [confirm_knee](confirm_knee.md). On the "
        "command line: [`gritfuncs compare`](../commands.md#gritfuncs-compare).",
        "two simulated trials: readings and fitted lines, the second wheel with a deeper knee",
    ),
    "plan_trial": Tool(
        """plan = gf.plan_trial(120)
[reading.work_rpm for reading in plan][:5]                 # [120.0, 144.0, 96.0, 168.0, 72.0]
[reading.work_rpm for reading in gf.plan_trial(120, order="alternating", highest_work_rpm=140)][:4]  # [120.0, 132.0, 108.0, None]
""",
        (),
        "For trials at constant infeed rate, where grit depth goes with the fourth root of the rpm. The order out and back keeps a drift from posing as a knee ([why](../how-sure.md)); its way out goes by two steps at a time. Step outward only as long as nothing is damaged: "
        "stop going slower when power climbs fast, stop at once at burn, cracks or wheel breakdown. Steps of 10 % are common practice, "
        "without a source.",
        "The sheet *2 Trial* of [trial.xlsx](../../workbook_templates/trial.xlsx) shows the plan beside the cells for the readings, where Inputs say to follow it.",
        "One reading at a time instead: [next_reading](next_reading.md). On the command line: [`gritfuncs plan`](../commands.md#gritfuncs-plan).",
        "work rpm of the readings in run order, out by every second step and home by the others",
    ),
    "speed_table": Tool(
        f"""table = gf.speed_table(
    grit_depth=1.36, work_diameters=[12, 20], infeed_rates=[0.3, 0.6], {WHEEL},
    limits=gf.Limits(highest_work_rpm=300))
table.rows[0][1].work_rpm, table.rows[0][0].word           # 176.7 1/min, 'rpm too high'
print(table.report())
""",
        (),
        f"For the wheel and material in which the depth was found. {RADIUS} {PRODUCT} {PREFACTOR} A wheel above its marked speed is refused. "
        "The expected power needs `specific_energy` (the level of the trial) and `contact_width`.",
        "[speed_table.xlsx](../../workbook_templates/speed_table.xlsx) has 12 by 12 setups in native formulas, with the same words for limits.",
        "One setup: [work_rpm_for](work_rpm_for.md). The best one: [fastest_setup](fastest_setup.md). On the command line: "
        "[`gritfuncs table`](../commands.md#gritfuncs-table).",
        "work rpm over part diameter for three infeed rates; crosses break a limit",
    ),
    "fastest_setup": Tool(
        f"""fastest = gf.fastest_setup(
    grit_depth=1.36, work_diameter=25, {WHEEL},
    limits=gf.Limits(lowest_work_rpm=20, highest_work_rpm=400, highest_infeed_rate=2, highest_power=4),
    specific_energy=118, contact_width=15, idle_power=0.86)
fastest.setup.infeed_rate, fastest.setup.work_rpm          # 1.355 mm/min, 35.38 1/min
print(fastest.words)
""",
        (),
        f"At constant grit depth work rpm times infeed rate is fixed, so the fastest infeed is set by one limit, in closed form. {RADIUS} "
        f"{PRODUCT} {PREFACTOR} At least one limit must bound the infeed rate from above. Roundness, finish and deflection are no limits here.",
        "The sheet *Fastest* of [speed_table.xlsx](../../workbook_templates/speed_table.xlsx) does it for every part diameter in native formulas.",
        "All setups: [speed_table](speed_table.md). One quantity solved for: [infeed_rate_for](infeed_rate_for.md).",
        "highest infeed rate over part diameter, marked by the limit that binds",
    ),
}
RANGES = "A2:A12,B2:B12"


# Parts of the results that have no remark beside them in the code, or one that says nothing on a page of its own.
PARTS = {
    "Trial.setup": "`gf.Setup` with wheel, work, infeed rate; None where the file gives none",
    "Reading.note": "as in the file",
    "Reading.status": "used, excluded, blank, or left out with the reason",
    "Reading.is_used": "whether it counts",
    "PowerLog.parts": "`PartReading` of every part that can be read",
    "PowerLog.stretches": "`Stretch` of every rise above idle",
    "PowerLog.remarks": "plain sentences",
    "PowerLog.trace": "the condensed trace, for pictures",
    "Stretch.why": "the reason for the word",
    "PartReading.net": "level less idle",
    "Knee.verdict": "`found`, `still falling`, `already level`, `not resolved`, `too few readings`",
    "Knee.n_readings": "readings used",
    "Knee.n_depths": "different depths among them",
    "Advice.stop": "whether the trial can stop",
    "Advice.reason": "why, in words",
    "Advice.knee": "`Knee` of the readings so far",
    "PlannedReading.number": "place in run order, from 1",
    "PlannedReading.step_percent": "% of nominal",
    "PlannedReading.work_rpm": "1/min, or None",
    "SpeedTable.work_diameters": "mm",
    "SpeedTable.infeed_rates": "mm/min on the radius",
    "SpeedTable.side": "1, 0 or -1",
    "SpeedTable.shape_ratio": "chip width over thickness",
    "SpeedTable.limits": "`gf.Limits`",
    "SpeedCell.speed_ratio": "wheel speed over work speed",
    "FastestSetup.setup": "`SpeedCell`, or None",
}
# What the results are made of; the first is the result itself.
RESULTS = {
    "read_trial": (Trial, Reading),
    "read_log": (PowerLog, Stretch, PartReading),
    "find_knee": (Knee,),
    "next_reading": (Advice,),
    "confirm_knee": (Confirmation, RecordedKnee),
    "compare_trials": (Comparison, Difference, Drift),
    "plan_trial": (PlannedReading,),
    "speed_table": (SpeedTable, SpeedCell),
    "fastest_setup": (FastestSetup,),
}


def tool_page(entry: Entry, caution: str) -> str:
    function, tool = PUBLIC[entry.name], TOOLS[entry.name]
    lines = [
        f"# {entry.name}",
        "",
        f"{entry.title}.",
        "",
        *_remarks(function),
        "",
        caution,
        "",
        "| argument | default | what it is |",
        "|---|---|---|",
    ]
    described = _described(function)
    for name, parameter in inspect.signature(function).parameters.items():
        default = "" if parameter.default is inspect.Parameter.empty else _default(parameter.default)
        lines.append(f"| `{name}` | {default} | {described.get(name) or _from_vocabulary(name)} |")
    lines += [
        "",
        "## To copy",
        "",
        "```python",
        "import gritfuncs as gf",
        "",
        tool.code.rstrip(),
        "```",
        "",
        *_printed(tool),
        "",
        "`gritfuncs demo` makes the folder `gritfuncs-demo` with an invented trial." if "gritfuncs-demo" in tool.code else "",
        "",
    ]
    lines += _cells(entry, tool)
    lines += ["", "## What it gives", ""]
    for kind in RESULTS[entry.name]:
        lines += [f"{first_sentence(kind)}", "", f"| `{kind.__name__}` | what it is |", "|---|---|", *_parts(kind), ""]
    lines += [
        "",
        "## When it holds",
        "",
        tool.holds,
        "",
        tool.native,
        "",
        f"![{tool.picture}](pictures/{entry.name}.png)",
        "",
        "## Related",
        "",
        tool.related,
    ]
    text = "\n".join(lines)
    return re.sub(r"\n{3,}", "\n\n", text).rstrip() + "\n"


def first_sentence(thing) -> str:
    return " ".join(re.split(r"\n\n|(?<=\.)\s", inspect.cleandoc(thing.__doc__ or ""))[0].split())


def _parts(kind) -> list[str]:
    """A row for each field with the comment beside it in the code, and for each property and method with its documentation."""
    comments = dict(re.findall(r"^    (\w+): [^#\n]+  # (.+)$", inspect.getsource(kind), re.MULTILINE))

    def said(name: str, text: str) -> str:
        return f"| `{name}` | {PARTS.get(f'{kind.__name__}.{name}', text)} |"

    rows = [said(field.name, comments.get(field.name, "")) for field in fields(kind)]
    for name, member in vars(kind).items():
        if not name.startswith("_") and inspect.isfunction(member):
            rows.append(said(f"{name}({', '.join(list(inspect.signature(member).parameters)[1:])})", first_sentence(member)))
        elif isinstance(member, (property, cached_property)) and not name.startswith("_"):
            rows.append(said(name, first_sentence(member)))
    return rows


def _printed(tool: Tool) -> list[str]:
    """What the example prints, run in the folder of the demonstration."""
    with scratch():
        text = run_python(Block("python", f"import gritfuncs as gf\n{tool.code}", None, None), {})[1]
    return ["```text", *(line.rstrip() for line in text.rstrip().splitlines()), "```"] if text else []


def _remarks(function) -> list[str]:
    """The paragraphs of the docstring between title and parameters."""
    paragraphs = inspect.cleandoc(function.__doc__).split("\n\n")[1:]
    kept = []
    for paragraph in paragraphs:
        if re.match(r"(Parameters|Raises|>>>)", paragraph):
            break
        kept += [" ".join(paragraph.split()), ""]
    return kept[:-1]


def _described(function) -> dict[str, str]:
    """The section Parameters of the docstring."""
    section = re.search(r"^Parameters\n-+\n(.*?)(?:\n\n|\Z)", inspect.cleandoc(function.__doc__), re.MULTILINE | re.DOTALL)
    entries = re.findall(r"^(\w+) : (.*(?:\n +.*)*)", section[1], re.MULTILINE) if section else []
    return {name: " ".join(text.split()).replace("|", "\\|") for name, text in entries}


def _from_vocabulary(name: str) -> str:
    if name in ARGUMENTS:
        return ARGUMENTS[name]
    quantity = QUANTITIES[name]
    return f"{quantity.label}, {quantity.requirement}"


def _default(value) -> str:
    return f"`{value!r}`" if value is None or isinstance(value, (int, float, str)) else "none set"


def _cells(entry: Entry, tool: Tool) -> list[str]:
    if entry.name == "next_reading":
        call = "(C2:C12,B2:B12,D1,D2,D3,D4)"
        return [
            "| in a cell | commas | semicolons |",
            "|---|---|---|",
            f"| a work rpm, or a text that begins with `stop:` | `=GRIT_NEXT_RPM{call}` | `=GRIT_NEXT_RPM{call.replace(',', ';')}` |",
            "",
            "C work rpm and B net loads of the readings so far, D1 nominal rpm, D2 and D3 lowest and highest rpm of the machine or blank, D4 yes "
            "when damage was seen. [Excel](../excel.md), [Calc](../calc.md).",
        ]
    if not tool.cells:
        return ["It has no function in cells."]
    return [
        "| in a cell, depths in A2 to A12, energies in B2 to B12 | commas | semicolons |",
        "|---|---|---|",
        *[f"| {what} | `={cell}({RANGES})` | `={cell}({RANGES.replace(',', ';')})` |" for what, cell in tool.cells],
        "",
        "A row with a blank is left out. [Excel](../excel.md), [Calc](../calc.md).",
    ]
