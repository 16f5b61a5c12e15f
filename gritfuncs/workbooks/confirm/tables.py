"""The readings of the sheet Confirm, and the tables of the sheet `calc confirm`: a row for each reading, for each place to read about the knee, and for each corner tried.

In a formula {name} is the cell of that column in the same row, a step of steps.py or what is given there; {all_name} is the column.
"""

from __future__ import annotations

from ...knee import confirm, thresholds
from ...sheets.columns import Column, Columns
from ...sheets.conditions import first_of, quoted
from ..blocks.variance import corner_variance

CONFIRM, SHEET = "Confirm", "calc confirm"
ROWS = confirm.MOST_CONFIRMING
FIRST_ROW = 7  # of each table, and of the steps
SHIFTS = (
    f"{confirm.BEYOND:+G}",
    "-{below}/2",
    f"{confirm.FURTHER_BEYOND:+G}",
    "-{below}",
)  # of depths from the knee, as shares of it
_FIRST_COLUMN = 5

CONFIRMING = Columns(
    CONFIRM,
    (
        Column("number", "no.", 4, "0"),
        Column("set", "set", 9, '[<100]"► "0.0;"► "0'),
        Column("work_rpm", "rpm", 9, "0.0", is_input=True),
        Column("load", "load", 9, "0.00?", is_input=True),
        Column("idle", "idle", 9, "0.00?", is_input=True),
        Column("damage", "damage", 12, is_input=True),
        Column("status", "used or left out", 21),
        Column("depth", "depth", 11, "0.000"),
        Column("net", "net load", 11, "0.00?"),
    ),
    17,
    16 + ROWS,
)
CONFIRMING_INPUTS = tuple(column.name for column in CONFIRMING.columns if column.is_input)
LAST_COLUMN = "N"  # of the sheet Confirm


def if_true(condition: str, formula: str) -> str:
    return first_of((condition, formula), otherwise=quoted(""))


def if_judged(formula: str) -> str:
    return if_true("{is_judged}", formula)


def _if_started(formula: str) -> str:
    return if_true("{started}=1", formula)


_LEFT = "({all_depth}<={depth})*{all_used}"
_RIGHT = "({all_depth}>{depth})*{all_used}"


def _has_next(formula: str) -> str:
    return if_true("IF({judged}=1,{used}*{beyond}>0,FALSE)", formula)


