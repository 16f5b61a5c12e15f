"""The sheet `calc confirm`: the rule of knee.confirm in native formulas, for a recorded knee and up to eight readings.

At constant infeed rate depth goes with the fourth root of work rpm, so one rpm, that of the recorded knee with the new part's
setup, says where every reading lies.  Net load in any unit will do: the rule looks at shares of the level only.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ...knee import confirm, reach, thresholds
from ...sheets.book import Book
from ...sheets.columns import Columns
from ...sheets.conditions import first_of, quoted
from .cases import CONFIRMED, DAMAGE, HOT, MOVED, NARROW, NO_FIT, OPEN, READING, STARTING, WIDE
from .tables import CORNERS, FIRST_ROW, PLACES, READINGS, ROWS, SHEET, SHIFTS, if_judged, if_true


def steps_page(book: Book, given: Mapping[str, str], rows: Sequence[Mapping[str, str]]) -> None:
    """Add the sheet.

    `given` has the cells of knee, low, high, steepness, scatter (%), degrees_of_freedom, shallowest, deepest (these three may be
    blank), rpm_at_knee (in the new setup), lowest_rpm, highest_rpm (may be blank), wanted (%), and the conditions ready and damage.
    `rows` have for each reading the cells work_rpm and net_load and the conditions is_used and is_damaged.  The names
    out_confirm_<step> hold the answer: those of _NAMED.
    """
    tables = (READINGS, PLACES, CORNERS)
    widths = [50.0, 14.0, 4.0, 4.0]
    for table in tables:
        widths += [*table.widths, 4.0]
    page = book.page(SHEET, "Calculation: is the recorded knee confirmed (nothing to type here)", widths)
    steps = {name: f"$B${FIRST_ROW + place}" for place, (name, *_) in enumerate(_STEPS)}
    areas = {f"all_{column.name}": table.area_here(column.name) for table in tables for column in table.columns}
    known = {**given, **steps, **areas, "is_judged": "{judged}=1"}

    def text(formula: str, **more: str) -> str:
        """The formula with the addresses of what it names."""
        for _ in range(3):  # conditions name steps in their turn
            formula = formula.format_map(_Known({**known, **more}))
        return formula

    def write_row(table: Columns, number: int, place: int, **more: str) -> None:
        page.row = FIRST_ROW + place
        more.update((name, "$" + cell) for name, cell in table.row_here(page.row).items())
        first, *others = table.columns
        page.columns_row(table, {first.name: number}, {column.name: text(column.formula, **more) for column in others})

    for table in tables:
        page.columns_head(table, lines=4)
    page.row = FIRST_ROW - 1
    page.table_head(("step", "value"), lines=4)
    for name, label, number, formula in _STEPS:
        if name in _NAMED:
            book.name(f"out_confirm_{name}", page.sheet, f"B{page.row}")
        page.cells((label, "=" + text(formula)), formats=(None, number))
    for place, row in enumerate(rows):
        write_row(READINGS, place + 1, place, **row)
    for place, shift in enumerate(SHIFTS):
        before = (PLACES.here("place_depth", FIRST_ROW + earlier) for earlier in range(place))
        apart = "*".join(f"(ABS({other}-{{place_depth}})>{confirm.NEAR:G}*{{knee}})" for other in before) or "1"
        write_row(PLACES, place + 1, place, shift=shift, side="<=" if place % 2 else ">", apart=apart)
    for step in range(confirm.STEPS + 1):
        # One condition, written in two ways from row to row: LibreOffice computes equal formulas below each other together, and
        # then takes the chain of these columns and the steps for a circle.
        write_row(CORNERS, step, step, is_judged="{judged}>0" if step % 2 else "{judged}=1")
    page.sheet.freeze_panes = f"C{FIRST_ROW}"
    page.sheet.print_area = f"A1:B{last_row()}"  # the tables are to be read on the screen


class _Known(dict):
    def __missing__(self, name: str) -> str:
        raise KeyError(f"no cell is called {name}")


_NAMED = ("case", "next_rpm", "nominal_rpm", "own", "new_knee", "new_low", "new_high", "half_width", "n_readings")
_NONE = "COUNT({all_inner_squares},{all_on_squares})=0"

# name, label, number format, formula
_STEPS: tuple[tuple[str, str, str | None, str], ...] = (
    ("started", "record and setup are known (1 yes)", "0", "IF({ready},1,0)"),
    ("n_readings", "readings that are used", "0", "SUM({all_used})"),
    ("mean", "mean net load", "General", if_true("{n_readings}>0", "SUMPRODUCT({all_used}*{all_net})/{n_readings}")),
    ("first", "shallowest depth read, µm", "0.00000", if_true("{n_readings}>0", "MIN({all_known})")),
    ("last", "deepest depth read, µm", "0.00000", if_true("{n_readings}>0", "MAX({all_known})")),
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
        if_true("{started}=1", f"MIN({confirm.BELOW:G},{confirm.LARGEST_RISE:G}/{{steepness}})"),
    ),
    (
        "least_depth",
        "no shallower than, µm",
        "0.00000",
        if_true(
            "{started}=1",
            "MAX(0,IF(ISNUMBER({shallowest}),{shallowest},0),IF(ISNUMBER({lowest_rpm}),{knee}*({lowest_rpm}/{rpm_at_knee})^0.25,0))",
        ),
    ),
    (
        "most_depth",
        "no deeper than, µm",
        "0.00000",
        if_true(
            "{started}=1",
            "MIN(1E+99,IF(ISNUMBER({deepest}),{deepest},1E+99),IF(ISNUMBER({highest_rpm}),{knee}*({highest_rpm}/{rpm_at_knee})^0.25,1E+99))",
        ),
    ),
    (
        "low_rpm",
        "no slower than, 1/min",
        "0.000",
        if_true("{started}=1", "IF({least_depth}>0,{rpm_at_knee}*({least_depth}/{knee})^4,0)"),
    ),
    (
        "high_rpm",
        "no faster than, 1/min",
        "General",
        if_true("{started}=1", "IF({most_depth}<1E+99,{rpm_at_knee}*({most_depth}/{knee})^4,1E+300)"),
    ),
    (
        "nominal_rpm",
        "where a full trial starts, 1/min",
        "0.0",
        if_true(
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
        if_true("{started}*({places}=4)=1", "IF(SUM({all_has})=4,5,MATCH(0,{all_has},0))"),
    ),
    (
        "rise",
        "net load at the shallowest depth over the lowest",
        "0.000",
        if_true(
            "{n_readings}>0",
            "SUMPRODUCT(({all_depth}={first})*{all_used}*{all_net})/SUMPRODUCT(({all_depth}={first})*{all_used})"
            "/MIN({all_known_net})",
        ),
    ),
    (
        "hot",
        "that place is slower than all and the load has risen (1 yes)",
        "0",
        if_true(
            "{started}*({places}=4)=1",
            f"IF({{missing}}=5,0,IF({{n_readings}}=0,0,IF(INDEX({{all_place_depth}},{{missing}})<={{first}},IF({{rise}}>={reach.ENERGY_FACTOR:G},1,0),0)))",
        ),
    ),
    ("judged", "all places are read: judge (1 yes)", "0", "IF({missing}=5,1,0)"),
    ("syy", "squares about the mean", "General", if_judged("SUMPRODUCT({all_used}*{all_off}^2)")),
    ("mean_depth", "mean depth, µm", "0.00000", if_judged("SUMPRODUCT({all_used}*{all_depth})/{n_readings}")),
    ("line_xx", "Sxx of all", "General", if_judged("SUMPRODUCT({all_used}*({all_depth}-{mean_depth})^2)")),
    ("line_xy", "Sxy of all", "General", if_judged("SUMPRODUCT({all_used}*({all_depth}-{mean_depth})*{all_off})")),
    ("line_squares", "squares about a straight line", "General", if_judged("MAX(0,{syy}-{line_xy}^2/{line_xx})")),
    (
        "corner_squares",
        "squares about the best straight fall with a corner",
        "General",
        if_judged(f"IF({_NONE},1E+300,MIN({{all_inner_squares}},{{all_on_squares}}))"),
    ),
    (
        "corner_level",
        "its level, off the mean",
        "General",
        if_judged(
            f"IF({_NONE},0,IF(COUNT({{all_inner_squares}})=0,INDEX({{all_on_level}},MATCH({{corner_squares}},{{all_on_squares}},0)),"
            "IF(MIN({all_inner_squares})={corner_squares},INDEX({all_right_off},MATCH({corner_squares},{all_inner_squares},0)),"
            "INDEX({all_on_level},MATCH({corner_squares},{all_on_squares},0)))))"
        ),
    ),
    (
        "line_wins",
        "the straight line does as well (1 yes)",
        "0",
        if_judged(f"IF({{line_xy}}<0,IF({{line_squares}}<={{corner_squares}}+{thresholds.ROUNDING:G}*{{syy}},1,0),0)"),
    ),
    ("fit_squares", "squares about the better", "General", if_judged("IF({line_wins}=1,{line_squares},{corner_squares})")),
    (
        "level",
        "level of the fit",
        "General",
        if_judged(
            "{mean}+"
            + first_of(
                (f"{{fit_squares}}>={{syy}}*(1-{thresholds.ROUNDING:G})", "0"),
                ("{line_wins}=1", "{line_xy}/{line_xx}*({last}-{mean_depth})"),
                otherwise="{corner_level}",
            )
        ),
    ),
    ("expected", "scatter of the record, squared", "General", if_judged("({scatter}/100*IF({level}>0,{level},{mean}))^2")),
    ("curve_mean", "mean of 2 - (first/depth)²", "0.00000", if_judged("SUMPRODUCT({all_used}*{all_curve})/{n_readings}")),
    ("curve_xx", "its Sxx", "General", if_judged("SUMPRODUCT({all_used}*({all_curve}-{curve_mean})^2)")),
    ("curve_xy", "its Sxy", "General", if_judged("SUMPRODUCT({all_used}*({all_curve}-{curve_mean})*{all_off})")),
    (
        "line_beyond",
        "squares with a corner beyond all, straight fall",
        "General",
        if_judged("IF({line_xy}<0,{line_squares},{syy})"),
    ),
    (
        "curve_beyond",
        "squares with a corner beyond all, curved fall",
        "General",
        if_judged("IF({curve_xy}<0,MAX(0,{syy}-{curve_xy}^2/{curve_xx}),{syy})"),
    ),
    ("least", "least squares of all corners", "General", if_judged("MIN({all_squares})")),
    ("own_freedom", "degrees of freedom of the readings", "0", if_judged("{n_readings}-3")),
    (
        "no_fit",
        "the readings fit no knee about the record (1 yes)",
        "0",
        if_judged(f"IF({{least}}/{{own_freedom}}>{confirm.LACK_OF_FIT:G}*{{expected}},1,0)"),
    ),
    ("freedom", "degrees of freedom of both", "0", if_judged("{freedom_before}+{own_freedom}")),
    (
        "variance_of_one",
        "variance of a reading",
        "General",
        if_judged("({freedom_before}*{expected}+MIN({all_squares}))/{freedom}"),
    ),
    ("bar", "F with 1 and these", "0.000", if_judged(f"FINV({1 - thresholds.CONFIDENCE:.2G},1,ROUND({{freedom}},0))")),
    ("from", "set of the readings, from, µm", "0.00000", if_judged("MIN({all_inside})")),
    ("to", "set of the readings, to, µm", "0.00000", if_judged("MAX({all_inside})")),
    (
        "own",
        "knee of the new readings alone, µm",
        "0.00000",
        if_judged(
            f"IF(SUMPRODUCT(({{all_squares}}<={{least}}+{thresholds.ROUNDING:G}*{{syy}})*1)=1,"
            "INDEX({all_corner},MATCH({least},{all_squares},0)),({from}+{to})/2)"
        ),
    ),
    ("second", "second depth, µm", "0.00000", if_judged("MIN({all_place})")),
    ("open", "the readings alone do not bracket a knee (1 yes)", "0", if_judged("IF({from}<={second},1,IF({to}>={last},1,0))")),
    (
        "recorded_variance",
        "variance of the recorded knee, µm²",
        "General",
        if_judged(f"(({{high}}-{{low}})/2/{confirm.NORMAL_95:G})^2+({confirm.BETWEEN_PARTS:G}*{{knee}})^2"),
    ),
    ("error", "standard error between both, µm", "0.00000", if_judged("SQRT({recorded_variance}+(({to}-{from})/4)^2)")),
    (
        "moved",
        "the knee has moved (1 yes)",
        "0",
        if_judged(f"IF(ABS({{own}}-{{knee}})>{confirm.CHANGED_ERRORS:G}*{{error}},1,0)"),
    ),
    ("least_both", "least squares with the record", "General", if_judged("MIN({all_both})")),
    ("new_knee", "knee of record and readings, µm", "0.00000", if_judged("INDEX({all_corner},MATCH({least_both},{all_both},0))")),
    (
        "new_low",
        "its interval, from, µm",
        "0.00000",
        if_judged(f"MIN({{all_inside_both}},{{own}},{{new_knee}}*(1-{confirm.LEAST_HALF_WIDTH:G}))"),
    ),
    (
        "new_high",
        "its interval, to, µm",
        "0.00000",
        if_judged(f"MAX({{all_inside_both}},{{own}},{{new_knee}}*(1+{confirm.LEAST_HALF_WIDTH:G}))"),
    ),
    ("half_width", "its half width, %", "0.00", if_judged("100*MAX({new_knee}-{new_low},{new_high}-{new_knee})/{new_knee}")),
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


def last_row() -> int:
    """The last row of the steps in the first columns."""
    return FIRST_ROW + len(_STEPS) - 1
