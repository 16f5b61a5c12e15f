"""The hard cases on the page of evidence: what the knee's verdict does where trials are not kind, over simulated trials."""

from __future__ import annotations

import random
from math import exp, log
from statistics import mean
from typing import NamedTuple

from sheet_rule import answer

from gritfuncs.knee import FOUND, find_knee, knee_of_trial
from gritfuncs.planning import ALTERNATING, OUT_AND_BACK, plan_trial

from . import drifting
from .hard_trials import SHAPES, WITH_KNEE, trial
from .knee_tables import percent

TRIALS = 300  # a cell of the tables of whole trials
SEQUENTIAL_TRIALS = 60  # a cell of the table of trials taken reading by reading
SEEN_TRIALS = 250  # of each scatter, range of rpm and shape, for the table by what the readings show
NOISES = (0.01, 0.02, 0.03)


class Case(NamedTuple):
    """A kind of whole trial with 8, 10 or 12 readings at even depths in random order, and what differs from a kind one."""

    name: str
    shape: str = "hinge"
    rpm: tuple[float, float] = (0.4, 1.6)  # lowest and highest, of nominal; or infeed rates
    place: tuple[float, float] = (0.3, 0.7)  # of the knee within the depths
    spoiled: float = 0.0  # one reading is off by this share
    constant_power: bool = False  # scatter of the power is constant, so that of the energy goes with 1/removal rate
    noises: tuple[float, ...] = NOISES

    def trial(self, noise, number):
        """(true knee or None, depths, energies)"""
        draw = random.Random(f"hard tables, {self.name}, {noise}, {number}")
        low, high = (rpm**0.25 for rpm in self.rpm)
        place = draw.uniform(*self.place)
        knee = low + (high - low) * (place if draw.random() < 0.5 else 1 - place)
        energy = SHAPES[self.shape](draw, knee, exp(draw.uniform(log(1.5), log(4.0))), low, high)
        count = draw.choice((8, 10, 12))
        depths = [low + (high - low) * step / (count - 1) for step in range(count)]
        draw.shuffle(depths)
        energies = [energy(h) + noise * (h**-4 if self.constant_power else energy(h)) * draw.gauss(0, 1) for h in depths]
        if self.spoiled:
            energies[draw.randrange(count)] *= 1 + self.spoiled * draw.choice((1, -1))
        return knee if self.shape in WITH_KNEE else None, depths, energies


CASES = (
    Case("kind: a hinge, ±60 % of rpm, the knee in the middle two fifths"),
    Case("the knee in the outer parts, 10 to 30 % from an end", place=(0.1, 0.3)),
    Case("±10 % of rpm", rpm=(0.9, 1.1)),
    Case("10 % of scatter", noises=(0.1,)),
    Case("infeed trial, 1 to 16, scatter in % of the reading", rpm=(0.25, 4.0)),
    Case("infeed trial, 1 to 16, constant kW", rpm=(0.25, 4.0), constant_power=True),
    Case("one reading 20 % off", spoiled=0.2),
    Case("two knees", shape="two knees"),
    Case("a + b/h: no knee", shape="a + b/h"),
    Case("step: no knee", shape="step"),
    Case("vee: no knee", shape="vee"),
)
CASE_ROWS = [(number,) for number in range(len(CASES))]


def shares(answers):
    """ "found, % / of these the interval holds the knee, % / found and more than 5 % off, % of all" of (truth, Knee)."""
    found = [(truth, knee) for truth, knee in answers if knee.verdict == FOUND]
    holds = sum(truth is not None and knee.low <= truth <= knee.high for truth, knee in found)
    off = sum(truth is None or abs(knee.knee / truth - 1) > 0.05 for truth, knee in found)
    held = "-" if all(truth is None for truth, _ in answers) else percent(holds, len(found))
    return f"{percent(len(found), len(answers))} / {held} / {percent(off, len(answers))}"


def case_row(number):
    case = CASES[number]
    cells = []
    for noise in case.noises:
        trials = [case.trial(noise, each) for each in range(TRIALS)]
        cells.append(shares([(truth, find_knee(depths, energies)) for truth, depths, energies in trials]))
    return [case.name, *(cells if len(cells) > 1 else ["", "", cells[0]])]


# --- whole plans under drift

PLAN_ROWS = [
    (order, shape, noise)
    for order in (OUT_AND_BACK, ALTERNATING)
    for shape in ("a + b/h", "hinge", "two slopes")
    for noise in NOISES
]
PLAN_DRIFTS = ("none", "+0.2 %", "+0.4 %", "-0.4 %", "dressing")