READINGS = Columns(
    SHEET,
    (
        Column("number", "no.", 5, "0"),
        Column("used", "is used (1 yes)", 9, "0", formula="IF({is_used},IF({started}=1,1,0),0)"),
        Column("depth", "depth, µm", 11, "0.00000", formula="IF({used}=1,{knee}*({work_rpm}/{rpm_at_knee})^0.25,0)"),
        Column("known", "the same, else blank", 11, "0.00000", formula='IF({used}=1,{depth},"")'),
        Column("net", "net load", 11, "General", formula="IF({used}=1,{net_load},0)"),
        Column("known_net", "the same, else blank", 11, "General", formula='IF({used}=1,{net},"")'),
        Column("off", "off the mean", 11, "General", formula="IF({used}=1,{net}-{mean},0)"),
        Column("curve", "2 - (first/depth)²", 11, "0.00000", formula="IF({used}=1,2-({first}/{depth})^2,0)"),
        Column(
            "place",
            "is a second depth",
            11,
            "0.00000",
            formula=f'IF({{used}}=1,IF({{depth}}-{{first}}>{thresholds.SAME_PLACE:G}*({{last}}-{{first}}),{{depth}},""),"")',
        ),
        Column("beyond", "readings beyond", 9, "0", formula=f"SUMPRODUCT({_RIGHT})"),
        Column("upper", "next depth", 11, "0.00000", formula=_has_next("LARGE({all_known},{beyond})")),
        Column(
            "left_depth",
            "mean depth up to here",
            11,
            "0.00000",
            formula=_has_next(f"SUMPRODUCT({_LEFT}*{{all_depth}})/({{n_readings}}-{{beyond}})"),
        ),
        Column(
            "left_off",
            "mean off up to here",
            11,
            "General",
            formula=_has_next(f"SUMPRODUCT({_LEFT}*{{all_off}})/({{n_readings}}-{{beyond}})"),
        ),
        Column("right_off", "mean off beyond", 11, "General", formula=_has_next(f"SUMPRODUCT({_RIGHT}*{{all_off}})/{{beyond}}")),
        Column(
            "sxx", "Sxx up to here", 11, "General", formula=_has_next(f"SUMPRODUCT({_LEFT}*({{all_depth}}-{{left_depth}})^2)")
        ),
        Column(
            "sxy",
            "Sxy up to here",
            11,
            "General",
            formula=_has_next(f"SUMPRODUCT({_LEFT}*({{all_depth}}-{{left_depth}})*{{all_off}})"),
        ),
        Column(
            "inner_corner",
            "best corner before the next depth",
            11,
            "0.00000",
            formula=_has_next('IF({sxy}<0,IF({sxx}>1E-19*{first}^2,{left_depth}-({left_off}-{right_off})*{sxx}/{sxy},""),"")'),
        ),
        Column(
            "inner_squares",
            "its squares",
            11,
            "General",
            formula="IF(ISNUMBER({inner_corner}),IF(({inner_corner}>={depth})*({inner_corner}<={upper})=1,"
            f"SUMPRODUCT({_LEFT}*({{all_off}}-{{left_off}})^2)+SUMPRODUCT({_RIGHT}*({{all_off}}-{{right_off}})^2)"
            '-{sxy}^2/{sxx},""),"")',
        ),
        Column(
            "szz",
            "Szz, corner at the next depth",
            11,
            "General",
            formula=_has_next(
                f"SUMPRODUCT({_LEFT}*({{upper}}-{{all_depth}})^2)-SUMPRODUCT({_LEFT}*({{upper}}-{{all_depth}}))^2/{{n_readings}}"
            ),
        ),
        Column(
            "szy",
            "Szy, corner at the next depth",
            11,
            "General",
            formula=_has_next(f"SUMPRODUCT({_LEFT}*({{upper}}-{{all_depth}})*{{all_off}})"),
        ),
        Column("on_squares", "its squares", 11, "General", formula=_has_next('IF({szy}>0,{syy}-{szy}^2/{szz},"")')),
        Column("damaged", "damage is noted (1 yes)", 9, "0", formula="IF({is_damaged},1,0)"),
        Column(
            "on_level",
            "its level off the mean",
            11,
            "General",
            formula=_has_next(f'IF({{szy}}>0,-{{szy}}/{{szz}}*SUMPRODUCT({_LEFT}*({{upper}}-{{all_depth}}))/{{n_readings}},"")'),
        ),
    ),
    FIRST_ROW,
    FIRST_ROW + ROWS - 1,
    _FIRST_COLUMN,
)


def _rounded_within() -> str:
    """Formula text of a work rpm with three figures: rounded up or down where the nearest is outside the limits."""
    figures = "2-INT(LOG10({rpm_exact}))"
    within = "(ROUND{0}({{rpm_exact}},{1})>={{low_rpm}})*(ROUND{0}({{rpm_exact}},{1})<={{high_rpm}})=1"
    return first_of(
        *((within.format(way, figures), f"ROUND{way}({{rpm_exact}},{figures})") for way in ("", "UP", "DOWN")),
        otherwise="MIN(MAX({rpm_exact},{low_rpm}),{high_rpm})",
    )


_NEAR = f"{confirm.NEAR:G}*{{knee}}"
PLACES = Columns(  # {shift} is one of SHIFTS, {side} how its aim compares with the knee, {apart} whether it is off the places before
    SHEET,
    (
        Column("place_number", "place", 6, "0"),
        Column(
            "aim",
            "depth to aim at, µm",
            11,
            "0.00000",
            formula=_if_started("MIN({most_depth},MAX({least_depth},{knee}*(1{shift})))"),
        ),
        Column("rpm_exact", "work rpm, exact", 11, "0.000", formula=_if_started("{rpm_at_knee}*({aim}/{knee})^4")),
        Column("rpm", "work rpm to set", 11, "0.000", formula=_if_started(_rounded_within())),
        Column("place_depth", "depth there, µm", 11, "0.00000", formula=_if_started("{knee}*({rpm}/{rpm_at_knee})^0.25")),
        Column(
            "differs",
            "is a place of its own (1 yes)",
            11,
            "0",
            formula=_if_started("IF(({least_depth}<={most_depth})*({aim}{side}{knee})*{apart}=1,1,0)"),
        ),
        Column(
            "has",
            "is read (1 yes)",
            9,
            "0",
            formula=_if_started(
                f"IF(SUMPRODUCT({{all_used}}*({{all_depth}}-{{place_depth}}<={_NEAR})*({{place_depth}}-{{all_depth}}<={_NEAR}))>0,1,0)"
            ),
        ),
        Column(
            "place_left",
            "readings below the corner, with this",
            11,
            "0",
            formula=if_judged("SUMPRODUCT(({all_depth}<{own})*{all_used})+IF({place_depth}<{own},1,0)"),
        ),
        Column(
            "place_mean",
            "their mean depth",
            11,
            "0.00000",
            formula=if_judged(
                "IF({place_left}>0,(SUMPRODUCT(({all_depth}<{own})*{all_used}*{all_depth})+IF({place_depth}<{own},{place_depth},0))/{place_left},0)"
            ),
        ),
        Column(
            "place_sxx",
            "their Sxx",
            11,
            "General",
            formula=if_judged(
                "SUMPRODUCT(({all_depth}<{own})*{all_used}*({all_depth}-{place_mean})^2)+IF({place_depth}<{own},({place_depth}-{place_mean})^2,0)"
            ),
        ),
        Column(
            "variance",
            "variance of the corner with a reading here",
            11,
            "General",
            formula=if_judged(
                corner_variance("{own}", "{place_left}", "({n_readings}+1-{place_left})", "{place_mean}", "{place_sxx}")
            ),
        ),
    ),
    FIRST_ROW,
    FIRST_ROW + len(SHIFTS) - 1,
    READINGS.first_column + len(READINGS.columns) + 1,
)


