"""The evaluator of workbooks, cell by cell against LibreOffice, formualizer and IronCalc, and against Python.

Excel is the measure where engines differ: each such case stands in DIFFER with Excel's documented value and
the engines that compute something else.
"""

from __future__ import annotations

import math
import re
import statistics

import numpy
import pytest
from engines import ENGINES, cells_of, same
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.formula import ArrayFormula
from scipy import stats

from gritfuncs.spreadsheets.cell_functions import FOR_SHARING, FUNCTIONS
from gritfuncs.spreadsheets.cell_values import CellError
from gritfuncs.spreadsheets.compiled import compiled
from gritfuncs.spreadsheets.evaluate import Book, Place, find, workbook_values
from gritfuncs.spreadsheets.evaluate import value_of as formula_value
from gritfuncs.spreadsheets.references import Range, relative
from gritfuncs.workbooks import functions
from gritfuncs.workbooks.templates import TEMPLATES

# On the sheet 'Trial 1', from row 1 down: invented depths, energies and notes, mixed kinds, numbers to count.
DATA = {
    "A": [0.6, 0.7, 0.8, 0.95, 1.1, 1.3, 1.55, 1.8],
    "B": [41.2, 36.9, 33.1, 29.8, 27.4, 26.9, 27.1, 26.6],
    "C": ["Grit", "bond", "grit", "pore", "Grit 2", "a*b", "axb", None],
    "D": [1, None, "x", 3, None, 5, "7", 2],
    "E": [10, 20, 30, 40, 50, 60, 70, 80],
    "F": [80, 70, 60, 50, 40, 30, 20, 10],
    "G": [1, 2, None, 4, 5, None, 7, 8],
    "H": [3, 1, 2, 3, 3, 9, 0, 4],
    "I": [5, None, False, 7, True, None, None, None],
}

