"""The columns of a power log, from files or arrays, put together on one time."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from ...refused import Refused
from ...units import ratio
from ...values import shown
from ..rows import one_line
from . import book_log, text_log
from .analyse import analyse
from .clock import DAY, Clock, Stamps, from_numbers, midnight_of
from .columns import TRUTHS, Chosen, choose, number_of
from .result import PowerLog
from .trace import as_numbers, trace_of

_BETWEEN = re.compile(r"\s*(?:(?:(\d+):)?(\d+):)?(\d+(?:[.,]\d+)?)\s*")


class _Growing:
    """An array that pieces are put behind one another in, without a second copy of the whole."""

    def __init__(self, kind: type):
        self.values, self.count = np.empty(0, kind), 0

    def add(self, piece: np.ndarray) -> None:
        needed = self.count + len(piece)
        if needed > len(self.values):
            self.values.resize(max(needed, len(self.values) * 9 // 8), refcheck=False)
        self.values[self.count : needed] = piece
        self.count = needed

    def whole(self) -> np.ndarray:
        self.values.resize(self.count, refcheck=False)
        return self.values


class Columns(NamedTuple):
    """The columns of one file or of the arrays."""

    source: str
    clock: Clock | None  # None: the interval is known instead
    power: np.ndarray
    rpm: np.ndarray | None
    contact: np.ndarray | None
    load_kind: str
    interval: float | None
    remarks: list[str]


def gathered(
    path: Any,
    wanted: dict[str, Any],
    interval: float | None,
    load_kind: str | None,
    idle: float | None,
    infeed_time: float | None,
    between: Any,
    sheet: str | None,
    sweep: tuple[float, ...] | None,
    progress: Callable[[float], None] | None,
) -> PowerLog:
    """The log of files or arrays; arguments as for `read_log`."""
    source = "arrays"
    try:
        if path is None:
            return _log(_arrays(wanted, interval, load_kind), interval, idle, infeed_time, between, sweep)
        paths = _paths(path)
        source = ", ".join(one_line(each.name) for each in paths)
        for each in paths:
            if not each.is_file():
                raise Refused("", "be a file that exists", place=(one_line(each.name),))
        for name, value in wanted.items():
            if value is not None and not isinstance(value, str):
                raise Refused(name, "be a heading or column letter where a file is read", shown(value))
        files = (_file(each, wanted, interval, load_kind, sheet, progress) for each in paths)
        return _log(_joined(list(files), interval)._replace(source=source), interval, idle, infeed_time, between, sweep)
    except Refused as refused:
        raise refused.at(source) from None
    except OSError as error:
        raise Refused("", f"be a file that can be read ({error.strerror or error})", place=(source,)) from None


def _log(
    columns: Columns,
    interval: float | None,
    idle: float | None,
    infeed_time: float | None,
    between: Any,
    sweep: tuple[float, ...] | None,
) -> PowerLog:
    seconds = columns.clock.seconds if columns.clock and interval is None else None
    begin = columns.clock.begin if columns.clock and interval is None else None
    step = interval if interval is not None else columns.interval if seconds is None else None
    power, rpm, contact = columns.power, columns.rpm, columns.contact
    if seconds is not None:
        known = np.isfinite(seconds)
        if not known.all():
            seconds, power = seconds[known], power[known]
            rpm, contact = (None if channel is None else channel[known] for channel in (rpm, contact))
        if not len(seconds):
            raise Refused("time", "be readable", "no row with a time")
    if between is not None:
        seconds, power, rpm, contact = _within(_span(between), seconds, step, power, rpm, contact)
    is_clock = begin is not None or seconds is not None and columns.clock is not None and columns.clock.is_clock
    trace = trace_of(seconds, power, rpm, contact, step)
    said = (columns.source, columns.load_kind, _shown_begin(begin, trace.start), is_clock, columns.remarks)
    del columns, seconds, power, rpm, contact  # of a long log they are large
    return analyse(trace, *said, idle, infeed_time, sweep)


def _shown_begin(begin: datetime | None, start: float) -> str:
    return "" if begin is None else str((begin + timedelta(seconds=start)).replace(microsecond=0))


def _span(between: Any) -> tuple[float, float]:
    """From and to in seconds, of two numbers or a text such as 0:30-41:00."""
    pair = re.split(r"\s*[-\u2013]\s*", between) if isinstance(between, str) else between
    try:
        first, last = (_moment(one) for one in pair)
    except Exception:  # whatever an object of the caller's does when it is asked for its values
        raise Refused(
            "between", "be two times from the beginning, such as 0:30-41:00 or two numbers of seconds", shown(between)
        ) from None
    if not 0 <= first < last:
        raise Refused("between", "be from an earlier to a later time", shown(between))
    return first, last


def _moment(text: Any) -> float:
    match = _BETWEEN.fullmatch(str(text))
    if not match:
        raise ValueError
    return int(match[1] or 0) * 3600 + int(match[2] or 0) * 60 + float(match[3].replace(",", "."))


def _within(span: tuple[float, float], seconds: Any, step: float | None, *channels: Any) -> tuple[Any, ...]:
    """Time and channels between two moments, counted from the first row."""
    if seconds is None:
        if step is None:
            raise Refused("interval", "be known", "no time column", hint="say interval, the seconds from row to row")
        inside = slice(*(round(moment / step) for moment in span))
    else:
        inside = (seconds - seconds[0] >= span[0]) & (seconds - seconds[0] <= span[1])
        seconds = seconds[inside]
    return (seconds, *(None if channel is None else channel[inside] for channel in channels))


def _arrays(wanted: dict[str, Any], interval: float | None, load_kind: str | None) -> Columns:
    if wanted["power"] is None:
        raise Refused("power", "be given where no file is read", "none")
    power = as_numbers("power", wanted["power"])
    clock = None
    if wanted["time"] is not None:
        clock = _time_array(wanted["time"])
    others = {name: None if wanted[name] is None else as_numbers(name, wanted[name]) for name in ("rpm", "contact")}
    for name, values in (("time", clock and clock.seconds), *others.items()):
        if values is not None and len(values) != len(power):
            raise Refused(name, f"have as many values as power, {len(power)}", str(len(values)))
    remarks = [] if load_kind else ["Power is taken as kW; say load_kind for another meter."]
    return Columns("arrays", clock, power, others["rpm"], others["contact"], load_kind or "power", interval, remarks)


def _time_array(values: Any) -> Clock:
    """Seconds of numbers, or of numpy's moments and others that become them."""
    try:
        array = np.asarray(values)
        if array.dtype.kind == "O" and array.ndim == 1 and len(array) and isinstance(array[0], datetime):
            array = np.array([moment and moment.replace(tzinfo=None) for moment in array], "datetime64[us]")
    except Exception:  # whatever an object of the caller's does when it is asked for its values
        raise Refused("time", "be numbers in one column", shown(values)) from None
    if array.ndim != 1 or not len(array):
        return Clock(as_numbers("time", values), None)
    if array.dtype.kind == "M":
        first = next(iter(array[~np.isnat(array)][:1].astype("datetime64[us]").tolist()), None)
        if not isinstance(first, datetime):
            raise Refused("time", "be moments of the years 1 to 9999", shown(values))
        midnight = midnight_of(first)
        return Clock((array - np.datetime64(midnight)) / np.timedelta64(1, "s"), midnight, True)
    if array.dtype.kind == "m":
        return Clock(array / np.timedelta64(1, "s"), None)
    return Clock(as_numbers("time", values), None)


