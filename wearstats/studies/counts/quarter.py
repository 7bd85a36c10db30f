"""Failures and hub-months of a quarter, in all and by groups, beside those of the four quarters before."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.rates.poisson_rates import compare_rates, rate_estimate
from wearstats.domain.frames import columns
from wearstats.domain.quarters import Quarter
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.studies.counts.groups import (
    COMPARED,
    GROUPINGS,
    PER_MONTHS,
    compare_groups,
    group_name,
    is_compared,
    told_together,
)
from wearstats.studies.counts.other_ends import compare_other_ends, compare_returned
from wearstats.studies.inputs.hubs_in_use import HubsInUse, days_within, months_in_use

BEFORE_QUARTERS = 4
MATURE_MONTHS = 12.0
_NONE = pd.DataFrame({name: pd.Series(dtype=object if name in {"by", "group"} else float) for name in COMPARED})


_ENDED = columns(
    text="by group",
    number="hub_months rate low high before_months ratio ratio_low ratio_high p p_adjusted",
    whole="number before_number",
    flag="counted",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class QuarterCounts:
    """What became known in a quarter of the hubs in use.

    Parameters
    ----------
    quarter : Quarter
        Which.
    fittings : int
        Hubs fitted in it.
    hubs : int
        Hubs in use at some time in it.
    failures, before_failures : int
        Hubs known to have worked loose in it, and in the quarters before.
    hub_months, before_months : float
        Months in use.
    rate, before_rate : Estimate
        Failures per 100 hub-months.
    heard_rate : Estimate
        The same where hubs count only up to the last word of them: too high, for bad news comes by itself.
    change : Estimate
        Rate over the rate before.
    change_p : float
        Whether that is more than chance; exact, by itself.
    other_ends : dict of str to int
        Hubs that came off for other causes in the quarter, by cause.
    by_quarter : DataFrame
        ``quarter``, ``fittings``, ``failures``, ``hub_months``, ``rate``, ``low``, ``high``, ``month_mean`` (mean age
        of the hubs in use, months), ``mature_share`` (of the hubs fitted in it, in use for a year or ended),
        ``run_months`` (how long those have run so far, mean), of all quarters up to this one.
    groups : DataFrame
        ``by``, ``group``, ``failures``, ``hub_months``, ``rate``, ``low``, ``high``, ``before_failures``,
        ``before_months``, ``ratio``, ``ratio_low``, ``ratio_high``, ``p``, ``counted``
        (whether enough happened to show a change), ``p_adjusted`` (Holm, over all counted, those of the next two
        frames among them).
    ended_groups, returned_groups : DataFrame
        The same of hubs that came off for other causes, by cause, and of hubs that came back, by reason and by groups;
        ``number`` in place of ``failures``.
    """

    quarter: Quarter
    fittings: int
    hubs: int
    failures: int
    before_failures: int
    hub_months: float
    before_months: float
    rate: Estimate
    before_rate: Estimate
    change: Estimate
    change_p: float
    other_ends: dict[str, int]
    by_quarter: Annotated[
        pd.DataFrame,
        columns(
            text="quarter",
            number="hub_months rate low high month_mean mature_share run_months",
            whole="fittings failures",
        ),
    ]
    groups: Annotated[
        pd.DataFrame,
        columns(
            text="by group",
            number="hub_months rate low high before_months ratio ratio_low ratio_high p p_adjusted",
            whole="failures before_failures",
            flag="counted",
        ),
    ]
    ended_groups: Annotated[pd.DataFrame, _ENDED]
    returned_groups: Annotated[pd.DataFrame, _ENDED]
    heard_rate: Estimate

    def changes(self) -> pd.DataFrame:
        """Give all groups in which anything happened, surest first: ``what``, and the columns of the frames."""
        parts = {
            "loose": self.groups.rename(columns={"failures": "number", "before_failures": "before_number"}),
            "came-off": self.ended_groups,
            "came-back": self.returned_groups,
        }
        kept = [frame[is_compared(frame)].assign(what=what) for what, frame in parts.items()]
        filled = [frame for frame in kept if len(frame)] or kept[:1]
        return (
            pd.concat(filled, ignore_index=True).sort_values(["p_adjusted", "p"], kind="stable").reset_index(drop=True)
        )

    @property
    def compared(self) -> int:
        """How many groups had enough happen to show a change: the number of comparisons allowed for."""
        return int(self.changes()["counted"].sum())

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {
            "fittings": self.fittings,
            "hubs": self.hubs,
            "failures": self.failures,
            "hub_months": self.hub_months,
            "failures_per_100_hub_months": self.rate,
            "before": {
                "quarters": BEFORE_QUARTERS,
                "failures": self.before_failures,
                "hub_months": self.before_months,
                "failures_per_100_hub_months": self.before_rate,
            },
            "change": {**self.change.to_dict(), "p_value": self.change_p},
            "other_ends": self.other_ends,
            "by_quarter": self.by_quarter,
            "failures_per_100_hub_months_heard": self.heard_rate,
            "groups": self.groups,
            "other_ends_groups": self.ended_groups,
            "returns_groups": self.returned_groups,
            "groups_compared": self.compared,
            "groups_too_small_to_compare": len(self.changes()) - self.compared,
        }


def count_quarter(hubs: HubsInUse, quarter: Quarter, *, returned: pd.DataFrame | None = None) -> QuarterCounts:
    """Count a quarter.

    Parameters
    ----------
    hubs : HubsInUse
        The hubs that ran, as known on the day asked about.
    quarter : Quarter
        Which.
    returned : DataFrame, optional
        The hubs that came back, of `review_ends.read_returned`.

    Returns
    -------
    QuarterCounts
        All zeros where nothing ran.

    Notes
    -----
    A failure counts in the quarter in which it came to be known. Rates are compared exactly, given their sum. The rate
    of all failures is the first question and stands by itself; of the groups' p-values the smallest is multiplied by
    their number and so on (Holm), so that of many groups that have not changed hardly ever one seems to have.
    """
    frame = hubs.frame
    span = (quarter.first_day, quarter.last_day)
    earlier = (quarter.shifted(-BEFORE_QUARTERS), quarter.shifted(-1))
    past = (earlier[0].first_day, earlier[1].last_day)
    told = frame.assign(
        month=hubs.months_within(*span),
        bad=hubs.failed_within(*span),
        month_before=hubs.months_within(*past),
        bad_before=hubs.failed_within(*past),
    )
    failures, months = int(told["bad"].sum()), float(told["month"].sum())
    before, before_months = int(told["bad_before"].sum()), float(told["month_before"].sum())
    change = compare_rates(failures, months, before, before_months)
    heard = hubs.up_to_last_word().months_within(*span)
    groups, ended_groups = _by_groups(told), compare_other_ends(told, span=quarter, before=earlier)
    came_back = _NONE if returned is None else compare_returned(returned, told, span=quarter, before=earlier)
    groups, ended_groups, came_back = told_together(groups, ended_groups, came_back)
    began = days_within(frame["from_on"], *span)
    ended = days_within(frame["to_on"], *span) & frame["outcome"].eq("other-cause")
    causes = frame.loc[ended, "cause"].fillna("unknown").value_counts()
    return QuarterCounts(
        quarter=quarter,
        fittings=int(began.sum()),
        hubs=int((told["month"] > 0).sum()),
        failures=failures,
        before_failures=before,
        hub_months=months,
        before_months=before_months,
        rate=rate_estimate(failures, months, per=PER_MONTHS),
        before_rate=rate_estimate(before, before_months, per=PER_MONTHS),
        change=change.ratio,
        change_p=change.p_value,
        other_ends={str(cause): int(count) for cause, count in causes.items()},
        by_quarter=_by_quarter(hubs, quarter),
        groups=groups.rename(columns={"number": "failures", "before_number": "before_failures"}),
        ended_groups=ended_groups,
        returned_groups=came_back,
        heard_rate=rate_estimate(failures, float(heard.sum()), per=PER_MONTHS),
    )


def _by_quarter(hubs: HubsInUse, last: Quarter) -> pd.DataFrame:
    age = months_in_use(hubs.frame, hubs.as_of)
    rows = []
    for quarter in hubs.quarters():
        if quarter > last:
            break
        span = (quarter.first_day, quarter.last_day)
        months = hubs.months_within(*span)
        failures = int(hubs.failed_within(*span).sum())
        rate = rate_estimate(failures, float(months.sum()), per=PER_MONTHS)
        began = days_within(hubs.frame["from_on"], *span)
        mature = (age >= MATURE_MONTHS) | hubs.frame["to_on"].notna()
        end = min(pd.Timestamp(quarter.last_day), pd.Timestamp(hubs.as_of))
        since = ((end - hubs.frame["from_on"]).dt.days / MEAN_MONTH_DAYS).clip(lower=0.0)
        rows.append(
            {
                "quarter": str(quarter),
                "fittings": int(began.sum()),
                "failures": failures,
                "hub_months": float(months.sum()),
                "rate": rate.value,
                "low": rate.low,
                "high": rate.high,
                "month_mean": float(np.average(since, weights=months)) if months.sum() > 0 else 0.0,
                "mature_share": float(mature[began].mean()) if began.any() else None,
                "run_months": float(age[began].mean()) if began.any() else None,
            }
        )
    return pd.DataFrame(
        rows,
        columns=[
            "quarter", "fittings", "failures", "hub_months", "rate", "low", "high", "month_mean", "mature_share",
            "run_months",
        ],
    )  # fmt: skip


def _by_groups(told: pd.DataFrame) -> pd.DataFrame:
    """Compare every group with itself before; groups that were not in use in the quarter are left out."""
    parts = []
    for by in GROUPINGS:
        sums = told.dropna(subset=[by]).groupby(by, sort=True)[["bad", "month", "bad_before", "month_before"]].sum()
        sums = sums.set_axis(["number", "hub_months", "before_number", "before_months"], axis=1)
        sums = sums.reset_index(names="group")
        parts.append(sums.assign(by=by, group=[group_name(by, group) for group in sums["group"]]))
    return compare_groups(pd.concat(parts, ignore_index=True))
