"""Trials and speed tables as frames of pandas, and trials from them."""

from __future__ import annotations

import sys

import numpy
import pytest
from test_plots import speeds

import gritfuncs as gf
from gritfuncs import demo, example
from gritfuncs.trial import Setup, read_trial

pandas = pytest.importorskip("pandas")


@pytest.fixture(scope="module")
def trial(tmp_path_factory):
    path = tmp_path_factory.mktemp("frames") / "readings.csv"
    path.write_text(demo.readings_text(), encoding="utf-8")
    return read_trial(path)


def readings(**more):
    rows = example.readings()
    return pandas.DataFrame({"work rpm [1/min]": [row[0] for row in rows], "power [kW]": [row[1] for row in rows], **more})


class TestIn:
    def test_the_same_headings_as_in_a_file_give_the_same_knee(self, trial):
        frame = readings(idle=example.IDLE_POWER)
        frame.attrs = dict(example.setup(), contact_width="15 mm", wheel_diameter="20 cm", part="of no interest")
        read = read_trial(frame)
        assert (
            read.knee.knee == pytest.approx(trial.knee.knee, rel=1e-8)
            and read.energy_unit == "J/mm³"
            and read.source == "DataFrame"
        )
        assert [reading.row for reading in read.used] == list(range(1, 16))

    def test_setup_idle_and_columns_beside_it(self, trial):
        frame = readings().rename(columns={"work rpm [1/min]": "n", "power [kW]": "wirk"})
        setup = Setup(**example.setup(), contact_width=15)
        assert read_trial(frame, columns=dict(work_rpm="n", power="wirk"), setup=setup, idle=0.86).knee.high == pytest.approx(
            trial.knee.high, rel=1e-8
        )

    def test_german_headings_and_units(self):
        frame = pandas.DataFrame({"Drehzahl [1/min]": [100, 120], "Leistung [W]": [2000, 1900]})
        assert [reading.load for reading in read_trial(frame).used] == [2.0, 1.9]

    def test_what_is_missing_is_blank_and_what_is_no_number_is_left_out(self):
        frame = pandas.DataFrame(
            {
                "rpm": [100, None, pandas.NA, 120, "x", numpy.int64(90)],
                "power": [2.0, 1.9, numpy.nan, "1,9", 2.0, numpy.float32(2)],
            },
            dtype=object,
        )
        assert [reading.status for reading in read_trial(frame).readings] == [
            "used",
            "left out: rpm is blank",
            "blank",
            "left out: load is not a number",
            "left out: rpm is not a number",
            "used",
        ]

    def test_headings_on_two_levels_are_read_as_one(self):
        """As a table of a sheet with two rows of headings comes into pandas."""
        heads = pandas.MultiIndex.from_tuples([("work", "rpm"), ("spindle power", "W"), ("idle", "kW")])
        trial = read_trial(pandas.DataFrame([[120, 2000, 0.5], [132, 1900, 0.5]], columns=heads))
        assert [(reading.work_rpm, reading.load, reading.idle) for reading in trial.used] == [(120, 2, 0.5), (132, 1.9, 0.5)]

    def test_a_cell_with_several_values_is_no_number(self):
        frame = pandas.DataFrame({"rpm": [120, 132, 140], "power": [2.0, numpy.array([1, 2]), [1]]}, dtype=object)
        assert [reading.status for reading in read_trial(frame).readings] == ["used", *["left out: load is not a number"] * 2]

    def test_what_stands_beside_a_frame_without_a_value_is_not_given(self):
        frame = readings()
        frame.attrs = {"wheel_diameter": None, "idle": "0,5 kW", "noise": 2, 7: "x", "source": "machine 1"}
        trial = read_trial(frame)
        assert (trial.source, trial.noise, {reading.idle for reading in trial.used}) == ("machine 1", 0.02, {0.5})
        assert "wheel_diameter" not in trial.given.values

    def test_truths_of_numpy_in_use(self):
        frame = pandas.DataFrame({"rpm": [100, 120], "power": [2.0, 1.9], "use?": [True, False]})
        assert [reading.status for reading in read_trial(frame).readings] == ["used", "excluded"]

    @pytest.mark.parametrize(
        "frame, options, said",
        [
            (pandas.DataFrame(), {}, "have a row that heads a column of work rpm"),
            (pandas.DataFrame({"a": [1]}), {}, "have a row that heads a column of work rpm"),
            (pandas.DataFrame({"rpm": [1], "power [furlong]": [1]}), {}, "be in kW"),
            (pandas.DataFrame({"rpm": range(600), "power": 1.0}), {}, "at most 500 filled rows"),
            (pandas.DataFrame({"rpm": [1.0], "power": [1.0]}), {"sheet": "x"}, "be left out for a DataFrame"),
            (pandas.DataFrame([[1, 1, 2]], columns=["rpm", "rpm", "power"]), {}, "have one column of work_rpm"),
        ],
        ids=str,
    )
    def test_what_cannot_be_read_is_one_line(self, frame, options, said):
        with pytest.raises(ValueError, match="DataFrame: ") as caught:
            read_trial(frame, **options)
        assert said in str(caught.value) and "\n" not in str(caught.value)

    def test_a_frame_is_not_changed(self):
        frame = readings()
        before = frame.copy(deep=True)
        read_trial(frame)
        pandas.testing.assert_frame_equal(frame, before)


