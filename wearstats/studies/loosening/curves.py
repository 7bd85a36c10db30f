"""Curves of hubs still tight: by method sent and done, pattern, duty, region, and by what was known of the gap."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.histories.build import Histories
from wearstats.analysis.numerics.multiple_testing import holm
from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.survival.comparison.group_test import GroupTest, judge_groups
from wearstats.analysis.survival.group_curves import Estimator, GroupCurve, GroupCurveFitter, band_gaps
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.tables import METHODS
from wearstats.errors import AnalysisError
from wearstats.studies.gaps.known_gaps import known_gaps
from wearstats.studies.inputs.histories import grid_months, histories_of, require_fittings, ticks_months
from wearstats.studies.loosening.remarks import LooseningStudyRemark
from wearstats.studies.snapshot import Snapshot

BY = ("method_sent", "method_done", "pattern", "duty", "region", "gap_band")
"""What the fittings are grouped by; the first five are columns of the histories."""

ALIKE = "groups alike"
"""Name of the draws by which groups are compared, before what they are grouped by."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grouping:
    """One way of parting the fittings.

    Parameters
    ----------
    by : str
        One of `BY`.
    groups : tuple of GroupCurve
        In the order in which they are shown; empty where nothing is recorded.
    test : GroupTest
        Whether the groups fail alike.
    adjusted_p : float or None
        Its interval-censored probability adjusted for all groupings looked at (Holm).
    without : int
        Fittings that ran of which it is not recorded, or not known, to which group they belong.
    """

    by: str
    groups: tuple[GroupCurve, ...]
    test: GroupTest
    adjusted_p: float | None
    without: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurvesStudy:
    """What the curves say.

    Parameters
    ----------
    horizon_months : float
        Month of the risks that are told.
    estimator : {"kaplan-meier", "turnbull"}
        The same for all groups.
    why_estimator : Remark
        Why this one.
    everything : GroupCurve
        All fittings that ran.
    groupings : mapping of str to Grouping
        By each of `BY`; ``gap_band`` is there only where gaps were given.
    reported_unasked, ends_reported_unasked : Estimate
        Chance that a failure, and an end for another cause, is reported unasked.
    """

    horizon_months: float
    estimator: Estimator
    why_estimator: Remark
    everything: GroupCurve
    groupings: Mapping[str, Grouping]
    reported_unasked: Estimate
    ends_reported_unasked: Estimate

    @property
    def compared(self) -> Remark:
        """How the several comparisons were allowed for."""
        looked_at = sum(grouping.adjusted_p is not None for grouping in self.groupings.values())
        return remark(LooseningStudyRemark.COMPARED, groupings=looked_at)

    def curves_frame(self, by: str) -> pd.DataFrame:
        """Give ``group``, ``months``, ``still_tight``, ``low``, ``high`` of one grouping; groups of few have no row."""
        return self._frame(by, "curve", ("months", "still_tight", "low", "high"))

    def at_risk_frame(self, by: str) -> pd.DataFrame:
        """Give ``group``, ``months``, ``at_risk`` of one grouping, groups of few too."""
        return self._frame(by, "at_risk", ("months", "at_risk"))

    def groups_frame(self, by: str) -> pd.DataFrame:
        """Give a row a group: ``group``, ``fittings``, ``said`` (None: all is well)."""
        rows = [(group.group, group.fittings, group.said) for group in self.groupings[by].groups]
        return pd.DataFrame(rows, columns=["group", "fittings", "said"]).astype({"said": object})

    def to_dict(self) -> dict[str, Any]:
        """Give the answer as the ``--json`` document has it."""
        return {
            "horizon_months": self.horizon_months,
            "estimator": self.estimator,
            "why_estimator": self.why_estimator,
            "reported_unasked": self.reported_unasked,
            "ends_reported_unasked": self.ends_reported_unasked,
            "compared": self.compared,
            "all": _group_to_dict(self.everything),
            "by": {
                by: {
                    "groups": {group.group: _group_to_dict(group) for group in grouping.groups},
                    "interval_log_rank_p": grouping.test.interval_log_rank_p,
                    "adjusted_p": grouping.adjusted_p,
                    "no_test_because": grouping.test.why,
                    "without": grouping.without,
                }
                for by, grouping in self.groupings.items()
            },
        }

    def _frame(self, by: str, part: str, columns: tuple[str, ...]) -> pd.DataFrame:
        parts = [getattr(group, part).assign(group=group.group) for group in self.groupings[by].groups]
        none = pd.DataFrame(columns=["group", *columns])
        return pd.concat(parts, ignore_index=True)[["group", *columns]] if parts else none


def study_curves(snapshot: Snapshot, *, horizon_months: float = 12.0) -> CurvesStudy:
    """Draw up the curves of the fittings on record, by gap too where gaps are known."""
    try:
        frame = known_gaps(snapshot).frame
    except AnalysisError:
        frame = None
    return curves_of(histories_of(snapshot), frame, horizon_months=horizon_months, draws=snapshot.draws)