def _paths(path: Any) -> list[Path]:
    try:
        paths = [Path(path)] if isinstance(path, (str, Path)) else [Path(each) for each in path]
    except TypeError:
        raise Refused("path", "be the name of a file, or a list of them", shown(path)) from None
    if not paths:
        raise Refused("path", "name at least one file", "none")
    return paths


def _file(
    path: Path, wanted: dict[str, str | None], interval: float | None, load_kind: str | None, sheet: str | None, progress: Any
) -> Columns:
    ending = path.suffix.lower()
    if ending in book_log.ENDINGS:
        return _book(path, wanted, interval, load_kind, sheet)
    if ending in text_log.ENDINGS:
        if sheet is not None:
            raise Refused("sheet", "be left out for a text file", shown(sheet))
        return _text(path, wanted, interval, load_kind, progress)
    endings = ", ".join(text_log.ENDINGS + book_log.ENDINGS)
    raise Refused(
        "",
        f"end in {endings}",
        f"{ending or 'no ending'!r:.40}",
        hint="read other files with their own reader, and give arrays of time and power",
    )


def _text(path: Path, wanted: dict[str, str | None], interval: float | None, load_kind: str | None, progress: Any) -> Columns:
    how = text_log.dialect(path)
    chosen = choose(how.above, how.sample, wanted, load_kind)
    times = [column for column in {chosen.time, *chosen.times.values()} - {None} if interval is None]
    stamped = [column for column in times if _is_text(how.sample, column)]
    numbers = list(dict.fromkeys([chosen.power, *[column for column in (chosen.rpm, chosen.contact) if column is not None]]))
    numbers += [column for column in times if column not in stamped]
    texts = stamped + ([chosen.date] if chosen.date is not None and stamped else [])
    # seven digits are enough for a reading, not for a time
    parts = {column: _Growing(np.float64 if column in times else np.float32) for column in numbers}
    stamps = {column: Stamps() for column in stamped}
    unread, first_unread = 0, ""
    for piece in text_log.pieces(path, how, numbers, texts, progress):
        unread, first_unread = unread + piece.unread, first_unread or piece.first_unread
        found = dict(zip(numbers + texts, piece.columns))
        for column in numbers:
            parts[column].add(found[column])
        for column in stamped:
            stamps[column].add(np.ascontiguousarray(found[column]), found.get(chosen.date) if column == chosen.time else None)
    whole = {column: parts[column].whole() for column in numbers}
    clocks = {
        column: stamps[column].clock() if column in stamps else _number_clock(whole[column], chosen, column) for column in times
    }
    remarks = list(chosen.remarks)
    if unread:
        remarks.append(f"Lines without numbers, passed over: {unread}; the first says {first_unread!r}.")
    return _columns(path, chosen, whole, clocks, how.interval, remarks)


