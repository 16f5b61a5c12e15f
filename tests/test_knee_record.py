"""knee_record.xlsx: cached values = LibreOffice = Python, every word of a row and of the look-up, nonsense stopped."""

from __future__ import annotations

import datetime
import math

import pytest
from open_book import OpenBook
from test_templates import cells_by_name, differences, formula_pairs, plain, same, saved

from gritfuncs.quantities import QUANTITIES
from gritfuncs.workbooks import knee_record
from gritfuncs.workbooks.blocks.record import (
    COLUMNS,
    DAYS_PER_MONTH,
    DUPLICATE,
    FUTURE,
    INCOMPLETE,
    NO_KEY,
    NOT_FOUND,
    OUTDATED,
    ROWS,
)

TODAY = datetime.date(2026, 1, 15)
NOT_AS_IT_STANDS = "the key that is looked up may not be used as it stands"
NAMES = [column.name for column in COLUMNS]
GOOD = dict(
    key="A-1",
    wheel="resin 1",
    grit="D126",
    bond=None,
    concentration=75,
    material="carbide",
    machine="one",
    coolant=None,
    date=datetime.date(2025, 11, 1),
    knee=1.3,
    low=1.2,
    high=1.4,
    level=None,
    density=20.0,
    ratio=10.0,
    who="somebody",
    note=None,
)


LATER = dict.fromkeys(("scatter", "degrees_of_freedom", "steepness", "shallowest", "deepest", "units"))


def row(**changes):
    """A row of the first columns, as an older record has them, or of all where one of the later ones is given."""
    later = {**LATER, **changes} if set(LATER) & set(changes) else {}
    return tuple({**later, **GOOD, **changes}[name] for name in (*GOOD, *(LATER if later else ())))


def expected_status(records, today, months):
    """What each row is, told from the rows themselves; without a date of today ages count from the newest entry."""
    newest = [record[8] for record in records if len(record) > 8 and isinstance(record[8], datetime.date)]
    today = today or max(newest, default=None)
    trimmed = [str(r[0]).strip().lower() if r and r[0] is not None else "" for r in records]
    words = []
    for key, record in zip(trimmed, records):
        v = dict(zip(NAMES, tuple(record) + (None,) * (len(NAMES) - len(record))))
        numbers = {
            column.name: column.quantity.allows(float(v[column.name])) if isinstance(v[column.name], (int, float)) else None
            for column in COLUMNS
            if column.quantity and column.name != "date"
        }
        texts = [
            bool(str(v[column.name] if v[column.name] is not None else "").strip())
            for column in COLUMNS
            if column.required and not column.quantity
        ]
        needed = [numbers[name] for name in ("knee", "low", "high", "density", "ratio")]
        optional = [
            v[column.name] is None or numbers[column.name] for column in COLUMNS if column.quantity and not column.required
        ]
        dated = isinstance(v["date"], datetime.date)
        whole = all(texts) and all(needed) and all(optional) and dated and v["low"] <= v["knee"] <= v["high"]
        if all(value is None for value in v.values()):
            words.append(None)
        elif key and trimmed.count(key) > 1:
            words.append(DUPLICATE)
        elif not whole:
            words.append(INCOMPLETE)
        elif v["date"] > today:
            words.append(FUTURE)
        else:
            words.append(OUTDATED if (today - v["date"]).days / 30.4375 > months else "ok")
    return words


MIXED = [
    row(),
    row(key=" b-2 "),
    row(key="B-2"),
    (),
    row(key="C-3", high=None),
    row(key="C-4", low=1.31),
    row(key="C-5", high=1.29),
    row(key="C-6", knee=-1.3),
    row(key="C-7", date="November"),
    row(key="C-8", level="much"),
    row(key=None),
    row(key="   "),
    row(key="D-1", date=TODAY + datetime.timedelta(days=1)),
    row(key="D-2", date=TODAY),
    row(key="E-1", date=datetime.date(2024, 7, 1)),
    row(key=101, grit=64),
    row(key="F-1", who=None),
    row(key="F-2", concentration=500),
    row(key="F-3", density=0.0),
    row(key="A*", level=99.5),
    (None, None, None, None, None, None, None, None, None, None, None, None, None, None, None, None, "only a note"),
]
CASES = {
    "example": {},
    "mixed": dict(records=MIXED, today=TODAY, months=18.0, lookup_key="a-1 "),
    "none": dict(records=[], lookup_key=None),
    "full": dict(
        records=[row(key=f"K-{number}", knee=1.3 + number / 1000) for number in range(ROWS)], months=1.0, lookup_key="K-59"
    ),
    "key that is a number": dict(records=MIXED, today=TODAY, lookup_key=101),
    "key with a star": dict(records=MIXED, lookup_key="A*"),
}


