"""Every public function, given anything: a finite answer, or one line that names the input, and nothing else happens."""

from __future__ import annotations

import copy
import datetime
import decimal
import enum
import fractions
import inspect
import math
import warnings
from dataclasses import asdict, fields, is_dataclass
from pathlib import Path

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import gritfuncs as gf
from gritfuncs.formulas import catalogue
from gritfuncs.public import PUBLIC
from gritfuncs.values import shown

SAMPLE = Path(__file__).parent / "data" / "trial_invented.csv"
DEPTHS, ENERGIES = [0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3], [72.3, 63.8, 56.1, 48.2, 40.1, 39.8, 40.2, 39.9]
PLUNGE = dict(
    work_diameter=20.0, infeed_rate=0.6, wheel_speed=22.0, wheel_diameter=200.0, side=1, grit_density=19.0, shape_ratio=10.0
)
WHEEL = dict(
    grit_depth=1.1, wheel_speed=22.0, marked_wheel_speed=35.0, wheel_diameter=200.0, side=1, grit_density=19.0, shape_ratio=10.0
)
POWER = dict(band=0.02, specific_energy=118.0, contact_width=15.0, idle_power=0.8)
LIMITS = gf.Limits(lowest_work_rpm=20.0, highest_work_rpm=400.0, highest_infeed_rate=2.0)
RECORD = gf.RecordedKnee(knee=1.0, low=0.96, high=1.04, steepness=2.5, noise=0.01)
ANSWERS = {
    "Advice",
    "Comparison",
    "Confirmation",
    "FastestSetup",
    "Knee",
    "PowerLog",
    "SpeedTable",
    "Trial",
}  # made by the functions, not by users
# three parts of 8 s, read every half second; invented
POWERS = [1 + net + 0.01 * (place % 3) for place, net in enumerate(3 * ([0.0] * 12 + [2.0] * 16) + [0.0] * 12)]
LOGGED = dict(power=POWERS, time=[0.5 * place for place in range(len(POWERS))], rpm=[120.0] * len(POWERS))
ELSEWHERE = {"compare_trials"}  # takes trials by their place: test_compare.py

