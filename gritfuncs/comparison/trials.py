"""`compare_trials`: what makes trials comparable, and the differences between them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from datetime import date, datetime
from math import exp, log, sqrt
from typing import Any

from ..knee.confirm import BETWEEN_PARTS, NORMAL_95
from ..knee.quantiles import t_quantile
from ..quantities import QUANTITIES, SIDE_WORDS
from ..refused import Refused
from ..trial import Trial
from ..trial.readings import MICROMETRE
from ..trial.rows import one_line
from ..values import items_of, shown
from .estimate import TWO_SIDED, Estimate, difference, knee_estimate, level_estimate, ratio
from .result import DIFFERENT, SAME, SMALL, Comparison, Difference, Drift

# Two trials of one wheel may differ by so much, as a share of the knee, from part to part and dressing to dressing.
USUAL = NORMAL_95 * sqrt(2) * BETWEEN_PARTS
# Convention: values of C r and of setups are typed with about so many figures.
EQUAL = 1e-3
MONTH = 30  # days
ENERGY = QUANTITIES["specific_energy"].unit
TOLD = "say same_wheel=True (--same-wheel) if it is"


def compare_trials(
    *trials: Trial, same_wheel: bool = False, names: Iterable[str] | None = None, dates: Iterable[Any] | None = None
) -> Comparison:
    """Compare the knees and levels of trials with the first one, and say whether they can be the same wheel behaviour.

    The interval of a difference comes from the stated intervals of the two knees, by square-and-add (MOVER; Zou and Donner,
    Statistics in Medicine 27, 2008, 1693); that of a ratio in the same way from their logarithms.  By simulation it holds the
    true difference in 97 of 100 comparisons or more for sharp corners at 1 to 3 % scatter: it leans to the wide side.
    A level has the interval t s/√n of the n readings beyond the knee, joined with that of their mean beyond the knee's interval,
    because rounded curves lift those next to the knee; levels compare as specific energies only.

    The answer is `can be the same` where the intervals hold no difference, `differ a little` where only the knees differ, by no
    more than 5.5 %, as two trials of one wheel may (a convention: 2 % each, from part to part), else `differ`.  Of simulated
    trials that are the same 1 to 2 of 100 pairs were called `differ`.

    Parameters
    ----------
    trials : at least two, as read_trial gives them, each with a knee that was found
    same_wheel : True where all are known to be one wheel (without setups: in one setup).  Depths under another C r are then
        converted, h goes with 1/√(C r); without it such trials are refused, as are those whose C r is not known
    names : what to call the trials; their files where not given
    dates : the day of each trial, as a date or "2026-11-05"; those that the files state where not given.  With two days or more
        the change of the knee over time is given

    Raises
    ------
    ValueError
        For a trial without a knee, and depths that do not compare; one line says which.
    """
    if len(trials) < 2 or not all(isinstance(trial, Trial) for trial in trials):
        got = f"{len(trials)}" if all(isinstance(trial, Trial) for trial in trials) else shown(trials)
        raise Refused("trials", "be at least two, as read_trial gives them", got)
    called = _names(trials, names)
    days = _days(trials, dates)
    knees = _knees(trials, called)
    factors = _factors(trials, called, same_wheel)
    measured = [knee.times(factor) for knee, factor in zip(knees, factors)]
    levels = [level_estimate(trial.knee, trial.depths, trial.energies) for trial in trials]
    differences = [_difference(called[number], trials, number, measured, levels) for number in range(1, len(trials))]
    return Comparison(
        tuple(trials),
        called,
        tuple(measured),
        tuple(levels),
        tuple(factors),
        days,
        tuple(differences),
        _drift(measured, days),
        tuple(_remarks(trials, called, factors)),
    )


def _names(trials: tuple[Trial, ...], names: Iterable[str] | None) -> tuple[str, ...]:
    given = [trial.source for trial in trials] if names is None else items_of(names)
    if given is None or len(given) != len(trials) or not all(isinstance(name, str) and name.strip() for name in given):
        raise Refused("names", f"be {len(trials)} texts, one for each trial", shown(names))
    called = [one_line(name, 60) for name in given]
    return tuple(name if called.count(name) == 1 else f"{name} ({number})" for number, name in enumerate(called, 1))


def _days(trials: tuple[Trial, ...], dates: Iterable[Any] | None) -> tuple[date | None, ...]:
    if dates is None:
        return tuple(trial.date for trial in trials)
    given = items_of(dates)
    if given is None or len(given) != len(trials):
        raise Refused("dates", f"be {len(trials)} days, one for each trial", shown(dates))
    return tuple(map(_day, given))


def _day(value: Any) -> date:
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    try:
        return date.fromisoformat(value.strip())
    except (AttributeError, ValueError):
        raise Refused("dates", "be days written as 2026-11-05", shown(value)) from None


def _knees(trials: tuple[Trial, ...], names: tuple[str, ...]) -> list[Estimate]:
    found = [knee_estimate(trial.knee) for trial in trials]
    lacking = [f"'{trial.knee.verdict}' in {name}" for trial, name, knee in zip(trials, names, found) if knee is None]
    if lacking:
        raise Refused("trials", "each have a knee that was found, to be compared", " and ".join(lacking))
    return [knee for knee in found if knee is not None]


def _kind(trial: Trial) -> str:
    """What the depths of a trial are."""
    if trial.depth_given:
        return "as the file gives them"
    return "from a setup" if trial.setup is not None else "relative"


def _factors(trials: tuple[Trial, ...], names: tuple[str, ...], same_wheel: bool) -> list[float]:
    """What the depths of each trial are multiplied with to be those of the first one's measure; Refused where none is known."""
    first, kinds = trials[0], [_kind(trial) for trial in trials]
    for name, kind in zip(names, kinds):
        if kind != kinds[0]:
            got = f"{kinds[0]} in {names[0]}, {kind} in {name}"
            raise Refused("depths", "be of one kind in all trials to be compared", got, hint="give each trial its setup")
    if kinds[0] == "from a setup":
        products = [trial.setup.grit_density * trial.setup.shape_ratio for trial in trials]  # type: ignore[union-attr]
        for name, product in zip(names, products):
            if abs(product - products[0]) > EQUAL * products[0] and not same_wheel:
                got = f"{products[0]:.4g} 1/mm² in {names[0]}, {product:.4g} 1/mm² in {name}"
                raise Refused("C r", "be the same in trials whose depths are compared, as of one wheel", got, hint=TOLD)
        return [sqrt(product / products[0]) for product in products]
    if not same_wheel:
        unknown = "the prefactor and C r of depths that stand in a file" if first.depth_given else "C r and setup"
        raise Refused("trials", f"be of one wheel in one setup, because {unknown} are not known", names[0], hint=TOLD)
    if first.depth_given:
        return [1.0] * len(trials)
    rpms = [trial.rpm_for(1.0) for trial in trials]
    for name, rpm in zip(names, rpms):
        if rpm is None:
            raise Refused(name, "have one work rpm to each relative depth, to be compared")
    return [(rpm / rpms[0]) ** 0.25 for rpm in rpms if rpm is not None and rpms[0] is not None]


