"""trial.xlsx, filled in as at a machine: damage, repeats, slips and limits, in the engine that is quickest to fill anew."""

from __future__ import annotations

import random

import pytest
from open_book import OpenBook
from openpyxl.utils import get_column_letter
from test_templates import all_same, cached_values, cells_by_name, column, differences, readings, saved

import gritfuncs as gf
from gritfuncs import example
from gritfuncs.knee import FOUND, VERDICTS, knee_of_trial
from gritfuncs.trial.inputs import GROUPS, INPUTS, RECORD
from gritfuncs.trial.readings import Entry, judge
from gritfuncs.trial.words import OTHER_WORDS, QUANTITY_WORDS
from gritfuncs.values import NO_DAMAGE_WORDS
from gritfuncs.workbooks.trial import build as trial
from gritfuncs.workbooks.trial.tables import CALCULATION, FINISH, PLAN, READINGS, TRIAL
from gritfuncs.workbooks.trial.tables import ROWS as MOST_ROWS

ROWS = example.readings()
WIDE = 3.0  # % of the target, a band with readings in it
KNEE_ROW = 3  # place of a reading near the knee


@pytest.fixture(scope="module")
def workbook(as_built):
    return as_built("trial.xlsx")


@pytest.fixture(scope="module")
def book(workbook):
    return OpenBook(workbook)


def filled(book, readings=ROWS, observations=(), **inputs):
    """The book with these readings and inputs, computed; inputs that are not named are those of the example."""
    book.fill_example(trial, **inputs)
    book.fill(readings=readings, damage=[row[2] if len(row) > 2 else None for row in observations])
    book.read()
    return book


def in_column(book, table, name):
    return [book.at(table.sheet.strip("'"), table.here(name, row)) for row in range(table.first_row, table.last_row + 1)]


def observed(place, words):
    return [(None, None, words if number == place else None) for number in range(len(ROWS))]


# --- damage -----------------------------------------------------------------------------------------------------------


def test_a_row_trims_the_words_for_damage_once(workbook):
    """The words that say no damage are compared with a column of its own, not with what they are trimmed from, 18 times a row."""
    sheet = workbook[CALCULATION.sheet.strip("'")]
    row = CALCULATION.first_row
    formulas = [str(cell.value) for cell in sheet[row]]
    assert sum(formula.count("SUBSTITUTE(") for formula in formulas) == 2
    assert str(sheet[CALCULATION.here("damaged", row)].value).count('="') == 1 + len(NO_DAMAGE_WORDS)


def place_at(depth):
    """The reading of the example nearest to a depth."""
    depths = [gf.plunge_grit_depth(work_rpm=rpm, **example.setup()) for rpm, _, _ in ROWS]
    return min(range(len(depths)), key=lambda place: abs(depths[place] - depth))


def test_damage_in_the_target_band_withdraws_the_rpm_everywhere(book):
    sound = filled(book, band=WIDE)
    knee, verdict = sound["out_knee"], sound["out_verdict"]
    assert (
        verdict == "found" and sound["out_limit_word"] == "ok" and sound["out_advice"].startswith("set the machine by the knee")
    )
    assert sound["out_target_rpm_low"] < sound["out_target_rpm"] < sound["out_target_rpm_high"]
    place = place_at(knee)
    hurt = filled(book, observations=observed(place, "burn"), band=WIDE)
    assert (hurt["out_verdict"], hurt["out_knee"], hurt["out_damage_in_band"]) == (verdict, knee, 1)
    for name in ("out_target_rpm", "out_target_rpm_low", "out_target_rpm_high"):
        assert hurt[name].startswith("#"), name
    told = [hurt[f"out_{name}"] for name in ("advice", "limit_word", "warning", "next_line", "damage_first")]
    assert not [words for words in told if "set the machine" in words or words == "ok"]
    assert "do not set it" in hurt["out_advice"] and hurt["out_limit_word"] == "no: damage seen"
    assert f"burn in reading {place + 1}" in hurt["out_warning"] and f"burn in reading {place + 1}" in hurt["out_next_line"]
    assert hurt["out_next_rpm"] == "STOP" and "burn, crack or wheel breakdown was seen" in hurt["out_check"]
    assert hurt["out_state"].startswith("! DAMAGE noted: burn")


