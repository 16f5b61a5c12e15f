"""How far the corner moves where a part of the energy follows another law than grit depth: PYTHONPATH=.:tests python3 -m evidence.same_knee.

Textbook models without scatter, simulated: u = (1 - p) hinge(h; corner 1) + p w, w = 1 at nominal, over the depths that ±40 % of rpm
reach, by each way of stepping.  Prints the fitted corner's distance from 1 in % for p = 20 % and falls 3 to 1.5 times as steep as the depth.
"""

from __future__ import annotations

from typing import Callable, NamedTuple

from gritfuncs.knee.hinge import fit_corner
from gritfuncs.knee.readings import numbered

LOWEST, HIGHEST, READINGS = 0.6**0.25, 1.4**0.25, 13
SHARE, FALLS = 0.2, (3.0, 1.5)


class Settings(NamedTuple):
    """Of a reading, over nominal."""

    rpm: float
    infeed: float
    wheel_speed: float

    @property
    def depth_of_cut(self) -> float:
        return self.infeed / self.rpm

    @property
    def depth(self) -> float:
        return (self.rpm * self.infeed) ** 0.25 * self.wheel_speed**-0.5


# Settings that give a depth, by way.
WAYS: dict[str, Callable[[float], Settings]] = {
    "rpm": lambda h: Settings(h**4, 1.0, 1.0),
    "infeed": lambda h: Settings(1.0, h**4, 1.0),
    "rpm and infeed": lambda h: Settings(h**2, h**2, 1.0),
    "wheel speed": lambda h: Settings(1.0, 1.0, h**-2),
}
LAWS: dict[str, Callable[[Settings], float]] = {
    "sliding, constant pressure": lambda at: at.wheel_speed / (at.rpm * at.depth_of_cut**0.5),
    "kinematic force law, 0.8": lambda at: at.depth ** (-4 * (1 - 0.8)),
    "ploughing, constant force": lambda at: at.wheel_speed / at.infeed,
    "sliding, pressure with curvature": lambda at: at.depth_of_cut**-0.5,
    "size effect by depth of cut": lambda at: at.depth_of_cut**-0.2,
    "chips cheaper at wheel speed": lambda at: at.wheel_speed**-0.2,
}


def moved(law: str, way: str, fall: float, share: float = SHARE) -> float:
    """The corner's distance from the true one, as a share of the depth."""
    depths = [LOWEST + (HIGHEST - LOWEST) * step / (READINGS - 1) for step in range(READINGS)]
    energies = []
    for depth in depths:
        at = WAYS[way](depth)
        energies.append((1 - share) * (1 + fall * max(0.0, 1 - depth)) + share * LAWS[law](at))
    return fit_corner(numbered(depths, energies)).knee - 1


def main() -> None:
    for law in LAWS:
        cells = [" to ".join(f"{100 * moved(law, way, fall):+.1f}" for fall in FALLS) for way in WAYS]
        print(f"{law}: {' | '.join(cells)}")


if __name__ == "__main__":
    main()
