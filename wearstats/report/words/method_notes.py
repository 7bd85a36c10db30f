"""How the numbers were made and what they assume, for whoever wants to check them."""

from __future__ import annotations

from typing import Final

METHOD_NOTES: Final[tuple[str, ...]] = (
    "Widths. A reading is taken as the new width, a station's mean, the shaft, the spline in it, the shaft's own "
    "hollow or taper, the place, the bias of this measurer with this gauge, the bias of this occasion, and "
    "repeatability (home and workshop apart), rounded. Spreads are estimated by restricted maximum likelihood; "
    "each shaft's map is the best linear prediction, with a standard deviation that includes the measurer's bias.",
    "The measurer's bias shows only where different people measured one shaft, or a pin of known size was "
    "measured too. Elsewhere it is assumed, and marked as assumed.",
    "Gap left. A hub passes every place between the nut end and where it comes to rest: the widest place on the "
    "way decides what must come off it, and what came off is missing at every narrower place behind. The gap "
    "speaks of the flanks' mean, not of play, which the tightest spline governs.",
    "Still tight. A hub is only seen now and then, so it worked loose somewhere between two looks; many still "
    "run; some are known from a later day only. The curves allow for that. Owners report failures unasked and "
    "stay silent about hubs that hold, so a curve from reports alone would look too black.",
    "Risk against the gap. The times follow a Weibull model whose rate goes with the gap. The gap itself is known only "
    "to a distribution, that of the width map given the readings in hand on the day of choice and the hub's own "
    "gauging; the likelihood averages over it, jointly for the hubs of one shaft. Method sent and duty are held. Weak "
    "penalties keep slope, shape and effects moderate where failures are few, and how much of the slope they make up "
    "is printed. Play, filing minutes, marks and whether the hub slid on weigh the gaps where they were noted. A hub "
    "without news counts as tight or as failed unreported, by the chance that a failure is reported unasked.",
    "Choice. If hubs were chosen on more than the readings on record, the readings alone say too little of their gaps. "
    "How much more was known is learnt on shafts measured again before the hub ran and not because of trouble; by that "
    "the size sent tells of the width of hubs on record, never of one still to be chosen. A cause of failures that is "
    "not on record, as a careless owner, cannot be found that way: the E-value (VanderWeele and Ding, Ann. Intern. "
    "Med. 167 (2017) 268) says how strong it would have to be.",
    "Methods are compared by what was sent, and beside it by what was done: a hub that would not go on as "
    "supplied and was then filed counts with what was sent first. Shafts were not allotted to methods by lot, so "
    "a difference may belong to the shafts.",
    "As known then. Only what had happened and had been recorded by the day named on top counts.",
)
"""One paragraph each."""
