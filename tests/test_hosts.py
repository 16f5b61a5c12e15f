"""The hosts, one record each, and what `check` says of them in every state that a machine can be in."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
import types
from pathlib import Path

import pytest
from libreoffice import LibreOffice

from gritfuncs import __version__, cli
from gritfuncs.addins import check
from gritfuncs.addins.calc import IDENTIFIER, build_oxt
from gritfuncs.addins.functions import FUNCTIONS
from gritfuncs.addins.hosts import CALC, HOSTS
from gritfuncs.addins.naming import sheet_name
from gritfuncs.commands.addin import ADD_INS
from gritfuncs.refused import Refused
from gritfuncs.share.names import NAMES

DOCS = Path(__file__).resolve().parent.parent / "docs"
POSIX = pytest.mark.skipif(os.name == "nt", reason="the stand-in for unopkg is a shell script")
# As LibreOffice 7.4 lists extensions; the parts inside have a line "is registered" of their own.
LISTED = """All deployed user extensions:

Identifier: org.example.other
  Version: 9.9
  URL: vnd.sun.star.expand:$UNO_USER_PACKAGES_CACHE/uno_packages/x.tmp_/other.oxt
  is registered: {other}
  Media-Type: application/vnd.sun.star.package-bundle
  Description:

Identifier: {identifier}
  Version: {version}
  URL: vnd.sun.star.expand:$UNO_USER_PACKAGES_CACHE/uno_packages/y.tmp_/gritfuncs.oxt
  is registered: {registered}
  Media-Type: application/vnd.sun.star.package-bundle
  Description:
  bundled Packages: {{
      URL: vnd.sun.star.expand:$UNO_USER_PACKAGES_CACHE/uno_packages/y.tmp_/gritfuncs.oxt/cells.idl
      is registered: yes
  }}
"""


def listed(identifier=IDENTIFIER, version=__version__, registered="yes", other="yes"):
    return LISTED.format(identifier=identifier, version=version, registered=registered, other=other)


@pytest.fixture
def unopkg(tmp_path, monkeypatch):
    """Puts a stand-in for LibreOffice's program on the path, which does what the lines of a shell script say."""

    def put(script):
        program = tmp_path / "unopkg"
        program.write_text("#!/bin/sh\n" + script)
        program.chmod(0o755)
        monkeypatch.setenv("PATH", os.pathsep.join([str(tmp_path), "/usr/bin", "/bin"]))
        return program

    return put


@pytest.fixture
def lists(unopkg, tmp_path):
    """Has the stand-in list these extensions of the user, and these of all users."""

    def put(mine, of_all="All deployed shared extensions:\n"):
        (tmp_path / "mine").write_text(mine)
        (tmp_path / "all").write_text(of_all)
        unopkg(f'[ "$2" = --shared ] && cat "{tmp_path}/all" || cat "{tmp_path}/mine"\n')

    return put


