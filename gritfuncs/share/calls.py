"""Calls of the cell functions in a formula's text: found in every spelling, and rewritten from the inside out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token, TokenizerError

from ..addins.functions import FUNCTIONS, CellFunction
from ..addins.naming import sheet_name

LONGEST_FORMULA = 8192  # characters, what spreadsheets take

# What a piece of a formula is.
PLAIN = "plain"  # a reference, a name or a number
TEXT = "text"  # a text or a truth value
CLOSED = "closed"  # a function with its brackets, or brackets: operators around it do no harm
OPEN = "open"  # operators in it are bare
_SPACE, _OPERATOR = "space", "operator"
_SPACES = re.compile(r"[ \n\r\t]*")
_OTHER_SPACES = {ord("\r"): " ", ord("\t"): " "}  # which the tokenizer takes for letters
_ARRAYS_INSIDE = "SUMPRODUCT"  # computes with arrays whatever the formula that it stands in

_BY_NAME = {function.sheet_name: function for function in FUNCTIONS}
_LIKE_OURS = re.compile(r"(?<![A-Z0-9_])GRIT_[A-Z0-9_]+", re.IGNORECASE)
_ONE_OF_A_TABLE = re.compile(r"#(?:This Row|Totals|Headers)|^[^\[]*\[\s*@", re.IGNORECASE)
_DRIVE = re.compile(r"^'?[A-Z]:(?=[\\/])", re.IGNORECASE)  # of the path to another workbook


@dataclass(frozen=True)
class Piece:
    """A part of a formula's text; `many` when it stands for several cells or values."""

    text: str
    kind: str
    many: bool = False

    @property
    def inside(self) -> str:
        """The text as it may stand between operators."""
        return f"({self.text})" if self.kind == OPEN else self.text


@dataclass(frozen=True)
class Call:
    """A call of a cell function as it stands in a formula."""

    name: str  # as it is spelled, up to its bracket
    function: CellFunction
    arguments: list[Piece]
    inside: str  # all between its brackets
    in_array: bool = False  # whether operators there compute with all cells of a range


def may_call(formula: str) -> bool:
    """Whether it is worth looking for calls."""
    return bool(_LIKE_OURS.search(formula))


@dataclass
class _Bracket:
    """An open bracket, a function's or another: what is inside, piece by piece, between separators."""

    opening: str
    sections: list[list[Piece]] = field(default_factory=lambda: [[]])
    separators: list[str] = field(default_factory=list)

    def joined(self) -> list[Piece]:
        return [_joined(section) for section in self.sections]

    def text(self, joined: list[Piece], closing: str) -> str:
        texts = [joined[0].text]
        for separator, section in zip(self.separators, joined[1:]):
            texts += [separator, section.text]
        return self.opening + "".join(texts) + closing


def _joined(pieces: list[Piece]) -> Piece:
    """One piece out of all that stands between two separators."""
    solid = [piece for piece in pieces if piece.kind != _SPACE]
    if len(solid) == 1:
        return Piece("".join(piece.text for piece in pieces), solid[0].kind, solid[0].many)
    # two operands with only a space between them are an intersection, which may be several cells
    crossing = any(_OPERATOR not in (left.kind, right.kind) for left, right in zip(solid, solid[1:]))
    many = crossing or any(piece.many for piece in solid)
    return Piece("".join(piece.inside for piece in pieces), OPEN if solid else _SPACE, many)


def rewritten(formula: str, rewrite: Callable[[Call], Piece], names: Mapping[str, str]) -> tuple[str, int]:
    """The formula with every call rewritten, and the number of calls; ValueError says why one cannot be.

    `rewrite` takes a call in whose arguments the calls are already rewritten.  `names` are the
    workbook's defined names in capitals, with what they stand for.
    """
    if len(formula) > LONGEST_FORMULA:
        raise ValueError(f"formulas must have at most {LONGEST_FORMULA} characters (got {len(formula)})")
    calls, open_brackets = 0, [_Bracket("")]
    for token, text in tokens(formula):
        if token.subtype == Token.OPEN:
            open_brackets.append(_Bracket(text))
        elif token.type == Token.SEP:
            open_brackets[-1].separators.append(text)
            open_brackets[-1].sections.append([])
        elif token.subtype == Token.CLOSE:
            bracket = open_brackets.pop()
            function = _called(bracket.opening) if token.type == Token.FUNC else None
            if function:
                calls += 1
                sections = bracket.joined()
                inside = bracket.text(sections, "")[len(bracket.opening) :]
                in_array = _computes_with_arrays(open_brackets)
                piece = rewrite(Call(bracket.opening[:-1], function, _arguments(sections), inside, in_array))
            else:
                piece = _closed(bracket, token, text)
            open_brackets[-1].sections[-1].append(piece)
        else:
            open_brackets[-1].sections[-1].append(_piece(token, text, names))
    if len(open_brackets) > 1:
        raise ValueError("a bracket is not closed")
    text = open_brackets[0].text(open_brackets[0].joined(), "")
    if len(text) > LONGEST_FORMULA:
        raise ValueError(
            f"the native formula would have more than {LONGEST_FORMULA} characters: put parts of it in cells of their own"
        )
    return text, calls


