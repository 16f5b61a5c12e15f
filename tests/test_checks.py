"""Bad input: one clear line that says which input, what it must be with its unit, and what it was."""

from __future__ import annotations

import decimal
import fractions
import math
import subprocess
import sys

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st
from setups import setups

import gritfuncs.formulas  # noqa: F401  (fills the catalogue)
from gritfuncs.quantities import QUANTITIES
from gritfuncs.registry import BLOCK, catalogue

NUMBERS = [quantity for quantity in QUANTITIES.values() if not quantity.is_text]
EVERY = pytest.mark.parametrize("quantity", NUMBERS, ids=lambda quantity: quantity.name)


def refusal(call, *args, **kwargs):
    """The one line with which a call refuses its input."""
    with pytest.raises(ValueError) as caught:
        call(*args, **kwargs)
    text = str(caught.value)
    assert "\n" not in text and len(text) < 255
    return text


def outside(quantity):
    """A number just outside the limits of a word."""
    if quantity.choices:
        return 0.5
    return 0.0 if quantity.low_open else -0.5


@pytest.mark.parametrize(
    "name, value, line",
    [
        ("wheel_diameter", -3.0, "wheel_diameter must be > 0 mm (got -3.0)"),
        ("work_speed", 0, "work_speed must be > 0 m/min (got 0.0)"),
        ("side", 2, "side must be one of 1, 0, -1 (got 2.0)"),
        ("active_fraction", 1.5, "active_fraction must be > 0 and <= 1 (got 1.5)"),
        ("idle_power", -0.1, "idle_power must be >= 0 kW (got -0.1)"),
        ("grit_depth", math.nan, "grit_depth must be > 0 µm (got nan)"),
        ("grit_depth", math.inf, "grit_depth must be > 0 µm (got inf)"),
        ("grit_depth", 10**400, "grit_depth must be > 0 µm (got inf)"),
        ("work_speed", None, "work_speed must be a number, > 0 m/min (got None)"),
        ("work_speed", True, "work_speed must be a number, > 0 m/min (got True)"),
        ("work_speed", "12", "work_speed must be a number, > 0 m/min (got '12')"),
        ("work_speed", 1j, "work_speed must be a number, > 0 m/min (got 1j)"),
        ("work_speed", [5.0, -1.0], "work_speed must be > 0 m/min (got -1.0 at position 1)"),
        ("work_speed", [[5.0, 6.0], [7.0, math.nan]], "work_speed must be > 0 m/min (got nan at position (1, 1))"),
        ("work_speed", numpy.array(-2.5), "work_speed must be > 0 m/min (got -2.5)"),
        ("work_speed", [5.0, None], "work_speed must be numbers, > 0 m/min (got None)"),
        ("work_speed", [5.0, "6"], "work_speed must be numbers, > 0 m/min (got '6')"),
        ("work_speed", [5.0, True], "work_speed must be numbers, > 0 m/min (got True)"),
        ("work_speed", [5.0, {}], "work_speed must be numbers, > 0 m/min (got a dict)"),
        ("work_speed", [5.0, 10**400], "work_speed must be numbers, > 0 m/min (got one too large for computing)"),
        ("work_speed", numpy.array([True, False]), "work_speed must be numbers, > 0 m/min (got an array of bool)"),
        ("work_speed", numpy.array(["5", "6"]), "work_speed must be numbers, > 0 m/min (got an array of <U1)"),
        ("work_speed", [[5.0, 6.0], 7.0], "work_speed must be numbers, > 0 m/min (got rows of unequal length)"),
        ("work_speed", [[[5.0], [6.0]], [[7.0]]], "work_speed must be numbers, > 0 m/min (got rows of unequal length)"),
        ("work_speed", [[5.0, 6.0], [7.0]], "work_speed must be numbers, > 0 m/min (got rows of unequal length)"),
        ("designation", 126, "designation must be a text (got 126)"),
        ("designation", " ", "designation must be a text (got ' ')"),
    ],
)
def test_the_line(name, value, line):
    assert refusal(QUANTITIES[name].check, value) == line


@EVERY
def test_a_value_outside_the_limits_is_refused_by_name_with_the_unit(quantity):
    line = refusal(quantity.check, outside(quantity))
    assert line.startswith(quantity.name + " must be ")
    assert quantity.unit == "-" or quantity.unit + " (got" in line
    assert f"(got {outside(quantity)!r})" in line


