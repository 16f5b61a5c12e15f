"""Which columns of a table are read: headings of many languages, units below them, two lines, and what the caller adds."""

from __future__ import annotations

import datetime

import pytest
from openpyxl import Workbook

from gritfuncs.refused import Refused
from gritfuncs.trial import read_trial
from gritfuncs.trial.headings import PHRASES, plain, read_heading, role_of, words
from gritfuncs.trial.lines import word_of
from gritfuncs.trial.words import _CALLED


def read(folder, text, **options):
    path = folder / "trial.csv"
    path.write_text(text, encoding="utf-8")
    return read_trial(path, **options)


def refusal(*args, **options):
    with pytest.raises(Refused) as caught:
        read(*args, **options)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def said(trial, part):
    return any(part in remark for remark in trial.remarks)


@pytest.mark.parametrize(
    "heading",
    ["P_0", "P₀ (kW)", "P0", "no load", "no-load power", "No load (kW)", "tare", "base load", "Leerlauf", "Leerlaufleistung [kW]",
     "Leerlauf in kW", "à vide", "puissance à vide (kW)", "a vuoto", "potenza a vuoto", "spindle idle", "idle power, kW", "Power idle"],
)  # fmt: skip
def test_an_idle_column_is_taken_off_by_any_name(tmp_path, heading):
    trial = read(tmp_path, f"rpm;power (kW);{heading}\n120;2.0;0.5\n")
    assert trial.energies == (1.5,) and not said(trial, "No idle taken off")


@pytest.mark.parametrize(
    "heading, role",
    [
        ("power (idle) [kW]", "idle"),
        ("P_leer [kW]", "idle"),
        ("air cut kW", "idle"),
        ("idle with coolant on (kW)", "idle"),
        ("power (idle removed) kW", "power"),
        ("power incl. idle (kW)", ""),
        ("power (idle 0.86) [kW]", "power"),
        ("tare [mm]", ""),
        ("no load (1/min)", ""),
        ("idle [s]", ""),
        ("idle [%]", "idle"),
        ("spindle [%]", "load"),
        ("spindle [-]", ""),
        ("Leistung mit Leerlauf [kW]", ""),
    ],
)
def test_what_a_heading_says_of_idle_is_understood(heading, role):
    assert role_of(heading)[0] == role


@pytest.mark.parametrize(
    "heading, phrase, unit, basis, beside",
    [
        ("Power P [kW]", "power", "kW", "", ""),
        ("power, kW", "power", "kW", "", ""),
        ("P / kW", "p", "kW", "", ""),
        ("power in kW", "power", "kW", "", ""),
        ("power (in kW)", "power", "kW", "", ""),
        ("Power kW", "power", "kW", "", ""),
        ("kW", "", "kW", "", ""),
        ("  power \n [kW] ", "power", "kW", "", ""),
        ("power (kW) (filtered)", "power", "kW", "", "filtered"),
        ("power (kW) (V)", "power", "kW", "", ""),  # what the meter gives
        ("power (kW, mean of 3)", "power", "kW", "", "mean of 3"),
        ("power (spindle)", "power", "", "", "spindle"),
        ("power (filtered) (mean of 3)", "power", "", "", "filtered, mean of 3"),
        ("power (kW; mean)", "power", "kW", "", "mean"),
        ("depth m", "depth", "m", "", ""),
        ("time s", "time", "s", "", ""),
        ("time h", "time", "h", "", ""),
        ("energy J", "energy", "J", "", ""),
        ("force N", "force", "N", "", ""),
        ("draw W", "draw", "W", "", ""),
        ("time S", "time s", "", "", ""),
        ("rpm (1,5 mm)", "rpm", "", "", "1,5 mm"),
        ("speed /min", "speed", "/min", "", ""),
        ("speed / 1/min", "speed", "1/min", "", ""),
        ("work speed n_w [1/min]", "work speed", "1/min", "", ""),
        ("specific energy e_c (J/mm³)", "specific energy", "J/mm³", "", ""),
        ("load %", "load", "%", "", ""),
        ('wheel dia "', "wheel dia", '"', "", ""),
        ("a", "a", "", "", ""),
        ("V", "", "V", "", ""),
        ("current a", "current a", "", "", ""),
        ("current in a", "current", "a", "", ""),
        ("current A", "current", "A", "", ""),
        ("infeed (on dia)", "infeed", "", "diameter", ""),
        ("infeed (on dia) ipm", "infeed", "ipm", "diameter", ""),
        ("infeed rate [mm/min] (Ø)", "infeed rate", "mm/min", "diameter", ""),
        ("feed (mm/min; radial)", "feed", "mm/min", "radius", ""),
        ("radial infeed rate", "infeed rate", "", "radius", ""),
        ("infeed rate per radius", "infeed rate", "", "radius", ""),
        ("Vorschub am Ø (µm/s)", "vorschub", "µm/s", "diameter", ""),
        ("infeed, mm/min, on radius", "infeed", "mm/min", "radius", ""),
        ("infeed in µm/s on dia", "infeed", "µm/s", "diameter", ""),
    ],
)
def test_a_heading_is_read_in_its_parts(heading, phrase, unit, basis, beside):
    found = read_heading(heading)
    assert (found.phrase, found.basis, found.doubtful) == (phrase, basis, beside)
    assert plain(found.unit) == plain(unit)


@pytest.mark.parametrize("heading", ["power without idle", "net of idle", "Leistung ohne Leerlauf"])
def test_a_column_from_which_idle_was_taken_is_no_idle_column(tmp_path, heading):
    trial = read(tmp_path, f"rpm;power (kW);{heading}\n120;2.0;1.5\n")
    assert trial.used[0].idle == 0 and said(trial, f"not read: '{heading}'")


def test_that_no_idle_was_taken_off_is_said_wherever_it_was_not(tmp_path):
    for heading in ("power", "current", "load"):
        assert said(read(tmp_path, f"rpm;{heading}\n120;2\n"), "No idle taken off")
        assert not said(read(tmp_path, f"rpm;{heading}\n120;2\n", idle=0.5), "No idle taken off")
        assert not said(read(tmp_path, f"idle;0.5\nrpm;{heading}\n120;2\n"), "No idle taken off")
    assert not said(read(tmp_path, "rpm;specific energy\n120;90\n"), "No idle")


