"""docs/glossary.md: every word of the vocabulary, from the code."""

from __future__ import annotations

from function_pages import CAUTION, entry_links, given_and_taken

from gritfuncs.quantities import QUANTITIES
from gritfuncs.quantity import IsoTerm, Quantity

HEAD = """# Glossary

Every quantity that a function takes or gives, by its label. The name in `code` is the argument in Python and in cells.

{caution}

**ISO 3002-5:1989** (basic terminology for grinding processes using grinding wheels) was read in the contents list of its identical Korean adoption, KS B ISO 3002-5:2013, which shows clauses, terms and symbols but no definitions. *Seen* below means seen there; that a word here means what the term there means is from memory, as are all symbols and terms so marked. Its clauses 5 and 6 (motions, speeds, removal rates, speed ratio) were not seen. It uses an equivalent wheel **radius** r_eq where shops and this library use a diameter: d_e = 2 r_eq.

*Also* lists what shops and books call it or write for it, so that `gritfuncs functions WORD` finds it. Not all of them mean quite the same: h_max and h_cu stand under other prefactors in some books, and surface speed is said of wheel and work.
"""
TRIAL_WORDS = """
## Words of a trial

- **knee**: the grit depth at which the falling curve of energy over grit depth levels off ([how it is found](knee.md)).
- **level**: the energy at the knee and beyond.
- **verdict**: `found`, `still falling`, `already level`, `not resolved` or `too few readings`; only `found` carries a knee.
- **interval**: the depths between which the knee lies, for scatter (95 %) and for curves that are rounded.
- **band**: how far the depth may be from the chosen one, ±2 % by common practice.
- **nominal rpm**: the work rpm where a trial starts.
- **net load**: a reading less the idle reading.
"""


def glossary_page() -> str:
    lines = [HEAD.format(caution=CAUTION.format(up=""))]
    for quantity in sorted(QUANTITIES.values(), key=lambda word: word.label.lower()):
        lines += _entry(quantity)
    return "\n".join(lines).rstrip() + "\n" + TRIAL_WORDS


def _entry(quantity: Quantity) -> list[str]:
    inch = f"; inch unit {quantity.inch_unit}" if quantity.inch_unit else ""
    usual = "; usually {:g} to {:g}".format(*quantity.usual) if quantity.usual else ""
    unit = "no unit" if quantity.unit == "-" else quantity.unit
    lines = [
        f"## {quantity.label}",
        "",
        f"`{quantity.name}`, symbol {quantity.symbol}, {unit}{inch}. Must be {quantity.requirement}{usual}.",
        "",
        quantity.help,
        "",
    ]
    facts = []
    if quantity.iso:
        facts.append(f"ISO 3002-5: {_iso(quantity.iso)}")
    if quantity.also:
        facts.append(f"Also: {', '.join(quantity.also)}.")
    gives, takes = given_and_taken(quantity)
    if gives:
        facts.append(f"Given by: {entry_links(gives)}.")
    if takes:
        facts.append(f"Taken by: {entry_links(takes)}.")
    return lines + [f"- {fact}" for fact in facts] + [""]


def _iso(term: IsoTerm) -> str:
    symbol = f"symbol {term.symbol}" if term.symbol else ""
    if not term.clause:
        return f"{f'*{term.term}*, ' if term.term else ''}{symbol} (from memory)."
    seen = "seen" if term.symbol_seen or not symbol else "term seen, symbol from memory"
    return f"{term.clause} *{term.term}*{f', {symbol}' if symbol else ''} ({seen}).{f' {term.remark}' if term.remark else ''}"
