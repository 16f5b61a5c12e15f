"""The picture of docs/power-log.md: python3 docs/power_log_picture.py draws the simulated log of the example."""

from __future__ import annotations

import sys
from pathlib import Path

DOCS = Path(__file__).resolve().parent
sys.path.insert(0, str(DOCS.parent))

from gritfuncs import example  # noqa: E402
from gritfuncs.trial.log import read_log  # noqa: E402
from gritfuncs.trial.log.example import example_log  # noqa: E402

NAME = "power-log.svg"


def draw(path: Path) -> None:
    import numpy as np

    time, power = np.loadtxt(example_log().splitlines(), delimiter=",", skiprows=2, unpack=True)
    found = read_log(power=power, time=time, load_kind="power").parts
    rpm = np.full(len(time), np.nan)
    for part, (work_rpm, _, _) in zip(found, example.readings()):
        rpm[(time >= part.start - 2) & (time <= part.end)] = work_rpm
    path.unlink(missing_ok=True)
    read_log(power=power, time=time, rpm=rpm, load_kind="power").picture(path)
    path.write_text(path.read_text(encoding="utf-8").replace(">arrays:", ">Simulated log:"), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    draw(DOCS / "pictures" / NAME)
    print(f"written: docs/pictures/{NAME}")
