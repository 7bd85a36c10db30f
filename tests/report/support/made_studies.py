"""Small hand-made answers, as the studies give them to sentences and tables."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pandas as pd

from tests.report.support import small_frames
from wearstats.analysis.advice.remarks import Finding, First, Reason, Refusal
from wearstats.analysis.advice.rule import Candidate, Decision
from wearstats.analysis.estimate import Estimate, assumed, no_estimate
from wearstats.analysis.remark import refused, remark
from wearstats.analysis.wear.describe import WearDistribution
from wearstats.analysis.wear.profile import ShapeWithDepth
from wearstats.domain.tables import METHODS
from wearstats.studies.shaft.answer import Advice, Choice, ShaftStudy
from wearstats.studies.shaft.remarks import ShaftRemark
from wearstats.studies.wear.answer import PatternWear, WearStudy

AS_OF = datetime.date(2026, 9, 30)


def estimate(value: float, low: float, high: float) -> Estimate:
    """Make an estimate."""
    return Estimate(value=value, low=low, high=high)


def wear_study(*, growth: Estimate | None = None, unworn: Estimate | None = None) -> WearStudy:
    """Two patterns, eight shafts."""
    mean = estimate(33.2, 28.8, 35.7)
    wear = WearDistribution(shafts=5, mean_um=mean, quantiles_um={})
    none = no_estimate(refused("too few shafts"))
    shape = ShapeWithDepth(at_mean_um=none, per_10_um=none)
    shares = pd.DataFrame({"undersize_um": [0.0, 50.0, np.nan], "share": [estimate(s, s, s) for s in (0.1, 0.7, 0.2)]})
    pattern = PatternWear(shafts=5, readings=600, wear=wear, station_um={}, hollow=shape, taper=shape, shares=shares)
    alone = PatternWear(
        shafts=1, readings=12, wear=None, station_um={}, hollow=shape, taper=shape, shares=shares.iloc[:0]
    )
    return WearStudy(
        as_of=AS_OF,
        shafts=8,
        readings=1200,
        components_um={
            "shaft": estimate(32.0, 30.0, 34.0),
            "spline": estimate(4.0, 3.8, 4.2),
            "measurer": assumed(8.0, why=refused("usual for owners")),
            "repeatability_home": estimate(5.0, 4.9, 5.1),
        },
        wear_mean_um=mean,
        unworn_share=unworn or no_estimate(refused("not told apart")),
        quantiles_um={"0.5": estimate(26.0, 22.0, 29.0), "0.9": estimate(78.0, 67.0, 86.0)},
        growth=growth or no_estimate(refused("not worked out in this version")),
        by_region={},
        by_duty={},
        by_pattern={"D8": pattern, "D10": pattern, "D6": alone},
        fleet=small_frames.fleet(),
        sizes=small_frames.sizes(),
    )


def candidate(um: float, method: str, *, minutes: float = 95.0, **changed: object) -> Candidate:
    """One hub by one method; the loose one rattles."""
    told = Candidate(
        undersize_um=um,
        method=method,
        risk=_risk(um, method),
        cost=estimate(140.0, 120.0, 180.0) if um else no_estimate(refused("none")),
        minutes=0.0 if method == "as-supplied" else minutes,
        trials=3.0,
        slack=0.9 if um == 0 else 0.0,
        gap_um=4.0 if um else 38.0,
        station_gap_um=5.0 if um else 40.0,
        gripped=1.0,
        refused=(Refusal.SHAKES,) if um == 0 else (),
    )
    return replace(told, **changed)  # type: ignore[arg-type]


def shaft_study(
    undersize_um: float | None = 50.0, *, method: str = "owner-fitted", first: First | None = None, **changed: object
) -> ShaftStudy:
    """One shaft of three splines, two hubs on offer; the one of that size and method is chosen."""
    told = ((0.0, 38.0, 38.0, 0.0, 0.0), (50.0, -12.0, 4.0, 0.7, 95.0))
    choices = tuple(
        Choice(
            candidate=candidate(um, name, minutes=minutes),
            clearance_um=estimate(clearance, clearance - 5, clearance + 5),
            gap_left_um=estimate(gap, gap - 2, gap + 2),
            contact_share=estimate(share, share, share),
            filing_um=np.zeros((3, 3)),
            risk=((12.0, _risk(um, name)), (24.0, _risk(um, name, later=0.05))),
        )
        for um, clearance, gap, share, minutes in told
        for name in METHODS
    )
    chosen = next(
        (c.candidate for c in choices if (c.candidate.undersize_um, c.candidate.method) == (undersize_um, method)), None
    )
    reason = remark(Reason.NONE_TIGHT, tightest_um=50.0) if chosen is None else remark(Reason.CHEAPEST, limit=0.05)
    decision = Decision(chosen=chosen, because=(reason,))
    before = () if first is None else (remark(Finding.CALIPERS),)
    study = ShaftStudy(
        as_of=AS_OF,
        shaft="S-3",
        pattern="D8",
        inspections=("I1",),
        measured_on=datetime.date(2026, 8, 2),
        width_um_below_new=estimate(28.0, 18.0, 38.0),
        map=_map(undersize_um),
        choices=choices,
        risk_limit=0.05,
        horizon_months=12.0,
        currency="EUR",
        assumed_prices=(),
        advice=Advice(first=first, then=decision, because=(*before, reason)),
        measuring_saves=-20.0,
        holds_at_half_and_double=None,
        cautions=(remark(ShaftRemark.NO_REGISTER),),
        remarks=(),
        history=small_frames.history(),
    )
    return replace(study, **changed)  # type: ignore[arg-type]


def _risk(um: float, method: str, later: float = 0.0) -> Estimate:
    """Tell the loose hub's chance as supplied and the tight one's filed by hand."""
    told = {(0.0, "as-supplied"): (0.12, 0.08, 0.2), (50.0, "owner-fitted"): (0.041, 0.02, 0.08)}
    if (um, method) not in told:
        return no_estimate(refused("few failures"))
    value, low, high = (share + later for share in told[um, method])
    return estimate(value, low, high)


def _map(undersize_um: float | None) -> pd.DataFrame:
    frame = small_frames.shaft_map()
    return frame if undersize_um is not None else frame.assign(filing_um=np.nan, gap_left_um=np.nan)