def test_the_words_of_a_trial_are_those_of_python(book):
    """Until the knee is found; damage before that ends the trial."""
    setup, verdicts = gf.Setup(contact_width=10.0, **example.setup()), set()
    for seed in range(24):
        draw = random.Random(seed)
        rpms = [step.work_rpm for step in gf.plan_trial(120.0)][: draw.choice((3, 5, 7, 9, 13))]
        knee, noise = setup.depth(draw.choice((15, 60, 90, 130, 500))), draw.choice((0.002, 0.03))
        rows = readings(knee, 100.0, draw.choice((0.4, 3.0)), example.setup(), rpms, seed, noise=noise)
        seen = filled(book, rows, contact_width=10.0)
        energies = [gf.specific_energy(load - idle, setup.removal_rate, 10.0) for _, load, idle in rows]
        answer = knee_of_trial([setup.depth(rpm) for rpm in rpms], energies)
        verdicts.add(answer.verdict)
        assert seen["out_verdict"] == answer.verdict
        assert (seen["out_n_readings"], seen["out_n_depths"]) == (len(rows), len(set(rpms)))
        if answer.verdict == FOUND:
            assert seen["out_advice"] == "set the machine by the knee; watch the first parts"
            continue
        assert seen["out_advice"] == str(answer.advice)
        assert seen["out_knee"] == seen["out_knee_rpm"] == "#Na" and seen["out_limit_word"] == "no target"
        hurt = filled(book, rows, [(None, None, "crack")], contact_width=10.0)
        assert hurt["out_advice"] == "damage was seen: end this trial and look for the cause"
        assert hurt["out_warning"].startswith("damage: crack in reading 1")
    assert verdicts == set(VERDICTS)


def test_damage_outside_the_target_band_leaves_the_rpm_with_a_warning(book):
    slowest = min(range(len(ROWS)), key=lambda place: ROWS[place][0])
    hurt = filled(book, observations=observed(slowest, "burn"), band=WIDE)
    assert hurt["out_target_rpm"] > 0 and hurt["out_damage_in_band"] == 0 and hurt["out_damage_count"] == 1
    assert "stay within it" in hurt["out_advice"] and hurt["out_limit_word"] == "in the band only"


@pytest.mark.parametrize("changes", [(None, "no"), (None, None, "?"), (-1.0,), ("x",), (None,)])
def test_damage_counts_whatever_becomes_of_its_reading(book, changes):
    """A burnt reading that is switched off, or has no load or rpm, is still a burn; where it has no rpm, it may lie anywhere."""
    place = place_at(filled(book, band=WIDE)["out_knee"])
    rpm, _, idle = ROWS[place]
    broken = {1: (changes[0], None, None), 2: (rpm, None, idle, "no"), 3: (rpm, "", idle, "?")}[len(changes)]
    rows = list(ROWS)
    rows[place] = broken
    hurt = filled(book, rows, observed(place, "crack"), band=WIDE)
    assert hurt["out_damage_count"] == 1 and hurt["out_damage_in_band"] == 1 and hurt["out_next_rpm"] == "STOP"
    assert hurt["out_damage_unplaced"] == (len(changes) == 1)
    assert hurt["out_target_rpm"].startswith("#")


@pytest.mark.parametrize("rows", [ROWS, ROWS[:3]])
def test_damage_without_an_rpm_may_lie_in_the_band_of_a_target_that_was_given(book, rows):
    """With a knee or without one: the band is that of the target."""
    seen = [(None, None, None)] * len(rows) + [(None, None, "burn")]
    hurt = filled(book, [*rows, (None, 2.0, 0.5)], seen, target_depth=1.4)
    assert (hurt["out_damage_unplaced"], hurt["out_damage_in_band"]) == (1, 1)
    assert hurt["out_target_rpm"].startswith("#")


def test_words_that_say_there_was_none_are_no_damage(book):
    words = [*NO_DAMAGE_WORDS, "", " No. ", "NEIN", "Ok!", "o.k.", "i.O.", 0, False]
    for some in (words[::2], words[1::2]):
        none = filled(book, observations=[(None, None, word) for word in some])
        assert none["out_damage_count"] == 0 and none["out_advice"].startswith("set the machine")
    told = ["yes", "burn", "x", "nothing new, but burnt", "n.i.O.", 1, True, "no, a crack", "*", "?", "n?"]
    assert filled(book, observations=[(None, None, word) for word in told])["out_damage_count"] == len(told)