def test_columns_of_pandas_own_numbers_are_numbers_where_none_is_missing():
    frame = pandas.DataFrame({"rpm": [100, 120], "power": [2.0, 1.9]}).convert_dtypes()
    assert str(frame.rpm.dtype) == "Int64"
    assert list(gf.work_speed(20.0, frame.rpm)) == list(gf.work_speed(20.0, [100, 120]))
    assert list(gf.net_power(frame.power, 0.5)) == [1.5, 1.4]
    with pytest.raises(ValueError, match=r"^work_rpm must be numbers, > 0 1/min \(got a NAType\)$"):
        gf.work_speed(20.0, pandas.Series([100, None], dtype="Int64"))


class TestOut:
    def test_of_a_trial_and_back(self, trial):
        frame = trial.to_frame()
        assert list(frame.work_rpm) == [reading.work_rpm for reading in trial.readings] and frame.attrs["energy_unit"] == "J/mm³"
        again = read_trial(frame)
        assert again.knee == trial.knee and again.setup == trial.setup and again.source == trial.source

    def test_excluded_rows_stay_excluded(self, tmp_path):
        path = tmp_path / "t.csv"
        path.write_text("rpm;power;use\n100;2;no\n110;2;\n120;;\n", encoding="utf-8")
        first = read_trial(path)
        assert [reading.kind for reading in read_trial(first.to_frame()).readings] == [reading.kind for reading in first.readings]

    @pytest.mark.parametrize(
        "text",
        [
            "rpm;load;use\n100;20;\n110;19;no\n",
            "volts;400\npower_factor;0.8\nrpm;current;idle\n100;6;2\n110;5.9;2\n",
            "nominal rpm;100\nhighest rpm;200\nmarked speed;30\nnoise;2\nrpm;power\n100;2\n110;1.9\n",
            "grit depth;specific energy;note\n1;90;first\n1.1;80;\n",
            "grit depth;load;idle\n1;9;1\n1.1;8;1\n",
            "rpm;specific energy\n100;90\n110;80\n",
            "marked speed;35\nwheel_speed;25\nrpm;power;idle;wheel speed\n100;2;0.5;25\n110;1.9;0.5;20\n",
            "infeed_rate;0.6\nrpm;power;idle;infeed rate\n100;2;0.5;0.72\n110;2;0.5;\n120;2;0.5;0.8\n",
            "infeed on dia;1.2\nrpm;power;idle;infeed on dia\n100;2;0.5;1.44\n110;2;0.5;\n120;2;0.5;1.6\n",
            "wheel_diameter;200\nwheel_rpm;2300\nmarked speed;35\nrpm;power;idle;wheel speed\n100;2;0.5;20\n110;2;0.5;\n120;2;0.5;22\n",
        ],
    )
    def test_whatever_is_known_of_a_trial_comes_back(self, tmp_path, text):
        path = tmp_path / "t.csv"
        path.write_text(text, encoding="utf-8")
        first = read_trial(path)
        frame = first.to_frame()
        again = read_trial(frame)
        rows = [(reading.work_rpm, reading.load, reading.idle, reading.kind, reading.depth, reading.energy, reading.note, reading.wheel_speed) for reading in first.readings if reading.is_used]  # fmt: skip
        assert rows == [(reading.work_rpm, reading.load, reading.idle, reading.kind, reading.depth, reading.energy, reading.note, reading.wheel_speed) for reading in again.readings if reading.is_used]  # fmt: skip
        assert (again.load_kind, again.limits, again.noise, again.nominal_rpm) == (first.load_kind, first.limits, first.noise, first.nominal_rpm)  # fmt: skip
        has_own = any(reading.equivalent_rpm is not None for reading in first.readings)
        assert ("equivalent_rpm" in frame) == ("removal_ratio" in frame) == has_own
        assert ("wheel_speed" in frame) == ("idle;wheel speed" in text) and ("infeed_rate" in frame) == ("idle;infeed" in text)
        marked = {word: value for word, value in first.given.values.items() if word == "marked_wheel_speed"}
        assert {word: again.given.values[word] for word in marked} == marked

    def test_of_a_speed_table(self):
        table = speeds([12, 20], [0.3, 0.6])
        frame = table.to_frame()
        cells = [cell for row in table.rows for cell in row]
        assert list(frame.work_rpm) == [cell.work_rpm for cell in cells] and list(frame.infeed_rate) == [0.3, 0.6, 0.3, 0.6]
        assert list(frame.word) == [cell.word for cell in cells] and set(frame.broken) == {"", "rpm too high"}


def test_without_pandas_a_line_says_what_to_install(trial, monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(ValueError, match=r"pip install 'gritfuncs\[frames\]'") as caught:
        trial.to_frame()
    assert "\n" not in str(caught.value)