def _difference(
    name: str, trials: tuple[Trial, ...], number: int, knees: list[Estimate], levels: list[Estimate | None]
) -> Difference:
    knee_ratio = ratio(knees[number], knees[0])
    in_um = trials[0].depth_unit == MICROMETRE
    mine, firsts = levels[number], levels[0]
    level_ratio, why = None, ""
    units = [trial.energy_unit for trial in (trials[0], trials[number])]
    if units != [ENERGY, ENERGY]:
        why = f"they are {' and '.join(dict.fromkeys(units))}, and only specific energies compare from trial to trial"
    elif mine is None or firsts is None:
        why = "a level is not known well enough"
    else:
        level_ratio = ratio(mine, firsts)
    word, reason = _word(knee_ratio, level_ratio)
    apart = difference(knees[number], knees[0]) if in_um else None
    return Difference(name, word, reason, knee_ratio, apart, level_ratio, why)


def _word(knee: Estimate, level: Estimate | None) -> tuple[str, str]:
    if level is not None and not level.holds(1.0):
        also = "" if knee.holds(1.0) else ", and so do the knees"
        return DIFFERENT, f"the levels differ beyond scatter{also}"
    if knee.holds(1.0):
        unseen = max(knee.high - 1, 1 - knee.low)
        return SAME, f"no difference beyond scatter; one of the knees of up to {100 * unseen:.2g} % would not show"
    nearest = min(abs(log(knee.low)), abs(log(knee.high)))
    if nearest <= USUAL:
        return (
            SMALL,
            f"the knees differ beyond scatter, by no more than two trials of one wheel may ({100 * USUAL:.2g} %, a convention)",
        )
    return DIFFERENT, "the knees differ by more than two trials of one wheel do"