def _is_text(sample: list[list[str]], column: int) -> bool:
    cells = [row[column] for row in sample if column < len(row) and row[column]]
    return sum(":" in cell for cell in cells) > len(cells) / 2


def _number_clock(values: np.ndarray, chosen: Chosen, column: int, are_days: bool = False) -> Clock:
    heading = chosen.headings[column]
    size = ratio(heading.unit, "s") if heading.unit else None
    return from_numbers(values, None if size is None else float(size), heading.text, are_days)


def _book(path: Path, wanted: dict[str, str | None], interval: float | None, load_kind: str | None, sheet: str | None) -> Columns:
    above, rows, styled = book_log.rows_of(path, sheet)
    chosen = choose(above, rows[: text_log.SAMPLE], wanted, load_kind)
    said = text_log.interval_in([";".join("" if cell is None else str(cell) for cell in row) for row in above])

    def numbers(column: int) -> np.ndarray:
        cells = [row[column] if column < len(row) else None for row in rows]
        return np.array([_number(cell) for cell in cells])

    def texts(column: int) -> np.ndarray:
        return np.array([str(row[column]).encode("latin-1", "replace") if column < len(row) else b"" for row in rows])

    def clock(column: int) -> Clock:
        if any(isinstance(row[column], str) for row in rows[:5] if column < len(row)):
            stamps = Stamps()
            stamps.add(texts(column), texts(chosen.date) if chosen.date is not None and column == chosen.time else None)
            return stamps.clock()
        values = numbers(column)
        if column == chosen.time and day is not None:
            values = values + numbers(day)
        return _number_clock(values, chosen, column, column in styled)

    remarks, day = list(chosen.remarks), _day_beside(chosen.time, styled, numbers)
    if day is not None:
        remarks.append(f"The day of each row is from {chosen.headings[day].text!r:.60}.")
    times = {chosen.time, *chosen.times.values()} - {None} if interval is None else set()
    columns = {column for column in (chosen.power, chosen.rpm, chosen.contact) if column is not None}
    return _columns(
        path, chosen, {column: numbers(column) for column in columns}, {column: clock(column) for column in times}, said, remarks
    )


