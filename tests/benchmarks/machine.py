"""What the benchmarks ran on, without names of hosts or folders."""

from __future__ import annotations

import os
import platform
import shutil
import subprocess
from importlib import metadata
from pathlib import Path

PACKAGES = ("numpy", "scipy", "openpyxl", "pwlf", "piecewise-regression", "kneed")


def machine():
    """[(what, value)] of the machine and of the programs."""
    return [
        ("processor", _processor()),
        ("cores", str(os.cpu_count())),
        ("memory", _memory()),
        ("load when it began", _load()),
        ("system", _system()),
    ] + [("Python", platform.python_version()), *((name, _version(name)) for name in PACKAGES), ("LibreOffice", libreoffice())]


def _processor():
    listed = Path("/proc/cpuinfo")
    names = (
        [line.partition(":")[2].strip() for line in listed.read_text().splitlines() if line.startswith("model name")]
        if listed.exists()
        else []
    )
    return f"{names[0] if names else platform.processor() or 'unknown'}, {platform.machine()}"


def _memory():
    try:
        return f"{os.sysconf('SC_PAGE_SIZE') * os.sysconf('SC_PHYS_PAGES') / 2**30:.0f} GiB"
    except (AttributeError, ValueError, OSError):
        return "unknown"


def _load():
    """Programs that wanted to run in the last minute: above the number of cores others slowed both sides."""
    return f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"


def _system():
    listed = Path("/etc/os-release")
    names = (
        [line.partition("=")[2].strip('"') for line in listed.read_text().splitlines() if line.startswith("PRETTY_NAME=")]
        if listed.exists()
        else []
    )
    return names[0] if names else f"{platform.system()} {platform.release()}"


def _version(package):
    try:
        return metadata.version(package)
    except metadata.PackageNotFoundError:
        return "not installed"


def libreoffice():
    if not shutil.which("soffice"):
        return "not installed"
    said = subprocess.run(["soffice", "--version"], capture_output=True, text=True, check=False).stdout.split()
    return said[1] if len(said) > 1 else "unknown"