# A column letter alone (@A) stands for its eight cells, with a row (@A3) for a cell.
AGREED = '''
1+2*3-4/5    -2^2    2^-1    2^3^2    -@A1^2    (1+2)*3%    50%%    +3--2    2*-3    10-2-3    100/5/2
-(2+3)*4
1=1    "a"="A"    "a"<"B"    "abc"<"abd"    2<"1"    1<>2    2>=2    3<=2    2>1=TRUE    "3">2
1&2    "a"&1.5&"b"    "5"+1    "5%"+1    "x"+1    TRUE+1    -"3"    -TRUE    ""+1    "1E2"*2    "say ""hi"""
@D2    @D2+1    @D2&"|"    @D2=0    @D2=""    @D3*2    @D7+1    1E17*1E-17    1.5E+3/1e3
1/0    0/0    1E308*10    -1E308*10    #N/A    1+#REF!    @D3+1/0
IF(1,2,3)    IF(0,2)    IF(@D2,1,2)    IF(TRUE,,3)    IF("a"="b",1/0,5)    IF(1/0,1,2)    IF("",1,2)
IF(2>1,"yes")
IFERROR(1/0,7)    IFERROR(5,1/0)    IFERROR(@D3*2,"text")    IFERROR(@D2,1)    IFERROR(#REF!,1)
CHOOSE(2,1/0,"b","c")    CHOOSE(4,1,2,3)    CHOOSE(2.9,1,2,3)
AND(TRUE,1,2>1)    AND(TRUE,0)    OR(FALSE,0)    OR(FALSE,1/0)    NOT(0)    NOT(@D1)    AND(@A)    TRUE
NA()    ISERROR(1/0)    ISERROR(1)    ISERROR(NA())
ISERROR(#NAME?)
ISNUMBER(@D1)    ISNUMBER(@D2)    ISNUMBER(@D7)    ISNUMBER(1/0)    ISTEXT(@D3)    ISTEXT(@D1)    ISTEXT("")
ISLOGICAL(@D7)    ISLOGICAL(@D1)    ISLOGICAL(@D2)    ISLOGICAL(1/0)    ISLOGICAL(2>1)    ISLOGICAL("TRUE")
ISBLANK(@D2)    ISBLANK(@D1)    ISBLANK("")
ABS(-3.5)    INT(-1.5)    INT(1.5)    PI()
MOD(7,3)    MOD(-7,3)    MOD(7,-3)    MOD(7.5,0.5)    MOD(1,0)
ROUND(2.5,0)    ROUND(-2.5,0)    ROUND(2.675,2)    ROUND(1.005,2)    ROUND(1234.5,-2)    ROUND(1.45,1)
ROUND(-0.4,0)
ROUND(5,400)    ROUND(5,-400)    ROUNDUP(1.2,0)    ROUNDUP(-1.21,1)    ROUNDUP(3.3*10,0)
ROUNDDOWN(1.29,1)
ROUNDDOWN(-1.29,1)    ROUNDDOWN(4.35*100,0)
SQRT(2)    SQRT(-1)    POWER(2,0.5)    POWER(0,-1)    (-8)^3    0^2    EXP(1)    EXP(1000)    LN(2)    LN(0)
LOG10(1000)
SUM(@A)    SUM(@D)    SUM(@D,@A1,1/0)    SUM(@D2)    SUM(@D7)    SUM('Trial 1'!A:A)    SUM('Trial 1'!2:2)
SUM(in_depths)
SUM(IN_Depths,1)    SUM('Trial 1'!$E$1:F$8)    SUM(1,,2)    AVERAGE(@D)
AVERAGE(@C)
MIN(@D)    MAX(@D)    MAX(@C)    MAX(-1,)    MEDIAN(@B)    MEDIAN('Trial 1'!B1:B7)    MEDIAN(@C)
STDEV(@B)
STDEV(@B1)    COUNT(@D)    COUNT(1,"2","x",TRUE)    COUNTA(@D)    COUNTA(1/0,"")
LARGE(@H,2)    SMALL(@H,2)    SMALL(@H,9)    LARGE(@D,1)
SUMPRODUCT(@A,@B)    SUMPRODUCT(@A*@B)    SUMPRODUCT((@A>0.9)*(@B<29)*@E)    SUMPRODUCT(--(@C="grit"))
SUMPRODUCT(-@A)
SUMPRODUCT((@A-1)^2)    SUMPRODUCT(1/@A)    SUMPRODUCT(1/@H)    SUMPRODUCT(@A%)    SUMPRODUCT((@E1:F1)*(@A))
SUMPRODUCT(@E,'Trial 1'!E1:E4)    SUMPRODUCT((@A-SUM(@A)/8)*@B)
COUNTIF(@A,">0.95")    COUNTIF(@A,">="&0.95)    COUNTIF(@D,"<>")    COUNTIF(@D,"<>3")    COUNTIF(@D,3)
COUNTIF(@D,"=3")
COUNTIF(@C,"grit")    COUNTIF(@C,"grit*")    COUNTIF(@C,"a~*b")    COUNTIF(@C,"a?b")
COUNTIF(@D,">2")    COUNTIF(@D,"=")    COUNTIFS(@A,">0.7",@B,"<30")    SUMIF(@A,">1")    SUMIF(@C,"grit",@E)
SUMIF(@D,"<>",@E)    SUMIFS(@E,@A,">0.7",@B,"<30")    AVERAGEIF(@A,">1")    AVERAGEIF(@A,">9")
AVERAGEIF(@C,"grit",@E)
AVERAGEIFS(@E,@A,">0.7")
INDEX(@A,3)    INDEX(@A1:B8,3,2)    INDEX(@A1:B1,2)    SUM(INDEX(@A1:B8,0,2))
SUM(INDEX(@A1:B8,2,0))    INDEX(@A,9)    INDEX(@D,2)    ISBLANK(INDEX(@D,2))
MATCH(0.95,@A,0)    MATCH(1,@A,1)    MATCH(1,@A)    MATCH(0.1,@A,1)    MATCH(45,@F,-1)    MATCH(90,@F,-1)
MATCH(9,@F,-1)
MATCH("GRIT",@C,0)    MATCH("b*",@C,0)    MATCH("none",@C,0)    MATCH(0.8*3/3,@A,0)
VLOOKUP(0.95,@A1:E8,5,FALSE)    VLOOKUP(1,@A1:E8,2)    VLOOKUP(0.96,@A1:E8,2,FALSE)
VLOOKUP(0.95,@A1:B8,3,FALSE)
ROWS(@A2:B8)    COLUMNS(@A2:C8)
FINV(0.05,3,12)    FINV(0.001,1,5)    FINV(2,3,12)    FINV(0.05,3.9,12.9)
TINV(0.05,12)    TINV(0.32,4)    TINV(0,4)    TINV(0.05,0)
TEXT(1234.567,"0")    TEXT(1234.567,"0.00")    TEXT(1234.567,"#,##0.0")    TEXT(0.1234,"0%")
TEXT(0.1234,"0.0%")
TEXT(-0.04,"0.0")    TEXT(-1234567,"#,##0")    TEXT("abc","0.0")    TEXT(1/0,"0.0")    TEXT(@D2,"0.0")
TEXT(1/3,"0.000")&" mm"    CONCATENATE("a",1,"b")    LEFT("grinding",5)    LEFT("grinding")    LEFT("ab",5)
RIGHT("grinding",3)    RIGHT("grinding",0)    RIGHT("ab",5)    MID("grinding",2,3)    MID("grinding",9,3)
MID("grinding",0,3)    LEFT("ab",-1)
SUBSTITUTE("aXbXc","X","-")    SUBSTITUTE("aXbXc","X","-",2)
SUBSTITUTE("aXbXc","X","-",3)
TRIM("  a   b ")
VALUE("12.5")    VALUE("x")    CHAR(65)    123456789012&""    100000*10&""
FIXED(1234.567)    FIXED(1234.567,0)    FIXED(1234.567,1,TRUE)    FIXED(2.5,0,TRUE)    FIXED(-1234.567,-2,TRUE)
FIXED("x",1)    FIXED("5",1,TRUE)    FIXED(@D2,2,TRUE)    FIXED(1/0,1)    FIXED(1E-7,6,TRUE)    FIXED(1234.5,1.9,TRUE)
FIXED(1234567.891,2,FALSE)    FIXED(1/3,6,TRUE)&" mm"    MATCH(1.2,@A,1)    VLOOKUP(2,@A1:E8,5)    MATCH(80,@F,-1)
1&2+3    "a"&1<"b"&2    2*3&4    "1"&"2"=12    1+1&1+1    2^2&1    -1&2    5&10%
1=2&3    1<>2&3    1<2&3    1>2&3    1<=2&3    1>=2&3    2+1&0=30    2^2*3+1    7-2*3    1+6/3    2*3^2
CHOOSE(0,1,2,3)    CHOOSE(3,1,2,3)    CHOOSE(1,1,2,3)    CHOOSE(0.9,1,2)    LARGE(@H,8)    SMALL(@H,8)    SMALL(@H,1)
SMALL(@H,0)    LARGE(@H,9)    LARGE(@H,0)    INDEX(@A,8)    INDEX(@A1:B8,8,2)    INDEX(@A1:B8,1,3)    INDEX(@A1:B8,9,1)
INDEX(@A1:C1,3)    INDEX(@A1:C1,4)    INDEX(@A,-1)    INDEX(@A1:B8,1,-1)    SUM(INDEX(@A,0))    SUM(INDEX(@A1:C1,0))
VLOOKUP(0.95,@A1:E8,1)    VLOOKUP(0.6,@A1:E8,5)    VLOOKUP(0.95,@A1:E8,6)    VLOOKUP(0.5,@A1:E8,2)    MATCH(0.6,@A,1)    MATCH(1.8,@A,0)
MATCH(0.6,@A,0)    MATCH(9,@A)    MATCH(80,@F,0)    MATCH(10,@F,-1)    MATCH("axb",@C,0)    MATCH("a~*b",@C,0)    MATCH("*b",@C,0)
COUNTIF(@C,"*t")    COUNTIF(@C,"g*t*")    COUNTIF(@C,"*")    COUNTIF(@C,"?")    COUNTIF(@C,"grit ?")    COUNTIF(@C,"*grit*t")    COUNTIF(@C,"p*re")
COUNTIF(@E,"<20")    COUNTIF(@E,"<=20")    COUNTIF(@E,"=20")    COUNTIF(@E,"<>20")    COUNTIF(@E,">80")    COUNTIF(@E,">=80")    COUNTIF(@C,"<b")
MID("grinding",8,1)    MID("grinding",1,8)    MID("grinding",1,0)    MID("grinding",8,9)    LEFT("ab",0)    LEFT("ab",2)    LEFT("ab",1.9)
RIGHT("grinding")    RIGHT("ab",2)    RIGHT("ab",1)    RIGHT("ab",-1)    SUBSTITUTE("aXbXc","X","-",1)    SUBSTITUTE("aXbXc","X","-",0)
SUBSTITUTE("aXb","","-")    SUBSTITUTE("aXb","x","-")    SUBSTITUTE("aXXb","X","--")    CHAR(1)&"a"    CHAR(126)    CHAR(65.9)    CHAR(256)
ROUND(123456789012345,1)    ROUND(0.5,0)    ROUND(-1.5,0)    ROUND(1.5,-1)    ROUND(5,-1)    ROUND(0,3)    ROUNDUP(-0.1,0)    ROUNDUP(2,0)    ROUNDDOWN(-2.9,0)
FINV(1,3,12)    FINV(0,3,12)    FINV(0.05,1,1)    FINV(0.05,0,5)    FINV(0.05,3,0)    TINV(1,12)    TINV(0.05,1)    TINV(1.1,12)    TINV(0.05,1.9)
STDEV(@H1:H2)    MEDIAN(@H1)    MEDIAN(@H1:H2)    AVERAGEIF(@E,">=80")    SUMIFS(@E,@A,">0.7",@B,"<=27.4")    AND(1,1)    OR(0,0)
MOD(0,3)    MOD(6,3)    MOD(-6,3)    MOD(-0.5,2)    INT(-2)    INT(0.999)    ABS(0)    POWER(4,-0.5)    LN(1)    LOG10(0)    SQRT(0)    EXP(0)    EXP(-1000)
TEXT(0.5,"0")    TEXT(999.5,"#,##0")    TEXT(1000000,"#,##0.00")    TEXT(0.005,"0.0%")    TEXT(12,"0.0%")    FIXED(0.5,0)    FIXED(999.995,2)
TRIM("a")    TRIM("")    VALUE(" 5 ")    VALUE("5%")    VALUE("-1E-2")    VALUE(".5")    VALUE("5.")    CONCATENATE("a")
'''

