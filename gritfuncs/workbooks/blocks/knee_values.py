"""The values of the knee in cells: the results, and the steps that lead to them."""

from __future__ import annotations

from .knee_cases import (
    CASES,
    IS_AGAIN,
    IS_ANYWHERE,
    IS_BENDS,
    IS_CURVE,
    IS_CURVED,
    IS_DEAD,
    IS_DEPTH,
    IS_ERROR,
    IS_FAILED,
    IS_FALLING,
    IS_FEW,
    IS_FOUND,
    IS_GOES_ON,
    IS_HIGH,
    IS_LEVEL,
    IS_LINE,
    IS_LOW,
    IS_NOISE,
    IS_RISES,
    IS_SCATTER,
    IS_WIDE,
)
from .knee_falls import CURVED, STRAIGHT, UNIT, UNIT_SQUARED, Fall, named


def _choose(column: int) -> str:
    return "CHOOSE({case}," + ",".join(f'"{case[column]}"' for case in CASES) + ")"


def _only(condition: str, formula: str) -> str:
    return f"IF({condition},{formula},NA())"


_HAS_KNEE = f"{{case}}<={IS_CURVED}"
_JUDGED = f"{{case}}<={IS_DEAD}"

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
    ("knee", "knee", "µm", _only(_HAS_KNEE, "{knee_of_fit}")),
    (
        "low",
        "knee, lower end of the interval",
        "µm",
        f"IF({_HAS_KNEE},MAX({{first}},MIN({{range_low}},{{knee_of_fit}}-{{allowance}})),"
        + _only(f"{{case}}<={IS_BENDS}", "{range_low}")
        + ")",
    ),
    (
        "high",
        "knee, upper end of the interval",
        "µm",
        _only(_HAS_KNEE, "MIN({last},MAX({range_high},{knee_of_fit}+{allowance}))"),
    ),
    ("level", "level of energy", UNIT, f"IF({_HAS_KNEE},{{level_of_fit}}," + _only(f"{{case}}={IS_LEVEL}", "{mean}") + ")"),
    ("slope", "fall of energy below the knee", "per µm", _only(_HAS_KNEE, "{slope_of_fit}")),
    ("scatter_low", "lowest knee that the scatter leaves", "µm", _only(_JUDGED, "IF({in_corner}=1,{range_low},{first})")),
    (
        "scatter_high",
        "highest knee that the scatter leaves",
        "µm",
        _only(_JUDGED, _only("{in_corner}=1", _only("{range_high}<{NONE}", "{range_high}"))),
    ),
    (
        "noise",
        "scatter about the fit, at least the noise floor",
        "share of the level",
        _only(_JUDGED, _only("{positive}=1", "SQRT({variance_of_fit})/{scale}")),
    ),
    ("sse", "squares about the fit", UNIT_SQUARED, _only(_JUDGED, "{sse_of_fit}")),
    ("n_readings", "readings", "-", "SUM([used:])"),
    ("n_depths", "different depths", "-", "MAX([place_no:])"),
    *(
        (f"line_{name}_{number}", f"fitted line, {label} {number} of {LINE_POINTS}", unit, _only(_HAS_KNEE, formula))
        for number in range(1, LINE_POINTS + 1)
        for name, label, unit, formula in (
            ("depth", "depth", "µm", _line_depth(number)),
            ("energy", "energy", UNIT, _line_energy(number)),
        )
    ),
)


def _depth_at(place: str) -> str:
    """The depth at a place of the curved fall."""
    return f"IF({place}<2,{{first}}/SQRT(2-{place}),{{NONE}})"