def curves_of(
    histories: Histories,
    gaps_frame: pd.DataFrame | None,
    *,
    horizon_months: float = 12.0,
    draws: NamedDraws,
) -> CurvesStudy:
    """Draw up the curves.

    Parameters
    ----------
    histories : Histories
        As `wearstats.studies.inputs.histories.histories_of` gives them, of one pattern or of all.
    gaps_frame : DataFrame or None
        ``fitting``, ``gap_left_um``: what was known of each gap on the day of choice, as the ``frame`` of
        `wearstats.studies.gaps.known_gaps.known_gaps` has it; without it there is no grouping by gap.
    horizon_months : float
        Month of the risks that are told.
    draws : NamedDraws
        For drawing shafts anew, and for comparing groups.

    Returns
    -------
    CurvesStudy
        ``groupings[by]`` for each of `BY`.

    Raises
    ------
    AnalysisError
        When no fitting ran.

    Notes
    -----
    The bands of the gap are of what was *known* of it, which is off by about as much as the bands are wide: fittings
    of one band differ in their true gap, and the curves lie closer together than the risks at the true gaps do.
    """
    require_fittings(histories, None)
    ran = histories.by_flanks.reset_index(drop=True)
    fitter = GroupCurveFitter(
        ran,
        months=_months(ran, horizon_months),
        horizon_months=horizon_months,
        rng=draws.generator("shafts anew"),
    )
    ticks = ticks_months(float(fitter.told.last_word.max(initial=0.0)))
    labels = {by: ran[by] for by in BY if by in ran}
    if gaps_frame is not None:
        labels["gap_band"] = band_gaps(ran["fitting"].map(gaps_frame.set_index("fitting")["gap_left_um"]))
    groupings = {by: _group(fitter, by, label, ticks, draws) for by, label in labels.items()}
    every = np.ones(len(ran), dtype=bool)
    return CurvesStudy(
        horizon_months=horizon_months,
        estimator=fitter.estimator,
        why_estimator=fitter.why,
        everything=fitter.fit("all", every, ticks=ticks),
        groupings=_adjusted(groupings),
        reported_unasked=fitter.silence.reported_unasked,
        ends_reported_unasked=fitter.end_silence.reported_unasked,
    )


def _months(ran: pd.DataFrame, horizon_months: float) -> NDArray[np.float64]:
    return grid_months(SilentHistories.from_frame(ran), horizon_months)


def _group(
    fitter: GroupCurveFitter, by: str, labels: pd.Series[Any], ticks: NDArray[np.float64], draws: NamedDraws
) -> Grouping:
    known = labels.notna().to_numpy(dtype=bool)
    names = labels.astype("str")
    groups = [fitter.fit(name, names.eq(name).to_numpy(dtype=bool) & known, ticks=ticks) for name in _order(by, labels)]
    return Grouping(
        by=by,
        groups=tuple(groups),
        test=judge_groups(
            fitter.ran[known], names[known], reported=fitter.silence.chance, rng=draws.generator(ALIKE, by)
        ),
        adjusted_p=None,
        without=int(np.sum(~known)),
    )


def _order(by: str, labels: pd.Series[Any]) -> list[str]:
    """Give the groups that have fittings in the order in which they are shown."""
    there = set(labels.dropna().astype("str"))
    if by.startswith("method"):
        return [name for name in METHODS if name in there]
    if isinstance(labels.dtype, pd.CategoricalDtype):
        return [name for name in labels.cat.categories if name in there]
    return sorted(there)


def _adjusted(groupings: Mapping[str, Grouping]) -> dict[str, Grouping]:
    """Allow for all groupings that were compared."""
    tested = {by: g.test.interval_log_rank_p for by, g in groupings.items() if g.test.interval_log_rank_p is not None}
    adjusted = dict(zip(tested, holm(list(tested.values())).tolist(), strict=True))
    return {by: replace(grouping, adjusted_p=adjusted.get(by)) for by, grouping in groupings.items()}


def _group_to_dict(group: GroupCurve) -> dict[str, Any]:
    """Give one group, its curve at the months of the table of numbers at risk."""
    ticks = group.at_risk.copy()
    at = np.searchsorted(group.curve["months"], ticks["months"], side="right") - 1
    rows = group.curve.iloc[at].drop(columns="months").reset_index(drop=True) if len(group.curve) else None
    table = ticks if rows is None else pd.concat([ticks, rows], axis=1)[ticks["months"] <= group.followed_to]
    lost = group.incidence.groupby("cause").last()
    return {
        "fittings": group.fittings,
        "shafts": group.shafts,
        "followed": group.followed,
        "failures": group.failures,
        "lost": group.lost,
        "hub_months": group.hub_months,
        "followed_to_months": group.followed_to,
        "risk": group.risk,
        "said": group.said,
        "curve": table,
        "lost_by_the_end": lost.to_dict("index"),
    }
