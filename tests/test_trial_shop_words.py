"""Every word that a trial file may say, as shops write it: data/shop_words.txt, tried in files."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest

from gritfuncs.refused import Refused
from gritfuncs.trial import read_trial

UNITS = {"work_rpm": "1/min", "power": "kW", "current": "A", "load": "%", "grit_depth": "µm", "specific_energy": "J/mm³"}
KINDS = {"power": "power", "current": "current", "load": "relative", "specific_energy": "specific_energy"}
VALUES = {  # what a line may say, where that is no number
    "side": "flat",
    "designation": "D126",
    "infeed_basis": "radius",
    "load_kind": "power",
    "decimal": "point",
    "date": "2026-11-05",
}


def groups():
    found, name = {}, ""
    for line in (Path(__file__).parent / "data" / "shop_words.txt").read_text(encoding="utf-8").split("\n"):
        if line.startswith("["):
            name = line.strip("[]")
            found[name] = ""
        elif name:
            found[name] += f" {line}"
    return {name: [word.strip() for word in text.split(",")] for name, text in found.items()}


WORDS = groups()
CAPITALS = 2  # of this many words one is tried in capital letters without accents, too


def spellings(group):
    """Each word of a group as it is written, and every other one as where small letters and accents are not at hand."""
    for place, word in enumerate(WORDS[group]):
        yield word
        if place % CAPITALS == 0:
            bare = unicodedata.normalize("NFKD", word.upper())
            yield "".join(sign for sign in bare if not unicodedata.combining(sign))


def of(kind):
    """What the groups that begin with these words are of."""
    return [name.removeprefix(kind) for name in WORDS if name.startswith(kind)]


@pytest.fixture
def read(tmp_path):
    def written(text, **options):
        path = tmp_path / "trial.csv"
        path.write_text(text, encoding="utf-8")
        return read_trial(path, **options)

    return written


def with_column(heading, role, cell=""):
    """A trial with what it needs, of which one column is headed so."""
    if role in ("work_rpm", "grit_depth"):
        return f"{heading};power\n120;2\n"
    if role in KINDS:
        return f"rpm;{heading}\n120;2\n"
    return f"rpm;{'current' if heading.lower() == 'i0' else 'power'};{heading}\n120;2;{cell}\n"


@pytest.mark.parametrize("role", of("heading of "))
def test_a_heading_heads_its_column_by_any_word(read, role):
    cells = {"idle": "0.5", "use": "no", "note": "seen", "damage": "seen"}
    for heading in spellings(f"heading of {role}"):
        if role == "time":
            with pytest.raises(Refused, match="looks like a log over time"):
                read(f"{heading};power\n120;2\n")
            continue
        trial = read(with_column(heading, role, cells.get(role, "")))
        (reading,) = trial.readings
        if role in ("work_rpm", "grit_depth"):
            assert (reading.work_rpm, reading.depth)[role == "grit_depth"] == 120, heading
            assert trial.depth_given == (role == "grit_depth"), heading
        elif role in KINDS:
            assert trial.load_kind == KINDS[role], heading
        else:
            seen = {"idle": reading.idle, "use": reading.kind, "note": reading.note, "damage": reading.damage}
            assert seen[role] == {"idle": 0.5, "use": "excluded"}.get(role, "seen"), heading


@pytest.mark.parametrize("role", of("with its unit a heading of "))
def test_a_short_word_heads_a_column_by_its_unit_alone(read, role):
    for heading in ("", *spellings(f"with its unit a heading of {role}")):
        if (heading, role) in (("", "load"), ("", "grit_depth")):
            continue  # percent or micrometres alone may be of anything
        trial = read(with_column(f"{heading} [{UNITS[role]}]", role))
        if role in KINDS:
            assert trial.load_kind == KINDS[role], heading
        else:
            assert trial.depth_given == (role == "grit_depth") and len(trial.used) == 1, heading
        others = WORDS["heading of power"] + WORDS["heading of current"]
        if heading.lower() not in map(str.lower, others) and not unicodedata.normalize("NFKD", heading).isupper():
            with pytest.raises(Refused):
                read(with_column(heading, role))


@pytest.mark.parametrize("group", ["load with idle in it", "beside idle"])
def test_what_is_not_the_idle_reading_is_not_taken_off(read, group):
    for heading in spellings(group):
        (reading,) = read(with_column(heading, "", "0.5")).used
        assert reading.idle == 0, heading


@pytest.mark.parametrize("word", of("line of "))
def test_a_line_gives_its_value_by_any_word(read, word):
    value = VALUES.get(word, "0.5")
    for label in spellings(f"line of {word}"):
        trial = read(f"{label};{value}\nrpm;power\n120;2\n")
        said = {"flat": "flat", "0.5": 0.5}.get(value, value)
        assert trial.given.values.get(word) == said, label
        assert not any("Lines above the table" in remark for remark in trial.remarks), label


@pytest.mark.parametrize("side", of("side "))
def test_a_side_is_known_by_any_word(read, side):
    for word in spellings(f"side {side}"):
        assert read(f"side;{word}\nrpm;power\n120;2\n").given.values["side"] == side, word


def test_a_row_below_the_readings_is_a_total_by_any_word(read):
    for word in spellings("total"):
        trial = read(f"Nr;rpm;power\n1;120;2\n2;132;1.9\n{word};252;3.9\n")
        assert trial.left_out == ((4, f"left out: rpm is not a number (the row is {word!r} of others)"),), word


@pytest.mark.parametrize(
    "group, cells, says",
    [
        ("may be a setting", ("20", "30"), "CHECK: '{}' may be an infeed rate, wheel speed or diameter."),
        ("may say which rows count", ("yes", "no"), "CHECK: '{}' may say which rows count, and was not read"),
    ],
)
def test_a_column_that_may_matter_is_pointed_out_by_any_word(read, group, cells, says):
    for heading in spellings(group):
        remarks = read(f"rpm;power;{heading}\n120;2;{cells[0]}\n132;1.9;{cells[1]}\n").remarks
        assert any(remark.startswith(says.format(heading)) for remark in remarks), heading


def test_a_line_that_may_be_the_mark_is_pointed_out_by_any_word(read):
    for label in spellings("may be the mark"):
        remarks = read(f"{label};20\nrpm;power\n120;2\n").remarks
        said = f"CHECK: row 1 '{label}' may be the highest speed marked on the wheel."
        assert any(remark.startswith(said) for remark in remarks), label


@pytest.mark.parametrize("group, rate", [("on the diameter", 0.6), ("on the radius", 1.2)])
def test_the_infeed_is_on_the_diameter_or_on_the_radius_by_any_word(read, group, rate):
    for said in WORDS[group]:
        lines = [f"infeed rate ({said});1.2", f"infeed rate;1.2;{said}", f"infeed_basis;{said}\ninfeed rate;1.2"]
        for line in [*lines, *([f"infeed rate {said};1.2"] if " " in said else [])]:
            assert read(f"{line}\nrpm;power\n120;2\n").infeed_rate == rate, line
        heads = f"wheel speed;20\nrpm;power;idle;infeed\n1/min;kW;kW;{said}\n"
        readings = read(f"{heads}120;2;0.5;1.2\n132;2;0.5;1.2\n").used
        assert len(readings) == 2, said