@pytest.fixture(scope="module")
def book():
    return OpenBook(knee_record.build())


def seen_in(values, book):
    """{name: value, or rows of values} of the results of the open book with these values."""
    given = {**knee_record.defaults(), **values}
    singles = {name: plain(given[name]) for name in ("today", "months", "lookup_key")}
    book.fill(records=[tuple(map(plain, record)) for record in given["records"]], **singles)
    book.read()
    return book.results()


def statuses(seen):
    return [cells[0] or None for cells in seen["out_record_status"]]


@pytest.mark.parametrize("case", CASES)
def test_cached_equals_libreoffice_equals_python(case, tmp_path, libreoffice):
    values = {**knee_record.defaults(), **CASES[case]}
    path = saved(knee_record.build, CASES[case], tmp_path)
    recalculated = libreoffice.recalc(path)
    assert len(formula_pairs(path, recalculated)) > 400 and differences(path, recalculated) == []
    seen = cells_by_name(path, recalculated)
    records = values["records"]
    wanted = expected_status(records, values["today"], values["months"])
    assert len(wanted) == len(records) and statuses(seen) == wanted + [None] * (ROWS - len(records))
    key = str(values["lookup_key"] or "").strip().lower()
    found = [
        (record, word) for record, word in zip(records, wanted) if record and str(record[0] or "").strip().lower() == key and key
    ]
    word = NO_KEY if not key else NOT_FOUND if not found else DUPLICATE if len(found) > 1 else found[0][1]
    assert seen["out_lookup_word"] == word
    for name, value in list(zip(NAMES, found[0][0]))[1:] if word in ("ok", OUTDATED) else []:
        assert same(seen[f"out_lookup_{name}"], plain(value)), name
    if word not in ("ok", OUTDATED):
        assert all(str(seen[f"out_lookup_{name}"]).startswith("#") for name in NAMES[1:])


def test_the_cases_meet_every_word():
    words = {
        word
        for values in CASES.values()
        for word in expected_status(
            *({"today": TODAY, **knee_record.defaults(), **values}[name] for name in ("records", "today", "months"))
        )
    }
    assert words == {None, "ok", DUPLICATE, INCOMPLETE, FUTURE, OUTDATED}


@pytest.mark.parametrize(
    "key, word",
    [
        ("A-1", "ok"),
        ("B-2", DUPLICATE),
        ("C-3", INCOMPLETE),
        ("D-1", FUTURE),
        ("E-1", OUTDATED),
        ("Z-9", NOT_FOUND),
        (None, NO_KEY),
        ("  ", NO_KEY),
        ("C*", NOT_FOUND),
        ("A?1", NOT_FOUND),
    ],
)
def test_every_word_of_the_look_up(key, word, book, as_built):
    seen = seen_in(dict(records=MIXED, today=TODAY, lookup_key=key), book)
    assert seen["out_lookup_word"] == word
    assert (seen["out_lookup_knee"] == 1.3) == (word in ("ok", OUTDATED))
    assert str(seen["out_lookup_knee"]).startswith("#") == (word not in ("ok", OUTDATED))
    (check,) = (cell for cell in as_built("knee_record.xlsx")["Checks"]["B"] if cell.value == NOT_AS_IT_STANDS)
    assert book.at("Checks", f"C{check.row}") == ("ok" if word == "ok" else "look")


