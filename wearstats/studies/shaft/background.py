"""What all shafts together say, which the advice for one rests on: the width model, the pace of filing, the law.

It takes seconds to work out and is the same for every shaft until something is added to the store. So it is kept beside
the store, and whoever asks about the next shaft has it at once, to the last bit as though it had been worked out anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from wearstats.analysis.advice.outcomes import FilingHand
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.errors import AnalysisError
from wearstats.studies.loosening.risk_model import RiskModel
from wearstats.studies.snapshot import Snapshot, part


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShaftBackground:
    """What the advice for every shaft rests on.

    Parameters
    ----------
    fit : WidthFit
        The width model of all shafts, without its measurers, of whom a large fleet has very many.
    hand : FilingHand
        How long filing takes.
    risk : RiskModel
        The law of working loose, or why there is none.
    at_risk : mapping of str to (float, float)
        Chance to be loose already, and to be it within a quarter, of the hub in use on a shaft, by its name: the
        same numbers as the review's and the call list's.
    """

    fit: WidthFit
    hand: FilingHand
    risk: RiskModel
    at_risk: Mapping[str, tuple[float, float]]


@part("known_on", "models_from", "seed", kept=True)
def shaft_background(snapshot: Snapshot) -> ShaftBackground:
    """Work it out; AnalysisError with no reading."""
    # only here are the rooms needed that work it out, and reading these takes a second
    from wearstats.studies.gaps.filing_hand import filing_hand
    from wearstats.studies.inputs.width_fit import width_fit
    from wearstats.studies.loosening.fit_from_store import risk_model

    fit = width_fit(snapshot).fit
    return ShaftBackground(
        # predictions do not ask what single measurers do
        fit=replace(fit, measurers=fit.measurers.iloc[:0]),
        hand=filing_hand(snapshot),
        risk=risk_model(snapshot),
        at_risk=_at_risk(snapshot.of(None)),
    )


def _at_risk(snapshot: Snapshot) -> dict[str, tuple[float, float]]:
    """Give the chances of the hubs in use; none where nothing is predicted of single hubs."""
    from wearstats.studies.forecast.study import study_forecast

    try:
        running = study_forecast(snapshot, past=False).running
    except AnalysisError:
        return {}
    running = running[running["risk_quarter"].notna()]
    return {
        str(shaft): (float(now), float(soon))
        for shaft, now, soon in zip(running["shaft"], running["loose_now"], running["risk_quarter"], strict=True)
    }
