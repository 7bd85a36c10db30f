"""A remark becomes words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from wearstats.analysis.remark import Quoted, Remark
from wearstats.report.remarks.advice import ADVICE
from wearstats.report.remarks.gauging import GAUGING
from wearstats.report.remarks.hubs import HUBS, REGISTER
from wearstats.report.remarks.loosening import LOOSENING
from wearstats.report.remarks.methods import METHODS
from wearstats.report.remarks.rates import RATES
from wearstats.report.remarks.review import REVIEW
from wearstats.report.remarks.stock import LIMITS, MAKING, STOCK
from wearstats.report.remarks.wear import WEAR
from wearstats.report.words.phrases import filled

SENTENCES: Final[Mapping[str, str | Callable[..., str]]] = {
    Quoted.REFUSAL: "{message}",
    **ADVICE,
    **LIMITS,
    **MAKING,
    **GAUGING,
    **METHODS,
    **STOCK,
    **HUBS,
    **LOOSENING,
    **RATES,
    **REGISTER,
    **REVIEW,
    **WEAR,
}
"""By code: a template with the facts' names in braces, or a function of the facts where a template does not do."""


def say(remark: Remark | str | None) -> str:
    """Put a remark into words; nothing where there is none.

    Parameters
    ----------
    remark : Remark or None
        Facts that are remarks themselves become words first.
    """
    if not isinstance(remark, Remark):
        return remark or ""
    sentence = SENTENCES[remark.code]
    facts = {name: say(fact) if isinstance(fact, Remark) else fact for name, fact in remark.facts.items()}
    return sentence(**facts) if callable(sentence) else filled(sentence, facts)
