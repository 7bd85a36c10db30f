"""What all shafts together say, which the advice for one rests on: the width model, the pace of filing, the law.

It takes seconds to work out and is the same for every shaft until something is added to the store. So it is kept beside
the store, and whoever asks about the next shaft has it at once, to the last bit as though it had been worked out anew.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Self

import numpy as np
import pandas as pd

from wearstats.analysis.advice.outcomes import FilingHand
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.loosening.predictor import LineTerm, LooseningLaw
from wearstats.analysis.remark import Remark
from wearstats.analysis.widths.fitted import WeighedSpreads, WidthFit
from wearstats.errors import AnalysisError
from wearstats.store.cache import find_kept, keep, kept_key
from wearstats.studies.inputs.sample_limits import most_sampled
from wearstats.studies.loosening.risk_model import RiskModel
from wearstats.studies.snapshot import Snapshot, part

_ARRAYS = ("variances", "free", "mean_covariance", "variance_covariance")
_WEIGHED = ("weights", "variances", "means_um", "mean_covariances", "prior_share")
_NUMBERS = ("units", "readings", "criterion")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShaftBackground:
    """What the advice for every shaft rests on.

    Parameters
    ----------
    fit : WidthFit
        The width model of all shafts.
    hand : FilingHand
        How long filing takes.
    risk : RiskModel
        The law of working loose, or why there is none.
    at_risk : mapping of str to (float, float)
        Chance to be loose already, and to be it within a quarter, of the hub in use on a shaft, by `shaft_digest`: the
        same numbers as the review's and the call list's.
    """

    fit: WidthFit
    hand: FilingHand
    risk: RiskModel
    at_risk: Mapping[str, tuple[float, float]]

    def to_kept(self) -> dict[str, Any]:
        """Give it as it is kept: numbers and words only, no name of a shaft or of anybody who measured."""
        return {
            "fit": {
                **{name: getattr(self.fit, name).tolist() for name in _ARRAYS},
                **{name: getattr(self.fit, name) for name in _NUMBERS},
                "components_um": {name: told.to_kept() for name, told in self.fit.components_um.items()},
                "means": self.fit.means.to_dict("list"),
                "weighed": None
                if self.fit.weighed is None
                else {name: getattr(self.fit.weighed, name).tolist() for name in _WEIGHED},
            },
            "pace": self.hand.pace,
            "pace_assumed": self.hand.pace_assumed,
            "at_risk": {name: list(chances) for name, chances in self.at_risk.items()},
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
                weighed=None
                if fit["weighed"] is None
                else WeighedSpreads(**{name: np.array(fit["weighed"][name], dtype=float) for name in _WEIGHED}),
                measurers=pd.DataFrame(columns=["measurer", "class", "inspections", "bias_um", "sd_um"]),
            ),
            hand=FilingHand(pace=document["pace"], pace_assumed=document["pace_assumed"]),
            at_risk={name: (float(now), float(soon)) for name, (now, soon) in document["at_risk"].items()},
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
    from wearstats.studies.gaps.filing_hand import filing_hand
    from wearstats.studies.inputs.width_fit import width_fit
    from wearstats.studies.loosening.fit_from_store import risk_model

    return ShaftBackground(
        fit=width_fit(snapshot).fit,
        hand=filing_hand(snapshot),
        risk=risk_model(snapshot),
        at_risk=_at_risk(snapshot.of(None)),
    )


def shaft_digest(shaft: str) -> str:
    """Name a shaft in what is kept, which holds no names."""
    return hashlib.sha256(shaft.encode()).hexdigest()[:16]


def _at_risk(snapshot: Snapshot) -> dict[str, tuple[float, float]]:
    """Give the chances of the hubs in use; none where nothing is predicted of single hubs."""
    from wearstats.studies.forecast.study import study_forecast

    try:
        running = study_forecast(snapshot, past=False).running
    except AnalysisError:
        return {}
    running = running[running["risk_quarter"].notna()]
    return {
        shaft_digest(str(shaft)): (float(now), float(soon))
        for shaft, now, soon in zip(running["shaft"], running["loose_now"], running["risk_quarter"], strict=True)
    }