def test_an_idle_below_zero_is_taken_off_and_named(tmp_path):
    """A meter that was set to zero with the wheel running may fall below it; a slipped sign looks the same."""
    own = read(tmp_path, "rpm;power;idle\n120;2;-0.25\n132;1.9;0.5\n140;1.9;-0.3\n")
    assert own.energies == pytest.approx((2.25, 1.4, 2.2))
    assert said(own, "Idle is below zero, so taking it off adds to the load (row 2: -0.25, row 4: -0.3).")
    assert said(read(tmp_path, "idle;-2\nrpm;load\n120;40\n"), "Idle is below zero")
    assert said(read(tmp_path, "rpm;current\n120;2\n", idle=-0.5), "Idle is below zero")
    for text in (
        "rpm;power;idle\n120;2;0\n",
        "rpm;power;idle;use\n120;2;-1;no\n120;2;1;\n",
        "rpm;specific energy;idle\n120;90;-1\n",
    ):
        assert not said(read(tmp_path, text), "below zero")


@pytest.mark.parametrize("count, end", [(3, "row 4: -1)"), (4, "row 4: -1, ...)")])
def test_of_many_rows_three_are_listed_and_that_there_are_more(tmp_path, count, end):
    below = read(tmp_path, "rpm;power;idle\n" + "120;2;-1\n" * count)
    assert said(below, f"adds to the load (row 2: -1, row 3: -1, {end}.")
    strong = read(tmp_path, "highest_power;2 kW\nrpm;power\n" + "120;3\n" * count)
    assert said(strong, f"highest power is 2 kW (row 3: 3, row 4: 3, {end.replace('4: -1', '5: 3')}.")
    fast = read(tmp_path, "rpm;power\n" + "9000;2\n" * count)
    assert said(fast, f"usual is 5 to 2000 1/min (row 2: 9000, row 3: 9000, {end.replace('-1', '9000')}.")


def test_numeric_columns_that_were_not_read_are_listed(tmp_path):
    trial = read(tmp_path, "Nr;rpm;power;Temperature (°C);operator\n1;120;2;31;me\n2;132;1.9;;me\n")
    assert "Columns with numbers that were not read: 'Nr', 'Temperature (°C)'." in trial.remarks
    stations = read(tmp_path, "rpm;power;A1;k0\n120;2;31;1\n")  # names, no amperes and kelvins
    assert "Columns with numbers that were not read: 'A1', 'k0'." in stations.remarks
    assert "column E" in " ".join(read(tmp_path, "rpm;power;note\n120;2;;;7\n").remarks)


def test_lines_above_the_table_that_were_not_read_are_listed(tmp_path):
    trial = read(tmp_path, "Trial 7\nCoolant pressure;12;bar\noperator: me\nrpm;power\n120;2\n")
    assert "Lines above the table that were not read: row 2 'Coolant pressure'." in trial.remarks
    assert len(trial.readings) == 1


@pytest.mark.parametrize(
    "table",
    [
        "rpm;power\n1/min;kW\n120;2.0\n",
        "work speed;spindle\n(rpm);(kW)\n120;2.0\n",
        "rpm;power;note\n[1/min];[W];-\n120;2000;x\n",
        "Work speed;Spindle power;Idle power\nrpm;kW;kW\n120;2.0;0\n",
        "Drehzahl;Leistung\nU/min;W\n120;2000\n",
        "n;P\n1/s;W\n2;2000\n",
        "rpm;power (W)\n1/min;\n120;2000\n",
        "rpm;power\n1/min;w\n120;2000\n",
    ],
)
def test_a_row_of_units_under_the_headings_is_one(tmp_path, table):
    trial = read(tmp_path, table)
    assert [(reading.work_rpm, reading.load) for reading in trial.readings] == [(120, 2.0)]


@pytest.mark.parametrize(
    "table",
    [
        "Work;Spindle;;\nspeed (rpm);power (kW);idle (kW);note\n120;2.0;0.5;a\n",
        "Readings;;;\nrpm;power;idle;note\n120;2.0;0.5;a\n",
        "work;spindle;idle;remark\nrpm;power;power;\n120;2.0;0.5;a\n",
        "Work;Spindle;Idle;Note\nrpm;kW;kW;\n120;2.0;0.5;a\n",
    ],
)
def test_headings_on_two_lines_belong_together(tmp_path, table):
    reading = read(tmp_path, table).readings
    assert [(each.work_rpm, each.load, each.idle, each.note) for each in reading] == [(120, 2.0, 0.5, "a")]


def test_a_heading_over_merged_cells_and_one_with_a_line_break(tmp_path):
    book = Workbook()
    sheet = book.active
    for row in (["Work rpm", "Spindle", None, "Remark"], [None, "power\n(kW)", "idle\n(kW)", None], [120, 2.0, 0.5, "a"]):
        sheet.append(row)
    for place in ("A1:A2", "B1:C1", "D1:D2"):
        sheet.merge_cells(place)
    book.save(tmp_path / "a.xlsx")
    reading = read_trial(tmp_path / "a.xlsx").readings
    assert [(each.row, each.work_rpm, each.load, each.idle, each.note) for each in reading] == [(3, 120, 2.0, 0.5, "a")]


@pytest.mark.parametrize(
    "heading, unit",
    [
        ("Drehzahl;Leistung;Leerlauf;Bemerkung", "kW"),
        ("Werkstückdrehzahl [1/min];Spindelleistung [kW];Leerlaufleistung [kW];Bemerkungen", "kW"),
        ("Drehzahl (U/min);Spindelstrom (A);Leerlaufstrom (A);Notiz", "A"),
        ("vitesse de rotation (tr/min);puissance broche (kW);à vide (kW);remarques", "kW"),
        ("régime;intensité (A);à vide;commentaire", "A"),
        ("giri/min;potenza mandrino (kW);potenza a vuoto (kW);osservazioni", "kW"),
        ("numero di giri;corrente mandrino;corrente a vuoto;nota", "A"),
        ("VELOCITA' DI ROTAZIONE;Carico mandrino (%);a vuoto;note", "relative"),
        ("Drehzahl;Spindelauslastung %;Leerlauf %;Anmerkung", "relative"),
        ("rpm;spindle power (%);idle;notes", "relative"),
        ("Workpiece drive rpm;power (kW);idle;notes", "kW"),
        ("Drehzahl Werkstückantrieb;Leistung;Leerlauf;Notiz", "kW"),
    ],
)
def test_headings_of_other_languages(tmp_path, heading, unit):
    trial = read(tmp_path, f"{heading}\n120;2;0.5;a\n")
    assert (trial.energies, trial.energy_unit, trial.used[0].note) == ((1.5,), unit, "a")


