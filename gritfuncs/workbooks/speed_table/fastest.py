"""The sheet Fastest of speed_table.xlsx: for each part diameter the highest infeed rate within all limits, and what binds.

It is computed in mm and on the radius on the sheet calc fastest; the sheet Fastest shows it as the machine does.
"""

from __future__ import annotations

from typing import Callable

from openpyxl.utils import get_column_letter

from ...planning import LOWER_BOUNDS, ROUNDING, UPPER_BOUNDS
from ...sheets.book import CALC, Book
from ...sheets.conditions import first_of, quoted
from ..blocks.shown import unit_words
from .setup import RPM_FORMAT, word, work_rpm

SHEET, CALC_SHEET = "Fastest", f"{CALC}fastest"
NO_LIMIT = "no limit"
NO_SETUP = "no setup"
_FIRST_BOUND = 3


def add(book: Book, rows: int, diameter: Callable[[int], str]) -> None:
    """Both sheets; diameter(row) is the cell of a part diameter on the sheet Speed table."""
    _shown(book, rows, diameter, _computed(book, rows, diameter))


def _shown(book: Book, rows: int, diameter: Callable[[int], str], first: int) -> None:
    """The sheet to read; `first` is the first row of the computed one."""
    page = book.page(SHEET, "Fastest setup at the target depth", (13,) + (13,) * 8 + (13, 11, 38))
    page.note(
        "At constant grit depth work rpm times infeed rate is fixed for a part, so each limit bounds the infeed rate from above or "
        "from below. The lowest upper bound is the fastest setup, unless a lower bound lies above it.",
        2,
    )
    page.put(
        f"A{page.row}",
        '="Infeed rates as the machine shows them, on the "&IF(ISERROR(in_infeed_basis),"",in_infeed_basis&"")&"."',
    )
    page.row += 1
    length = unit_words("mm")

    def in_length(words: str, unit: str = "") -> str:
        return f"={quoted(words + ', ')}&{length}&{quoted(unit)}"

    page.table_head(
        (in_length("part diameter"),)
        + tuple(in_length(f"infeed at most, from {_words(name)}", "/min") for name in UPPER_BOUNDS)
        + tuple(in_length(f"infeed at least, from {_words(name)}", "/min") for name in LOWER_BOUNDS)
        + (in_length("fastest infeed", "/min"), "work rpm, 1/min", "what binds"),
        lines=5,
    )
    last = _FIRST_BOUND + len(UPPER_BOUNDS) + len(LOWER_BOUNDS)
    for row in range(rows):
        seen = [f"'{CALC_SHEET}'!{get_column_letter(place)}{first + row}" for place in range(_FIRST_BOUND, last + 4)]
        bounds = [f'IF(ISERROR({cell}),"",{_as_shown(cell)})' for cell in seen[: last - _FIRST_BOUND]]
        page.cells(
            tuple(
                "=" + text
                for text in (
                    f'IF(ISBLANK({diameter(row)}),"",{diameter(row)})',
                    *bounds,
                    *(f'IF(ISERROR({cell}),"",{cell})' for cell in seen[-3:]),
                )
            ),
            formats=("General",) + ("[<0.1]0.0000;0.000",) * (len(bounds) + 1) + (RPM_FORMAT, None),
        )
    page.note("Round the infeed rate down and compute the work rpm for it with the speed table; never up across a limit.")


def _as_shown(infeed: str) -> str:
    """Formula text of an infeed rate on the radius in mm/min, or a word, as the machine shows it."""
    return f"IF(ISNUMBER({infeed}),{infeed}/(out_infeed_factor*out_length_factor),{infeed})"


def _computed(book: Book, rows: int, diameter: Callable[[int], str]) -> int:
    """The sheet that computes, in mm and on the radius; gives its first row."""
    page = book.page(
        CALC_SHEET, "Calculation of the fastest setup, in mm, on the radius", (16, 18) + (15,) * 8 + (16, 16, 14, 40)
    )
    page.table_head(
        ("part diameter, mm", "rpm times infeed, mm/min²")
        + tuple(f"infeed at most, from {_words(name)}, mm/min" for name in UPPER_BOUNDS)
        + tuple(f"infeed at least, from {_words(name)}, mm/min" for name in LOWER_BOUNDS)
        + ("fastest infeed on the radius, mm/min", "the same as the machine shows it, mm/min", "work rpm, 1/min", "what binds"),
        lines=4,
    )
    first = page.row
    for row in range(rows):
        page.cells(
            tuple("=" + text for text in _row(page.row, diameter(row))),
            formats=("General", "0.0") + ("0.000",) * 8 + ("0.000", "0.000", RPM_FORMAT, None),
        )
    for name, offset in (("infeed", 0), ("infeed_shown", 1), ("rpm", 2), ("binds", 3)):
        letter = get_column_letter(_FIRST_BOUND + len(UPPER_BOUNDS) + len(LOWER_BOUNDS) + offset)
        book.name(f"out_fastest_{name}", page.sheet, f"{letter}{first}:{letter}{page.row - 1}")
    return first


