"""Time as logs write it: seconds, milliseconds, ticks, serial days, clock times and stamps of several countries."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ...refused import Refused
from ...values import shown

if TYPE_CHECKING:
    from .result import PowerLog

DAY = 86_400.0
_DATE = r"(\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4})"
_CLOCK = r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,:](\d+))?)?\s?([aApP]\.?[mM]\.?)?(Z|\s?[+-]\d{2}:?\d{2})?"
STAMP = re.compile(rf"\s*(?:{_DATE}(?:[T_,;]\s?|\s+-?\s?|-))?{_CLOCK}\s*")
DATE = re.compile(rf"\s*{_DATE}\s*")
# Counts since a day in the past, told by their size: 100 ns since 1601, and ns, µs, ms, s since 1970; and spreadsheet days.
_COUNTS = (
    (1e17, 2e17, 1e-7, datetime(1601, 1, 1)),
    (1e18, 3e18, 1e-9, datetime(1970, 1, 1)),
    (1e15, 3e15, 1e-6, datetime(1970, 1, 1)),
    (1e12, 3e12, 1e-3, datetime(1970, 1, 1)),
    (1e9, 3e9, 1.0, datetime(1970, 1, 1)),
)
SPREADSHEET_DAY = datetime(1899, 12, 30)
SLOWEST = 10.0  # s from row to row; a slower log shows no lag, so that numbers without a unit are something else


class Clock(NamedTuple):
    """Seconds of every row, and the moment at which they are 0, "" where it is not known."""

    seconds: np.ndarray
    begin: datetime | None
    is_clock: bool = False  # seconds count from a midnight


def from_numbers(values: np.ndarray, factor: float | None, heading: str, are_days: bool = False) -> Clock:
    """Seconds from numbers; `factor` is the seconds of their unit, None where no unit is stated."""
    begin = values[:10_000] if np.isfinite(values[:10_000]).any() else values
    known = begin[np.isfinite(begin)]
    if not len(known):
        raise Refused("time", "have numbers", f"none in column {heading!r:.60}")
    first = float(known[0])
    if are_days:
        seconds = (values - np.floor(first)) * DAY
        return Clock(seconds, _moment(np.floor(first)), True) if first >= 1 else Clock(over_midnight(seconds), None, True)
    counts = _COUNTS if factor in (None, 1) else ((1e9 / factor, 3e9 / factor, factor, datetime(1970, 1, 1)),)
    for low, high, size, origin in counts:
        if low <= first < high:
            moment = origin + timedelta(seconds=first * size)
            midnight = midnight_of(moment)
            return Clock((values - first) * size + (moment - midnight).total_seconds(), midnight, True)
    if factor is None:
        step = float(np.median(np.diff(known[:1001]))) if len(known) > 1 else 0.0
        if step >= SLOWEST:
            raise Refused(
                "time",
                "have a unit",
                f"steps of {step:g} in column {heading!r:.60}",
                hint="write time [ms] above it, or say interval",
            )
        factor = 1.0
    return Clock(values if factor == 1 else values * factor, None)


def _moment(days: float) -> datetime | None:
    """The midnight of a spreadsheet's day; None beyond the last year that there is."""
    try:
        return SPREADSHEET_DAY + timedelta(days=float(days))
    except OverflowError:
        return None


def midnight_of(moment: datetime) -> datetime:
    return moment.replace(hour=0, minute=0, second=0, microsecond=0)


def over_midnight(seconds: np.ndarray) -> np.ndarray:
    """Clock times without dates, running on where they fall by more than half a day."""
    known = np.flatnonzero(np.isfinite(seconds))
    for place in known[1:][np.diff(seconds[known]) < -DAY / 2]:
        seconds[place:] += DAY
    return seconds