def test_depths_and_energies_of_other_languages(tmp_path):
    for heading in ("Spanungsdicke (µm);spezifische Schleifenergie (J/mm³)", "épaisseur de copeau;énergie spécifique",
                    "spessore del truciolo;energia specifica"):  # fmt: skip
        trial = read(tmp_path, f"{heading}\n0.9;95\n")
        assert (trial.depths, trial.energies, trial.depth_unit) == ((0.9,), (95,), "µm")


# --- what the caller adds ---


@pytest.mark.parametrize("name", ["C", "Wirkl. Spindel", "wirkl. spindel"])
def test_one_named_column_adds_to_what_was_recognised(tmp_path, name):
    text = "setup;7\nDrehzahl;Bemerkung;Wirkl. Spindel;Leerlauf\n120;a;2;0.5\n"
    trial = read(tmp_path, text, columns={"power": name})
    assert (trial.energies, trial.used[0].note, trial.used[0].work_rpm) == ((1.5,), "a", 120)


def test_a_named_column_goes_before_what_was_recognised(tmp_path):
    text = "rpm;power;power 2;idle\n120;2;3;0.5\n"
    assert read(tmp_path, text, columns={"power": "power 2"}).energies == (2.5,)
    assert read(tmp_path, text, columns={"load": "C"}).load_kind == "relative"
    assert read(tmp_path, text, columns={"note": "C"}).used[0].note == "3"


def test_a_column_by_letter_has_the_unit_of_its_heading(tmp_path):
    text = "Nr;Drehzahl;Last W (W)\n1;120;2000\n"
    assert read(tmp_path, text, columns={"work_rpm": "B", "power": "C"}).used[0].load == 2.0
    assert "power must be in kW (got heading 'Last (bar/s)')" in refusal(
        tmp_path, "a;b\nx;Last (bar/s)\n120;2\n", columns={"work_rpm": "A", "power": "B"}
    )


@pytest.mark.parametrize(
    "text, columns",
    [
        ("n;Wirk;x\n(1/min);(W);(W)\n120;150;50\n", {"work_rpm": "n", "power": "wirk", "idle": "x"}),
        ("Drehzahl;Wirk;Leerlauf\n1/min;W;W\n120;150;50\n", {"power": "Wirk"}),
        ("Drehzahl;Wirk;Leerlauf\n1/min;W;W\n120;150;50\n", {"power": "Wirk [W]"}),
        ("n;Wirk;idle\n1/s;W;W\n2;150;50\n", {"work_rpm": "n", "power": "B"}),
        ("a;b;c\n1/s;W;kW\n2;150;0.05\n", {"work_rpm": "A", "power": "B", "idle": "C"}),
        ("a;b;Leerlauf\n1/s;W;kW\n2;150;0.05\n", {"work_rpm": "A", "power": "B"}),
        ("Nr;n;Wirk;Leerlauf\n-;1/min;W;W\n1;120;150;50\n", {"work_rpm": "n", "power": "Wirk"}),
    ],
)
def test_units_below_headings_that_the_caller_names_count(tmp_path, text, columns):
    """150 W are no 150 kW, which a large machine may draw."""
    reading = read(tmp_path, text, columns=columns).readings[0]
    assert (reading.work_rpm, reading.load, reading.idle) == (120, 0.15, 0.05)
    if "B" not in columns.values():
        assert (
            read(tmp_path, f"Trial 7\n{text}", columns=columns, heading_row=2).readings
            == read(tmp_path, f"Trial 7\n{text}", columns=columns).readings
        )


@pytest.mark.parametrize("heads", ["n;P;vf;P0\n1/min;W;µm/s;W\n", "n;P;vf;x\n1/min;W;µm/s;W\n", "n;P;vf\n(1/min);(W);(µm/s)\n"])
def test_symbols_above_their_units_keep_their_meaning(tmp_path, heads):
    """Without n and P, which mean nothing alone, the units would still tell rpm and power, but not the infeed rate."""
    trial = read(tmp_path, f"idle;500;W\nwheel_speed;25\n{heads}120;2000;10;500\n132;2000;12;500\n")
    assert [(reading.work_rpm, reading.load, reading.infeed_rate) for reading in trial.used] == [
        (120, 2, pytest.approx(0.6)),
        (132, 2, pytest.approx(0.72)),
    ]
    assert trial.remarks[0].startswith("Columns read: work_rpm from 'n [1/min]', power from 'P [W]'")


def test_a_title_above_headings_that_are_units_alone_is_none(tmp_path):
    for title in ("Trial 7", "Step a;Step b", "power of the spindle"):
        trial = read(tmp_path, f"{title}\n1/min;W\n120;2000\n")
        assert [(reading.work_rpm, reading.load) for reading in trial.readings] == [(120, 2)]


@pytest.mark.parametrize(
    "heads",
    [
        "rpm;power;idle;infeed\n1/min;kW;kW;mm/min on dia\n",
        "rpm;power;idle;infeed\n;;;on diameter\n",
        "rpm;power;idle;infeed (mm/min)\n1/min;kW;kW;(Ø)\n",
        "rpm;power;idle;infeed\n(1/min);(kW);(kW);(mm/min, on dia)\n",
        "Drehzahl;Leistung;Leerlauf;Vorschub\n1/min;kW;kW;mm/min auf Durchmesser\n",
        "rpm;power;idle;infeed on dia\n1/min;kW;kW;mm/min\n",
    ],
)
def test_the_diameter_below_a_heading_halves_the_infeed_like_one_in_it(tmp_path, heads):
    trial = read(tmp_path, f"{heads}120;2;0.5;1.2\n132;2;0.5;1.44\n")
    assert [reading.infeed_rate for reading in trial.used] == pytest.approx([0.6, 0.72])
    assert len(trial.readings) == 2


def test_a_named_setting_has_the_unit_below_its_heading(tmp_path):
    text = "wheel_speed;25\nrpm;power;idle;eingestellt\n1/min;W;W;µm/s\n120;2000;500;10\n132;2000;500;12\n"
    trial = read(tmp_path, text, columns={"infeed_rate": "eingestellt"})
    assert [reading.infeed_rate for reading in trial.used] == pytest.approx([0.6, 0.72])


