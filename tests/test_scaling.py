"""How the formulas scale, what undoes what, arrays and dimensions: true whatever the numbers."""

from __future__ import annotations

from fractions import Fraction

import numpy
import pytest
from evidence.notes import law
from hypothesis import given
from hypothesis import strategies as st
from setups import exponents_of, setups

import gritfuncs.formulas  # noqa: F401  (fills the catalogue)
from gritfuncs.registry import catalogue

NATIVE = [record for record in catalogue if record.native]
FACTOR = st.floats(0.2, 5)
PLUNGE = catalogue["plunge_grit_depth"]


def close(value):
    return pytest.approx(value, rel=1e-12)


def scaled(setup, **factors):
    return {name: value * factors.get(name, 1) for name, value in setup.items()}


class TestGritDepth:
    @pytest.mark.parametrize(
        "word, exponent",
        [("work_rpm", 0.25), ("infeed_rate", 0.25), ("wheel_speed", -0.5), ("grit_density", -0.5), ("shape_ratio", -0.5)],
    )
    @given(setup=setups(PLUNGE), factor=FACTOR)
    def test_plunge(self, word, exponent, setup, factor):
        law("plunge_grit_depth", word, exponent, PLUNGE.call(**setup), PLUNGE.call(**scaled(setup, **{word: factor})), factor)

    @pytest.mark.parametrize(
        "word, exponent", [("work_speed", 0.5), ("wheel_speed", -0.5), ("depth_of_cut", 0.25), ("equivalent_diameter", -0.25)]
    )
    @given(setup=setups(catalogue["grit_depth"]), factor=FACTOR)
    def test_pass(self, word, exponent, setup, factor):
        record = catalogue["grit_depth"]
        law("grit_depth", word, exponent, record.call(**setup), record.call(**scaled(setup, **{word: factor})), factor)

    @given(setups(PLUNGE))
    def test_from_minus_60_to_plus_60_percent_rpm_moves_depth_by_a_factor_1_41(self, setup):
        low, high = (PLUNGE.call(**scaled(setup, work_rpm=factor)) for factor in (0.4, 1.6))
        assert round(high / low, 2) == 1.41

    @pytest.mark.parametrize("name", [r.name for r in NATIVE if {"grit_density", "shape_ratio"} <= {q.name for q in r.arguments}])
    @given(data=st.data(), factor=FACTOR)
    def test_density_and_shape_enter_as_their_product(self, name, data, factor):
        setup = data.draw(setups(catalogue[name]))
        other = scaled(setup, grit_density=factor, shape_ratio=1 / factor)
        assert catalogue[name].call(**other) == close(catalogue[name].call(**setup))

    @given(setup=setups(PLUNGE), error=FACTOR)
    def test_an_error_of_density_does_not_move_the_rpm_that_holds_a_depth(self, setup, error):
        """The knee is read in the same wrong depths in which it is held on another part."""
        other_part = dict(setup, work_diameter=setup["work_diameter"] * 1.5, infeed_rate=setup["infeed_rate"] * 2)
        rpms = []
        for trial in (setup, scaled(setup, grit_density=error)):
            knee = PLUNGE.call(**trial)
            part = dict(other_part, grit_density=trial["grit_density"], grit_depth=knee)
            del part["work_rpm"]
            rpms.append(catalogue["work_rpm_for"].call(**part))
        assert rpms[0] == close(rpms[1])

    @given(setup=setups(PLUNGE))
    def test_doubling_the_depth_takes_sixteen_times_the_rpm(self, setup):
        depth = PLUNGE.call(**setup)
        del setup["work_rpm"]
        once, twice = (catalogue["work_rpm_for"].call(grit_depth=depth * factor, **setup) for factor in (1, 2))
        law("work_rpm_for", "grit_depth", 4, once, twice, 2)

    @given(setups(PLUNGE))
    def test_plunge_form_is_the_pass_form_of_its_steps(self, setup):
        steps = {
            "work_speed": catalogue["work_speed"].call(work_diameter=setup["work_diameter"], work_rpm=setup["work_rpm"]),
            "depth_of_cut": catalogue["depth_of_cut"].call(infeed_rate=setup["infeed_rate"], work_rpm=setup["work_rpm"]),
            "equivalent_diameter": catalogue["equivalent_diameter"].call(
                **{name: setup[name] for name in ("wheel_diameter", "work_diameter", "side")}
            ),
        }
        same = {name: setup[name] for name in ("wheel_speed", "grit_density", "shape_ratio")}
        assert catalogue["grit_depth"].call(**steps, **same) == close(PLUNGE.call(**setup))