# Inputs that are sound, for each public name that can be called and is no formula; and for their methods.
SOUND = {
    "find_knee": (
        gf.find_knee,
        dict(depths=DEPTHS, energies=ENERGIES, noise=0.02, drift=0.004, removal_rates=[1.0] * len(DEPTHS)),
    ),
    "next_reading": (
        gf.next_reading,
        dict(
            depths=DEPTHS,
            energies=ENERGIES,
            setup=gf.FourthRoot(),
            limits=None,
            noise=0.02,
            wanted=0.05,
            nominal_rpm=1.0,
            step_percent=10.0,
            damage_seen=False,
            drift=0.004,
            recorded_knee=1.1,
        ),
    ),
    "confirm_knee": (
        gf.confirm_knee,
        dict(
            depths=[1.05, 0.91, 1.11, 0.82],
            energies=[40.0, 49.0, 40.1, 58.0],
            record=RECORD,
            setup=gf.FourthRoot(0.3),
            limits=None,
            wanted=0.05,
            damage_seen=False,
        ),
    ),
    "RecordedKnee": (
        gf.RecordedKnee,
        dict(knee=1.0, low=0.96, high=1.04, steepness=2.5, noise=0.01, noise_freedom=8, shallowest=0.8, deepest=1.2),
    ),
    "RecordedKnee.of": (gf.RecordedKnee.of, dict(knee=gf.find_knee(DEPTHS, ENERGIES), depths=DEPTHS)),
    "read_trial": (
        gf.read_trial,
        dict(
            path=SAMPLE,
            sheet=None,
            columns=None,
            setup=gf.Setup(**PLUNGE),
            load_kind="power",
            idle=0.8,
            noise=0.02,
            heading_row=None,
        ),
    ),
    "read_log": (
        gf.read_log,
        dict(
            path=None,
            **LOGGED,
            contact=None,
            interval=0.5,
            load_kind="power",
            idle=None,
            infeed_time=8.0,
            between=None,
            sheet=None,
            sweep=None,
            progress=None,
        ),
    ),
    "speed_table": (gf.speed_table, dict(work_diameters=[8.0, 20.0], infeed_rates=[0.3, 0.6], limits=LIMITS, **WHEEL, **POWER)),
    "fastest_setup": (gf.fastest_setup, dict(work_diameter=20.0, limits=LIMITS, **WHEEL, **POWER)),
    "plan_trial": (
        gf.plan_trial,
        dict(
            nominal_rpm=120.0,
            steps="rpm and infeed",
            step_percent=10.0,
            steps_each_side=4,
            lowest_work_rpm=20.0,
            highest_work_rpm=400.0,
            spacing="rpm",
            order="out and back",
            infeed_rate=0.6,
            lowest_infeed_rate=0.1,
            highest_infeed_rate=2.0,
            wheel_speed=22.0,
            marked_wheel_speed=35.0,
            nominal_power=2.0,
            idle_power=0.8,
            highest_power=6.0,
        ),
    ),
    "Setup": (gf.Setup, dict(contact_width=15.0, **PLUNGE)),
    "Limits": (gf.Limits, {**{field.name: None for field in fields(gf.Limits)}, "lowest_work_rpm": 20.0, "highest_power": 4.0}),
    "FourthRoot": (gf.FourthRoot, dict(depth_at_1=0.4)),
    "FourthRoot.depth": (gf.FourthRoot(0.4).depth, dict(work_rpm=120.0)),
    "FourthRoot.rpm_for": (gf.FourthRoot(0.4).rpm_for, dict(depth=1.2)),
    "Setup.depth": (gf.Setup(**PLUNGE).depth, dict(work_rpm=120.0)),
    "Setup.rpm_for": (gf.Setup(**PLUNGE).rpm_for, dict(depth=1.2)),
    "Trial.rpm_for": (gf.read_trial(SAMPLE).rpm_for, dict(depth=1.2)),
    "Trial.next_reading": (
        gf.read_trial(SAMPLE).next_reading,
        dict(limits=LIMITS, nominal_rpm=120.0, step_percent=10.0, wanted=0.05, damage_seen=False, steps="rpm"),
    ),
}
CALLS = {
    **{
        record.name: (PUBLIC[record.name], {name: value for name, value in record.example.items() if name != record.gives.name})
        for record in catalogue
    },
    **SOUND,
}


class Awkward:
    """Refuses to be looked at in any way."""

    def __repr__(self):
        raise RuntimeError("no")

    __str__ = __repr__


class Lines:
    def __repr__(self):
        return "two\nlines\x1b[2J"


class Lengthy:
    def __len__(self):
        raise RuntimeError("no")


class Endless:
    """Has a length and items, and fails on the second."""

    def __len__(self):
        return 3

    def __getitem__(self, place):
        if place:
            raise KeyError("no")
        return 1.0


class Choice(enum.IntEnum):
    ONE = 1