# formula: (Excel's value, engines that differ)
DIFFER = {
    '"z"<TRUE': (True, "LibreOffice"),  # LibreOffice has no booleans: TRUE is the number 1
    "1=TRUE": (False, "LibreOffice"),
    '"a"&TRUE': ("aTRUE", "LibreOffice"),
    'CONCATENATE("a",TRUE)': ("aTRUE", "LibreOffice"),
    'SUM(1,"2",TRUE)': (4.0, "LibreOffice"),  # LibreOffice takes no text given directly
    'MIN(1,"0.5")': (0.5, "LibreOffice"),
    "SUMPRODUCT(@A>1)": (0.0, "LibreOffice formualizer"),  # in Excel booleans do not count as numbers
    'COUNTIF(@C,"<>grit")': (6.0, "IronCalc"),  # the blank counts
    'TEXT("5","0.0")': ("5.0", "IronCalc"),
    "SUM(@I)": (12.0, "LibreOffice"),
    "AVERAGE(@I)": (6.0, "LibreOffice"),
    "COUNT(@I)": (2.0, "LibreOffice"),
    "AND(@I)": (False, ""),  # here they do
    'IF("TRUE",1,2)': (1.0, "formualizer"),
    "0.1+0.2=0.3": (True, "formualizer"),  # spreadsheets compare 15 digits
    "IF(0.1*3>0.3,1,0)": (0.0, "formualizer"),
    '1/3&""': ("0.333333333333333", "formualizer IronCalc"),
    '0.1*3&""': ("0.3", "formualizer IronCalc"),
    'TEXT(2.5,"0")': ("3", "IronCalc"),  # halves away from zero, of the 15 digits that show
    'TEXT(1.005,"0.00")': ("1.01", "IronCalc"),
    "INT(0.29*100)": (28.0, "LibreOffice"),  # LibreOffice rounds to 15 digits before it cuts
    "(-8)^(1/3)": (CellError("#NUM!"), "LibreOffice IronCalc"),
    "0^0": (CellError("#NUM!"), "LibreOffice formualizer"),
    "COUNT(1/0,2)": (1.0, "formualizer"),
    "SUMPRODUCT(@D,@E)": (590.0, "formualizer"),  # a text number in a range does not count
    "CHAR(0)": (CellError("#VALUE!"), "LibreOffice"),
    'TEXT(-0.5,"0")': ("-1", "IronCalc"),
    "FIXED(-0.04,1,TRUE)": ("0.0", "IronCalc"),
    "FIXED(1.005,2,TRUE)": ("1.01", "LibreOffice formualizer IronCalc"),  # rounds as ROUND does
    "1/3*3=1": (True, ""),
    "IF(1.0000000000000002>1,1,0)": (0.0, "formualizer"),
}