def _drift(knees: list[Estimate], days: tuple[date | None, ...]) -> Drift | None:
    """The line of the logarithms of the knees over days, each weighed by its interval; no surer than they fit it."""
    known = [(day.toordinal(), knee) for day, knee in zip(days, knees) if day is not None]
    first, last = min((day for day, _ in known), default=0), max((day for day, _ in known), default=0)
    if len(known) < len(knees) or first == last:
        return None
    points = [(day, log(knee.value), (log(knee.high) - log(knee.low)) / 2 / NORMAL_95) for day, knee in known]
    if not all(error > 0 for _, _, error in points):
        return None
    weights = [error**-2 for _, _, error in points]
    total = sum(weights)
    x, y = (sum(weight * point[place] for weight, point in zip(weights, points)) / total for place in (0, 1))
    spread = sum(weight * (point[0] - x) ** 2 for weight, point in zip(weights, points))
    slope = sum(weight * (point[0] - x) * (point[1] - y) for weight, point in zip(weights, points)) / spread
    squares = sum(weight * (point[1] - y - slope * (point[0] - x)) ** 2 for weight, point in zip(weights, points))
    half, freedom = NORMAL_95 / sqrt(spread), len(points) - 2
    if freedom and squares / freedom > 1:  # the trials scatter about the line by more than their intervals say
        half = t_quantile(TWO_SIDED, freedom) * sqrt(squares / freedom / spread)
    change = [MONTH * (slope + shift) for shift in (0.0, -half, half)]
    if max(map(abs, change)) > _LARGEST:
        return None  # days that are too near to one another to say anything of a month
    return Drift(last - first, Estimate(*map(exp, change)), not change[1] <= 0 <= change[2])


_LARGEST = log(1e6)


def _remarks(trials: tuple[Trial, ...], names: tuple[str, ...], factors: list[float]) -> list[str]:
    checks = [f"{name}: {check}" for name, trial in zip(names, trials) for check in trial.checks]
    told = []
    for name, factor in zip(names, factors):
        if abs(factor - 1) > EQUAL / 2:
            told.append(f"Depths of {name} are multiplied by {factor:.4g}, to be those of {names[0]}.")
    if trials[0].setup is not None and all(trial.setup is not None for trial in trials):
        firsts = asdict(trials[0].setup)
        for trial, name in zip(trials[1:], names[1:]):
            for word, value in asdict(trial.setup).items():  # type: ignore[call-overload]
                if word not in ("grit_density", "shape_ratio") and not _is_equal(value, firsts[word]):
                    shown, firsts_shown = (_shown(word, each) for each in (value, firsts[word]))
                    told.append(f"{QUANTITIES[word].label} differs: {firsts_shown} and {shown} in {name}.")
    if len(trials) > 2:
        told.append("Each interval holds by itself; of many comparisons some miss.")
    return checks + [sentence[0].upper() + sentence[1:] for sentence in told]


def _is_equal(one: float | None, other: float | None) -> bool:
    """Whether two values of a setup are the same, as they are typed."""
    return one == other if one is None or other is None else abs(one - other) <= EQUAL * abs(other)


def _shown(word: str, value: float | None) -> str:
    if word == "side":
        return next(side for side, number in SIDE_WORDS.items() if number == value)
    return "not known" if value is None else f"{value:.6g}"