def tokens(formula: str) -> Iterator[tuple[Token, str]]:
    """The tokens with their text as it stands in the formula: the tokenizer makes one space out of many."""
    try:
        found = Tokenizer("=" + formula.translate(_OTHER_SPACES)).items
    except (TokenizerError, IndexError, AssertionError):
        raise ValueError("the formula is not understood") from None
    place = 0
    for token in found:
        end = _SPACES.match(formula, place).end() if token.type == Token.WSPACE else place + len(token.value)
        yield token, formula[place:end]
        place = end


def _computes_with_arrays(open_brackets: list[_Bracket]) -> bool:
    """Whether nothing but operators, brackets and our own functions stand between a place and SUMPRODUCT."""
    for bracket in reversed(open_brackets):
        name = bracket.opening[:-1].strip()
        if name and not _called(bracket.opening):
            return name.upper() == _ARRAYS_INSIDE
    return False


def _arguments(sections: list[Piece]) -> list[Piece]:
    found = [_single(Piece(piece.text.strip(), piece.kind, piece.many)) for piece in sections]
    return [] if len(found) == 1 and not found[0].text else found


def _single(piece: Piece) -> Piece:
    """{5} and B5:B5, which tell a Calc add-in a true 0 from a blank, as what they are: one value."""
    if not piece.many:
        return piece
    constant = re.fullmatch(r"""\{\s*([+-]?[\d.]+(?:E[+-]?\d+)?|"(?:[^"]|"")*")\s*\}""", piece.text, re.IGNORECASE)
    if constant:
        text = constant[1].lstrip("+")
        return Piece(text, TEXT if text[0] == '"' else OPEN if text[0] == "-" else PLAIN)
    cell = re.fullmatch(r"(.*!)?(\$?[A-Z]{1,3}\$?\d+):\2", piece.text, re.IGNORECASE)
    return Piece((cell[1] or "") + cell[2], PLAIN) if cell else piece


def _closed(bracket: _Bracket, token: Token, closing: str) -> Piece:
    sections = bracket.joined()
    if token.type == Token.FUNC:  # what a function makes of ranges is one value, unless it gives a reference
        many = ":" in bracket.opening.rpartition("!")[2] or "ANCHORARRAY" in bracket.opening.upper()
    else:
        many = token.type == Token.ARRAY or any(section.many for section in sections)
    return Piece(bracket.text(sections, closing), CLOSED, many)


def _called(opening: str) -> CellFunction | None:
    name = opening[:-1].strip()
    function = _BY_NAME.get(_plain_name(name))
    if function is None and re.search(_LIKE_OURS.pattern + "$", name, re.IGNORECASE):
        raise ValueError(f"{name} is not a function of gritfuncs")
    return function


def _plain_name(name: str) -> str:
    return sheet_name("".join(name.rpartition("!")[2].split()) or "?")


def _piece(token: Token, text: str, names: Mapping[str, str]) -> Piece:
    if token.type == Token.WSPACE:
        return Piece(text, _SPACE)
    if token.type != Token.OPERAND:
        return Piece(text, _OPERATOR, many=text == ",")  # a comma among operators is a union of ranges
    if token.subtype in (Token.TEXT, Token.LOGICAL):
        return Piece(text, TEXT)
    if token.subtype != Token.RANGE:
        return Piece(text, PLAIN)
    if _plain_name(text) in _BY_NAME and not _is_cells(names.get(text.upper(), "(")):
        raise ValueError(f"{text} stands there without its arguments")
    return Piece(text, PLAIN, _stands_for_many(text, names))


def _is_cells(meaning: str) -> bool:
    return "(" not in meaning


def _stands_for_many(reference: str, names: Mapping[str, str]) -> bool:
    sheet, _, cells = reference.rpartition("!")
    if "[" in cells:
        return not _ONE_OF_A_TABLE.search(cells) or "]:[" in cells
    if ":" in cells or ":" in _DRIVE.sub("", sheet):  # of a sheet, or of several in a row
        return True
    return any(mark in re.sub(r"'[^']*'", "", names.get(cells.upper(), "")) for mark in ":[{")
