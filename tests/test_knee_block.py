"""The knee in cells against `gritfuncs.knee`, in LibreOffice, two more engines and our own evaluation."""

from __future__ import annotations

import math
import random

import pytest
from engines import ENGINES
from evidence.notes import agreement
from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from gritfuncs.knee import FOUND, TOO_FEW, VERDICTS, find_knee
from gritfuncs.knee.readings import read
from gritfuncs.knee.verdict import judge
from gritfuncs.spreadsheets.cell_values import CellError
from gritfuncs.spreadsheets.evaluate import workbook_values
from gritfuncs.workbooks.blocks.knee import knee_block
from gritfuncs.workbooks.blocks.knee_columns import COLUMNS
from gritfuncs.workbooks.blocks.knee_values import LINE_POINTS

NUMBERS = ("knee", "low", "high", "level", "slope", "scatter_low", "scatter_high", "noise", "sse", "n_readings", "n_depths")
WORDS = ("verdict", "advice")
SHAPES = (
    "hinge",
    "hinge",
    "gentle",
    "bent",
    "line",
    "flat",
    "power",
    "rise",
    "vee",
    "steps",
    "offset",
    "curve",
    "curve",
    "exponential",
)


def invented_trial(seed):
    """Readings of any shape, number, order, scatter and meter, some repeated; some with noise."""
    draw = random.Random(seed)
    count = draw.choice([5, 6, 7, 8, 9, 10, 12, 14])
    depths = sorted(draw.uniform(0.5, 1.6) for _ in range(count))
    if draw.random() < 0.5:
        depths = [0.5 + 1.1 * i / (count - 1) for i in range(count)]
    for _ in range(draw.choice([0, 0, 2, 3])):
        depths[draw.randrange(count)] = depths[count // 2]
    knee, fall, noise = draw.uniform(0.6, 1.5), draw.uniform(10, 90), draw.choice([0, 0.003, 0.01, 0.03, 0.08])
    truth = {
        "hinge": lambda h: 40 + fall * max(0.0, knee - h),
        "line": lambda h: 200 - fall * h,
        "flat": lambda h: 40.0,
        "power": lambda h: 40 * h**-1.2,
        "rise": lambda h: 40 + fall * h,
        "gentle": lambda h: 40 + fall * (knee - h) * (1 if h < knee else 0.12),
        "bent": lambda h: 60 + fall * (knee - h) * (1 if h < knee else 0.4),
        "vee": lambda h: 40 + fall * abs(knee - h),
        "steps": lambda h: 55.0 if h < knee else 40.0,
        "offset": lambda h: fall * max(0.0, knee - h) - 20,
        "curve": lambda h: 40 * max(1.0, knee / h) ** (1 + fall / 30),
        "exponential": lambda h: 40 + fall * math.exp(6 * (0.5 - h)),
    }[SHAPES[seed % len(SHAPES)]]
    energies = [truth(h) * (1 + noise * draw.gauss(0, 1)) for h in depths]
    if draw.random() < 0.3:
        energies = [round(u, 1) for u in energies]
    order = draw.sample(range(count), count)
    return [depths[i] for i in order], [energies[i] for i in order], 0.02 if seed % 3 == 0 else None


def book_of(trials, rows):
    """One workbook with a block for each trial; unused rows between and after readings are blank or ""."""
    workbook = Workbook()
    data, sheet = workbook.active, workbook.create_sheet("Knee sheet")
    data.title = "Readings"
    blocks = []
    for number, (depths, energies, noise) in enumerate(trials):
        column = 3 * number + 1
        references = []
        for offset, values in enumerate((depths, energies)):
            letter = get_column_letter(column + offset)
            places = random.Random(number).sample(range(rows), len(values))
            for row in range(rows):
                unused = None if row % 2 else '=""'
                value = values[places.index(row)] if row in places else unused
                data.cell(row + 3, column + offset, value)
            references.append(f"Readings!${letter}$3:${letter}${rows + 2}")
        letter = get_column_letter(column)
        data.cell(1, column, noise)
        block = knee_block(
            *references, rows, sheet_name=sheet.title, anchor=f"B{sheet.max_row + 2}", noise=f"Readings!${letter}$1"
        )
        for address, content in block.cells.items():
            assert sheet[address].value is None
            sheet[address] = content
        blocks.append(block)
    return workbook, blocks


def results_of(values, block):
    """{name: value} of a block in {sheet: {address: value}}."""
    found = {}
    for name, reference in block.results.items():
        sheet, address = reference.rsplit("!", 1)
        found[name] = values[sheet.strip("'")].get(address.replace("$", ""))
    return found


def agree(cell, number):
    if number is None:
        return isinstance(cell, CellError) and cell == "#N/A"
    return isinstance(cell, float) and math.isclose(cell, number, rel_tol=1e-9, abs_tol=1e-12)


def disagreements(found, expected):
    """The names of a block's results that differ from a Knee."""
    wrong = [name for name in NUMBERS if not agree(found[name], getattr(expected, name))]
    wrong += [name for name in WORDS if (found[name] or "") != getattr(expected, name)]
    points = [(found[f"line_depth_{i}"], found[f"line_energy_{i}"]) for i in range(1, LINE_POINTS + 1)]
    if expected.verdict == FOUND:
        fitted = [expected.energy(depth) for depth, _ in points]
        if any("gently" in reason for reason in expected.reasons) and not expected.curved:
            wrong += [] if points[-1][1] < expected.level else ["last of the line"]
            del fitted[-1]
        wrong += [f"line {i + 1}" for i, energy in enumerate(fitted) if not agree(points[i][1], energy)]
        depths = [depth for depth, _ in points]
        wrong += ["line"] if depths != sorted(depths) or len(set(depths)) < LINE_POINTS else []
    else:
        wrong += ["line"] if not all(agree(value, None) for point in points for value in point) else []
    return wrong


def judged(depths, energies, noise=None):
    """What `find_knee` says without the search for a reading out of line, which a block leaves out."""
    answer = judge(read(depths, energies), noise)
    full = find_knee(depths, energies, noise=noise)
    assert answer == full or full.suspect is not None
    return answer


def check(values, blocks, trials):
    wrong = {}
    for number, (block, trial) in enumerate(zip(blocks, trials)):
        found = results_of(values, block)
        names = disagreements(found, judged(*trial))
        if names:
            wrong[number] = names, found, judged(*trial)
    assert not wrong


def test_blocks_equal_python_in_every_engine(compute, tmp_path):
    trials = [invented_trial(seed) for seed in range(44)]
    answers = [judged(*trial) for trial in trials]
    assert {answer.verdict for answer in answers} == set(VERDICTS)
    assert any("gently" in reason for answer in answers for reason in answer.reasons)
    assert sum(answer.curved for answer in answers) >= 2 and any(
        "A curved fall without" in answer.reasons[0] for answer in answers
    )
    assert any("goes on" in reason for answer in answers for reason in answer.reasons)
    assert len({answer.advice for answer in answers}) >= 7
    workbook, blocks = book_of(trials, rows=16)
    path = tmp_path / "blocks.xlsx"
    workbook.save(path)
    for engine in ENGINES:
        values = compute[engine](path)
        check(values, blocks, trials)
        found = [results_of(values, block) for block in blocks]
        agreement(
            engine,
            "knee in cells, invented trials, against Python",
            {
                (number, name): (getattr(answer, name), found[number][name])
                for number, answer in enumerate(answers)
                for name in NUMBERS
            },
        )


def test_our_own_evaluation_equals_python_too():
    trials = [invented_trial(seed) for seed in range(100, 108)]
    workbook, blocks = book_of(trials, rows=14)
    check(workbook_values(workbook), blocks, trials)


def single(depths, energies, noise=None, rows=8):
    """The results of one block on one trial; readings may be anything a cell can hold."""
    workbook = Workbook()
    data, sheet = workbook.active, workbook.create_sheet("Knee")
    for row, pair in enumerate(zip(depths, energies), 1):
        for column, value in enumerate(pair, 1):
            data.cell(row, column, value)
    data["D1"] = noise
    columns = [f"Sheet!${letter}$1:${letter}${rows}" for letter in "AB"]
    block = knee_block(*columns, rows, sheet_name="Knee", noise="Sheet!$D$1")
    for address, content in block.cells.items():
        sheet[address] = content
    return results_of(workbook_values(workbook), block)


DEPTHS, ENERGIES = [0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4], [64, 56, 48, 40, 40, 40, 40, 40]


@pytest.mark.parametrize(
    "depths, energies, noise, reason, advice",
    [
        (["=1/0", *DEPTHS[1:]], ENERGIES, None, "A reading is an error value.", "mend the readings"),
        (DEPTHS, [*ENERGIES[:7], "=NA()"], None, "A reading is an error value.", "mend the readings"),
        ([0, *DEPTHS[1:]], ENERGIES, None, "Depths must be > 0 µm.", "mend the readings"),
        ([-1, *DEPTHS[1:]], ENERGIES, None, "Depths must be > 0 µm.", "mend the readings"),
        *[
            (DEPTHS, ENERGIES, noise, "The noise must be > 0 and < 1, a share of the level.", "mend the noise")
            for noise in (0, 1, -0.02, "2 %", "=1/0")
        ],
        (DEPTHS, [1e200 * u for u in ENERGIES], None, "The readings cannot be computed with.", "mend the readings"),
    ],
)
def test_bad_readings_give_no_number(depths, energies, noise, reason, advice):
    found = single(depths, energies, noise)
    assert (found["verdict"], found["reason"], found["advice"]) == ("no verdict", reason, advice)
    for name in ("knee", "low", "high", "level", "slope", "noise", "line_depth_2", "line_energy_2"):
        assert agree(found[name], None)


@pytest.mark.parametrize(
    "depths, energies",
    [
        ([], []),
        ([None] * 8, [""] * 8),
        (DEPTHS[:1], ENERGIES[:1]),
        (DEPTHS, ["n/a"] * 8),
        ([1.0] * 8, ENERGIES),
        (DEPTHS[:5], ENERGIES[:5]),
        (DEPTHS, [*ENERGIES[:5], None, "", "off"]),
    ],
)
def test_too_few_readings_give_no_number(depths, energies):
    found = single(depths, energies)
    assert found["verdict"] == TOO_FEW and "rpm" in found["advice"]
    assert found["n_readings"] == sum(isinstance(u, (int, float)) for u in energies)
    for name in ("knee", "low", "high", "level", "slope", "scatter_low", "noise"):
        assert agree(found[name], None)


def test_a_block_has_a_label_and_a_unit_beside_each_value_and_a_label_on_each_column():
    block = knee_block("A1:A9", "B1:B9", 9, sheet_name="It's here", anchor="C5")
    assert block.results["knee"].startswith("'It''s here'!$D$")
    for content in block.cells.values():
        if str(content).startswith("="):
            assert "{" not in content and "[" not in content
    for reference in block.results.values():
        row = reference.rsplit("$", 1)[1]
        assert block.cells[f"C{row}"] and block.cells[f"E{row}"] and block.cells[f"D{row}"].startswith("=")
    (head,) = [address for address, content in block.cells.items() if content == "reading no."]
    labels = [content for address, content in block.cells.items() if address.endswith(head[1:])]
    assert len(labels) == len(COLUMNS) + 1 and all(labels)


def test_references_may_be_structured():
    block = knee_block("Trial[depth]", "Trial[energy]", 6, sheet_name="Knee")
    assert any("INDEX(Trial[depth],A" in str(content) for content in block.cells.values())


@pytest.mark.parametrize("rows", [0, 41])
def test_the_number_of_rows_is_limited(rows):
    with pytest.raises(ValueError, match=rf"rows must be 1 to 40 readings \(got {rows}\)"):
        knee_block("A1:A9", "B1:B9", rows, sheet_name="Knee")
