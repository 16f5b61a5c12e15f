"""The columns of the knee in cells, a row a reading in order of depth."""

from __future__ import annotations

from .knee_falls import BEND, CURVED, STRAIGHT, Fall, named


def counted(formula: str, otherwise: str = "0") -> str:
    """The formula in the rows of the readings that count."""
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


def solved(prefix: str, flag: str, start: str, stop: str, mean: str = "[left_x]"):
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


def _side_columns(fall: Fall):
    return named(
        fall,
        (
            ("left_x", "left: mean depth, PLACE", counted("[~left_x-]+([~depth]-[~left_x-])/[no]", "[~left_x-]")),
            (
                "left_sxx",
                "left: squares of depth",
                counted("[~left_sxx-]+([~depth]-[~left_x-])*([~depth]-[~left_x])", "[~left_sxx-]"),
            ),
            ("left_sxy", "left: products", counted("[~left_sxy-]+([~depth]-[~left_x-])*([energy]-[left_y])", "[~left_sxy-]")),
        ),
    )


def _hinge_columns(fall: Fall):
    return named(
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
            *solved("~", "~open", "[~from]", "[~to]", "[~left_x]"),
            ("residual", "square of the residual", counted("([energy]-{~fit_level}-{~fit_slope}*MAX(0,{~fit_knee}-[~depth]))^2")),
        ),
    )


# The readings as they were given and their order, and depths that differ by rounding only made one.
GIVEN = (
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
)
EQUAL_DEPTHS = (
    ("depth", "depth, equal ones made one, µm", "IF([sorted]-[depth-]<={SAME_DEPTH}*[depth-],[depth-],[sorted])"),
    ("depth_no", "number of the depth", counted("IF([depth]>[depth-],[depth_no-]+1,[depth_no-])", "[depth_no-]")),
)

# Key, label, formula.  Left are the readings up to this row, right those below; means and squares are updated reading by
# reading, about the mean so far, which keeps their digits.
COLUMNS = (
    *GIVEN,
    ("sorted", "depth in order, µm", counted("INDEX([depth_in:],MATCH([no],[rank:],0))", "{NONE}")),
    ("energy", "its energy", counted("INDEX({energies},MATCH([no],[rank:],0))", '""')),
    *EQUAL_DEPTHS,
    (
        "place",
        "depth, close ones made one, µm",
        counted("IF([depth]-[place-]<={SAME_PLACE}*{span},[place-],[depth])", "[place-]"),
    ),
    ("place_no", "number of it", "IF([place]>[place-],[place_no-]+1,[place_no-])"),
    ("group_n", "readings so far at the depth", counted("IF([depth_no]=[depth_no-],[group_n-]+1,1)")),
    ("group_mean", "their mean energy", counted("IF([group_n]=1,[energy],[group_mean-]+([energy]-[group_mean-])/[group_n])")),
    ("repeat_square", "square of a repeat", "IF([group_n]>1,([energy]-[group_mean-])*([energy]-[group_mean]),0)"),
    ("repeat", "depth is repeated (1 yes)", "IF([group_n]>1,1,IF([group_n]=1,IF([group_n+]>1,1,0),0))"),
    ("repeat_energy", "energy, if so", "IF([repeat]=1,[energy],0)"),
    *_side_columns(STRAIGHT),
    ("left_y", "left: mean energy", counted("[left_y-]+([energy]-[left_y-])/[no]", "[left_y-]")),
    ("left_syy", "left: squares of energy", counted("[left_syy-]+([energy]-[left_y-])*([energy]-[left_y])", "[left_syy-]")),
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
        counted("([energy]-{stick_level}-IF([depth]<{stick_knee},{stick_slope},{stick_right})*({stick_knee}-[depth]))^2"),
    ),
    ("bend_spare", "squares up to the limit", _where("two", "{stick_sse}+{stick_spare}-[both_sse]", "0")),
    ("bend_square", "factor of the square", _where("two", "[turning]^2-[bend_spare]*(1/[left_sxx]+1/[right_sxx])", "0")),
    ("bend_half", "half the factor of the place", _where("two", "[miss]*[turning]-[bend_spare]*[apart]/[right_sxx]", "0")),
    ("bend_constant", "constant", _where("two", "[miss]^2-[bend_spare]*([give]+[apart]^2/[right_sxx])", "0")),
    ("bend_under", "under the root", _where("two", "[bend_half]^2-[bend_square]*[bend_constant]", "-1")),
    *named(BEND, solved("bend_", "two", "[bend_low]", "[bend_high]")),
    ("curve_depth", "curved: 2 - (lowest depth/depth)²", counted("2-({first}/[depth])^2", "{NONE}")),
    *_side_columns(CURVED),
    *_hinge_columns(CURVED),
)
