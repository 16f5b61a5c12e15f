"""A file appears whole or not at all, never over another one, and nothing else is left behind."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from gritfuncs import files
from gritfuncs.files import refuse_existing, write_new

ROOT = Path(__file__).parents[1]
POSIX = pytest.mark.skipif(os.name == "nt", reason="signals and permissions of POSIX")


def child(script, *arguments, **more):
    """A process of its own that runs the script."""
    return subprocess.Popen(
        [sys.executable, "-c", script, *map(str, arguments)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        **{"preexec_fn": signals_as_usual, **more},
    )


def signals_as_usual():
    """A shell may start the tests with signals ignored, which a child would go on doing."""
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_DFL)


def test_a_file_has_its_content_and_the_permissions_of_any_new_file(tmp_path):
    write_new(tmp_path / "new", b"a\r\n\0")
    (tmp_path / "usual").write_bytes(b"")
    assert (tmp_path / "new").read_bytes() == b"a\r\n\0"
    assert (tmp_path / "new").stat().st_mode == (tmp_path / "usual").stat().st_mode
    assert sorted(os.listdir(tmp_path)) == ["new", "usual"]


@POSIX
@pytest.mark.parametrize("permissions", [0o600, 0o640, 0o444, 0o755])
def test_a_copy_is_as_private_as_its_original(tmp_path, permissions):
    (tmp_path / "original").write_bytes(b"")
    (tmp_path / "original").chmod(permissions)
    write_new(tmp_path / "copy", b"a", like=tmp_path / "original")
    assert (tmp_path / "copy").stat().st_mode & 0o777 == permissions


@POSIX
@pytest.mark.parametrize("links", [True, False])
def test_a_private_copy_shows_at_no_moment(tmp_path, links, monkeypatch):
    """While it is written, and while its name is claimed where files have one name only, nobody else may read or run it."""
    (tmp_path / "original").write_bytes(b"")
    (tmp_path / "original").chmod(0o600)
    seen, sync, replace = [], os.fsync, os.replace

    def look(then, *given):
        seen.extend((tmp_path / name).stat().st_mode & 0o777 for name in os.listdir(tmp_path))
        return then(*given)

    monkeypatch.setattr(os, "fsync", lambda descriptor: look(sync, descriptor))
    monkeypatch.setattr(os, "replace", lambda *names: look(replace, *names))
    if not links:
        monkeypatch.setattr(os, "link", nothing_links)
    write_new(tmp_path / "copy", b"a", like=tmp_path / "original")
    assert seen == [0o600] * (2 if links else 5)


def nothing_links(*_, **__):
    raise OSError(errno.EPERM, "no links here")


@pytest.fixture(params=["links", "no links"])
def either_file_system(request, monkeypatch):
    if request.param == "no links":
        monkeypatch.setattr(os, "link", nothing_links)


@pytest.mark.parametrize("kind", ["file", "folder", "link to nowhere", "link to a file"])
def test_what_is_there_stays(tmp_path, kind, monkeypatch, either_file_system):
    path, other = tmp_path / "taken", tmp_path / "other"
    if kind == "file":
        path.write_bytes(b"mine")
    elif kind == "folder":
        path.mkdir()
    else:
        path.symlink_to(other)
        if kind == "link to a file":
            other.write_bytes(b"mine")
    before = [(name, os.lstat(tmp_path / name)) for name in sorted(os.listdir(tmp_path))]
    with pytest.raises(ValueError, match="taken: must not exist yet$"):
        refuse_existing(path)
    for late in (False, True):  # late: it appears while the content is being written
        if late:
            monkeypatch.setattr(files, "refuse_existing", lambda path: None)
        with pytest.raises(ValueError, match="taken: must not exist yet$"):
            write_new(path, b"new")
    assert [(name, os.lstat(tmp_path / name)) for name in sorted(os.listdir(tmp_path))] == before


def test_of_many_writers_one_wins_and_the_others_are_told(tmp_path, either_file_system):
    start, told = threading.Barrier(8), []

    def write(number):
        start.wait()
        try:
            write_new(tmp_path / "one", bytes([number]) * 100_000)
            told.append(number)
        except ValueError as error:
            assert "must not exist yet" in str(error)
            told.append(None)

    threads = [threading.Thread(target=write, args=[number]) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    (winner,) = (number for number in told if number is not None)
    assert len(told) == 8 and (tmp_path / "one").read_bytes() == bytes([winner]) * 100_000 and os.listdir(tmp_path) == ["one"]


def test_a_name_as_long_as_names_can_be(tmp_path):
    write_new(tmp_path / ("a" * 251 + ".csv"), b"a")
    with pytest.raises(ValueError, match=r"a{300}: cannot be written \(File name too long\)"):
        write_new(tmp_path / ("a" * 300), b"a")
    assert os.listdir(tmp_path) == ["a" * 251 + ".csv"]


def test_a_place_that_is_no_folder(tmp_path):
    (tmp_path / "file").write_bytes(b"")
    for path in (tmp_path / "none" / "a.csv", tmp_path / "file" / "a.csv"):
        with pytest.raises(ValueError, match=r"a.csv: cannot be written \(No(t a| such file or) directory\)"):
            write_new(path, b"a")


def test_a_name_in_the_folder_at_hand(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    write_new("plain.txt", b"a")
    assert os.listdir(tmp_path) == ["plain.txt"]


# --- what ends a process, and a disk that is full

WAITS = """
import os, sys
from gritfuncs import files

