"""The sheet Confirm of knee_record.xlsx agrees with confirm_knee, answer for answer, and stops at damage."""

from __future__ import annotations

import datetime
import random
import re
from dataclasses import dataclass, replace

import numpy as np
import pytest
from engines import ENGINES
from open_book import OpenBook
from openpyxl.utils.cell import rows_from_range
from openpyxl.utils.datetime import to_excel
from test_templates import named_values

from gritfuncs.knee import CHANGED, CONFIRMED, GO_ON, FourthRoot, RecordedKnee, confirm_knee
from gritfuncs.knee.confirm import MOST_CONFIRMING, RECORDED_FREEDOM
from gritfuncs.knee.hinge import fit_corner
from gritfuncs.knee.readings import numbered
from gritfuncs.planning import Limits
from gritfuncs.sheets.save import save_workbook
from gritfuncs.workbooks import knee_record
from gritfuncs.workbooks.confirm.tables import CONFIRMING, CORNERS, SHEET

DAY = to_excel(datetime.date(2026, 3, 1))
TEXTS = dict(key="A", wheel="resin", grit="D126", material="carbide", machine="one", who="me")


@pytest.fixture(scope="module")
def workbook(as_built):
    return as_built("knee_record.xlsx")


@pytest.fixture(scope="module")
def book(workbook):
    return OpenBook(workbook)


def test_each_column_to_type_into_has_its_heading_and_unit(workbook):
    heads = [[cell.value for cell in workbook["Confirm"][row][:9]] for row in (15, 16)]
    assert heads[0] == [column.heading for column in CONFIRMING.columns][:9] and all(heads[0])
    assert heads[1] == ["", "1/min", "1/min", "any unit", "the same", "seen", "", "µm", "as load"]


def listed(rpms, loads, idle=0.0) -> list:
    """The cells of the readings, one after another."""
    readings = [(rpm, load + idle, idle or None) for rpm, load in zip(rpms, loads)]
    return [value for reading in readings for value in reading]


@dataclass
class Case:
    """A recorded knee, the setup of the new part and what its readings will be."""

    record: RecordedKnee
    rpm: float  # of the recorded knee
    limits: Limits
    wanted: float
    freedom: float | None

    def setup(self) -> FourthRoot:
        return FourthRoot(self.record.knee * self.rpm**-0.25)

    def inputs(self, rpms, loads, idle=0.0, damage=()):
        record = self.record
        of_record = dict(
            TEXTS,
            date=DAY,
            knee=record.knee,
            low=record.low,
            high=record.high,
            density=20.0,
            ratio=10.0,
            scatter=100 * record.noise,
            degrees_of_freedom=self.freedom,
            steepness=record.steepness,
            shallowest=record.shallowest,
            deepest=record.deepest,
            **dict.fromkeys(("bond", "concentration", "coolant", "level", "note", "units")),
        )
        return dict(
            {f"record_{name}": [value] for name, value in of_record.items()},
            today=None,
            months=18.0,
            lookup_key="A",
            confirm_rpm=self.rpm,
            confirm_lowest_rpm=self.limits.lowest_work_rpm,
            confirm_highest_rpm=self.limits.highest_work_rpm,
            confirm_wanted=100 * self.wanted,
            confirm_readings=listed(rpms, loads, idle),
            confirm_damage=list(damage),
        )

    def answer(self, rpms, loads):
        depths = [self.setup().depth(rpm) for rpm in rpms]
        return confirm_knee(depths, loads, self.record, self.setup(), self.limits, wanted=self.wanted)


