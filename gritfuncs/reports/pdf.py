"""PDF of a page, by a program that is there: a browser of the Chromium family, which prints as its users know it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from ..files import refuse_existing, write_new
from ..refused import Unusable

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge", "microsoft-edge")
_ELSEWHERE = {
    "darwin": (
        "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
        "/Applications/Chromium.app/Contents/MacOS/Chromium",
        "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    ),
    "win32": (
        r"C:\Program Files\Google\Chrome\Application\chrome.exe",
        r"C:\Program Files (x86)\Google\Chrome\Application\chrome.exe",
        r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
        r"C:\Program Files\Microsoft\Edge\Application\msedge.exe",
    ),
}
PRINT_BY_HAND = "open the page in any browser and print it, on paper or into a PDF"
MISSING = f"no PDF: neither Chromium nor a browser of its kind nor LibreOffice was found; {PRINT_BY_HAND}"
_LONGEST = 120  # s


def browser() -> str | None:
    """The program that prints, or None where there is none."""
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    return found or next((path for path in _ELSEWHERE.get(sys.platform, ()) if Path(path).exists()), None)


def write_pdf(page: str, path: Path) -> None:
    """Print a page into a new PDF; Unusable in one line where no program here can."""
    refuse_existing(path)
    program = browser()
    if program is None:
        raise Unusable(MISSING)
    with tempfile.TemporaryDirectory(prefix="gritfuncs-") as folder:  # names of ours, whatever the user's are
        source, printed = Path(folder) / "page.html", Path(folder) / "page.pdf"
        source.write_bytes(page.encode("utf-8"))
        command = [
            program,
            "--headless",
            "--disable-gpu",
            "--no-first-run",
            f"--user-data-dir={Path(folder) / 'profile'}",
            "--no-pdf-header-footer",
            f"--print-to-pdf={printed}",
            *(["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),  # it refuses to run as root otherwise
            source.as_uri(),
        ]
        try:
            subprocess.run(command, capture_output=True, timeout=_LONGEST, check=False, stdin=subprocess.DEVNULL)
            content = printed.read_bytes()
        except (OSError, subprocess.TimeoutExpired):
            raise Unusable(f"no PDF: {Path(program).name} did not print it; {PRINT_BY_HAND}") from None
    write_new(path, content)
