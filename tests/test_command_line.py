"""The frame around the commands: help that fits, JSON as its schema says, exit codes as documented, the tab key."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from test_commands import run  # noqa: F401  (a fixture)

from gritfuncs import cli, demo
from gritfuncs.commands import COMMANDS

DOCS = Path(__file__).resolve().parent.parent / "docs"
NAMES = [command.name for command in COMMANDS]


@pytest.fixture(scope="module")
def schema():
    return json.loads((DOCS / "output.schema.json").read_text(encoding="utf-8"))


@pytest.fixture
def shop(run, tmp_path, monkeypatch):  # noqa: F811
    """Runs a command line in a folder with readings; gives exit code, what was printed and what went to standard error."""
    monkeypatch.chdir(tmp_path)
    Path("readings.csv").write_text(demo.readings_text(), encoding="utf-8")
    Path("since.csv").write_text(demo.readings_text().replace("84,2.18", "84,2.2"), encoding="utf-8")
    Path("bare.csv").write_text("rpm;load\n100;2\n110;3\n", encoding="utf-8")
    return run


def valid(schema, name, text):
    jsonschema.Draft202012Validator({**schema, "$ref": f"#/$defs/{name}"}).validate(json.loads(text))
    return True


TEXTS = "--wheel w --material m --machine m --who w --grit D126 --key A"
PRINTED = [
    ("knee", "knee readings.csv bare.csv none.csv --json"),
    ("compare", "compare readings.csv readings.csv --names a,b --dates 2026-01-05,2026-03-02 --json"),
    ("compare", "compare readings.csv readings.csv --json"),
    ("next", "next readings.csv --json"),
    ("next", "next bare.csv --json"),
    ("plan", "plan --nominal-rpm 120 --highest-work-rpm 130 --json"),
    ("plan", "plan --nominal-rpm 120 --json --log"),
    ("plan", "plan --nominal-rpm 120 --json --sweep 0.8"),
    ("table", "table --trial readings.csv --work-diameters 12;20 --json"),
    ("record", f"record add readings.csv {TEXTS} --json"),
    ("record", "record list --json"),
    ("record", "record show A --json"),
    ("confirm", "confirm --record A --json"),
    ("confirm", "confirm since.csv --record A --json"),
    ("table", "table --record A --json"),
]


def test_what_is_printed_as_json_is_what_the_schema_says(shop, schema):
    jsonschema.Draft202012Validator.check_schema(schema)
    for name, line in PRINTED:
        code, out, err = shop(*line.split())
        assert out and valid(schema, name, out), (line, err)
    with_json = {
        command.name for command in COMMANDS if any("--json" in each.option_strings for each in _parser(command).arguments)
    }
    assert with_json == {name for name, _ in PRINTED} and with_json <= set(schema["$defs"])


def test_the_schema_would_notice_a_field_more_less_or_of_another_kind(shop, schema):
    (trial,) = json.loads(shop("knee", "readings.csv", "--json")[1])
    for wrong in ({**trial, "more": 1}, {key: trial[key] for key in list(trial)[1:]}, {**trial, "knee_rpm": "120"}):
        with pytest.raises(jsonschema.ValidationError):
            valid(schema, "knee", json.dumps([wrong]))


def _parser(command):
    parser = cli.Parser(add_help=False)
    command.add(parser)
    return parser


@pytest.mark.parametrize("name", ["", *NAMES])
def test_help_fits_a_terminal_of_eighty_columns(name, run, monkeypatch):  # noqa: F811
    monkeypatch.setenv("COLUMNS", "80")
    code, out, _ = run(*filter(None, [name]), "--help")
    assert code == 0 and [line for line in out.splitlines() if len(line) > 80] == []
    head = "setup: What stays the same in a trial; the report says where each value came from. --setup FILE "
    assert (head in " ".join(out.split())) == ("  --setup FILE" in out)


CODES = [
    (0, "knee readings.csv"),
    (0, ""),
    (0, "--help"),
    (1, "knee none.csv"),
    (1, "knee readings.csv none.csv"),
    (1, "table"),
    (1, "record show B"),
    (1, "setup --setup none.toml"),
    (1, "demo ."),
    (2, "knee"),
    (2, "zzz"),
    (2, "plan --nominal-rpm x"),
    (2, "table --work-diameters 12 --infeed-rates 0,3,0,6"),
    (2, "record remove A"),
]


@pytest.mark.parametrize(
    "line, says",
    [
        ("knee readings.csv --write a.ods", "knee: a.ods: must end in .xlsx"),
        ("table --trial readings.csv --write a.csv", "table: a.csv: must end in .xlsx"),
        (f"record add readings.csv {TEXTS} --file a.ods", "record: a.ods: must end in .xlsx"),
        ("setup --new press7.txt", "setup: press7.txt: must end in .toml"),
        ("setup --new readings.csv", "setup: readings.csv: must end in .toml"),
    ],
)
def test_no_file_is_written_under_the_ending_of_another_kind(line, says, shop):
    before = sorted(os.listdir())
    assert shop(*line.split()) == (1, "", f"gritfuncs {says}\n")
    assert sorted(os.listdir()) == before


def test_a_table_says_where_its_powers_lack_the_idle_power(shop):
    line = "table --trial readings.csv --work-diameters 20 --infeed-rates 0.6".split()
    assert "The idle power is not known" in shop(*line, "--idle-power", "0")[1]
    assert "The idle power is not known" not in shop(*line, "--idle-power", "1")[1] + shop(*line)[1]


def test_a_number_with_an_exponent_has_no_unit(shop):
    assert shop("plan", "--nominal-rpm", "1.2e2")[0] == 0
    assert "there is no more: is it in another unit? (got '1e9')" in shop("plan", "--nominal-rpm", "1e9")[2]


@pytest.mark.parametrize("code, line", CODES)
def test_exit_codes_are_those_of_the_table(code, line, shop):
    ended, out, err = shop(*line.split())
    assert ended == code and (code == 0) == (err == "") and (code == 0 or err.count("\n") == 1)
    table = (DOCS / "commands.md").read_text(encoding="utf-8").partition("## Exit codes")[2].partition("\n## ")[0]
    documented = {int(number) for number in re.findall(r"^\| (\d+) \|", table, re.MULTILINE)}
    assert documented == {each for each, _ in CODES} | {cli.STOPPED}


@pytest.mark.skipif(os.name == "nt", reason="shells that complete are those of POSIX")
@pytest.mark.parametrize("typed, offered", [("gritfuncs kn", {"knee "}), ("gritfuncs knee --wheel-s", {"--wheel-speed "})])
def test_the_tab_key_completes(typed, offered, tmp_path):
    path = tmp_path / "offered"
    environment = {
        **os.environ,
        "_ARGCOMPLETE": "1",
        "_ARGCOMPLETE_STDOUT_FILENAME": str(path),
        "COMP_LINE": typed,
        "COMP_POINT": str(len(typed)),
        "PYTHONPATH": os.pathsep.join(sys.path),
    }
    subprocess.run([sys.executable, "-m", "gritfuncs"], env=environment, capture_output=True, timeout=600)
    assert set(path.read_text(encoding="utf-8").split("\013")) == offered
