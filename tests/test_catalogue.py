"""Contracts of the catalogue and the vocabulary that every host relies on, and the direction of imports."""

from __future__ import annotations

import ast
import graphlib
import inspect
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

import gritfuncs
from gritfuncs.formulas import catalogue as same_catalogue
from gritfuncs.quantities import QUANTITIES, RELATIONS
from gritfuncs.registry import catalogue, checked
from gritfuncs.sources import SOURCES

EVERY = pytest.mark.parametrize("record", list(catalogue), ids=lambda record: record.name)
WORDS = pytest.mark.parametrize("quantity", QUANTITIES.values(), ids=list(QUANTITIES))
PACKAGE = Path(gritfuncs.__file__).parent

# Words that Visual Basic keeps for itself (Microsoft, VBA language reference, keywords; recalled).
VBA_WORDS = frozenset(
    """
    addressof alias and any append array as attribute base binary boolean byref byte byval call case cbool
    cbyte ccur cdate cdbl cint class clng close compare const csng cstr currency cvar cverr date debug
    decimal declare defbool default dim do double each else elseif empty end enum eqv erase error event
    exit explicit false fix for format friend function get global gosub goto if imp implements in input
    instr int integer is let lbound left len lib like line lock long loop lset me mid mod name new next
    not nothing null object on open option optional or output paramarray preserve print private property
    public put raiseevent randomize read redim rem reset resume return right rset save seek select set
    shared single spc static step stop str string sub tab then time to true type typename typeof ubound
    until val variant wend while width with withevents write xor
""".split()
)  # noqa: SIM905


def is_cell_reference(name):
    """A1 or R1C1 style, also a bare R or C; a name like this is refused or misread by a spreadsheet."""
    return bool(re.fullmatch(r"[A-Za-z]{1,3}\d+|[Rr]\d*([Cc]\d*)?|[Cc]\d*", name))


def test_the_reference_check_knows_references():
    assert all(map(is_cell_reference, ["a1", "XFD1048576", "r", "C", "R1C1", "rc", "c3"]))
    assert not any(map(is_cell_reference, ["a_e", "ab", "side", "GRIT_DEPTH"]))


class TestNames:
    @EVERY
    def test_sheet_name(self, record):
        assert re.fullmatch(r"GRIT_[A-Z][A-Z0-9_]*", record.sheet_name)
        assert len(record.sheet_name) <= 31
        assert not is_cell_reference(record.sheet_name)

    @pytest.mark.parametrize(
        "name, sheet_name",
        [
            ("grit_depth", "GRIT_DEPTH"),
            ("plunge_grit_depth", "GRIT_PLUNGE_DEPTH"),
            ("work_rpm_for", "GRIT_WORK_RPM_FOR"),
            ("mean_grit_size", "GRIT_MEAN_SIZE"),
            ("grit_density", "GRIT_DENSITY"),
            ("wheel_speed", "GRIT_WHEEL_SPEED"),
        ],
    )
    def test_sheet_names_that_are_in_use_stay(self, name, sheet_name):
        assert catalogue[name].sheet_name == sheet_name

    @pytest.mark.parametrize(
        "names", [[record.sheet_name for record in catalogue], [record.name for record in catalogue], list(QUANTITIES)]
    )
    def test_unique_without_regard_to_case(self, names):
        assert len({name.lower() for name in names}) == len(names)

    @WORDS
    def test_a_word_of_the_vocabulary_is_a_name_in_every_host(self, quantity):
        assert re.fullmatch(r"[a-z]+(_[a-z]+)*", quantity.name)
        assert quantity.name not in VBA_WORDS
        assert not is_cell_reference(quantity.name)

    @EVERY
    def test_argument_names_fit_the_function_wizard(self, record):
        names = [quantity.name for quantity in record.arguments]
        assert sum(map(len, names)) + len(names) <= 250
        assert names == list(inspect.signature(record.function).parameters)


