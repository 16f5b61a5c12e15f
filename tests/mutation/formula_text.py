"""Changes of the formulas that a module writes into cells, as an operator of cosmic-ray, whose own pass over what stands in strings."""

from __future__ import annotations

import re

OTHERS = {
    "<": ("<=", ">="),
    "<=": ("<", ">"),
    ">": (">=", "<="),
    ">=": (">", "<"),
    "=": ("<>",),
    "<>": ("=",),
    "+": ("-",),
    "-": ("+",),
    "*": ("/",),
    "/": ("*",),
    "AND(": ("OR(",),
    "OR(": ("AND(",),
    "MIN(": ("MAX(",),
    "MAX(": ("MIN(",),
    "SUM(": ("MAX(",),
    "ROUNDUP(": ("ROUNDDOWN(",),
    "ROUNDDOWN(": ("ROUNDUP(",),
}
NUMBER = r"(?<![\w.$])\d+(?:\.\d+)?(?![\w.])"
HUGE_OR_TINY = r"\d+(?:\.\d+)?E[+-]?\d+"  # a stand-in for none, or what is lost in rounding: one more is the same
WORDS = r"(?<![A-Z.])(?:" + "|".join(re.escape(word) for word in OTHERS if word.endswith("(")) + ")"
SIGNS = "|".join(re.escape(sign) for sign in sorted(OTHERS, key=len, reverse=True) if not sign.endswith("("))
PLACE = re.compile(rf'(?P<stays>"[^"]*"|{HUGE_OR_TINY})|{NUMBER}|{WORDS}|{SIGNS}')
IN_PYTHON = re.compile(r"^[a-zA-Z]*(\"{3}|'{3}|\"|')(.*)\1$", re.DOTALL)
PYTHON_PART = re.compile(r"\{[^{}]*(?:\{[^{}]*\}[^{}]*)*\}")  # of an f-string
QUOTED = re.compile('"[^"]*"')


class FormulaText:
    """One comparison, sign, number or function of a formula becomes another; texts in quotes stay."""

    def mutation_positions(self, node):
        for _ in changes(node):
            yield node.start_pos, node.end_pos

    def mutate(self, node, index):
        return type(node)(changes(node)[index], node.start_pos, node.prefix)


def changes(node) -> list[str]:
    """What a leaf of the syntax tree may become: nothing, if it is no part of a formula."""
    if node.type not in ("string", "fstring_string") or not is_formula(node):
        return []
    text, found = node.value, []
    first, last = IN_PYTHON.match(text).span(2) if node.type == "string" else (0, len(text))
    for place in PLACE.finditer(text, first, last):
        if place["stays"] or begins_formula(node, place, first):
            continue
        others = OTHERS[place[0]] if place[0] in OTHERS else (more(place[0]),)
        found += [text[: place.start()] + other + text[place.end() :] for other in others]
    return found


def is_formula(node) -> bool:
    """Whether a string is a formula, not words, a unit or a number format: it names something, and no blank stands outside quotes."""
    whole = node.parent if node.type == "fstring_string" else node
    if whole.type == "fstring_format_spec":
        return False
    written = IN_PYTHON.match(PYTHON_PART.sub("{}", whole.get_code(include_prefix=False)))
    text = QUOTED.sub('""', written[2])
    return len(written[1]) == 1 and not re.search(r"\s|[²³µ°%]|\[[<>]", text) and bool(re.search(r"[_({[]", text))


def begins_formula(node, place, first) -> bool:
    """Whether this is the = before a formula, which compares nothing."""
    before = node.get_previous_leaf()
    return place[0] == "=" and place.start() == first and not (node.type == "fstring_string" and before.value == "}")


def more(number: str) -> str:
    return str(float(number) + 1 if "." in number else int(number) + 1)
