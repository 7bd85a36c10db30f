"""Words of the trade that name one thing in several ways, or several things in one."""

from __future__ import annotations

import re

from wearstats.domain.tables import GAUGE_KINDS
from wearstats.domain.typed import TypedValueError, quoted

MICROMETERS = {
    "micrometer-flat": "flat anvils, the common one",
    "micrometer-blade": "narrow blades that reach between the splines",
    "micrometer-ball": "a ball on the anvil",
}
"""The kinds of micrometer, and what tells them apart (common practice)."""

_ANY_MICROMETER = re.compile(r"(outside[ -])?(mic|micro|microm[ei]t(er|re)|mike)s?")
_SAID = re.compile(
    r"(?P<flat>flat)|(?P<blade>blade|knife)|(?P<ball>ball|spherical)|(?P<caliper>caliper|calliper|vernier)|(?P<plug>plug)"
)


def gauge_kind(text: str) -> str | None:
    """Find the kind of gauge that some words name, as ``flat anvil micrometer``; None where they name none.

    Raises
    ------
    TypedValueError
        For a micrometer without what kind it is.
    """
    name = " ".join(text.lower().replace("-", " ").replace("_", " ").split())
    if name.replace(" ", "-") in GAUGE_KINDS:
        return name.replace(" ", "-")
    if _ANY_MICROMETER.fullmatch(name):
        raise which_micrometer(text)
    found = {str(match.lastgroup) for match in _SAID.finditer(name)}
    if len(found) != 1:
        return None
    (kind,) = found
    micrometer = kind in ("flat", "blade", "ball")
    if micrometer and not any(_ANY_MICROMETER.fullmatch(word) for word in name.split()):
        return None
    return f"micrometer-{kind}" if micrometer else kind


def which_micrometer(text: str) -> TypedValueError:
    """Ask what kind of micrometer it was."""
    kinds = [f"{kind} ({how})" for kind, how in MICROMETERS.items()]
    return TypedValueError(
        f"{quoted(text)} does not say which kind",
        allowed=", ".join(kinds[:-1]) + f" or {kinds[-1]}",
        next_step="write which of the three it was: micrometer-flat, if nothing about it is special",
    )