@pytest.mark.parametrize(
    "forward, inverse",
    [
        ("plunge_grit_depth", "work_rpm_for"),
        ("plunge_grit_depth", "infeed_rate_for"),
        ("plunge_grit_depth", "wheel_speed_for"),
        ("grit_depth", "work_speed_for"),
        ("wheel_speed", "wheel_rpm"),
        ("work_speed", "work_rpm"),
        ("specific_energy", "grinding_power"),
        ("grinding_ratio", "wheel_wear"),
    ],
)
@pytest.mark.parametrize("side", [1, 0, -1])
@given(data=st.data())
def test_an_inverse_undoes_its_forward_function(forward, inverse, side, data):
    forward, inverse = catalogue[forward], catalogue[inverse]
    setup = data.draw(setups(forward).filter(lambda setup: setup.get("side", side) == side))
    words = {quantity.name for quantity in inverse.arguments}
    result = forward.call(**setup)
    back = {name: value for name, value in {**setup, forward.gives.name: result}.items() if name in words}
    (wanted,) = set(setup) - words
    assert inverse.call(**back) == close(setup[wanted])
    again = {**setup, wanted: inverse.call(**back)}
    assert forward.call(**again) == close(result)


@pytest.mark.parametrize("record", NATIVE, ids=lambda record: record.name)
@given(data=st.data())
def test_an_array_gives_what_its_elements_give(record, data):
    rows = data.draw(st.lists(setups(record), min_size=1, max_size=5))
    columns = {name: numpy.array([row[name] for row in rows]) for name in rows[0]}
    result = record.call(**columns)
    assert result.shape == (len(rows),)
    numpy.testing.assert_allclose(result, [record.call(**row) for row in rows], rtol=1e-14)


@pytest.mark.parametrize("record", NATIVE, ids=lambda record: record.name)
@given(data=st.data())
def test_one_array_among_single_values_keeps_its_shape(record, data):
    setup = data.draw(setups(record))
    word = data.draw(st.sampled_from(sorted(set(setup) - {"side", "idle_power", "wheel_diameter", "inner_diameter"} or setup)))
    block = [[setup[word], setup[word] * 1.25], [setup[word] * 1.5, setup[word] * 2]]
    if word in ("power_factor", "active_fraction", "heat_fraction"):
        block = [[setup[word], 0.5], [0.25, 1]]
    result = record.call(**{**setup, word: block})
    expected = [[record.call(**{**setup, word: value}) for value in row] for row in block]
    assert isinstance(result, numpy.ndarray)
    numpy.testing.assert_allclose(result, expected, rtol=1e-14)


class Dimension:
    """A number that knows only its exponents of metre, second, kilogram, ampere and kelvin."""

    def __init__(self, *exponents):
        exponents += (0,) * (5 - len(exponents))
        self.exponents = tuple(Fraction(exponent).limit_denominator(24) for exponent in exponents)

    def _of(self, other):
        return other.exponents if isinstance(other, Dimension) else (0, 0, 0, 0, 0)

    def __mul__(self, other):
        return Dimension(*(a + b for a, b in zip(self.exponents, self._of(other))))

    def __truediv__(self, other):
        return self * Dimension(*self._of(other)) ** -1

    def __rtruediv__(self, other):
        return self**-1

    def __pow__(self, number):
        return Dimension(*(a * Fraction(number).limit_denominator(24) for a in self.exponents))

    def __add__(self, other):
        if self.exponents != self._of(other):
            raise TypeError(f"sum of unlike things: {self.exponents} and {self._of(other)}")
        return self

    __rmul__, __radd__, __sub__, __rsub__ = __mul__, __add__, __add__, __add__


@pytest.mark.parametrize("record", NATIVE, ids=lambda record: record.name)
def test_dimensions(record):
    result = record.function(**{quantity.name: Dimension(*exponents_of(quantity)) for quantity in record.arguments})
    assert result.exponents == Dimension(*exponents_of(record.gives)).exponents


def test_the_dimension_tracer_sees_a_wrong_power_and_a_wrong_sum():
    length, speed = Dimension(1, 0, 0, 0), Dimension(1, -1, 0, 0)
    assert (length * speed).exponents != length.exponents
    with pytest.raises(TypeError):
        length + speed
    with pytest.raises(TypeError):
        1 - length