def test_a_column_beyond_the_alphabet_has_two_letters(tmp_path):
    for letters, place in (("Z", 25), ("AA", 26), ("BC", 54)):
        text = "rpm" + ";" * place + "P1\n" + "".join(f"{rpm}" + ";" * place + f"{rpm / 60}\n" for rpm in (120, 132))
        assert read(tmp_path, text, columns={"power": letters}).energies == (2.0, 2.2)


def test_of_several_reasons_that_of_the_delimiter_with_more_of_the_named_headings_is_told(tmp_path):
    text = "rpm of work\tP1\tnote\n120\t2,0\ta\n132\t1,9\tb\n"
    wanted = {"work_rpm": "rpm of work", "power": "P2"}
    assert "must have a row with the headings that columns names (missing: 'P2')" in refusal(tmp_path, text, columns=wanted)


def test_rows_above_the_table_are_no_readings(tmp_path):
    text = "Trial;2024\nOrder;4711\nPart;9;20\nNr;Drehz.;kW-Wert\n1;120;2\n2;;1.9\n3;132;1.8\n"
    trial = read(tmp_path, text, columns={"work_rpm": "B", "power": "C"})
    assert [reading.row for reading in trial.readings] == [5, 6, 7]
    first_blank = "Nr;Drehz.;kW-Wert\n1;;2\n2;120;1.9\n"
    assert [r.row for r in read(tmp_path, first_blank, columns={"work_rpm": "B", "power": "C"}).readings] == [2, 3]


def test_by_letters_no_reading_is_lost_above_words_among_them(tmp_path):
    """Words in both columns are headings only where most of the readings stand below them."""
    named = {"work_rpm": "A", "power": "B"}
    for text, rpms in (
        ("120;2\nstop;stop\n132;1.9\n", [120, 132]),
        ("120;2\n132;2\nstop;stop\n144;1.9\n", [120, 132, 144]),
        ("5;6\nturns;draw\n120;2\n132;1.9\n", [120, 132]),
    ):
        assert [reading.work_rpm for reading in read(tmp_path, text, columns=named).used] == rpms


def test_the_row_of_headings_can_be_said(tmp_path):
    text = "rpm;power\n100;9\nrpm;power\n120;2\n"
    assert "rows 1 and 3 both look like one" in refusal(tmp_path, text)
    trial = read(tmp_path, text, heading_row=3)
    assert [reading.work_rpm for reading in trial.readings] == [120]
    assert "must have headings in row 9" in refusal(tmp_path, text, heading_row=9)
    assert "must have a row that heads" in refusal(tmp_path, text, heading_row=2)
    for wrong in (0, "3", True, 1.5):
        assert "heading_row must be the number of a row, from 1" in refusal(tmp_path, text, heading_row=wrong)


def test_the_row_of_headings_in_a_workbook(tmp_path):
    book = Workbook()
    for row in (["rpm", "power"], [1, 2], ["rpm", "power"], [120, 2]):
        book.active.append(row)
    book.save(tmp_path / "a.xlsx")
    assert [reading.row for reading in read_trial(tmp_path / "a.xlsx", heading_row=3).readings] == [4]


# --- what must stay the same ---


@pytest.mark.parametrize(
    "text, options, says",
    [
        ("rpm;power;current\n120;2;5\n", {}, "must have one column of load readings in row 1 (got 'power' and 'current'); choose with load_kind (--load-kind) or columns={...} (--column WORD=COLUMN)"),
        ("rpm;power;rpm\n120;2;5\n", {}, "must have one column of work_rpm in row 1 (got 'rpm' and 'rpm'); choose with columns={...} (--column WORD=COLUMN)"),
        ("x\nrpm;P1;P1\n120;2;5\n", {"columns": {"power": "p1"}}, "must have one column headed 'p1' in row 2; give its letter instead"),
        ("rpm;power;f;f\n120;2;5;5\n", {"columns": {"infeed_rate": "f"}}, "must have one column headed 'f', as columns says of infeed_rate (got 2 of them); give its letter instead"),
        ("rpm;power\n120;2\nrpm;power\n132;2\n", {}, "must have one row of headings (rows 1 and 3 both look like one); say which with heading_row (--heading-row)"),
        ("n1;P1\n120;2\nn1;P1\n132;2\n", {"columns": {"work_rpm": "n1", "power": "P1"}}, "must have one row of headings (rows 1 and 3 both have those that columns names); say which with heading_row (--heading-row)"),
        ("time;power\n1;2\n", {}, "must hold readings, one row for each, but it looks like a log over time (row 1 heads a column of time and none of work rpm); read it as a log, or condense each stretch at one rpm into one reading"),
        ("rpm;power (bar)\n120;2\n", {}, "must have a row that heads a column of work rpm and one of power, current or load, or be read with columns={...} (--column WORD=COLUMN); power must be in kW (got heading 'power (bar)')"),
        ("rpm (kg);power (bar)\n120;2\n", {}, "work_rpm must be in 1/min (got heading 'rpm (kg)')"),
        ("rpm;power\n120;2\n", {"columns": {"power": "A", "current": "B"}}, "columns must name only one of power, current, load, specific_energy (got power, current)"),
        ("rpm;power\n120;2\n", {"columns": {"power": " "}}, "columns['power'] must be a heading or a column letter (got ' ')"),
        ("rpm;power\n120;2\n", {"columns": {"kW": "A"}}, "columns must name work_rpm, power, current, load, idle, use, note, damage, grit_depth, specific_energy, infeed_rate, wheel_speed, wheel_rpm, work_diameter, wheel_diameter only (got 'kW')"),
        ("rpm;power\n120;2\n", {"columns": ["A"]}, "columns must be a dictionary such as {'work_rpm': 'B', 'power': 'C'} (got ['A'])"),
        ("rpm;load;idle (kW)\n120;45;0.2\n", {}, "idle must be in the unit of the load, which is not said (got heading 'idle (kW)'); put it into the heading of the load"),
        ("rpm;power;idle (A)\n120;45;0.2\n", {}, "idle must be in the unit of the load, kW (got heading 'idle (A)')"),
    ],
)  # fmt: skip
def test_what_is_unclear_about_columns_is_refused_with_what_to_do(tmp_path, text, options, says):
    assert refusal(tmp_path, text, **options).endswith(says)