def _day_beside(time: int | None, styled: set[int], numbers: Callable[[int], np.ndarray]) -> int | None:
    """The column of whole days beside one of clock times; None where there is none."""
    if time not in styled:
        return None
    times = numbers(time)
    known = np.isfinite(times)
    if (times[known] >= 1).any():
        return None
    days = ((column, numbers(column)[known]) for column in sorted(styled - {time}))
    return next((column for column, values in days if (values == np.floor(values)).all() and (values >= 1).all()), None)


def _number(cell: Any) -> float:
    if isinstance(cell, str):
        value = number_of(cell)
        return TRUTHS.get(cell.strip().lower(), np.nan) if value is None else value
    return np.nan if cell is None else float(cell)


def _columns(
    path: Path,
    chosen: Chosen,
    values: dict[int, np.ndarray],
    clocks: dict[int, Clock],
    interval: float | None,
    remarks: list[str],
) -> Columns:
    """The channels on the time of the power."""
    clock = None if chosen.time is None else clocks.get(chosen.time)
    channels = {}
    for name, column in (("rpm", chosen.rpm), ("contact", chosen.contact)):
        channel = None if column is None else values[column]
        own = None if column is None else chosen.times.get(column)
        if channel is not None and clock and own is not None and own != chosen.time:
            channel = _on_time_of(clock, clocks[own], channel)
        channels[name] = channel
    power = values[chosen.power]
    if chosen.factor != 1:
        power = power * power.dtype.type(chosen.factor)
    return Columns(path.name, clock, power, channels["rpm"], channels["contact"], chosen.load_kind, interval, remarks)


def _on_time_of(clock: Clock, own: Clock, channel: np.ndarray) -> np.ndarray:
    """A channel with a time column of its own, its last value held at each time of the power."""
    known = np.isfinite(own.seconds) & np.isfinite(channel)
    times, values = own.seconds[known], channel[known]
    if not len(times):
        return np.full(len(clock.seconds), np.nan)
    places = np.searchsorted(times, clock.seconds, "right") - 1
    return np.where(np.isfinite(clock.seconds), values[np.clip(places, 0, None)], np.nan)


def _joined(files: list[Columns], interval: float | None) -> Columns:
    """Files that follow one another as one log; `interval` is the one that is given."""
    first = files[0]
    if len(files) == 1:
        return first
    for other in files[1:]:
        if other.load_kind != first.load_kind:
            raise Refused("load_kind", f"be the same in all files, {first.load_kind}", other.load_kind).at(other.source)
        if (other.clock is None) != (first.clock is None):
            raise Refused("time", "be in all files or in none", "a file with time and one without").at(other.source)
        if first.clock is None and interval is None and other.interval != first.interval:
            told = ["none" if one.interval is None else f"{one.interval:g} s" for one in (first, other)]
            raise Refused("interval", f"be the same in all files, {told[0]}", told[1]).at(other.source)

    def chained(name: str) -> np.ndarray | None:
        pieces = [getattr(one, name) for one in files]
        return None if any(piece is None for piece in pieces) else np.concatenate(pieces)

    clock = None
    if first.clock is not None:
        clock = first.clock._replace(seconds=np.concatenate(_seconds_in_a_row([one.clock for one in files])))
    remarks = list(dict.fromkeys(remark for one in files for remark in one.remarks))
    return first._replace(clock=clock, power=chained("power"), rpm=chained("rpm"), contact=chained("contact"), remarks=remarks)


def _seconds_in_a_row(clocks: list[Clock]) -> list[np.ndarray]:
    """Seconds of the first clock; files that all begin at 0 follow one another, and clocks without dates run on over midnight."""
    known = [clock.seconds[np.isfinite(clock.seconds)] for clock in clocks]
    begins_anew = all(len(times) > 1 and not clock.is_clock and times[0] < 1 for clock, times in zip(clocks, known))
    found: list[np.ndarray] = []
    end = None
    for clock, times in zip(clocks, known):
        later = 0.0
        if clock.begin and clocks[0].begin:
            later = (clock.begin - clocks[0].begin).total_seconds()
        elif end is not None and begins_anew:
            later = end - times[0] + float(np.median(np.diff(times[:1001])))
        elif end is not None and len(times) and clock.is_clock and end - times[0] > DAY / 2:
            later = DAY * round((end - times[0]) / DAY)
        found.append(clock.seconds + later)
        end = times[-1] + later if len(times) else end
    return found
