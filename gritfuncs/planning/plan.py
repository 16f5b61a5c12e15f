"""Trial plans: which work rpm, infeed rate or wheel speed to take, in which order."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf
from numbers import Integral

from ..knee.reach import ENERGY_FACTOR
from ..quantities import QUANTITIES
from ..refused import Refused
from ..values import number_in, shown
from .limits import LIMIT_WORDS, ROUNDING, Limits, broken_limits, check_marked_speed

STEP_PERCENT = 10.0  # step 10 % of rpm (common practice, no source)
STEPS_EACH_SIDE = 6  # to ±60 %: rpm moves depth with the fourth root only, so less hardly moves it
OUT_AND_BACK, ALTERNATING = "out and back", "alternating"

RPM, BOTH, INFEED, WHEEL = "rpm", "rpm and infeed", "infeed", "wheel speed"
# Depth goes with this power of the step, while the rest stays.
DEPTH_POWER = {RPM: 0.25, BOTH: 0.5, INFEED: 0.25, WHEEL: -0.5}
# Convention, from simulation: beyond ±40 % these steps reach so far that a fall without a knee poses as one.
FURTHEST_PERCENT = {BOTH: 40.0, WHEEL: 40.0}
# The range of a plan that says no more: so far these steps were simulated.
USUAL_PERCENT = {**FURTHEST_PERCENT, INFEED: 40.0}
# Convention, from simulation: two readings at nominal depth with the infeed so many times up and down, or at least so many, tell a
# load that does not go with removal from a knee.
PAIR, LEAST_PAIR = 1.5, 1.3


def _slower(shown_by: str) -> str:
    return (
        f"End the steps to shallower depths where the energy has risen to {ENERGY_FACTOR:g} times the lowest ({shown_by} shows it). Stop at "
        "once at burn, cracks or wheel breakdown."
    )


_CAREFUL_FAST = "Look at part and wheel after each reading; on the fast side power, force and heat rise with the step."
# What is said where a plan is made.
_WORDS = {
    RPM: ("Heat: hottest on the slow, shallow side.", _slower("net power")),
    BOTH: (
        "Set rpm and infeed together: the depth of cut for each revolution stays, and grit depth goes with the square root of the step.",
        "The pair has nominal depth at two infeed rates: with it an idle reading that is off does not move the knee. Take both; the one with more infeed is the hardest reading of the plan.",
        f"Heat: hottest on the fast, deep side. {_CAREFUL_FAST}",
        _slower("net power over infeed rate"),
    ),
    INFEED: (
        "Take the idle reading well, several times: an error of it poses as a fall or hides one. A current reading does not serve.",
        f"Heat: hottest on the fast, deep side. {_CAREFUL_FAST}",
        _slower("net power over infeed rate"),
    ),
    WHEEL: (
        "Never run the wheel above the speed marked on it. A slower wheel cuts deeper.",
        "Read power in kW, and idle anew at every wheel speed; a load meter or current may show torque.",
        "Heat hardly changes; the force on the wheel rises as it slows.",
        _slower("net power"),
    ),
}


NO_PAIR = "The limits leave no room for the pair: idle that is off by more than 5 % of net then moves the knee. Take the idle reading well."


@dataclass(frozen=True)
class PlannedReading:
    """One reading of a trial plan; work_rpm is None where the limits of machine or wheel forbid it."""

    number: int
    step_percent: float
    work_rpm: float | None
    infeed_rate: float | None = None  # mm/min on the radius; None where the plan does not change it
    wheel_speed: float | None = None  # m/s; None where the plan does not change it
    note: str = ""


def plan_trial(
    nominal_rpm: float,
    *,
    steps: str = RPM,
    step_percent: float = STEP_PERCENT,
    steps_each_side: int | None = None,
    lowest_work_rpm: float | None = None,
    highest_work_rpm: float | None = None,
    spacing: str = "rpm",
    order: str = OUT_AND_BACK,
    infeed_rate: float | None = None,
    lowest_infeed_rate: float | None = None,
    highest_infeed_rate: float | None = None,
    wheel_speed: float | None = None,
    marked_wheel_speed: float | None = None,
    nominal_power: float | None = None,
    idle_power: float = 0.0,
    highest_power: float | None = None,
) -> tuple[PlannedReading, ...]:
    """The steps of a trial in run order, nominal first and last. Rpm in 1/min, infeed in mm/min on the radius, speeds in m/s, power in kW.

    steps "rpm": the work rpm, to ±60 % where steps_each_side is not given; depth goes with its fourth root.
    steps "rpm and infeed": both by the same factor, to ±40 % at most: depth goes with the square root, and twice the depths are reached.
    Two readings at nominal depth, with the infeed 1.5 times up and down and the rpm the other way (or as far as the limits allow, at
    least 1.3), tell idle power from the knee. Needs infeed_rate.
    steps "infeed": the infeed alone, where the rpm cannot be changed; idle must be right. Needs infeed_rate. To ±40 % where
    steps_each_side is not given: so far it was simulated.
    steps "wheel speed": where neither can be changed; a slower wheel cuts deeper. Needs wheel_speed and marked_wheel_speed, and no
    step is above the mark. To ±40 % at most.

    nominal_power with idle and idle_power are what the spindle takes at nominal: with highest_power no step is planned whose power,
    idle + net times the step, is above it. A step that the limits forbid carries no numbers; nominal itself must be within them.

    order "out and back": outward to both sides by every second step, nominal, home by the steps left out, nominal: 0, +20, -20,
    +40, -40, +60, -60, 0, -50, +50, -30, +30, -10, +10, 0 %. Depth then does not run with time, so a drift (a meter that warms, a
    wheel that dulls) hardly poses as a knee, and the repeats of nominal show it. The way out goes by two steps at a time: look at
    part and wheel after each reading, and choose a smaller step_percent where two steps at once are too many.

    order "alternating": 0, +10, -10, +20, -20 ... %, nominal also in the middle. Common practice, and by one step at a time, but
    time runs with the distance from nominal, and a drift can bend a curve without a knee into one with a knee.

    spacing "rpm": equal steps of what is stepped; a step outside the machine's limits carries no numbers.
    spacing "depth": the same range, cut at the machine's limits, in equal steps of grit depth.

    End the steps to shallower depths where the energy has risen to 1.5 times the lowest.
    """
    if not isinstance(steps, str) or steps not in DEPTH_POWER:
        raise ValueError(f"steps must be {', '.join(list(DEPTH_POWER)[:-1])} or {WHEEL} (got {shown(steps)})")
    sides = _sides(steps, steps_each_side, step_percent)
    if not isinstance(spacing, str) or spacing not in ("rpm", "depth"):
        raise ValueError(f"spacing must be rpm or depth (got {shown(spacing)})")
    if not isinstance(order, str) or order not in (OUT_AND_BACK, ALTERNATING):
        raise ValueError(f"order must be {OUT_AND_BACK} or {ALTERNATING} (got {shown(order)})")
    path = _Path(
        steps,
        QUANTITIES["work_rpm"].check_one(nominal_rpm, "nominal_rpm"),
        _needed("infeed_rate", infeed_rate, steps in (BOTH, INFEED)),
        _needed("wheel_speed", wheel_speed, steps == WHEEL),
        _needed("marked_wheel_speed", marked_wheel_speed, steps == WHEEL),
        _net(nominal_power, idle_power, highest_power),
        QUANTITIES["idle_power"].check_one(idle_power),
        Limits(
            lowest_work_rpm=lowest_work_rpm,
            highest_work_rpm=highest_work_rpm,
            lowest_infeed_rate=lowest_infeed_rate,
            highest_infeed_rate=highest_infeed_rate,
            highest_power=highest_power,
        ),
    )
    if path.speed is not None and path.marked is not None:
        check_marked_speed(path.speed, path.marked)
    path.check_nominal()
    ends = path.ends((100 - sides * step_percent) / 100, (100 + sides * step_percent) / 100)
    readings: list[PlannedReading] = []
    order_of_steps = _steps_in_order(sides, order)
    middle = order_of_steps.index(0, 1)
    for place, step in enumerate(order_of_steps):
        if steps == BOTH and place == middle:
            readings.append(path.pair(len(readings) + 1, up=True))
            continue
        if steps == BOTH and place == len(order_of_steps) - 1:
            readings.append(path.pair(len(readings) + 1, up=False))
        ratio = (100 + step * step_percent) / 100
        if spacing == "depth":
            ratio = _even_in_depth(ends[step > 0], abs(step) / sides, DEPTH_POWER[steps])
        percent = 100 * (ratio - 1) if spacing == "depth" else float(step * step_percent)
        readings.append(path.reading(len(readings) + 1, percent, ratio, path.allows(ratio)))
    return tuple(readings)


def plan_words(plan: Iterable[PlannedReading], steps: str = RPM) -> tuple[str, ...]:
    """What to know at the machine of a plan with these steps: heat, where to end, what must be read."""
    if any(reading.note and reading.work_rpm is None for reading in plan):
        return (NO_PAIR, *_WORDS[steps])
    return _WORDS[steps]


def _even_in_depth(end: float, share: float, power: float) -> float:
    """The step that goes a share of the way to the end in depth."""
    if power == 0.25:
        return (1 + share * (end**0.25 - 1)) ** 4
    ratio = (1 + share * (end**power - 1)) ** (1 / power)
    return min(max(ratio, min(end, 1.0)), max(end, 1.0))


@dataclass(frozen=True)
class _Path:
    """What is stepped, from where, and within which limits."""

    steps: str
    rpm: float
    infeed: float | None
    speed: float | None
    marked: float | None
    net: float | None  # kW at nominal
    idle: float  # kW
    limits: Limits

    def at(self, ratio: float, pair: float = 1.0) -> dict[str, float | None]:
        """What is set at a step; `pair` moves the infeed up and the rpm down by the same factor."""
        rpm = self.rpm * ratio if self.steps in (RPM, BOTH) else self.rpm
        infeed, speed = self.infeed, self.speed
        if infeed is not None and self.steps in (BOTH, INFEED):
            infeed = infeed * ratio * pair
        removal = ratio * pair if self.steps in (BOTH, INFEED) else 1.0
        return dict(
            work_rpm=rpm / pair,
            infeed_rate=infeed if self.steps in (BOTH, INFEED) else None,
            wheel_speed=self._speed(speed * ratio) if speed is not None and self.steps == WHEEL else None,
            power=None if self.net is None else self.idle + self.net * removal,
        )

    def _speed(self, speed: float) -> float:
        """A wheel speed without last digits of computing above the mark."""
        return self.marked if self.marked is not None and self.marked < speed <= self.marked * (1 + ROUNDING) else speed

    def allows(self, ratio: float, pair: float = 1.0) -> bool:
        """Whether machine and wheel allow a step; the marked speed is never passed, not by the last digit."""
        values = self.at(ratio, pair)
        speed = values["wheel_speed"]
        return not broken_limits(values, self.limits) and (speed is None or self.marked is None or speed <= self.marked)

    def check_nominal(self) -> None:
        """Refused where machine or wheel forbid the reading that all others are compared with."""
        values = self.at(1.0)
        broken = broken_limits(values, self.limits)
        for _, quantity, word in LIMIT_WORDS:
            if word in broken:
                name = {"work_rpm": "nominal_rpm", "power": "nominal_power"}.get(quantity, quantity)
                raise Refused(name, "be within the machine's limits", f"{values[quantity]:g}: {word}")

    def ends(self, slowest: float, fastest: float) -> tuple[float, float]:
        """The smallest and the largest step within range and limits."""
        low, high = self.limits.lowest_work_rpm, self.limits.highest_work_rpm
        if self.steps in (RPM, BOTH):
            slowest, fastest = max(slowest, (low or 0) / self.rpm), min(fastest, (high or inf) / self.rpm)
        if self.steps in (BOTH, INFEED) and self.infeed is not None:
            low, high = self.limits.lowest_infeed_rate, self.limits.highest_infeed_rate
            slowest, fastest = max(slowest, (low or 0) / self.infeed), min(fastest, (high or inf) / self.infeed)
            if self.net and self.limits.highest_power is not None:
                fastest = min(fastest, (self.limits.highest_power - self.idle) / self.net)
        if self.steps == WHEEL and self.speed is not None and self.marked is not None:
            fastest = min(fastest, self.marked / self.speed)
        return slowest, fastest

    def reading(
        self, number: int, percent: float, ratio: float, allowed: bool, pair: float = 1.0, note: str = ""
    ) -> PlannedReading:
        values = self.at(ratio, pair) if allowed else {}
        return PlannedReading(number, percent, values.get("work_rpm"), values.get("infeed_rate"), values.get("wheel_speed"), note)

    def pair(self, number: int, up: bool) -> PlannedReading:
        """One of the two readings at nominal depth, with the infeed up or down as far as both limits allow."""
        low, high = self._furthest_pair()
        if min(low, high) >= LEAST_PAIR * (1 - 1e-9):
            factor = high if up else 1 / low
            if self.allows(1.0, factor):
                note = f"pair: infeed {'times' if up else 'over'} {(high if up else low):.3g}"
                return self.reading(number, 0.0, 1.0, True, factor, note)
        return self.reading(number, 0.0, 1.0, False, note="pair")

    def _furthest_pair(self) -> tuple[float, float]:
        """How many times the infeed may go down, and up, at nominal depth."""
        limits, infeed = self.limits, self.infeed or 1.0
        up = min(PAIR, (limits.highest_infeed_rate or inf) / infeed, self.rpm / (limits.lowest_work_rpm or 1e-300))
        if self.net and limits.highest_power is not None:
            up = min(up, (limits.highest_power - self.idle) / self.net)
        down = min(PAIR, infeed / (limits.lowest_infeed_rate or 1e-300), (limits.highest_work_rpm or inf) / self.rpm)
        return down, up


def _sides(steps: str, steps_each_side: int | None, step_percent: float) -> int:
    """The number of steps to each side; Refused where they lead too far."""
    furthest = FURTHEST_PERCENT.get(steps)
    sides = steps_each_side
    if sides is None:
        sides = STEPS_EACH_SIDE
        usual = USUAL_PERCENT.get(steps)
        if usual is not None and 0 < (number_in(step_percent) or 0) <= usual:
            sides = min(18, int(usual / step_percent * (1 + 1e-12)))
    if isinstance(sides, bool) or not isinstance(sides, Integral) or not 1 <= sides <= 18:
        raise Refused("steps_each_side", "be a whole number from 1 to 18", shown(steps_each_side))
    sides = int(sides)  # of numpy, too
    reached = (number_in(step_percent) or 0) * sides
    if not 0 < reached < 100:
        raise Refused("step_percent", f"be > 0 and, times {sides} steps, < 100 % of nominal", shown(step_percent))
    if furthest is not None and reached > furthest * (1 + 1e-12):
        raise Refused(
            "step_percent", f"be, times {sides} steps, <= {furthest:g} % of nominal for steps of {steps}", shown(step_percent)
        )
    return sides


def _needed(name: str, value: float | None, needed: bool) -> float | None:
    """A number that some steps need, and what it is where they do not."""
    if value is None:
        if needed:
            raise Refused(name, "be given for these steps", "nothing")
        return None
    return QUANTITIES[name if name in QUANTITIES else name.partition("_")[2]].check_one(value, name)


def _net(nominal_power: float | None, idle_power: float, highest_power: float | None) -> float | None:
    """Net power at nominal [kW]."""
    if nominal_power is None:
        if highest_power is not None:
            raise Refused("nominal_power", "be given with highest_power, to compare with it", "nothing")
        return None
    power = QUANTITIES["power"].check_one(nominal_power, "nominal_power")
    idle = QUANTITIES["idle_power"].check_one(idle_power)
    if power <= idle:
        raise Refused("nominal_power", f"be above idle_power, {idle:g} kW", shown(nominal_power))
    return power - idle


def _steps_in_order(steps_each_side: int, order: str) -> list[int]:
    """The steps from nominal, faster ones positive, in run order."""
    if order == ALTERNATING:
        outward = [sign * number for number in range(1, steps_each_side + 1) for sign in (1, -1)]
        middle = 2 * ((steps_each_side + 1) // 2)
        return [0, *outward[:middle], 0, *outward[middle:], 0]
    outward = [sign * number for number in range(2 - steps_each_side % 2, steps_each_side + 1, 2) for sign in (1, -1)]
    home = [sign * number for number in range(steps_each_side - 1, 0, -2) for sign in (-1, 1)]
    return [0, *outward, 0, *home, 0]
