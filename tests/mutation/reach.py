"""Which test files try a module: those of its name, and those that import it or else what imports it."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
FURTHEST = 3  # steps from a module to a test; a test further away tries much else


def tests_of(module: str) -> list[str]:
    """The test files for a module such as gritfuncs/share/values.py.

    First those that carry the name of the module or its folder, then the nearest, then the smallest.
    """
    path = ROOT / module
    found = named({path.stem, path.parent.name} - {"gritfuncs"})
    seen, wave = {module_name(path)}, {module_name(path)}
    for step in range(1, FURTHEST + 1):
        near = {test for test, names in test_imports().items() if names & wave}
        found = {**dict.fromkeys(near, step), **found}
        if near:
            break
        wave = {name for name, names in package_imports().items() if names & wave} - seen
        seen |= wave
    # nothing imports it by name: the public names, the commands and an extension load it when they are asked for it
    found = found or named({word for part in Path(module).with_suffix("").parts[1:] for word in part.split("_")})
    found = found or dict.fromkeys(test_imports(), 0)
    return [f"tests/{test.name}" for test in sorted(found, key=lambda test: (found[test], test.stat().st_size))]


def named(words: set[str]) -> dict[Path, int]:
    """The test files with one of these words in their names."""
    return {test: 0 for test in test_imports() if words & set(test.stem.split("_"))}


@cache
def package_imports() -> dict[str, set[str]]:
    """{module: the modules that it imports}, by their dotted names."""
    paths = (ROOT / "gritfuncs").rglob("*.py")
    return {module_name(path): imported(path) for path in paths}


@cache
def test_imports() -> dict[Path, set[str]]:
    """{test file: the modules that it imports}."""
    return {path: imported(path) for path in (ROOT / "tests").glob("test_*.py")}


def module_name(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def imported(path: Path) -> set[str]:
    """The dotted names of what a file imports, wherever in it; of `from a import b` both a and a.b, for b may be a module."""
    found: set[str] = set()
    home = list(path.relative_to(ROOT).parts[:-1])
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            start = home[: len(home) - node.level + 1] if node.level else []
            source = ".".join([*start, *([node.module] if node.module else [])])
            found |= {source, *(f"{source}.{alias.name}" for alias in node.names)}
    return found
