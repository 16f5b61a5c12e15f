"""The catalogue: `@formula` records what a function computes; everything else (checks, cell text, help) reads the record.

The decorator returns the same function with the record attached as `.formula`.  Standard library only.
"""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property, lru_cache, wraps
from typing import Any

from .cells import Cell
from .quantities import QUANTITIES, RELATIONS
from .quantity import Quantity, Relation
from .refused import Refused, Unusable
from .sources import SOURCES, Source
from .values import is_array

BLOCK = 65536  # numbers of a long column taken at once: all that a formula makes of them stays in the processor's cache


@dataclass(frozen=True)
class Formula:
    """One entry of the catalogue."""

    name: str
    function: Callable
    arguments: tuple[Quantity, ...]
    gives: Quantity
    source: Source
    example: dict[str, Any]
    equation: str
    native: bool  # closed form: can be written as a spreadsheet formula
    description: str  # title sentence and remarks, as the function's author wrote them

    def __repr__(self) -> str:
        unit = "" if self.gives.unit == "-" else f" [{self.gives.unit}]"
        return f"<Formula {self.name}({', '.join(quantity.name for quantity in self.arguments)}) -> {self.gives.label}{unit}>"

    @property
    def sheet_name(self) -> str:
        """The function's name in a cell: GRIT_ and the Python name in capitals, any grit_ inside dropped."""
        return "GRIT_" + self.name.upper().replace("GRIT_", "")

    @property
    def title(self) -> str:
        return self.description.splitlines()[0].rstrip(".")

    @property
    def phrases(self) -> tuple[str, ...]:
        """What it is found by."""
        return (self.name, self.sheet_name[len("GRIT_") :], self.title) + phrases_of(self.arguments + (self.gives,))

    @cached_property
    def _signature(self) -> inspect.Signature:
        return inspect.signature(self.function)

    @cached_property
    def relations(self) -> tuple[Relation, ...]:
        """The limits that tie several of its arguments together."""
        names = {quantity.name for quantity in self.arguments}
        return tuple(relation for relation in RELATIONS if names.issuperset(relation.names))

    @property
    def chapter(self) -> str:
        return self.function.__module__.rpartition(".")[2]

    def check(self, **values: Any) -> dict[str, Any]:
        """The values as floats (or float arrays), or ValueError with one line naming the first one out of its limits."""
        checked = {quantity.name: quantity.check(values[quantity.name]) for quantity in self.arguments}
        try:
            for relation in self.relations:
                relation.check(checked)
        except ValueError as error:
            raise self._shapes_differ(checked) or error from None
        return checked

    def call(self, *args: Any, **kwargs: Any):
        """Compute from checked inputs: scalars give a float, arrays (or lists) a numpy array of the common shape."""
        values = self._signature.bind(*args, **kwargs).arguments
        length = _column_length(values)
        if length > BLOCK:
            with suppress(ValueError):  # computed at once, the error says at which position
                return self._by_blocks(values, length)
        return self._at_once(values)

    def _by_blocks(self, values: dict[str, Any], length: int):
        """A long column a block at a time: reading it again and again from memory takes most of the time."""
        import numpy

        result = numpy.empty(length)
        for start in range(0, length, BLOCK):
            block = slice(start, start + BLOCK)
            result[block] = self._at_once({name: value[block] if is_array(value) else value for name, value in values.items()})
        return result

    def _at_once(self, values: dict[str, Any]):
        checked = self.check(**values)
        try:
            result = self._compute(checked)
        except (OverflowError, ZeroDivisionError):
            result = math.nan
        except ValueError as error:
            raise self._shapes_differ(checked) or error from None
        allowed = self.gives.allows_all if hasattr(result, "shape") else self.gives.allows
        if not allowed(result):
            raise Unusable(
                f"{self.name} gives no {self.gives.label} {self.gives.requirement} from these inputs: "
                "they are too large or too small for computing"
            )
        return result

    def _compute(self, checked: dict[str, Any]):
        if not any(hasattr(value, "shape") for value in checked.values()):
            return self.function(**checked)
        import numpy

        with numpy.errstate(all="ignore"):  # what overflows or vanishes is refused by the check of the result
            return self.function(**checked)

    def _shapes_differ(self, checked: dict[str, Any]):
        shapes = {name: value.shape for name, value in checked.items() if hasattr(value, "shape")}
        if len(set(shapes.values())) < 2:
            return None
        got = ", ".join(f"{name} {shape}" for name, shape in shapes.items())
        return Refused(f"arrays given to {self.name}", "have shapes that fit together", got)

    def text(self, **cells: str) -> str:
        """The native spreadsheet formula, without '=', with cell references or names in place of the arguments."""
        if not self.native:
            raise Unusable(f"{self.name} is a look-up and has no native formula")
        unknown = set(cells) ^ {quantity.name for quantity in self.arguments}
        if unknown:
            takes = ", ".join(quantity.name for quantity in self.arguments)
            raise Unusable(f"{self.name} takes {takes} (check {', '.join(sorted(unknown))})")
        return str(self.function(**{name: Cell(reference) for name, reference in cells.items()}))


