"""Sentences that stand in several workbooks and documents, each written once."""

from __future__ import annotations

CAUTIONS = (
    "Never run a wheel faster than the speed marked on it, on any diameter. Nothing here knows your wheel or machine.",
    "Guards closed. Inspect and ring-test wheels that can be ring-tested before mounting; follow the wheel maker's way for "
    "the others. Let a newly mounted wheel run at speed, guarded, with nobody in line with it.",
    "Dust of carbide and cobalt and coolant mist harm the lungs: use extraction, keep the coolant clean, do not blow dust off.",
    "Stop stepping to slower work speed when power climbs, the work discolours or cracks; stop stepping to faster when grits "
    "are torn out of the wheel.",
    "Results are an aid for qualified people. Local rules and the instructions of wheel and machine makers come first.",
)
CAUTION_LINES = (f"{CAUTIONS[0]} {CAUTIONS[4]}", *CAUTIONS[1:4])  # the same, for the head of a wide sheet
_MARKED = "Never run a wheel above the speed marked on it."
FOOTER_CAUTION = f"{_MARKED} Guards closed. Extraction on."  # of each printed page
CAUTION = f"{_MARKED} Guards closed, extraction on; local rules and the makers' instructions come first."  # in one line
IDLE = "At speed, coolant on, wheel off the work."
INCHES = (
    "Inches: the choice of units on Inputs says how everything is typed; it does not convert what stands in the cells, and a value "
    "that is unusual in the units chosen is named beside it. Sheets show their results in the units chosen; sheets named calc, and "
    "the names out_... that scripts read, stay in mm, m/s, m/min and kW."
)
PREFACTOR = (
    "Grit depth is the maximum undeformed chip thickness h = √(4/(C r) · v_w/v_s · √(a_e/d_e)) with the prefactor 4 "
    "(Kalpakjian & Schmid, Manufacturing Engineering and Technology, Example 25.1). Books also print 6 (triangular chips) and 1 "
    "(mean thickness) in its place: their depths are 1.22 and 0.5 times ours. Depths compare only under the same prefactor."
)
PRODUCT = (
    "Only the product C r enters. An error in it scales every depth of this wheel alike, and the rpm that holds the knee "
    "does not change"
)
DENSITY = (
    f"{PRODUCT}: a shop that does not know C can keep the values that stand here and use everything. A depth carries over to "
    "another wheel only as far as C r of both is known."
)
DIAMETER_SHOWS_TWICE = "Infeed rates count on the radius. Machines that show infeed on the diameter show twice as much"
RADIUS = f"{DIAMETER_SHOWS_TWICE}: choose diameter beside the value and it is halved."
