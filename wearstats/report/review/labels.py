"""Words of the quarterly review: groups, causes and reasons as an owner of a workshop says them."""

from __future__ import annotations

from wearstats.report.review.returns_sentences import REASON_WORDS
from wearstats.report.words.phrases import undersize

CAUSE_WORDS = {
    "flanks": "flanks",
    "nut-slack": "slack nut",
    "register": "register",
    "hub-cracked": "cracked hub",
    "shaft-broken": "broken shaft",
    "overload": "overload",
    "other": "other causes",
    "unknown": "causes not known",
}
WHAT_WORDS = {
    "loose": ("failure", "failures"),
    "came-off": ("came off", "came off"),
    "came-back": ("came back", "came back"),
}
"""What is counted in a group, of one and of several."""
_BY_WORDS = {
    "pattern": "pattern",
    "method_sent": "hubs sent",
    "region": "region",
    "duty": "duty",
    "batch": "batch",
    "cause": "cause:",
    "reason": "came back:",
}


def group_words(by: str, group: str) -> str:
    """Name a group: ``region carr``, ``undersize 0.02 mm (0.0008 in)``, ``came back: slack when tried on``."""
    if by == "undersize_um":
        return f"undersize {undersize(float(group))}"
    word = {"cause": CAUSE_WORDS, "reason": REASON_WORDS}.get(by, {}).get(group, group)
    return f"{_BY_WORDS[by]} {word}"