class TestHelp:
    @WORDS
    def test_word(self, quantity):
        assert 10 <= len(quantity.help) <= 200 and quantity.help.endswith(".")
        assert len(f"{quantity.help} Must be {quantity.requirement}.") <= 255
        assert quantity.label and quantity.symbol and quantity.unit

    @WORDS
    def test_inch_unit_comes_with_its_factor(self, quantity):
        assert (quantity.inch_unit is None) == (quantity.inch_factor is None)

    @WORDS
    def test_customary_range_is_within_the_limits(self, quantity):
        if quantity.usual:
            assert quantity.usual[0] < quantity.usual[1] and all(map(quantity.allows, quantity.usual))

    @EVERY
    def test_title_is_a_noun_phrase_of_one_line(self, record):
        assert 10 <= len(record.title) <= 110
        assert not re.match(r"(Calculate|Compute|Return|Get|Give)", record.title)

    @EVERY
    def test_documentation_says_everything(self, record):
        text = record.function.__doc__
        assert record.equation in text and str(record.source) in text and f"={record.sheet_name}(" in text
        for quantity in (*record.arguments, record.gives):
            assert f"{quantity.name} : " in text and quantity.help in text
            assert quantity.unit == "-" or f"[{quantity.unit}]" in text
        for quantity in record.arguments:
            assert f"Must be {quantity.requirement}." in text

    def test_an_infeed_rate_is_on_the_radius_wherever_it_is_asked_for(self):
        assert "radius" in QUANTITIES["infeed_rate"].label and "diameter shows twice" in QUANTITIES["infeed_rate"].help

    def test_the_prefactor_is_named_with_the_depth(self):
        for name in ("grit_depth", "plunge_grit_depth"):
            assert re.search(r"[Pp]refactor", catalogue[name].function.__doc__)


class TestVocabulary:
    def test_every_word_is_used(self):
        used = {quantity.name for record in catalogue for quantity in (*record.arguments, record.gives)}
        assert used == set(QUANTITIES)

    def test_every_source_is_used(self):
        assert {record.source for record in catalogue} == set(SOURCES.values())

    def test_a_relation_ties_words_that_a_formula_has_together(self):
        for relation in RELATIONS:
            assert any(set(relation.names) <= {quantity.name for quantity in record.arguments} for record in catalogue)


class TestExamples:
    @EVERY
    def test_is_complete_and_reproduced(self, record):
        inputs = {name: value for name, value in record.example.items() if name != record.gives.name}
        assert set(inputs) == {quantity.name for quantity in record.arguments}
        assert record.call(**inputs) == pytest.approx(record.example[record.gives.name], rel=1e-7)

    @EVERY
    def test_neighbours_differ_so_that_swapping_them_shows(self, record):
        inputs = {name: value for name, value in record.example.items() if name != record.gives.name}
        names = list(inputs)
        for first, second in zip(names, names[1:]):
            printed_in_a_book = record.name == "grit_depth"
            assert inputs[first] != inputs[second] or printed_in_a_book


class TestUse:
    @EVERY
    def test_the_decorated_function_is_the_authors_own(self, record):
        module = sys.modules[record.function.__module__]
        assert getattr(module, record.name) is record.function
        assert record.function.formula is record
        body = ast.parse(inspect.getsource(record.function)).body[0].body
        if record.native:
            assert len(body) == 2 and isinstance(body[1], ast.Return)  # documentation and one return

    @EVERY
    def test_the_function_for_users_has_the_same_signature_and_checks(self, record):
        function = checked(record)
        assert inspect.signature(function) == inspect.signature(record.function)
        assert function.__doc__ == record.function.__doc__ and function.__name__ == record.name
        inputs = [record.example[quantity.name] for quantity in record.arguments]
        assert function(*inputs) == record.call(*inputs)
        with pytest.raises(ValueError):
            function(*inputs[:-1], None)

    def test_look_up_and_search(self):
        assert catalogue is same_catalogue
        assert catalogue["grit_depth"] is catalogue["GRIT_DEPTH"]
        assert len(catalogue) == len(list(catalogue))
        assert catalogue["work_rpm_for"] in catalogue.search("Work_RPM") and not catalogue.search("nothing of the kind")
        assert catalogue["specific_energy"] in catalogue.search("energy per volume")
        with pytest.raises(KeyError):
            catalogue["GRIT_NOTHING"]

    def test_chapter_is_the_module(self):
        assert catalogue["grit_depth"].chapter == "depth" and catalogue["line_power"].chapter == "energy"