def drawn(draw: random.Random) -> Case:
    knee, half, rpm = draw.choice((0.75, 1.0, 1.37)), draw.choice((0.02, 0.04, 0.1)), draw.choice((100.0, 83.7, 1240.0, 0.83))
    freedom = draw.choice((4, 20, None))
    record = RecordedKnee(
        knee,
        knee * (1 - half),
        knee * (1 + half),
        draw.choice((0.8, 2.5, 4.0, 9.0)),
        draw.choice((0.003, 0.003, 0.01)),
        freedom or RECORDED_FREEDOM,
        draw.choice((None, None, 0.7 * knee)),
        draw.choice((None, None, 1.3 * knee)),
    )
    limits = Limits(
        lowest_work_rpm=draw.choice((None, None, None, 0.43 * rpm)), highest_work_rpm=draw.choice((None, None, 1.51 * rpm))
    )
    return Case(record, rpm, limits, draw.choice((0.05, 0.1)), freedom)


def load_at(case: Case, knee: float, kind: str, depth: float) -> float:
    below = max(0.0, 1 - depth / knee)
    if kind == "power":
        return 2.0 * max(1.0, knee / depth) ** min(case.record.steepness, 4)
    return 2.0 * (1 + case.record.steepness * (below - (0.1 * max(0.0, depth / knee - 1) if kind == "gentle" else 0.0)))


def agree(book, answer) -> None:
    assert book["out_confirm_word"] == answer.word, answer.line()
    assert (book["out_confirm_next_rpm"] in (None, "")) == (answer.work_rpm is None)
    if answer.work_rpm is not None:
        assert book["out_confirm_next_rpm"] == pytest.approx(answer.work_rpm, rel=1e-9)
    assert book["out_confirm_full_trial"] == int(answer.full_trial)
    assert book["out_confirm_nominal_rpm"] == pytest.approx(answer.nominal_rpm, rel=1e-9)
    for name in ("knee", "low", "high"):
        wanted, found = getattr(answer, name), book[f"out_confirm_{name}"]
        assert str(found).startswith("#") if wanted is None else found == pytest.approx(wanted, rel=1e-9), name
    if answer.knee is not None:  # depth goes with the fourth root of the rpm
        rpm = book["in_confirm_rpm"] * (answer.knee / book["out_lookup_knee"]) ** 4
        assert book["out_confirm_set_rpm"] == pytest.approx(rpm, rel=1e-9)


def least_squares(depths, loads, place):
    """Those about the best of a straight fall, a curved one and one that keeps a tenth of its slope, with the corner at this place."""

    def about(shape) -> float:
        design = np.column_stack([np.ones(len(depths)), shape])
        fit, *_ = np.linalg.lstsq(design, loads, rcond=None)
        return np.sum((loads - design @ fit) ** 2) if fit[1] > 0 else level

    level = np.sum((loads - loads.mean()) ** 2)
    if place <= depths.min():
        return level
    curved = depths.min() ** 2 * (depths**-2.0 - place**-2.0)
    if place >= depths.max():  # it falls to the last reading
        return min(about(-depths), about(curved))
    below, beyond = np.maximum(0, place - depths), np.maximum(0, depths - place)
    return min(about(below), about(np.maximum(0, curved)), about(below - 0.1 * beyond))


def fits_agree(workbook, book, case, rpms, loads, corners: bool) -> None:
    """The level of the fit with Python's, and the squares at each corner with numpy's."""
    depths, loads = np.array([case.setup().depth(rpm) for rpm in rpms]), np.array(loads)
    (label,) = (cell for cell in workbook[SHEET]["A"] if cell.value == "level of the fit")
    assert book.at(SHEET, f"B{label.row}") == pytest.approx(fit_corner(numbered(depths.tolist(), loads.tolist())).level, rel=1e-9)
    for row in range(CORNERS.first_row, CORNERS.last_row + 1) if corners else ():
        place, squares = (book.at(SHEET, CORNERS.here(name, row)) for name in ("corner", "squares"))
        assert squares == pytest.approx(least_squares(depths, loads, place), rel=1e-6, abs=1e-12 * np.sum(loads**2)), row


