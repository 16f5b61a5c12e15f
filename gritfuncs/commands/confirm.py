"""gritfuncs confirm"""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace
from math import isclose
from pathlib import Path
from typing import TYPE_CHECKING

from ..knee.confirm import BELOW, LARGEST_RISE, confirm_knee
from ..knee.next_reading import WANTED
from ..quantities import QUANTITIES
from ..refused import Refused
from ..trial import Setup, Trial, read_trial
from ..trial.setup_values import limits_from, setup_from, unusual
from .command import DONE, Command
from .options import add_json, add_reading_options, add_share, reading_options, refuse_reading_options
from .output import print_json
from .parser import Parser
from .setup_options import add_setup_options, around_of, entry_of, way_to_supply

if TYPE_CHECKING:
    from ..record import Entry

GENTLE_ENOUGH = LARGEST_RISE / BELOW  # a fall no steeper is read at every planned depth
SAME_KNEE = 2e-5  # the record rounds; knee and both ends of its interval agree so far only where the readings are the same


def add(parser: Parser) -> None:
    parser.add_argument("trial", nargs="?", type=Path, metavar="FILE", help="readings so far; without it the first rpm is named")
    add_share(parser, "wanted", "half-width of the knee's interval that is good enough", WANTED)
    parser.add_argument("--damage-seen", action="store_true", help="burn, a crack or wheel breakdown was seen: stop")
    add_reading_options(parser)
    add_setup_options(parser)
    add_json(parser)


def run(chosen: Namespace) -> int:
    entry = entry_of(chosen)
    if entry is None:
        raise Refused("--record", "be given", hint="gritfuncs record list shows the keys")
    record = entry.recorded_knee(chosen.noise, GENTLE_ENOUGH)
    around, damage = around_of(chosen), chosen.damage_seen
    depths: tuple[float, ...] = ()
    energies: tuple[float, ...] = ()
    if chosen.trial is None:
        refuse_reading_options(chosen, "FILE")
        given = around.alone
        values, missing = setup_from(given.words)
        setup, limits = None if missing else Setup(**values), limits_from(given.words)
    else:
        trial = read_trial(chosen.trial, setup=around, **reading_options(chosen))
        given, setup, limits, missing = trial.given, trial.setup, trial.limits, trial.given.missing()
        damage = damage or bool(trial.damage)
        if _made_from(trial, entry):
            raise Refused(
                chosen.trial.name, f"hold readings taken since the entry {entry.key} was made", "those that it was made from"
            )
        depths, energies = trial.depths, trial.energies
    if setup is None:
        raise Refused("setup", f"have {', '.join(missing)}", hint=way_to_supply(missing))
    told = confirm_knee(depths, energies, record, setup, limits, wanted=chosen.wanted, damage_seen=damage)
    if chosen.json:
        print_json({"key": entry.key, **told.as_dict(), "sources": dict(given.sources)})
        return DONE
    print(f"{entry.key}: {record.knee:.4g} µm, {record.low:.4g} to {record.high:.4g} µm; new readings: {told.n_readings}")
    for word, number in (("grit density", setup.grit_density), ("shape ratio", setup.shape_ratio)):
        print(f"    {word} {number:.6g} from {given.source_of(word.replace(' ', '_'))}")
    for sentence in unusual(given.words):
        print(f"    {sentence}")
    if told.work_rpm is not None and (doubt := QUANTITIES["work_rpm"].doubt([told.work_rpm])):
        print(f"    {doubt}")
    print(told.line())
    return DONE


def _made_from(trial: Trial, entry: Entry) -> bool:
    """Whether the recorded knee is the one of these very readings, with any scatter known now or then: they would confirm themselves."""
    scatter = entry.values.get("scatter")
    known = {trial.noise, None, None if scatter is None else scatter / 100}
    knees = [replace(trial, noise=noise).knee for noise in known]
    return any(
        all(
            found is not None and isclose(found, entry.values[name], rel_tol=SAME_KNEE)
            for name, found in (("knee", knee.knee), ("low", knee.low), ("high", knee.high))
        )
        for knee in knees
    )


COMMAND = Command(
    "confirm",
    "say whether a recorded knee still holds after dressing, on a new batch or with a worn wheel",
    add,
    run,
    example="gritfuncs confirm --record DEMO --file gritfuncs-demo/knee_record.xlsx",
    details="Four readings about the recorded knee, at most eight: confirmed, changed, or go on with the next work rpm.",
    remark="The rule behind it: [confirm_knee](functions/confirm_knee.md).",
)
