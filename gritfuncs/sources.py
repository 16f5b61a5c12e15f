"""The bibliography: where each formula can be read, and whether the page was seen in print or recalled."""

from __future__ import annotations

from typing import NamedTuple


class Source(NamedTuple):
    reference: str
    seen: bool  # False: cited from memory, the page was not open when the formula was written

    def __str__(self) -> str:
        return self.reference + ("" if self.seen else " (from memory)")


SOURCES: dict[str, Source] = {
    "definition": Source("definition of the quantity", True),
    "kalpakjian": Source("Kalpakjian & Schmid, Manufacturing Engineering and Technology, Example 25.1", True),
    "kalpakjian-power": Source("Kalpakjian & Schmid, Manufacturing Engineering and Technology, Example 25.2", True),
    "groover": Source("Groover, Fundamentals of Modern Manufacturing, chapter on grinding", True),
    "malkin": Source("Malkin & Guo, Grinding Technology, 2nd edition", False),
    "marinescu": Source("Marinescu et al., Handbook of Machining with Grinding Wheels, geometric contact length", True),
    "iso-3002-5": Source("ISO 3002-5:1989, clause 10.1", True),
    "grit-packing": Source("Xu, Jahanmir, Malkin and others, papers on grinding of ceramics", False),
    "iso-6106": Source("ISO 6106:2013 designations (from memory), apertures of ASTM E11 (seen)", True),
    "jaeger": Source(
        "Jaeger 1942, moving band source, as given by González-Santander, Mathematical Problems in Engineering "
        "2016, article 8470493",
        True,
    ),
    "motor": Source("US DOE, Determining Electric Motor Load and Efficiency", True),
}