NUMBERS = st.one_of(
    st.floats(allow_subnormal=True),
    st.integers(),
    st.integers(-2, 2),
    st.sampled_from([10**400, -(10**5000), 5e-324, -0.0, 1e300, 1e-300]),
    st.fractions(),
    st.decimals(),
    st.complex_numbers(),
    st.booleans(),
    st.sampled_from(
        [
            fractions.Fraction(10**400),
            fractions.Fraction(1, 10**400),
            decimal.Decimal("sNaN"),
            Choice.ONE,
            numpy.longdouble("1e4000"),
            numpy.float16(60000),
            numpy.float32(2),
            numpy.int8(-3),
            numpy.uint64(2**64 - 1),
            numpy.bool_(True),
            numpy.complex64(1),
            numpy.float64("nan"),
            numpy.ma.masked,
        ]
    ),
)
OTHERS = st.one_of(
    st.none(),
    st.text(max_size=20),
    st.binary(max_size=10),
    st.dates(),
    st.datetimes(),
    st.timedeltas(),
    st.builds(object),
    st.just(...),
    st.just(float),
    st.just(len),
    st.sampled_from(
        ["1.5", "nan", "external", "rpm", "depth", "D126", "x" * 100_000, "two\nlines", "\x1b[2J", "\ud800", "\0", "power"]
    ),
    st.builds(Awkward),
    st.builds(Lines),
    st.builds(Lengthy),
    st.builds(Endless),
    st.sampled_from([range(3), range(0), bytearray(b"1"), memoryview(b"12"), slice(1)]),
    st.sampled_from(
        [
            numpy.str_("1"),
            numpy.bytes_(b"1"),
            numpy.datetime64("2026-01-01"),
            numpy.timedelta64(1, "s"),
            numpy.datetime64("NaT"),
            numpy.void(b"12"),
        ]
    ),
    st.sampled_from(
        [
            Path("nothing.csv"),
            Path("/"),
            datetime.timezone.utc,
            gf.Setup(**PLUNGE),
            LIMITS,
            gf.FourthRoot(),
            numpy,
            gf.find_knee(DEPTHS, ENERGIES),
        ]
    ),
)
ONE = st.one_of(NUMBERS, OTHERS)
HASHED = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5))
ARRAYS = st.one_of(
    st.builds(numpy.array, st.lists(st.floats(), max_size=5)),
    st.builds(lambda items: numpy.array([*items, None], dtype=object)[:-1], st.lists(ONE, max_size=4)),
    st.sampled_from(
        [
            numpy.zeros((0,)),
            numpy.zeros((2, 0)),
            numpy.ones((2, 3)),
            numpy.ones((1, 1, 1, 2)),
            numpy.array(2.0),
            numpy.array("a"),
            numpy.array(["1", "2"]),
            numpy.array([1, 2], dtype="datetime64[D]"),
            numpy.array([(1, 2.0)], dtype=[("a", int), ("b", float)]),
            numpy.array([1 + 1j]),
            numpy.array([True, False]),
            numpy.ma.array([1.0, 2.0], mask=[0, 1]),
            numpy.ones(3, dtype="float16"),
            numpy.ones(2, dtype=">f8"),
            numpy.array([1, None], dtype=object),
            numpy.array([b"1"]),
            numpy.arange(100_000.0),
            numpy.broadcast_to(1.0, (3,)),
            numpy.array([[1.0, 2.0], [3.0, 4.0]]).T,
            numpy.array([10**400, 1]),
            numpy.full((40, 40), -1.0),
            numpy.array([1.0, numpy.longdouble("1e4000")], dtype=numpy.longdouble),
        ]
    ),
)
LISTS = st.one_of(
    st.lists(NUMBERS, max_size=6),
    st.lists(ONE, max_size=4),
    st.lists(st.lists(ONE, max_size=2), max_size=3),
    st.tuples(ONE),
    st.tuples(ONE, ONE),
    st.builds(lambda items: [items, 1.0], st.lists(NUMBERS, max_size=3)),
    st.sets(HASHED, max_size=3),
    st.frozensets(HASHED, max_size=3),
    st.dictionaries(HASHED, ONE, max_size=3),
    st.builds(iter, st.lists(NUMBERS, max_size=3)),
    st.lists(ARRAYS, max_size=2),
    st.just([DEPTHS] * 2),
    st.builds(lambda number: [number] * 8, NUMBERS),
)
ANYTHING = st.one_of(NUMBERS, OTHERS, LISTS, ARRAYS)


def state(value):
    """What a caller can see of a value, so that a change shows."""
    if isinstance(value, numpy.ndarray):
        return value.dtype.str, value.shape, value.flags.writeable, [shown(item) for item in value.ravel()[:50].tolist()]
    if isinstance(value, dict):
        return [(state(key), state(item)) for key, item in value.items()]
    if isinstance(value, (list, tuple, set, frozenset)):
        return type(value), [state(item) for item in value]
    return id(value)


def finite(value):
    """No number anywhere in an answer that is not finite, and no complex one."""
    if isinstance(value, numpy.ndarray):
        return value.dtype == float and bool(numpy.isfinite(value).all())
    if is_dataclass(value):
        return all(finite(getattr(value, field.name)) for field in fields(value) if field.compare)
    if isinstance(value, dict):
        return all(map(finite, value.values()))
    if isinstance(value, (list, tuple)):
        return all(map(finite, value))
    if value is None or isinstance(value, (str, bool, int)):
        return True
    return isinstance(value, float) and math.isfinite(value) or isinstance(value, gf.FourthRoot)


