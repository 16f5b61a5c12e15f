"""Sentences on a trial that keep apart what they speak of: the reading and the unit of depth.  Standard library only."""

from __future__ import annotations

READING, DEPTH_UNIT = "{reading}", "{depth_unit}"  # where they stand in the words of a sentence


class Sentence(str):
    """A sentence, as a text with readings by their number and depths in µm; `said` gives it in a caller's own terms.

    words : the sentence, with READING and DEPTH_UNIT in their places
    number : position of the reading it speaks of, from 0; None where it speaks of none
    """

    words: str
    number: int | None

    def __new__(cls, words: str, number: int | None = None) -> Sentence:
        sentence = super().__new__(cls, _filled(words, "" if number is None else name_of(number), "µm"))
        sentence.words, sentence.number = words, number
        return sentence


def _filled(words: str, reading: str, depth_unit: str) -> str:
    if words.startswith(READING):
        reading = reading[:1].upper() + reading[1:]
    return words.replace(READING, reading).replace(DEPTH_UNIT, depth_unit)


def name_of(number: int, readings: list[str] | None = None) -> str:
    """What a reading is called: its name, or by its number from 1."""
    return f"reading {number + 1}" if readings is None else readings[number]


def said(sentence: str, readings: list[str] | None = None, depth_unit: str = "µm") -> str:
    """A sentence with the readings under these names, in their order, and depths in this unit; any other text as it is."""
    if not isinstance(sentence, Sentence):
        return sentence
    number = sentence.number
    return _filled(sentence.words, "" if number is None else name_of(number, readings), depth_unit)
