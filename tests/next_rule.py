"""The rule of the next reading once more, from its description (docs/next-reading.md), for depth as the fourth root of the rpm.

Verdicts are those of `find_knee`, which knee_rule.py computes again.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from math import ceil, floor, inf, log10, sqrt

import numpy as np
from knee_rule import corner_fit, line_fit
from scipy.stats import norm

DEPTH_AT_1 = 0.4


def depth(rpm):
    return DEPTH_AT_1 * rpm**0.25


def settable(rpm, low, high, step):
    unit = Decimal(10) ** (floor(log10(step)) - 1)
    for rounding in (ROUND_HALF_EVEN, ROUND_CEILING, ROUND_FLOOR):
        value = float((Decimal(rpm) / unit).quantize(Decimal(1), rounding) * unit)
        if low <= value <= high:
            return value
    return min(max(rpm, low), high)


def reach(machine, rpms, energies, corner):
    """(lowest rpm, highest rpm, why no slower or None, why no faster or None)"""
    step = machine.nominal * machine.step_percent / 100
    slowest, fastest = min(rpms), max(rpms)
    ends = [
        ("the machine's lowest rpm", machine.lowest) if machine.lowest else ("60 % from nominal", 0.4 * machine.nominal),
        ("the machine's highest rpm", machine.highest) if machine.highest else ("60 % from nominal", 1.6 * machine.nominal),
    ]
    at_slowest = [u for rpm, u in zip(rpms, energies) if rpm == slowest]
    if np.mean(at_slowest) / min(energies) >= 1.5:
        ends[0] = ("1.5 times the lowest", slowest)
    if (1.5 * corner / DEPTH_AT_1) ** 4 < ends[1][1]:
        ends[1] = ("1.5 times the depth of the knee", (1.5 * corner / DEPTH_AT_1) ** 4)
    low, high = max(ends[0][1], slowest - min(step, 0.2 * slowest)), min(ends[1][1], fastest + step)
    slower, faster = slowest - low > step / 4, high - fastest > step / 4
    return (
        max(machine.lowest or 0, settable(low, low, slowest, step) if slower else slowest),
        min(machine.highest or inf, settable(high, fastest, high, step) if faster else fastest),
        None if slower else ends[0][0],
        None if faster else ends[1][0],
    )


def variance(depths, corner):
    left = np.array([h for h in depths if h < corner])
    if len(left) < 2 or len(left) == len(depths):
        return 1e3
    squares = left.var() * len(left)
    lever = (corner - left.mean()) ** 2
    return 1e3 if 1e3 * squares <= lever else min(1e3, 1 / len(left) + 1 / (len(depths) - len(left)) + lever / squares)


def possible_corners(corner, knee):
    if not is_bracketed(knee):
        return [corner]
    return [corner, knee.scatter_low, (knee.scatter_low + knee.scatter_high) / 2, knee.scatter_high]


def is_bracketed(knee):
    return knee.verdict in ("found", "not resolved") and knee.scatter_high is not None


def narrowness(depths, corners, rpm):
    """Mean logarithm of the corner's variance with a reading at this rpm."""
    return np.mean([np.log(variance([*depths, depth(rpm)], corner)) for corner in corners])


def corner_of(depths, energies):
    """Corner of the best hinge; of a straight line the highest depth, of a level one the lowest."""
    h, u = np.array(depths), np.array(energies)
    if len(set(depths)) == 1 or not (fit := corner_fit(h, u, 0.0)):
        return min(depths)
    spread, (slope, squares) = ((u - u.mean()) ** 2).sum(), line_fit(h, u)
    if squares <= fit[0] + 1e-12 * spread and slope < 0:
        return max(depths)
    return fit[1] if fit[0] < spread * (1 - 1e-12) else min(depths)


def widening(knee, noise):
    """How much wider than computed the interval is taken, for scatter that came out small by luck."""
    freedom = knee.n_readings - 3
    k = 2 / (9 * freedom)  # Wilson and Hilferty's chi-squared quantile
    bound = sqrt(knee.sse / freedom / (1 - k + norm.ppf(0.2) * sqrt(k)) ** 3) / knee.level
    return 1.0 if noise else max(1.0, bound / knee.noise)


