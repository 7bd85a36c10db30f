"""What all shafts together say, which the advice for one rests on: the width model, the pace of filing, the law.

It takes seconds to work out and is the same for every shaft until something is added to the store. So it is kept beside
the store, and whoever asks about the next shaft has it at once, to the last bit as though it had been worked out anew.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Self

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.loosening.predictor import LineTerm, LooseningLaw
from wearstats.analysis.remark import Remark
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.store.cache import find_kept, keep, kept_key
from wearstats.studies.inputs.sample_limits import most_sampled
from wearstats.studies.loosening.risk_model import RiskModel
from wearstats.studies.snapshot import Snapshot, part

_ARRAYS = ("variances", "free", "mean_covariance", "variance_covariance")
_NUMBERS = ("units", "readings", "criterion")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShaftBackground:
    """What the advice for every shaft rests on.

    Parameters
    ----------
    fit : WidthFit
        The width model of all shafts.
    minutes_per_um : float
        Minutes of filing by micrometre, summed over the places of a shaft.
    pace_assumed : bool
        Whether these are a guess.
    risk : RiskModel
        The law of working loose, or why there is none.
    """

    fit: WidthFit
    minutes_per_um: float
    pace_assumed: bool
    risk: RiskModel

    def to_kept(self) -> dict[str, Any]:
        """Give it as it is kept: numbers and words only, no name of a shaft or of anybody who measured."""
        return {
            "fit": {
                **{name: getattr(self.fit, name).tolist() for name in _ARRAYS},
                **{name: getattr(self.fit, name) for name in _NUMBERS},
                "components_um": {name: told.to_kept() for name, told in self.fit.components_um.items()},
                "means": self.fit.means.to_dict("list"),
            },
            "minutes_per_um": self.minutes_per_um,
            "pace_assumed": self.pace_assumed,
            "risk": {
                "law": None if self.risk.law is None else _law_to_kept(self.risk.law),
                "largest_um": self.risk.largest_um,
                "followed_months": self.risk.followed_months,
                "why_not": None if self.risk.why_not is None else self.risk.why_not.to_kept(),
            },
        }

    @classmethod
    def from_kept(cls, document: dict[str, Any]) -> Self:
        """Make it from what was kept; KeyError, TypeError or ValueError where that is something else.

        Predictions do not ask what single measurers do, so the model comes without them.
        """
        fit, risk = document["fit"], document["risk"]
        return cls(
            fit=WidthFit(
                variances=np.array(fit["variances"], dtype=float),
                free=np.array(fit["free"], dtype=bool),
                mean_covariance=np.array(fit["mean_covariance"], dtype=float),
                variance_covariance=np.array(fit["variance_covariance"], dtype=float),
                units=fit["units"],
                readings=fit["readings"],
                criterion=fit["criterion"],
                components_um={name: Estimate.from_kept(told) for name, told in fit["components_um"].items()},
                means=pd.DataFrame(fit["means"]),
                measurers=pd.DataFrame(columns=["measurer", "class", "inspections", "bias_um", "sd_um"]),
            ),
            minutes_per_um=document["minutes_per_um"],
            pace_assumed=document["pace_assumed"],
            risk=RiskModel(
                law=None if risk["law"] is None else _law_from_kept(risk["law"]),
                largest_um=risk["largest_um"],
                followed_months=risk["followed_months"],
                why_not=None if risk["why_not"] is None else Remark.from_kept(risk["why_not"]),
            ),
        )


@part("known_on", "models_from", "seed")
def shaft_background(snapshot: Snapshot) -> ShaftBackground:
    """Find what was kept, or else work it out and keep it; AnalysisError with no reading."""
    days = {"known_on": snapshot.known_on.isoformat(), "models_from": snapshot.models_from.isoformat()}
    key = kept_key(snapshot.store, what="background", seed=snapshot.seed, most_sampled=most_sampled(), **days)
    kept = find_kept(snapshot.store, key)
    if kept is not None:
        try:
            return ShaftBackground.from_kept(kept)
        except (KeyError, TypeError, ValueError):
            pass
    made = make_background(snapshot)
    if made.risk.law is None or isinstance(made.risk.law.term, LineTerm):
        keep(snapshot.store, key, made.to_kept())
    return made


def _law_to_kept(law: LooseningLaw) -> dict[str, Any]:
    arrays = ("covariate_means", "parameters", "covariance")
    return {
        "names": list(law.names),
        **{name: getattr(law, name).tolist() for name in arrays},
        "term": asdict(law.term),  # type: ignore[call-overload]
    }


def _law_from_kept(kept: dict[str, Any]) -> LooseningLaw:
    return LooseningLaw(
        names=tuple(kept["names"]),
        covariate_means=np.array(kept["covariate_means"], dtype=float),
        parameters=np.array(kept["parameters"]),
        covariance=np.array(kept["covariance"]),
        term=LineTerm(**kept["term"]),
    )


def make_background(snapshot: Snapshot) -> ShaftBackground:
    """Work it out; AnalysisError with no reading."""
    # only here are the rooms needed that work it out, and reading these takes a second
    from wearstats.studies.gaps.filing_pace import filing_pace
    from wearstats.studies.inputs.width_fit import width_fit
    from wearstats.studies.loosening.fit_from_store import risk_model

    fit, pace = width_fit(snapshot).fit, filing_pace(snapshot)
    return ShaftBackground(
        fit=fit, minutes_per_um=pace.minutes_per_um, pace_assumed=pace.assumed, risk=risk_model(snapshot)
    )
