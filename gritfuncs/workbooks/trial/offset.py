"""The sheet calc load of trial.xlsx: a load that does not go with the removal rate, and the knee with it in mind.

Only where infeed rates change from row to row; else the readings go on as they are.
"""

from __future__ import annotations

from collections.abc import Mapping

from ...knee import NOT_RESOLVED
from ...knee.find import PAIRS
from ...sheets.book import Book
from ...sheets.conditions import first_of, quoted
from ...sheets.page import Page
from ..blocks.knee import KneeBlock
from ..blocks.lay_out import Places
from ..blocks.offset import offset_block, offset_places
from .tables import CALCULATION, LOAD, ROWS

SEEN = "A load that does not go with the removal rate, such as idle taken off wrongly, could have made the knee."
_WITHDRAWN = ("knee", "level", "slope")
_TOP = 17  # rows of results above the block


def offset_page(book: Book) -> tuple[Page, Places]:
    """The sheet, still empty, and where its block will stand."""
    page = book.page(LOAD, "A load that does not go with removal, such as idle that is off", (44, 16, 24) + (12,) * 60)
    return page, offset_places(ROWS, page.sheet.title, f"A{page.row + _TOP}")


def energies(at: Places) -> str:
    """The column of the readings without that load."""
    return at.column("taken")


def with_offset(page: Page, at: Places, plain: KneeBlock, found: Mapping[str, str]) -> dict[str, str]:
    """Write the sheet; gives the results of the knee that was found, with the load in mind.

    plain is the block of the knee on the energies without the load, before drift is judged.
    """
    place, number = plain.at.column("place"), plain.at.column("place_no")
    cells, results = offset_block(
        at,
        CALCULATION.area("depth"),
        CALCULATION.area("energy"),
        CALCULATION.area("rate"),
        {name: found[name] for name in ("verdict", "knee", "level", "scatter_low", "scatter_high", "noise_floor", "span")},
        f"INDEX({place},MATCH(2,{number},0))",
    )
    for address, content in cells.items():
        page.put(address, content)
    page.sheet.print_area = f"A1:C{at.head - 2}"
    page.row_columns = 4
    page.rows_head()
    fits_it = f"{results['fits_offset']}=1"
    made, fits = f"{results['offset_made_it']}=1", f"{results['is_found']}=1"
    replaced = {
        "verdict": first_of((made, quoted(NOT_RESOLVED)), otherwise=found["verdict"]),
        "reason": first_of((made, quoted(SEEN)), otherwise=found["reason"]),
        "advice": first_of((made, quoted(PAIRS)), otherwise=found["advice"]),
        **{name: first_of((made, "NA()"), otherwise=found[name]) for name in _WITHDRAWN},
        **{
            name: first_of((made, "NA()"), (fits, f"{function}({found[name]},{results[name]})"), otherwise=found[name])
            for name, function in (("low", "MIN"), ("high", "MAX"))
        },
        **{
            f"scatter_{name}": first_of((f"IF({made},FALSE,{fits})", results[name]), otherwise=found[f"scatter_{name}"])
            for name in ("low", "high")
        },
    }
    for name, formula in replaced.items():
        is_word = name in ("verdict", "reason", "advice")
        page.result(f"load_{name}", formula, label=f"{name}, with this in mind", digits=None if is_word else 4, kind="step")
    for name, label in (("offset", "load that does not go with removal"), ("offset_error", "its standard error, ±")):
        source = results["offset_at_setup"] if name == "offset" else results[name]
        page.result(f"load_{name}", f"IF({fits_it},{source},NA())", label=label, unit="=out_energy_unit", digits=2, kind="step")
    own = {name: results[name] for name in ("tells_offset", "fits_offset", "offset_made_it", "offset_at_setup", "offset_error")}
    return {**found, **own, **{name: f"out_load_{name}" for name in replaced}}
