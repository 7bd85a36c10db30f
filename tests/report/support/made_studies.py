"""Small hand-made answers, as the studies give them to sentences and tables."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd

from tests.report.support import small_frames
from wearstats.analysis.advice.rule import Advice, Do
from wearstats.analysis.estimate import Estimate, assumed, no_estimate
from wearstats.analysis.remark import refused
from wearstats.analysis.wear.describe import WearDistribution
from wearstats.analysis.wear.profile import ShapeWithDepth
from wearstats.domain.tables import METHODS
from wearstats.studies.shaft.answer import Choice, ShaftStudy
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


def shaft_study(
    do: Do = "send", *, undersize_um: float | None = 50.0, method: str | None = "owner-fitted", why: str = "It grips."
) -> ShaftStudy:
    """One shaft of three splines, two hubs on offer."""
    filing = np.zeros((3, 3))
    choices = tuple(
        Choice(
            undersize_um=um,
            method=name,
            clearance_um=estimate(clearance, clearance - 5, clearance + 5),
            gap_left_um=estimate(gap, gap - 2, gap + 2),
            contact_share=estimate(share, share, share),
            filing_um=filing,
            filing_min=0.0 if name == "as-supplied" else minutes,
            risk=((12.0, _risk(um, name)), (24.0, _risk(um, name, later=0.05))),
            cost=no_estimate(refused("none")),
        )
        for um, clearance, gap, share, minutes in ((0.0, 38.0, 38.0, 0.0, 0.0), (50.0, -12.0, 4.0, 0.7, 95.0))
        for name in METHODS
    )
    return ShaftStudy(
        as_of=AS_OF,
        shaft="S-3",
        pattern="D8",
        inspections=("I1",),
        width_um_below_new=estimate(28.0, 18.0, 38.0),
        map=_map(undersize_um),
        choices=choices,
        currency=None,
        advice=Advice(do=do, undersize_um=undersize_um, method=method, why=why),
        cautions=("the register was not measured",),
        history=small_frames.history(),
    )


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
