"""The knee in cells against `gritfuncs.knee`, in LibreOffice, two more engines and our own evaluation."""
import math
import random

import pytest
from engines import formualizer_values, ironcalc_values
from openpyxl import Workbook, load_workbook
from openpyxl.utils import get_column_letter

from gritfuncs.knee import FOUND, VERDICTS, verdict
from gritfuncs.knee.readings import read
from gritfuncs.workbooks.cell_values import CellError
from gritfuncs.workbooks.evaluate import workbook_values
from gritfuncs.workbooks.knee_block import knee_block

NUMBERS = ("knee", "low", "high", "level", "slope", "scatter_low", "scatter_high", "noise", "n_readings", "n_depths")
WORDS = ("verdict", "advice")
SHAPES = ("hinge", "hinge", "hinge", "line", "flat", "power", "rise", "vee", "steps", "offset")


def invented_trial(seed):
    """Readings of any shape, size, order, scatter and meter, some repeated; a noise is given for every third."""
    draw = random.Random(seed)
    count = draw.choice([5, 6, 7, 8, 9, 10, 12, 14])
    depths = sorted(draw.uniform(0.5, 1.6) for _ in range(count))
    if draw.random() < 0.5:
        depths = [0.5 + 1.1 * i / (count - 1) for i in range(count)]
    for _ in range(draw.choice([0, 0, 2, 3])):
        depths[draw.randrange(count)] = depths[count // 2]
    knee, fall, noise = draw.uniform(0.6, 1.5), draw.uniform(10, 90), draw.choice([0.0, 0.003, 0.01, 0.03, 0.08])
    truth = {
        "hinge": lambda h: 40 + fall * max(0.0, knee - h), "line": lambda h: 200 - fall * h,
        "flat": lambda h: 40.0, "power": lambda h: 40 * h**-1.2, "rise": lambda h: 40 + fall * h,
        "vee": lambda h: 40 + fall * abs(knee - h), "steps": lambda h: 55.0 if h < knee else 40.0,
        "offset": lambda h: fall * max(0.0, knee - h) - 20}[SHAPES[seed % len(SHAPES)]]
    energies = [truth(h) * (1 + noise * draw.gauss(0, 1)) for h in depths]
    if draw.random() < 0.3:
        energies = [round(u, 1) for u in energies]
    order = draw.sample(range(count), count)
    return [depths[i] for i in order], [energies[i] for i in order], 0.02 if seed % 3 == 0 else None


def book_of(trials, rows):
    """One workbook with a block for each trial; unused rows between and after the readings are blank or ""."""
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
                value = values[places.index(row)] if row in places else random.Random(row).choice([None, '=""'])
                data.cell(row + 3, column + offset, value)
            references.append(f"Readings!${letter}$3:${letter}${rows + 2}")
        letter = get_column_letter(column)
        data.cell(1, column, noise)
        block = knee_block(*references, rows, sheet_name=sheet.title, anchor=f"B{3 + number * (rows + 90)}",
                           noise=f"Readings!${letter}$1")
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
    points = [(found[f"line_depth_{i}"], found[f"line_energy_{i}"]) for i in (1, 2, 3)]
    if expected.verdict == FOUND:
        fitted = [expected.level + expected.slope * max(0, expected.knee - depth) for depth, _ in points]
        wrong += [f"line {i}" for i in range(3) if not agree(points[i][1], fitted[i])]
        wrong += ["line"] if not points[0][0] < points[1][0] < points[2][0] else []
    else:
        wrong += ["line"] if not all(isinstance(value, CellError) for point in points for value in point) else []
    return wrong


@pytest.fixture
def judge(monkeypatch):
    """What `find_knee` says without the two steps that a block leaves out."""
    monkeypatch.setattr(verdict, "_better", lambda *_: False)
    return lambda depths, energies, noise=None: verdict.judge(read(depths, energies), noise)


def check(values, blocks, trials, judge):
    wrong = {}
    for number, (block, trial) in enumerate(zip(blocks, trials)):
        found = results_of(values, block)
        names = disagreements(found, judge(*trial))
        if names:
            wrong[number] = names, found, judge(*trial)
    assert not wrong


def libreoffice_values(libreoffice, path):
    """As LibreOffice computes and stores them: a workbook this large is read faster that way."""
    stored = libreoffice.convert(path, path.with_name("stored.xlsx"))
    return {sheet.title: {cell.coordinate: value_of(cell) for row in sheet.iter_rows() for cell in row
                          if cell.value is not None}
            for sheet in load_workbook(stored, data_only=True)}


def value_of(cell):
    if cell.data_type == "e":
        return CellError(cell.value)
    return float(cell.value) if isinstance(cell.value, int) else cell.value


def test_blocks_equal_python_in_every_engine(libreoffice, judge, tmp_path):
    trials = [invented_trial(seed) for seed in range(60)]
    assert {judge(*trial).verdict for trial in trials} == set(VERDICTS)
    workbook, blocks = book_of(trials, rows=16)
    path = tmp_path / "blocks.xlsx"
    workbook.save(path)
    for values in (libreoffice_values(libreoffice, path), formualizer_values(path), ironcalc_values(path)):
        check(values, blocks, trials, judge)