def _words(limit: str) -> str:
    return limit.replace("_", " ")


def _row(row: int, diameter: str) -> tuple[str, ...]:
    product, bounds = f"$B{row}", _bounds(f"$A{row}", f"$B{row}")
    letters = {name: get_column_letter(_FIRST_BOUND + place) for place, name in enumerate(UPPER_BOUNDS + LOWER_BOUNDS)}
    upper = f"{letters[UPPER_BOUNDS[0]]}{row}:{letters[UPPER_BOUNDS[-1]]}{row}"
    lower = f"{letters[LOWER_BOUNDS[0]]}{row}:{letters[LOWER_BOUNDS[-1]]}{row}"
    infeed = get_column_letter(_FIRST_BOUND + len(letters))
    one = work_rpm(work_diameter=f"$A{row}", infeed_rate="1", wheel_speed="out_wheel_speed", wheel_diameter="use_wheel_diameter")
    cells = [
        first_of((f"ISBLANK({diameter})", quoted("")), ("out_ready=1", f"{diameter}*out_length_factor"), otherwise="NA()"),
        f"IF(ISNUMBER($A{row}),{one},$A{row})",
    ]
    cells += [
        f'IF(ISNUMBER({product}),IF(ISNUMBER(use_{name}),{bounds[name]},"{NO_LIMIT}"),{product})'
        for name in UPPER_BOUNDS + LOWER_BOUNDS
    ]
    highest, lowest, here = f"MIN({upper})", f"MAX({lower})", f"{infeed}{row}"
    fits = first_of((f"MAX({lower},0)<={highest}*(1+{ROUNDING:G})", f"{highest}>0"), otherwise="FALSE")
    found = first_of((f"COUNT({upper})=0", quoted(NO_LIMIT)), (fits, highest), otherwise=quoted(NO_SETUP))
    binding = _choose(upper, highest, UPPER_BOUNDS)
    nothing_left = quoted(" leaves nothing to grind with")
    excluded = f'" excludes "&{_choose(lower, lowest, LOWER_BOUNDS)}'
    against = first_of((f"COUNT({lower})=0", nothing_left), (f"{lowest}>{highest}", excluded), otherwise=nothing_left)
    cells += [
        f"IF(ISNUMBER({product}),{found},{product})",
        _as_shown(here),
        f"IF(ISNUMBER({here}),{product}/{here},{here})",
        word(
            here,
            binding,
            (f"{here}={quoted(NO_SETUP)}", f"{binding}&{against}"),
            (f"{here}={quoted(NO_LIMIT)}", quoted("give a limit on Inputs")),
        ),
    ]
    return tuple(cells)


def _choose(area: str, value: str, names: tuple[str, ...]) -> str:
    words = ",".join(f'"{_words(name)}"' for name in names)
    return f"CHOOSE(MATCH({value},{area},0),{words})"


def _bounds(diameter: str, product: str) -> dict[str, str]:
    """The bounds as planning.infeed_bounds has them."""
    ratio = f"PI()*{diameter}*{product}/(60000*out_wheel_speed)"
    removal = f"60/(PI()*{diameter})"
    return {
        "highest_infeed_rate": "use_highest_infeed_rate",
        "lowest_infeed_rate": "use_lowest_infeed_rate",
        "highest_work_rpm": f"{product}/use_highest_work_rpm",
        "lowest_work_rpm": f"{product}/use_lowest_work_rpm",
        "highest_speed_ratio": f"use_highest_speed_ratio*{ratio}",
        "lowest_speed_ratio": f"use_lowest_speed_ratio*{ratio}",
        "highest_removal_rate": f"use_highest_removal_rate*{removal}",
        "highest_power": f"MAX(0,use_highest_power-use_idle_power)*1000*{removal}/(use_specific_energy*use_contact_width)",
    }
