"""The sheet Wheel wear of speed_table.xlsx: the work rpm that holds the depth as the wheel gets smaller."""

from __future__ import annotations

from typing import Any

from ...planning import LIMIT_WORDS
from ...quantities import QUANTITIES
from ..blocks.wheel import formula
from ..book import OK, Book, Page

STEPS = 11
_WHEEL_RPM_TOO_HIGH = "wheel rpm too high"


def inputs(page: Page, values: dict[str, Any]) -> None:
    page.heading("Wheel wear table")
    page.rows_head(True)
    page.input(
        "smallest_wheel_diameter",
        values["smallest_wheel_diameter"],
        optional=True,
        quantity=QUANTITIES["wheel_diameter"],
        label="smallest wheel diameter, worn out",
        text="The table goes from the wheel above down to this.",
    )
    page.input(
        "reference_diameter",
        values["reference_diameter"],
        optional=True,
        quantity=QUANTITIES["work_diameter"],
        label="part diameter of the table",
        text="The part that the table is for.",
    )
    page.input(
        "reference_infeed_rate",
        values["reference_infeed_rate"],
        optional=True,
        quantity=QUANTITIES["infeed_rate"],
        label="infeed rate of the table, on the radius",
        text="On the radius, whatever the machine shows.",
    )
    page.input(
        "highest_wheel_rpm",
        values.get("highest_wheel_rpm"),
        optional=True,
        quantity=QUANTITIES["wheel_rpm"],
        label="highest wheel rpm of spindle and wheel",
        text="A smaller wheel at constant wheel speed turns faster. Blank: no limit.",
    )


def add(book: Book) -> None:
    page = book.page("Wheel wear", "Wheel wear: what holds the target depth as the wheel gets smaller", (16,) * 8)
    page.note(
        "For the part diameter and infeed rate named on Inputs. At constant wheel rpm the wheel speed falls with the diameter; at "
        "constant wheel speed the wheel rpm rises.",
        2,
    )
    page.cells(
        (
            "",
            "",
            "",
            "",
            "",
            "",
            "table can be computed (1 yes)",
            "=IF(out_ready=1,IF(ISNUMBER(use_smallest_wheel_diameter)*ISNUMBER(use_reference_diameter)*ISNUMBER(use_reference_infeed_rate)=1,"
            "IF(use_smallest_wheel_diameter<=use_wheel_diameter,1,0),0),0)",
        ),
        formats=(None,) * 7 + ("0",),
    )
    book.name("out_wear_known", page.sheet, f"H{page.row - 1}")
    page.sheet.cell(page.row, 3, "at constant wheel rpm")
    page.sheet.cell(page.row, 6, "at constant wheel speed")
    page.row += 1
    page.table_head(
        (
            "no.",
            "wheel diameter, mm",
            "wheel speed, m/s",
            "work rpm, 1/min",
            "is it within the limits",
            "wheel rpm, 1/min",
            "work rpm, 1/min",
            "is it within the limits",
        ),
        lines=2,
    )
    first = page.row
    for number in range(STEPS):
        row = page.row
        diameter = f"use_wheel_diameter-(use_wheel_diameter-use_smallest_wheel_diameter)*{number}/{STEPS - 1}"
        speed = f"C{row}"
        wheel_rpm = formula("wheel_rpm", wheel_diameter=f"B{row}", wheel_speed="out_wheel_speed")
        page.cells(
            (
                number + 1,
                f"=IF(out_wear_known=1,{diameter},NA())",
                f"=out_wheel_speed*B{row}/use_wheel_diameter",
                f"={_rpm(row, speed)}",
                f"={_word(f'D{row}')}",
                f"={wheel_rpm}",
                f"={_rpm(row, 'out_wheel_speed')}",
                f"={_word(f'G{row}', f'F{row}')}",
            ),
            formats=("0", "0.00", "0.00", "0.0", "@", "0", "0.0", "@"),
        )
    for name, letter in (
        ("diameters", "B"),
        ("wheel_speed", "C"),
        ("rpm_at_wheel_rpm", "D"),
        ("word_at_wheel_rpm", "E"),
        ("wheel_rpm", "F"),
        ("rpm_at_wheel_speed", "G"),
        ("word_at_wheel_speed", "H"),
    ):
        book.name(f"out_wear_{name}", page.sheet, f"{letter}{first}:{letter}{page.row - 1}")
    book.look_if(
        "the wheel wear table lacks an input, or its worn wheel is larger than the wheel",
        "out_wear_known=0",
        "in_smallest_wheel_diameter must be <= in_wheel_diameter; in_reference_diameter and in_reference_infeed_rate must be given",
    )
    book.look_if(
        "a worn wheel leaves the limits",
        f'COUNTIF(out_wear_word_at_wheel_rpm,"{OK}")+COUNTIF(out_wear_word_at_wheel_speed,"{OK}")<{2 * STEPS}*out_wear_known',
        "the sheet Wheel wear says where",
    )


def _rpm(row: int, wheel_speed: str) -> str:
    rpm = formula(
        "work_rpm_for",
        grit_depth="out_target_depth",
        work_diameter="use_reference_diameter",
        infeed_rate="use_reference_infeed_rate",
        wheel_speed=wheel_speed,
        wheel_diameter=f"B{row}",
        side="out_side",
        grit_density="out_grit_density",
        shape_ratio="in_shape_ratio",
    )
    return f'IF(use_reference_diameter+out_side*B{row}>0,{rpm},"-")'


def _word(rpm: str, wheel_rpm: str = "") -> str:
    words = f'"{OK}"'
    for limit, quantity, word in reversed(LIMIT_WORDS):
        if quantity == "work_rpm":
            sign = ">" if limit.startswith("highest") else "<"
            words = f'IF(ISNUMBER(use_{limit})*({rpm}{sign}use_{limit})>0,"{word}",{words})'
    if wheel_rpm:
        words = f'IF(ISNUMBER(use_highest_wheel_rpm)*({wheel_rpm}>use_highest_wheel_rpm)>0,"{_WHEEL_RPM_TOO_HIGH}",{words})'
    return f'IF(ISERROR({rpm}),"see Checks",IF({rpm}="-","wheel too large",{words}))'