def test_it_answers_as_confirm_knee_does_at_every_reading_of_random_trials(workbook, book):
    words = []
    for seed in range(24):
        draw = random.Random(seed)
        case, kind = drawn(draw), draw.choice(("hinge", "power", "gentle"))
        knee, idle = case.record.knee * draw.choice((1, 1, 1.03, 0.94, 1.1, 0.8)), draw.choice((0.0, 0.62))
        off = draw.choice((0.0, 0.002))  # the rpm that is read is never quite the one that was set
        rpms, loads = [], []
        book.fill(**case.inputs(rpms, loads))
        while True:
            answer = case.answer(rpms, loads)
            book.fill(confirm_readings=listed(rpms, loads, idle))
            book.read()
            assert book["out_ready"] == 1, (seed, book["out_check"])
            agree(book, answer)
            words.append(answer.word)
            if len(rpms) >= 4:
                fits_agree(workbook, book, case, rpms, loads, corners=seed < 6)
            if answer.work_rpm is None:
                break
            rpms.append(round(answer.work_rpm * (1 + draw.uniform(-off, off)), 9))
            depth = case.setup().depth(rpms[-1])
            loads.append(max(0.05, load_at(case, knee, kind, depth) * (1 + case.record.noise * draw.gauss(0, 1))))
        assert len(rpms) <= MOST_CONFIRMING
    assert words.count(CONFIRMED) >= 2 and words.count(GO_ON) > 40  # changed: in the trials below


KNEE = Case(RecordedKnee(1.36, 1.31, 1.42, 3.6, 0.018, 12, 1.13, 1.59), 102.0, Limits(), 0.05, 12)
STAYED = ([117.0, 84.4, 155.0, 62.5], [2.0, 2.4, 2.01, 2.9])
TRIALS = {CONFIRMED: STAYED, CHANGED: (STAYED[0], [2.0, 2.9, 2.6, 2.1]), GO_ON: (STAYED[0][:3], STAYED[1][:3])}


@pytest.fixture(scope="module")
def files(workbook, tmp_path_factory):
    """A workbook for each of the trials."""
    paths = {}
    for number, (word, readings) in enumerate(TRIALS.items()):
        for name, values in KNEE.inputs(*readings).items():
            ((sheet, area),) = workbook.defined_names[f"in_{name}"].destinations
            first, _, last = area.replace("$", "").partition(":")
            cells = [cell for row in rows_from_range(f"{first}:{last or first}") for cell in row]
            listed = values if isinstance(values, list) else [values]
            for cell, value in zip(cells, listed + [None] * (len(cells) - len(listed))):
                workbook[sheet][cell] = value
        paths[word] = tmp_path_factory.mktemp("confirm") / f"{number}.xlsx"
        save_workbook(workbook, paths[word])
    return paths


@pytest.mark.parametrize("engine", ENGINES)
def test_every_engine_gives_the_answers(engine, workbook, files, compute):
    for word, path in files.items():
        seen = named_values(workbook, compute[engine](path))
        agree(seen, KNEE.answer(*TRIALS[word]))
        assert seen["out_confirm_word"] == word


def test_the_trials_are_what_they_are_called():
    assert {word: KNEE.answer(*readings).word for word, readings in TRIALS.items()} == {word: word for word in TRIALS}


@pytest.mark.parametrize("place", range(4))
def test_damage_stops_it_at_any_time(book, place):
    book.fill(**KNEE.inputs(*STAYED, damage=[None] * place + ["burn"]))
    book.read()
    assert book["out_confirm_word"] == CHANGED and book["out_confirm_next_rpm"] is None
    assert book.at("Confirm", "A4") == book.at("Confirm", "K4") == "STOP" and str(book["out_confirm_set_rpm"]).startswith("#")
    assert book["out_state"].startswith(f"! DAMAGE noted: burn in reading {place + 1}") and book["out_looks"] >= 1
    book.fill(confirm_damage=[None] * place + ["i.O."])
    book.read()
    assert book["out_confirm_word"] == CONFIRMED and book.at("Confirm", "A4") == "finished"