def _column_length(values: dict[str, Any]) -> int:
    """How many numbers the arrays among the values have, where all are columns of one length; else 0."""
    shapes = {value.shape for value in values.values() if is_array(value)}
    return shapes.pop()[0] if len(shapes) == 1 and len(min(shapes)) == 1 else 0


_FORMULAS: dict[str, Formula] = {}


def formula(*, gives: str, source: str, example: dict[str, Any], equation: str, native: bool = True):
    """Enter the decorated function in the catalogue; its arguments must be words of the vocabulary."""

    def enter(function: Callable) -> Callable:
        names = tuple(inspect.signature(function).parameters)
        record = Formula(
            function.__name__,
            function,
            tuple(QUANTITIES[name] for name in names),
            QUANTITIES[gives],
            SOURCES[source],
            example,
            equation,
            native,
            inspect.cleandoc(function.__doc__ or ""),
        )
        _FORMULAS[record.name] = record
        function.formula = record  # type: ignore[attr-defined]
        function.__doc__ = _documentation(record)
        return function

    return enter


def _documentation(record: Formula) -> str:
    title, _, rest = record.description.partition("\n\n")
    lines = [title, "", f".. math:: {record.equation}", ""]
    lines += [rest, ""] if rest else []
    lines += ["Parameters", "----------"]
    for quantity in record.arguments:
        unit = "" if quantity.unit == "-" else f" [{quantity.unit}]"
        kind = "str" if quantity.is_text else "float or array"
        lines += [f"{quantity.name} : {kind}", f"    {quantity.help}{unit} Must be {quantity.requirement}."]
    unit = "" if record.gives.unit == "-" else f" [{record.gives.unit}]"
    lines += [
        "",
        "Returns",
        "-------",
        f"{record.gives.name} : float or array",
        f"    {record.gives.help}{unit}",
        "",
        "Raises",
        "------",
        "ValueError",
        "    For an input outside its limits; one line says which, what it must be and what it was.",
        "",
        "Source",
        "------",
        str(record.source),
        "",
        "In a cell",
        "---------",
        f"={record.sheet_name}({', '.join(quantity.name for quantity in record.arguments)})",
    ]
    return "\n".join(lines)


def checked(record: Formula) -> Callable:
    """The function as users call it: same signature and documentation, inputs checked."""

    @wraps(record.function)
    def call(*args, **kwargs):
        return record.call(*args, **kwargs)

    return call


class Catalogue:
    """All formulas, in the order of their chapters; iterate it, look one up by Python or cell name, or search it."""

    def __iter__(self) -> Iterator[Formula]:
        return iter(_FORMULAS.values())

    def __len__(self) -> int:
        return len(_FORMULAS)

    def __repr__(self) -> str:
        return f"<catalogue of {len(self)} formulas>"

    def __getitem__(self, name: str) -> Formula:
        for record in self:
            if isinstance(name, str) and name in (record.name, record.sheet_name):
                return record
        raise KeyError(name)

    def search(self, words: str) -> tuple[Formula, ...]:
        """The formulas that all the words find, by name, title, and the names, symbols and other names of their quantities."""
        return tuple(record for record in self if finds(words, record.phrases))


def phrases_of(quantities: Iterable[Quantity]) -> tuple[str, ...]:
    """What people call the quantities or write for them."""
    return tuple(phrase for quantity in quantities for phrase in (quantity.name, quantity.symbol, quantity.label) + quantity.also)


def finds(words: str, phrases: Iterable[str]) -> bool:
    """True when the words are one of the phrases but for case and signs (Q'w and qw are Q'_w), or each begins a word of them.

    One or two letters must be a whole phrase, such as a symbol: r would begin too many words.
    """
    whole, text = _ready(tuple(phrases))
    return _bare(words) in whole or all(
        _bare(word) in whole or len(_bare(word)) > 2 and f" {_spaced(word)}" in text for word in words.split()
    )


@lru_cache(maxsize=None)
def _ready(phrases: tuple[str, ...]) -> tuple[frozenset, str]:
    """The phrases made ready for comparing; there are only as many as there are functions."""
    return frozenset(map(_bare, phrases)), "".join(f" {_spaced(phrase)}" for phrase in phrases)


def same(one: str, other: str) -> bool:
    """True when two ways of writing differ in case and signs only."""
    return _bare(one) == _bare(other)


def _bare(text: str) -> str:
    """Letters and digits only, in small letters."""
    return "".join(letter for letter in text.lower() if letter.isalnum())


def _spaced(text: str) -> str:
    """Small letters, words parted by single spaces, without the s of a plural at the end."""
    spaced = " ".join("".join(letter if letter.isalnum() else " " for letter in text.lower().replace("'", "")).split())
    return spaced[:-1] if len(spaced) > 3 and spaced.endswith("s") and not spaced.endswith("ss") else spaced


catalogue = Catalogue()