def test_spaces_around_the_name_of_a_column_do_no_harm(tmp_path):
    assert read(tmp_path, "rpm;x;Wirk\n120;3;2\n", columns={"power": " Wirk "}).energies == (2,)
    assert read(tmp_path, "rpm;x;Wirk\n120;3;2\n", columns={"power": " C "}).energies == (2,)


def test_a_factor_in_a_heading_of_words_does_no_harm(tmp_path):
    (reading,) = read(tmp_path, "rpm;power;note (x 10)\n120;2;seen\n").readings
    assert (reading.note, reading.load) == ("seen", 2)


def test_a_width_is_refused_where_it_changes(tmp_path):
    message = refusal(tmp_path, "rpm;power;Schleifbreite (mm)\n120;2;20\n132;1.9;30\n")
    assert "contact_width must be the same in every reading" in message and "20 in row 2 and 30 in row 3" in message
    assert message.endswith("; read the rows of one contact_width at a time, or give depths and specific energies")


@pytest.mark.parametrize(
    "heading, words, is_named",
    [
        ("valid", ("yes", "no"), True),
        ("Exclude?", ("", "yes"), True),
        ("Messung gültig", ("ja", "nein"), True),
        ("ok", ("yes", "no"), True),
        ("valid", ("a", "b"), False),
        ("coolant on", ("yes", "no"), False),
        ("use?", ("yes", "no"), False),
    ],
)
def test_a_column_that_may_say_which_rows_count_is_pointed_out(tmp_path, heading, words, is_named):
    trial = read(tmp_path, f"rpm;power;{heading}\n120;2;{words[0]}\n132;1.9;{words[1]}\n")
    assert said(trial, f"CHECK: '{heading}' may say which rows count, and was not read: all rows count.") == is_named
    assert len(trial.used) == (1 if heading == "use?" else 2)
    bare = read(tmp_path, "120;2;;yes\n132;1.9;;no\n", columns={"work_rpm": "A", "power": "B", "infeed_rate": "D"})
    assert len(bare.used) == 2 and not said(bare, "may say which")  # a column without a heading says nothing


def test_three_capital_letters_are_a_heading_and_no_column(tmp_path):
    trial = read(tmp_path, "rpm;x;KWM\n120;3;2\n", columns={"power": "KWM"})
    assert trial.energies == (2,) and "power from 'KWM'" in trial.remarks[0]


def test_a_column_that_the_caller_names_by_its_letter_is_told_by_it(tmp_path):
    trial = read(tmp_path, "Drehz.;kW-Wert\n120;2\n", columns={"work_rpm": "A", "power": "B"})
    assert trial.remarks[0] == "Columns read: work_rpm from 'A', power from 'B'."


def test_columns_without_any_heading_are_read_by_their_letters(tmp_path):
    named = {"work_rpm": "A", "power": "B", "idle": "C", "infeed_rate": "D", "note": "E"}
    trial = read(tmp_path, "120;2;0.5;0.6;a\n132;2;0.5;0.72;b\n", columns=named)
    found = [(reading.work_rpm, reading.load, reading.idle, reading.infeed_rate, reading.note) for reading in trial.used]
    assert found == [(120, 2, 0.5, 0.6, "a"), (132, 2, 0.5, 0.72, "b")]
    assert trial.remarks[0].endswith("idle from 'C', note from 'E', infeed_rate from column D.")


def test_a_row_of_dashes_below_the_headings_is_one_of_units_that_says_none(tmp_path):
    trial = read(tmp_path, "rpm;power;note\n-;-;-\n120;2;a\n")
    assert [reading.row for reading in trial.readings] == [3] and trial.used[0].note == "a"
    assert trial.remarks[0] == "Columns read: work_rpm from 'rpm', power from 'power', note from 'note'."
    assert read(tmp_path, "rpm;Wirk\n-;-\n120;2\n", columns={"power": "Wirk"}).used[0].load == 2


def test_damage_in_two_columns_is_told_of_both(tmp_path):
    trial = read(tmp_path, "rpm;power;burn;cracks\n120;2;light ;two\n132;2;no;three\n144;2;slight;none\n")
    assert trial.damage == ((2, "light; two"), (3, "three"), (4, "slight"))


def test_of_a_long_gap_between_readings_no_more_rows_are_counted_than_a_trial_has(tmp_path):
    for gap, counted in ((499, 499), (500, 500), (501, 500), (9000, 500)):
        assert read(tmp_path, "rpm;power\n120;2\n" + "\n" * gap + "132;1.9\n").counts["blank"] == counted


@pytest.mark.parametrize("heading", ["infeed, actual", "Vorschub Ist", "wheel no", "Ø Scheibe gemessen", "feed (set) n"])
def test_an_unread_column_that_may_be_a_setting_is_pointed_out(tmp_path, heading):
    assert said(read(tmp_path, f"rpm;power;{heading}\n120;2;20\n132;1.9;30\n"), "CHECK: '")
    assert not said(read(tmp_path, "rpm;power;temperature\n120;2;20\n132;1.9;30\n"), "CHECK")


def test_it_counts_as_a_setup_line_where_it_does_not_change(tmp_path):
    lines = "work_diameter;20\nwheel_diameter;200\nwheel_speed;25\nside;external\ngrit_density;20\nshape_ratio;10\n"
    trial = read(tmp_path, f"{lines}rpm;power;infeed rate on dia (µm/s)\n120;2;20\n132;1.9;20\n")
    assert trial.setup.infeed_rate == pytest.approx(0.6)
    assert "infeed_rate from 'infeed rate on dia (µm/s)'" in trial.remarks[0]
    assert "must be the same above the table and in its column (got 0.6 and 0.7 mm/min on the radius)" in refusal(
        tmp_path, "infeed_rate;0.6\nrpm;power;infeed rate\n120;2;0.7\n"
    )


def test_rows_set_aside_may_differ_and_given_depths_and_energies_hold_for_themselves(tmp_path):
    assert len(read(tmp_path, "rpm;power;infeed rate;use\n120;2;0.6;\n132;1.9;0.7;no\n").used) == 1
    assert "infeed_rate from 'infeed rate'" in read(tmp_path, "rpm;power;infeed rate\n120;2;0.6\n132;1.9;0.6\n").remarks[0]
    trial = read(tmp_path, "grit depth;specific energy;infeed rate\n0.9;95;0.6\n1.1;90;0.7\n")
    assert len(trial.used) == 2 and said(trial, "not read: 'infeed rate'")


