"""The knee in cells: native formulas find it exactly, with interval and verdict, as `gritfuncs.knee` does.

A block is a list of named values with a table below it, one row a reading in order of depth.  It leaves out
one step of `find_knee`: the search for a reading out of line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

from ...knee import ALREADY_LEVEL, FOUND, NOT_RESOLVED, STILL_FALLING, TOO_FEW, thresholds
from ...knee import verdict as words
from .lay_out import Places, constants, lay_out, places

MOST_ROWS = 40
NONE = "9.9E+307"  # larger than any reading: no candidate here
NOTE = (
    "The knee by least squares, as gritfuncs.find_knee has it. Not checked here: whether a single reading"
    " is out of line with the others."
)

# Each case of the verdict: its word, what was seen, what to do next.
CASES = (
    (FOUND, "The readings fall up to the knee and level off there.", ""),
    (FOUND, "The readings fall along a curve up to the knee and level off there.", ""),
    (STILL_FALLING, "A straight fall without a knee fits the readings as well.", words.HIGHER),
    (STILL_FALLING, "The fall changes within the range but goes on.", words.HIGHER),
    (ALREADY_LEVEL, f"Any knee lies below these depths. {words.SUBTRACT}", words.LOWER),
    (NOT_RESOLVED, f"The readings rise with depth; before a knee they fall. {words.WHEEL}", words.OUT_AND_BACK),
    (NOT_RESOLVED, f"The readings fall and rise again. {words.WHEEL}", words.OUT_AND_BACK),
    (NOT_RESOLVED, f"The scatter is as large as any fall. {words.SUBTRACT}", words.WIDER_MORE),
    (NOT_RESOLVED, "A straight fall fits the readings about as well as one with a knee.", words.WIDER_MORE),
    (NOT_RESOLVED, "The knee may lie anywhere in the range.", words.WIDER_MORE),
    (NOT_RESOLVED, "Too few depths lie below the knee to see the fall.", words.LOWER),
    (NOT_RESOLVED, "A curved fall without a knee fits the readings about as well.", words.WIDER_MORE),
    (NOT_RESOLVED, "Too few depths lie beyond the knee to see a level.", words.HIGHER),
    (NOT_RESOLVED, "The readings beyond the knee may still be falling.", words.HIGHER),
    (NOT_RESOLVED, "The knee may lie in too wide a span to set a machine by.", words.MORE),
    (NOT_RESOLVED, "All readings are the same and not above zero.", words.CHECK_METER),
    (TOO_FEW, f"A knee needs at least {thresholds.MIN_READINGS} readings at {thresholds.MIN_DEPTHS} depths.", words.MORE_DEPTHS),
    ("no verdict", "A reading is an error value.", "mend the readings"),
    ("no verdict", "Depths must be > 0 µm.", "mend the readings"),
    ("no verdict", "The noise must be > 0 and < 1, a share of the level.", "mend the noise"),
    ("no verdict", "The readings cannot be computed with.", "mend the readings"),
)
(
    _FOUND,
    _CURVED,
    _FALLING,
    _BENDS,
    _LEVEL,
    _RISES,
    _AGAIN,
    _SCATTER,
    _LINE,
    _ANYWHERE,
    _LOW,
    _CURVE,
    _HIGH,
    _GOES_ON,
    _WIDE,
    _DEAD,
    _FEW,
    _ERROR,
    _DEPTH,
    _NOISE,
    _FAILED,
) = range(1, len(CASES) + 1)


@dataclass(frozen=True)
class KneeBlock:
    """The cells of a block by address (labels and formulas), and where its results are.

    `results` maps verdict, advice, reason, knee, low, high, level, slope, scatter_low, scatter_high, noise, sse,
    n_readings, n_depths, and the fitted line's line_depth_1 to _5 and line_energy_1 to _5, and the names of the STEPS,
    to addresses with their sheet.  What is not known is #N/A; what is known follows gritfuncs.knee.Knee.  `at` has the places of all
    values and columns.
    """

    cells: dict[str, Any]
    results: dict[str, str]
    at: Places


def _choose(column: int) -> str:
    return "CHOOSE({case}," + ",".join(f'"{case[column]}"' for case in CASES) + ")"


def _only(condition: str, formula: str) -> str:
    return f"IF({condition},{formula},NA())"


_U, _U2 = "unit of the readings", "the same, squared"
_IS_FOUND = f"{{case}}<={_CURVED}"
_IS_JUDGED = f"{{case}}<={_DEAD}"

# The fitted line is drawn through so many points: the lowest depth, two more below the knee, the knee, the largest depth.
LINE_POINTS = 5
_SHARES = {1: "0", 2: "0.3", 3: "0.6"}  # of the way from the lowest depth to the knee


def _line_depth(number: int) -> str:
    if number in _SHARES:
        return f"{{first}}+{_SHARES[number]}*({{knee_of_fit}}-{{first}})"
    return "{last}" if number == LINE_POINTS else "{knee_of_fit}"


def _line_energy(number: int) -> str:
    depth = f"{{line_depth_{number}}}"
    if number == LINE_POINTS:
        return f"{{level_of_fit}}+{{gentle}}*(1-{{curve_serves}})*{{stick_right}}*({{knee_of_fit}}-{depth})"
    return (
        f"{{level_of_fit}}+{{slope_of_fit}}*IF({{curve_serves}}=1,{{knee_of_fit}}/2*(({{knee_of_fit}}/{depth})^2-1),"
        f"{{knee_of_fit}}-{depth})"
    )


# Name, label, unit, formula, as lay_out.py reads them; {CONSTANT} is a number of thresholds.py.
RESULTS = (
    ("verdict", "verdict", "-", _choose(0)),
    ("advice", "what to do next", "-", _choose(2)),
    ("reason", "what was seen", "-", _choose(1)),
    ("knee", "knee", "µm", _only(_IS_FOUND, "{knee_of_fit}")),
    (
        "low",
        "knee, lower end of the interval",
        "µm",
        f"IF({_IS_FOUND},MAX({{first}},MIN({{range_low}},{{knee_of_fit}}-{{allowance}})),"
        + _only(f"{{case}}<={_BENDS}", "{range_low}")
        + ")",
    ),
    (
        "high",
        "knee, upper end of the interval",
        "µm",
        _only(_IS_FOUND, "MIN({last},MAX({range_high},{knee_of_fit}+{allowance}))"),
    ),
    ("level", "level of energy", _U, f"IF({_IS_FOUND},{{level_of_fit}}," + _only(f"{{case}}={_LEVEL}", "{mean}") + ")"),
    ("slope", "fall of energy below the knee", "per µm", _only(_IS_FOUND, "{slope_of_fit}")),
    ("scatter_low", "lowest knee that the scatter leaves", "µm", _only(_IS_JUDGED, "IF({in_corner}=1,{range_low},{first})")),
    (
        "scatter_high",
        "highest knee that the scatter leaves",
        "µm",
        _only(_IS_JUDGED, _only("{in_corner}=1", _only("{range_high}<{NONE}", "{range_high}"))),
    ),
    (
        "noise",
        "scatter about the fit, at least the noise floor",
        "share of the level",
        _only(_IS_JUDGED, _only("{positive}=1", "SQRT({variance_of_fit})/{scale}")),
    ),
    ("sse", "squares about the fit", _U2, _only(_IS_JUDGED, "{sse_of_fit}")),
    ("n_readings", "readings", "-", "SUM([used:])"),
    ("n_depths", "different depths", "-", "MAX([place_no:])"),
    *(
        (f"line_{name}_{number}", f"fitted line, {label} {number} of {LINE_POINTS}", unit, _only(_IS_FOUND, formula))
        for number in range(1, LINE_POINTS + 1)
        for name, label, unit, formula in (
            ("depth", "depth", "µm", _line_depth(number)),
            ("energy", "energy", _U, _line_energy(number)),
        )
    ),
)


class _Fall(NamedTuple):
    """A fall that is straight over some measure of the depth; its names begin with the prefix, ~ in the templates below."""

    prefix: str
    label: str
    place: str  # unit of the measure
    slope: str  # unit of a fall over it


STRAIGHT = _Fall("", "", "µm", "per µm")
CURVED = _Fall("curve_", "curved: ", "no unit", _U)  # over 2 - (lowest depth/depth)²
BEND = _Fall("bend_", "two slopes: ", "µm", "per µm")


def _depth_at(place: str) -> str:
    """The depth at a place of the curved fall."""
    return f"IF({place}<2,{{first}}/SQRT(2-{place}),{{NONE}})"


def _named(fall: _Fall, template):
    """Rows of a template with the names, labels and units of a fall; PLACE in a label is the unit of the measure."""
    units = {"place": fall.place, "slope": fall.slope}
    for name, label, *unit, formula in template:
        yield (
            fall.prefix + name,
            fall.label + label.replace("PLACE", fall.place),
            *(units.get(each, each) for each in unit),
            formula.replace("~", fall.prefix),
        )


def _fit_steps(fall: _Fall):
    return _named(
        fall,
        (
            ("first", "smallest depth", "place", "MIN([~depth:])"),
            ("last", "largest depth", "place", "INDEX([~depth:],MAX(1,{n_readings}))"),
            ("mean_depth", "mean depth", "place", _only("{enough}=1", "INDEX([~left_x:],{n_readings})")),
            ("sxx", "squares of depth about the mean", "place, squared", _only("{enough}=1", "INDEX([~left_sxx:],{n_readings})")),
            ("sxy", "products of depth and energy about the means", "-", _only("{enough}=1", "INDEX([~left_sxy:],{n_readings})")),
            ("line_slope", "slope of a straight line", "slope", "{~sxy}/{~sxx}"),
            ("line_sse", "squares about a straight line", _U2, "MAX(0,{syy}-{~sxy}*{~sxy}/{~sxx})"),
            ("line_fall_sse", "the same, where the line falls", _U2, "IF({~line_slope}<0,{~line_sse},{NONE})"),
            ("on_least", "squares, best corner on a reading", _U2, "MIN([~on_sse:])"),
            ("in_least", "squares, best corner between readings", _U2, "MIN([~in_sse:])"),
            (
                "corner_row",
                "readings left of the best corner",
                "-",
                "IF({~in_least}<{~on_least},MATCH({~in_least},[~in_sse:],0),MATCH({~on_least},[~on_sse:],0))",
            ),
            (
                "fit",
                "fit: 1 level, 2 line, 3 corner on a reading, 4 between",
                "-",
                (
                    "IF(MIN({~on_least},{~in_least},{~line_fall_sse})>={syy}*(1-{ROUNDING}),1,"
                    "IF({~line_fall_sse}<=MIN({~on_least},{~in_least})+{ROUNDING}*{syy},2,IF({~in_least}<{~on_least},4,3)))"
                ),
            ),
            (
                "fit_knee",
                "corner of the fit",
                "place",
                "CHOOSE({~fit},{~first},{~last},INDEX([~depth:],{~corner_row}+1),INDEX([~in_knee:],{~corner_row}))",
            ),
            (
                "fit_slope",
                "fall of the fit",
                "slope",
                "CHOOSE({~fit},0,-{~line_slope},INDEX([~on_slope:],{~corner_row}),-INDEX([~left_slope:],{~corner_row}))",
            ),
            (
                "fit_level",
                "level of the fit",
                _U,
                (
                    "CHOOSE({~fit},{mean},{mean}+{~line_slope}*({~last}-{~mean_depth}),{mean}-{~fit_slope}*{~corner_row}*"
                    "({~fit_knee}-INDEX([~left_x:],{~corner_row}))/{n_readings},INDEX([right_y:],{~corner_row}))"
                ),
            ),
            ("hinge_sse", "squares about the fit", _U2, "SUM([~residual:])"),
        ),
    )


def _hull_steps(fall: _Fall):
    return _named(
        fall,
        (
            ("line_in", "straight fall not excluded (1 yes)", "-", "IF({~line_fall_sse}<={~limit},1,0)"),
            (
                "below_in",
                "knee below the second depth not excluded (1 yes)",
                "-",
                "IF(INDEX([~on_sse:],{first_row})<={~limit},1,0)",
            ),
            (
                "hull_low",
                "lowest corner not excluded",
                "place",
                "MIN({~fit_knee},MIN([~gap_low:]),IF({~below_in}=1,{~first},{~fit_knee}))",
            ),
            (
                "hull_high",
                "highest corner not excluded",
                "place",
                (
                    "IF({~line_in}=1,{NONE},MAX({~fit_knee},MAX([~gap_high:]),IF({~below_in}=1,INDEX([~depth:],{first_row}+1),"
                    "{~fit_knee})))"
                ),
            ),
        ),
    )


STEPS = (
    (
        "case",
        "case of the verdict",
        "-",
        (
            f"IF(ISERROR({{n_readings}}),{_ERROR},IF({{bad_depths}}>0,{_DEPTH},IF({{noise_fits}}=0,{_NOISE},"
            f"IF({{enough}}=0,{_FEW},IFERROR({{judged}},{_FAILED})))))"
        ),
    ),
    (
        "judged",
        "case, given enough readings",
        "-",
        (
            f"IF({{dead}}=1,{_DEAD},IF({{is_level}}=1,{_LEVEL},IF({{falls}}=0,{{no_fall}},IF({{line_in}}=1,"
            f"IF({{hull_low}}>={{first}}+{{LOWER_BOUND_SHARE}}*{{span}},{_FALLING},{_LINE}),"
            f"IF({{goes_on}}=1,{_BENDS},IF({{again}}=1,{_AGAIN},{{doubt}}))))))"
        ),
    ),
    ("no_fall", "case, where nothing falls", "-", f"IF({{rises}}=1,{_RISES},IF({{again}}=1,{_AGAIN},{_SCATTER}))"),
    (
        "doubt",
        "case, where the fall ends",
        "-",
        (
            f"IF({{range_high}}={{NONE}},{_CURVE},IF({{too_low}}*{{too_high}}=1,{_ANYWHERE},IF({{too_low}}=1,{_LOW},"
            f"IF({{too_high}}=1,{_HIGH},IF({{levels_off}}=0,{_GOES_ON},IF({{range_high}}-{{range_low}}>{{widest}},{_WIDE},"
            f"IF({{curve_serves}}=1,{_CURVED},{_FOUND})))))))"
        ),
    ),
    ("in_corner", "the fall is judged by its corner (1 yes)", "-", "IF({dead}+{is_level}=0,{falls},0)"),
    ("bad_depths", "depths not above 0", "-", "SUMPRODUCT(([depth_in:]<=0)*1)"),
    (
        "enough",
        "enough readings and depths (1 yes)",
        "-",
        "IF({n_readings}>={MIN_READINGS},IF({n_depths}>={MIN_DEPTHS},IF({bad_depths}=0,1,0),0),0)",
    ),
    *_fit_steps(STRAIGHT),
    ("span", "range of depths", "µm", "{last}-{first}"),
    ("repeats", "repeats: readings less depths", "-", "{n_readings}-MAX([depth_no:])"),
    ("repeats_mean", "mean energy of repeated depths", _U, "IF({repeats}>0,SUM([repeat_energy:])/SUM([repeat:]),0)"),
    (
        "repeats_noise",
        "scatter of the repeats, or what is assumed",
        "share of the level",
        (
            "IF({repeats}>={MIN_REPEAT_FREEDOM},IF({repeats_mean}>0,MAX({MINIMUM_NOISE},"
            "SQRT(SUM([repeat_square:])/{repeats})/{repeats_mean}),{DEFAULT_NOISE}),{DEFAULT_NOISE})"
        ),
    ),
    ("noise_given", "scatter as given", "share of the level", "{given}"),
    (
        "noise_fits",
        "no scatter given, or a usable one (1 yes)",
        "-",
        "IF(ISNUMBER({noise_given}),IF({noise_given}>0,IF({noise_given}<1,1,0),0),1)",
    ),
    (
        "noise_floor",
        "noise floor: least scatter assumed",
        "share of the level",
        "IF(ISNUMBER({noise_given}),{noise_given},{repeats_noise})",
    ),
    ("mean", "mean energy", _U, _only("{enough}=1", "INDEX([left_y:],{n_readings})")),
    ("syy", "squares of energy about the mean", _U2, _only("{enough}=1", "INDEX([left_syy:],{n_readings})")),
    ("largest", "largest reading, without its sign", _U, "MAX({SMALLEST},MAX([energy:]),-MIN([energy:]))"),
    ("positive", "level far enough above zero (1 yes)", "-", "IF({fit_level}>{LEAST_LEVEL}*{largest},IF({mean}>0,1,0),0)"),
    ("scale", "what shares are shares of", _U, "IF({positive}=1,{fit_level},{largest})"),
    ("floor_square", "noise floor, squared", _U2, "({noise_floor}*{scale})^2"),
    ("variance", "variance about the fit", _U2, "MAX({hinge_sse}/({n_readings}-3),{floor_square})"),
    (
        "line_error",
        "slope of the line: limit less estimate",
        "per µm",
        "TINV({TWO_TAILS},{n_readings}-2)*SQRT(MAX({line_sse}/({n_readings}-2),{floor_square})/{sxx})",
    ),
    ("rises", "readings rise (1 yes)", "-", "IF({line_slope}>{line_error},1,0)"),
    ("change", "largest change over the range", "share of the mean", "(ABS({line_slope})+{line_error})*{span}/{mean}"),
    (
        "falls",
        "fit better than a level line (1 yes)",
        "-",
        "IF(({syy}-{hinge_sse})/{variance}>2*FINV({TAIL},2,{n_readings}-3),1,0)",
    ),
    (
        "is_level",
        "already level (1 yes)",
        "-",
        (
            "IF({positive}*(1-{rises})=1,IF({change}<={LEVEL_FALL},IF({falls}=0,1,"
            "IF({fit_slope}*({fit_knee}-{first})<={LEVEL_FALL}*{fit_level},1,0)),0),0)"
        ),
    ),
    ("dead", "readings all the same, not above zero (1 yes)", "-", "IF({positive}=0,IF({syy}=0,1,0),0)"),
    ("limit", "largest squares of a corner not excluded", _U2, "{hinge_sse}+FINV({TAIL},1,{n_readings}-3)*{variance}"),
    *_hull_steps(STRAIGHT),
    ("first_row", "readings at the smallest depth", "-", "MATCH(1,[end:],0)"),
    ("stick_row", "readings left of the best bend", "-", "MATCH(MIN([bend_sse:]),[bend_sse:],0)"),
    ("stick_knee", "two slopes: place of the bend", "µm", "INDEX([left_x:],{stick_row})+INDEX([bend_t:],{stick_row})"),
    ("stick_level", "two slopes: energy there", _U, "INDEX([bend_level:],{stick_row})"),
    ("stick_slope", "two slopes: fall before it", "per µm", "INDEX([bend_fall:],{stick_row})"),
    ("stick_right", "two slopes: fall beyond it", "per µm", "INDEX([bend_right:],{stick_row})"),
    ("stick_sse", "squares about the two slopes", _U2, "SUM([bend_residual:])"),
    ("stick_variance", "variance about the two slopes", _U2, "MAX({stick_sse}/({n_readings}-4),{floor_square})"),
    ("stick_spare", "two slopes: squares up to the limit", _U2, "FINV({TAIL},1,{n_readings}-4)*{stick_variance}"),
    ("bends", "two slopes fit better (1 yes)", "-", "IF({hinge_sse}-{stick_sse}>{stick_spare},1,0)"),
    ("gentler", "the second is gentle (1 yes)", "-", "IF(ABS({stick_right})<={GENTLE_RATIO}*{stick_slope},1,0)"),
    ("later_fall", "fall beyond the bend", _U, "{stick_right}*({last}-{stick_knee})"),
    ("small_fall", "it is small (1 yes)", "-", "IF({later_fall}<={GENTLE_FALL}*MAX({stick_level},{scale}),1,0)"),
    ("goes_on", "the fall goes on (1 yes)", "-", "IF({bends}=1,IF({later_fall}>0,1-{gentler}*{small_fall},0),0)"),
    ("again", "the readings rise again (1 yes)", "-", "IF({bends}=1,IF({stick_right}<0,1-{gentler},0),0)"),
    (
        "gentle",
        "a gentle fall goes on: two slopes serve (1 yes)",
        "-",
        "IF({bends}=1,IF({later_fall}>0,{gentler}*{small_fall}*(1-{line_in}),0),0)",
    ),
    (
        "stick_low_in",
        "bend below the second depth not excluded (1 yes)",
        "-",
        "IF(INDEX([bend_low_sse:],MATCH(1,[two:],0))<={stick_sse}+{stick_spare},1,0)",
    ),
    (
        "stick_high_in",
        "bend beyond the last but one not excluded (1 yes)",
        "-",
        "IF(INDEX([bend_high_sse:],MATCH(MAX([depth_no:])-2,[depth_no:],1))<={stick_sse}+{stick_spare},1,0)",
    ),
    (
        "stick_low",
        "lowest bend not excluded",
        "µm",
        "MIN({stick_knee},MIN([bend_gap_low:]),IF({stick_low_in}=1,{first},{stick_knee}))",
    ),
    (
        "stick_high",
        "highest bend not excluded",
        "µm",
        "MAX({stick_knee},MAX([bend_gap_high:]),IF({stick_high_in}=1,{last},{stick_knee}))",
    ),
    (
        "corner_low",
        "lowest knee of these fits not excluded",
        "µm",
        ("IF({gentle}=1,MIN({hull_low},{stick_low}),IF({goes_on}*(1-{line_in})=1,MIN({hull_low},{stick_knee}),{hull_low}))"),
    ),
    ("corner_high", "highest knee of these fits not excluded", "µm", "IF({gentle}=1,MAX({hull_high},{stick_high}),{hull_high})"),
    ("best_knee", "knee of one slope or two", "µm", "IF({gentle}=1,{stick_knee},{fit_knee})"),
    ("best_level", "its energy", _U, "IF({gentle}=1,{stick_level},{fit_level})"),
    ("best_slope", "its fall", "per µm", "IF({gentle}=1,{stick_slope},{fit_slope})"),
    ("best_sse", "its squares", _U2, "IF({gentle}=1,{stick_sse},{hinge_sse})"),
    *_fit_steps(CURVED),
    ("curve_least", "squares of the better fit, curved or not", _U2, "MIN({curve_hinge_sse},{best_sse})"),
    (
        "curve_limit",
        "curved: largest squares not excluded",
        _U2,
        "{curve_least}+FINV({TAIL},1,{n_readings}-3)*MAX({curve_least}/({n_readings}-3),{floor_square})",
    ),
    *_hull_steps(CURVED),
    (
        "curve_in",
        "a curved fall that ends is not excluded (1 yes)",
        "-",
        (
            "IF({in_corner}*(1-{line_in})*(1-{goes_on})*(1-{again})=1,IF({curve_fit}>1,IF({curve_hinge_sse}<={curve_limit},1,0),0),0)"
        ),
    ),
    (
        "curve_serves",
        "and the straight one is: the curve serves (1 yes)",
        "-",
        "IF({curve_in}=1,IF({best_sse}>{curve_limit},1,0),0)",
    ),
    ("curve_knee", "curved: knee", "µm", _depth_at("{curve_fit_knee}")),
    ("curve_slope", "curved: fall just below it", "per µm", "2*{curve_fit_slope}*{first}^2/{curve_knee}^3"),
    (
        "range_low",
        "lowest knee not excluded",
        "µm",
        f"IF({{curve_in}}=1,MIN({{corner_low}},{_depth_at('{curve_hull_low}')}),{{corner_low}})",
    ),
    (
        "range_high",
        "highest knee not excluded",
        "µm",
        f"IF({{curve_in}}=1,MAX({{corner_high}},{_depth_at('{curve_hull_high}')}),{{corner_high}})",
    ),
    ("knee_of_fit", "knee of the fit that serves", "µm", "IF({curve_serves}=1,{curve_knee},{best_knee})"),
    ("level_of_fit", "its energy", _U, "IF({curve_serves}=1,{curve_fit_level},{best_level})"),
    ("slope_of_fit", "its fall", "per µm", "IF({curve_serves}=1,{curve_slope},{best_slope})"),
    ("sse_of_fit", "its squares", _U2, "IF({curve_serves}=1,{curve_hinge_sse},{hinge_sse})"),
    ("variance_of_fit", "variance about it", _U2, "MAX({sse_of_fit}/({n_readings}-3),{floor_square})"),
    ("too_low", "too few depths below it (1 yes)", "-", "IF({range_low}<=INDEX([place:],MATCH(2,[place_no:],0)),1,0)"),
    ("last_but_one", "last depth but one", "µm", "INDEX([place:],MATCH({n_depths}-1,[place_no:],0))"),
    ("last_rise", "mean at the last depth less level", _U, _only("{enough}=1", "INDEX([group_mean:],{n_readings})-{best_level}")),
    (
        "too_high",
        "too few depths beyond it (1 yes)",
        "-",
        (
            "IF({range_high}<={last_but_one},0,IF({range_high}>INDEX([place:],MATCH({n_depths},[place_no:],0)),1,"
            "IF({best_knee}>{last_but_one},1,IF({last_rise}>SQRT(MAX({best_sse}/({n_readings}-3),{floor_square})),1,0))))"
        ),
    ),
    (
        "bent_sse",
        "squares, best corner that keeps half the slope",
        _U2,
        "MIN({syy},{line_fall_sse},MIN([bent_on:]),MIN([bent_in:]))",
    ),
    (
        "levels_off",
        "such a corner is excluded (1 yes)",
        "-",
        (
            "IF(({bent_sse}-{best_sse})/IF({gentle}=1,{stick_variance},{variance})"
            ">FINV({BENT_TAIL},1,{n_readings}-3-{gentle}),1,0)"
        ),
    ),
    ("widest", "widest interval to set a machine by", "µm", "MIN(2*{MAX_HALF_WIDTH}*{knee_of_fit},{MAX_RANGE_SHARE}*{span})"),
    ("allowance", "least half-width: real curves are rounded", "µm", "{DEFINITION_SHARE}*{span}/({n_depths}-1)"),
)


def _counted(formula: str, otherwise: str = "0") -> str:
    return f"IF([no]<={{n_readings}},{formula},{otherwise})"


def _beyond(formula: str) -> str:
    return f"IF([no]<{{n_readings}},{formula},0)"


def _where(flag: str, formula: str, otherwise: str = "{NONE}") -> str:
    return f"IF([{flag}]=1,{formula},{otherwise})"


def _inside(value: str, low: str, high: str, formula: str, otherwise: str) -> str:
    return f"IF({value}>={low},IF({value}<={high},{formula},{otherwise}),{otherwise})"


def _give(place: str) -> str:
    """How far two lines give when they are made to meet at a place."""
    return f"([give]+{place}^2/[left_sxx]+({place}+[apart])^2/[right_sxx])"


def _solved(prefix: str, flag: str, start: str, stop: str, mean: str = "[left_x]"):
    """Columns for the lowest and highest t from start to stop with square t² + 2 half t + constant <= 0.

    Their names are without the prefix.
    """
    p = f"[{prefix}"
    ends = [(f"{p}at_start]", start), (f"{p}at_stop]", stop)]
    roots = [f"{p}root_1]", f"{p}root_2]"]

    def hull(function: str, none: str) -> str:
        places = [f"IF({value}<=0,{end},{none})" for value, end in ends]
        places += [_inside(root, start, stop, root, none) for root in roots]
        return _where(flag, f"{mean}+{function}({','.join(places)})", none)

    return (
        (
            "larger",
            "larger root times its factor",
            f"IF({p}under]>=0,IF({p}half]>=0,-{p}half]-SQRT({p}under]),SQRT({p}under])-{p}half]),0)",
        ),
        ("root_1", "first root, PLACE", f"IF({p}under]>=0,IF({p}square]<>0,{p}larger]/{p}square],{{NONE}}),{{NONE}})"),
        ("root_2", "second root, PLACE", f"IF({p}larger]<>0,{p}constant]/{p}larger],{{NONE}})"),
        ("at_start", "value at the start", f"({p}square]*{start}+2*{p}half])*{start}+{p}constant]"),
        ("at_stop", "value at the stop", f"({p}square]*{stop}+2*{p}half])*{stop}+{p}constant]"),
        ("gap_low", "lowest corner not excluded, PLACE", hull("MIN", "{NONE}")),
        ("gap_high", "highest corner not excluded, PLACE", hull("MAX", "-{NONE}")),
    )


def _side_columns(fall: _Fall):
    return _named(
        fall,
        (
            ("left_x", "left: mean depth, PLACE", _counted("[~left_x-]+([~depth]-[~left_x-])/[no]", "[~left_x-]")),
            (
                "left_sxx",
                "left: squares of depth",
                _counted("[~left_sxx-]+([~depth]-[~left_x-])*([~depth]-[~left_x])", "[~left_sxx-]"),
            ),
            ("left_sxy", "left: products", _counted("[~left_sxy-]+([~depth]-[~left_x-])*([energy]-[left_y])", "[~left_sxy-]")),
        ),
    )


def _hinge_columns(fall: _Fall):
    return _named(
        fall,
        (
            (
                "on_szy",
                "corner on the next depth: products",
                _where("end", "[weight]*([~depth+]-[~left_x])*[drop]-[~left_sxy]", "0"),
            ),
            ("on_slope", "its fall", _where("end", "[~on_szy]/([~left_sxx]+[weight]*([~depth+]-[~left_x])^2)", "0")),
            ("on_sse", "its squares", "IF([~on_slope]>0,{syy}-[~on_szy]*[~on_slope],{NONE})"),
            ("left_slope", "slope left", _where("gap", "[~left_sxy]/[~left_sxx]", "0")),
            (
                "free_sse",
                "squares, line left and level right",
                _where("gap", "MAX(0,[left_syy]-[~left_sxy]*[~left_slope])+[right_syy]"),
            ),
            ("in_knee", "where they meet, PLACE", "IF([~left_slope]<0,[~left_x]-[drop]/[~left_slope],0)"),
            (
                "in_sse",
                "squares, if before the next depth",
                "IF([~left_slope]<0," + _inside("[~in_knee]", "[~depth]", "[~depth+]", "[~free_sse]", "{NONE}") + ",{NONE})",
            ),
            ("spare", "squares up to the limit", _where("gap", "{~limit}-[~free_sse]", "0")),
            ("turn", "where the fit turns to rise, PLACE", "IF([weight]*[drop]=0,0,[~left_x]+[~left_sxy]/([weight]*[drop]))"),
            (
                "from",
                "search from, less mean left, PLACE",
                _where("gap", "IF([drop]>0,MAX([~depth],[~turn]),[~depth])-[~left_x]", "0"),
            ),
            (
                "to",
                "search to, less mean left, PLACE",
                _where("gap", "IF([drop]<0,MIN([~depth+],[~turn]),[~depth+])-[~left_x]", "0"),
            ),
            (
                "open",
                "is there anything between (1 yes)",
                _where("gap", "IF([~from]<=[~to],IF([drop]=0,IF([~left_sxy]>0,0,1),1),0)", "0"),
            ),
            ("square", "factor of the square", _where("~open", "[~left_slope]^2-[~spare]/[~left_sxx]", "0")),
            ("half", "half the factor of the place", _where("~open", "[~left_slope]*[drop]", "0")),
            ("constant", "constant", _where("~open", "[drop]^2-[~spare]*[give]", "0")),
            (
                "under",
                "under the root",
                _where("~open", "[~spare]*([~left_slope]^2*[give]+[drop]^2/[~left_sxx]-[~spare]*[give]/[~left_sxx])", "-1"),
            ),
            *_solved("~", "~open", "[~from]", "[~to]", "[~left_x]"),
            (
                "residual",
                "square of the residual",
                _counted("([energy]-{~fit_level}-{~fit_slope}*MAX(0,{~fit_knee}-[~depth]))^2"),
            ),
        ),
    )


# Key, label, formula.  Left are the readings up to this row, right those below; means and squares are updated reading by
# reading, about the mean so far, which keeps their digits.
COLUMNS = (
    (
        "depth_in",
        "depth as given, µm",
        (
            "IF(ISERROR(INDEX({depths},[no])),NA(),IF(ISERROR(INDEX({energies},[no])),NA(),"
            "IF(ISNUMBER(INDEX({depths},[no])),IF(ISNUMBER(INDEX({energies},[no])),INDEX({depths},[no]),{NONE}),{NONE})))"
        ),
    ),
    ("used", "counts (1 yes)", "IF([depth_in]<{NONE},1,0)"),
    ("rank", "place in order of depth", "SUMPRODUCT(([depth_in:]<[depth_in])*1)+SUMPRODUCT(([depth_in^]=[depth_in])*1)"),
    ("sorted", "depth in order, µm", _counted("INDEX([depth_in:],MATCH([no],[rank:],0))", "{NONE}")),
    ("energy", "its energy", _counted("INDEX({energies},MATCH([no],[rank:],0))", '""')),
    ("depth", "depth, equal ones made one, µm", "IF([sorted]-[depth-]<={SAME_DEPTH}*[depth-],[depth-],[sorted])"),
    ("depth_no", "number of the depth", _counted("IF([depth]>[depth-],[depth_no-]+1,[depth_no-])", "[depth_no-]")),
    (
        "place",
        "depth, close ones made one, µm",
        _counted("IF([depth]-[place-]<={SAME_PLACE}*{span},[place-],[depth])", "[place-]"),
    ),
    ("place_no", "number of it", "IF([place]>[place-],[place_no-]+1,[place_no-])"),
    ("group_n", "readings so far at the depth", _counted("IF([depth_no]=[depth_no-],[group_n-]+1,1)")),
    ("group_mean", "their mean energy", _counted("IF([group_n]=1,[energy],[group_mean-]+([energy]-[group_mean-])/[group_n])")),
    ("repeat_square", "square of a repeat", "IF([group_n]>1,([energy]-[group_mean-])*([energy]-[group_mean]),0)"),
    ("repeat", "depth is repeated (1 yes)", "IF([group_n]>1,1,IF([group_n]=1,IF([group_n+]>1,1,0),0))"),
    ("repeat_energy", "energy, if so", "IF([repeat]=1,[energy],0)"),
    *_side_columns(STRAIGHT),
    ("left_y", "left: mean energy", _counted("[left_y-]+([energy]-[left_y-])/[no]", "[left_y-]")),
    ("left_syy", "left: squares of energy", _counted("[left_syy-]+([energy]-[left_y-])*([energy]-[left_y])", "[left_syy-]")),
    ("right_x", "right: mean depth, µm", _beyond("[right_x+]+([depth+]-[right_x+])/({n_readings}-[no])")),
    ("right_y", "right: mean energy", _beyond("[right_y+]+([energy+]-[right_y+])/({n_readings}-[no])")),
    ("right_sxx", "right: squares of depth", _beyond("[right_sxx+]+([depth+]-[right_x+])*([depth+]-[right_x])")),
    ("right_sxy", "right: products", _beyond("[right_sxy+]+([depth+]-[right_x+])*([energy+]-[right_y])")),
    ("right_syy", "right: squares of energy", _beyond("[right_syy+]+([energy+]-[right_y+])*([energy+]-[right_y])")),
    ("end", "last of its depth, more follow (1 yes)", "IF({enough}=1,IF([no]<{n_readings},IF([depth_no+]>[depth_no],1,0),0),0)"),
    ("weight", "left times right over all", _where("end", "[no]*({n_readings}-[no])/{n_readings}", "0")),
    ("drop", "mean left less mean right", _where("end", "[left_y]-[right_y]", "0")),
    ("gap", "a corner may follow (1 yes)", _where("end", "IF([depth_no]>=2,1,0)", "0")),
    ("give", "1/left + 1/right", _where("gap", "1/[no]+1/({n_readings}-[no])", "0")),
    *_hinge_columns(STRAIGHT),
    (
        "bent_rise",
        "half slope: change, corner on the next depth",
        _where("end", "[depth+]-[left_x]-{RATIO}*([depth+]-[right_x])", "0"),
    ),
    ("bent_szy", "its products", _where("end", "[weight]*[bent_rise]*[drop]-[left_sxy]-{RATIO}*[right_sxy]", "0")),
    (
        "bent_on",
        "its squares",
        "IF([bent_szy]>0,{syy}-[bent_szy]^2/([left_sxx]+{RATIO}^2*[right_sxx]+[weight]*[bent_rise]^2),{NONE})",
    ),
    (
        "bent_slope",
        "half slope: fall, corner before it",
        _where("end", "-([left_sxy]+{RATIO}*[right_sxy])/([left_sxx]+{RATIO}^2*[right_sxx])", "0"),
    ),
    ("bent_knee", "its place, µm", "IF([bent_slope]>0,([drop]/[bent_slope]+[left_x]-{RATIO}*[right_x])/(1-{RATIO}),0)"),
    (
        "bent_in",
        "its squares",
        "IF([bent_slope]>0,"
        + _inside(
            "[bent_knee]", "[depth]", "[depth+]", "[left_syy]+[right_syy]+([left_sxy]+{RATIO}*[right_sxy])*[bent_slope]", "{NONE}"
        )
        + ",{NONE})",
    ),
    ("two", "two depths on both sides (1 yes)", _where("gap", "IF([depth_no]<=MAX([depth_no:])-2,1,0)", "0")),
    ("right_slope", "two slopes: slope right, per µm", _where("two", "[right_sxy]/[right_sxx]", "0")),
    (
        "both_sse",
        "their squares",
        _where("two", "MAX(0,[left_syy]-[left_sxy]*[left_slope])+MAX(0,[right_syy]-[right_sxy]*[right_slope])", "0"),
    ),
    ("apart", "mean depth left less right, µm", _where("two", "[left_x]-[right_x]", "0")),
    ("miss", "how far the lines miss at the mean left", _where("two", "[drop]-[right_slope]*[apart]", "0")),
    ("turning", "slope left less slope right", _where("two", "[left_slope]-[right_slope]", "0")),
    ("bend_low", "this depth, less mean left, µm", _where("two", "[depth]-[left_x]", "0")),
    ("bend_high", "next depth, less mean left, µm", _where("two", "[depth+]-[left_x]", "0")),
    (
        "bend_low_sse",
        "squares, bend on this depth",
        _where("two", "[both_sse]+([miss]+[turning]*[bend_low])^2/" + _give("[bend_low]")),
    ),
    (
        "bend_high_sse",
        "squares, bend on the next depth",
        _where("two", "[both_sse]+([miss]+[turning]*[bend_high])^2/" + _give("[bend_high]")),
    ),
    ("bend_cross", "where they meet, less mean left, µm", "IF([turning]<>0,-[miss]/[turning],{NONE})"),
    (
        "bend_t",
        "best bend, less mean left, µm",
        _where(
            "two",
            _inside(
                "[bend_cross]",
                "[bend_low]",
                "[bend_high]",
                "[bend_cross]",
                "IF([bend_low_sse]<=[bend_high_sse],[bend_low],[bend_high])",
            ),
            "0",
        ),
    ),
    ("bend_pull", "pull that makes them meet", _where("two", "([miss]+[turning]*[bend_t])/" + _give("[bend_t]"), "0")),
    ("bend_sse", "its squares", _where("two", "[both_sse]+([miss]+[turning]*[bend_t])*[bend_pull]")),
    ("bend_fall", "its fall left, per µm", _where("two", "[bend_pull]*[bend_t]/[left_sxx]-[left_slope]", "0")),
    ("bend_right", "its fall right, per µm", _where("two", "-[right_slope]-[bend_pull]*([bend_t]+[apart])/[right_sxx]", "0")),
    ("bend_level", "energy at the bend", _where("two", "[left_y]-[bend_pull]/[no]-[bend_fall]*[bend_t]", "0")),
    (
        "bend_residual",
        "square of the residual",
        _counted("([energy]-{stick_level}-IF([depth]<{stick_knee},{stick_slope},{stick_right})*({stick_knee}-[depth]))^2"),
    ),
    ("bend_spare", "squares up to the limit", _where("two", "{stick_sse}+{stick_spare}-[both_sse]", "0")),
    ("bend_square", "factor of the square", _where("two", "[turning]^2-[bend_spare]*(1/[left_sxx]+1/[right_sxx])", "0")),
    ("bend_half", "half the factor of the place", _where("two", "[miss]*[turning]-[bend_spare]*[apart]/[right_sxx]", "0")),
    ("bend_constant", "constant", _where("two", "[miss]^2-[bend_spare]*([give]+[apart]^2/[right_sxx])", "0")),
    ("bend_under", "under the root", _where("two", "[bend_half]^2-[bend_square]*[bend_constant]", "-1")),
    *_named(BEND, _solved("bend_", "two", "[bend_low]", "[bend_high]")),
    ("curve_depth", "curved: 2 - (lowest depth/depth)²", _counted("2-({first}/[depth])^2", "{NONE}")),
    *_side_columns(CURVED),
    *_hinge_columns(CURVED),
)
_GIVEN = 'IF(ISERROR({0}),-1,IF(ISNUMBER({0}),{0},IF({0}="","",-1)))'  # -1 cannot be a noise: mend it
BEFORE_FIRST = {"place": f"=-{NONE}"}


def _constants() -> dict[str, str]:
    tails = dict(
        TAIL=1 - thresholds.CONFIDENCE, TWO_TAILS=2 * (1 - thresholds.CONFIDENCE), BENT_TAIL=1 - thresholds.REJECTED_CONFIDENCE
    )
    rounded = {name: repr(round(tail, 12)).upper() for name, tail in tails.items()}
    return {**constants(thresholds), **rounded, "RATIO": repr(thresholds.REJECTED_RATIO), "NONE": NONE}


def knee_block(
    depths: str, energies: str, rows: int, *, sheet_name: str, anchor: str = "A1", noise: str | None = None
) -> KneeBlock:
    """The cells that find the knee of readings which stand in two equally long columns.

    depths and energies are references such as "Readings!$C$8:$C$47", `rows` cells long (40 at most); a row
    counts where both are numbers.  noise is a reference to the scatter as a share of the level; where it is
    left out or blank, the scatter of repeated depths serves, or 1 %.  The block starts at the anchor on the
    sheet of that name.
    """
    if not 1 <= rows <= MOST_ROWS:
        raise ValueError(f"rows must be 1 to {MOST_ROWS} readings (got {rows})")
    values = RESULTS + STEPS
    at = places(values, COLUMNS, rows, sheet_name, anchor)
    known = {**_constants(), "depths": depths, "energies": energies, "given": '""' if noise is None else _GIVEN.format(noise)}
    cells = lay_out(at, values, COLUMNS, known, NOTE, BEFORE_FIRST)
    return KneeBlock(cells, {name: at.value(name) for name, *_ in values}, at)
