"""Every threshold of the knee's rule and its kind: principled (follows from statistics) or convention."""

# Principled: the hinge has 3 parameters; 3 degrees of freedom are left to judge the scatter ...
from __future__ import annotations

MIN_READINGS = 6
# ... and with 5 depths, two can lie strictly on each side of the knee.
MIN_DEPTHS = 5

# Convention: depths computed in cells may differ in their last bits and still be one depth (relative).
SAME_DEPTH = 1e-9
# Convention: depths closer than this share of the tested range count as one (a rotational speed read from the
# machine is never twice the same); the fits still use them as they are.
SAME_PLACE = 0.02
# Principled: sums of squares carry 16 digits; a gain smaller than this share is rounding.
ROUNDING = 1e-12
# Convention: beyond these sizes squares overflow or vanish, and no machine shows such a reading.
LARGEST = 1e100
SMALLEST = 1e-100

# Convention, the usual one: intervals and tests hold in 95 of 100 trials.
CONFIDENCE = 0.95

# Convention: reading-to-reading scatter of a good trial, as a share of the level; for want of repeats.
DEFAULT_NOISE = 0.01
# Convention: repeats that agree better than this show a coarse meter or luck, not a better trial.
MINIMUM_NOISE = 0.005
# Convention: a level below this share of the largest reading is no measure for scatter and falls.
LEAST_LEVEL = 0.01
# Principled: fewer degrees of freedom (fewer than three repeats of one depth) say next to nothing.
MIN_REPEAT_FREEDOM = 2

# Convention: a fall of at most this share of the level is no fall worth setting a machine by.
LEVEL_FALL = 0.10
# Convention: with a straight line possible, a lower bound is worth stating from this share of the range.
LOWER_BOUND_SHARE = 0.5
# Convention: slope beyond the corner, as a share of the slope before it, up to which it counts as level ...
GENTLE_RATIO = 0.25
# ... provided the readings beyond the corner do not fall by more than this share after all.
GENTLE_FALL = 0.30
# Convention: the curve counts as levelled when a corner that keeps this share of the slope is excluded ...
REJECTED_RATIO = 0.5
# ... with this confidence (principled test).
REJECTED_CONFIDENCE = 0.90
# Convention: a knee known no better than +/- this share of itself does not set a machine ...
MAX_HALF_WIDTH = 0.20
# ... nor one that may lie anywhere in this share of the tested range.
MAX_RANGE_SHARE = 0.60

# Principled (Bonferroni): chance of calling any reading of a clean trial out of line.
OUTLIER_CHANCE = 0.01

# Convention: rounded curves have no corner; each half of the stated interval is at least this share of the
# mean gap between depths, so that it covers the corner of slightly rounded curves as well.
DEFINITION_SHARE = 0.5
