"""A load that does not go with the removal rate, fitted beside the knee in cells, as `gritfuncs.knee.fitted_offset` has it.

The block takes it off the energies before the blocks of the knee see them, where the readings can tell it from a fall; with the
knee that they find it then says which corners are left, n - 4 degrees of freedom.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ...knee import FOUND, thresholds
from ...knee.offset import LEAST_LENGTH
from .knee_columns import EQUAL_DEPTHS, GIVEN, counted, solved
from .knee_falls import NONE
from .lay_out import Places, lay_out, places

NOTE = (
    "Where the removal rate changes from reading to reading, a load that does not go with it, such as an idle reading that is off, "
    "is fitted beside the knee if two readings at one depth tell it from a fall."
)
_U, _U2 = "unit of the readings", "the same, squared"
_SIZE = "1E-9"  # of a column; less is left of it by rounding only


def _sum(one: str, other: str) -> str:
    return f"SUMPRODUCT([{one}:]*[{other}:])"


def _gap(formula: str, otherwise: str = "0") -> str:
    return f"IF([end]=1,{formula},{otherwise})"


def _gain(t: str) -> str:
    """By how much a fall that ends at this place of a gap lowers the squares."""
    size, products = f"(([aa]*({t})+2*[ab])*({t})+[bb])", f"(({t})*[ay]+[by])"
    return f"IF({size}>0,IF({products}>0,{products}^2/{size},0),0)"


def _row(column: str) -> str:
    return f"INDEX([{column}:],{{row}})"


VALUES = (
    ("n_readings", "readings", "-", "SUM([used:])"),
    ("differ", "the removal rate changes (1 yes)", "-", "IF({n_readings}>={MIN_READINGS},IF(MAX({rates})>MIN({rates}),1,0),0)"),
    ("median", "middle removal rate, over that of the Inputs", "-", "IF({differ}=1,MEDIAN({rates}),1)"),
    ("first", "smallest depth", "µm", "MIN([depth:])"),
    ("span", "range of depths", "µm", "IF({differ}=1,INDEX([depth:],{n_readings})-{first},0)"),
    ("mean_x", "mean distance from it", "µm", "IF({n_readings}>0,SUM([x:])/{n_readings},0)"),
    ("mean_z", "mean of 1/removal", "-", "IF({n_readings}>0,SUM([z_raw:])/{n_readings},0)"),
    ("mean_u", "mean energy", _U, "IF({n_readings}>0,SUM([u:])/{n_readings},0)"),
    ("szz", "squares of 1/removal", "-", _sum("z", "z")),
    ("szu", "products of 1/removal and energy", _U, _sum("z", "u")),
    ("mean_square", "mean square of the place", "-", "IF({n_readings}>0,SUMPRODUCT([s:]*[s:])/{n_readings},0)"),
    ("mean_s", "mean place", "-", "IF({n_readings}>0,SUM([s:])/{n_readings},0)"),
    ("sss", "squares of the place", "-", _sum("s_off", "s_off")),
    ("bend", "products of place and its square", "-", _sum("s_off", "s_square")),
    ("sqq", "squares of the parabola", "-", _sum("q", "q")),
    ("z_on_s", "share of the place in 1/removal", "-", "IF({sss}>0," + _sum("s_off", "z") + "/{sss},0)"),
    ("z_on_q", "share of the parabola in it", "-", f"IF({{sqq}}>({_SIZE})^2*{{n_readings}}," + _sum("q", "z") + "/{sqq},0)"),
    ("length", "what a parabola in depth leaves of 1/removal", "-", "IF({differ}*{span}>0,SQRT(" + _sum("left", "left") + "),0)"),
    ("tells_offset", "it tells a load from a fall (1 yes)", "-", "IF({length}>={LEAST_LENGTH},1,0)"),
    ("yy", "squares of energy, level and load aside", _U2, _sum("y", "y")),
    ("gain", "by how much the best fall lowers them", _U2, "MAX(MAX([gain_on:]),MAX([gain_in:]))"),
    ("fits_offset", "the load is taken off (1 yes)", "-", "IF({tells_offset}=1,IF({gain}>0,1,0),0)"),
    (
        "row",
        "readings below its corner",
        "-",
        "IF({fits_offset}=1,IF(MAX([gain_on:])>=MAX([gain_in:]),MATCH({gain},[gain_on:],0),MATCH({gain},[gain_in:],0)),1)",
    ),
    ("place", "its place beyond the last of them", "µm", f"IF(MAX([gain_on:])>=MAX([gain_in:]),{_row('width')},{_row('t')})"),
    ("corner", "corner, from the smallest depth", "µm", f"{_row('x')}+{{place}}"),
    (
        "fall",
        "fall below it",
        "per µm",
        f"IF({{fits_offset}}=1,({{place}}*{_row('ay')}+{_row('by')})/(({_row('aa')}*{{place}}+2*{_row('ab')})*{{place}}+{_row('bb')}),0)",
    ),
    ("sse", "squares about it", _U2, "MAX(0,{yy}-{gain})"),
    (
        "offset",
        "load, as energy at the middle removal rate",
        _U,
        "IF({fits_offset}=1,({szu}-{fall}*" + _sum("z", "below") + ")/{szz},0)",
    ),
    ("offset_at_setup", "the same at that of the Inputs", _U, "{offset}*{median}"),
    ("mean_below", "mean distance below the corner", "µm", "IF({n_readings}>0,SUM([below:])/{n_readings},0)"),
    ("sff", "squares of it", "-", "SUMPRODUCT([below:]*[below:])-{n_readings}*{mean_below}^2"),
    ("z_on_below", "share of it in 1/removal", "-", "IF({sff}>0," + _sum("z", "below") + "/{sff},0)"),
    ("n_below", "readings below the corner", "-", "SUM([is_below:])"),
    ("step_on_below", "share of the distance in being below", "-", "IF({sff}>0,(SUM([below:])-{n_below}*{mean_below})/{sff},0)"),
    ("srr", "squares of being below, beside it", "-", _sum("step", "step")),
    ("z_on_step", "share of that in 1/removal", "-", f"IF({{srr}}>({_SIZE})^2*{{n_readings}}," + _sum("step", "z") + "/{srr},0)"),
    ("free", "squares of 1/removal beside all", "-", _sum("free_z", "free_z")),
    (
        "offset_error",
        "standard error of the load, at the removal rate of the Inputs",
        _U,
        "IF({fits_offset}=1,IF({free}>0,SQRT({sse}/MAX(1,{n_readings}-4)/{free})*{median},NA()),NA())",
    ),
    # With the knee that was found.
    ("is_found", "a knee was found beside it (1 yes)", "-", f'IF({{fits_offset}}=1,IF({{knee_verdict}}="{FOUND}",1,0),0)'),
    (
        "variance",
        "variance about the fit",
        _U2,
        "IF({is_found}=1,MAX({sse}/({n_readings}-4),({knee_noise_floor}*{knee_level})^2),0)",
    ),
    ("spare", "squares up to the limit", _U2, "IF({is_found}=1,FINV({TAIL},1,{n_readings}-4)*{variance},0)"),
    ("needed", "least gain of a corner not excluded", _U2, "{yy}-{sse}-{spare}"),
    ("sxy", "products of depth and energy", "-", _sum("x", "y")),
    ("sxz", "products of depth and 1/removal", "-", _sum("x", "z")),
    (
        "sxx",
        "squares of depth beside 1/removal",
        "-",
        "SUMPRODUCT([x:]*[x:])-{n_readings}*{mean_x}^2-IF({szz}>0,{sxz}^2/{szz},0)",
    ),
    ("line_gain", "gain of a straight fall", _U2, "IF({sxy}<0,IF({sxx}>0,{sxy}^2/{sxx},0),0)"),
    ("first_row", "readings at the smallest depth", "-", "IFERROR(MATCH(1,[end:],0),1)"),
    (
        "hull_low",
        "lowest corner not excluded",
        "µm",
        "{first}+MAX(0,MIN({corner},MIN([gap_low:]),IF(INDEX([gain_on:],{first_row})>={needed},0,{corner})))",
    ),
    (
        "hull_high",
        "highest corner not excluded",
        "µm",
        "IF({needed}<=0,{NONE},IF(IF({sxy}<0,{line_gain}>={needed},FALSE),{NONE},{first}+MAX({corner},MAX([gap_high:]))))",
    ),
    ("low", "lowest knee that it leaves", "µm", "IF({is_found}=1,MIN({hull_low},{knee_scatter_low}),NA())"),
    ("high", "highest knee that it leaves", "µm", "IF({is_found}=1,MAX({hull_high},{knee_scatter_high}),NA())"),
    (
        "offset_made_it",
        "found, but such a load could have made the knee (1 yes)",
        "-",
        "IF({is_found}=1,IF({high}>={NONE},1,IF({low}<={second_place},1,"
        "IF({high}-{low}>MIN(2*{MAX_HALF_WIDTH}*{knee_knee},{MAX_RANGE_SHARE}*{knee_span}),1,0))),0)",
    ),
)

COLUMNS = (
    *GIVEN,
    ("at", "its row", counted("MATCH([no],[rank:],0)", "1")),
    ("sorted", "depth in order, µm", counted("INDEX([depth_in:],[at])", "{NONE}")),
    *EQUAL_DEPTHS,
    ("u", "its energy", counted("INDEX({energies},[at])")),
    ("x", "depth beyond the smallest, µm", counted("[depth]-{first}")),
    ("z_raw", "middle removal rate over its own", counted("{median}/INDEX({rates},[at])")),
    ("z", "the same, less the mean", counted("[z_raw]-{mean_z}")),
    ("s", "place from -1 to 1", counted("IF({span}>0,2*[x]/{span}-1,0)")),
    ("s_off", "less the mean", counted("[s]-{mean_s}")),
    ("s_square", "its square, less the mean", counted("[s]^2-{mean_square}")),
    ("q", "what the place leaves of it", counted("[s_square]-IF({sss}>0,{bend}/{sss},0)*[s_off]")),
    ("left", "what a parabola leaves of 1/removal", counted("[z]-{z_on_s}*[s_off]-{z_on_q}*[q]")),
    ("y", "energy, level and load aside", counted("[u]-{mean_u}-IF({szz}>0,{szu}/{szz},0)*[z]")),
    ("sum_x", "sums so far: depth", "[sum_x-]+[x]"),
    ("sum_xx", "its square", "[sum_xx-]+[x]^2"),
    ("sum_z", "1/removal", "[sum_z-]+[z]"),
    ("sum_xz", "with depth", "[sum_xz-]+[x]*[z]"),
    ("sum_y", "energy", "[sum_y-]+[y]"),
    ("sum_xy", "with depth", "[sum_xy-]+[x]*[y]"),
    (
        "end",
        "last of its depth, more follow (1 yes)",
        "IF({tells_offset}=1,IF([no]<{n_readings},IF([depth_no+]>[depth_no],1,0),0),0)",
    ),
    ("width", "gap to the next depth, µm", _gap("[x+]-[x]")),
    ("aa", "products of the fall's column", _gap("[no]-[no]^2/{n_readings}-[sum_z]^2/{szz}")),
    ("b_sum", "sum of it at the lower depth", _gap("[no]*[x]-[sum_x]")),
    ("b_z", "with 1/removal", _gap("[x]*[sum_z]-[sum_xz]")),
    ("ab", "products", _gap("[b_sum]-[no]*[b_sum]/{n_readings}-[sum_z]*[b_z]/{szz}")),
    ("bb", "products", _gap("MAX(0,[no]*[x]^2-2*[x]*[sum_x]+[sum_xx]-[b_sum]^2/{n_readings}-[b_z]^2/{szz})")),
    ("ay", "with energy", _gap("[sum_y]")),
    ("by", "with energy", _gap("[x]*[sum_y]-[sum_xy]")),
    ("gain_on", "gain, corner on the next depth", _gap(_gain("[width]"))),
    ("turns", "what decides the corner between", _gap("[ay]*[ab]-[by]*[aa]")),
    ("t", "best corner between, µm", "IF([turns]<>0,([by]*[ab]-[ay]*[bb])/[turns],-1)"),
    ("gain_in", "gain of it", _gap(f"IF([t]>=0,IF([t]<=[width],{_gain('[t]')},0),0)")),
    ("below", "distance below the corner, µm", counted("IF({fits_offset}=1,MAX(0,{corner}-[x]),0)")),
    ("is_below", "below it (1 yes)", "IF([below]>0,1,0)"),
    ("step", "being below, beside it", counted("[is_below]-{n_below}/{n_readings}-{step_on_below}*([below]-{mean_below})")),
    ("free_z", "1/removal beside all", counted("[z]-{z_on_below}*([below]-{mean_below})-{z_on_step}*[step]")),
    ("gap", "a corner may lie here (1 yes)", _gap("IF({is_found}=1,IF([depth_no]>=2,1,0),0)")),
    ("start", "search from, µm", "IF([gap]=1,IF([ay]>0,MAX(0,-[by]/[ay]),0),0)"),
    ("stop", "search to, µm", "IF([gap]=1,IF([ay]<0,MIN([width],-[by]/[ay]),[width]),0)"),
    ("open", "is there anything between (1 yes)", "IF([gap]=1,IF([start]<=[stop],IF([ay]=0,IF([by]>0,1,0),1),0),0)"),
    ("square", "factor of the square", "IF([open]=1,{needed}*[aa]-[ay]^2,0)"),
    ("half", "half the factor of the place", "IF([open]=1,{needed}*[ab]-[ay]*[by],0)"),
    ("constant", "constant", "IF([open]=1,{needed}*[bb]-[by]^2,0)"),
    ("under", "under the root", "IF([open]=1,[half]^2-[square]*[constant],-1)"),
    *solved("", "open", "[start]", "[stop]", "[x]"),
    (
        "taken",
        "energy without the load",
        (
            "IF(ISERROR(INDEX({energies},[no])),NA(),IF(ISNUMBER(INDEX({energies},[no])),"
            'IF({fits_offset}=1,IF([used]=1,INDEX({energies},[no])-{offset}*{median}/INDEX({rates},[no]),""),INDEX({energies},[no])),""))'
        ),
    ),
)


def offset_places(rows: int, sheet_name: str, anchor: str) -> Places:
    """Where the block will stand: the blocks of the knee take its column `taken` for their energies."""
    return places(VALUES, COLUMNS, rows, sheet_name, anchor)


def offset_block(
    at: Places, depths: str, energies: str, rates: str, knee: Mapping[str, str], second_place: str
) -> tuple[dict[str, Any], dict[str, str]]:
    """The cells of the block, and its results by name.

    depths, energies and rates are columns; rates are removal rates over any one of them.  knee has the cells of what was found on the
    energies `taken`: verdict, knee, level, scatter_low, scatter_high, noise_floor, span; second_place is formula text of the second
    depth that counts.
    """
    numbers = {name: repr(value).upper() for name, value in vars(thresholds).items() if name.isupper()}
    numbers.update(TAIL=repr(round(1 - thresholds.CONFIDENCE, 12)).upper(), LEAST_LENGTH=repr(LEAST_LENGTH), NONE=NONE)
    known = {
        **numbers,
        "depths": depths,
        "energies": energies,
        "rates": rates,
        "second_place": second_place,
        **{f"knee_{name}": cell for name, cell in knee.items()},
    }
    cells = lay_out(at, VALUES, COLUMNS, known, NOTE)
    return cells, {name: at.value(name) for name, *_ in VALUES}