def test_an_idle_line_does_not_stop_a_column_of_specific_energies(tmp_path):
    for line in ("idle 0.62 kW", "idle;0.62;kW", "# idle = 0.62 kW"):
        assert read(tmp_path, f"{line}\nrpm;specific energy (J/mm³)\n120;95\n").energies == (95,)
        assert read(tmp_path, f"{line}\nrpm;power (W)\n120;2620\n").energies == pytest.approx((2,))


def test_no_contact_width_is_said_only_where_that_is_what_is_missing(tmp_path):
    lines = "work_diameter;20\nwheel_diameter;200\nwheel_speed;25\nside;external\ngrit_density;20\nshape_ratio;10\n"
    assert said(read(tmp_path, f"{lines}infeed_rate;0.6\nrpm;power\n120;2\n"), "No contact width")
    trial = read(tmp_path, f"{lines}contact_width;15\nrpm;power\n120;2\n")
    assert not said(trial, "No contact width") and said(trial, "The setup lacks infeed_rate.")
    assert said(trial, "energies are net load")
    trial = read(tmp_path, f"{lines}infeed_rate;0.6\nvolts;400\nrpm;current\n120;2\n")
    assert said(trial, "No power factor: energies are net current") and not said(trial, "No contact width")


def test_a_title_above_a_column_without_heading_is_a_title(tmp_path):
    trial = read(tmp_path, ";;;Wheel A\nrpm;power;note;\n120;2;;\n")
    assert trial.title == "Wheel A" and len(trial.readings) == 1


def test_columns_by_letter_begin_below_titles_and_lines(tmp_path):
    """Also below a line with numbers in these columns, and with no row of headings at all."""
    named = {"work_rpm": "B", "power": "C"}
    for above in ("Wheel A\n\n", "Wheel A\nmarked speed;30;35\n\n", "Wheel A\n", "Wheel A;;;\n", "Wheel A;;;new\n"):
        trial = read(tmp_path, f"{above}x;120;2\ny;132;1.9\n", columns=named)
        title = "Wheel A;new" if "new" in above else "Wheel A"
        assert trial.title == title and [reading.work_rpm for reading in trial.readings] == [120, 132]


# --- what is told ---


def test_each_column_of_damage_is_told_as_read(tmp_path):
    trial = read(tmp_path, "rpm;power;burn;cracks;damage\n120;2;no;two;\n132;1.9;;;\n")
    told = (
        "Columns read: work_rpm from 'rpm', power from 'power', damage from 'burn', damage from 'cracks', damage from 'damage'."
    )
    assert trial.remarks[0] == told and trial.damage == ((2, "two"),) and not said(trial, "not read")
    assert read(tmp_path, "rpm;power;burn\n120;2;no\n").remarks[0].count("damage from") == 1


@pytest.mark.parametrize(
    "text, told",
    [
        ("rpm;power;idle (W)\n120;2;500\n", ["idle is written in W and used in kW: 1 W = 0.001 kW."]),
        ("rpm;load (W);idle (kW)\n120;2000;0.5\n", ["power is written in W and used in kW: 1 W = 0.001 kW.", "idle is written in kW"]),
        ("rpm (1/s);power (kW);idle (kW)\n2;2;0.5\n", ["work_rpm is written in 1/s and used in 1/min: 1 1/s = 60 1/min."]),
        ("rpm (1/min);power (kW);idle (kW)\n2;2;0.5\n", []),
        ("rpm;load (%);idle (%)\n120;40;10\n", []),
        ("rpm;load (%);idle (-)\n120;40;0.1\n", ["idle is written in - and used in %: 1 - = 100 %."]),
    ],
)  # fmt: skip
def test_units_that_are_converted_are_told_and_no_others(tmp_path, text, told):
    found = [remark for remark in read(tmp_path, text).remarks if "is written in" in remark]
    told = [each for each in told if each != "idle is written in kW"]  # in what it is used
    assert found == told


def test_the_unit_of_a_setting_in_the_rows_is_told_where_it_is_another(tmp_path):
    lines = "marked speed;35\nwheel_speed;25\n"
    trial = read(tmp_path, f"{lines}rpm;power;idle;wheel speed (m/min)\n120;2;0.5;1500\n132;1.9;0.5;1200\n")
    assert "wheel_speed of the rows is written in m/min: 1 m/min = 0.0166667 m/s." in trial.remarks
    trial = read(tmp_path, f"{lines}rpm;power;idle;wheel speed (m/s)\n120;2;0.5;25\n132;1.9;0.5;20\n")
    assert not said(trial, "of the rows is written")


def test_of_many_things_that_were_not_read_twelve_are_named(tmp_path):
    names = [f"k{number}" for number in range(13)]
    heads = ", ".join(f"'{name}'" for name in names[:12])
    for count, end in ((12, "."), (13, ", ...")):
        columns = read(tmp_path, f"rpm;power;{';'.join(names[:count])}\n120;2{';7' * count}\n")
        assert f"Columns with numbers that were not read: {heads}{end}" in " ".join(columns.remarks)
        lines = read(tmp_path, "".join(f"what {name};7;kg\n" for name in names[:count]) + "rpm;power\n120;2\n")
        rows = ", ".join(f"row {row} 'what {name}'" for row, name in enumerate(names[:12], 1))
        assert f"Lines above the table that were not read: {rows}{end}" in " ".join(lines.remarks)


def test_of_many_that_may_be_a_setting_or_the_mark_three_are_named(tmp_path):
    heads = [f"infeed {what}" for what in ("as set", "as read", "old", "new")]
    trial = read(tmp_path, f"rpm;power;{';'.join(heads)}\n120;2;1;1;1;1\n")
    assert said(trial, "CHECK: 'infeed as set', 'infeed as read', 'infeed old' may be an infeed rate")
    marks = "".join(f"max speed of wheel {what};20\n" for what in "ABCD")
    rows = ", ".join(f"row {row} 'max speed of wheel {what}'" for row, what in enumerate("ABC", 1))
    assert said(read(tmp_path, f"{marks}rpm;power\n120;2\n"), f"CHECK: {rows} may be the highest speed marked")


@pytest.mark.parametrize(
    "place, name", [(25, "Z"), (26, "AA"), (51, "AZ"), (52, "BA"), (702, "AAA"), (18277, "ZZZ"), (18278, "18279")]
)
def test_a_column_without_a_heading_is_named_as_a_sheet_names_it(tmp_path, place, name):
    assert said(read(tmp_path, f"rpm;power\n120;2{';' * (place - 1)}7\n"), f"not read: column {name}.")


