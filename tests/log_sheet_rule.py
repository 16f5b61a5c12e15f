"""What the sheets of power_log.xlsx show once more, in numpy, from the words of their headings: every step, for any log.

Rows are counted from 1, as the sheets do; None is a blank cell. The limits are those of read_log, tried in tests/test_log_limits.py.
"""

from __future__ import annotations

import math
from itertools import accumulate

import numpy as np

from gritfuncs.trial.log_limits import (
    AT_TOP,
    BEFORE_END,
    BEHIND,
    DIFFERENT,
    ENTER,
    FALLEN,
    FEWER_LAGS,
    LAGS,
    LAGS_BEHIND,
    LEAVE,
    LENGTHS,
    LENGTHS_GIVEN,
    LONGEST_IDLE,
    LOW_LEVEL,
    NEAR_ZERO,
    NORMAL,
    SHORT_BEHIND,
    SHORTEST,
)

NEAR, FAR = 1.5, 3.0  # s before a stretch begins: where idle just before contact is read
SECONDS = {"s": 1.0, "ms": 0.001, "min": 60.0, "days": 24 * 3600.0}
NOTHING = "#Na"  # what draws nothing, as OpenBook tells it
PART = "part"
CUT, STOPPED, SHORT, LONG = (
    "cut off: the log begins or ends in it",
    "stop: the spindle stands in it",
    "short: dressing, a stop or a touch",
    "long: two parts in one, or another thing",
)
LEFT_OUT, LOW, HOLE = "left out by you", "low: a cycle without a part", "hole: rows are missing in it"
CLIPPED, HIGHEST, NO_IDLE = "clipped: the meter ends there", "at the highest value of the log", "no idle on either side"