def test_python_and_the_workbook_see_the_same_damage(tmp_path, libreoffice):
    told = ["burn", "no", "keine", None, "ok", "crack?", "-", " ", 1]
    path = saved(trial.build, dict(readings=ROWS, observations=[(None, None, words) for words in told]), tmp_path)
    assert differences(path, libreoffice.recalc(path)) == []
    values = cached_values(path)
    rows = [row + 1 for row, damaged in enumerate(column(values, CALCULATION, "damaged")) if damaged]
    assert rows == [row for row, _ in gf.read_trial(path).damage] == [1, 6, 9]
    assert cells_by_name(path, values)["out_damage_count"] == 3


def test_lists_offer_words_for_use_and_damage(workbook):
    sheet = workbook[TRIAL]
    offered = {str(rule.sqref): rule for rule in sheet.data_validations.dataValidation}
    use, damage = (offered[READINGS.range(name)] for name in ("use", "damage"))
    assert not use.showInputMessage and not damage.showInputMessage  # a prompt would cover the readings
    assert (use.type, use.formula1) == ("list", '"yes,no"')
    assert (damage.type, damage.formula1) == ("list", '"no,burn,crack,breakdown"')
    assert not use.showErrorMessage and not damage.showErrorMessage  # other words are judged, not refused


# --- every row ---------------------------------------------------------------------------------------------------------

IN_A_CELL = (120.0, 0.5, 0.3, 1.0, 0.0, -3.0, 1e-9, None, "", " ", "12,5", "x", True)