def _fit_steps(fall: Fall):
    return named(
        fall,
        (
            ("first", "smallest depth", "place", "MIN([~depth:])"),
            ("last", "largest depth", "place", "INDEX([~depth:],MAX(1,{n_readings}))"),
            ("mean_depth", "mean depth", "place", _only("{enough}=1", "INDEX([~left_x:],{n_readings})")),
            ("sxx", "squares of depth about the mean", "place, squared", _only("{enough}=1", "INDEX([~left_sxx:],{n_readings})")),
            (
                "sxy",
                "products of depth and energy about the means",
                "place × reading",
                _only("{enough}=1", "INDEX([~left_sxy:],{n_readings})"),
            ),
            ("line_slope", "slope of a straight line", "slope", "{~sxy}/{~sxx}"),
            ("line_sse", "squares about a straight line", UNIT_SQUARED, "MAX(0,{syy}-{~sxy}*{~sxy}/{~sxx})"),
            ("line_fall_sse", "the same, where the line falls", UNIT_SQUARED, "IF({~line_slope}<0,{~line_sse},{NONE})"),
            ("on_least", "squares, best corner on a reading", UNIT_SQUARED, "MIN([~on_sse:])"),
            ("in_least", "squares, best corner between readings", UNIT_SQUARED, "MIN([~in_sse:])"),
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
                UNIT,
                (
                    "CHOOSE({~fit},{mean},{mean}+{~line_slope}*({~last}-{~mean_depth}),{mean}-{~fit_slope}*{~corner_row}*"
                    "({~fit_knee}-INDEX([~left_x:],{~corner_row}))/{n_readings},INDEX([right_y:],{~corner_row}))"
                ),
            ),
            ("hinge_sse", "squares about the fit", UNIT_SQUARED, "SUM([~residual:])"),
        ),
    )