def spelled(formula):
    """The formula with @A and @A1 written out, strings left alone."""
    parts = re.split(r'("(?:[^"]|"")*")', formula)
    for place in range(0, len(parts), 2):
        part = re.sub(r"@([A-Z])(?![A-Z0-9])", r"'Trial 1'!\g<1>1:\g<1>8", parts[place])
        parts[place] = part.replace("@", "'Trial 1'!")
    return "=" + "".join(parts)


def book_of(formulas):
    book = Workbook()
    sheet = book.active
    sheet.title = "Calc"
    trial = book.create_sheet("Trial 1")
    for letter, values in DATA.items():
        for row, value in enumerate(values, 1):
            trial[f"{letter}{row}"] = value
    trial["D7"].data_type = "s"  # the text 7, not the number
    book.defined_names["in_depths"] = DefinedName("in_depths", attr_text="'Trial 1'!$A$1:$A$8")
    for row, formula in enumerate(formulas, 1):
        sheet.cell(row, 1, spelled(formula))
    return book


CASES = [case for line in AGREED.strip().splitlines() for case in line.split("    ")] + list(DIFFER)


@pytest.fixture(scope="module")
def computed(tmp_path_factory, compute):
    """{engine: [value of each case]}, ours first."""
    book = book_of(CASES)
    path = tmp_path_factory.mktemp("cases") / "cases.xlsx"
    book.save(path)
    found = {"ours": workbook_values(book), **{engine: compute[engine](path) for engine in ENGINES}}
    rows = range(1, len(CASES) + 1)
    return {engine: [values["Calc"].get(f"A{row}") for row in rows] for engine, values in found.items()}


@pytest.mark.parametrize("place", range(len(CASES)), ids=CASES)
def test_every_engine_computes_the_same(place, computed):
    value, differ = DIFFER.get(CASES[place], (computed["ours"][place], ""))
    assert same(computed["ours"][place], value)
    for engine in ENGINES:
        theirs = computed[engine][place]
        assert same(value, theirs) is (engine not in differ.split()), (engine, value, theirs)


FUNCTION_NAME = re.compile(r"\b([A-Z][A-Z0-9]*)\((?=(?:[^\"]|\"[^\"]*\")*$)")


def test_every_function_of_the_table_is_compared():
    used = {name for case in CASES for name in FUNCTION_NAME.findall(case)}
    assert used >= set(FUNCTIONS)


MANY = 255
ARGUMENTS = {  # least and most, as the syntax of OpenFormula and of Excel has them (values from memory)
    **dict.fromkeys("ABS INT SQRT EXP LN LOG10 NOT TRIM CHAR VALUE ROWS COLUMNS".split(), (1, 1)),
    **dict.fromkeys("ISNUMBER ISLOGICAL ISTEXT ISBLANK ISERROR".split(), (1, 1)),
    **dict.fromkeys("MOD ROUND ROUNDUP ROUNDDOWN POWER IFERROR LARGE SMALL COUNTIF TINV TEXT".split(), (2, 2)),
    **dict.fromkeys("SUM AVERAGE MIN MAX MEDIAN STDEV COUNT COUNTA SUMPRODUCT AND OR CONCATENATE".split(), (1, MANY)),
    **dict.fromkeys("IF SUMIF AVERAGEIF INDEX MATCH".split(), (2, 3)),
    **dict.fromkeys("PI NA".split(), (0, 0)),
    **dict.fromkeys("LEFT RIGHT".split(), (1, 2)),
    **dict.fromkeys("SUMIFS AVERAGEIFS".split(), (3, MANY)),
    **dict.fromkeys("VLOOKUP SUBSTITUTE".split(), (3, 4)),
    **dict.fromkeys("FINV MID".split(), (3, 3)),
    "CHOOSE": (2, MANY),
    "COUNTIFS": (2, MANY),
    "FIXED": (1, 3),
}