def waiting(descriptor):
    print("writing", flush=True)
    import time
    time.sleep(60)

os.fsync = waiting
if sys.argv[2:] == ["ignored"]:
    import signal
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    os.fsync = lambda descriptor: os.kill(os.getpid(), signal.SIGHUP)
files.write_new(sys.argv[1], b"a" * 100_000)
"""


@POSIX
@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_a_process_that_is_ended_leaves_nothing(tmp_path, name):
    number = getattr(signal, name)
    with child(WAITS, tmp_path / "new") as process:
        assert process.stdout.readline() == "writing\n" and len(os.listdir(tmp_path)) == 1
        process.send_signal(number)
        errors = process.communicate(timeout=600)[1]
    assert process.returncode == -number and os.listdir(tmp_path) == []
    assert name == "SIGINT" or errors == ""  # the end of an interrupt is the command's to tell


@POSIX
def test_a_signal_that_is_ignored_stays_ignored(tmp_path):
    with child(WAITS, tmp_path / "new", "ignored") as process:
        process.communicate(timeout=600)
    assert process.returncode == 0 and os.listdir(tmp_path) == ["new"]


FULL = """
import resource, sys
from gritfuncs.files import write_new

resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000))
try:
    write_new(sys.argv[1], b"a" * 100_000)
except ValueError as error:
    print(error)
"""


@POSIX
def test_a_disk_that_is_full(tmp_path):
    with child(FULL, tmp_path / "new") as process:
        told = process.communicate(timeout=600)[0]
    assert told == f"{tmp_path / 'new'}: cannot be written (File too large)\n" and os.listdir(tmp_path) == []


@POSIX
def test_signals_are_as_before_once_it_is_written(tmp_path):
    before = [signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT)]
    write_new(tmp_path / "new", b"a")
    assert [signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT)] == before


# --- those who write files


@pytest.fixture
def two_templates(monkeypatch):
    from openpyxl import Workbook

    from gritfuncs.workbooks import templates

    monkeypatch.setattr(templates, "TEMPLATES", {"a.xlsx": Workbook, "b.xlsx": Workbook})
    return templates


def test_templates_go_on_where_they_were_interrupted(tmp_path, two_templates):
    for _ in two_templates.write_all(tmp_path / "new"):
        break  # as after a kill
    assert os.listdir(tmp_path / "new") == ["a.xlsx"]
    first = os.stat(tmp_path / "new" / "a.xlsx")
    assert [path.name for path in two_templates.write_all(tmp_path / "new")] == ["a.xlsx", "b.xlsx"]
    assert os.stat(tmp_path / "new" / "a.xlsx") == first
    with pytest.raises(ValueError, match="a.xlsx: must not exist yet"):
        list(two_templates.write_all(tmp_path / "new"))


@pytest.mark.parametrize("kind", ["another workbook", "folder", "link"])
def test_templates_write_nothing_beside_a_file_of_the_same_name(tmp_path, two_templates, kind):
    path = tmp_path / "b.xlsx"
    path.write_bytes(b"mine") if kind == "another workbook" else path.mkdir() if kind == "folder" else path.symlink_to("none")
    with pytest.raises(ValueError, match="b.xlsx: must not exist yet"):
        list(two_templates.write_all(tmp_path))
    assert os.listdir(tmp_path) == ["b.xlsx"]


def test_the_extension_has_its_ending_and_its_place(tmp_path):
    from gritfuncs.addins.calc import build_oxt

    with pytest.raises(ValueError, match=r"x.txt: must end in .oxt"):
        build_oxt(tmp_path / "x.txt")
    (tmp_path / "x.oxt").symlink_to("none")
    with pytest.raises(ValueError, match=r"x.oxt: must not exist yet$"):
        build_oxt(tmp_path / "x.oxt")
    assert os.listdir(tmp_path) == ["x.oxt"]


def test_the_folder_for_excel_is_whole_or_empty(tmp_path, monkeypatch):
    from gritfuncs.addins import excel

    written = []

    def once(path, content):
        if written:
            raise ValueError(f"{path}: cannot be written (No space left on device)")
        written.append(path)
        write_new(path, content)

    monkeypatch.setattr(excel, "write_new", once)
    with pytest.raises(ValueError, match="xlwings.conf: cannot be written"):
        excel.write_folder(tmp_path / "new")
    assert os.listdir(tmp_path / "new") == []
