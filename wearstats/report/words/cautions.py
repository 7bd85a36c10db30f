"""What to beware of, shown wherever advice is given.

They are translated by a person, never by a machine.
"""

from __future__ import annotations

from typing import Final

HEADING: Final = "Before anybody works on the engine"

CAUTIONS: Final[tuple[str, ...]] = (
    "A hub on an engine's shaft turns fast and stores energy. If it slips, cracks or comes off it can throw parts and "
    "injure people. What is said here are statistics of past fits; they approve no part, no fit and no engine.",
    "A competent person fits the hub or checks it, by the engine maker's manual and the local rules. These come first.",
    "Do not run it with any rattle, without its nut lock, with a crack, or while it is not known how it bears. "
    "Put the guards back on.",
    "Protect the eyes when filing, driving and pulling. A file needs a handle. Dust of hardened or plated metal is "
    "harmful: wipe it up wet, do not blow it about, let fresh air in.",
    "Use a puller or press of the right size, set it straight, cover the work, and let nobody stand in line with it. "
    "Do not hammer on it or heat it while it is under load.",
    "Heat or chill parts only if the manual allows it. A built-up crankshaft can be knocked or pulled out of line: "
    "support it and never hammer on it, and never pull a hub home with the engine's nut beyond the maker's torque. "
    "If the file skates, the case is hard: stop and ask.",
    "First make sure that the engine cannot start: ignition, starter and fuel off. A tight nut proves no fit: before "
    "starting, see that the hub stands against its shoulder and runs true; after the first hours stop, make safe and "
    "look again. Whoever is on a list of hubs at risk stops, and checks before the next start.",
    "Small numbers say little. Where no hub has failed yet, go by the upper bound, not by zero, and read nothing into "
    "gaps that are not on record.",
)

SHORT_CAUTIONS: Final[tuple[str, ...]] = (
    "First make sure that the engine cannot start.",
    "The maker's manual and the local rules come first; a competent person fits.",
    "Never run it with any rattle, or while it is not known how it bears.",
)
"""The three that stand under every advice."""


def caution_sentences() -> list[str]:
    """Give the heading and the cautions, one paragraph each, for a terminal."""
    return [f"{HEADING}:", *(f"  {number}. {text}" for number, text in enumerate(CAUTIONS, start=1))]