def _fall(name: str, words: str, corner: str, depths: str, beyond: str, share: float = 0.0) -> tuple[Column, ...]:
    """Szz, Szy and the least squares of the readings for a fall with its corner there, which keeps a share of its slope beyond.

    With the corner beyond all readings the squares are `beyond`; where nothing falls they are those about the level.
    """
    reach = f"({corner}-{depths})*({depths}<{corner})*{{all_used}}"
    if share:
        reach = f"({corner}-{depths})*({share:G}+{1 - share:G}*({depths}<{corner}))*{{all_used}}"
    squares = first_of(
        ("{corner}<={first}", "{syy}"),
        ("{corner}>={last}", beyond),
        (f"{{{name}_zy}}<=0", "{syy}"),
        otherwise=f"MAX(0,{{syy}}-{{{name}_zy}}^2/{{{name}_zz}})",
    )
    return tuple(
        Column(f"{name}_{part}", f"{label}, {words} fall", 11, "General", formula=if_judged(formula))
        for part, label, formula in (
            ("zz", "Szz", f"SUMPRODUCT(({reach})^2)-SUMPRODUCT({reach})^2/{{n_readings}}"),
            ("zy", "Szy", f"SUMPRODUCT({reach}*{{all_off}})"),
            ("squares", "squares", squares),
        )
    )


_CORNER = f"{{knee}}*({confirm.LOWEST_CORNER:G}+{confirm.HIGHEST_CORNER - confirm.LOWEST_CORNER:.12G}*{{step}}/{confirm.STEPS})"
CORNERS = Columns(
    SHEET,
    (
        Column("step", "step", 6, "0"),
        Column("corner", "corner, µm", 11, "0.00000", formula=if_judged(_CORNER)),
        Column("corner_curve", "2 - (first/corner)²", 11, "0.00000", formula=if_judged("2-({first}/{corner})^2")),
        *_fall("hinge", "straight", "{corner}", "{all_depth}", "{line_beyond}"),
        *_fall("gentle", "lasting", "{corner}", "{all_depth}", "{line_beyond}", confirm.GENTLE),
        *_fall("curved", "curved", "{corner_curve}", "{all_curve}", "{curve_beyond}"),
        Column(
            "squares", "least squares", 11, "General", formula=if_judged("MIN({hinge_squares},{gentle_squares},{curved_squares})")
        ),
        Column(
            "inside",
            "in the set of the readings, µm",
            11,
            "0.00000",
            formula=if_judged('IF({squares}<={least}+{bar}*{variance_of_one},{corner},"")'),
        ),
        Column(
            "both",
            "with the record",
            11,
            "General",
            formula=if_judged("{squares}/{variance_of_one}+({corner}-{knee})^2/{recorded_variance}"),
        ),
        Column(
            "inside_both",
            "in the set of both, µm",
            11,
            "0.00000",
            formula=if_judged('IF({both}<={least_both}+{bar},{corner},"")'),
        ),
    ),
    FIRST_ROW,
    FIRST_ROW + confirm.STEPS,
    PLACES.first_column + len(PLACES.columns) + 1,
)
