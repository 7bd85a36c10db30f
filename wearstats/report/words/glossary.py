"""Words used on the pages and what they mean."""

from __future__ import annotations

from typing import Final

GLOSSARY: Final[dict[str, str]] = {
    "spline, flank": ("A spline is one of the teeth along the shaft; its flanks are the two sides that drive the hub."),
    "below new": (
        "How much narrower a spline is than when it was made, over both flanks together. Metal lost is positive."
    ),
    "station": "Where along the spline it was measured: at the shoulder, in the middle, or at the nut end.",
    "hollow": (
        "A spline that is narrower somewhere along its length than nearer to the nut end. A hub has to pass the "
        "wide place, so no hub, however tight, bears in the hollow."
    ),
    "undersize": "How much narrower the hub's spaces are made than those of the pattern's standard hub.",
    "clearance": (
        "The hub's space less the spline's width. Negative: the hub is narrower and has to be filed or forced."
    ),
    "gap left": "What is left between the flanks, over both sides, at a place once the hub stands home.",
    "stands home": "The hub is on as far as it goes: pulled or pressed up to the shaft's shoulder, it stands there.",
    "bear": "A place bears where the hub's flank and the spline's touch, so that it carries its part of the load.",
    "contact share": "The share of places where the flanks touch, or nearly so.",
    "sides that marked": (
        "Flanks of splines that took marking colour from the hub when it was tried on: they touched. Those that the "
        "widths say should touch are predicted to bear."
    ),
    "as supplied, owner fitted, workshop fitted": (
        "How a hub goes on: straight out of the box; filed to fit by the owner; filed to fit in the workshop."
    ),
    "between … and …, 95 % sure": (
        "Worked out this way again and again, such a range holds the true value in 95 cases of 100. Where a range "
        "is wide the data say little."
    ),
    "predicted": (
        "Worked out from what was known before, without looking at what then came; so the two can be laid side by side."
    ),
    "model": (
        "A formula fitted to the whole record. From the gap left and the months since fitting it gives the chance that "
        "a hub has worked loose."
    ),
    "curve": "The share of hubs still tight month by month, counted without any model.",
    "the limit, the risk limit": (
        "The chance of working loose that the workshop still accepts; 5 in 100 within 12 months unless it sets another."
    ),
    "hub-months": "Months in use, added up over all hubs: ten hubs in use for half a year make 60.",
    "special": "A hub made to measure for one shaft, because none of the sizes kept fits it.",
    "p": (
        "How often chance alone would make a difference as large as this: 0.5 is every second time, 0.001 once in a "
        "thousand. A small p says that it is hardly chance."
    ),
    "register": "The plain round part of the shaft beside the splines; it centres the hub, the splines only drive it.",
    "check piece": (
        "A piece of known size that the owner measures first, by the same hand and gauge: it shows how much they read "
        "too large or too small."
    ),
    "give or take": "One standard deviation: the true value is about twice as likely within it as outside.",
    "still tight": ("Not known to have worked loose. A hub taken off for another reason stops counting on that day."),
    "assumed": "These data cannot tell the number. It is taken from what is generally found, and said so.",
}
"""Word to meaning, in the order in which a reader meets them."""