def test_functions_take_as_many_arguments_as_spreadsheets_let_them():
    assert {name: (each.least, each.most) for name, each in FUNCTIONS.items()} == ARGUMENTS


def test_the_table_holds_what_our_workbooks_use_and_what_sharing_meets(as_built):
    books = [as_built(name) for name in TEMPLATES]
    cells = [cell for book in books for cell in cells_of(*book) if cell.data_type == "f"]
    used = {name for cell in cells for name in FUNCTION_NAME.findall(cell.value)} - functions.ABSENT
    assert used <= set(FUNCTIONS) and FOR_SHARING <= set(FUNCTIONS)
    assert set(FUNCTIONS) - used - FOR_SHARING == set()


@pytest.mark.parametrize(
    "formula, error",
    [
        ("1/0", "#DIV/0!"),
        ("SQRT(-1)", "#NUM!"),
        ("1E308*10", "#NUM!"),
        ('"x"+1', "#VALUE!"),
        ("MATCH(9,@H1:H2,0)", "#N/A"),
        ("INDEX(@A,9)", "#REF!"),
        ("AVERAGE(@C)", "#DIV/0!"),
        ("STDEV(@B1)", "#DIV/0!"),
        ("LARGE(@A,9)", "#NUM!"),
        ("VLOOKUP(0.6,@A1:B8,3)", "#REF!"),
        ("VLOOKUP(0.6,@A1:B8,0)", "#VALUE!"),
        ("CHAR(256)", "#VALUE!"),
        ("FIXED(1,128)", "#VALUE!"),
        ("0^-1", "#DIV/0!"),
        ("#NAME?&1", "#NAME?"),
        ("#N/A+1/0", "#N/A"),
        ("1/0+#N/A", "#DIV/0!"),
    ],
)
def test_the_kind_of_an_error_is_excels(formula, error):
    """Kinds as Microsoft documents them for each function; engines differ, so they are not compared above."""
    value = workbook_values(book_of([formula]))["Calc"]["A1"]
    assert isinstance(value, CellError) and value == error


# --- against Python ---

LEAVES = st.floats(0.01, 1e6).map(lambda value: repr(float(f"{value:.6g}"))) | st.integers(0, 99).map("{}.0".format)
EXPONENTS = st.sampled_from(["1", "2", "3", "(-1)", "(-2)"])


def joined(inner):
    """Text that means the same to Python and to a spreadsheet once ^ is **: powers stand in own brackets."""
    return (
        st.tuples(inner, st.sampled_from("+-*/"), inner).map("".join)
        | inner.map("({})".format)
        | LEAVES.map("-{}".format)
        | inner.map("-({})".format)
        | st.tuples(inner, EXPONENTS).map(lambda pair: "(({})^{})".format(*pair))
    )


@given(st.recursive(LEAVES, joined, max_leaves=12))
@settings(max_examples=200)
def test_arithmetic_is_pythons(formula):
    python = re.sub(r"\d+\.\d+", r"number(\g<0>)", formula.replace("^", "**"))
    value = value_of({"A1": "=" + formula})
    with numpy.errstate(all="raise", under="ignore"):
        try:
            expected = eval(python, {"number": numpy.float64})
        except FloatingPointError:
            assert isinstance(value, CellError)
        else:
            assert value == expected


@given(st.integers(-9, 9), st.integers(1, 3), st.integers(1, 3))
def test_powers_join_from_the_left_and_minus_binds_tighter(base, first, second):
    assert value_of({"A1": f"={base}^{first}^{second}"}) == (base**first) ** second


def value_of(cells, wanted="A1"):
    book = Workbook()
    for address, value in cells.items():
        book.active[address] = value
    return workbook_values(book)["Sheet"][wanted]


VALUES = st.lists(st.integers(-(10**6), 10**6).map(lambda value: value / 1000), min_size=3, max_size=12)


def column(letter, values):
    return {f"{letter}{row}": value for row, value in enumerate(values, 1)}


@given(VALUES)
def test_lists_of_numbers(values):
    cells = column("B", values)
    functions = {
        "SUM": math.fsum,
        "AVERAGE": statistics.fmean,
        "MIN": min,
        "MAX": max,
        "COUNT": len,
        "MEDIAN": statistics.median,
        "STDEV": statistics.stdev,
    }
    for name, function in functions.items():
        found = value_of({**cells, "A1": f"={name}(B1:B{len(values)})"})
        assert math.isclose(found, function(values), rel_tol=1e-9, abs_tol=1e-9), name