@POSIX
class TestCalc:
    def test_ready_when_the_extension_is_listed(self, lists):
        lists(listed())
        assert check.calc_state()[1:] == (check.READY, "the extension is installed", "type =GRIT_VERSION() into a cell")

    def test_ready_when_it_is_installed_for_all_users(self, lists):
        lists("All deployed user extensions:\n", listed())
        assert check.calc_state().state == check.READY

    @pytest.mark.parametrize("text", ["", "All deployed user extensions:\n", listed(identifier="org.gritfuncs.calculator")])
    def test_not_ready_when_it_is_not_listed(self, lists, text):
        lists(text)
        state = check.calc_state()
        assert state.state == check.NOT_READY and "not installed" in state.found
        assert f'"{shutil.which("unopkg")}" add -f' in state.next_step  # a path may have spaces

    def test_not_ready_when_it_is_switched_off(self, lists):
        lists(listed(registered="no"))
        assert (check.calc_state().state, check.calc_state().found) == (
            check.NOT_READY,
            "the extension is installed but switched off",
        )

    def test_ready_when_nothing_stands_before_it_in_the_list(self, lists):
        lists(listed().partition("\n\n")[2].partition("\n\n")[2])
        assert check.calc_state().state == check.READY

    def test_a_list_with_the_line_ends_of_windows_is_read(self, unopkg, tmp_path):
        (tmp_path / "mine").write_bytes(listed().replace("\n", "\r\n").encode())
        unopkg(f'cat "{tmp_path}/mine"\n')
        assert check.calc_state().state == check.READY

    def test_the_state_of_another_extension_does_not_count(self, lists):
        lists(listed(other="no"))
        assert check.calc_state().state == check.READY

    def test_not_ready_with_another_version(self, lists):
        lists(listed(version="0.0.9"))
        state = check.calc_state()
        assert state.state == check.NOT_READY and "0.0.9" in state.found and "add -f" in state.next_step

    def test_cannot_be_told_when_nothing_is_listed(self, unopkg):
        unopkg("echo ERROR: cannot run as root >&2\nexit 1\n")
        assert check.calc_state().state == check.UNKNOWN

    @pytest.mark.parametrize("refused", ["mine", "all"])
    @pytest.mark.parametrize("listed_in_other", [False, True])
    def test_of_one_list_alone_it_can_be_told_that_it_is_installed_and_not_that_it_is_none(
        self, unopkg, tmp_path, refused, listed_in_other
    ):
        """The administrator's own list is refused, and the user's while LibreOffice is open."""
        (tmp_path / "other").write_text(listed() if listed_in_other else "All deployed extensions:\n")
        sign = "=" if refused == "all" else "!="
        unopkg(f'[ "$2" {sign} --shared ] && exit 1; cat "{tmp_path}/other"\n')
        assert check.calc_state().state == (check.READY if listed_in_other else check.UNKNOWN)

    def test_a_list_with_an_error_is_no_list(self, unopkg, tmp_path):
        (tmp_path / "mine").write_text(listed())
        unopkg(f'cat "{tmp_path}/mine"\nexit 1\n')
        assert check.calc_state().state == check.UNKNOWN

    def test_cannot_be_told_when_it_cannot_be_run(self, unopkg, monkeypatch):
        unopkg("")

        def fails(*given, **options):
            raise OSError("no such interpreter")

        monkeypatch.setattr(subprocess, "run", fails)
        assert check.calc_state().state == check.UNKNOWN

    def test_it_does_not_wait_for_a_program_that_hangs(self, unopkg, monkeypatch):
        monkeypatch.setattr(check, "SECONDS", 0.2)
        unopkg("sleep 60 &\nwait\n")  # and leaves a child behind that keeps its output open
        begun = time.monotonic()
        assert check.calc_state().state == check.UNKNOWN
        assert time.monotonic() - begun < 50  # a busy machine takes its time

    def test_not_ready_without_libreoffice(self, tmp_path, monkeypatch):
        monkeypatch.setenv("PATH", str(tmp_path))
        monkeypatch.setattr(Path, "exists", lambda self: False)
        state = check.calc_state()
        assert state.state == check.NOT_READY and "was not found" in state.found

    def test_the_program_is_found_beside_soffice(self, tmp_path, unopkg, monkeypatch):
        program = unopkg("")
        hidden = tmp_path / "program"
        hidden.mkdir()
        program.rename(hidden / "unopkg.exe")
        (hidden / "soffice").write_text("#!/bin/sh\n")
        (hidden / "soffice").chmod(0o755)
        (tmp_path / "soffice").symlink_to(hidden / "soffice")
        monkeypatch.setenv("PATH", str(tmp_path))
        assert str(hidden / "unopkg.exe") in check.calc_state().next_step

    def test_a_python_environment_is_kept_from_it(self, unopkg, tmp_path, monkeypatch):
        monkeypatch.setenv("PYTHONHOME", "/nowhere")
        unopkg(f'echo "home=$PYTHONHOME" > "{tmp_path}/seen"\n')
        check.calc_state()
        assert (tmp_path / "seen").read_text() == "home=\n"