@EVERY
@pytest.mark.parametrize(
    "value",
    [
        math.nan,
        math.inf,
        -math.inf,
        None,
        "",
        "12",
        "nan",
        True,
        1 + 0j,
        object(),
        {},
        {3.0},
        decimal.Decimal(3),
        [None],
        ["a"],
        [object()],
        [[1.0], [2.0, 3.0]],
        numpy.bool_(True),
    ],
    ids=lambda value: type(value).__name__,
)
def test_what_is_no_finite_number_is_refused(quantity, value):
    assert refusal(quantity.check, value).startswith(quantity.name + " must be ")


@EVERY
@given(data=st.data())
def test_an_array_is_allowed_where_each_of_its_numbers_is(quantity, data):
    edges = [
        0.0,
        -0.0,
        1.0,
        -1.0,
        0.5,
        5e-324,
        -5e-324,
        1.7e308,
        math.inf,
        -math.inf,
        math.nan,
        *filter(None, [quantity.low, quantity.high]),
    ]
    numbers = data.draw(st.lists(st.sampled_from(edges) | st.floats(), max_size=4))
    assert quantity.allows_all(numpy.array(numbers, dtype=float)) == all(quantity.allows(number) for number in numbers)


@EVERY
def test_the_limits_themselves(quantity):
    if quantity.high is not None:
        assert quantity.check(quantity.high) == quantity.high
        refusal(quantity.check, math.nextafter(quantity.high, math.inf))
    if quantity.choices:
        assert [quantity.check(choice) for choice in quantity.choices] == list(quantity.choices)
    elif quantity.low_open:
        assert quantity.check(math.nextafter(0, 1)) > 0
    else:
        assert quantity.check(0) == 0


@pytest.mark.parametrize(
    "value", [7, 7.0, numpy.float64(7), numpy.float32(7), numpy.int64(7), numpy.uint8(7), fractions.Fraction(7)], ids=repr
)
def test_every_kind_of_number_is_taken_as_a_float(value):
    checked = QUANTITIES["work_speed"].check(value)
    assert checked == 7.0 and type(checked) is float


@pytest.mark.parametrize("value", [[7, 8], (7.0, 8.0), numpy.array([7, 8]), numpy.array([7, 8], dtype="float32")], ids=repr)
def test_every_kind_of_list_is_taken_as_a_float_array(value):
    checked = QUANTITIES["work_speed"].check(value)
    assert checked.dtype == float and checked.tolist() == [7.0, 8.0]


@pytest.mark.parametrize("record", list(catalogue), ids=lambda record: record.name)
@given(data=st.data())
def test_every_formula_refuses_every_wrong_argument(record, data):
    setup = data.draw(setups(record))
    quantity = data.draw(st.sampled_from(record.arguments))
    wrong = 5.0 if quantity.is_text else outside(quantity)
    line = refusal(record.call, **{**setup, quantity.name: wrong})
    assert line.startswith(f"{quantity.name} must be ") and repr(wrong) in line


@pytest.mark.parametrize("record", [r for r in catalogue if r.native], ids=lambda record: record.name)
@given(data=st.data())
def test_the_result_is_within_its_own_limits_or_refused(record, data):
    """Also for numbers as large or small as a float can be: never inf, nan, zero or a traceback."""
    setup = data.draw(setups(record))
    quantity = data.draw(st.sampled_from(record.arguments))
    setup[quantity.name] = data.draw(st.sampled_from([5e-324, 1e-300, 1e-160, 1e160, 1e300, 1.7e308]))
    try:
        result = record.call(**setup)
    except ValueError as error:
        assert "\n" not in str(error)
    else:
        assert record.gives.allows(result)
        return
    try:
        arrays = record.call(**{name: numpy.array([value, value]) for name, value in setup.items()})
    except ValueError as error:
        assert "\n" not in str(error)
    else:
        pytest.fail(f"one value is refused, an array of it gives {arrays}")