@given(VALUES, st.integers(-1000, 1000))
def test_sorted_look_up(values, wanted):
    values = sorted(values)
    cells = column("B", values)
    found = value_of({**cells, "A1": f"=MATCH({wanted},B1:B{len(values)})"})
    below = [value for value in values if value <= wanted]
    assert found == len(below) if below else found == "#N/A"


@given(st.integers(1, 999999), st.integers(6, 14), st.integers(1, 9), st.integers(1, 40))
@settings(max_examples=50)
def test_quantiles(digits, exponent, numerator, denominator):
    p = float(f"{digits}e-{exponent}")
    back = {
        f"=FINV({p},{numerator},{denominator})": lambda quantile: stats.f.sf(quantile, numerator, denominator),
        f"=TINV({p},{denominator})": lambda quantile: 2 * stats.t.sf(quantile, denominator),
    }
    for formula, probability in back.items():
        assert math.isclose(probability(value_of({"A1": formula})), p, rel_tol=1e-9), formula


# --- the workbook as a whole ---


def test_a_long_chain_against_the_order_of_the_cells():
    chain = {f"A{row}": f"=A{row + 1}+1" for row in range(1, 5000)}
    assert value_of({**chain, "A5000": 1}) == 5000


def test_branches_that_are_not_taken_are_still_computed_in_their_own_cells():
    cells = {"A1": "=IF(TRUE,B1,B2)", "B1": 3, "B2": "=1/0"}
    assert value_of(cells) == 3
    assert value_of(cells, "B2") == "#DIV/0!"


def test_names_of_a_sheet_come_before_those_of_the_workbook():
    book = Workbook()
    other = book.create_sheet("Other")
    book.active["A1"], other["A1"], book.active["B1"], other["B1"] = 1, 2, "=here*10", "=HERE*10"
    book.defined_names["here"] = DefinedName("here", attr_text="Sheet!$A$1")
    other.defined_names["here"] = DefinedName("here", attr_text="Other!$A$1")
    values = workbook_values(book)
    assert (values["Sheet"]["B1"], values["Other"]["B1"]) == (10, 20)


def test_a_quoted_sheet_name():
    book = Workbook()
    book.create_sheet("Bob's trial")["A1"] = 4
    book.active["A1"] = "=SUM('bob''s trial'!A1:A2)"
    assert workbook_values(book)["Sheet"]["A1"] == 4


def test_own_place_is_no_circle():
    assert value_of({"A3": "=ROWS($A$1:A3)+COLUMNS(A3)"}, "A3") == 4


@pytest.mark.parametrize(
    "formula, message",
    [
        ("=NOSUCH(1)", "unknown function NOSUCH"),
        ("=no_such_name+1", "there is no name 'no_such_name'"),
        ("=Nowhere!A1", "there is no sheet 'Nowhere'"),
        ("=SQRT(1,2)", "SQRT takes 1 to 1 arguments (got 2)"),
        ("=SUM(1", "a bracket is not closed"),
        ("=1+", "the formula ends too soon"),
        ("=1 2", "'2' stands where the formula should end"),
        ("=*2", "'*' stands where a value should be"),
        ("={1,2}", "'{' stands where a value should be"),
        ("=SQRT(B1:B2)", "2 x 1 cells stand where one value is needed"),
        ("=B1:B2*2", "2 x 1 cells stand where one value is needed"),
        ("=SUM(SQRT(B1:B2))", "2 x 1 cells stand where one value is needed"),
        ("=SUMPRODUCT(B1:B2*C1:C3)", "ranges of different size stand in one product"),
        ("=SUMIF(B1:B2,1,C1:C3)", "ranges of different size stand in one condition"),
        ('=TEXT(1,"0.00E+00")', "TEXT takes formats such as 0, 0.00, #,##0.0 and 0.0% (got '0.00E+00')"),
        ("=A1+1", "refers in a circle to Sheet!A1"),
        ("=B9", "refers in a circle to Sheet!A1"),
    ],
)
def test_a_formula_that_cannot_be_computed_is_named(formula, message):
    with pytest.raises(ValueError) as error:
        value_of({"A1": formula, "B9": "=A1"})
    assert re.match(r"Sheet!(A1|B9): ", str(error.value)) and message in str(error.value)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize("formula", ["=MATCH(2,B1:B3)", "=VLOOKUP(2,B1:C3,2)", "=MATCH(2,C1:C3,-1)"])
def test_a_look_up_for_sorted_cells_is_refused_where_they_are_not(formula):
    cells = {"A1": formula, "B1": 1, "B2": 3, "B3": 2, "C1": 3, "C2": 1, "C3": 2}
    with pytest.raises(ValueError, match="Sheet!A1: a look-up for sorted cells stands over cells that are not sorted"):
        value_of(cells)


def test_a_sorted_look_up_passes_over_headings_and_blanks():
    cells = {"B1": "depth", "B2": 1, "B4": 3, "B5": "end", "B6": 3}
    assert value_of({**cells, "A1": "=MATCH(2.5,B1:B9)"}) == 2
    assert value_of({**cells, "A1": "=MATCH(3,B1:B9)"}) == 6
    assert value_of({**cells, "A1": '=MATCH("e",B1:B9)'}) == 1


