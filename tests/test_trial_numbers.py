"""Numbers written as text, and the decimal sign of a file."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gritfuncs.trial.numbers import decimal_sign, looks_like_number, parse


@pytest.mark.parametrize(
    "text, decimal, value",
    [
        ("120", ".", 120),
        ("120", ",", 120),
        (" 2.5 ", ".", 2.5),
        ("2,5", ",", 2.5),
        (".5", ".", 0.5),
        ("2,", ",", 2),
        ("-1.5", ".", -1.5),
        ("\u22121.5", ".", -1.5),
        ("1e3", ".", 1000),
        ("2,5E-1", ",", 0.25),
        ("1,250", ".", 1250),
        ("1,250", ",", 1.25),
        ("1.250", ",", 1250),
        ("1,250.5", ".", 1250.5),
        ("1.250,5", ",", 1250.5),
        ("1,234,567", ".", 1234567),
        ("1 250,5", ",", 1250.5),
        ("1\u00a0250", ".", 1250),
        ("1\u2009250", ".", 1250),
        ("1\u202f250", ",", 1250),
        ("1'250.5", ".", 1250.5),
        ("1\u2019250", ",", 1250),
    ],
)
def test_what_a_text_means(text, decimal, value):
    assert parse(text, decimal) == value


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "abc",
        "nan",
        "inf",
        "1e999",
        "1_000",
        "٣",
        "2.5 kW",
        "12:30",
        "--1",
        "1.2.3",
        ".",
        ",",
        "1,25,0",
        "12 50",
        "0x10",
        "1,2.5",
        "True",
        "e5",
    ],
)
def test_what_is_no_number(text):
    assert not looks_like_number(text)


@given(st.floats(-1e9, 1e9), st.sampled_from(".,"))
def test_a_number_written_with_a_sign_is_read_back(number, decimal):
    assert parse(repr(number).replace(".", decimal), decimal) == number


@given(st.integers(0, 10**9), st.sampled_from(".,"))
def test_grouped_thousands_are_read_back(number, decimal):
    grouped = f"{number:,}".replace(",", {".": ",", ",": "."}[decimal])
    assert parse(grouped, decimal) == number


@pytest.mark.parametrize(
    "texts, delimiter, decimal",
    [
        (["120", "2,5"], ";", ","),
        (["120", "2.5"], ";", "."),
        (["1,250", "2.5"], ";", "."),
        (["1.250", "2,5"], ";", ","),
        (["0,125", "1,250"], ";", ","),
        (["1250", "1.250"], ";", "."),
        (["1250", "1,250"], ";", ","),
        (["120", "1.250"], ",", "."),
        (["120", "text"], ";", "."),
    ],
)
def test_the_decimal_sign_is_found_from_the_whole_file(texts, delimiter, decimal):
    assert decimal_sign(texts, delimiter) == decimal


@pytest.mark.parametrize(
    "texts, delimiter, part",
    [
        (["1,250", "120"], ";", "1,250 can be read in two ways"),
        (["1,250", "120"], ",", "1,250 can be read in two ways"),
        (["1.250", "120"], "\t", "1.250 can be read in two ways"),
        (["1.250", "1,250", "1250"], ";", "can be read in two ways"),
        (["2,5", "2.7"], ";", "one decimal sign throughout (got '2.7' and '2,5')"),
    ],
)
def test_an_unclear_decimal_sign_is_refused(texts, delimiter, part):
    with pytest.raises(ValueError) as caught:
        decimal_sign(texts, delimiter)
    assert part in str(caught.value)