class TestValuesThatMustFitTogether:
    contact = catalogue["equivalent_diameter"].call
    net = catalogue["net_power"].call

    def test_a_wheel_larger_than_the_bore(self):
        assert refusal(self.contact, wheel_diameter=50, work_diameter=40, side=-1) == (
            "work_diameter must be > wheel_diameter for internal grinding, side -1 "
            "(got work_diameter = 40.0, wheel_diameter = 50.0, side = -1.0)"
        )
        assert self.contact(wheel_diameter=50, work_diameter=40, side=1) > 0
        refusal(self.contact, wheel_diameter=50, work_diameter=50, side=-1)

    def test_in_an_array_the_offending_place_is_named_in_one_line(self):
        diameters = [100.0 + place for place in range(1000)]
        diameters[700] = 50.0
        assert refusal(self.contact, wheel_diameter=60, work_diameter=diameters, side=-1) == (
            "work_diameter must be > wheel_diameter for internal grinding, side -1 "
            "(got work_diameter = 50.0 at position 700, wheel_diameter = 60.0, side = -1.0)"
        )

    @pytest.mark.parametrize(
        "name", [r.name for r in catalogue if {"side", "wheel_diameter", "work_diameter"} <= {q.name for q in r.arguments}]
    )
    def test_every_formula_with_a_side_knows_it(self, name):
        setup = {**catalogue[name].example, "side": -1}
        setup.pop(catalogue[name].gives.name)
        assert setup["wheel_diameter"] > setup["work_diameter"]
        assert "work_diameter must be > wheel_diameter" in refusal(catalogue[name].call, **setup)

    def test_power_below_idle(self):
        assert refusal(self.net, power=1.0, idle_power=1.5) == (
            "power must be >= idle_power, both in kW (got power = 1.0, idle_power = 1.5)"
        )
        assert self.net(power=1.5, idle_power=1.5) == 0

    def test_arrays_of_unlike_shape(self):
        assert refusal(self.net, power=[3, 4, 5], idle_power=[1, 2]) == (
            "arrays given to net_power must have shapes that fit together (got power (3,), idle_power (2,))"
        )


class TestLongColumns:
    """Columns longer than a block are computed a block at a time; nobody may notice."""

    record = catalogue["plunge_grit_depth"]
    count = 2 * BLOCK + 10

    def columns(self):
        chance = numpy.random.default_rng(3)
        columns = {
            quantity.name: chance.uniform(*quantity.usual, self.count) for quantity in self.record.arguments if quantity.usual
        }
        return {**columns, "side": chance.choice([1, 0], self.count)}

    def test_every_number_is_the_one_of_its_own_row(self):
        columns = self.columns()
        depths = self.record.call(**columns)
        for row in (0, BLOCK - 1, BLOCK, 2 * BLOCK, self.count - 1):
            assert depths[row] == pytest.approx(
                self.record.call(**{name: float(column[row]) for name, column in columns.items()}), rel=1e-14
            )
        assert depths.shape == (self.count,) and (depths > 0).all()

    def test_beside_single_numbers_and_in_any_shape(self):
        work_rpm = self.columns()["work_rpm"]
        setup = {name: value for name, value in self.record.example.items() if name not in ("work_rpm", "grit_depth")}
        depths = self.record.call(work_rpm=work_rpm, **setup)
        assert depths[BLOCK + 1] == pytest.approx(self.record.call(work_rpm=float(work_rpm[BLOCK + 1]), **setup), rel=1e-14)
        table = self.record.call(work_rpm=work_rpm.reshape(2, -1).T, **setup)
        assert numpy.array_equal(table, depths.reshape(2, -1).T)

    def test_the_place_is_the_one_in_the_whole_column(self):
        columns = self.columns()
        columns["infeed_rate"][BLOCK + 7] = -0.5
        assert refusal(self.record.call, **columns) == f"infeed_rate must be > 0 mm/min (got -0.5 at position {BLOCK + 7})"
        columns = self.columns()
        columns["side"][BLOCK + 8] = -1
        columns["work_diameter"][BLOCK + 8] = 1.0
        assert f"(got work_diameter = 1.0 at position {BLOCK + 8}, wheel_diameter = " in refusal(self.record.call, **columns)


def test_an_unknown_grit_designation():
    assert refusal(catalogue["mean_grit_size"].call, designation="D999") == (
        "designation must be an ISO 6106 sieve size from D46 to D1182, B46 to B1182 or its sieve numbers "
        "such as 120/140 (got 'D999')"
    )


def test_single_values_are_computed_without_numpy():
    """LibreOffice's own Python has none."""
    code = (
        "import sys; sys.modules['numpy'] = None\n"
        "from gritfuncs.formulas import catalogue\n"
        "print(catalogue['grit_depth'].call(30, 30, 50, 200, 2, 15))\n"
        "try: catalogue['grit_depth'].call(30, 30, 50, 200, 2, -15)\n"
        "except ValueError as error: print(error)"
    )
    lines = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.splitlines()
    assert float(lines[0]) == pytest.approx(5.927598, rel=1e-7)
    assert lines[1] == "shape_ratio must be > 0 (got -15.0)"