@pytest.mark.parametrize("text", ["48,34%", "1,5", "1.234,5", "1:30", "3/4", "12.5.2024", "$5", "(5)", " 1 000 "])
def test_a_text_that_is_a_number_in_some_country_is_not_computed_with(text):
    """Excel and LibreOffice read it by the country's signs."""
    with pytest.raises(ValueError, match="Sheet!A1: which number the text .* stands for depends on the country"):
        value_of({"A1": "=B1*2", "B1": text})


@pytest.mark.parametrize("text", ["8 mm", "x", "", "D126", "1e", "-", "±5"])
def test_a_text_that_is_no_number_anywhere_gives_an_error(text):
    assert value_of({"A1": "=B1*2", "B1": text}) == CellError("#VALUE!")


def test_fifteen_digits_count():
    """Python tells these apart, spreadsheets do not."""
    assert 0.1 + 0.2 != 0.3 and value_of({"A1": "=0.1+0.2=0.3"}) is True
    assert value_of({"A1": "=1.00000000000001=1"}) is False
    assert value_of({"A1": "=1.000000000000004=1"}) is True
    assert value_of({"A1": "=0.1+0.2>0.3"}) is value_of({"A1": "=0.1+0.2<0.3"}) is False
    assert value_of({"A1": "=MATCH(0.3,B1:B2,0)", "B2": 0.1 + 0.2}) == 2
    assert value_of({"A1": '=COUNTIF(B1:B2,">0.3")', "B2": 0.1 + 0.2}) == 0


@given(st.floats(1e-6, 1e6), st.integers(-9, 9))
def test_numbers_are_compared_by_their_15_digits_however_close(value, steps):
    other = value
    for _ in range(abs(steps)):
        other = math.nextafter(other, math.inf if steps > 0 else 0)
    cells = {"A1": "=(B1<C1)*1+(B1=C1)*2+(B1>C1)*4", "B1": value, "C1": other}
    left, right = float(f"{value:.15g}"), float(f"{other:.15g}")
    assert value_of(cells) == (1 if left < right else 2 if left == right else 4)


def test_a_name_must_stand_for_cells():
    book = Workbook()
    book.defined_names["k"] = DefinedName("k", attr_text="0.25")
    book.active["A1"] = "=k*2"
    with pytest.raises(ValueError, match=r"Sheet!A1: the name k must stand for cells, with \$ \(got 0.25\)"):
        workbook_values(book)


@pytest.mark.parametrize("meaning", ["Sheet!A1", "Sheet!$A1", "$A$1:$A2"])
def test_a_name_that_moves_with_its_formula_is_refused(meaning):
    """In a spreadsheet it means another cell for every formula that uses it."""
    book = Workbook()
    book.defined_names["above"] = DefinedName("above", attr_text=meaning)
    book.active["B2"] = "=above*2"
    with pytest.raises(ValueError, match=r"Sheet!B2: the name above must stand for cells, with \$ \(got "):
        workbook_values(book)


def test_array_formulas_are_refused():
    book = Workbook()
    book.active["A1"] = ArrayFormula("A1:A2", "=B1:B2*2")
    with pytest.raises(ValueError, match="Sheet!A1: array formulas and data tables are not computed"):
        workbook_values(book)


# --- one formula for all rows ---


@pytest.mark.parametrize(
    "formula, text",
    [
        ("=A1+$B$2*B$3-$C4", "=R[-1]C[-1]+R2C2*R3C[0]-R[2]C3"),
        ("=sum(a1:b2)", "=sum(R[-1]C[-1]:R[0]C[0])"),
        ("='T1'!A1&T1!A1", "='T1'!R[-1]C[-1]&T1!R[-1]C[-1]"),
        ('="A1"&"say ""A1"""', '="A1"&"say ""A1"""'),
        ("=LOG10(1E3)+1.5E2", "=LOG10(1E3)+1.5E2"),
        ("=in_A1+A1_x+x.A1+A1.x+ÄA1", "=in_A1+A1_x+x.A1+A1.x+ÄA1"),
        ("=XFE1+A1048577+A0+ABCD1", "=XFE1+A1048577+A0+ABCD1"),
        ("=Parts[A1]+Parts[[#This Row],[B2]]", "=Parts[A1]+Parts[[#This Row],[B2]]"),
        ("=A:B+1:2", "=A:B+1:2"),
        ("=#REF!+A1%", "=#REF!+R[-1]C[-1]%"),
    ],
)
def test_addresses_become_distances_and_nothing_else_does(formula, text):
    assert relative(formula, 2, 2) == text


ROWS = {"A": [3.0, 5.0, 7.0], "E": [2.0, 4.0, 8.0], "F": ["A1", "A2", "E1"], "LOG": [100.0, 200.0, 300.0]}


