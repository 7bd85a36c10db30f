"""Tell the chance of working loose against the gap left, how far to trust it, and what it hangs on."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Z95, Estimate
from wearstats.analysis.gaps.indicators import Indicator
from wearstats.analysis.loosening.estimates import (
    chance_estimate,
    gap_at_risk,
    ratio_between_gaps,
    shape_estimate,
    slope_estimate,
)
from wearstats.analysis.loosening.fit import LooseningFit, fit_loosening
from wearstats.analysis.loosening.mediation import SameGap, compare_at_gap
from wearstats.analysis.rates.e_value import e_value_of
from wearstats.analysis.remark import remark
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.frames import columns
from wearstats.studies.gaps.known_gaps import known_gaps
from wearstats.studies.inputs.histories import RISK_MONTHS, histories_of
from wearstats.studies.loosening.covariates import covariates_of
from wearstats.studies.loosening.fit_from_store import loosening_fit, reporting_fit, require_gaps
from wearstats.studies.loosening.moving_records import MovingRecords, moving_records
from wearstats.studies.loosening.remarks import LooseningStudyRemark
from wearstats.studies.loosening.risk_model import AS_SUPPLIED
from wearstats.studies.loosening.validation import GapChecked, GapTrust
from wearstats.studies.snapshot import EVERYTHING, Snapshot, part

GRID_UM = (0.0, 5.0, 10.0, 15.0, 20.0, 25.4, 30.0, 40.0, 50.0, 60.0)
SHOWN_UM = (0.0, 10.0, 20.0, 30.0, 40.0)
"""Gaps at which the answer gives the chance."""
NEAR_UM = 5.0
_CURVE_POINTS = 41


@dataclass(frozen=True, slots=True, kw_only=True)
class UnseenCause:
    """How strong a cause that is not on record would have to be to explain away what the gap does.

    Parameters
    ----------
    near_um, far_um : float
        Gaps that a quarter of the fittings do not reach, and a quarter exceeds.
    ratio : Estimate
        How many times as likely a hub works loose by the horizon at the latter.
    e_value : Estimate
        By how much a hard duty or a careless owner, say, would have to go with both the wider gap and working loose;
        low: to make it doubtful.
    """

    near_um: float
    far_um: float
    ratio: Estimate
    e_value: Estimate


def _unseen(fit: LooseningFit, gap_um: np.ndarray[Any, np.dtype[np.float64]], months: float) -> UnseenCause:
    near, far = (float(end) for end in np.quantile(gap_um, [0.25, 0.75]))
    ratio = ratio_between_gaps(fit, near, far, months=months)
    return UnseenCause(near_um=near, far_um=far, ratio=ratio, e_value=e_value_of(ratio))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapRisk:
    """The chance of working loose against the gap.

    Parameters
    ----------
    fittings, failures : int
        With a known gap.
    without_gap : int
        Fittings that ran, of which no reading was in hand; they are left out.
    as_read, corrected : Estimate
        Change of the log hazard per 10 um, the gap taken as read, and as known.
    shape, reported_unasked : Estimate
        Weibull shape, and chance of an unasked report.
    risk : DataFrame
        ``gap_left_um``, ``months``, ``value``, ``low``, ``high``, ``status``: averaged over the fittings on record.
    curve : DataFrame
        ``gap_left_um``, ``risk``, ``low``, ``high``, ``as_read`` by the horizon, as far as gaps are on record.
    rug : DataFrame
        ``fitting``, ``gap_left_um``, ``failed``, ``supplied`` (went on as supplied): every fitting.
    at_limit : Estimate
        Gap at the risk limit by the horizon.
    effects : dict of str to Estimate
        Log hazard ratios of what is held beside the gap.
    same_gap : SameGap or None
        Sent as supplied against by hand, at the same gap.
    indicators : tuple of Indicator
        Notes made at the fittings that were used.
    unseen : UnseenCause
        What it would take of a cause not on record to explain the gap's effect away.
    assumed_share : float
        Share of what is known of the slope that is the penalty's.
    fit : LooseningFit
        The law itself, for whoever predicts with it.
    records : MovingRecords or None
        What moves the slope most, and what is probably wrong.
    trust : GapTrust or None
        How far it can be trusted; given for the whole, not for single patterns.
    tried : GapChecked or None
        The part of it that the short answer says, where nothing else was asked for.
    """

    fittings: int
    failures: int
    without_gap: int
    as_read: Estimate
    corrected: Estimate
    shape: Estimate
    reported_unasked: Estimate
    risk: Annotated[pd.DataFrame, columns(text="status", number="gap_left_um months value low high")]
    curve: Annotated[pd.DataFrame, columns(number="gap_left_um risk low high as_read")]
    rug: Annotated[pd.DataFrame, columns(text="fitting", number="gap_left_um", flag="failed supplied")]
    at_limit: Estimate
    effects: Mapping[str, Estimate]
    same_gap: SameGap | None
    indicators: tuple[Indicator, ...]
    unseen: UnseenCause
    assumed_share: float
    fit: LooseningFit
    records: MovingRecords | None = None
    trust: GapTrust | None = field(default=None)
    tried: GapChecked | None = field(default=None)

    def risk_rows(self) -> list[dict[Hashable, Any]]:
        """Give the risks as the ``--json`` document has them."""
        ends = self.risk[["value", "low", "high"]].where(self.risk["status"].ne("beyond-data"))
        rows = self.risk[["gap_left_um", "months"]].join(ends).to_dict("records")
        how: dict[Hashable, Any] = {"level": 0.95, "method": remark(LooseningStudyRemark.OVER_RECORD)}
        return [{**row, **how, "status": status} for row, status in zip(rows, self.risk["status"], strict=True)]

    def hubs_near(self, gaps_um: tuple[float, ...] = SHOWN_UM) -> pd.DataFrame:
        """Give ``gap_left_um``, ``supplied``, ``filed``: hubs on record within 5 um of some gaps, by what was done.

        The last gap has all that lie beyond it too.
        """
        gaps = self.rug["gap_left_um"].to_numpy(dtype=float)
        near = np.searchsorted(np.array(gaps_um[1:]) - NEAR_UM, gaps, side="right")
        supplied = self.rug["supplied"].to_numpy(dtype=bool)
        counts = [np.bincount(near[chosen], minlength=len(gaps_um)) for chosen in (supplied, ~supplied)]
        return pd.DataFrame({"gap_left_um": gaps_um, "supplied": counts[0], "filed": counts[1]})

    @property
    def checked(self) -> GapChecked | None:
        """What the law predicted of shafts not seen, and what senders knew."""
        return self.trust or self.tried

    def to_dict(self) -> dict[str, Any]:
        """Give what the document holds beside the keys of the contract."""
        return {
            "fittings": self.fittings,
            "failures": self.failures,
            "without_gap": self.without_gap,
            "assumed_share": self.assumed_share,
            "effects": self.effects,
            "notes_used": [{"note": used.name, "notes": used.notes} for used in self.indicators],
            "curve": self.curve,
            "hubs_near_gap": self.hubs_near(),
            "same_gap": self.same_gap,
            "unseen_cause": self.unseen,
            "records": self.records,
            "trust": self.trust,
        }


@part(*EVERYTHING, kept=True)
def same_gap(snapshot: Snapshot, horizon_months: float) -> SameGap | None:
    """Compare hubs sent as supplied with others at the same gap; None where only one way is on record.

    Raises
    ------
    AnalysisError
        As of `loosening_fit`.
    """
    fit, gaps = loosening_fit(snapshot), known_gaps(snapshot)
    known, rows = require_gaps(histories_of(snapshot).by_flanks, gaps)
    covariates, names = covariates_of(known)
    if AS_SUPPLIED not in names:
        return None
    way = names.index(AS_SUPPLIED)
    return compare_at_gap(
        SilentHistories.from_frame(known), gaps.nodes["gap_left_um"].take(rows), fit,
        first_way=covariates[:, way] > 0, covariates=covariates, way=way, months=horizon_months,
    )  # fmt: skip


@part(*EVERYTHING, kept=True)
def gap_risk(snapshot: Snapshot, horizon_months: float, risk_limit: float) -> GapRisk:
    """Tell the chance against the gap, for the fittings of the pattern.

    Parameters
    ----------
    horizon_months, risk_limit : float
        How far ahead, and the chance by then that is still accepted.

    Returns
    -------
    GapRisk

    Raises
    ------
    AnalysisError
        When nothing ran, no fitting has a known gap, or none of those worked loose.
    """
    fit, ran, gaps = loosening_fit(snapshot), histories_of(snapshot).by_flanks, known_gaps(snapshot)
    known, rows = require_gaps(ran, gaps)
    histories = SilentHistories.from_frame(known)
    covariates, names = covariates_of(known)
    nodes = gaps.nodes["gap_left_um"].take(rows)
    read = fit_loosening(histories, gaps.as_read.take(rows), covariates=covariates, names=names)
    largest = float(np.quantile(nodes.mean_um, 0.99))
    grid = np.linspace(0.0, max(largest, 1.0), _CURVE_POINTS)
    value, low, high = fit.risks(grid, horizon_months)
    curve = pd.DataFrame(
        {"gap_left_um": grid, "risk": value, "low": low, "high": high, "as_read": read.risks(grid, horizon_months)[0]}
    )
    chance = chance_estimate(fit)
    return GapRisk(
        fittings=len(known),
        failures=fit.failures,
        without_gap=len(ran) - len(known),
        as_read=slope_estimate(read),
        corrected=slope_estimate(fit),
        shape=shape_estimate(fit),
        reported_unasked=reporting_fit(snapshot).reported_unasked if chance.value is None else chance,
        risk=_risk_frame(fit, horizon_months, largest),
        curve=curve,
        rug=pd.DataFrame(
            {
                "fitting": known["fitting"].to_numpy(dtype=object),
                "gap_left_um": nodes.mean_um,
                "failed": histories.failed,
                "supplied": known["method_done"].eq("as-supplied").to_numpy(dtype=bool),
            }
        ),
        at_limit=gap_at_risk(fit, months=horizon_months, limit=risk_limit, largest_um=largest),
        effects={name: _effect(fit, index) for index, name in enumerate(names)},
        same_gap=same_gap(snapshot, horizon_months),
        indicators=gaps.indicators,
        unseen=_unseen(fit, nodes.mean_um, horizon_months),
        assumed_share=fit.assumed_share(1),
        fit=fit,
        records=moving_records(snapshot),
    )


def _risk_frame(fit: LooseningFit, horizon_months: float, largest_um: float) -> pd.DataFrame:
    grid = np.array(GRID_UM)
    parts = []
    for months in sorted({*RISK_MONTHS, horizon_months}):
        value, low, high = fit.risks(grid, months)
        followed = months <= max(float(fit.data.last_word.max()), float(np.max(fit.data.right, initial=0.0)))
        status = np.where((grid <= largest_um) & followed, "ok", "beyond-data")
        parts.append(
            pd.DataFrame(
                {"gap_left_um": grid, "months": months, "value": value, "low": low, "high": high, "status": status}
            )
        )
    return pd.concat(parts, ignore_index=True)


def _effect(fit: LooseningFit, index: int) -> Estimate:
    at = 1 + fit.data.slopes + index
    value, error = float(fit.parameters[at]), float(np.sqrt(fit.covariance[at, at]))
    return Estimate(
        value=value,
        low=value - Z95 * error,
        high=value + Z95 * error,
        method=remark(LooseningStudyRemark.EFFECT),
    )
