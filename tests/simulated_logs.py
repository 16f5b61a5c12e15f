"""Invented power logs of whole trials, with the truth beside them, and the dialects in which loggers write them.

Everything here is simulated: no real machine, wheel or shop is behind it.  Net power follows the infeed with one lag.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

RPMS = (120.0, 132.0, 108.0, 144.0, 96.0, 156.0, 84.0)
KNEE_RPM = 110.0
BEGIN = datetime(2026, 3, 4, 23, 57, 10)


@dataclass(frozen=True)
class Scene:
    """A trial as it may be logged; times in s, power in kW."""

    seed: int = 1
    rate: float = 10.0  # rows a second
    rpms: tuple[float, ...] = RPMS
    parts_per_step: int = 2
    infeed: float = 18.0
    fine: float = 0.0  # seconds of a fine stage behind it
    fine_share: float = 0.3
    spark_out: float = 3.0
    lag: float = 0.7
    gap: float = 14.0
    pause: float = 0.0  # more gap at each change of rpm
    idle: float = 1.1
    net: float = 1.8
    fall: float = 0.6  # of the level, at half the knee's depth
    scatter: float = 0.01  # from part to part
    noise: float = 0.04
    wander: float = 0.02
    coolant: float = 0.0
    strokes: int = 0  # of dressing, after every third part
    stroke_share: float = 0.7
    empty: tuple[int, ...] = ()  # cycles without a part, before part number ...
    stopped: int | None = None  # before part number ... an emergency stop
    spindle_off: bool = False  # before and behind
    step: float = 0.0  # of the meter
    ceiling: float = np.inf
    dropped: int = 0  # drop-outs to zero


@dataclass(frozen=True)
class Log:
    scene: Scene
    time: np.ndarray
    power: np.ndarray
    rpm: np.ndarray
    contact: np.ndarray
    nets: np.ndarray  # the truth of every part
    starts: np.ndarray


def simulate(scene: Scene | None = None, **changes) -> Log:
    scene = replace(scene or Scene(), **changes)
    random = np.random.default_rng(scene.seed)
    step = 1 / scene.rate
    pieces: list[tuple[float, float, float, bool, bool, float]] = []  # seconds, net, idle, coolant, cuts, rpm

    def run(seconds: float, net: float = 0.0, coolant: bool = False, cuts: bool = False, idle: float = scene.idle) -> None:
        pieces.append((seconds, net, idle, coolant, cuts, rpm))

    nets, starts, rpm = [], [], scene.rpms[0]
    if scene.spindle_off:
        run(25, idle=0.0)
    run(15)
    for rpm in scene.rpms:
        run(scene.pause)
        for _ in range(scene.parts_per_step):
            number = len(nets) + 1
            if scene.strokes and number % 3 == 0:
                for _ in range(scene.strokes):
                    run(2.0, scene.stroke_share * scene.net)
                    run(2.5)
            if number == scene.stopped:
                run(scene.gap)
                run(0.4 * scene.infeed, scene.net, True, True)
                run(20, idle=0.0)
            if number in scene.empty:
                run(scene.gap)
                run(scene.infeed, 0.25 * scene.net, True)
            run(scene.gap * random.uniform(0.8, 1.2))
            run(3, coolant=True)
            rise = 1 + scene.fall * max(0.0, (1 - (rpm / KNEE_RPM) ** 0.25) / 0.08)
            nets.append(scene.net * rise * (1 + scene.scatter * random.standard_normal()))
            starts.append(sum(piece[0] for piece in pieces))
            run(scene.infeed, nets[-1], True, True)
            if scene.fine:
                run(scene.fine, scene.fine_share * nets[-1], True, True)
            run(scene.spark_out, 0.0, True, True)
    run(15)
    if scene.spindle_off:
        run(25, idle=0.0)
    return _sampled(scene, random, step, pieces, np.array(nets), np.array(starts))


def _sampled(scene: Scene, random, step: float, pieces, nets: np.ndarray, starts: np.ndarray) -> Log:
    ends = np.cumsum([piece[0] for piece in pieces])
    time = np.arange(int(ends[-1] / step)) * step
    which = np.searchsorted(ends, time, side="right").clip(0, len(pieces) - 1)
    net, idle, coolant, cuts, rpm = (np.array([piece[k] for piece in pieces], float)[which] for k in range(1, 6))
    from scipy.signal import lfilter

    share = -np.expm1(-step / scene.lag)
    lagged = lfilter([share], [1, share - 1], np.concatenate((net[1:], net[-1:])))
    slow = np.interp(time, time[:: max(1, len(time) // 60)], random.standard_normal(len(time[:: max(1, len(time) // 60)])))
    power = np.where(idle > 0, lagged + idle + scene.coolant * coolant, 0.0)
    running = idle > 0
    starting = np.flatnonzero(np.diff(running.astype(int)) == 1)
    for place in starting:
        behind = time[place:] - time[place]
        power[place:] += np.where(running[place:], 2.5 * scene.idle * np.exp(-behind / 0.6), 0)
    power += (scene.noise * random.standard_normal(len(time)) + scene.wander * slow) * np.where(running, 1, 0.1)
    power = np.minimum(power, scene.ceiling)
    if scene.step:
        power = np.round(power / scene.step) * scene.step
    for _ in range(scene.dropped):
        place = random.integers(len(time))
        power[place : place + int(random.uniform(0.2, 2) * scene.rate) + 1] = 0.0
    return Log(scene, time, power, rpm, cuts, nets, starts)


def pattern(name: str, seconds: float = 900, rate: float = 10.0) -> tuple[np.ndarray, np.ndarray]:
    """Time and values of something that is no grinding."""
    random = np.random.default_rng(5)
    time = np.arange(0, seconds, 1 / rate)
    count = len(time)
    values = {
        "constant": lambda: np.full(count, 1.3),
        "noise": lambda: 1 + 0.1 * random.standard_normal(count),
        "wander": lambda: 5 + 0.02 * np.cumsum(random.standard_normal(count)),
        "rising saw": lambda: 1 + time % 31 / 31 + 0.01 * random.standard_normal(count),
        "falling saw": lambda: 2 - time % 31 / 31 + 0.01 * random.standard_normal(count),
        "triangle": lambda: 1 + np.abs(time % 30 - 15) / 15 + 0.01 * random.standard_normal(count),
        "slow sine": lambda: 2 - np.cos(2 * np.pi * time / 30),
        "sine with noise": lambda: 2 - np.cos(2 * np.pi * time / 47) + 0.04 * random.standard_normal(count),
        "cut off sine": lambda: 1 + np.maximum(0, np.sin(2 * np.pi * time / 40)) + 0.01 * random.standard_normal(count),
        "bells": lambda: 1 + np.exp(-0.5 * ((time % 40 - 20) / 6) ** 2) + 0.01 * random.standard_normal(count),
        "slow ramps": lambda: (
            1 + np.clip(np.minimum(time % 40 / 11, (36 - time % 40) / 11), 0, 1) + 0.01 * random.standard_normal(count)
        ),
        "spindle on and off": lambda: _on_and_off(random, time),
        "random steps": lambda: (
            1 + np.repeat(random.integers(0, 3, count // 150 + 1), 150)[:count] + 0.02 * random.standard_normal(count)
        ),
        "line": lambda: 1 + time / seconds,
    }[name]()
    return time, values


NO_GRINDING = (
    "constant",
    "noise",
    "wander",
    "rising saw",
    "falling saw",
    "triangle",
    "slow sine",
    "sine with noise",
    "cut off sine",
    "bells",
    "slow ramps",
    "spindle on and off",
    "random steps",
    "line",
)


def _on_and_off(random, time: np.ndarray) -> np.ndarray:
    """A milling spindle in soft work: off or idle for times of any length, with a peak at each start."""
    power, at = np.zeros(len(time)), 0.0
    while at < time[-1]:
        on, off = random.exponential(14) + 1, random.exponential(4) + 0.5
        inside = (time >= at) & (time < at + on)
        power[inside] = 0.18 + 0.12 * np.exp(-(time[inside] - at) / 0.3) + 0.005 * random.standard_normal(inside.sum())
        at += on + off
    return power


def _joined(rows, delimiter: str) -> str:
    return "\n".join(delimiter.join(row) for row in rows) + "\n"


def _comma(value: float, digits: int) -> str:
    return f"{value:.{digits}f}".replace(".", ",")


def _stamps(log: Log) -> list[datetime]:
    return [BEGIN + timedelta(seconds=round(float(second), 3)) for second in log.time]


def _seconds(log: Log) -> str:
    return "time [s],power [kW]\n" + _joined([(f"{t:.3f}", f"{p:.4f}") for t, p in zip(log.time, log.power)], ",")


def _decimal_comma(log: Log) -> str:
    return "Zeit [s];Leistung [kW]\n" + _joined([(_comma(t, 2), _comma(p, 4)) for t, p in zip(log.time, log.power)], ";")


def _milliseconds(log: Log) -> str:
    return "time [ms]\tspindle power [W]\n" + _joined(
        [(str(round(t * 1000)), f"{p * 1000:.1f}") for t, p in zip(log.time, log.power)], "\t"
    )


def _iso(log: Log) -> str:
    return "timestamp,power (kW)\n" + _joined(
        [(s.isoformat(timespec="milliseconds") + "Z", f"{p:.4f}") for s, p in zip(_stamps(log), log.power)], ","
    )


def _german_stamps(log: Log) -> str:
    rows = [(f"{s:%d.%m.%Y %H:%M:%S},{s.microsecond // 1000:03d}", _comma(p, 4)) for s, p in zip(_stamps(log), log.power)]
    return "Datum/Zeit;Spindelleistung in kW\n" + _joined(rows, ";")


def _date_and_time(log: Log) -> str:
    rows = [(f"{s:%m/%d/%Y}", f"{s:%I:%M:%S.%f %p}", f"{p:.4f}") for s, p in zip(_stamps(log), log.power)]
    return "Date,Time,Spindle power\n,,kW\n" + _joined(rows, ",")


def _clock(log: Log) -> str:
    return "time;power [kW]\n" + _joined([(f"{s:%H:%M:%S.%f}"[:-4], f"{p:.4f}") for s, p in zip(_stamps(log), log.power)], ";")


def _whole_seconds(log: Log) -> str:
    return "time;power [kW]\n" + _joined([(f"{s:%Y-%m-%d %H:%M:%S}", f"{p:.4f}") for s, p in zip(_stamps(log), log.power)], ";")


def _ticks(log: Log) -> str:
    return "time;power [kW]\n" + _joined(
        [(str(134_200_000_000_000_000 + round(t * 1e7)), f"{p:.4f}") for t, p in zip(log.time, log.power)], ";"
    )


def _rows_only(log: Log) -> str:
    head = f"Trial log, invented\nstart;04.03.2026\ninterval;{_comma(1 / log.scene.rate, 3)} s\ncount;{len(log.time)}\n"
    names = "No;Spindle power;Work rpm\nType;REAL;REAL\nUnit;kW;1/min\n"
    rows = [(str(k), _comma(p, 4), _comma(r, 1)) for k, (p, r) in enumerate(zip(log.power, log.rpm), 1)]
    return head + names + _joined(rows, ";") + "EOF\n"


def _rate_in_the_name(log: Log) -> str:
    return f"Power ({log.scene.rate:g} Hz) [kW]\n" + _joined([(f"{p:.4f}",) for p in log.power], ",")


def _time_for_each(log: Log) -> str:
    rows = []
    for k, (t, p) in enumerate(zip(log.time, log.power)):
        slow = 10 * k
        rpm = (_comma(log.time[slow], 2), _comma(log.rpm[slow], 1)) if slow < len(log.time) else ("", "")
        rows.append((_comma(t, 2), _comma(p, 4), *rpm))
    return "t1 [s];power [kW];t2 [s];work rpm\n" + _joined(rows, ";")


def _blank_between(log: Log) -> str:
    rows = [
        (f"{t:.2f}", f"{p:.4f}", f"{r:g}" if k % 20 == 0 else "") for k, (t, p, r) in enumerate(zip(log.time, log.power, log.rpm))
    ]
    return "time [s],power [kW],work rpm [1/min]\n" + _joined(rows, ",")


def _mean_of_interval(log: Log) -> str:
    rows = [(f"{t:.2f}", f"{p - 0.1:.4f}", f"{p + 0.2:.4f}", f"{p:.4f}") for t, p in zip(log.time, log.power)]
    return "time [s],power min [kW],power max [kW],power mean [kW]\n" + _joined(rows, ",")


def _quoted(log: Log) -> str:
    return '"time [s]","power [kW]"\n' + _joined(
        [(f'"{_comma(t, 2)}"', f'"{_comma(p, 4)}"') for t, p in zip(log.time, log.power)], ","
    )


def _blanks_between_columns(log: Log) -> str:
    return "# invented\ntime power\ns kW\n" + _joined([(f"{t:9.2f}", f"{p:10.4f}") for t, p in zip(log.time, log.power)], "  ")


def _words_for_missing(log: Log) -> str:
    rows = [(f"{t:.2f}", f"{p:.4f}" if k % 40 else "n/a") for k, (t, p) in enumerate(zip(log.time, log.power))]
    return "time [s],power [kW]\n" + _joined(rows, ",")


DIALECTS: dict[str, Callable[[Log], str]] = {
    "seconds": _seconds,
    "decimal comma": _decimal_comma,
    "milliseconds and watts": _milliseconds,
    "ISO stamps": _iso,
    "stamps with day first": _german_stamps,
    "date and time apart, units in a row": _date_and_time,
    "clock over midnight": _clock,
    "stamps of whole seconds": _whole_seconds,
    "ticks since 1601": _ticks,
    "rows and interval above": _rows_only,
    "rate in the name": _rate_in_the_name,
    "a time for each channel": _time_for_each,
    "slow channel with blanks": _blank_between,
    "least, highest and mean": _mean_of_interval,
    "decimal comma in quotes": _quoted,
    "blanks between columns": _blanks_between_columns,
    "words for missing values": _words_for_missing,
}


def write(log: Log, path: Path, dialect: str = "seconds", encoding: str = "utf-8") -> Path:
    path.write_bytes(DIALECTS[dialect](log).encode(encoding))
    return path


def swept(
    seed: int,
    points: tuple[float, ...],
    infeed: float,
    knee_rpm: float,
    fall: float = 0.5,
    lag: float = 0.8,
    late: float = 0.0,
    shape: str = "knee",
    noise: float = 0.02,
    slow: float = 0.01,
    drift: float = 0.03,
    bowl: float = 0.01,
    rate: float = 10.0,
    has_channel: bool = False,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time, power and work rpm of one part while whose infeed the rpm is swept; the sweep begins `late` [s] behind contact.

    `noise`, `slow` (wandering at 1 to 60 s), `drift` along the part and its `bowl` are standard deviations as shares of net.
    """
    from scipy.signal import lfilter

    random = np.random.default_rng(seed)
    step, before, behind = 1 / rate, 15.0, 20.0
    time = np.arange(0, before + infeed + behind, step)
    since = time - before
    rpm = np.interp(since - late, np.linspace(0, infeed, len(points)), points)
    depth, least = (rpm / knee_rpm) ** 0.25, (min(points) / knee_rpm) ** 0.25
    below = {
        "knee": np.maximum(0, 1 - depth) / (1 - least),
        "level": 0 * depth,
        "straight": (depth.max() - depth) / (depth.max() - least),
        "power law": (least / depth) ** 2,
    }[shape]
    cuts = (since >= 0) & (since < infeed)

    def lagged(values: np.ndarray, seconds: float) -> np.ndarray:
        share = -np.expm1(-step / seconds)
        return lfilter([share], [1, share - 1], values)

    net = lagged(2.0 * (1 + fall * below) * cuts, lag)
    warm = 600
    wander = sum(
        lagged(random.standard_normal(len(time) + warm) * (2 * seconds / step) ** 0.5, seconds)[warm:]
        for seconds in (1, 4, 16, 60)
    )
    course = since / infeed - 0.5
    along = drift * random.standard_normal() * course + bowl * random.standard_normal() * (4 * course**2 - 1 / 3)
    power = 1.1 + net * (1 + along + slow * wander / 2) + noise * 2.0 * random.standard_normal(len(time))
    return time, power, rpm
