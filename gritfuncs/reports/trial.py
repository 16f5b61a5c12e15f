"""The report of one trial as a page: what to set, why, the chart, the readings, the setup, the cautions."""

from __future__ import annotations

from datetime import date

from ..knee import ALREADY_LEVEL, FOUND, NOT_RESOLVED, STILL_FALLING, TOO_FEW
from ..markup import Markup, element, joined
from ..sheets.words import PREFACTOR, PRODUCT
from ..trial import Trial
from ..trial.page import answer, chart, readings_table, setup_table
from ..trial.readings import BLANK, MICROMETRE
from .page import cautions, listed, made, page, section

MEANS = {
    FOUND: "The energy falls with grit depth and then stays level. Where it turns level is the knee: less deep the grits rub, much "
    "deeper they are torn out. The interval holds the knee in about 19 of 20 trials of this verdict.",
    STILL_FALLING: "The energy still falls at the deepest reading: any knee lies beyond. Nothing can be set by this trial yet.",
    ALREADY_LEVEL: "The energy is level from the shallowest reading on: any knee lies below. Nothing can be set by this trial yet.",
    NOT_RESOLVED: "The readings do not show for sure whether or where the energy turns level. Nothing can be set by this trial yet.",
    TOO_FEW: "There are too few readings, or too few different depths, to look for a knee. Nothing can be set by this trial yet.",
}
STAY = "stay within the band"


def trial_page(trial: Trial, day: date | None = None, title: str = "") -> str:
    """The whole page; the day is today's where none is given, and the title what stands at the head of the file."""
    return page(
        f"Grinding trial: {trial.source}",
        element("p", element("strong", title or trial.title)) if title or trial.title else "",
        made(day or date.today()),
        section("What to set", to_set(trial)),
        section("Verdict", *_verdict(trial)),
        section("Chart", chart(trial)),
        section("The knee in numbers", answer(trial)),
        section(f"Readings: {_counts(trial)}", readings_table(trial)),
        section("Setup", setup_table(trial), _setup_words(trial)),
        section("Remarks", listed(trial.remarks)),
        cautions(),
    )


def _counts(trial: Trial) -> str:
    return ", ".join(f"{number} {kind}" for kind, number in trial.counts.items() if number and kind != BLANK)


def _verdict(trial: Trial) -> list[Markup]:
    if not trial.used:
        return [element("p", "No reading can be used, so nothing can be said about a knee.")]
    knee = trial.knee
    where = ""
    if knee.knee is not None:
        unit = _depth_unit(trial)
        where = f" at grit depth {knee.knee:.4g}{unit}, interval {knee.low:.4g} to {knee.high:.4g}{unit}"
    return [element("p", element("strong", knee.verdict), where), element("p", MEANS[knee.verdict])]


def to_set(trial: Trial) -> Markup:
    """What to set on the machine, or why nothing; where damage was seen, that comes first."""
    parts = [_damage(trial)]
    if not trial.used or trial.knee.knee is None:
        advice = dict(trial.knee.rows(readings=trial.names)).get("next") if trial.used else None
        parts.append(element("p", f"Nothing yet. Next: {advice}." if advice else "Nothing.", class_="set"))
    elif trial.knee_rpm is not None:
        parts.append(element("p", *_rpm(trial, trial.knee_rpm), class_="set"))
    elif trial.damage:
        parts.append(
            element(
                "p",
                "No rpm: damage was seen at the knee, or where cannot be said. Find what caused it, take the depths without damage "
                "as the limit, and repeat the trial.",
                class_="set",
            )
        )
    else:
        parts.append(
            element(
                "p",
                f"Hold the depth {trial.knee.knee:.4g}{_depth_unit(trial)}. No one rpm belongs to it in this trial: work it out for "
                "each setup, with gritfuncs table or speed_table.xlsx.",
                class_="set",
            )
        )
    return joined(parts)


def _rpm(trial: Trial, rpm: float) -> list[object]:
    knee = trial.knee
    low, high = (None if depth is None else trial.rpm_for(depth) for depth in (knee.low, knee.high))
    said: list[object] = [element("strong", f"{rpm:.4g} 1/min"), " work rpm"]
    if trial.depth_unit == MICROMETRE:
        said.append(f" holds {knee.knee:.4g} µm in this setup")
    else:
        said.append(" holds the knee with the wheel, work, infeed rate and wheel speed of this trial only")
    if low is not None and high is not None:
        said.append(f"; the band {low:.4g} to {high:.4g} 1/min is the interval of the knee")
    return [*said, ". Watch the first parts of every new setup."]


def _damage(trial: Trial) -> Markup:
    if not trial.damage:
        return Markup("")
    seen = "; ".join(f"row {row}: {words}" for row, words in trial.damage)
    sets = trial.used and trial.knee_rpm is not None
    band = f" None of it within the band about the knee: {STAY}, and watch the first parts." if sets else ""
    return element("p", f"DAMAGE SEEN in this trial ({seen}).{band}", class_="warning")


def _depth_unit(trial: Trial) -> str:
    return f" {MICROMETRE}" if trial.depth_unit == MICROMETRE else " (relative)"


def _setup_words(trial: Trial) -> Markup:
    if trial.depth_unit != MICROMETRE:
        return element("p", "Without a complete setup depths are relative and compare within this trial only.")
    if trial.depth_given:
        return element(
            "p", "The depths stand in the file: under which prefactor and which C r they were computed is not known here."
        )
    return element("p", f"{PREFACTOR} {PRODUCT}.", class_="small")
