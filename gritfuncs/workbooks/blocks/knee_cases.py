"""The cases of the verdict on a knee, as cells decide them."""

from __future__ import annotations

from ...knee import ALREADY_LEVEL, FOUND, NOT_RESOLVED, STILL_FALLING, TOO_FEW, thresholds
from ...knee import verdict as words

# Each case of the verdict: its word, what was seen, what to do next.
CASES = (
    (FOUND, "The readings fall up to the knee and level off there.", ""),
    (FOUND, "The readings fall along a curve up to the knee and level off there.", ""),
    (STILL_FALLING, "A straight fall without a knee fits the readings as well.", words.HIGHER),
    (STILL_FALLING, "The fall changes within the range but goes on.", words.HIGHER),
    (ALREADY_LEVEL, f"Any knee lies below these depths. {words.SUBTRACT}", words.LOWER),
    (NOT_RESOLVED, f"The readings rise with depth; before a knee they fall. {words.WHEEL}", words.OUT_AND_BACK),
    (NOT_RESOLVED, f"The readings fall and rise again. {words.WHEEL}", words.OUT_AND_BACK),
    (NOT_RESOLVED, f"The scatter is as large as any fall. {words.SUBTRACT}", words.WIDER_MORE),
    (NOT_RESOLVED, "A straight fall fits the readings about as well as one with a knee.", words.WIDER_MORE),
    (NOT_RESOLVED, "The knee may lie anywhere in the range.", words.WIDER_MORE),
    (NOT_RESOLVED, "Too few depths lie below the knee to see the fall.", words.LOWER),
    (NOT_RESOLVED, "A curved fall without a knee fits the readings about as well.", words.WIDER_MORE),
    (NOT_RESOLVED, "Too few depths lie beyond the knee to see a level.", words.HIGHER),
    (NOT_RESOLVED, "The readings beyond the knee may still be falling.", words.HIGHER),
    (NOT_RESOLVED, "The knee may lie in too wide a span to set a machine by.", words.MORE),
    (NOT_RESOLVED, "All readings are the same and not above zero.", words.CHECK_METER),
    (TOO_FEW, f"A knee needs at least {thresholds.MIN_READINGS} readings at {thresholds.MIN_DEPTHS} depths.", words.MORE_DEPTHS),
    ("no verdict", "A reading is an error value.", "mend the readings"),
    ("no verdict", "Depths must be > 0 µm.", "mend the readings"),
    ("no verdict", "The noise must be > 0 and < 1, a share of the level.", "mend the noise"),
    ("no verdict", "The readings cannot be computed with.", "mend the readings"),
)
(
    IS_FOUND,
    IS_CURVED,
    IS_FALLING,
    IS_BENDS,
    IS_LEVEL,
    IS_RISES,
    IS_AGAIN,
    IS_SCATTER,
    IS_LINE,
    IS_ANYWHERE,
    IS_LOW,
    IS_CURVE,
    IS_HIGH,
    IS_GOES_ON,
    IS_WIDE,
    IS_DEAD,
    IS_FEW,
    IS_ERROR,
    IS_DEPTH,
    IS_NOISE,
    IS_FAILED,
) = range(1, len(CASES) + 1)
