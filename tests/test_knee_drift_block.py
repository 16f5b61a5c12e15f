"""Drift in cells against `gritfuncs.knee.knee_of_trial`: verdict for verdict, by our own evaluation and in every engine."""

from __future__ import annotations

import random

import pytest
from engines import ENGINES
from openpyxl import Workbook
from test_knee_block import NUMBERS, agree, invented_trial

from gritfuncs.knee import FOUND, NOT_RESOLVED, TOO_FEW, knee_of_trial
from gritfuncs.planning import plan_trial
from gritfuncs.spreadsheets.evaluate import workbook_values
from gritfuncs.workbooks.blocks.drift import drift_block
from gritfuncs.workbooks.blocks.knee import knee_block

pytestmark = pytest.mark.usefixtures("no_search_for_readings_out_of_line")  # cells leave it out
ROWS = 16
CHOSEN = (
    4,
    30,
    9,
    19,
    17,
    41,
    43,
    18,
    49,
    16,
    26,
    54,
)  # seeds: two refused for drift, drift taken off, judged or not, each verdict
PLANS = {
    order: [(each.work_rpm / 100) ** 0.25 for each in plan_trial(100.0, order=order)] for order in ("out and back", "alternating")
}


def drifting_trial(seed):
    """(depths, energies, noise) in the order taken: plans and other orders, repeats, falls, scatter, drift, of any shape now and then."""
    if seed % 6 == 5:
        return invented_trial(seed // 6)
    draw = random.Random(f"drift {seed}")
    depths = list(PLANS[draw.choice(list(PLANS))])
    if draw.random() < 0.3:
        depths = [h for h in depths for _ in range(draw.choice((1, 1, 2)))][:ROWS]
    if draw.random() < 0.2:
        depths = [h * (1 + draw.uniform(0, 4e-4)) for h in depths]
    knee, steep, noise = draw.uniform(0.85, 1.08), draw.uniform(0.4, 3), draw.choice((0, 0.005, 0.01, 0.02, 0.03))
    truth = draw.choice(
        (lambda h: 1 + steep * max(0.0, 1 - h / knee), lambda h: max(1.0, knee / h) ** steep, lambda h: 0.4 + 0.6 / h)
    )
    drift = draw.choice((0, 0.002, -0.004, 0.008))
    energies = [40 * (truth(h) * (1 + noise * draw.gauss(0, 1)) + drift * i) for i, h in enumerate(depths)]
    return depths, energies, draw.choice((None, None, 0.02))


def book_of(trials):
    """A workbook with a sheet of the knee and one of drift for each trial; some rows are blank or texts."""
    workbook, blocks = Workbook(), []
    data = workbook.active
    data.title = "Readings"
    for number, (depths, energies, noise) in enumerate(trials):
        letters = [data.cell(1, 3 * number + offset).column_letter for offset in (1, 2)]
        rows = sorted(random.Random(number).sample(range(3, 3 + ROWS), len(depths)))
        for row in range(3, 3 + ROWS):
            data[f"{letters[0]}{row}"], data[f"{letters[1]}{row}"] = (None, "off") if row % 2 else ("", None)
        for row, *pair in zip(rows, depths, energies):
            data[f"{letters[0]}{row}"], data[f"{letters[1]}{row}"] = pair
        data[f"{letters[0]}1"] = noise
        ranges = [f"Readings!${letter}$3:${letter}${2 + ROWS}" for letter in letters]
        options = dict(noise=f"Readings!${letters[0]}$1")
        plain = knee_block(*ranges, ROWS, sheet_name=f"Knee {number}", **options)
        block = drift_block(plain, *ranges, ROWS, sheet_name=f"Drift {number}", anchor="B4", **options)
        for name, cells in ((f"Knee {number}", plain.cells), (f"Drift {number}", block.cells)):
            sheet = workbook.create_sheet(name)
            for address, content in cells.items():
                assert sheet[address].value is None
                sheet[address] = content
        blocks.append((block, [row - 2 for row in rows]))
    return workbook, blocks


def results_of(values, block):
    places = {name: reference.rsplit("!", 1) for name, reference in block.results.items()}
    return {name: values[sheet.strip("'")].get(address.replace("$", "")) for name, (sheet, address) in places.items()}


def disagreements(found, expected, rows):
    wrong = [name for name in (*NUMBERS, "drift") if not agree(found[name], getattr(expected, name))]
    advice = expected.advice
    if expected.advice.startswith("repeat"):
        advice = f"repeat reading {rows[expected.advice.number]}"
        wrong += [] if found["reason"].startswith("A drift of ") else ["reason"]
    wrong += ["verdict"] if found["verdict"] != expected.verdict else []
    wrong += ["advice"] if (found["advice"] or "") != advice else []
    for words in ("which is taken off", "Drift was not judged"):
        wrong += (
            [words]
            if any(words in reason for reason in expected.reasons) != (words in found["reason"]) and "repeat" not in advice
            else []
        )
    return wrong


def check(values, blocks, answers):
    wrong = {}
    for number, ((block, rows), answer) in enumerate(zip(blocks, answers)):
        found = results_of(values, block)
        if names := disagreements(found, answer, rows):
            wrong[number] = names, found, answer
    assert not wrong


def answers_to(trials):
    return [knee_of_trial(depths, energies, noise=noise) for depths, energies, noise in trials]


def test_random_trials_are_judged_as_in_python():
    trials = [drifting_trial(seed) for seed in CHOSEN]
    answers = answers_to(trials)
    assert {answer.verdict for answer in answers} >= {FOUND, NOT_RESOLVED, TOO_FEW}
    assert sum(answer.advice.startswith("repeat") for answer in answers) >= 2
    assert any("taken off" in reason for answer in answers for reason in answer.reasons)
    for start in range(0, len(trials), 4):
        part = slice(start, start + 4)
        workbook, blocks = book_of(trials[part])
        check(workbook_values(workbook), blocks, answers[part])


def test_every_engine_judges_as_python(compute, tmp_path):
    trials = [drifting_trial(seed) for seed in CHOSEN[:3]]
    workbook, blocks = book_of(trials)
    workbook.save(tmp_path / "drift.xlsx")
    for engine in ENGINES:
        check(compute[engine](tmp_path / "drift.xlsx"), blocks, answers_to(trials))


@pytest.mark.parametrize("depths, energies", [([], []), (["=1/0", 1.0, 1.1], [1.0, 2.0, 3.0]), ([1.0, 1.1], ["=NA()", 3.0])])
def test_where_the_knee_has_no_verdict_drift_adds_none(depths, energies):
    workbook, ((block, _),) = book_of([(depths, energies, None)])
    found = results_of(workbook_values(workbook), block)
    assert found["verdict"] == (TOO_FEW if not depths else "no verdict") and found["advice"] and found["reason"]
    assert agree(found["knee"], None) and agree(found["drift"], None) and found["drift_judged"] == 0