def test_a_long_heading_is_cut_where_it_is_named(tmp_path):
    for length, shown in ((40, "n" * 40), (41, "n" * 37 + "...")):
        assert said(read(tmp_path, f"rpm;power;{'n' * length}\n120;2;7\n"), f"not read: '{shown}'.")


# --- damage ---


@pytest.mark.parametrize(
    "word",
    [
        "",
        "none",
        "No",
        "ok",
        "OK.",
        "o.k.",
        "i.O.",
        "in Ordnung",
        "-",
        "nein",
        "keine",
        "non",
        "aucun",
        "nessuno",
        "0",
        "false",
        "n",
    ],
)
def test_words_that_say_no_are_no_damage(tmp_path, word):
    trial = read(tmp_path, f"rpm;power;damage\n120;2;{word}\n")
    assert trial.damage == () and trial.readings[0].damage == ""


@pytest.mark.parametrize("word", ["n.i.O.", "nicht in Ordnung", "not ok", "o", "?", "."])
def test_any_other_word_is_damage(tmp_path, word):
    assert read(tmp_path, f"rpm;power;damage\n120;2;{word}\n").damage == ((2, word),)


@pytest.mark.parametrize(
    "heading", ["damage", "Burn", "burn or crack?", "Schleifbrand", "Brand", "Risse", "brûlure", "bruciature", "damage seen"]
)
def test_damage_is_read_by_any_name(tmp_path, heading):
    trial = read(tmp_path, f"rpm;power;{heading};use\n120;2;light burn;\n132;1.9;;\n144;1.8;x;no\n")
    assert trial.damage == ((2, "light burn"), (4, "x"))


def test_a_brand_of_wheel_is_no_damage(tmp_path):
    assert read(tmp_path, "rpm;power;wheel brand\n120;2;invented\n").damage == ()


def test_a_note_that_speaks_of_damage_is_pointed_out(tmp_path):
    assert said(read(tmp_path, "rpm;power;note\n120;2;slight burn\n"), "The note of row 2 speaks of damage")


# --- what is no trial ---


def test_a_log_over_time_is_recognised_as_one(tmp_path):
    log = "time (s);power (kW)\n" + "".join(f"{second};{2 + second % 3 / 100}\n" for second in range(300))
    assert "it looks like a log over time" in refusal(tmp_path, log)
    assert "it looks like a log over time" in refusal(tmp_path, log.replace(";", ","))
    log = "time;rpm;power\n" + "".join(f"{second};120;2.0{second % 3}\n" for second in range(446))
    assert "it looks like a log over time (446 rows under 'time')" in refusal(tmp_path, log)
    log = "Zeit (s);Drehzahl;Leistung\n" + "".join(f"{second};120;2.0{second % 3}\n" for second in range(40))
    assert "it looks like a log over time (40 rows under 'Zeit (s)')" in refusal(tmp_path, log)


def test_a_trial_may_note_the_time_of_each_reading(tmp_path):
    def timed(count):
        return "time;rpm;power\n" + "".join(
            f"{8 + number // 20}:{3 * (number % 20):02d};{120 + number};2\n" for number in range(count)
        )

    assert len(read(tmp_path, timed(50)).used) == 50
    assert "it looks like a log over time (51 rows under 'time')" in refusal(tmp_path, timed(51))


def test_even_steps_of_time_make_a_log_of_more_than_twenty_rows(tmp_path):
    def log(times):
        return "time (s);rpm;power\n" + "".join(f"{time};{120 + row};2\n" for row, time in enumerate(times))

    even = [10 * row for row in range(22)]
    assert "it looks like a log over time (22 rows under 'time (s)')" in refusal(tmp_path, log(even))
    assert len(read(tmp_path, log(even[:21])).used) == 21
    assert len(read(tmp_path, log(["", *even])).used) == 23  # a row without a time
    assert len(read(tmp_path, log([*even, even[-1] + 15])).used) == 23  # a step of half as much again
    assert "it looks like a log" in refusal(tmp_path, log([*even, even[-1] + 14.9]))
    assert len(read(tmp_path, log([0] * 22)).used) == len(read(tmp_path, log(even[::-1])).used) == 22


def test_quoted_comma_text_with_unknown_headings_is_told_about_its_headings(tmp_path):
    assert "must have a row that heads a column of work rpm" in refusal(tmp_path, '"alpha","beta"\n"120","2.0"\n')
    assert read(tmp_path, '"rpm","power"\n"120","2.0"\n').energies == (2,)
    assert "closed quotes" in refusal(tmp_path, 'rpm;power;note\n120;2;"open\n130;2;x\n')


@pytest.mark.parametrize(
    "heading, kind, first",
    [("Spindle load [hp]", "power", 2.7 * 0.745699872), ("load [A]", "current", 2.7), ("Spindle load [%]", "relative", 2.7)],
)
def test_the_unit_says_what_a_spindle_load_is(tmp_path, heading, kind, first):
    path = tmp_path / "spindle_load.csv"
    path.write_text(f"work rpm,{heading}\n120,2.7\n108,2.8\n132,2.7\n")
    trial = read_trial(path)
    assert trial.load_kind == kind and trial.readings[0].load == pytest.approx(first)


def test_a_date_cell_is_the_day_of_the_trial(tmp_path):
    book = Workbook()
    for row in (["date", datetime.datetime(2026, 3, 4)], [], ["work rpm", "power [kW]"], [120, 2.7], [108, 2.8]):
        book.active.append(row)
    book.save(tmp_path / "dated.xlsx")
    assert read_trial(tmp_path / "dated.xlsx").date == datetime.date(2026, 3, 4)