@pytest.mark.parametrize(
    "changes, missing",
    [
        (dict(high=None), "high"),
        (dict(wheel=" ", who=None), "wheel who"),
        (dict(knee="deep"), "knee"),
        (dict(low=1.31), "interval"),
        (dict(high=1.29), "interval"),
        (dict(key=None, machine=None), "key machine"),
        (dict(level=-1), "level"),
        (dict(density=0, ratio=None), "C r"),
        (dict(date=None), "date"),
        (dict(bond=None, coolant=None, note=None, level=None, concentration=None), None),
        (dict(scatter=2.0, degrees_of_freedom=12, steepness=3.6, shallowest=1.1, deepest=1.6, units="inch"), None),
        (dict(scatter=0.0, degrees_of_freedom=0, steepness=-1), "scatter degrees of freedom steepness"),
        (dict(scatter="2 %", units="cm"), "scatter units"),
        (dict(degrees_of_freedom=4000, scatter=80), "scatter degrees of freedom"),
        (dict(shallowest=1.31), "depths read"),
        (dict(shallowest=1.1, deepest=1.29), "depths read"),
    ],
)
def test_what_is_missing_or_wrong_is_named(changes, missing, book):
    seen = seen_in(dict(records=[row(**changes)], today=TODAY), book)
    assert (seen["out_record_missing"][0][0] or None) == missing
    assert statuses(seen)[0] == (INCOMPLETE if missing else "ok")


def test_an_entry_is_outdated_the_day_after_its_months_are_over(book):
    days = 12 * DAYS_PER_MONTH
    records = [row(key=str(age), date=TODAY - datetime.timedelta(days=age)) for age in (math.floor(days), math.ceil(days))]
    assert statuses(seen_in(dict(records=records, today=TODAY, months=12.0), book))[:2] == ["ok", OUTDATED]


@pytest.mark.parametrize("today, word", [(None, "ok"), (datetime.date(2031, 3, 4), "ok"), (TODAY, FUTURE)])
def test_a_trial_of_today_is_not_after_today(today, word, book):
    """No date is built in: without one ages count from the newest entry, and the workbook says so."""
    newest = datetime.date(2031, 3, 4)
    records = [row(key="new", date=newest), row(key="old", date=datetime.date(2029, 1, 1))]
    seen = seen_in(dict(records=records, lookup_key="new", today=today), book)
    assert statuses(seen)[:2] == [word, OUTDATED if today != TODAY else FUTURE]
    assert seen["out_record_day"] == seen["out_lookup_day"] == plain(today or newest)
    assert seen["out_record_day_word"] == ("the date of today, as typed" if today else "the newest entry")
    assert knee_record.defaults()["today"] is None


@pytest.mark.filterwarnings("ignore:Cell .* is marked as a date")
def test_a_date_that_is_none_makes_nothing_old(book):
    """20260115 typed as a number would be a day in the far future, from which every entry is outdated."""
    records = [row(key="A"), row(key="B", date=20260115), row(key="C", date=1.5)]
    seen = seen_in(dict(records=records, lookup_key="A"), book)
    assert statuses(seen)[:3] == ["ok", INCOMPLETE, INCOMPLETE] and seen["out_record_day"] == plain(GOOD["date"])


@pytest.mark.parametrize(
    "values, said",
    [
        (dict(today="now"), "today"),
        (dict(today=-3), "today"),
        (dict(today=20260115), "today"),
        (dict(months=None), "months"),
        (dict(months=0), "months"),
        (dict(months="x"), "months"),
    ],
)
def test_nonsense_stops_the_look_up_and_is_named(values, said, book):
    seen = seen_in({**dict(records=[row()], lookup_key="A-1", today=TODAY), **values}, book)
    assert seen["out_check"].startswith("STOP") and said in seen["out_check"]
    assert statuses(seen)[0].startswith("#")
    assert all(str(seen[f"out_lookup_{name}"]).startswith("#") for name in ("word", *NAMES[1:]))