class Stamps:
    """Clock times and stamps of a file, part by part; dates are understood at the end, when all of them are known."""

    def __init__(self) -> None:
        self.seconds: list[np.ndarray] = []
        self.dates: list[tuple[int, str]] = []  # place of the first row with this date, and the date
        self.count = 0

    def add(self, texts: np.ndarray, dates: np.ndarray | None = None) -> None:
        """The texts of more rows (bytes), with their dates where these stand in a column of their own; nan for no stamp."""
        fast = _alike(texts) if len(texts) else None
        seconds, own = fast if fast is not None else _one_by_one(texts)
        for source in (own, dates):
            if source is not None:
                self._add_dates(source)
        self.seconds.append(seconds)
        self.count += len(texts)

    def _add_dates(self, texts: np.ndarray) -> None:
        changes = np.concatenate(([True], texts[1:] != texts[:-1])) if len(texts) else np.array([], bool)
        for place in np.flatnonzero(changes):
            text = texts[place].decode("latin-1").strip()
            match = DATE.fullmatch(text) or re.match(rf"\s*{_DATE}\b", text)
            if match and (not self.dates or self.dates[-1][1] != match[1]):
                self.dates.append((self.count + int(place), match[1]))

    def clock(self) -> Clock:
        """Seconds from the midnight before the first row; a clock without dates runs on over midnight."""
        seconds = np.concatenate(self.seconds) if self.seconds else np.array([])
        if not self.dates:
            return Clock(over_midnight(seconds), None, True)
        days = _days([text for _, text in self.dates])
        for (place, _), later, day in zip(self.dates, [place for place, _ in self.dates[1:]] + [len(seconds)], days):
            seconds[place:later] += DAY * (day - days[0])
        return Clock(seconds, datetime.fromordinal(days[0]), True)


def _alike(texts: np.ndarray) -> tuple[np.ndarray, np.ndarray | None] | None:
    """Seconds of the day and dates of stamps that are all written alike, digit under digit; None where they are not."""
    first = texts[0].decode("latin-1")
    match = STAMP.fullmatch(first)
    if match is None or match[6]:
        return None
    width = texts.dtype.itemsize
    signs = texts.view(np.uint8).reshape(len(texts), width)
    template = signs[0]
    digits = (template >= 48) & (template <= 57)
    if not ((signs[:, digits] >= 48) & (signs[:, digits] <= 57)).all() or not (signs[:, ~digits] == template[~digits]).all():
        return None

    def number(group: int) -> np.ndarray:
        value = np.zeros(len(texts))
        for place in range(*match.span(group)):
            value = value * 10 + (signs[:, place] - 48.0)
        return value

    seconds = number(2) * 3600 + number(3) * 60
    if match[4]:
        seconds += number(4)
    if match[5]:
        seconds += number(5) / 10 ** len(match[5])
    dates = np.ascontiguousarray(signs[:, slice(*match.span(1))]).view(f"S{len(match[1])}").ravel() if match[1] else None
    return seconds, dates


def _one_by_one(texts: np.ndarray) -> tuple[np.ndarray, np.ndarray | None]:
    seconds = np.full(len(texts), np.nan)
    dates = [b""] * len(texts)
    has_dates = False
    for place, text in enumerate(texts.tolist()):
        match = STAMP.fullmatch(text.decode("latin-1"))
        if not match:
            continue
        hour = int(match[2])
        if match[6]:
            hour = hour % 12 + (12 if match[6][0] in "pP" else 0)
        fraction = int(match[5]) / 10 ** len(match[5]) if match[5] else 0.0
        seconds[place] = hour * 3600 + int(match[3]) * 60 + int(match[4] or 0) + fraction
        if match[1]:
            has_dates, dates[place] = True, match[1].encode()
    return seconds, np.array(dates) if has_dates else None


def _days(texts: list[str]) -> list[int]:
    """Day numbers of dates; day before month, or month before day, as it is possible and in order."""
    parts = [list(map(int, re.split("[-/.]", text))) for text in texts]
    if len(re.split("[-/.]", texts[0])[0]) == 4:
        orders = [(0, 1, 2)]
    else:
        orders = [(2, 1, 0), (2, 0, 1)] if "/" not in texts[0] else [(2, 0, 1), (2, 1, 0)]
    found = []
    for year, month, day in orders:
        try:
            numbers = [date(part[year] + (2000 if part[year] < 100 else 0), part[month], part[day]).toordinal() for part in parts]
        except ValueError:
            continue
        if all(0 <= later - one <= 31 for one, later in zip(numbers, numbers[1:])):
            found.append(numbers)
    if not found:
        raise Refused("time", "have dates that grow", f"{shown(texts[0])} to {shown(texts[-1])}")
    return min(found, key=lambda numbers: numbers[-1] - numbers[0])


def shown_time(log: PowerLog, seconds: float) -> str:
    """A moment of the log for people: the clock where the log has one, else minutes and seconds from its beginning."""
    if log.is_clock:
        rest = round(seconds) % int(DAY)
        return f"{rest // 3600:02d}:{rest // 60 % 60:02d}:{rest % 60:02d}"
    minutes, rest = divmod(round(seconds, 1), 60)
    return f"{minutes:.0f}:{rest:04.1f}"
