"""What is being worked out, in words for whoever waits: by the name of the part of a snapshot."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

STAGES: Final[Mapping[str, str]] = {
    "width_components": "learning how shafts differ and how people measure",
    "width_fit": "learning how shafts differ and how people measure",
    "study_wear": "looking at how worn the shafts are",
    "study_growth": "looking at how shafts wear with running hours",
    "study_gauging": "looking at how far the measurements can be trusted",
    "known_gaps": "working out the gaps that were left",
    "loosening_fit": "fitting the chance of working loose to the gaps",
    "reporting_fit": "learning how many failures are reported unasked",
    "study_loosening": "looking at how long hubs stay tight",
    "study_methods": "comparing the ways in which hubs go on",
    "shaft_background": "learning from all shafts",
    "study_shaft": "choosing hubs",
    "demand_of": "learning how many hubs are needed",
    "study_stock": "choosing sizes",
    "_of_pattern": "choosing sizes",
    "fittings_on_record": "counting what became of the hubs",
    "study_review": "reviewing the quarter",
    "study_calls": "looking for whom to call",
    "study_contact_seen": "comparing contact marks",
}