@pytest.mark.parametrize(
    "changes, said",
    [
        (dict(key="A-1"), DUPLICATE),
        (dict(key="X", who=None), INCOMPLETE),
        (dict(key="X", date=datetime.date(2020, 1, 1)), OUTDATED),
        (dict(key="X", date=datetime.date(2030, 1, 1)), "dated after today"),
    ],
)
def test_a_flagged_row_is_seen_in_the_master_line(changes, said, book):
    seen = seen_in(dict(records=[row(), row(**changes)], lookup_key="A-1", today=TODAY), book)
    assert said in seen["out_check"] and "look at" in seen["out_check"]
    assert seen_in(dict(records=[row(), row(key="A-2")], lookup_key="A-1", today=TODAY), book)["out_check"] == "Checks: all ok"


def test_too_many_rows_are_refused():
    with pytest.raises(ValueError, match=r"^records must be at most 60 rows \(got 61\)$"):
        knee_record.build(dict(records=[row(key=str(number)) for number in range(ROWS + 1)]))


def test_the_example_shows_the_words_and_says_that_it_is_invented():
    defaults = knee_record.defaults()
    words = expected_status(defaults["records"], defaults["today"], defaults["months"])
    assert set(words) == {"ok", OUTDATED, INCOMPLETE, DUPLICATE}
    assert "nvented" in defaults["title"] and all(dict(zip(NAMES, record))["who"] == "invented" for record in defaults["records"])
    statistics = ("scatter", "degrees_of_freedom", "steepness")  # of the trial, no words of grinding
    physical = [column for column in COLUMNS if column.quantity and column.name not in ("date", *statistics)]
    assert physical and all(column.quantity in QUANTITIES.values() for column in physical)


def test_a_value_out_of_the_usual_is_named_and_one_that_cannot_be_is_wrong(book):
    """A knee of 13 µm may be a slip of the decimal; one of 1300 µm, in nanometres, is no depth of a grit."""
    records = [row(), row(key="slip", knee=13.0, high=14.0, ratio=40.0), row(key="nm", knee=1300.0, high=1400.0)]
    records.append(row(key="share", scatter=0.02, steepness=36))
    seen = seen_in(dict(records=records, lookup_key="A-1"), book)
    assert [cells[0] or "" for cells in seen["out_record_unusual"]][:4] == ["", "knee high r", "knee high", "scatter steepness"]
    assert statuses(seen)[:4] == ["ok", "ok", INCOMPLETE, "ok"] and seen["out_record_missing"][2][0] == "knee high"
    looks = seen["out_looks"]
    assert looks == 2 and seen["out_check"].startswith("Checks: no STOP")  # the slip, and an incomplete row


@pytest.mark.parametrize("values, named", [
    (dict(scatter=10.0, steepness=10.0, degrees_of_freedom=100), ""),
    (dict(scatter=10.1, steepness=10.1, degrees_of_freedom=101), "scatter degrees of freedom steepness"),
    (dict(scatter=0.1, steepness=0.1, degrees_of_freedom=1), ""),
    (dict(scatter=0.099, steepness=0.099, degrees_of_freedom=2), "scatter steepness"),
])  # fmt: skip
def test_the_statistics_of_a_record_are_usual_up_to_both_ends(book, values, named):
    seen = seen_in(dict(records=[row(**values)], lookup_key="A-1"), book)
    assert (seen["out_record_unusual"][0][0] or "") == named


@pytest.mark.parametrize(
    "sheet, area, words", [("Record", "Y8:Y67", "metric,inch"), ("Setups", "E8:E67", "external,flat,internal")]
)
def test_the_words_of_an_entry_are_offered_in_its_cells(sheet, area, words, as_built):
    rules = as_built("knee_record.xlsx")[sheet].data_validations.dataValidation
    offered = {str(rule.sqref): rule.formula1 for rule in rules if rule.type == "list"}
    assert offered == {area: f'"{words}"'}


def test_new_columns_stand_after_all_that_there_were(book):
    """A row of an older record is pasted as it is, and a later column that is blank makes it no less whole."""
    assert NAMES == [*GOOD, *LATER] and not any(column.required for column in COLUMNS[len(GOOD) :])
    seen = seen_in(dict(records=[tuple(GOOD.values())], lookup_key="A-1"), book)
    assert seen["out_lookup_word"] == "ok" and all(seen[f"out_lookup_{name}"] in ("", None) for name in LATER)
