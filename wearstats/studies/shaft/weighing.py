"""One shaft's hubs weighed: what would become of each, which the rule chooses, and what measuring again is worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.advice.measuring import saved_by_measuring
from wearstats.analysis.advice.options import HubOption, Risk, Weighed, candidates_of, weigh
from wearstats.analysis.advice.outcomes import FilingHand
from wearstats.analysis.advice.rule import Candidate, Decision, decide
from wearstats.analysis.estimate import Status
from wearstats.analysis.gaps.posterior import FitDraws
from wearstats.analysis.remark import Remark
from wearstats.analysis.widths.components import COMPONENTS
from wearstats.analysis.widths.fitted import WidthFit
from wearstats.domain.arrays import FloatArray
from wearstats.studies.loosening.risk_model import RiskModel
from wearstats.studies.shaft.costs import Costing


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weighing:
    """What was weighed.

    Parameters
    ----------
    maps_um : ndarray, shape (draws, splines, stations)
        Drawn true maps.
    weighed : list of Weighed
        Draw by draw.
    candidates : list of Candidate
        Summed up.
    decision : Decision
        What the rule chooses.
    """

    maps_um: FloatArray
    weighed: list[Weighed]
    candidates: list[Candidate]
    decision: Decision

    @property
    def width_um(self) -> FloatArray:
        """Mean width of each drawn map, shape (draws,)."""
        return np.asarray(self.maps_um.mean(axis=(1, 2)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scale:
    """What a shaft's hubs are weighed with.

    Parameters
    ----------
    model : RiskModel
        The chance of working loose.
    hand, costing, limits
        Who files, what things cost, what the shop demands.
    duty : str or None
        What the engine does.
    horizon_months, risk_limit : float
        The chance that is accepted within that time.
    hub_normal : ndarray, shape (draws,)
        Standard normal numbers for the hub to be sent.
    law_normal : ndarray, shape (draws, parameters)
        For the law: the same for all hubs, so that they differ by themselves alone.
    """

    model: RiskModel
    hand: FilingHand
    costing: Costing
    limits: AdviceLimits
    duty: str | None
    horizon_months: float
    risk_limit: float
    hub_normal: FloatArray
    law_normal: FloatArray

    def weigh(self, maps_um: FloatArray, options: Sequence[HubOption]) -> Weighing:
        """Weigh hubs on drawn maps, shape (draws, splines, stations), and choose."""
        weighed = weigh(
            maps_um,
            options,
            risk=self._risk(),
            hand=self.hand,
            limits=self.limits,
            prices=self.costing.prices,
            hub_normal=self.hub_normal,
        )
        return self.decided(maps_um, weighed, times=1.0)

    def decided(self, maps_um: FloatArray, weighed: list[Weighed], *, times: float) -> Weighing:
        """Choose, were a failure so many times as dear."""
        status: Status = "assumed" if self.costing.assumed else "ok"
        candidates = candidates_of(
            weighed,
            prices=self.costing.with_failure(times),
            limit=self.risk_limit,
            limits=self.limits,
            hand=self.hand,
            cost_status=status,
        )
        chosen = decide(candidates, limit=self.risk_limit, limits=self.limits)
        return Weighing(maps_um=maps_um, weighed=weighed, candidates=candidates, decision=chosen)

    def _risk(self) -> Risk:
        def risk(fit: FitDraws, method: str) -> tuple[FloatArray | None, Remark | None, bool]:
            months, normal = self.horizon_months, self.law_normal
            return self.model.draws(fit, method=method, duty=self.duty, months=months, normal=normal)

        return risk

    def saved_by_measuring(self, weighing: Weighing, fit: WidthFit) -> float:
        """Give what another inspection by an owner's hand is expected to save, less what it costs; may be negative."""
        variance = dict(zip(COMPONENTS, fit.variances, strict=True))
        places = weighing.maps_um[0].size
        error = np.sqrt(
            variance["measurer_home"] + variance["inspection_home"] + variance["repeatability_home"] / places
        )
        saved = saved_by_measuring(
            weighing.weighed,
            weighing.width_um,
            error_sd_um=max(float(error), 1.0),
            prices=self.costing.prices,
            limit=self.risk_limit,
            limits=self.limits,
        )
        return saved - self.costing.measure_again