# What a part of the package may import: itself, and what stands before it in this list.
LAYERS = (
    ("refused", "units"),
    ("files", "markup", "values"),
    ("frames",),
    ("pictures",),  # charts, of plain numbers: nothing of grinding
    ("quantity",),
    ("quantities", "sources", "cells", "spreadsheets"),  # spreadsheets: the file format and its arithmetic, nothing of grinding
    ("registry",),
    ("formulas",),
    ("knee",),
    ("speed_table_views",),
    ("planning",),
    ("trial",),
    ("comparison",),
    ("example",),
    ("addins",),
    ("sheets",),  # what any workbook is made of; nothing of a knee
    ("workbooks",),
    ("reports",),  # its cautions are those of the workbooks
    ("share", "record"),
    ("trial.log",),  # its picture is a workbook
    ("public",),
    ("finder", "demo"),
    ("commands",),
    ("cli",),
    ("__main__",),
)
LEVEL = {part: level for level, parts in enumerate(LAYERS) for part in parts}
STANDARD_LIBRARY_ONLY = (
    "refused",
    "units",
    "values",
    "quantity",
    "quantities",
    "sources",
    "cells",
    "registry",
    "formulas",
    "knee",
)
MODULES = sorted(path for path in PACKAGE.rglob("*.py") if path.parent != PACKAGE or path.stem != "__init__")


def part_of(module):
    """The entry of the layers that a module inside the package belongs to."""
    names = module.split(".")
    return next((part for part in (".".join(names[:2]), names[0]) if part in LEVEL), names[0])


def module_of(path):
    return ".".join(path.relative_to(PACKAGE).with_suffix("").parts)


CORE_MODULES = [path for path in MODULES if part_of(module_of(path)) in STANDARD_LIBRARY_ONLY]
SINCE_3_9 = {
    "removeprefix",
    "removesuffix",
    "pairwise",
    "cache",
    "bit_count",
    "lcm",
    "is_relative_to",
    "linear_regression",
    "slots",
    "kw_only",
    "strict",
}
BUILT_IN_TYPES = {"list", "dict", "tuple", "set", "frozenset", "type"}
CORE = pytest.mark.parametrize("path", CORE_MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
MODULE = pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())