def test_only_confirmed_carries_an_rpm_and_it_holds_the_knee(book):
    for word, readings in TRIALS.items():
        book.fill(**KNEE.inputs(*readings))
        book.read()
        if word == CONFIRMED:
            assert KNEE.setup().depth(book["out_confirm_set_rpm"]) == pytest.approx(book["out_confirm_knee"], rel=1e-9)
            assert book.at("Confirm", "K4") == book["out_confirm_set_rpm"]
        else:
            assert str(book["out_confirm_set_rpm"]).startswith("#") and book.at("Confirm", "K4") == "–"
    book.fill(**KNEE.inputs(*STAYED))
    book.fill(confirm_highest_rpm=120.0, confirm_lowest_rpm=115.0)
    book.read()
    assert book.at("Confirm", "K4") in ("–", "STOP")  # an rpm that the machine cannot run is not shown


def test_the_ends_of_the_interval_are_shown_as_the_rpm_that_cut_them(book):
    book.fill(**KNEE.inputs(*STAYED))
    book.read()
    low, high = map(float, re.findall(r"[\d.]+(?= )", book.at("Confirm", "K5").replace("1/min", ""))[:2])
    for rpm, end in ((low, "low"), (high, "high")):
        assert KNEE.setup().depth(rpm) == pytest.approx(book[f"out_confirm_{end}"], rel=2e-4)


@pytest.mark.parametrize("column, other", [("damage", "status"), ("status", "damage")])
def test_what_is_marked_in_a_row_is_marked_by_its_own_cell(workbook, column, other):
    rules = {str(area.sqref): area.rules for area in workbook["Confirm"].conditional_formatting}
    (rule,) = next(
        found for area, found in rules.items() if CONFIRMING.here(column, CONFIRMING.first_row) in area.split(":")[0].split()
    )
    refers = re.findall(r"[A-Z]+\d+", rule.formula[0].replace("$", ""))
    assert CONFIRMING.here(column, CONFIRMING.first_row) in refers and CONFIRMING.here(other, CONFIRMING.first_row) not in refers


@pytest.mark.parametrize("rows, last", [((), 0), ((0,), 1), ((0, 1, 2), 3), ((0, 2), 3)])
def test_what_comes_next_goes_below_the_last_row_that_is_typed(book, rows, last):
    typed = [(120.0, 2.0, 0.5) if row in rows else (None, None, None) for row in range(last)]
    book.fill(**{**KNEE.inputs((), ()), "confirm_readings": [cell for row in typed for cell in row]})
    book.read()
    assert book["out_confirm_typed"] == last


def test_an_outdated_entry_can_be_confirmed(book):
    """That is what a confirmation is for."""
    book.fill(**KNEE.inputs(*STAYED))
    book.fill(today=DAY + 1000)
    book.read()
    assert book["out_lookup_word"] == "outdated" and book["out_confirm_word"] == CONFIRMED
    book.fill(today=None)


def test_a_cell_of_damage_that_shows_an_error_counts_as_damage(book):
    book.fill(**KNEE.inputs(*STAYED))
    book.put_formula("confirm_damage", 2, "=NA()")
    book.read()
    assert book["out_confirm_word"] == CHANGED and book.at("Confirm", "A4") == "STOP"
    assert "an error value in reading 2" in book["out_state"]


@pytest.mark.parametrize("limits", [Limits(lowest_work_rpm=70.0), Limits(highest_work_rpm=140.0), Limits(70.0, 140.0)])
def test_places_that_limits_cut_off_move_to_the_limit_as_in_python(book, limits):
    case = replace(KNEE, limits=limits)
    rpms, loads = [], []
    book.fill(**case.inputs(rpms, loads))
    while (answer := case.answer(rpms, loads)).work_rpm is not None:
        book.fill(confirm_readings=listed(rpms, loads))
        book.read()
        agree(book, answer)
        assert (limits.lowest_work_rpm or 0) <= answer.work_rpm <= (limits.highest_work_rpm or 1e9)
        rpms.append(answer.work_rpm)
        loads.append(load_at(case, 1.36, "hinge", case.setup().depth(answer.work_rpm)))
    assert len(rpms) >= 3