class Sheets:
    """The answers of Levels by name, and those of each stretch on Parts, for a log that fits; `known` as typed on Inputs."""

    def __init__(self, time, power, leave_out=(), **known):
        self.time, self.power, self.known = np.array(time, float), np.array(power, float), known
        self.left_out = leave_out
        self.count = len(self.time)
        self.levels = self._whole_log()
        self.middle = np.array([np.median(self.power[max(0, k - 2) : k + 3]) for k in range(self.count)])
        self.levels.update(self._two_levels())
        self.stretch = self._stretches()
        self.parts = self._cut()
        self._common_length()
        for number, part in enumerate(self.parts, 1):
            self._infeed(number, part)
        self._lag_and_coolant()
        for part in self.parts:
            self._net(part)
        self._words()
        self._common()

    def readings(self, work_rpms=(), is_ready=True):
        """The rows of the sheet Readings, as many as there are parts."""
        found = []
        for number, part in enumerate((part for part in self.parts if part.get("part")), 1):
            row = dict(part=number, place=part["number"], start=part["start"], word=part["word"])
            if is_ready:
                is_read, about = part["word"] == PART, f"part {number}, at {part['start']:.1f} s"
                error = f", ± {self.levels['error']:.4f}" if is_read else f": {part['word']}"
                row.update(use="yes" if is_read else "no", note=about + error, work_rpm=dict(enumerate(work_rpms, 1)).get(number))
                row.update(load=part["level"], idle=part["idle"]) if is_read else None
            found.append(row)
        return found

    def chart(self):
        """(times and loads of the thick line, four points a stretch; time, height and text of each label)."""
        line, labels = [], []
        for part in self.parts:
            rows = [part["first"], part["steady"], part["last"], part["end"]] if part["word"] == PART else []
            line += [(self.time[row - 1], part[name]) for row, name in zip(rows, ("idle", "level", "level", "idle"))] or [
                (NOTHING, NOTHING)
            ] * 4
            word = f"{part['part']}{'' if part['word'] == PART else '!'}" if part.get("part") else "x"
            labels.append((self.time[part["first"] + part["rows"] // 2 - 1], self.levels["top_of_chart"], word))
        return line, labels

    # the whole log

    def _whole_log(self):
        time, power, count = self.time, self.power, self.count
        steps, factor = np.diff(time), SECONDS[self.known.get("time_unit", "s")]
        grown = steps[steps > 0]
        mean = (max(time) - min(time)) / (count - 1)
        ordinary = grown[grown < 2 * mean]
        interval = ordinary.mean() * factor if len(ordinary) else 0
        peak = sorted(power, reverse=True)[count // 50]
        lowest = self.known.get("lowest_power")
        uneven = sum(abs(step * factor / interval - 1) > 0.5 for step in grown) if interval else 0
        near_zero = sum(power < NEAR_ZERO * peak) if peak > 0 else 0
        is_even = uneven <= 0.02 * count and len(grown) == count - 1 and 0.01 <= interval <= 2
        return dict(
            log_fits=int(is_even and count >= 20 and (near_zero == 0 or lowest is not None)),
            rows=count,
            powers=count,
            texts=0,
            too_long=0,
            apart=0,
            growing=1 + len(grown),
            mean_step=mean,
            time_factor=factor,
            interval=interval,
            uneven=uneven,
            peak=peak,
            near_zero=near_zero,
            equal=sum((np.diff(power) == 0) & (steps > 0)) / count,
            running=lowest or min(power) - 1,
        )

    def _two_levels(self):
        running, found = sorted(self.middle[self.middle >= self.levels["running"]]), {}
        foot = running[self.count // 50] if self.levels["log_fits"] and len(running) > self.count // 50 else 0
        border = (foot + self.levels["peak"]) / 2
        self.levels["foot"] = foot
        if not self.levels["log_fits"]:
            return {**{f"middle_{number}": 0 for number in range(1, 7)}, "low": 0, "high": 0, "enter": 1e300, "leave": 1e300}

        def sides():
            below = self.middle[(self.middle < border) & (self.middle >= self.levels["running"])]
            above = self.middle[self.middle >= border]
            return (below.mean() if len(below) else None), (above.mean() if len(above) else None)

        for number in range(1, 7):
            low, high = sides()
            border = border if low is None or high is None else (low + high) / 2
            found[f"middle_{number}"] = border
        low, high = (0 if side is None else side for side in sides())
        found.update(low=low, high=high, enter=1e300, leave=1e300)
        if high > low:
            found.update(enter=low + ENTER * (high - low), leave=low + LEAVE * (high - low))
        return found

    def _stretches(self):
        found, is_inside = [0], self.middle[0] > self.levels["enter"]
        number = int(is_inside)
        found = [number]
        for middle, power in zip(self.middle[1:], self.power[1:]):
            if power >= self.levels["running"]:
                if is_inside and middle < self.levels["leave"]:
                    is_inside = False
                elif not is_inside and middle > self.levels["enter"]:
                    is_inside, number = True, number + 1
            found.append(number if is_inside else -number)
        self.levels["stretches"] = number
        return np.array(found)

    # each stretch

    def mean(self, first, last):
        """The mean power of the running rows from one to another, None where there is none."""
        rows = np.arange(1, self.count + 1)
        chosen = self.power[(rows >= first) & (rows <= last) & (self.power >= self.levels["running"])]
        return chosen.mean() if len(chosen) else None

    def rows_of(self, seconds):
        return math.ceil(seconds / self.levels["interval"])

    def _cut(self):
        interval, running, low = (self.levels[name] for name in ("interval", "running", "low"))
        highest, found = self.known.get("highest_power") or max(self.power), []
        for number in range(1, self.levels["stretches"] + 1):
            rows = 1 + np.flatnonzero(self.stretch == number)
            power = self.power[rows - 1]
            runs = power[power >= running]
            mean = runs.mean() if len(runs) else 0
            upper = power[power > mean]
            found.append(
                dict(
                    number=number,
                    first=rows[0],
                    rows=len(rows),
                    end=rows[-1],
                    start=self.time[rows[0] - 1] * self.levels["time_factor"],
                    seconds=len(rows) * interval,
                    running=len(runs),
                    mean=mean,
                    top=upper.mean() if len(upper) else mean,
                    energy=max(0, sum(runs - low)),
                    at_top=np.mean(power >= highest),
                )
            )
        return found

    def _common_length(self):
        """Half of the energy lies in stretches that are no longer."""
        total = sum(part["energy"] for part in self.parts)
        by_length = sorted(self.parts, key=lambda part: part["rows"])
        sums = dict(
            zip((part["rows"] for part in by_length), accumulate(part["energy"] for part in by_length))
        )  # the last of a length
        for part in self.parts:
            part["usual"] = part["rows"] if sums[part["rows"]] >= total / 2 - 1e-12 * total else None
        given, lengths = self.known.get("infeed_time"), [part["usual"] for part in self.parts if part["usual"]]
        usual = given or (min(lengths) * self.levels["interval"] if lengths else 0)
        self.levels["usual_length"] = usual
        least, most = LENGTHS_GIVEN if given else LENGTHS
        for part in self.parts:
            share = part["seconds"] / usual
            cases = (
                (part["first"] == 1 or part["end"] == self.count, CUT),
                (part["running"] < 0.9 * part["rows"], STOPPED),
                (share < least, SHORT),
                (share > most, LONG),
                (True, PART),
            )
            part["length"] = next(word for holds, word in cases if holds)

    def _infeed(self, number, part):
        ended = self.parts[number - 2]["end"] if number > 1 else 0
        part["ended"] = ended
        part["follows"] = self.parts[number]["first"] if number < len(self.parts) else None
        part["near"] = near = self.mean(
            max(part["first"] - self.rows_of(FAR), ended + self.rows_of(SHORT_BEHIND)), part["first"] - self.rows_of(NEAR)
        )
        if part["length"] != PART:
            return
        part["height"] = part["top"] - self.levels["low"]
        inside = 1 + np.flatnonzero(
            (self.stretch == number) & (self.middle > (1 - FALLEN) * self.levels["low"] + FALLEN * part["top"])
        )
        part["high"] = len(inside)
        part["centre"] = centre = inside.mean()
        part["last"] = last = math.floor(centre + (len(inside) - 1) / 2) - self.rows_of(BEFORE_END)
        part["lag"] = None
        half = math.floor(centre)
        first_half, second_half = self.mean(part["first"], half), self.mean(half, last)
        if None not in (near, first_half, second_half) and second_half != near:
            level = second_half - near
            lacking = (second_half - first_half) / level  # as a share of the level, from where the stretch begins to its middle
            begun = min(0.9, max(0, (self.levels["enter"] - near) / level))
            if begun < 1:
                part["lag"] = (half - part["first"] + 1) * self.levels["interval"] * lacking / (1 - begun)

    def _lag_and_coolant(self):
        interval = self.levels["interval"]
        alike = [part for part in self.parts if part["length"] == PART]
        lags = [part["lag"] for part in alike if part["lag"] is not None]
        self.levels["lag"] = max(interval / 4, np.median(lags)) if lags else interval
        wanted = self.rows_of(max(BEHIND, LAGS_BEHIND * self.levels["lag"]))
        for part in alike:
            before = self.mean(
                max(part["first"] - self.rows_of(NEAR + LONGEST_IDLE), part["ended"] + wanted), part["first"] - self.rows_of(NEAR)
            )
            latest = part["end"] + wanted + self.rows_of(LONGEST_IDLE)
            latest = min(latest, part["follows"] - self.rows_of(NEAR) if part["follows"] else self.count + 1)
            part["before"] = part["near"] if before is None else before
            part["behind"] = self.mean(part["end"] + wanted, latest)
            part["rise"] = None if None in (part["near"], part["before"]) else part["near"] - part["before"]
            part["differ"] = None if None in (part["before"], part["behind"]) else abs(part["before"] - part["behind"])
        rises = [part["rise"] for part in alike if part["rise"] is not None]
        step, scatter = (np.median(rises) if lags else 0), (np.std(rises, ddof=1) if len(lags) > 1 else 0)
        switched = len(lags) >= 4 and step > max(
            0.02 * (self.levels["high"] - self.levels["low"]), 3 * scatter / math.sqrt(len(lags))
        )
        self.levels.update(
            parts_alike=len(lags), near_step=step, near_scatter=scatter, coolant_step=step / 0.7 if switched else 0
        )
        for part in alike:
            before, behind = part["before"], part["behind"]
            if switched and part["near"] is not None:
                part["idle"] = part["near"]
            elif None in (before, behind):
                part["idle"] = behind if before is None else before
            elif part["differ"] > DIFFERENT * part["height"]:
                part["idle"] = min(before, behind)
            else:
                part["idle"] = np.mean([before, behind])

    def _net(self, part):
        idle = part.get("idle")
        if idle is None:
            return
        lag = self.levels["lag"] / self.levels["interval"]  # in rows
        begun = min(0.9, max(0, (self.levels["enter"] - idle) / (part["top"] - idle)))
        part["contact"] = contact = part["first"] - 0.5 - lag * math.log(1 / (1 - begun))  # where 1 - exp(-t/lag) was 0
        room = part["last"] - contact
        enough = room - LAGS * lag >= max(2, SHORTEST * room)
        part["steady"] = min(math.ceil(contact + 0.5 + (LAGS if enough else FEWER_LAGS) * lag), part["last"] - 1)
        part["middle"] = math.floor((part["steady"] + part["last"]) / 2)
        for name, first, last in (("one", part["steady"], part["middle"]), ("other", part["middle"] + 1, part["last"])):
            grid = np.linspace(first - 0.5 - contact, last + 0.5 - contact, 20_001)
            risen = 1 - np.exp(-grid / lag)
            part[name] = (self.mean(first, last) - idle) / np.mean((risen[1:] + risen[:-1]) / 2)

    # words, and what follows from them

    def _words(self):
        heights = [part["height"] for part in self.parts if "height" in part]
        found = 0
        for part, left_out in zip(self.parts, (*self.left_out, *(None,) * len(self.parts))):
            lasts = (self.time[part["end"] - 1] - self.time[part["first"] - 1]) * self.levels["time_factor"]
            length, is_part = part["length"], part["length"] == PART
            cases = (
                ((left_out or "").strip().lower() == "no", LEFT_OUT),
                (not is_part, length),
                (is_part and part["height"] < LOW_LEVEL * np.median(heights), LOW),
                (lasts > part["seconds"] + 1, HOLE),
                (part["at_top"] > AT_TOP, CLIPPED if self.known.get("highest_power") else HIGHEST),
                (part.get("idle") is None, NO_IDLE),
                (True, PART),
            )
            part["word"] = word = next(word for holds, word in cases if holds)
            if word in (PART, HOLE, CLIPPED, HIGHEST, NO_IDLE):
                found += 1
                part["part"] = found
            if word == PART:
                one, other = part["one"], part["other"]
                rows = part["middle"] - part["steady"] + 1, part["last"] - part["middle"]
                part["net"] = np.average([one, other], weights=rows)
                part["halves"] = abs(one - other)
                part["change"] = 100 * (other - one) / 0.5 / part["net"]
                part["level"] = part["net"] + part["idle"]
            else:
                part.pop("one", None), part.pop("other", None)
        self.levels["parts"] = found

    def _common(self):
        levels, known = self.levels, self.known

        def those(name):
            return [part[name] for part in self.parts if part.get(name) is not None]

        nets, differ = those("net"), those("differ")
        levels["parts_read"] = len(nets)
        standard = NORMAL / 2 * np.median(those("halves")) if nets else 0
        beside = NORMAL / 2 * np.median(differ) if differ else 0
        rounding = known.get("meter_step", 0) / math.sqrt(6)  # of level and of idle: a step over the root of 12 each
        levels["error"] = 2 * math.hypot(standard, beside, rounding) if nets else 0
        is_zeroed = abs(levels["low"]) <= 0.01 * levels["high"]  # a meter zeroed at idle
        levels["rise"] = (None if is_zeroed else 100 * np.median(nets) / abs(levels["low"])) if nets else 0
        levels["top_of_chart"] = levels["peak"] + 0.04 * (levels["peak"] - levels["low"])
        rows = sum(those("rows"))
        levels["share"] = sum(part["rows"] for part in self.parts if part.get("part")) / rows if rows else 1
        high = sorted(those("high"))
        aside = int(0.16 * len(high))
        levels["spread"] = (high[-1 - aside] - high[aside]) / 2 / np.median(high) if len(high) > 2 else 0
        alike = sum(part["rows"] for part in self.parts if part["length"] == PART)
        levels["flat"] = sum(high) / alike if high else 1
        levels["steepness"] = np.median(those("change")) / 100 if nets else 0