def imported(tree, path):
    """Absolute names of the modules that a file imports, each with whether it loads when the file does."""
    inner = {
        id(node)
        for function in ast.walk(tree)
        if isinstance(function, (ast.FunctionDef, ast.Lambda))
        for node in ast.walk(function)
    }
    for block in ast.walk(tree):
        if isinstance(block, ast.If) and getattr(block.test, "id", "") == "TYPE_CHECKING":
            block.body = []  # for type checkers alone
    package = ("gritfuncs", *path.relative_to(PACKAGE).parts[:-1])
    for node in ast.walk(tree):
        at_once = id(node) not in inner
        if isinstance(node, ast.Import):
            yield from ((alias.name, at_once) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else ()
            module = ".".join((*above, *filter(None, [node.module])))
            yield from ((f"{module}.{alias.name}", at_once) for alias in node.names)


def evaluated(tree):
    """All parts of a file but its annotations, where these are left as text."""
    as_text = any(isinstance(node, ast.ImportFrom) and node.module == "__future__" for node in tree.body)
    annotations = {
        id(inner)
        for node in ast.walk(tree)
        for field in ("annotation", "returns")
        if as_text and getattr(node, field, None)
        for inner in ast.walk(getattr(node, field))
    }
    return [node for node in ast.walk(tree) if id(node) not in annotations]


class TestImports:
    @MODULE
    def test_go_one_way(self, path):
        here = part_of(module_of(path))
        assert here in LEVEL, f"{here} has no place among the layers"
        for name, _ in imported(ast.parse(path.read_text(encoding="utf-8")), path):
            package, _, module = name.partition(".")
            part = part_of(module)
            if package == "gritfuncs" and part in LEVEL:
                assert LEVEL[part] <= LEVEL[here], f"{here} must not import {part}"
                assert here != "cells", "cells must stand alone"

    def test_no_folder_holds_more_than_three_tenths_of_the_lines(self):
        lines = Counter()
        for path in PACKAGE.rglob("*.py"):
            lines[path.relative_to(PACKAGE).parts[0]] += len(path.read_text(encoding="utf-8").splitlines())
        (folder, most), *_ = lines.most_common(1)
        assert most <= 0.3 * sum(lines.values()), folder

    @pytest.mark.skipif(sys.version_info < (3, 10), reason="older Python cannot list its standard library")
    @CORE
    def test_of_the_core_are_of_the_standard_library(self, path):
        imports = imported(ast.parse(path.read_text(encoding="utf-8")), path)
        at_once = {name.partition(".")[0] for name, when in imports if when}
        assert at_once <= set(sys.stdlib_module_names) | {"gritfuncs"}

    @CORE
    def test_the_core_is_written_for_python_3_8(self, path):
        tree = ast.parse(path.read_text(encoding="utf-8"), feature_version=(3, 8))
        for node in evaluated(tree):
            assert not (isinstance(node, ast.Attribute) and node.attr in SINCE_3_9)
            assert not (isinstance(node, ast.keyword) and node.arg in SINCE_3_9)
            assert not (isinstance(node, ast.Subscript) and getattr(node.value, "id", None) in BUILT_IN_TYPES)

    def test_no_file_is_read_or_written_with_line_ends_that_python_3_9_cannot_be_told(self):
        """`newline` of these two came with 3.10 and 3.13, which no checker of style sees."""
        calls = [
            f"{path.name}:{node.lineno}"
            for path in PACKAGE.rglob("*.py")
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"), feature_version=(3, 9)))
            if isinstance(node, ast.Call) and getattr(node.func, "attr", "") in ("read_text", "write_text")
            if any(keyword.arg == "newline" for keyword in node.keywords)
        ]
        assert calls == []

    @pytest.mark.parametrize("module", ["gritfuncs", "gritfuncs.cli"])
    def test_importing_it_loads_no_heavy_library(self, module):
        heavy = ("numpy", "scipy", "openpyxl", "xlwings", "pandas", "matplotlib")
        code = f"import sys, {module}; print(sorted(set({heavy!r}) & set(sys.modules)))"
        assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"

    def test_the_core_runs_without_them(self):
        """As inside the LibreOffice extension."""
        code = (
            "import sys\nfor name in ('numpy', 'scipy', 'openpyxl', 'xlwings'): sys.modules[name] = None\n"
            "import gritfuncs.formulas\nfrom gritfuncs.knee import find_knee\n"
            "depths = [0.5, 0.7, 0.9, 1.1, 1.3, 1.5, 1.7, 1.9]\n"
            "print(find_knee(depths, [9, 7.2, 5.1, 3, 3, 3.1, 3, 2.9]).verdict)"
        )
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        assert done.stdout.strip()

    def test_no_module_is_imported_in_a_circle(self):
        modules = {f"gritfuncs.{module_of(path)}".removesuffix(".__init__"): path for path in MODULES}
        needs = {
            module: {
                found
                for name, _ in imported(ast.parse(path.read_text(encoding="utf-8")), path)
                for found in [name if name in modules else name.rpartition(".")[0]]  # a module, or a name in one
                if found in modules and found != module
            }
            for module, path in modules.items()
        }
        order = graphlib.TopologicalSorter(needs)
        order.prepare()  # raises CycleError, which names the circle


class TestStub:
    """What editors and type checkers see of the package."""

    STUB = PACKAGE / "__init__.pyi"

    def test_it_has_every_public_name(self):
        tree = ast.parse(self.STUB.read_text(encoding="utf-8"))
        named = {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}
        named |= {alias.asname for node in tree.body if isinstance(node, ast.ImportFrom) for alias in node.names if alias.asname}
        assert named == set(dir(gritfuncs)), "python3 docs/build.py --pages"

    def test_its_functions_take_what_the_real_ones_take(self):
        for node in ast.parse(self.STUB.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef):
                real = inspect.signature(getattr(gritfuncs, node.name)).parameters
                assert [argument.arg for argument in node.args.args] == list(real)

    def test_every_argument_of_a_public_function_may_be_called_by_its_name(self):
        for name, function in inspect.getmembers(gritfuncs, inspect.isfunction):
            kinds = {each.kind for each in inspect.signature(function).parameters.values()}
            assert inspect.Parameter.POSITIONAL_ONLY not in kinds, name
