"""Drift in cells: what the repeats show of it, the knee without it, and what to read again, as `gritfuncs.knee.knee_of_trial` has it.

A block of drift stands beside a block of the knee on the readings as they are.  It holds three more blocks: the knee without the most
likely drift, and with the least and the largest possible drift taken off.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from ...knee import FOUND, NOT_RESOLVED, drift, thresholds
from ...knee.find import NOT_JUDGED
from .knee import KneeBlock, knee_block
from .knee_falls import NONE
from .knee_values import RESULTS
from .lay_out import constants, lay_out, places
from .variance import corner_variance

NOTE = (
    "Drift from reading to reading, in the order of the rows: least squares of time within the readings at each depth, beside a drift "
    "that is usual. The three blocks below find the knee without the most likely, the least and the largest possible drift."
)
_U, _PER = "unit of the readings", "the same, a reading"
_SHARE = "share of the level a reading"
CORNERS = ("lowest", "middle", "highest")  # that scatter leaves possible without the most likely drift
_BLOCKS = ("centre", "least", "most")  # without the most likely, the least and the largest possible drift


class DriftBlock(NamedTuple):
    """The cells of a block by address, and where its results are: those of a KneeBlock, with drift judged, those of DRIFT and of the steps;
    with centre_ before their names those of the knee without the most likely drift.

    `energies` is the column of the readings without the most likely drift.
    """

    cells: dict[str, Any]
    results: dict[str, str]
    energies: str


def _signed(share: str) -> str:
    """A share in percent with its sign, as text."""
    return f'IF({share}<0,"","+")&FIXED(100*({share}),2,TRUE)'


def _used(formula: str, otherwise: str = "0") -> str:
    return f"IF([used]=1,{formula},{otherwise})"


# What is known of the drift.
DRIFT = (
    (
        "drift_judged",
        "drift is judged: the repeats tell enough (1 yes)",
        "-",
        "IFERROR(IF({plain_enough}=1,IF({squares}>={ENOUGH_TIME}*{plain_n_readings}^2,1,0),0),0)",
    ),
    ("drift", "drift that is taken off", _SHARE, "IF({drift_judged}=1,{centre}/{drift_level},NA())"),
    ("drift_deviation", "its standard deviation", _SHARE, "{deviation}/{drift_level}"),
    (
        "drift_is_seen",
        "the repeats show more drift than chance does (1 yes)",
        "-",
        "IF({drift_judged}=1,IF(ABS({seen})>{NAMED}*{error},1,0),0)",
    ),
    (
        "drift_words",
        "drift that they show, in words",
        "-",
        f'IF({{drift_is_seen}}=1,"the readings drift by "&{_signed("{seen}/{drift_level}")}&" % of the level from one to the next","")',
    ),
    (
        "drift_made_it",
        "found, but a drift could have made it (1 yes)",
        "-",
        f'IF({{judges_ends}}=0,0,IF({{least_verdict}}<>"{FOUND}",1,IF({{most_verdict}}<>"{FOUND}",1,0)))',
    ),
    ("repeat_no", "reading whose repeat tells most of drift", "no.", "MATCH(MIN([shows:]),[shows:],0)"),
    ("narrow_no", "reading whose repeat narrows the corner most", "no.", "MATCH(MIN([narrows:]),[narrows:],0)"),
    ("narrow_by", "how well the corner is known after it", "log. of variances", "MIN([narrows:])"),
)
_STEPS = (
    ("judges_ends", "found, and drift is judged (1 yes)", "-", f'IF({{drift_judged}}=1,IF({{centre_verdict}}="{FOUND}",1,0),0)'),
    ("squares", "squares of time within the repeats", "-", "SUM([square:])"),
    ("products", "products of time and energy within them", _U, "SUM([product:])"),
    ("lowest_energy", "lowest reading", _U, "MIN([energy:])"),
    ("highest_energy", "largest reading, without its sign", _U, "MAX(MAX([energy:]),-{lowest_energy})"),
    (
        "level_or_least",
        "level, else the lowest reading",
        _U,
        "IF(ISNUMBER({plain_level}),IF({plain_level}>0,{plain_level},{lowest_energy}),{lowest_energy})",
    ),
    (
        "drift_level",
        "what shares are shares of",
        _U,
        "IF({level_or_least}>0,{level_or_least},IF({highest_energy}>0,{highest_energy},1))",
    ),
    (
        "drift_scatter",
        "scatter by which repeats are judged",
        _U,
        "{drift_level}*MIN({MOST_SCATTER},MAX({LEAST_SCATTER},IF(ISNUMBER({plain_noise}),{plain_noise},{DEFAULT_NOISE})))",
    ),
    ("weight", "what the repeats tell", "1/variance", "{squares}/{drift_scatter}^2"),
    ("usual", "what is usual tells", "1/variance", "1/({USUAL_DRIFT}*{drift_level})^2"),
    ("seen", "drift that the repeats show", _PER, "IF({squares}>0,{products}/{squares},0)"),
    ("error", "its standard error", _PER, "{drift_scatter}/SQRT({squares})"),
    ("centre", "most likely drift", _PER, "IF({drift_judged}=1,{seen}*{weight}/({weight}+{usual}),0)"),
    ("deviation", "its standard deviation", _PER, "1/SQRT({weight}+{usual})"),
    ("least", "least possible drift", _PER, "{centre}-{SURE_OF_WHOLE}*{deviation}"),
    ("most", "largest possible drift", _PER, "{centre}+{SURE_OF_WHOLE}*{deviation}"),
    ("lowest", "lowest corner that the scatter leaves", "µm", "{centre_scatter_low}"),
    ("middle", "middle of the corners that it leaves", "µm", "({centre_scatter_low}+{centre_scatter_high})/2"),
    ("highest", "highest corner that it leaves", "µm", "{centre_scatter_high}"),
    *(
        row
        for corner in CORNERS
        for row in (
            (f"left_{corner}", f"readings below it: {corner}", "-", f"SUMPRODUCT(([place:]<{{{corner}}})*[used:])"),
            (
                f"mean_{corner}",
                "their mean depth",
                "µm",
                f"IF({{left_{corner}}}>0,SUMPRODUCT(([place:]<{{{corner}}})*[depth:])/{{left_{corner}}},0)",
            ),
            (
                f"sxx_{corner}",
                "their squares of depth",
                "µm, squared",
                f"SUMPRODUCT(([place:]<{{{corner}}})*([depth:]-{{mean_{corner}}})^2)",
            ),
        )
    ),
)


def _joined(name: str, label: str, unit: str) -> tuple[str, str, str, str]:
    """A result of the knee, with drift judged."""
    centre, least, most = (f"{{{block}_{name}}}" for block in _BLOCKS)
    formula, kept = centre, f"IF({{drift_made_it}}=1,NA(),{centre})"
    if name == "verdict":
        formula = f'IF({{drift_made_it}}=1,"{NOT_RESOLVED}",{centre})'
    elif name == "advice":
        formula = f'IF({{drift_made_it}}=1,"repeat reading "&{{repeat_no}},{centre})'
    elif name == "reason":
        could_be = (
            f'"A drift of "&{_signed("{least}/{drift_level}")}&" to "&{_signed("{most}/{drift_level}")}'
            '&" % of the level from one reading to the next is possible, and could have made the knee."'
        )
        taken_off = 'IF({drift_is_seen}=1," T"&MID({drift_words},2,200)&", which is taken off.","")'
        not_judged = f'IF({{drift_judged}}=1,"",IF({{centre_verdict}}="{FOUND}"," {NOT_JUDGED}",""))'
        formula = f"IF({{drift_made_it}}=1,{could_be},{centre}&{taken_off}&{not_judged})"
    elif name in ("low", "high"):
        ends = f"{'MIN' if name == 'low' else 'MAX'}({centre},{least},{most})"
        formula = f"IF({{drift_made_it}}=1,NA(),IF({{judges_ends}}=1,{ends},{centre}))"
    elif name in ("knee", "level", "slope") or name.startswith("line_"):
        formula = kept
    return name, label, unit, formula


_VALUES = (*(_joined(*row[:3]) for row in RESULTS), *DRIFT, *_STEPS)


def _narrowing(corner: str) -> tuple[tuple[str, str, str], ...]:
    """Columns for the variance of a corner with one more reading at the depth of the row."""
    n, mean, sxx = f"[n_{corner}]", f"[mean_{corner}]", f"[sxx_{corner}]"
    old_n, old_mean, old_sxx = f"{{left_{corner}}}", f"{{mean_{corner}}}", f"{{sxx_{corner}}}"
    joins = f"{n}>{old_n}"
    return (
        (f"n_{corner}", f"readings below {corner} with it again", _used(f"{old_n}+IF([place]<{{{corner}}},1,0)")),
        (f"mean_{corner}", "their mean depth, µm", _used(f"{old_mean}+IF({joins},([depth]-{old_mean})/{n},0)")),
        (f"sxx_{corner}", "their squares", _used(f"{old_sxx}+IF({joins},([depth]-{old_mean})*([depth]-{mean}),0)")),
        (
            f"variance_{corner}",
            "variance of the corner",
            _used(corner_variance(f"{{{corner}}}", n, f"({{plain_n_readings}}+1-{n})", mean, sxx), "1"),
        ),
    )


def narrows(results: Mapping[str, str], depth: str) -> str:
    """How well the corner is known after a reading at a depth that was not read yet; compares with narrow_by of a DriftBlock."""
    logs = []
    for name in CORNERS:
        corner, left, mean, sxx = (results[part + name] for part in ("", "left_", "mean_", "sxx_"))
        joined = f"{mean}+({depth}-{mean})/({left}+1)", f"({sxx}+{left}/({left}+1)*({depth}-{mean})^2)"
        below = corner_variance(corner, f"({left}+1)", f"({results['n_readings']}-{left})", f"({joined[0]})", joined[1])
        beyond = corner_variance(corner, left, f"({results['n_readings']}+1-{left})", mean, sxx)
        logs.append(f"LN(IF({depth}<{corner},{below},{beyond}))")
    return "+".join(logs)


def _without(end: str, wanted: str = "") -> str:
    """The reading without a drift; as it is where drift is not judged."""
    taken_off = _used(f"[energy]-{{{end}}}*([time]-({{plain_n_readings}}-1)/2)", '""')
    reading = "INDEX({energies},[no])"
    as_it_is = f'IF(ISERROR({reading}),NA(),IF(ISNUMBER({reading}),{reading},""))'
    return f'IF({{judges_ends}}=1,{taken_off},"")' if wanted else f"IF({{drift_judged}}=1,{taken_off},{as_it_is})"


_COLUMNS = (
    ("used", "counts (1 yes)", "INDEX({plain_used},[no])"),
    ("time", "readings before it", "SUM([used^])-[used]"),
    ("rank", "place in order of depth", "INDEX({plain_rank},[no])"),
    ("depth", "depth, equal ones made one, µm", _used("INDEX({plain_depth},[rank])")),
    ("place", "the same, where it counts", _used("[depth]", "{NONE}")),
    ("energy", "energy", _used("INDEX({energies},[no])", '""')),
    ("depth_no", "number of the depth, close ones made one", _used("INDEX({plain_place_no},[rank])")),
    ("same", "readings at the depth", _used("COUNTIF([depth_no:],[depth_no])")),
    ("middle", "their mean time", _used("SUMIF([depth_no:],[depth_no],[time:])/[same]")),
    ("square", "square of time", _used("([time]-[middle])^2")),
    (
        "product",
        "product of time and energy, the fall taken off",
        _used("([time]-[middle])*([energy]-{plain_fit_slope}*MAX(0,{plain_fit_knee}-[depth]))"),
    ),
    (
        "gain",
        "what a repeat now tells of drift, first reading of each depth",
        _used("IF(COUNTIF([depth_no^],[depth_no])=1,[same]/([same]+1)*({plain_n_readings}-[middle])^2,0)"),
    ),
    *(column for corner in CORNERS for column in _narrowing(corner)),
    (
        "narrows",
        "how well the corner is known after a repeat, first reading of each depth",
        "IF([gain]>0," + "+".join(f"LN([variance_{corner}])" for corner in CORNERS) + ",{NONE})",
    ),
    ("shows", "the same, where it tells much of drift", "IF([gain]>0,IF([gain]>={WORTH}*MAX([gain:]),[narrows],{NONE}),{NONE})"),
    ("centre_energy", "energy without the most likely drift", _without("centre")),
    ("least_energy", "without the least drift", _without("least", "where found")),
    ("most_energy", "without the largest drift", _without("most", "where found")),
)


def drift_block(
    plain: KneeBlock, depths: str, energies: str, rows: int, *, sheet_name: str, anchor: str = "A1", noise: str | None = None
) -> DriftBlock:
    """The cells that judge drift in readings whose rows stand in the order taken.

    plain is the block of the knee on the same depths, energies and noise; the other arguments are as for `knee_block`.
    """
    at = places(_VALUES, _COLUMNS, rows, sheet_name, anchor)
    cells: dict[str, Any] = {}
    results: dict[str, str] = {}
    known = {
        **constants(thresholds, drift),
        "NONE": NONE,
        "energies": energies,
        **{f"plain_{name}": address for name, address in plain.results.items()},
        **{f"plain_{name}": plain.at.column(name) for name in ("used", "rank", "depth", "place_no")},
    }
    below = at.below
    for name in _BLOCKS:
        block = knee_block(depths, at.column(f"{name}_energy"), rows, sheet_name=sheet_name, anchor=below, noise=noise)
        cells.update(block.cells)
        results = results or block.results
        known.update({f"{name}_{result}": address.rsplit("!", 1)[1] for result, address in block.results.items()})
        below = block.at.below
    cells.update(lay_out(at, _VALUES, _COLUMNS, known, NOTE))
    own = {name: at.value(name) for name, *_ in _VALUES}
    centre = {f"centre_{name}": address for name, address in results.items()}
    return DriftBlock(cells, {**centre, **results, **own}, at.column("centre_energy"))
