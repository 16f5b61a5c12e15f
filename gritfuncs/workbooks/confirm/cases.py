"""The cases of the answer on a recorded knee, in the order in which they are asked for."""

from __future__ import annotations

from ...knee import confirm

# STARTING means that something is still to be filled in.
(STARTING, DAMAGE, NARROW, READING, HOT, NO_FIT, OPEN, MOVED, WIDE, CONFIRMED) = range(10)
WORDS = {
    STARTING: "",
    DAMAGE: confirm.CHANGED,
    NARROW: confirm.GO_ON,
    READING: confirm.GO_ON,
    HOT: confirm.GO_ON,
    NO_FIT: confirm.CHANGED,
    OPEN: confirm.GO_ON,
    MOVED: confirm.CHANGED,
    WIDE: confirm.GO_ON,
    CONFIRMED: confirm.CONFIRMED,
}
