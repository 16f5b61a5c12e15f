"""The pictures of docs/compare.md and docs/report.md: python3 docs/compare_picture.py prints the comparison and draws them."""

from __future__ import annotations

import random
import sys
import tempfile
from pathlib import Path

DOCS = Path(__file__).resolve().parent
sys.path.insert(0, str(DOCS.parent))

from gritfuncs import demo, example  # noqa: E402
from gritfuncs.comparison import Comparison, compare_trials  # noqa: E402
from gritfuncs.comparison.picture import chart_of  # noqa: E402
from gritfuncs.pictures.svg import chart_svg  # noqa: E402
from gritfuncs.trial import Setup, Trial, read_trial  # noqa: E402
from gritfuncs.trial.picture import chart_of as trial_chart  # noqa: E402

DEEPER, HIGHER = 1.06, 0.97  # the second wheel's knee and level over those of the first: simulated
SEED = 5
COMPARED, CHART = "compare.svg", "report-chart.svg"


def first(folder: Path) -> Trial:
    """The invented trial of the example."""
    path = folder / "first.csv"
    path.write_text(demo.readings_text(), encoding="utf-8")
    return read_trial(path)


def second(folder: Path) -> Trial:
    """Simulated readings of a wheel with a deeper knee, in the same setup."""
    scatter, setup = random.Random(SEED), Setup(**example.setup(), contact_width=example.CONTACT_WIDTH)
    lines = ["rpm,power [kW],idle [kW]"]
    for rpm, _, idle in example.readings():
        fall = max(0.0, 1 - setup.depth(rpm) / (DEEPER * example.TRUE_KNEE))
        energy = HIGHER * example.TRUE_LEVEL * (1 + example.TRUE_STEEPNESS * fall) * (1 + scatter.gauss(0, example.SCATTER))
        lines.append(f"{rpm:g},{energy * setup.removal_rate * example.CONTACT_WIDTH / 1000 + idle:.2f},{idle:g}")
    path = folder / "second.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return read_trial(path, setup=setup)


def comparison() -> Comparison:
    """Both, as two wheels; the second is simulated."""
    with tempfile.TemporaryDirectory() as folder:
        trials = first(Path(folder)), second(Path(folder))
    return compare_trials(*trials, names=["wheel 1", "wheel 2 (simulated)"])


def lines() -> list[str]:
    """What the command prints of it."""
    return comparison().report().splitlines()


def page() -> str:
    """docs/compare.md with what is printed now."""
    text = (DOCS / "compare.md").read_text(encoding="utf-8")
    head, _, rest = text.partition("```text\n")
    return head + "```text\n" + "\n".join(lines()) + "\n```" + rest.partition("\n```")[2]


def draw_all(folder: Path) -> None:
    """Both charts as SVG, which needs nothing but the package."""
    compared = comparison()
    for name, chart in ((COMPARED, chart_of(compared)), (CHART, trial_chart(compared.trials[0]))):
        (folder / name).write_text(chart_svg(chart) + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    print("\n".join(lines()))
    draw_all(DOCS / "pictures")
