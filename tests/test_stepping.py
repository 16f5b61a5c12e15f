"""Simulated trials by each way of stepping: few false knees, and a wrong idle that the pair makes harmless."""

from __future__ import annotations

import pytest
from evidence import page, stepping

BOTH = "rpm and infeed ±40 %, with the pair"


@pytest.mark.parametrize("idle", [0.0, 0.05])
@pytest.mark.parametrize("shape", stepping.SHAPES_WITHOUT)
@pytest.mark.parametrize("way", [way for way in stepping.WAYS if "±40" in way])
def test_no_knee_is_found_where_there_is_none(way, shape, idle):
    assert (
        stepping.row(way, 0.02, idle, 100, (shape,))[1] <= 3
    )  # 1 of 100 is meant; 4 or more in 100 then come by chance in 2 of 100 runs


def test_with_the_pair_a_wrong_idle_does_no_harm_and_combined_steps_find_more():
    right, wrong = (stepping.row(BOTH, 0.02, idle, 80) for idle in (0.0, 0.2))
    assert min(right[1], wrong[1]) > 70 and max(right[2], wrong[2]) <= 6
    assert stepping.row("rpm ±40 %", 0.02, 0.0, 80)[1] < 60


def test_the_section_of_the_page(monkeypatch):
    monkeypatch.setattr(stepping, "TRIALS", 2)
    assert stepping.page_row(*stepping.ROWS[0])[:2] == [stepping.ROWS[0][0], "0 %"]
    assert "All simulated" in page.steps([["rpm", "0 %", "1", "2", "3", "4"]])
