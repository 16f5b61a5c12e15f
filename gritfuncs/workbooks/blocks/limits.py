"""The limits of the machine, for any workbook: their inputs, the words of those that are broken, and their checks.

Limits, quantities and words are those of planning.LIMIT_WORDS; a limit is the input in_<limit>, blank where there is none.
"""

from __future__ import annotations

from typing import Any

from ...planning import LIMIT_WORDS, ROUNDING
from ...quantities import QUANTITIES
from ...sheets.book import Book
from ...sheets.conditions import are_numbers, quoted
from ...sheets.page import Page

_LABELS = {
    "highest_work_rpm": "highest work rpm",
    "lowest_work_rpm": "lowest work rpm",
    "highest_infeed_rate": "highest infeed rate on the radius",
    "lowest_infeed_rate": "lowest infeed rate on the radius",
    "highest_speed_ratio": "highest speed ratio",
    "lowest_speed_ratio": "lowest speed ratio",
    "highest_removal_rate": "highest specific removal rate",
    "highest_power": "highest power, idle included",
}


def limit_inputs(page: Page, values: dict[str, Any]) -> None:
    """The section of Inputs with all limits."""
    page.heading("Limits of the machine (blank: no limit)")
    page.rows_head(True)
    for limit, quantity, _ in LIMIT_WORDS:
        page.input(
            limit, values.get(limit), optional=True, quantity=QUANTITIES[quantity], label=_LABELS[limit], text="Of your machine."
        )


def above(value: str, edge: str) -> str:
    """A condition that holds above the edge, by more than the last digits of computing: engines do not agree on those."""
    return f"{value}>{edge}*(1+{ROUNDING:G})"


def below(value: str, edge: str) -> str:
    """A condition that holds below the edge, by more than the last digits of computing."""
    return f"{value}<{edge}*(1-{ROUNDING:G})"


def beyond(limit: str, *values: str) -> str:
    """A condition that holds where the limit is given and one of the values passes it."""
    cell, judge, extreme = (f"use_{limit}",) + ((above, "MAX") if limit.startswith("highest") else (below, "MIN"))
    value = values[0] if len(values) == 1 else f"{extreme}({','.join(values)})"
    return f"IF(ISNUMBER({cell}),{judge(value, cell)},FALSE)"


def limit_cases(**values: str | tuple[str, ...]) -> list[tuple[str, str]]:
    """The cases (condition, word) of broken limits, for first_of; values are cells by quantity, several where it changes."""
    return [
        (beyond(limit, *([values[quantity]] if isinstance(values[quantity], str) else values[quantity])), quoted(word))
        for limit, quantity, word in LIMIT_WORDS
        if quantity in values
    ]


def order_checks(book: Book, *quantities: str) -> None:
    """No lowest value of a quantity may stand above the highest."""
    for quantity in quantities:
        low, high = f"in_lowest_{quantity}", f"in_highest_{quantity}"
        book.stop_unless(
            f"{_LABELS[low[3:]]} is not above the highest",
            f"IF({are_numbers(low, high)},{low}<={high},TRUE)",
            f"{low} must be <= {high}",
        )


def power_limit_check(book: Book) -> None:
    """Where power has a limit, what it is computed from must be given."""
    book.stop_unless(
        "power can be compared with its limit",
        f"IF(ISNUMBER(in_highest_power),{are_numbers('in_specific_energy', 'in_contact_width', 'in_idle_power')},TRUE)",
        "in_highest_power needs in_specific_energy, in_contact_width and in_idle_power",
    )
