"""Calls inside formula text: every spelling is found, strings are not, and nesting keeps its meaning."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook
from setups import WORDS
from share_books import stored

from gritfuncs.addins.naming import calc_stored_name
from gritfuncs.formulas import catalogue
from gritfuncs.share import job as sharing
from gritfuncs.share.job import share
from gritfuncs.spreadsheets.evaluate import workbook_values

NO_SIZE = (
    "#GRIT! designation must be an ISO 6106 sieve size from D46 to D1182, B46 to B1182 or its sieve numbers such as 120/140 "
    "(got 'D127')"
)
SPEED = "PI()*A1*B1/1000"
LONG = "A1+A2+B1+B2+A1+A2+B1+B2+A1+A2+B1+B2+A1+1"  # 40 characters, the most that may stand there several times


def share_formulas(folder, texts, cells=None, **options):
    """Share a workbook with these formulas in column D, and return what `share` says."""
    workbook = Workbook()
    sheet = workbook.active
    sheet.title = "Sheet 1"
    for address, value in {"A1": 20, "B1": 150, "A2": 30, "B2": 100, **(cells or {})}.items():
        sheet[address] = value
    for row, text in enumerate(texts, 1):
        sheet[f"D{row}"] = f"={text}"
    path = stored(workbook, folder / "book.xlsx")
    (folder / "book (shared).xlsx").unlink(missing_ok=True)
    return share(path, **options)


def one(folder, text, **options):
    (found,) = share_formulas(folder, [text], **options).replaced
    assert found.place == "Sheet 1!D1" and found.before == "=" + text
    return found.after[1:]


def reason(folder, text, **options):
    shared = share_formulas(folder, [text], **options)
    assert shared.output is None and not shared.replaced and not shared.complete
    (left,) = shared.left
    assert left.place == "Sheet 1!D1" and left.formula == "=" + text
    return left.reason


@pytest.mark.parametrize(
    "name",
    [
        "GRIT_WORK_SPEED",
        "grit_work_speed",
        "[1]!GRIT_WORK_SPEED",
        "'C:\\shop\\[functions.xlam]'!GRIT_WORK_SPEED",
        "'C:\\it''s (1)\\functions.xlam'!GRIT_WORK_SPEED",
        "functions.xlam!GRIT_WORK_SPEED",
        "_xll.GRIT_WORK_SPEED",
        "_xludf.GRIT_WORK_SPEED",
        calc_stored_name("GRIT_WORK_SPEED"),
        "org.gritfuncs.cells.grit_work_speed",
    ],
)
def test_every_spelling_is_found(tmp_path, name):
    assert one(tmp_path, f"{name}(A1,B1)") == SPEED


@pytest.mark.parametrize(
    "before, after",
    [
        ("1/GRIT_WORK_SPEED(A1,B1)", f"1/({SPEED})"),
        ("-GRIT_WORK_SPEED(A1,B1)^2%", f"-({SPEED})^2%"),
        ("ROUND(GRIT_WORK_SPEED(A1,B1),2)", f"ROUND({SPEED},2)"),
        ("ROUND( GRIT_WORK_SPEED( A1 ,\n B1 ) ,  2 )", f"ROUND( {SPEED} ,  2 )"),
        ("(GRIT_WORK_SPEED(A1,B1))*2", f"({SPEED})*2"),
        (
            'IF(A1>1,"GRIT_WORK_SPEED(A1,B1) ""is"" "&GRIT_WORK_SPEED(A1,B1),)',
            f'IF(A1>1,"GRIT_WORK_SPEED(A1,B1) ""is"" "&({SPEED}),)',
        ),
        ("GRIT_WORK_SPEED(A1+1,-B1)", "PI()*(A1+1)*(-B1)/1000"),
        ("GRIT_WORK_SPEED(MAX(A1:B1),'Sheet 1'!$B$1)", "PI()*MAX(A1:B1)*'Sheet 1'!$B$1/1000"),
        ("GRIT_WORK_SPEED(20,1.5E-05)", "PI()*20*1.5E-05/1000"),
        ("GRIT_WORK_SPEED(A1,GRIT_WORK_RPM(A1,B1+1))", "PI()*A1*(1000*(B1+1)/(PI()*A1))/1000"),
        ("GRIT_NET_POWER(A1,{0})", "A1-0"),
        ("GRIT_NET_POWER(A1,{-1})", "A1-(-1)"),
        ("GRIT_NET_POWER($A$1:$A$1,'Sheet 1'!B1:B1)", "$A$1-'Sheet 1'!B1"),
        ("GRIT_WORK_SPEED(Table1[[#This Row],[d]],A1)", "PI()*Table1[[#This Row],[d]]*A1/1000"),
        ("GRIT_EQUIVALENT_DIAMETER(A1*25.4,B1,1)", "(A1*25.4)*B1/(B1+1*(A1*25.4))"),
        ('GRIT_MEAN_SIZE("d 126")', "115.5"),
        ('GRIT_MEAN_SIZE({"D126"})', "115.5"),
        ("GRIT_NET_POWER({ +5 },a1:a1)", "5-a1"),
        ("GRIT_NET_POWER({1.5e-05},B$1:b$1)", "1.5e-05-B$1"),
        (f"GRIT_EQUIVALENT_DIAMETER({LONG},B1,1)", f"({LONG})*B1/(B1+1*({LONG}))"),
        ("GRIT_EQUIVALENT_DIAMETER(A1,BRAND(1),1)", "A1*BRAND(1)/(BRAND(1)+1*A1)"),
        ("GRIT_WORK_SPEED(RANDBETWEEN(1,9),B1)", "PI()*RANDBETWEEN(1,9)*B1/1000"),  # stands there once
        (
            "GRIT_WORK_SPEED(Table1[[#Totals],[d]],Table1[[#headers],[d]])",
            "PI()*Table1[[#Totals],[d]]*Table1[[#headers],[d]]/1000",
        ),
        ("GRIT_WORK_SPEED(Table1[@d],Table1[ @[d]])", "PI()*Table1[@d]*Table1[ @[d]]/1000"),
        ("GRIT_WORK_SPEED('c:/a/[b.xlsx]S'!A1,'D:\\a\\[b.xlsx]S'!A1)", "PI()*'c:/a/[b.xlsx]S'!A1*'D:\\a\\[b.xlsx]S'!A1/1000"),
        ("GRIT_WORK_SPEED('C:\\f.xlam'!BEST(A1:A2),B1)", "PI()*'C:\\f.xlam'!BEST(A1:A2)*B1/1000"),
        ("sumproduct(GRIT_WORK_SPEED(A1:A2,B1))", "sumproduct(PI()*A1:A2*B1/1000)"),
        ("A2:A2 B2+in_grit_depth+GRIT_WORK_SPEED(A1,B1)", f"A2:A2 B2+in_grit_depth+({SPEED})"),
    ],
)
def test_the_native_text(tmp_path, before, after):
    assert one(tmp_path, before) == after


@pytest.mark.parametrize(
    "text, why",
    [
        ("GRIT_WORK_SPEED(A1)", "GRIT_WORK_SPEED takes 2 arguments (got 1)"),
        ("GRIT_WORK_SPEED()", "GRIT_WORK_SPEED takes 2 arguments (got 0)"),
        ("GRIT_WORK_SPEED(A1,)", "work_rpm is left out"),
        ("GRIT_WORK_SPEED(A1,B1", "a bracket is not closed"),
        ("GRIT_WORK_SPEED(A1,B1))", "the formula is not understood"),
        ('GRIT_WORK_SPEED(A1,"B1)', "the formula is not understood"),
        ("GRIT_WORK_SPED(A1,B1)", "GRIT_WORK_SPED is not a function of gritfuncs"),
        ("other.GRIT_WORK_SPEED(A1,B1)", "other.GRIT_WORK_SPEED is not a function of gritfuncs"),
        ("SUM(GRIT_WORK_SPEED)", "GRIT_WORK_SPEED stands there without its arguments"),
        ('GRIT_WORK_SPEED(A1,"150")', 'work_rpm must be a number (got "150")'),
        ("GRIT_WORK_SPEED(A1,B1)+GRIT_WORK_SPEED(A1,TRUE)", "work_rpm must be a number (got TRUE)"),
        (
            "GRIT_EQUIVALENT_DIAMETER(A1,RAND(),1)",
            "put `RAND()` in a cell of its own: it would stand 2 times in the native formula",
        ),
        (
            "GRIT_EQUIVALENT_DIAMETER(A1+A2+B1+B2+A1+A2+B1+B2+A1+A2+B1+B2+A1+A2,B1,1)",
            "put `A1+A2+B1+B2+A1+A2+B1+B2+A1+A2+B1+B2+A1+A2` in a cell of its own: it would stand 2 times in the native formula",
        ),
        *(
            (
                f"GRIT_EQUIVALENT_DIAMETER(A1,{drawn},1)",
                f"put `{drawn}` in a cell of its own: it would stand 2 times in the native formula",
            )
            for drawn in ("RANDBETWEEN(1,9)", "rand()", "_xlfn.RANDARRAY(1)", "1+RAND()")
        ),
        (
            "GRIT_WORK_SPEED(A1,B1:B2)",
            "work_rpm is a range in an ordinary formula, of which a native formula would take one row: enter it as an array "
            "formula (Ctrl+Shift+Enter)",
        ),
        ('GRIT_MEAN_SIZE("D""12")', NO_SIZE.replace("'D127'", "'D\"12'")),
        (
            "GRIT_NEXT_RPM(A1,A1,A1,A1,A1,A1)",
            "no native formula gives it: see the sheet 2 Trial of trial.xlsx, or type its value",
        ),
        ("GRIT_VERSION()", "it tells the version of an add-in, and the shared workbook needs none: delete it"),
        ('GRIT_MEAN_SIZE("D127")', NO_SIZE),
    ],
)
def test_what_cannot_be_replaced_says_why(tmp_path, text, why):
    assert reason(tmp_path, text) == why


@pytest.mark.parametrize(
    "argument",
    [
        "A1:A2",
        "$A$1:A2",
        "A:A",
        "1:2",
        "{1,2}",
        "A1:A2*2",
        "(A1:A2)",
        "A1:INDEX(A1:A2,2)",
        "Table1[d]",
        "Table1[[#This Row],[d]:[e]]",
        "_xlfn.ANCHORARRAY(A1)",
        "_xlfn.anchorarray(A1)",
        "Table1[#Data]",
        "Table1[[#totals],[d]:[e]]",
        "SHEET1:SHEET2!A1",
        "twins",
        "of_a_table",
        "A1:A2 A1:B1",
        "(A1,A2)",
        "rpms",
        "Rpms*2",
    ],
)
def test_a_range_in_an_ordinary_formula_is_left(tmp_path, argument):
    workbook = Workbook()
    workbook.active["A1"] = f"=SUM(GRIT_WORK_SPEED({argument},5))"
    path = stored(
        workbook,
        tmp_path / "book.xlsx",
        edit=lambda package: package.put_text(
            "xl/workbook.xml",
            package.text("xl/workbook.xml").replace(
                "<calcPr",
                '<definedNames><definedName name="of_a_table">Table1[d]</definedName>'
                '<definedName name="rpms">Sheet!$A$1:$A$9</definedName><definedName name="twins">{1,2}</definedName></definedNames><calcPr',
            ),
        ),
    )
    shared = share(path)
    assert shared.left[0].reason.startswith("work_diameter is a range in an ordinary formula") and shared.output is None


def test_a_name_for_one_cell_is_a_plain_argument(tmp_path):
    workbook = Workbook()
    workbook.active["A1"] = "=GRIT_EQUIVALENT_DIAMETER(d_s,GRIT_DEPTH,1)"
    workbook.active["A2"] = "=GRIT_WORK_SPEED(far,grit_depth)"
    names = (
        '<definedNames><definedName name="d_s">Sheet!$B$1</definedName>'
        "<definedName name=\"far\">'C:\\a\\[b.xlsx]S'!$B$1</definedName>"
        '<definedName name="GRIT_DEPTH">Sheet!$B$2</definedName></definedNames><calcPr'
    )
    path = stored(
        workbook,
        tmp_path / "book.xlsx",
        edit=lambda package: package.put_text("xl/workbook.xml", package.text("xl/workbook.xml").replace("<calcPr", names)),
    )
    assert [each.after for each in share(path).replaced] == ["=d_s*GRIT_DEPTH/(GRIT_DEPTH+1*d_s)", "=PI()*far*grit_depth/1000"]
    spelled = share(path, to="calc").replaced[0].after
    assert spelled == "=ORG.GRITFUNCS.CELLS.GRIT_EQUIVALENT_DIAMETER(d_s,GRIT_DEPTH,1)"


def test_a_formula_that_grows_too_long_is_left(tmp_path):
    assert "8192 characters" in reason(tmp_path, "+".join(["GRIT_PLUNGE_DEPTH(A1,A1,A1,A1,A1,A1,A1,A1)"] * 100))
    assert "8192 characters" in reason(tmp_path, "GRIT_WORK_SPEED(A1,B1)" + "+1" * 4500)


def test_brackets_nested_to_the_limit_of_the_text_do_no_harm(tmp_path):
    deep = "(" * 4000 + "GRIT_WORK_SPEED(A1,B1)" + ")" * 4000
    assert one(tmp_path, deep) == "(" * 4000 + SPEED + ")" * 4000


# --- nested calls mean the same before and after


CELLS = {"A1": 1.25, "B1": 0.8, "A2": 1.75, "B2": 2.5}
LEAVES = st.sampled_from([*((name, value) for name, value in CELLS.items()), ("$A$1", 1.25), ("2", 2.0), ("0.5", 0.5)])
RECORDS = st.sampled_from([record for record in catalogue if record.native])


def grown(children):
    @st.composite
    def operator(draw):
        (left, x), sign, (right, y) = draw(children), draw(st.sampled_from("+*/")), draw(children)
        return f"({left}{sign}{right})", {"+": x + y, "*": x * y, "/": x / y if y else math.nan}[sign]

    @st.composite
    def bare(draw):
        """Without brackets: only where the operators around bind less."""
        (left, x), (right, y) = draw(LEAVES), draw(children)
        return f"{left}+{right}", x + y

    @st.composite
    def wrapped(draw):
        (text, x), (other, y) = draw(children), draw(LEAVES)
        return draw(
            st.sampled_from(
                [
                    (f"MAX({text},{other})", max(x, y)),
                    (f"SQRT( ABS({text}))", math.sqrt(abs(x))),
                    (f'IF({other}>0,{text},"GRIT_DEPTH(")', x),
                ]
            )
        )

    @st.composite
    def called(draw):
        record = draw(RECORDS)
        arguments = [draw(st.one_of(children, bare())) for _ in record.arguments]
        name = draw(
            st.sampled_from(
                [record.sheet_name, record.sheet_name.lower(), calc_stored_name(record.sheet_name), "[1]!" + record.sheet_name]
            )
        )
        try:
            value = record.function(*(value for _, value in arguments))
        except (ZeroDivisionError, OverflowError):
            value = math.nan
        return f"{name}({', '.join(text for text, _ in arguments)})", value if isinstance(value, float) else math.nan

    return st.one_of(operator(), wrapped(), called(), called())


TREES = st.recursive(LEAVES, grown, max_leaves=14).filter(lambda tree: "rit_" in tree[0].lower())


@settings(max_examples=40)
@given(st.lists(TREES, min_size=4, max_size=8))
def test_nested_calls_keep_their_value(tmp_path_factory, trees):
    trees = [(text, value) for text, value in trees if math.isfinite(value) and 1e-100 < abs(value) < 1e100 and len(text) < 600]
    assume(trees)
    folder = tmp_path_factory.mktemp("nested")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sharing, "LONGEST_REPEATED", 10000)
        shared = share_formulas(folder, [text for text, _ in trees], CELLS)
    refused = {left.place for left in shared.left}
    assert all("8192" in left.reason for left in shared.left)
    assume(shared.output)
    book = load_workbook(shared.output)
    for row in range(1, len(trees) + 1):
        if f"Sheet 1!D{row}" in refused:
            book["Sheet 1"][f"D{row}"] = None
    values = workbook_values(book)["Sheet 1"]
    for row, (text, value) in enumerate(trees, 1):
        if f"Sheet 1!D{row}" not in refused:
            assert values[f"D{row}"] == pytest.approx(value, rel=1e-12), (text, book["Sheet 1"][f"D{row}"].value)


# --- the spelling of another host


@pytest.mark.parametrize(
    "to, before, after",
    [
        (
            "calc",
            '1+[1]!grit_work_speed( A1,{0})*_xll.GRIT_DEPTH(GRIT_MEAN_SIZE("D1"),"GRIT_X(")',
            '1+ORG.GRITFUNCS.CELLS.GRIT_WORK_SPEED( A1,{0})*ORG.GRITFUNCS.CELLS.GRIT_DEPTH(ORG.GRITFUNCS.CELLS.GRIT_MEAN_SIZE("D1"),"GRIT_X(")',
        ),
        ("excel", "SUM(org.gritfuncs.cells.grit_knee(A1:A9,B1:B9),  2)", "SUM(GRIT_KNEE(A1:A9,B1:B9),  2)"),
    ],
)
def test_calls_take_the_spelling_of_the_other_host(tmp_path, to, before, after):
    assert one(tmp_path, before, to=to) == after


@pytest.mark.parametrize("word", WORDS)
def test_grit_sizes_are_looked_up(tmp_path, word):
    shared = share_formulas(tmp_path, ["GRIT_MEAN_SIZE(C1)", "GRIT_MEAN_SIZE(C2)/2"], {"C1": word, "C2": f" {word.lower()} "})
    values = workbook_values(load_workbook(shared.output))["Sheet 1"]
    size = catalogue["mean_grit_size"].call(word)
    assert values["D1"] == size and values["D2"] == size / 2