@pytest.mark.parametrize(
    "heading",
    [
        "power over idle (kW)",
        "power (excl. idle)",
        "P-P0 [kW]",
        "P − P_0",
        "power - idle",
        "power w/o idle (kW)",
        "idle-corrected power",
    ]
    + ["rise above idle", "Leistung über Leerlauf", "Leistung abzgl. Leerlauf", "puissance hors vide", "P0 + P", "idle time (s)"]
    + ["idle rpm", "Leerlaufdrehzahl", "power / idle"]
    + ["power less idle", "power minus idle", "idle removed", "idle subtracted", "idle deducted", "idle compensated"]
    + ["power beyond idle", "rise from idle", "increase over idle", "delta idle", "difference to idle", "grinding less idle"]
    + [
        "Leistung ohne Leerlauf",
        "Leistung abzüglich Leerlauf",
        "Leistung netto (Leerlauf)",
        "puissance sans à vide",
        "nette à vide",
    ]
    + ["potenza senza a vuoto", "potenza oltre a vuoto", "escl. a vuoto", "potencia sin en vacío", "potencia sobre en vacío"]
    + ["potencia descontada en vacío", "potência sem em vazio", "potência líquida (em vazio)", "potência descontada em vazio"]
    + ["moc bez biegu jałowego", "moc ponad bieg jałowy", "moc nad bieg jałowy", "výkon bez chodu naprázdno"]
    + ["výkon po odečtení naprázdno", "effekt utan tomgång", "effekt minskad med tomgång", "nettoeffekt exkl. tomgång"],
)
def test_a_column_of_the_load_without_idle_is_no_idle_reading(tmp_path, heading):
    path = tmp_path / "trial.csv"
    path.write_text(f"rpm;power;{heading}\n120;2.05;1.19\n132;1.99;1.13\n", encoding="utf-8")
    trial = read_trial(path)
    assert [reading.idle for reading in trial.used] == [0, 0]
    assert any("not read" in remark and heading[:6] in remark for remark in trial.remarks)


@pytest.mark.parametrize(
    "heading",
    [
        "P-idle [kW]",
        "P_idle",
        "P_0 [kW]",
        "no-load power",
        "idle/kW",
        "Leerlauf / kW",
        "idle power before",
        "spindle power (idle)",
    ]
    + ["idle power (coolant on)", "puissance à vide (kW)", "I0"],
)
def test_headings_of_idle_readings(tmp_path, heading):
    path = tmp_path / "trial.csv"
    path.write_text(f"rpm;{'current' if heading == 'I0' else 'power'};{heading}\n120;2.05;0.86\n", encoding="utf-8")
    assert read_trial(path).used[0].idle == 0.86


def test_a_line_of_idle_time_or_rpm_is_no_idle_reading(tmp_path):
    path = tmp_path / "trial.csv"
    path.write_text("idle time;20;s\nidle rpm;2100\nrpm;load\n120;45\n132;44\n", encoding="utf-8")
    trial = read_trial(path)
    assert [reading.idle for reading in trial.used] == [0, 0]
    assert "Lines above the table that were not read: row 1 'idle time', row 2 'idle rpm'." in trial.remarks


@pytest.mark.parametrize("text", ["idle;0.2 kW\nrpm;load\n120;45\n", "rpm;load;idle (kW)\n120;45;0.2\n"])
def test_an_idle_reading_in_a_unit_needs_one_of_the_load(tmp_path, text):
    assert "idle must be in the unit of the load, which is not said (got " in refusal(tmp_path, text)
    assert read(tmp_path, text.replace("kW", "%")).used[0].idle == 0.2


def test_no_words_head_two_columns_or_name_two_values():
    heads = [(phrase, role) for role, known in PHRASES.items() for phrase in known]
    assert [(phrase, role_of(phrase)[0]) for phrase, _ in heads] == heads
    lines = [(called.strip(), word) for word, listed in _CALLED.items() for called in listed.split(",")]
    assert [(called, word_of(called)[0]) for called, _ in lines] == lines
    assert not {phrase for phrase, _ in heads} & {words(called) for called, _ in lines}


@pytest.mark.parametrize(
    "text, kind",
    [
        ("rpm;power;idle\n120;2,05 kW;0,86 kW\n132;1,99 kW;0,86 kW\n", "power"),
        ("rpm;power;idle\n120 1/min;2050 W;860 W\n2,2 Hz;1990 W;0,86 kW\n", "power"),
        ("rpm;power (W);idle (W)\n120;2,05 kW;860\n132;1990;860\n", "power"),
        ("rpm;power (kW);idle (W)\n120;2,05;0,86 kW\n132;1,99;860\n", "power"),
        ("rpm;load;idle\n120;2,05 %;0,86 %\n132;1,99 %;0,86\n", "relative"),
        ("rpm;load;idle\n120;2,05 kW;0,86 KW\n132;1,99 kw;0,86 kW\n", "relative"),
        ("rpm;load (strokes);idle\n120;2,05 %;0,86\n132;1,99;0,86\n", "relative"),
    ],
)
def test_units_in_the_cells_of_readings(tmp_path, text, kind):
    trial = read(tmp_path, text)
    assert [(reading.work_rpm, reading.load, reading.idle) for reading in trial.used] == [(120, 2.05, 0.86), (132, 1.99, 0.86)]
    assert trial.load_kind == kind and said(trial, " has units in its cells: ")


@pytest.mark.parametrize(
    "rows, got", [("120;2050 W;0,86 kW", "'W' and 'kW'"), ("120;2,05 kW;0,86\n132;1990 W;0,86", "'kW' and 'W'")]
)
def test_cells_of_a_load_without_unit_must_agree(tmp_path, rows, got):
    message = refusal(tmp_path, f"rpm;load;idle\n{rows}\n")
    assert message.endswith(f"load and idle must be in one unit, as their heading has none (got {got})")


def test_an_idle_reading_in_its_cell_needs_a_unit_of_the_load(tmp_path):
    assert "idle must be in the unit of the load, which is not said (got 'kW')" in refusal(
        tmp_path, "rpm;load;idle\n120;45;0,2 kW\n"
    )


def test_a_unit_in_a_cell_that_does_not_fit_its_column_leaves_the_row_out(tmp_path):
    trial = read(tmp_path, "rpm;power;idle\n120;2,05 A;0,86\n132;1,99;0,86\n")
    assert trial.left_out == ((2, "left out: load is not a number (its cell shows 'A', not kW)"),)


def test_infeed_rates_with_their_unit_in_the_cells(tmp_path):
    lines = "wheel diameter;200\nwheel speed;22\nwork diameter;20\nside;external\ngrit density;18,9\nshape ratio;10\n"
    trial = read(tmp_path, lines + "rpm;power;idle;infeed\n120;2,05;0,86;10 µm/s\n132;1,99;0,86;0,72 mm/min\n")
    assert [reading.infeed_rate for reading in trial.used] == [0.6, 0.72]
