"""The hosts, one record each, and what `check` says of them in every state that a machine can be in."""

from __future__ import annotations

import os
import platform
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
from gritfuncs.addins.excel import instructions
from gritfuncs.addins.functions import FUNCTIONS
from gritfuncs.addins.hosts import CALC, EXCEL, HOSTS
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
        ours = f"Identifier: {IDENTIFIER}\n  Version: {__version__}\n"
        for state in ("", "  is registered: no\n"):
            lists(f"{ours}{state}\nIdentifier: org.example.other\n  Version: 9.9\n  is registered: yes\n")
            assert check.calc_state().state == check.NOT_READY

    @pytest.mark.parametrize(
        "mine, of_all, found",
        [
            (listed(version="0.0.9"), "", "the extension of version 0.0.9 is installed"),
            ("", listed(version="0.0.9"), "the extension of version 0.0.9 is installed"),
            (
                listed(version="0.0.9"),
                listed(),
                "the extension of version 0.0.9 is installed",
            ),  # the user's own is the one that runs
            (listed(), listed(version="0.0.9"), None),
            (listed(), listed(registered="no"), None),
            (listed(version="0.0.9", registered="no"), "", "the extension is installed but switched off"),
            (listed(registered="unknown"), "", "the extension is installed but switched off"),
            (listed(version=f"{__version__}.1"), "", f"the extension of version {__version__}.1 is installed"),
            ("", "", "the extension is not installed"),
        ],
    )
    def test_what_is_found_and_what_to_do_about_it(self, lists, mine, of_all, found):
        lists(mine, of_all)
        title, state, said, step = check.calc_state()
        assert (title, said) == ("LibreOffice Calc", found or "the extension is installed")
        assert state == ("not ready" if found else "ready")
        assert step == (
            "type =GRIT_VERSION() into a cell"
            if not found
            else "Tools > Extension Manager > Enable"
            if "switched off" in found
            else f'gritfuncs addin calc, then "{shutil.which("unopkg")}" add -f gritfuncs.oxt'
        )

    def test_a_name_in_another_alphabet_does_not_hide_it(self, unopkg, tmp_path):
        (tmp_path / "mine").write_bytes(b"Identifier: d\xe9j\xe0\n  Version: 1\n  is registered: yes\n\n" + listed().encode())
        unopkg(f'cat "{tmp_path}/mine"\n')
        assert check.calc_state().state == check.READY

    def test_a_line_that_only_ends_like_its_identifier_is_another(self, lists):
        lists(listed().replace("Identifier: ", "Old Identifier: "))
        assert check.calc_state().state == check.NOT_READY

    def test_an_identifier_is_taken_by_the_letter(self, lists):
        lists(listed(identifier=IDENTIFIER.replace(".", "-")))
        assert check.calc_state().state == check.NOT_READY

    def test_what_libreoffice_asks_is_not_waited_for_and_what_it_complains_of_not_shown(
        self, unopkg, tmp_path, monkeypatch, capfd
    ):
        monkeypatch.setattr(check, "SECONDS", 10)
        (tmp_path / "mine").write_text(listed())
        unopkg(f'read answer; echo warning >&2; cat "{tmp_path}/mine"\n')
        own, (ours, theirs) = os.dup(0), os.pipe()
        try:
            os.dup2(ours, 0)  # somebody at a keyboard who types nothing
            assert check.calc_state().state == check.READY
        finally:
            os.dup2(own, 0)
            for number in (own, ours, theirs):
                os.close(number)
        assert capfd.readouterr() == ("", "")

    def test_cannot_be_told_when_nothing_is_listed(self, unopkg):
        unopkg("echo ERROR: cannot run as root >&2\nexit 1\n")
        assert check.calc_state()[1:] == (
            "cannot be told from here",
            "LibreOffice did not list all its extensions (is it open, or is this the administrator?)",
            f'gritfuncs addin calc, then "{shutil.which("unopkg")}" add -f gritfuncs.oxt',
        )

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
        assert check.calc_state() == (
            "LibreOffice Calc",
            "not ready",
            "LibreOffice was not found",
            "install LibreOffice, then gritfuncs addin calc",
        )

    @pytest.mark.parametrize("folder", [r"C:\Program Files\LibreOffice\program", "/Applications/LibreOffice.app/Contents/MacOS"])
    @pytest.mark.parametrize("there", [("unopkg",), ("unopkg.exe", "unopkg"), ("unopkg.com", "unopkg.exe")])
    def test_the_program_is_found_in_the_customary_folders(self, tmp_path, monkeypatch, folder, there):
        """On Windows unopkg.com before unopkg.exe, which has no console."""
        monkeypatch.setenv("PATH", str(tmp_path))
        monkeypatch.setattr(Path, "exists", lambda path: str(path.parent) == folder and path.name in there)
        assert f'"{Path(folder, there[0])}" add -f gritfuncs.oxt' in check.calc_state().next_step

    def test_the_program_on_the_path_goes_before_that_beside_soffice(self, tmp_path, lists):
        lists(listed(registered="no"))
        (tmp_path / "elsewhere").mkdir()
        for name in ("soffice", "unopkg"):
            (tmp_path / "elsewhere" / name).write_text("#!/bin/sh\nexit 1\n")
            (tmp_path / "elsewhere" / name).chmod(0o755)
        (tmp_path / "soffice").symlink_to(tmp_path / "elsewhere" / "soffice")
        assert check.calc_state().found == "the extension is installed but switched off"

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

    def test_a_python_environment_is_kept_from_it_and_all_else_handed_on(self, unopkg, tmp_path, monkeypatch):
        for name in ("PYTHONHOME", "PYTHONPATH", "VIRTUAL_ENV", "HOME"):
            monkeypatch.setenv(name, "/nowhere")
        unopkg(f'echo "$PYTHONHOME,$PYTHONPATH,$VIRTUAL_ENV,$HOME" > "{tmp_path}/seen"\n')
        check.calc_state()
        assert (tmp_path / "seen").read_text() == ",,,/nowhere\n"


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
                if not installed or (root, name) != ("classes", "Excel.Application"):
                    raise FileNotFoundError(name)
                return "key"

            registry = types.SimpleNamespace(
                HKEY_CLASSES_ROOT="classes", HKEY_LOCAL_MACHINE="machine", OpenKey=open_key, CloseKey=closed.append
            )
            monkeypatch.setitem(sys.modules, "winreg", registry)
            monkeypatch.setattr(sys, "platform", "win32")
            return closed

        closed = []
        return put

    @pytest.mark.parametrize("platform, system", [("linux", "Linux"), ("darwin", "Darwin")])
    def test_elsewhere_it_is_not_ready(self, monkeypatch, platform, system):
        monkeypatch.setattr(sys, "platform", platform)
        monkeypatch.setattr("platform.system", lambda: system)
        assert not check.has_excel()
        assert check.excel_state() == (
            "Excel through xlwings",
            "not ready",
            f"needs Excel on Windows (this is {system})",
            "gritfuncs addin names BOOK, or gritfuncs share BOOK",
        )
        self.is_open_for_names()

    def is_open_for_names(self):
        assert NAMES.state() == (
            "Excel 365 names",
            "cannot be told from here",
            "nothing to install; Excel must know LAMBDA",
            "gritfuncs addin names BOOK",
        )

    def test_without_excel_it_is_not_ready(self, windows):
        windows(installed=False)
        rest = ("not ready", "Excel is not installed", "gritfuncs addin calc, for LibreOffice")
        assert check.excel_state() == ("Excel through xlwings", *rest)
        assert NAMES.state() == ("Excel 365 names", *rest)

    def test_with_excel_only_a_cell_can_tell(self, windows):
        closed = windows(installed=True)
        assert check.excel_state() == (
            "Excel through xlwings",
            "cannot be told from here",
            "Excel is installed; whether the functions are imported shows in Excel only",
            "type =GRIT_VERSION() into a cell; if that is #NAME?: gritfuncs addin excel DIR",
        )
        assert closed == ["key"]
        self.is_open_for_names()


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
            (["calc", "book.xlsx"], "BOOK or DIR must be left out, the extension is for all workbooks (got 'book.xlsx')"),
            (
                ["excel", "folder", "--output", "x"],
                "--output must be left out, the new folder is named right after excel (got 'x')",
            ),
            (["names"], "BOOK must be given: gritfuncs addin names BOOK (got nothing)"),
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

    @pytest.mark.parametrize("given", [[], ["--output", "own.oxt"]])
    def test_the_extension_comes_with_the_next_step(self, given, tmp_path, monkeypatch, capsys):
        monkeypatch.chdir(tmp_path)
        assert cli.main(["addin", "calc", *given]) == cli.DONE
        (path,) = (path.name for path in tmp_path.iterdir())
        assert path == (given[-1] if given else "gritfuncs.oxt") and f"default: {path}" in CALC.output or given
        assert capsys.readouterr().out == (
            f"{path}\nnext: Tools > Extension Manager > Add in LibreOffice, or: unopkg add {path}; then restart LibreOffice and "
            "type =GRIT_VERSION() into a cell\n"
        )

    @pytest.mark.parametrize("given", [[], ["mine"]])
    def test_the_folder_for_excel_comes_with_the_steps(self, given, tmp_path, monkeypatch, capsys):
        monkeypatch.chdir(tmp_path)
        assert cli.main(["addin", "excel", *given]) == cli.DONE
        (folder,) = (path.name for path in tmp_path.iterdir())
        assert folder == (given[0] if given else "gritfuncs-excel") and f"default: {folder}" in EXCEL.source or given
        written = [str(Path(folder, name)) for name in ("gritfuncs.xlsm", "xlwings.conf")]
        assert capsys.readouterr().out == "\n".join([*written, "", instructions()])
        assert {path.name for path in Path(folder).iterdir()} == {"gritfuncs.xlsm", "xlwings.conf"}

    def test_the_help_says_what_each_makes_and_takes(self, capsys):
        with pytest.raises(SystemExit):
            cli.main(["addin", "--help"])
        said = " ".join(capsys.readouterr().out.split())
        for sentence in (
            "excel: a folder with a workbook for xlwings, and the steps. calc: the extension for LibreOffice. names: a copy of BOOK "
            "with the functions as names for Excel 365.",
            "excel: the new folder (default: gritfuncs-excel); names: the workbook to copy",
            "calc: file to write (default: gritfuncs.oxt); names: file to write (default: BOOK with (names) in its name)",
        ):
            assert sentence in said

    @POSIX
    def test_the_extension_is_not_written_through_a_link(self, tmp_path):
        (tmp_path / "gritfuncs.oxt").symlink_to(tmp_path / "elsewhere.oxt")
        with pytest.raises(Refused, match="must not exist yet"):
            list(CALC.make(None, tmp_path / "gritfuncs.oxt"))
        assert not (tmp_path / "elsewhere.oxt").exists()

    def test_check_tells_of_every_way(self, capsys):
        assert cli.main(["check"]) == cli.DONE
        said = capsys.readouterr().out
        states = [host.state() for host in ADD_INS.values()]
        python = platform.python_version()
        first = ("Python and command line", "ready", f"gritfuncs {__version__} on Python {python}", "gritfuncs demo")
        last = ("any spreadsheet, no add-in", "ready", "native formulas only", "gritfuncs templates DIR, or gritfuncs share BOOK")
        blocks = [f"{title}: {state}\n    {found}\n    next: {step}\n" for title, state, found, step in (first, *states, last)]
        assert said == "".join(blocks)