def answered(name, values):
    """The answer to a call, None for one that was refused in the way that all are."""
    call, sound = CALLS[name]
    before = {key: state(value) for key, value in values.items()}
    answer = None
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            answer = call(**values)
        except ValueError as error:
            line = str(error)
            assert type(error).__module__.startswith(("builtins", "gritfuncs")) and not isinstance(error, UnicodeError)
            assert line.isprintable() and 0 < len(line) <= 400, line[:2000]
            told = {
                "from these inputs",
                name.partition(".")[0],
                *sound,
                *(name[:-1] for name in sound),
                *(field.name for field in fields(gf.Limits)),
            }
            assert any(word in line for word in told) or name in ("read_trial", "read_log") and ": " in line, line
        else:
            assert finite(answer), answer
            if isinstance(answer, (gf.Knee, gf.Advice, gf.SpeedTable, gf.Trial)):
                assert finite(answer.as_dict())
    assert {key: state(value) for key, value in values.items()} == before
    return answer


def test_every_public_callable_has_its_property():
    """A new one fails here until its sound inputs stand above."""
    tested = {name for name in CALLS if "." not in name}
    assert {name for name, value in PUBLIC.items() if callable(value)} == tested | ANSWERS | ELSEWHERE
    assert {record.name for record in catalogue} < tested
    for name in ANSWERS:
        assert is_dataclass(PUBLIC[name])


def test_every_argument_of_a_public_callable_is_tried():
    for name, (call, sound) in CALLS.items():
        assert set(inspect.signature(call).parameters) == set(sound), name


@pytest.mark.parametrize("name", CALLS)
def test_the_sound_inputs_are_answered(name):
    assert answered(name, copy.deepcopy(CALLS[name][1])) is not None


@pytest.mark.parametrize("name", CALLS)
@given(data=st.data())
def test_one_argument_can_be_anything(name, data):
    sound = CALLS[name][1]
    place = data.draw(st.sampled_from(sorted(sound)))
    answered(name, {**sound, place: data.draw(ANYTHING, label=place)})


@pytest.mark.parametrize("name", CALLS)
@given(data=st.data())
def test_all_arguments_can_be_anything(name, data):
    answered(
        name,
        {
            place: value if data.draw(st.booleans()) else data.draw(ANYTHING, label=place)
            for place, value in CALLS[name][1].items()
        },
    )


@pytest.mark.parametrize("name", CALLS)
@given(data=st.data())
def test_numbers_of_any_size_give_a_finite_answer_or_none(name, data):
    size = st.one_of(st.floats(0, exclude_min=True), st.sampled_from([5e-324, 1e-300, 1e-160, 1e-9, 1e9, 1e160, 1e300, 1.7e308]))

    def drawn(value):
        if isinstance(value, float):
            return data.draw(size)
        return list(map(drawn, value)) if isinstance(value, list) else value

    answered(name, {place: drawn(value) for place, value in CALLS[name][1].items()})


@pytest.mark.parametrize("name", CALLS)
def test_only_the_number_and_names_of_arguments_are_a_type_error(name):
    call, sound = CALLS[name]
    with pytest.raises(TypeError):
        call(**sound, nonsense=1)
    with pytest.raises(TypeError):
        call(*[1.0] * 20)
    required = [key for key, parameter in inspect.signature(call).parameters.items() if parameter.default is parameter.empty]
    if required:
        with pytest.raises(TypeError):
            call(**{key: value for key, value in sound.items() if key != required[-1]})


@pytest.mark.parametrize("name", [record.name for record in catalogue if record.native])
def test_arrays_that_are_given_stay_as_they_are(name):
    """Even those that may not be written to, or are seen through another one."""
    sound = {key: numpy.array([value] * 3, dtype=float) for key, value in CALLS[name][1].items()}
    for array in sound.values():
        array.flags.writeable = False
    result = answered(name, sound)
    assert not any(numpy.shares_memory(result, array) for array in sound.values())


@settings(max_examples=200)
@given(word=ANYTHING)
def test_the_catalogue_answers_any_word(word):
    """It is a mapping: a name that it does not have is a KeyError, as everywhere in Python."""
    if isinstance(word, str):
        assert isinstance(catalogue.search(word), tuple)
    try:
        catalogue[word]
    except KeyError:
        pass


def test_limits_are_kept_as_they_were_given():
    assert asdict(gf.Limits(highest_power=4.0))["highest_power"] == 4.0