def _hull_steps(fall: Fall):
    return named(
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
            f"IF(ISERROR({{n_readings}}),{IS_ERROR},IF({{bad_depths}}>0,{IS_DEPTH},IF({{noise_fits}}=0,{IS_NOISE},"
            f"IF({{enough}}=0,{IS_FEW},IFERROR({{judged}},{IS_FAILED})))))"
        ),
    ),
    (
        "judged",
        "case, given enough readings",
        "-",
        (
            f"IF({{dead}}=1,{IS_DEAD},IF({{is_level}}=1,{IS_LEVEL},IF({{falls}}=0,{{no_fall}},IF({{line_in}}=1,"
            f"IF({{hull_low}}>={{first}}+{{LOWER_BOUND_SHARE}}*{{span}},{IS_FALLING},{IS_LINE}),"
            f"IF({{goes_on}}=1,{IS_BENDS},IF({{again}}=1,{IS_AGAIN},{{doubt}}))))))"
        ),
    ),
    ("no_fall", "case, where nothing falls", "-", f"IF({{rises}}=1,{IS_RISES},IF({{again}}=1,{IS_AGAIN},{IS_SCATTER}))"),
    (
        "doubt",
        "case, where the fall ends",
        "-",
        (
            f"IF({{range_high}}={{NONE}},{IS_CURVE},IF({{too_low}}*{{too_high}}=1,{IS_ANYWHERE},IF({{too_low}}=1,{IS_LOW},"
            f"IF({{too_high}}=1,{IS_HIGH},IF({{levels_off}}=0,{IS_GOES_ON},IF({{range_high}}-{{range_low}}>{{widest}},{IS_WIDE},"
            f"IF({{curve_serves}}=1,{IS_CURVED},{IS_FOUND})))))))"
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
    ("repeats_mean", "mean energy of repeated depths", UNIT, "IF({repeats}>0,SUM([repeat_energy:])/SUM([repeat:]),0)"),
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
    ("mean", "mean energy", UNIT, _only("{enough}=1", "INDEX([left_y:],{n_readings})")),
    ("syy", "squares of energy about the mean", UNIT_SQUARED, _only("{enough}=1", "INDEX([left_syy:],{n_readings})")),
    ("largest", "largest reading, without its sign", UNIT, "MAX({SMALLEST},MAX([energy:]),-MIN([energy:]))"),
    ("positive", "level far enough above zero (1 yes)", "-", "IF({fit_level}>{LEAST_LEVEL}*{largest},IF({mean}>0,1,0),0)"),
    ("scale", "what shares are shares of", UNIT, "IF({positive}=1,{fit_level},{largest})"),
    ("floor_square", "noise floor, squared", UNIT_SQUARED, "({noise_floor}*{scale})^2"),
    ("variance", "variance about the fit", UNIT_SQUARED, "MAX({hinge_sse}/({n_readings}-3),{floor_square})"),
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
    ("limit", "largest squares of a corner not excluded", UNIT_SQUARED, "{hinge_sse}+FINV({TAIL},1,{n_readings}-3)*{variance}"),
    *_hull_steps(STRAIGHT),
    ("first_row", "readings at the smallest depth", "-", "MATCH(1,[end:],0)"),
    ("stick_row", "readings left of the best bend", "-", "MATCH(MIN([bend_sse:]),[bend_sse:],0)"),
    ("stick_knee", "two slopes: place of the bend", "µm", "INDEX([left_x:],{stick_row})+INDEX([bend_t:],{stick_row})"),
    ("stick_level", "two slopes: energy there", UNIT, "INDEX([bend_level:],{stick_row})"),
    ("stick_slope", "two slopes: fall before it", "per µm", "INDEX([bend_fall:],{stick_row})"),
    ("stick_right", "two slopes: fall beyond it", "per µm", "INDEX([bend_right:],{stick_row})"),
    ("stick_sse", "squares about the two slopes", UNIT_SQUARED, "SUM([bend_residual:])"),
    ("stick_variance", "variance about the two slopes", UNIT_SQUARED, "MAX({stick_sse}/({n_readings}-4),{floor_square})"),
    ("stick_spare", "two slopes: squares up to the limit", UNIT_SQUARED, "FINV({TAIL},1,{n_readings}-4)*{stick_variance}"),
    ("bends", "two slopes fit better (1 yes)", "-", "IF({hinge_sse}-{stick_sse}>{stick_spare},1,0)"),
    ("gentler", "the second is gentle (1 yes)", "-", "IF(ABS({stick_right})<={GENTLE_RATIO}*{stick_slope},1,0)"),
    ("later_fall", "fall beyond the bend", UNIT, "{stick_right}*({last}-{stick_knee})"),
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
    ("best_level", "its energy", UNIT, "IF({gentle}=1,{stick_level},{fit_level})"),
    ("best_slope", "its fall", "per µm", "IF({gentle}=1,{stick_slope},{fit_slope})"),
    ("best_sse", "its squares", UNIT_SQUARED, "IF({gentle}=1,{stick_sse},{hinge_sse})"),
    *_fit_steps(CURVED),
    ("curve_least", "squares of the better fit, curved or not", UNIT_SQUARED, "MIN({curve_hinge_sse},{best_sse})"),
    (
        "curve_limit",
        "curved: largest squares not excluded",
        UNIT_SQUARED,
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
    ("level_of_fit", "its energy", UNIT, "IF({curve_serves}=1,{curve_fit_level},{best_level})"),
    ("slope_of_fit", "its fall", "per µm", "IF({curve_serves}=1,{curve_slope},{best_slope})"),
    ("sse_of_fit", "its squares", UNIT_SQUARED, "IF({curve_serves}=1,{curve_hinge_sse},{hinge_sse})"),
    ("variance_of_fit", "variance about it", UNIT_SQUARED, "MAX({sse_of_fit}/({n_readings}-3),{floor_square})"),
    ("too_low", "too few depths below it (1 yes)", "-", "IF({range_low}<=INDEX([place:],MATCH(2,[place_no:],0)),1,0)"),
    ("last_but_one", "last depth but one", "µm", "INDEX([place:],MATCH({n_depths}-1,[place_no:],0))"),
    (
        "last_rise",
        "mean at the last depth less level",
        UNIT,
        _only("{enough}=1", "INDEX([group_mean:],{n_readings})-{best_level}"),
    ),
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
        UNIT_SQUARED,
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