def test_libreoffice_itself_lists_the_extension_in_this_form(tmp_path):
    with LibreOffice([build_oxt(tmp_path / "gritfuncs.oxt")]) as office:
        found = check._INSTALLED.search(office.listed[0])
    assert (found["version"], found["registered"]) == (__version__, "yes")


class TestExcel:
    @pytest.fixture
    def windows(self, monkeypatch):
        """Makes this look like Windows, with Excel or without."""

        def put(installed):
            def open_key(root, name):
                if not installed:
                    raise FileNotFoundError(name)

            registry = types.SimpleNamespace(HKEY_CLASSES_ROOT=0, OpenKey=open_key, CloseKey=lambda key: None)
            monkeypatch.setitem(sys.modules, "winreg", registry)
            monkeypatch.setattr(sys, "platform", "win32")

        return put

    def test_elsewhere_it_is_not_ready(self, monkeypatch):
        monkeypatch.setattr(sys, "platform", "linux")
        assert check.excel_state().state == check.NOT_READY and "needs Excel on Windows" in check.excel_state().found
        assert NAMES.state().state == check.UNKNOWN

    @pytest.mark.parametrize("state", [check.excel_state, NAMES.state])
    def test_without_excel_it_is_not_ready(self, state, windows):
        windows(installed=False)
        assert state().state == check.NOT_READY and "not installed" in state().found

    @pytest.mark.parametrize("state", [check.excel_state, NAMES.state])
    def test_with_excel_only_a_cell_can_tell(self, state, windows):
        windows(installed=True)
        assert state().state == check.UNKNOWN and "ready" not in state().state


class TestRecords:
    def test_each_has_a_name_and_page_of_its_own(self):
        assert len(ADD_INS) == len(HOSTS) + 1
        for host in ADD_INS.values():
            assert host.name.isalpha() and (DOCS / host.page).exists()

    @pytest.mark.parametrize("host", ADD_INS.values(), ids=list(ADD_INS))
    def test_what_it_stores_is_known_again(self, host):
        for function in FUNCTIONS:
            assert sheet_name(host.spell(function.sheet_name)) == function.sheet_name

    @pytest.mark.parametrize(
        "words, said",
        [
            (["calc", "book.xlsx"], "BOOK or DIR must be left out"),
            (["excel", "folder", "--output", "x"], "--output must be left out"),
            (["names"], "BOOK must be given"),
            (["calc", "--output", "x.txt"], "x.txt: must end in .oxt"),
            (["numbers"], f"must be one of {', '.join(ADD_INS)} (got 'numbers')"),
        ],
    )
    def test_what_would_be_ignored_is_refused(self, words, said, tmp_path, monkeypatch, capsys):
        monkeypatch.chdir(tmp_path)
        try:
            assert cli.main(["addin", *words]) == cli.FAILED
        except SystemExit as end:
            assert end.code
        out, err = capsys.readouterr()
        assert said in err and err.count("\n") == 1 and not out and not list(tmp_path.iterdir())

    @POSIX
    def test_the_extension_is_not_written_through_a_link(self, tmp_path):
        (tmp_path / "gritfuncs.oxt").symlink_to(tmp_path / "elsewhere.oxt")
        with pytest.raises(Refused, match="must not exist yet"):
            list(CALC.make(None, tmp_path / "gritfuncs.oxt"))
        assert not (tmp_path / "elsewhere.oxt").exists()

    def test_check_tells_of_every_way(self, capsys):
        assert cli.main(["check"]) == cli.DONE
        said = capsys.readouterr().out
        assert said.count("    next: ") == len(ADD_INS) + 2
        titles = [host.state().title for host in ADD_INS.values()]
        heads = [line.partition(": ")[0] for line in said.splitlines() if not line.startswith(" ")]
        assert heads == ["Python and command line", *titles, "any spreadsheet, no add-in"]
