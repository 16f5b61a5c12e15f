"""What cells take, and what stands beside them while they are typed in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from openpyxl.worksheet.datavalidation import DataValidation

from ..quantity import Quantity


def add_rule(sheet, cells: str, title: str, prompt: str, **rule: Any) -> None:
    """Give cells, such as B2:B20, a message and, where there is one, a rule, as openpyxl names its parts."""
    said = dict(showInputMessage=True, promptTitle=title[:32], prompt=prompt[:255])
    validation = DataValidation(**said, **{"allow_blank": True, "showErrorMessage": bool(rule), "errorTitle": title[:32], **rule})
    sheet.add_data_validation(validation)
    validation.add(cells)


def number_rule(quantity: Quantity, must: str) -> dict[str, Any]:
    """The rule of a cell that takes numbers within the limits only."""
    low, high = quantity.low, quantity.high
    if high is not None:
        limits = dict(operator="between", formula1=f"{low:g}", formula2=f"{high:g}")
    else:
        limits = dict(operator="greaterThan" if quantity.low_open else "greaterThanOrEqual", formula1=f"{low:g}")
    return dict(type="decimal", error=must[:255], **limits)


def listed(words: Sequence[str]) -> str:
    """Words to choose from, as the rule of a list holds them."""
    return '"' + ",".join(words) + '"'
