"""Set up a test environment of its own and run all tests: python3 tests/run.py [pytest arguments].

Creates .venv-tests, installs the project with what the tests need, and LibreOffice where apt and root allow it.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ENVIRONMENT = ROOT / ".venv-tests"
PYTHON = ENVIRONMENT / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
DEBIAN_PACKAGES = ("libreoffice-calc", "python3-uno", "libreoffice-script-provider-python", "poppler-utils")


def main() -> int:
    if not prepare("test"):
        return 1
    if not sys.argv[1:] and not is_tidy():
        return 1
    say("running the tests")
    arguments = sys.argv[1:] or ["-n", str(min(4, os.cpu_count() or 1)), "--dist", "loadfile"]
    return subprocess.run([PYTHON, "-m", "pytest", *arguments], cwd=ROOT).returncode


def is_tidy() -> bool:
    """What needs no running: style, one form of all code, types of the core."""
    say("checking style and types")
    checks = (("ruff", "check", "-q"), ("ruff", "format", "-q", "--check"), ("mypy",))
    return all(subprocess.run([PYTHON, "-m", *check], cwd=ROOT).returncode == 0 for check in checks)


def prepare(extras: str) -> bool:
    """The environment with the project and these of its extras; False, after saying what is missing, when it cannot be set up."""
    if sys.version_info < (3, 9):
        print(f"Python 3.9 or newer is needed (this is {sys.version.split()[0]})", file=sys.stderr)
        return False
    if not libreoffice_is_ready() and not install_libreoffice():
        print(
            "LibreOffice with Python support is needed for the tests and could not be installed from here.\n"
            f"  Debian, Ubuntu: sudo apt-get install {' '.join(DEBIAN_PACKAGES)}\n"
            "  Fedora: sudo dnf install libreoffice-calc libreoffice-pyuno poppler-utils\n"
            "  elsewhere: install LibreOffice so that `soffice` is on PATH and a Python on PATH can `import uno`\n"
            "then run this command again.",
            file=sys.stderr,
        )
        return False
    if not PYTHON.exists():
        say(f"creating {ENVIRONMENT.name}")
        venv.create(ENVIRONMENT, with_pip=True)
    say("installing the project and what its tests need")
    subprocess.run(
        [PYTHON, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--editable", f"{ROOT}[{extras}]"], check=True
    )
    return True


def again_inside(script: Path, *arguments: str) -> int:
    """Run a script of the tests once more with --here, in the environment with the libraries to compare with; its exit code."""
    if not prepare("test,evidence"):
        return 1
    return subprocess.run([PYTHON, script, "--here", *arguments]).returncode


def say(text: str) -> None:
    print(f"== {text}", flush=True)


def libreoffice_is_ready() -> bool:
    """soffice is on PATH, and some Python on PATH can talk to it."""
    folders = os.environ.get("PATH", "").split(os.pathsep)
    pythons = [Path(folder, "python3") for folder in folders if Path(folder, "python3").exists()]
    return (
        shutil.which("soffice") is not None
        and shutil.which("pdftoppm") is not None
        and any(subprocess.run([python, "-c", "import uno"], capture_output=True).returncode == 0 for python in pythons)
    )


def install_libreoffice() -> bool:
    if shutil.which("apt-get") is None or not hasattr(os, "geteuid") or os.geteuid() != 0:
        return False
    say("installing LibreOffice with apt (a few minutes)")
    quiet = dict(env={**os.environ, "DEBIAN_FRONTEND": "noninteractive"}, stdout=subprocess.DEVNULL)
    subprocess.run(["apt-get", "update", "-qq"], **quiet)
    subprocess.run(["apt-get", "install", "-y", "-qq", "--no-install-recommends", *DEBIAN_PACKAGES], **quiet)
    return libreoffice_is_ready()


if __name__ == "__main__":
    sys.exit(main())