def rows_of_any_cells(draw):
    """(readings, infeed rates) as anyone might have typed them."""
    odd, with_idle = draw.choice((0.1, 0.6)), draw.choice((0.04, 0.4))  # shares of the cells

    def cell(usual, rare=IN_A_CELL):
        return draw.choice(rare) if draw.random() < odd else usual

    rare_idles = IN_A_CELL if with_idle > 0.1 else (None, "", "x")
    readings = [
        (
            cell(100.0 + number // 3),
            cell(2.0 + number % 2),
            cell(0.5 if draw.random() < with_idle else None, rare_idles),
            cell(None, ("yes", "no", " NO ", "Y", "perhaps", 1.0, 0.0)),
        )
        for number in range(MOST_ROWS)
    ]
    return readings, [cell(None) if draw.random() < 0.5 else None for _ in readings]


@pytest.mark.parametrize("kind", ["power", "energy"])
@pytest.mark.parametrize("idle", [None, 0.3])
def test_rows_of_any_cells_are_judged_as_python_judges_them(book, kind, idle):
    for seed in range(12):
        readings, infeeds = rows_of_any_cells(random.Random(f"{kind} {idle} {seed}"))
        seen = filled(book, readings, load_kind=kind, idle=idle, row_infeed_rates=infeeds)
        entries = [
            Entry(number, rpm, load, own_idle, use, specific_energy=load, settings=dict(infeed_rate=infeed))
            for number, ((rpm, load, own_idle, use), infeed) in enumerate(zip(readings, infeeds), 1)
        ]
        answers = [reading.status for reading in judge(entries, idle=idle, energy_given=kind == "energy")]
        assert in_column(seen, CALCULATION, "status") == answers, seed


# --- repeats, slips and limits ----------------------------------------------------------------------------------------


def test_a_repeat_is_told_from_a_copy_by_its_numbers(book):
    rows = [
        (120.0, 2.0, 0.5),
        (120.0, 2.0, 0.5000001),
        (120.0, 2.0, 0.5),
        (120.0, 2.0),
        (120.00000001, 2.0, 0.5),
        (120.0, 2.0, 0.5),
    ]
    seen = filled(book, rows, idle=0.5)
    assert in_column(seen, READINGS, "status")[: len(rows)] == [
        "used",
        "used",
        *["used, same as 1"] * 2,
        "used",
        "used, same as 1",
    ]
    assert in_column(seen, CALCULATION, "status")[: len(rows)] == [
        "used",
        "used",
        "used, same as row 1",
        "used, same as row 1",
        "used",
        "used, same as row 1",
    ]
    assert seen["out_n_readings"] == len(rows)


@pytest.mark.parametrize(
    "rpm, told", [(400.0, ""), (400.1, "beyond limits"), (19.0, "beyond limits"), (900.0, "beyond limits"), (20.0, "")]
)
def test_a_reading_outside_the_machine_s_limits_is_named(book, rpm, told):
    seen = filled(book, [(120.0, 2.0), (rpm, 2.1)], lowest_work_rpm=20.0, highest_work_rpm=400.0)
    assert in_column(seen, READINGS, "status")[:2] == ["used", f"! used, {told}" if told else "used"]
    looks = [seen.at("Checks", f"B{row}") for row in range(5, 150) if seen.at("Checks", f"C{row}") == "look"]
    assert ("readings outside the machine's limits" in looks) == bool(told)


def test_an_unusual_rpm_is_named_and_an_impossible_one_stops(book):
    seen = filled(book, [(120.0, 2.0), (2.0, 2.1), (2500.0, 2.1)], lowest_work_rpm=None, highest_work_rpm=None)
    assert in_column(seen, READINGS, "status")[:3] == ["used", "! used, unusual rpm", "! used, unusual rpm"]
    assert seen["out_ready"] == 1
    stopped = filled(book, [(120.0, 2.0), (120000.0, 2.1)])
    assert stopped["out_ready"] == 0 and "work rpm" in stopped["out_check"] and stopped["out_target_rpm"].startswith("#")
    assert filled(book, [(120.0, 20000.0)])["out_ready"] == 0
    assert filled(book, [(120.0, 20000.0)], load_kind="relative")["out_ready"] == 1


def test_an_infeed_in_another_unit_is_seen_in_what_follows(book):
    """0.9 typed as 90: the depth at nominal rpm is more than any wheel bears, and the rpm for a depth is near 0.0."""
    seen = filled(book, infeed_rate=90.0, target_depth=1.0)
    looks = [seen.at("Checks", f"B{row}") for row in range(5, 150) if seen.at("Checks", f"C{row}") == "look"]
    assert [label for label in looks if "usually 5 to 2000 1/min" in label and "target" in label]
    assert seen["out_target_rpm"] < 5


# --- the order of things that may change unnoticed ----------------------------------------------------------------------


def test_the_words_for_the_range_of_the_plan_change_where_they_should(book):
    """1.15 and 1.35 of depth are 1.749 and 3.322 of rpm; the plan goes from 1 - s to 1 + s of nominal."""
    seen = {}
    for percent in (27.2, 27.3, 53.7, 53.8):
        read = filled(book, (), rpm_step=percent / 2, steps_each_side=2.0, lowest_work_rpm=None, highest_work_rpm=None)
        assert read["out_plan_ratio"] == pytest.approx(((100 + percent) / (100 - percent)) ** 0.25)
        seen[percent] = read["out_plan_word"]
    assert seen == {27.2: "too narrow", 27.3: "narrow", 53.7: "narrow", 53.8: "wide enough"}


def test_rows_without_an_idle_of_their_own_wait_only_for_rows_that_count(book):
    """A row that is switched off or blank does not make the others wait for an idle reading."""
    off = [(120.0, 2.0), (132.0, 1.9, 0.5, "no"), (None, None, 0.5)]
    assert in_column(filled(book, off), CALCULATION, "status")[:3] == ["used", "excluded", "blank"]
    on = [(120.0, 2.0), (132.0, 1.9, 0.5)]
    assert in_column(filled(book, on), CALCULATION, "status")[:2] == ["left out: idle is missing, other rows have it", "used"]


def test_idle_is_taken_off_in_the_unit_of_the_load(book):
    """√3 times 400 V times 0.8 is 0.5543 kW for each ampere, of load and idle alike."""
    seen = filled(book, [(120.0, 9.0, 1.5)], load_kind="current", volts=400.0, power_factor=0.8, contact_width=None, idle=None)
    assert in_column(seen, CALCULATION, "net")[0] == pytest.approx(3**0.5 * 0.4 * 0.8 * 7.5)
    assert in_column(seen, READINGS, "energy")[0] == pytest.approx(3**0.5 * 0.4 * 0.8 * 7.5)


@pytest.mark.parametrize("off, repeats", [(0.0099, 2), (0.0101, 1)])
def test_readings_within_a_percent_of_nominal_repeat_it(book, off, repeats):
    seen = filled(book, [(120.0, 2.0), (120.0 * (1 + off), 2.0)], nominal_rpm=120.0)
    assert seen["out_nominal_repeats"] == repeats


# --- one list of inputs, columns by name --------------------------------------------------------------------------------


def test_the_list_of_inputs_is_the_workbook_s_and_the_reader_s(workbook):
    names = [given.name for given in INPUTS]
    assert len(set(names)) == len(names) == sum(map(len, GROUPS.values()))
    defined = {name for name in workbook.defined_names if name.startswith("in_")}
    tables = {"in_readings", "in_damage", "in_observations", "in_row_infeed_rates"} | {
        f"in_other_{kind}_{n}" for kind in ("title", "trial") for n in (1, 2, 3)
    }
    assert defined - tables == {f"in_{name}" for name in names}
    understood = set(QUANTITY_WORDS + OTHER_WORDS) - {"designation", "decimal", "date"}  # the date is one of the record's texts
    understood -= {"highest_power", "highest_removal_rate", "lowest_speed_ratio", "highest_speed_ratio"}  # lines of a text file
    assert "date" in {given.name for given in RECORD}
    assert {given.name for given in INPUTS if given.is_read} == understood
    assert not [given.name for given in INPUTS if bool(given.quantity) and bool(given.choices)]


def test_every_input_that_is_read_reaches_python(tmp_path):
    """Each is changed in a copy and seen in what the reader gives, so that none is written and then not read."""
    changed = dict(
        wheel_diameter=180.0,
        wheel_speed=20.0,
        marked_wheel_speed=19.0,
        work_diameter=22.0,
        side="flat",
        infeed_rate=0.5,
        infeed_basis="diameter",
        contact_width=9.0,
        grit_density=11.0,
        grit_size="D91",
        concentration=90.0,
        active_fraction=0.4,
        shape_ratio=9.0,
        load_kind="relative",
        idle=0.1,
        noise=3.0,
        nominal_rpm=110.0,
        lowest_work_rpm=30.0,
        highest_work_rpm=300.0,
        lowest_infeed_rate=0.2,
        highest_infeed_rate=1.0,
    )

    book = trial.build(dict(readings=[row[:2] for row in ROWS]))

    def cell(name):
        ((sheet, address),) = book.defined_names[f"in_{name}"].destinations
        return book[sheet][address.replace("$", "")]

    def read(**values):
        path = tmp_path / "book.xlsx"
        before = {name: cell(name).value for name in values}
        for name, value in values.items():
            cell(name).value = value
        book.save(path)
        for name, value in before.items():
            cell(name).value = value
        try:
            found = gf.read_trial(path)
        except ValueError as error:
            return str(error)
        return found.setup, found.noise, found.limits, found.nominal_rpm, found.load_kind, found.depths, found.energies

    plain = read()
    assert [name for name, value in changed.items() if read(**{name: value}) == plain] == []
    current = dict(load_kind="current", volts=400.0, power_factor=0.8)
    first = read(**current)
    assert first not in (read(**{**current, "volts": 380.0}), read(**{**current, "power_factor": 0.7}))
    assert read(wheel_speed=None, wheel_rpm=2000.0) not in (read(wheel_speed=None, wheel_rpm=1990.0), plain)
    assert {given.name for given in INPUTS if given.is_read} == {*changed, "volts", "power_factor", "wheel_rpm"}


@pytest.mark.parametrize("table", [READINGS, FINISH, PLAN, CALCULATION])
def test_columns_are_where_their_names_say(table, workbook):
    sheet = workbook[table.sheet.strip("'")]
    above = 2 if table is READINGS else 1  # its units have a row of their own
    for column_, letter in zip(table.columns, map(get_column_letter, range(1, len(table.columns) + 1))):
        heading = "=out_load_word" if (table, column_.name) == (READINGS, "energy") else column_.heading
        assert sheet[f"{letter}{table.first_row - above}"].value == heading
        assert table.here(column_.name, 9) == f"{letter}9" and table.cell(column_.name, 9) == f"{table.sheet}!{letter}9"
        assert table.area(column_.name) == f"{table.sheet}!${letter}${table.first_row}:${letter}${table.last_row}"
    assert len({column_.name for column_ in table.columns}) == len(table.columns)
    assert all_same([sheet.cell(table.first_row, 1).value, sheet.cell(table.last_row, 1).value], [1, MOST_ROWS])


@pytest.mark.parametrize("change, word", [(0.099, "steady"), (0.101, "drifts"), (-0.099, "steady"), (-0.101, "drifts")])
def test_a_change_of_a_tenth_of_the_fall_is_a_drift(book, change, word):
    """The fall is 1.0, from 3.0 to 2.0."""
    rows = [(120.0, 2.5), (60.0, 3.0), (180.0, 2.0), (120.0, 2.5 + change)]
    seen = filled(book, rows, load_kind="relative", contact_width=None)
    assert seen["out_drift_share"] == pytest.approx(abs(change)) and seen["out_drift_word"] == word