@pytest.mark.parametrize(
    "rpm, low, high, start",
    [
        (117.36, None, None, 117.0),
        (1173.6, None, None, 1170.0),
        (1.1736, None, None, 1.17),
        (117.36, 117.3, None, 117.3),
        (117.36, None, 116.9, 116.9),
        (117.36, 20.0, 400.0, 117.0),
    ],
)
def test_a_full_trial_starts_at_three_figures_of_the_rpm_that_cuts_the_knee_within_the_limits(book, rpm, low, high, start):
    book.fill(**{**KNEE.inputs((), ()), "confirm_rpm": rpm, "confirm_lowest_rpm": low, "confirm_highest_rpm": high})
    book.read()
    assert book["out_confirm_nominal_rpm"] == pytest.approx(start)


@pytest.mark.parametrize(
    "values, said",
    [
        (dict(lookup_key="B"), "not in the record"),
        (dict(lookup_key=None), "no key chosen"),
        (dict(record_steepness=[None]), "the record lacks steepness or scatter"),
        (dict(record_scatter=[None]), "the record lacks steepness or scatter"),
        (dict(confirm_rpm=None), "type the rpm that cuts the knee"),
        (dict(confirm_wanted=None), "type the wanted interval"),
        (dict(confirm_readings=[117.0, None, None]), "mend reading 1"),
        (dict(confirm_readings=[117.0, 2.0, None, 84.0, "x", None]), "mend reading 2"),
        (dict(confirm_readings=[117.0, None, None, 84.0, "x", None]), "mend reading 1"),
    ],
)
def test_what_is_missing_is_said_and_nothing_is_advised(book, values, said):
    book.fill(**{**KNEE.inputs([], []), **values})
    book.read()
    assert said in book["out_confirm_waits"] and book["out_confirm_next_rpm"] is None
    assert book.at("Confirm", "A4") == "–" and said in book.at("Confirm", "A5") and book["out_confirm_word"] == "no answer yet"


@pytest.mark.parametrize(
    "reading, status",
    [
        ((117.0, 2.6, 0.6), "used"),
        ((117.0, 2.6, None), "used"),
        ((None, 2.6, 0.6), "! rpm is blank"),
        ((117.0, None, 0.6), "! load is blank"),
        (("117 rpm", 2.6, 0.6), "! rpm not a number"),
        ((117.0, 2.6, "none"), "! idle not a number"),
        ((-1.0, 2.6, 0.6), "! rpm not > 0"),
        ((117.0, 0.6, 0.6), "! load not above idle"),
        ((117.0, 2.6, -0.1), "! idle below 0"),
        ((None, None, 0.6), "! rpm is blank"),
        ((None, None, None), None),
    ],
)
def test_what_becomes_of_a_reading_is_said(book, reading, status):
    book.fill(**KNEE.inputs([], []))
    book.fill(confirm_readings=list(reading))
    book.read()
    assert book["out_confirm_status"][0][0] == status


@pytest.mark.parametrize(
    "values, said",
    [
        (dict(confirm_rpm=-3.0), "Confirm: work rpm"),
        (dict(confirm_lowest_rpm=300.0, confirm_highest_rpm=200.0), "not above the highest"),
    ],
)
def test_nonsense_stops_it_and_is_named(book, values, said):
    book.fill(**{**KNEE.inputs(*STAYED), **values})
    book.read()
    assert book["out_check"].startswith("STOP") and said in book["out_check"] and book.at("Confirm", "A4") == "STOP"
    assert book.at("Confirm", "K4") == "STOP" and book["out_state"].startswith("STOP")


def test_too_many_readings_are_refused():
    with pytest.raises(ValueError, match=r"^confirm_readings must be at most 8 rows \(got 9\)$"):
        knee_record.build(dict(confirm_readings=[(100.0, 2.0)] * 9))


def test_a_reading_with_too_many_values_is_named_by_its_number():
    with pytest.raises(ValueError, match=r"^reading 2 must be at most \d values \(got 20\)$"):
        knee_record.build(dict(confirm_readings=[(100.0, 2.0), (100.0,) * 20]))
