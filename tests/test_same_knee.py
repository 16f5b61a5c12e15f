"""The page "is it the same knee?" shows what its models give."""

from __future__ import annotations

from pathlib import Path

import pytest
from evidence.same_knee import FALLS, LAWS, WAYS, moved

from gritfuncs.trial.ways import MAY_DIFFER

PAGE = (Path(__file__).parents[1] / "docs" / "same-knee.md").read_text(encoding="utf-8")
ROWS = [line.strip("|").split(" | ") for line in PAGE.splitlines() if " to " in line and line.startswith("|")]


def test_the_table_is_computed_anew():
    assert len(ROWS) == len(LAWS)
    for law, row in zip(LAWS, ROWS):
        for way, cell in zip(WAYS, row[2:]):
            shown = [float(number) for number in cell.strip(" |").split(" to ")]
            assert shown == pytest.approx([100 * moved(law, way, fall) for fall in FALLS], abs=0.051), (law, way)


def test_where_energy_follows_depth_alone_every_way_finds_the_same_knee():
    for law in ("sliding, constant pressure", "kinematic force law, 0.8"):
        for fall in FALLS:
            assert len({round(moved(law, way, fall), 9) for way in WAYS}) == 1


def test_what_the_report_says_of_another_way_is_what_the_models_give():
    worst = {way: max(abs(moved(law, way, fall) - moved(law, "rpm", fall)) for law in LAWS for fall in FALLS) for way in WAYS}
    assert {way: round(100 * off, 1) for way, off in worst.items()} == pytest.approx(
        {"rpm": 0, "infeed": 3.3, "rpm and infeed": 2.2, "wheel speed": 2.2}, abs=0.1
    )
    assert all(100 * worst[way] < MAY_DIFFER[way] + 0.5 for way in ("infeed", "rpm and infeed", "wheel speed"))