def rule(machine, rpms, energies, find, noise, wanted):
    """(rpm or None for a stop, words of the reason with * for what lies between, readings to come or None, verdict so far), after a reading.

    `find` gives the verdict on energies, drift aside.
    """
    knee, n, u = find(energies), len(rpms), np.array(energies)
    if knee.verdict == "too few readings":
        return *plain_rule(machine, rpms, energies, energies, knee, noise, wanted, 0), knee
    level = knee.level or u.min()
    scatter = level * np.clip(knee.noise, 0.01, 0.05)
    squares, products = within_repeats(np.array([depth(rpm) for rpm in rpms]), u)
    posterior = squares / scatter**2 + 1 / (0.004 * level) ** 2
    centre, deviation = products / scatter**2 / posterior, posterior**-0.5

    def without(drift):
        return list(u - drift * (np.arange(n) - (n - 1) / 2))

    knee = find(without(centre))
    rpm, why, more = plain_rule(machine, rpms, energies, without(centre), knee, noise, wanted, 1)
    found, falling = why.startswith("knee found"), why.startswith("still falling") and rpm is None and n < 30
    if found or falling:
        ends = [find(without(centre + side * 1.64 * deviation)) for side in (-1, 1)]
        if found and squares >= n**2 / 8:
            ends += [find(without(centre + side * 0.5 * deviation)) for side in (-1, 1)]
        elif found:
            ends.append(find(energies))
        allowed = ("found",) if found else ("still falling", "already level")
        corners = [depth(machine.nominal)] if falling else [knee.knee, *stated(knee, noise, rpms)]
        if not all(end.verdict in allowed for end in ends):
            rpm, why, more = repeat_for_drift(machine, rpms, energies, corners, "drift could have made this verdict")
        elif found:
            low, high = min(corners[1], *(end.low for end in ends)), max(corners[2], *(end.high for end in ends))
            knee = replace(knee, low=low, high=high)
            why = f"knee found within ±{100 * (high - low) / 2 / knee.knee:.2g} %"
            if (high - low) / 2 > wanted * knee.knee:
                rpm, why, more = repeat_for_drift(machine, rpms, energies, corners, "drift leaves the knee less sure than wanted")
    if squares and abs(products / squares) > 2 * scatter / sqrt(squares):
        why += f"*; the readings drift by {100 * products / squares / level:+.2g} % of the level"
    return rpm, why, more, knee


def within_repeats(h, u):
    """Sums of squares of time and of its products with energy, within the depths that were read more than once."""
    squares, products, fit = 0.0, 0.0, corner_fit(h, u, 0.0)
    line = line_fit(h, u)
    if fit and line[0] < 0 and line[1] <= fit[0] + 1e-12 * ((u - u.mean()) ** 2).sum():
        fitted = line[0] * h
    else:
        fitted = fit[3] * np.maximum(0, fit[1] - h) if fit else 0 * h
    kept = spaced(sorted(set(h)))
    for place, end in zip(kept, [*kept[1:], inf]):
        times = np.flatnonzero((h >= place) & (h < end))
        squares += ((times - times.mean()) ** 2).sum()
        products += ((times - times.mean()) * (u - fitted)[times]).sum()
    return squares, products


def repeat_for_drift(machine, rpms, energies, corners, why):
    """What to read again where drift could have made the verdict."""
    n, low, high, _, _ = len(rpms), *reach(machine, rpms, energies, corner_of([depth(rpm) for rpm in rpms], energies))
    h, tells = np.array([depth(rpm) for rpm in rpms]), {}
    kept = spaced(sorted(set(h)))
    for place, end in zip(kept, [*kept[1:], inf]):
        times = np.flatnonzero((h >= place) & (h < end))
        if low <= rpms[times[0]] <= high:
            tells[rpms[times[0]]] = np.var([*times, n]) * (len(times) + 1) - np.var(times) * len(times)
    if n >= 30 or not tells:
        return None, f"{n} readings, and {why}", None
    enough = [rpm for rpm in rpms if rpm in tells and tells[rpm] >= max(tells.values()) / 2]
    rpm = min(enough, key=lambda rpm: narrowness([depth(each) for each in rpms], corners, rpm))
    return rpm, f"repeat {'nominal' if rpm == machine.nominal else f'{rpm:.6g} rpm'}: {why}", 1


def stated(knee, noise, rpms):
    """The interval at a stop, drift aside."""
    wider, depths = widening(knee, noise), [depth(rpm) for rpm in rpms]
    return max(min(depths), knee.knee - wider * (knee.knee - knee.low)), min(
        max(depths), knee.knee + wider * (knee.high - knee.knee)
    )


