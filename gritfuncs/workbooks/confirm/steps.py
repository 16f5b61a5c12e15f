"""The sheet `calc confirm`: the rule of knee.confirm in native formulas, for a recorded knee and up to eight readings.

At constant infeed rate depth goes with the fourth root of work rpm, so one rpm, that of the recorded knee with the new part's
setup, says where every reading lies.  Net load in any unit will do: the rule looks at shares of the level only.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ...knee import confirm, reach, thresholds, variance
from ..book import Book
from ..columns import Column, Columns
from ..conditions import first_of, quoted

SHEET = "calc confirm"
ROWS = confirm.MOST_CONFIRMING
_FIRST = 7  # row of the first reading, place and corner, and of the first step
_SHIFTS = (confirm.BEYOND, "-{below}/2", confirm.FURTHER_BEYOND, "-{below}")  # of the depths about the knee, as shares of it

# The cases of the answer, in the order in which they are asked for; STARTING means that something is still to be filled in.
(STARTING, DAMAGE, NARROW, READING, HOT, NO_FIT, OPEN, MOVED, WIDE, CONFIRMED) = range(10)
WORDS = {  # by case
    STARTING: "",
    DAMAGE: confirm.CHANGED,
    NARROW: confirm.GO_ON,
    READING: confirm.GO_ON,
    HOT: confirm.GO_ON,
    NO_FIT: confirm.CHANGED,
    OPEN: confirm.GO_ON,
    MOVED: confirm.CHANGED,
    WIDE: confirm.GO_ON,
    CONFIRMED: confirm.CONFIRMED,
}

READINGS = Columns(
    SHEET,
    (
        Column("number", "no.", 5, "0"),
        Column("used", "is used (1 yes)", 9, "0"),
        Column("depth", "depth, µm", 11, "0.00000"),
        Column("known", "the same, else blank", 11, "0.00000"),
        Column("net", "net load", 11, "General"),
        Column("known_net", "the same, else blank", 11, "General"),
        Column("off", "off the mean", 11, "General"),
        Column("curve", "2 - (first/depth)²", 11, "0.00000"),
        Column("place", "is a second depth", 11, "0.00000"),
        Column("beyond", "readings beyond", 9, "0"),
        Column("upper", "next depth", 11, "0.00000"),
        Column("left_depth", "mean depth up to here", 11, "0.00000"),
        Column("left_off", "mean off up to here", 11, "General"),
        Column("right_off", "mean off beyond", 11, "General"),
        Column("sxx", "Sxx up to here", 11, "General"),
        Column("sxy", "Sxy up to here", 11, "General"),
        Column("inner_corner", "best corner before the next depth", 11, "0.00000"),
        Column("inner_squares", "its squares", 11, "General"),
        Column("szz", "Szz, corner at the next depth", 11, "General"),
        Column("szy", "Szy, corner at the next depth", 11, "General"),
        Column("on_squares", "its squares", 11, "General"),
        Column("on_level", "its level off the mean", 11, "General"),
    ),
    _FIRST,
    _FIRST + ROWS - 1,
    5,
)
_PLACES_FROM = 5 + len(READINGS.columns) + 1
PLACES = Columns(
    SHEET,
    (
        Column("place_number", "place", 6, "0"),
        Column("aim", "depth to aim at, µm", 11, "0.00000"),
        Column("rpm_exact", "work rpm, exact", 11, "0.000"),
        Column("rpm", "work rpm to set", 11, "0.000"),
        Column("place_depth", "depth there, µm", 11, "0.00000"),
        Column("differs", "is a place of its own (1 yes)", 11, "0"),
        Column("has", "is read (1 yes)", 9, "0"),
        Column("place_left", "readings below the corner, with this", 11, "0"),
        Column("place_mean", "their mean depth", 11, "0.00000"),
        Column("place_sxx", "their Sxx", 11, "General"),
        Column("variance", "variance of the corner with a reading here", 11, "General"),
    ),
    _FIRST,
    _FIRST + len(_SHIFTS) - 1,
    _PLACES_FROM,
)
_CORNERS_FROM = _PLACES_FROM + len(PLACES.columns) + 1
CORNERS = Columns(
    SHEET,
    (
        Column("step", "step", 6, "0"),
        Column("corner", "corner, µm", 11, "0.00000"),
        Column("corner_curve", "2 - (first/corner)²", 11, "0.00000"),
        *(
            Column(f"{fall}_{name}", f"{label}, {words} fall", 11, "General")
            for fall, words in (("hinge", "straight"), ("gentle", "lasting"), ("curved", "curved"))
            for name, label in (("zz", "Szz"), ("zy", "Szy"), ("squares", "squares"))
        ),
        Column("squares", "least squares", 11, "General"),
        Column("inside", "in the set of the readings, µm", 11, "0.00000"),
        Column("both", "with the record", 11, "General"),
        Column("inside_both", "in the set of both, µm", 11, "0.00000"),
    ),
    _FIRST,
    _FIRST + confirm.STEPS,
    _CORNERS_FROM,
)


def steps_page(book: Book, given: Mapping[str, str], rows: Sequence[Mapping[str, str]]) -> None:
    """Add the sheet.

    `given` has the cells of knee, low, high, steepness, scatter (%), degrees_of_freedom, shallowest, deepest (these three may be
    blank), rpm (of the recorded knee), lowest_rpm, highest_rpm (may be blank), wanted (%), and the conditions ready and damage.
    `rows` have for each reading the cells work_rpm and net and the condition used.  The names out_confirm_<step> hold the answer:
    case, next_rpm, nominal_rpm, own, knee, knee_low, knee_high, half_width and n_readings.
    """
    tables = ((READINGS, 5), (PLACES, _PLACES_FROM), (CORNERS, _CORNERS_FROM))
    widths = [44.0, 14.0, 4.0, 4.0]
    for table, _ in tables:
        widths += [*table.widths, 4.0]
    page = book.page(SHEET, "Calculation: is the recorded knee confirmed (nothing to type here)", widths)
    steps = {name: f"$B${_FIRST + place}" for place, (name, *_) in enumerate(_STEPS)}
    known = {**given, **steps, **_areas()}

    def text(formula: str, **more: str) -> str:
        """The formula with the addresses of what it names."""
        for _ in range(3):  # conditions name steps in their turn
            formula = formula.format_map(_Kept({**known, **more}))
        return formula

    for table, first_column in tables:
        page.row = _FIRST - 1
        page.table_head(table.headings, first_column, lines=4)
    page.row = _FIRST - 1
    page.table_head(("step", "value"), lines=4)
    for place, (_, label, number, formula) in enumerate(_STEPS):
        page.row = _FIRST + place
        page.cells((label, "=" + text(formula)), formats=(None, number))
    for name, *_ in _STEPS:
        if name in _NAMED:
            book.name(f"out_confirm_{name}", page.sheet, steps[name].replace("$", ""))
    for number, row in enumerate(rows, 1):
        page.row = _FIRST + number - 1
        here = {column.name: "$" + READINGS.here(column.name, page.row) for column in READINGS.columns}
        page.cells(
            ["=" + text(formula, **here, **row) if name != "number" else number for name, formula in _READING.items()],
            READINGS.formats,
            tables[0][1],
        )
    for number, shift in enumerate(_SHIFTS, 1):
        page.row = _FIRST + number - 1
        here = {column.name: "$" + PLACES.here(column.name, page.row) for column in PLACES.columns}
        before = [PLACES.here("place_depth", _FIRST + place) for place in range(number - 1)]
        apart = "*".join(f"(ABS({other}-{{place_depth}})>{confirm.NEAR:G}*{{knee}})" for other in before) or "1"
        side = ">" if number % 2 else "<="
        formulas = _place(shift, side, apart)
        page.cells(
            [number, *("=" + text(formulas[column.name], **here) for column in PLACES.columns[1:])], PLACES.formats, tables[1][1]
        )
    for step in range(confirm.STEPS + 1):
        page.row = _FIRST + step
        here = {column.name: "$" + CORNERS.here(column.name, page.row) for column in CORNERS.columns}
        formulas = (text(_alternating(_CORNER[column.name], step), **here) for column in CORNERS.columns[1:])
        page.cells([step, *("=" + formula for formula in formulas)], CORNERS.formats, tables[2][1])
    page.sheet.freeze_panes = f"C{_FIRST}"
    page.sheet.print_area = f"A1:B{_FIRST + len(_STEPS) - 1}"  # the tables are to be read on the screen


def _alternating(formula: str, step: int) -> str:
    """The same condition written in two ways from row to row.

    LibreOffice computes equal formulas below each other together, and then takes the chain of these columns and the steps for a circle.
    """
    return formula.replace("{judged}=1", "{judged}>0") if step % 2 else formula


class _Kept(dict):
    def __missing__(self, name: str) -> str:
        raise KeyError(f"no cell is called {name}")


def _areas() -> dict[str, str]:
    """The columns of the tables, on the sheet itself: {name:s} in a formula."""
    found = {}
    for table in (READINGS, PLACES, CORNERS):
        for column in table.columns:
            first, _, last = table.range(column.name).partition(":")
            letter = first.rstrip("0123456789")
            found["all_" + column.name] = f"${letter}${first[len(letter) :]}:${letter}${last[len(letter) :]}"
    return found


def _judged(formula: str) -> str:
    return first_of(("{judged}=1", formula), otherwise=quoted(""))


def _wanted(condition: str, formula: str) -> str:
    return first_of((condition, formula), otherwise=quoted(""))


_NAMED = ("case", "next_rpm", "nominal_rpm", "own", "new_knee", "new_low", "new_high", "half_width", "n_readings")
_NONE = "COUNT({all_inner_squares},{all_on_squares})=0"

# name, label, number format, formula
_STEPS: tuple[tuple[str, str, str | None, str], ...] = (
    ("started", "record and setup are known (1 yes)", "0", "IF({ready},1,0)"),
    ("n_readings", "readings that are used", "0", "SUM({all_used})"),
    ("mean", "mean net load", "General", _wanted("{n_readings}>0", "SUMPRODUCT({all_used}*{all_net})/{n_readings}")),
    ("first", "shallowest depth read, µm", "0.00000", _wanted("{n_readings}>0", "MIN({all_known})")),
    ("last", "deepest depth read, µm", "0.00000", _wanted("{n_readings}>0", "MAX({all_known})")),
    (
        "freedom_before",
        "degrees of freedom of the record",
        "0",
        f"IF(ISNUMBER({{degrees_of_freedom}}),{{degrees_of_freedom}},{confirm.RECORDED_FREEDOM})",
    ),
    (
        "below",
        "how far below the knee to read, share of it",
        "0.0000",
        _wanted("{started}=1", f"MIN({confirm.BELOW:G},{confirm.LARGEST_RISE:G}/{{steepness}})"),
    ),
    (
        "least_depth",
        "no shallower than, µm",
        "0.00000",
        _wanted(
            "{started}=1",
            "MAX(0,IF(ISNUMBER({shallowest}),{shallowest},0),IF(ISNUMBER({lowest_rpm}),{knee}*({lowest_rpm}/{rpm_at_knee})^0.25,0))",
        ),
    ),
    (
        "most_depth",
        "no deeper than, µm",
        "0.00000",
        _wanted(
            "{started}=1",
            "MIN(1E+99,IF(ISNUMBER({deepest}),{deepest},1E+99),IF(ISNUMBER({highest_rpm}),{knee}*({highest_rpm}/{rpm_at_knee})^0.25,1E+99))",
        ),
    ),
    (
        "low_rpm",
        "no slower than, 1/min",
        "0.000",
        _wanted("{started}=1", "IF({least_depth}>0,{rpm_at_knee}*({least_depth}/{knee})^4,0)"),
    ),
    (
        "high_rpm",
        "no faster than, 1/min",
        "General",
        _wanted("{started}=1", "IF({most_depth}<1E+99,{rpm_at_knee}*({most_depth}/{knee})^4,1E+300)"),
    ),
    (
        "nominal_rpm",
        "where a full trial starts, 1/min",
        "0.0",
        _wanted(
            "{started}=1",
            "MIN(IF(ISNUMBER({highest_rpm}),{highest_rpm},1E+300),MAX(IF(ISNUMBER({lowest_rpm}),{lowest_rpm},0),"
            "ROUND({rpm_at_knee},2-INT(LOG10({rpm_at_knee})))))",
        ),
    ),
    ("places", "places that can be read", "0", "SUM({all_differs})"),
    (
        "missing",
        "first of them that is not read (5: none)",
        "0",
        _wanted("{started}*({places}=4)=1", "IF(SUM({all_has})=4,5,MATCH(0,{all_has},0))"),
    ),
    (
        "rise",
        "net load at the shallowest depth over the lowest",
        "0.000",
        _wanted(
            "{n_readings}>0",
            "SUMPRODUCT(({all_depth}={first})*{all_used}*{all_net})/SUMPRODUCT(({all_depth}={first})*{all_used})"
            "/MIN({all_known_net})",
        ),
    ),
    (
        "hot",
        "that place is slower than all and the load has risen (1 yes)",
        "0",
        _wanted(
            "{started}*({places}=4)=1",
            f"IF({{missing}}=5,0,IF({{n_readings}}=0,0,IF(INDEX({{all_place_depth}},{{missing}})<={{first}},IF({{rise}}>={reach.ENERGY_FACTOR:G},1,0),0)))",
        ),
    ),
    ("judged", "all places are read: judge (1 yes)", "0", "IF({missing}=5,1,0)"),
    ("syy", "squares about the mean", "General", _judged("SUMPRODUCT({all_used}*{all_off}^2)")),
    ("mean_depth", "mean depth, µm", "0.00000", _judged("SUMPRODUCT({all_used}*{all_depth})/{n_readings}")),
    ("line_xx", "Sxx of all", "General", _judged("SUMPRODUCT({all_used}*({all_depth}-{mean_depth})^2)")),
    ("line_xy", "Sxy of all", "General", _judged("SUMPRODUCT({all_used}*({all_depth}-{mean_depth})*{all_off})")),
    ("line_squares", "squares about a straight line", "General", _judged("MAX(0,{syy}-{line_xy}^2/{line_xx})")),
    (
        "corner_squares",
        "squares about the best straight fall with a corner",
        "General",
        _judged(f"IF({_NONE},1E+300,MIN({{all_inner_squares}},{{all_on_squares}}))"),
    ),
    (
        "corner_level",
        "its level, off the mean",
        "General",
        _judged(
            f"IF({_NONE},0,IF(COUNT({{all_inner_squares}})=0,INDEX({{all_on_level}},MATCH({{corner_squares}},{{all_on_squares}},0)),"
            "IF(MIN({all_inner_squares})={corner_squares},INDEX({all_right_off},MATCH({corner_squares},{all_inner_squares},0)),"
            "INDEX({all_on_level},MATCH({corner_squares},{all_on_squares},0)))))"
        ),
    ),
    (
        "line_wins",
        "the straight line does as well (1 yes)",
        "0",
        _judged(f"IF({{line_xy}}<0,IF({{line_squares}}<={{corner_squares}}+{thresholds.ROUNDING:G}*{{syy}},1,0),0)"),
    ),
    ("fit_squares", "squares about the better", "General", _judged("IF({line_wins}=1,{line_squares},{corner_squares})")),
    (
        "level",
        "level of the fit",
        "General",
        _judged(
            "{mean}+"
            + first_of(
                (f"{{fit_squares}}>={{syy}}*(1-{thresholds.ROUNDING:G})", "0"),
                ("{line_wins}=1", "{line_xy}/{line_xx}*({last}-{mean_depth})"),
                otherwise="{corner_level}",
            )
        ),
    ),
    ("expected", "scatter of the record, squared", "General", _judged("({scatter}/100*IF({level}>0,{level},{mean}))^2")),
    ("curve_mean", "mean of 2 - (first/depth)²", "0.00000", _judged("SUMPRODUCT({all_used}*{all_curve})/{n_readings}")),
    ("curve_xx", "its Sxx", "General", _judged("SUMPRODUCT({all_used}*({all_curve}-{curve_mean})^2)")),
    ("curve_xy", "its Sxy", "General", _judged("SUMPRODUCT({all_used}*({all_curve}-{curve_mean})*{all_off})")),
    (
        "line_beyond",
        "squares with a corner beyond all, straight fall",
        "General",
        _judged("IF({line_xy}<0,{line_squares},{syy})"),
    ),
    (
        "curve_beyond",
        "squares with a corner beyond all, curved fall",
        "General",
        _judged("IF({curve_xy}<0,MAX(0,{syy}-{curve_xy}^2/{curve_xx}),{syy})"),
    ),
    ("least", "least squares of all corners", "General", _judged("MIN({all_squares})")),
    ("own_freedom", "degrees of freedom of the readings", "0", _judged("{n_readings}-3")),
    (
        "no_fit",
        "the readings fit no knee about the record (1 yes)",
        "0",
        _judged(f"IF({{least}}/{{own_freedom}}>{confirm.LACK_OF_FIT:G}*{{expected}},1,0)"),
    ),
    ("freedom", "degrees of freedom of both", "0", _judged("{freedom_before}+{own_freedom}")),
    (
        "variance_of_one",
        "variance of a reading",
        "General",
        _judged("({freedom_before}*{expected}+MIN({all_squares}))/{freedom}"),
    ),
    ("bar", "F with 1 and these", "0.000", _judged(f"FINV({1 - thresholds.CONFIDENCE:.2G},1,ROUND({{freedom}},0))")),
    ("from", "set of the readings, from, µm", "0.00000", _judged("MIN({all_inside})")),
    ("to", "set of the readings, to, µm", "0.00000", _judged("MAX({all_inside})")),
    (
        "own",
        "knee of the new readings alone, µm",
        "0.00000",
        _judged(
            f"IF(SUMPRODUCT(({{all_squares}}<={{least}}+{thresholds.ROUNDING:G}*{{syy}})*1)=1,"
            "INDEX({all_corner},MATCH({least},{all_squares},0)),({from}+{to})/2)"
        ),
    ),
    ("second", "second depth, µm", "0.00000", _judged("MIN({all_place})")),
    ("open", "the readings alone do not bracket a knee (1 yes)", "0", _judged("IF({from}<={second},1,IF({to}>={last},1,0))")),
    (
        "recorded_variance",
        "variance of the recorded knee, µm²",
        "General",
        _judged(f"(({{high}}-{{low}})/2/{confirm.NORMAL_95:G})^2+({confirm.BETWEEN_PARTS:G}*{{knee}})^2"),
    ),
    ("error", "standard error between both, µm", "0.00000", _judged("SQRT({recorded_variance}+(({to}-{from})/4)^2)")),
    ("moved", "the knee has moved (1 yes)", "0", _judged(f"IF(ABS({{own}}-{{knee}})>{confirm.CHANGED_ERRORS:G}*{{error}},1,0)")),
    ("least_both", "least squares with the record", "General", _judged("MIN({all_both})")),
    ("new_knee", "knee of record and readings, µm", "0.00000", _judged("INDEX({all_corner},MATCH({least_both},{all_both},0))")),
    (
        "new_low",
        "its interval, from, µm",
        "0.00000",
        _judged(f"MIN({{all_inside_both}},{{own}},{{new_knee}}*(1-{confirm.LEAST_HALF_WIDTH:G}))"),
    ),
    (
        "new_high",
        "its interval, to, µm",
        "0.00000",
        _judged(f"MAX({{all_inside_both}},{{own}},{{new_knee}}*(1+{confirm.LEAST_HALF_WIDTH:G}))"),
    ),
    ("half_width", "its half width, %", "0.00", _judged("100*MAX({new_knee}-{new_low},{new_high}-{new_knee})/{new_knee}")),
    (
        "case",
        "case of the answer",
        "0",
        first_of(
            ("{damage}", str(DAMAGE)),
            ("{started}<>1", str(STARTING)),
            ("{places}<4", str(NARROW)),
            ("{hot}=1", str(HOT)),
            ("{missing}<5", str(READING)),
            ("{no_fit}=1", str(NO_FIT)),
            ("{open}=1", str(OPEN)),
            ("{moved}=1", str(MOVED)),
            ("{half_width}>{wanted}", str(WIDE)),
            otherwise=str(CONFIRMED),
        ),
    ),
    (
        "next_rpm",
        "work rpm to read next, 1/min",
        "0.000",
        first_of(
            (f"{{case}}={READING}", "INDEX({all_rpm},{missing})"),
            (f"({{case}}={OPEN})+({{case}}={WIDE})=0", quoted("")),
            (f"{{n_readings}}>={ROWS}", quoted("")),
            otherwise="INDEX({all_rpm},MATCH(MIN({all_variance}),{all_variance},0))",
        ),
    ),
)

_LEFT = "({all_depth}<={depth})*{all_used}"
_RIGHT = "({all_depth}>{depth})*{all_used}"
_HAS_NEXT = "IF({judged}=1,{used}*{beyond}>0,FALSE)"


def _has_next(formula: str) -> str:
    return first_of((_HAS_NEXT, formula), otherwise=quoted(""))


_READING = {
    "number": "",
    "used": "IF({is_used},IF({started}=1,1,0),0)",
    "depth": "IF({used}=1,{knee}*({work_rpm}/{rpm_at_knee})^0.25,0)",
    "known": 'IF({used}=1,{depth},"")',
    "net": "IF({used}=1,{net_load},0)",
    "known_net": 'IF({used}=1,{net},"")',
    "off": "IF({used}=1,{net}-{mean},0)",
    "curve": "IF({used}=1,2-({first}/{depth})^2,0)",
    "place": f'IF({{used}}=1,IF({{depth}}-{{first}}>{thresholds.SAME_PLACE:G}*({{last}}-{{first}}),{{depth}},""),"")',
    "beyond": f"SUMPRODUCT({_RIGHT})",
    "upper": _has_next("LARGE({all_known},{beyond})"),
    "left_depth": _has_next(f"SUMPRODUCT({_LEFT}*{{all_depth}})/({{n_readings}}-{{beyond}})"),
    "left_off": _has_next(f"SUMPRODUCT({_LEFT}*{{all_off}})/({{n_readings}}-{{beyond}})"),
    "right_off": _has_next(f"SUMPRODUCT({_RIGHT}*{{all_off}})/{{beyond}}"),
    "sxx": _has_next(f"SUMPRODUCT({_LEFT}*({{all_depth}}-{{left_depth}})^2)"),
    "sxy": _has_next(f"SUMPRODUCT({_LEFT}*({{all_depth}}-{{left_depth}})*{{all_off}})"),
    "inner_corner": _has_next('IF({sxy}<0,IF({sxx}>1E-19*{first}^2,{left_depth}-({left_off}-{right_off})*{sxx}/{sxy},""),"")'),
    "inner_squares": "IF(ISNUMBER({inner_corner}),IF(({inner_corner}>={depth})*({inner_corner}<={upper})=1,"
    f"SUMPRODUCT({_LEFT}*({{all_off}}-{{left_off}})^2)+SUMPRODUCT({_RIGHT}*({{all_off}}-{{right_off}})^2)"
    '-{sxy}^2/{sxx},""),"")',
    "szz": _has_next(
        f"SUMPRODUCT({_LEFT}*({{upper}}-{{all_depth}})^2)-SUMPRODUCT({_LEFT}*({{upper}}-{{all_depth}}))^2/{{n_readings}}"
    ),
    "szy": _has_next(f"SUMPRODUCT({_LEFT}*({{upper}}-{{all_depth}})*{{all_off}})"),
    "on_squares": _has_next('IF({szy}>0,{syy}-{szy}^2/{szz},"")'),
    "on_level": _has_next(f'IF({{szy}}>0,-{{szy}}/{{szz}}*SUMPRODUCT({_LEFT}*({{upper}}-{{all_depth}}))/{{n_readings}},"")'),
}


def _place(shift: float | str, side: str, apart: str) -> dict[str, str]:
    shift = f"{shift:+G}" if isinstance(shift, float) else shift
    figures = "2-INT(LOG10({rpm_exact}))"  # three figures
    within = "(ROUND{0}({{rpm_exact}},{1})>={{low_rpm}})*(ROUND{0}({{rpm_exact}},{1})<={{high_rpm}})=1"
    started, near = "{started}=1", f"{confirm.NEAR:G}*{{knee}}"
    return {
        "aim": _wanted(started, f"MIN({{most_depth}},MAX({{least_depth}},{{knee}}*(1{shift})))"),
        "rpm_exact": _wanted(started, "{rpm_at_knee}*({aim}/{knee})^4"),
        "rpm": _wanted(
            started,
            first_of(
                *((within.format(way, figures), f"ROUND{way}({{rpm_exact}},{figures})") for way in ("", "UP", "DOWN")),
                otherwise="MIN(MAX({rpm_exact},{low_rpm}),{high_rpm})",
            ),
        ),
        "place_depth": _wanted(started, "{knee}*({rpm}/{rpm_at_knee})^0.25"),
        "differs": _wanted(started, f"IF(({{least_depth}}<={{most_depth}})*({{aim}}{side}{{knee}})*{apart}=1,1,0)"),
        "has": _wanted(
            started,
            f"IF(SUMPRODUCT({{all_used}}*({{all_depth}}-{{place_depth}}<={near})*({{place_depth}}-{{all_depth}}<={near}))>0,1,0)",
        ),
        "place_left": _judged("SUMPRODUCT(({all_depth}<{own})*{all_used})+IF({place_depth}<{own},1,0)"),
        "place_mean": _judged(
            "IF({place_left}>0,(SUMPRODUCT(({all_depth}<{own})*{all_used}*{all_depth})+IF({place_depth}<{own},{place_depth},0))/{place_left},0)"
        ),
        "place_sxx": _judged(
            "SUMPRODUCT(({all_depth}<{own})*{all_used}*({all_depth}-{place_mean})^2)+IF({place_depth}<{own},({place_depth}-{place_mean})^2,0)"
        ),
        "variance": _judged(
            first_of(
                ("{place_left}<2", f"{variance.UNKNOWN:G}"),
                ("{place_left}>{n_readings}", f"{variance.UNKNOWN:G}"),
                (f"{{place_sxx}}*{variance.UNKNOWN:G}<=({{own}}-{{place_mean}})^2", f"{variance.UNKNOWN:G}"),
                otherwise=f"MIN({variance.UNKNOWN:G},1/{{place_left}}+1/({{n_readings}}+1-{{place_left}})"
                "+({own}-{place_mean})^2/{place_sxx})",
            )
        ),
    }


def _fall(corner: str, depths: str, share: float) -> tuple[str, str]:
    """Szz and Szy of the readings for a fall with its corner at a place, which keeps a share of its slope beyond."""
    reach_of = f"({corner}-{depths})*({depths}<{corner})*{{all_used}}"
    if share:
        reach_of = f"({corner}-{depths})*({share:G}+{1 - share:G}*({depths}<{corner}))*{{all_used}}"
    square = f"SUMPRODUCT(({reach_of})^2)-SUMPRODUCT({reach_of})^2/{{n_readings}}"
    return _judged(square), _judged(f"SUMPRODUCT({reach_of}*{{all_off}})")


def _squares(fall: str, beyond: str) -> str:
    """Squares about the best fall with that corner; those about the level where none falls."""
    return _judged(
        first_of(
            ("{corner}<={first}", "{syy}"),
            ("{corner}>={last}", beyond),
            (f"{{{fall}_zy}}<=0", "{syy}"),
            otherwise=f"MAX(0,{{syy}}-{{{fall}_zy}}^2/{{{fall}_zz}})",
        )
    )


_HINGE = _fall("{corner}", "{all_depth}", 0.0)
_GENTLE = _fall("{corner}", "{all_depth}", confirm.GENTLE)
_CURVED = _fall("{corner_curve}", "{all_curve}", 0.0)
_CORNER = {
    "corner": _judged(
        f"{{knee}}*({confirm.LOWEST_CORNER:G}+{confirm.HIGHEST_CORNER - confirm.LOWEST_CORNER:.12G}*{{step}}/{confirm.STEPS})"
    ),
    "corner_curve": _judged("2-({first}/{corner})^2"),
    "hinge_zz": _HINGE[0],
    "hinge_zy": _HINGE[1],
    "hinge_squares": _squares("hinge", "{line_beyond}"),
    "gentle_zz": _GENTLE[0],
    "gentle_zy": _GENTLE[1],
    "gentle_squares": _squares("gentle", "{line_beyond}"),
    "curved_zz": _CURVED[0],
    "curved_zy": _CURVED[1],
    "curved_squares": _squares("curved", "{curve_beyond}"),
    "squares": _judged("MIN({hinge_squares},{gentle_squares},{curved_squares})"),
    "inside": _judged('IF({squares}<={least}+{bar}*{variance_of_one},{corner},"")'),
    "both": _judged("{squares}/{variance_of_one}+({corner}-{knee})^2/{recorded_variance}"),
    "inside_both": _judged('IF({both}<={least_both}+{bar},{corner},"")'),
}


def last_row() -> int:
    """The last row of the steps in the first columns."""
    return _FIRST + len(_STEPS) - 1
