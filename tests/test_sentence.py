"""Sentences on a trial say readings and depths in the terms of whoever tells them."""

from __future__ import annotations

import copy
import json

from gritfuncs.knee import find_knee
from gritfuncs.knee.sentence import DEPTH_UNIT, READING, Sentence, said

DEPTHS = (0.5, 0.7, 0.9, 1.1, 1.3, 1.5, 1.7, 1.9)
ENERGIES = (9.0, 7.2, 5.1, 3.0, 30.0, 3.1, 3.0, 2.9)  # the fifth by a slipped decimal


def test_a_sentence_is_a_text_that_can_be_said_otherwise():
    sentence = Sentence(f"{READING} stands at 0.9 {DEPTH_UNIT}", 2)
    assert sentence == "Reading 3 stands at 0.9 µm"
    assert said(sentence, ["a", "b", "the third one"], "in") == "The third one stands at 0.9 in"
    assert said("Reading 3 stands at 0.9 µm", ["a", "b", "c"], "in") == "Reading 3 stands at 0.9 µm"
    assert said(copy.deepcopy(sentence), ["a", "b", "c"]) == "C stands at 0.9 µm"
    assert json.loads(json.dumps([sentence])) == [sentence]


def test_the_report_of_a_knee_comes_in_the_terms_of_the_caller():
    knee = find_knee(DEPTHS, ENERGIES)
    assert knee.suspect == 4 and "Reading 5 is out of line" in knee.report()
    names = [f"reading in row {row}" for row in range(11, 19)]
    told = knee.report(readings=names, depth_unit="(relative)", per_depth="unit of depth", energy_unit="kW")
    assert "Reading in row 15 is out of line" in told and "repeat reading in row 15" in told
    assert "eading 5" not in told and "µm" not in told
    found = find_knee(DEPTHS, (9.0, 7.2, 5.1, 3.0, 3.0, 3.1, 3.0, 2.9))
    told = found.report(depth_unit="(relative)", per_depth="unit of depth", energy_unit="kW")
    assert found.verdict == "found" and "up to 1.106 (relative) and level off" in told
    assert "per unit of depth below the knee, in kW" in told and "µm" not in told and "unit of the readings" not in told