@pytest.mark.parametrize(
    "formula, values",
    [
        ("A{0}*E{0}", [6, 20, 56]),
        ("A{0}-$A$1", [0, 2, 4]),
        ("SUM(A$1:A{0})", [3, 8, 15]),
        ("SUM(A{0}:$A$1)", [3, 8, 15]),  # last corner first
        ("$E{0}^2", [4, 16, 64]),
        ('F{0}&"A{0}"', ["A1A1", "A2A2", "E1A3"]),
        ("'A{0}'!E1", [10, 20, 30]),
        ("LOG10(A{0})+LOG{0}", [100 + math.log10(3), 200 + math.log10(5), 300 + math.log10(7)]),
        ("1E{0}", [10, 100, 1000]),
        ("grit_A{0}", [3, 5, 7]),
        ("ROWS($A$1:A{0})", [1, 2, 3]),
    ],
)
def test_each_row_of_a_column_of_formulas_is_computed_for_itself(formula, values):
    book = Workbook()
    sheet = book.active
    for row in (1, 2, 3):
        for letter, column in ROWS.items():
            sheet[f"{letter}{row}"] = column[row - 1]
        book.create_sheet(f"A{row}")["E1"] = 10 * row
        book.defined_names[f"grit_A{row}"] = DefinedName(f"grit_A{row}", attr_text=f"Sheet!$A${row}")
        sheet[f"J{row}"] = "=" + formula.format(row)
    found = workbook_values(book)["Sheet"]
    assert [found[f"J{row}"] for row in (1, 2, 3)] == values


def test_a_formula_that_is_filled_down_is_understood_once():
    formulas = [compiled(f"=IF(A{row}>$B$1,A{row - 1}*2,F$3)", row, 7) for row in range(2, 50)]
    assert all(formula is formulas[0] for formula in formulas)
    assert compiled("=IF(A2>$B$1,A1*2,F$3)", 3, 7) is not formulas[0]


@pytest.mark.parametrize("formula", ["=ROWS(SUM(A1:A3))", "=COLUMNS(A1:A3*2)", "=ROWS()", "=ROWS(5)", "=ROWS(A1,A2)"])
def test_functions_that_ask_for_a_place_take_a_reference(formula):
    with pytest.raises(ValueError, match="Sheet!J1: "):
        value_of({"J1": formula}, "J1")


def test_whole_columns_have_all_their_rows():
    assert value_of({"A1": 1, "A3": 2, "J1": "=ROWS(A:A)"}, "J1") == 1_048_576
    assert value_of({"A1": 1, "A3": 2, "J1": "=SUM(A:A)+SUM(2:3)"}, "J1") == 5


# --- a book in memory ---


@pytest.fixture
def in_memory():
    book = Book({None: {"ENERGIES": "Trial!$B$1:$B$3"}, "Other": {"ENERGIES": "$A$1"}})
    book.add_sheet("Trial", {(row, column): 10.0 * row + column for row in (1, 2, 3) for column in (1, 2)})
    book.add_sheet("Other", {(1, 1): 7.0})
    return book


def test_a_single_formula_over_given_cells(in_memory):
    assert formula_value("=SUM(Trial!A1:A3)*2", Place("Other", 5, 5), in_memory) == 126
    assert formula_value("=SUM(energies)", Place("Trial", 5, 5), in_memory) == 66
    assert formula_value("=SUM(energies)", Place("Other", 5, 5), in_memory) == 7
    assert formula_value("=1/0", Place("Trial", 5, 5), in_memory) == CellError("#DIV/0!")
    assert formula_value("=Trial!Z9", Place("Trial", 5, 5), in_memory) == 0.0


def test_an_array_formula_over_given_cells(in_memory):
    found = formula_value("=A1:A3*2", Place("Trial", 5, 5), in_memory, is_array=True)
    assert found.rows == [[22.0], [42.0], [62.0]]


def test_finding_cells(in_memory):
    assert find("A2:$B3", "Trial", in_memory) == find("trial!b3:a2", "Other", in_memory) == Range("Trial", 1, 2, 2, 3)
    assert find("Energies", "Trial", in_memory) == Range("Trial", 2, 1, 2, 3)
    with pytest.raises(ValueError, match="there is no name 'GRIT'"):
        find("GRIT", "Trial", in_memory)


def test_formulas_put_in_later_read_those_before(in_memory):
    in_memory.put(Place("Trial", 1, 3), "=SUM(A1:B3)")
    in_memory.compute()
    assert in_memory.values["Trial"][1, 3] == 129.0
    in_memory.put(Place("Other", 1, 2), "=Trial!C1+A1")
    in_memory.compute()
    assert in_memory.values["Other"][1, 2] == 136.0


def test_a_book_bounds_the_cells_that_its_formulas_read():
    book = Book({}, most_read=100)
    book.add_sheet("Sheet", {(1, 1): 1.0})
    assert formula_value("=SUM(A1:J9)", Place("Sheet", 20, 1), book) == 1
    with pytest.raises(ValueError, match="more cells than are looked at"):
        formula_value("=SUM(A2:J10)", Place("Sheet", 20, 1), book)


def test_a_book_is_computed_anew_after_a_change(in_memory):
    in_memory.put(Place("Trial", 1, 3), "=SUM(A1:B3)*Other!B1")
    in_memory.put(Place("Other", 1, 2), "=A1+1")
    in_memory.compute()
    assert in_memory.values["Trial"][1, 3] == 129 * 8
    in_memory.values["Trial"][1, 1] = 12.0
    in_memory.values["Other"][1, 1] = 1.0
    in_memory.compute_anew()
    assert in_memory.values["Other"][1, 2] == 2.0 and in_memory.values["Trial"][1, 3] == 130 * 2.0
