"""The limits by which a power log is cut into parts and read: the same in `read_log` and in the formulas of power_log.xlsx."""

from __future__ import annotations

FEWEST_ROWS = 20
SLOW = 0.5  # s between rows; faster is better
NEAR_ZERO = 0.06  # of the highest power: the spindle may stand there
AT_TOP = 0.2  # of a part at the highest value of the log: the meter ends there
NORMAL = 1.4826  # standard deviation over median absolute deviation of normal noise

# which stretches are parts
ENTER, LEAVE = 0.35, 0.20  # of the usual level above idle: a stretch begins above the one and ends below the other
LENGTHS = (0.6, 1.6)  # of the usual length
LENGTHS_GIVEN = (0.6, 1.9)  # of the infeed time, which leaves out finishing and spark-out
LOW_LEVEL = 0.5  # of the height of the others; lower is a cycle without a part
FEWEST_PARTS = 3
LEAST_SHARE = 0.75  # of the time in stretches belongs to parts
MOST_SPREAD = 0.17  # of the infeed's length, half of what the middle two thirds of the parts cover

# where a part is read
LAGS = 3.0  # after contact, where the steady stretch begins
FEWER_LAGS, SHORTEST = 1.5, 0.3  # where less than this share of the infeed is left after three
FALLEN = 0.9  # of the level; infeed is over where power is below
BEFORE_END = 0.4  # s before power falls that are left out

# where idle is read
LONGEST_IDLE = 6.0  # s on each side of a part
BEHIND, LAGS_BEHIND = 4.0, 3.0  # s and lags behind a stretch that are left out at least; spark-out and the lag end in them
SHORT_BEHIND = 2.5  # s, where the gaps are too short for more
DIFFERENT = 0.05  # of the level; where idle differs by more from side to side, one lies in a fine stage: the lower counts