def plan_row(order, shape, noise):
    """A plan of 15 readings, judged as read_trial judges it."""
    depths = [drifting.SETUP.depth(reading.work_rpm) for reading in plan_trial(drifting.NOMINAL, order=order)]
    cells = []
    for drift in PLAN_DRIFTS:
        answers = []
        for number in range(TRIALS):
            knee, energy, dressed, scatter = drifting.drawn(shape, noise, number, "plans")
            readings = [
                energy(h) * (1 + noise * scatter.gauss(0, 1)) + drifting.DRIFTS[drift](i, dressed) for i, h in enumerate(depths)
            ]
            answers.append((knee if shape in WITH_KNEE else None, knee_of_trial(depths, readings)))
        cells.append(shares(answers).rpartition(" / ")[0].replace(" / -", ""))
    return [order, shape, f"{100 * noise:g} %", *cells]


# --- reading by reading under drift

SEQUENTIAL_ROWS = [
    (shape, noise, rule)
    for shape in ("a + b/h", "exponential, 40 % left", "hinge", "two slopes")
    for noise in NOISES
    for rule in ("next reading", "sheet")
]
SEQUENTIAL_DRIFTS = ("none", "+0.2 %", "+0.4 %", "-0.4 %")


def by_sheet(shape, noise, drift, trials, **options):
    """As drifting.row, by the rule of the sheet."""
    counts, found, holds, off = [], 0, 0, 0
    for number in range(trials):
        knee, energy, dressed, scatter = drifting.drawn(shape, noise, number, "sequence")
        rpms, energies = [], []
        while True:
            said = answer(rpms, energies, drifting.SETUP, drifting.LIMITS, drifting.NOMINAL, **options)
            if said.work_rpm is None:
                break
            rpms.append(said.work_rpm)
            gained = drifting.DRIFTS[drift](len(energies), dressed)
            energies.append(energy(drifting.SETUP.depth(rpms[-1])) * (1 + noise * scatter.gauss(0, 1)) + gained)
        counts.append(len(rpms))
        if said.knee is not None:
            found += 1
            holds += shape in WITH_KNEE and said.knee.low <= knee <= said.knee.high
            off += shape not in WITH_KNEE or abs(said.knee.knee / knee - 1) > 0.05
    return mean(counts), found, holds, off


def sequential_row(shape, noise, rule):
    played = drifting.row if rule == "next reading" else by_sheet
    options = dict(seed="sequence") if rule == "next reading" else {}
    cells = [
        drifting.shown(shape, SEQUENTIAL_TRIALS, *played(shape, noise, drift, SEQUENTIAL_TRIALS, **options)).replace("/", " / ")
        for drift in SEQUENTIAL_DRIFTS
    ]
    return [shape, f"{100 * noise:g} %", rule, *cells]


# --- by what the readings show

SEEN_ROWS = [("below 5", 0, 5), ("5 to 8", 5, 8), ("8 to 12", 8, 12), ("12 to 20", 12, 20), ("above 20", 20, 1e9)]
SEEN_NOISES = (0.01, 0.03, 0.05, 0.1)
SEEN_RANGES = ("±20 %", "±40 %", "±60 %")
SEEN_CASES = [(shape, noise, rpm_range) for shape in ("hinge", "rounded") for noise in SEEN_NOISES for rpm_range in SEEN_RANGES]


def seen(shape, noise, rpm_range):
    """[(fitted fall over fitted scatter, whether the interval holds)] of the trials that end as found."""
    found = []
    for number in range(SEEN_TRIALS):
        each = trial(shape, rpm_range, noise, number, seed="seen")
        knee = find_knee(each.depths, each.energies)
        if knee.verdict == FOUND:
            fall = (knee.energy(min(each.depths)) - knee.level) / knee.level
            found.append((fall / knee.noise, knee.low <= each.knee <= knee.high))
    return found


def seen_rows(cases):
    """The lines of the table from [seen(*case) for case in SEEN_CASES]."""
    columns = [
        range(len(SEEN_CASES)),
        *([i for i, case in enumerate(SEEN_CASES) if case[1] == noise] for noise in SEEN_NOISES),
        *([i for i, case in enumerate(SEEN_CASES) if case[2] == rpm_range] for rpm_range in SEEN_RANGES),
    ]
    rows = []
    for name, low, high in SEEN_ROWS:
        cells = []
        for column in columns:
            held = [holds for i in column for ratio, holds in cases[i] if low <= ratio < high]
            cells.append(f"{100 * mean(held):.0f} ({len(held)})" if held else "-")
        rows.append([name, *cells])
    return rows