def plain_rule(machine, rpms, energies, flat, knee, noise, wanted, repeats):
    """(rpm or None for a stop, words of the reason, readings to come or None) without the last look for drift; `flat` are the energies without it."""
    depths, n, step = [depth(rpm) for rpm in rpms], len(rpms), machine.nominal * machine.step_percent / 100
    corner, places = corner_of(depths, flat), sorted(set(depths))
    low, high, why_not_slower, why_not_faster = reach(machine, rpms, energies, corner_of(depths, energies))
    too_wide = None
    if knee.verdict == "found" and knee.noise is not None:
        too_wide = widening(knee, noise) * (knee.high - knee.low) / 2 / (wanted * knee.knee)
        if too_wide <= 1:
            return None, "knee found within", None
    if n >= 30:
        return None, f"30 readings, and {knee.verdict}", None
    if low > high:
        return None, "no rpm within the machine's limits", None
    if not low <= machine.nominal <= high:
        return min(max(machine.nominal, low), high), "go toward nominal", None
    if not min(rpms) <= machine.nominal <= max(rpms):
        return machine.nominal, "start at nominal", None
    if (
        knee.verdict == "not resolved"
        and knee.suspect is not None
        and rpms.count(rpms[knee.suspect]) < 3
        and low <= rpms[knee.suspect] <= high
    ):
        return rpms[knee.suspect], f"repeat reading {knee.suspect + 1}: out of line", None
    if knee.verdict == "not resolved" and knee.advice.startswith("dress the wheel"):
        if rpms.count(machine.nominal) < 3:
            return machine.nominal, "repeat nominal: the readings rise", None
        if n >= 15:
            return None, "dress the wheel", None
    for verdict, end, why, way in (
        ("still falling", max(rpms), why_not_faster, "faster"),
        ("already level", min(rpms), why_not_slower, "slower"),
    ):
        if knee.verdict == verdict and why:
            if rpms.count(end) < 3 and low <= end <= high:
                return end, f"repeat {end:.6g} rpm: {verdict}", None
            return None, f"{verdict}, and not to go {way}: *{why}", None
    if why_not_slower and why_not_faster and len(set(rpms)) == 1:
        return None, "no room", None
    missing = max(0, (corner / DEPTH_AT_1) ** 4 + 3 * step - max(rpms)) + max(
        0, min(rpms) - (corner / DEPTH_AT_1) ** 4 + 3 * step
    )
    steps = None if n < 3 else min(30 - n, repeats + max(1, 6 - n, round(missing / step)))
    if is_bracketed(knee):
        counted = spaced(places)
        if knee.scatter_low <= counted[1] and not why_not_slower:
            return low, "go slower: too few depths below", steps
        if knee.scatter_high > counted[-2] and not why_not_faster:
            return high, "go faster: too few depths beyond", steps
    else:
        first, last = places[0], places[-1]
        if n < 3:
            slower, why = max(rpms) > machine.nominal, "both sides in turn"
        elif knee.verdict in ("still falling", "already level"):
            slower = knee.verdict == "already level"
            why = "fall not seen yet" if slower else "level not seen yet"
        else:
            slower = corner - first < last - corner
            why = (
                ("fall not seen yet" if corner == first else "nearer to the slow end")
                if slower
                else ("level not seen yet" if corner == last else "nearer to the fast end")
            )
        if why_not_slower if slower else why_not_faster:
            why = f"a wider range shows more; not {'slower' if slower else 'faster'}, *{why_not_slower if slower else why_not_faster}"
            slower = not slower
        if not (why_not_slower if slower else why_not_faster):
            return (low, f"go slower: *{why}", steps) if slower else (high, f"go faster: *{why}", steps)
    if len(spaced(places)) < 5:
        rungs = sorted(set(rpms))
        gap = max(range(len(rungs) - 1), key=lambda i: (rungs[i + 1] - rungs[i], -i))
        between = rungs[gap : gap + 2]
        return (
            settable(sum(between) / 2, *between, step),
            f"between {between[0]:.6g} and {between[1]:.6g} rpm: a knee needs 5 depths",
            None,
        )
    grid = [
        settable(machine.nominal + k * step, low, high, step)
        for k in range(ceil(-machine.nominal / step), 3 + floor(high / step))
    ]
    choice = sorted({rpm for rpm in [*rpms, *grid, low, high] if low <= rpm <= high})
    rpm = min(choice, key=lambda rpm: narrowness(depths, possible_corners(corner, knee), rpm))
    return (
        rpm,
        f"{where(rpm, rpms, machine.nominal)}: narrows the knee most",
        None if too_wide is None else min(30 - n, repeats + max(1, ceil(n * (too_wide - 1)))),
    )


def where(rpm, rpms, nominal):
    if rpm in rpms:
        return "repeat nominal" if rpm == nominal else f"repeat {rpm:.6g} rpm"
    if not min(rpms) < rpm < max(rpms):
        return "go slower" if rpm < min(rpms) else "go faster"
    return f"between {max(each for each in rpms if each < rpm):.6g} and {min(each for each in rpms if each > rpm):.6g} rpm"


def spaced(places):
    """The depths that count as different: more than 2 % of the range apart."""
    kept = places[:1]
    for place in places:
        if place - kept[-1] > 0.02 * (places[-1] - places[0]):
            kept.append(place)
    return kept
