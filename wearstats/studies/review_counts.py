"""Failures and hub-months of a quarter, in all and by groups, beside those of the four quarters before."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.rate_tests import compare_rates, holm, rate_estimate
from wearstats.domain.quarters import Quarter
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.studies.hubs_in_use import HubsInUse, days_within, months_in_use

PER_MONTHS = 100.0
BEFORE_QUARTERS = 4
GROUPINGS = ("pattern", "method_sent", "region", "undersize_um")
"""By what failures are told apart, in the order shown."""
MATURE_MONTHS = 12.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class QuarterCounts:
    """What became known in a quarter of the hubs in use.

    Parameters
    ----------
    quarter : Quarter
        Which.
    fittings : int
        Hubs fitted in it.
    failures, before_failures : int
        Hubs known to have worked loose in it, and in the quarters before.
    hub_months, before_months : float
        Months in use.
    rate, before_rate : Estimate
        Failures per 100 hub-months.
    change : Estimate
        Rate over the rate before.
    change_p : float
        Whether that is more than chance; exact, by itself.
    other_ends : dict of str to int
        Hubs that came off for other causes in the quarter, by cause.
    by_quarter : DataFrame
        ``quarter``, ``fittings``, ``failures``, ``hub_months``, ``rate``, ``low``, ``high``, ``month_mean`` (mean age
        of the hubs in use, months), ``mature_share`` (of the hubs fitted in it, in use for a year or ended), of all
        quarters up to this one.
    groups : DataFrame
        ``by``, ``group``, ``failures``, ``hub_months``, ``rate``, ``low``, ``high``, ``before_failures``,
        ``before_months``, ``ratio``, ``ratio_low``, ``ratio_high``, ``p``, ``p_adjusted`` (Holm, over all groups).
    """

    quarter: Quarter
    fittings: int
    failures: int
    before_failures: int
    hub_months: float
    before_months: float
    rate: Estimate
    before_rate: Estimate
    change: Estimate
    change_p: float
    other_ends: dict[str, int]
    by_quarter: pd.DataFrame
    groups: pd.DataFrame

    @property
    def compared(self) -> int:
        """How many groups were compared with themselves before."""
        return len(self.groups)

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {
            "fittings": self.fittings,
            "failures": self.failures,
            "hub_months": self.hub_months,
            "failures_per_100_hub_months": self.rate.to_dict(),
            "before": {
                "quarters": BEFORE_QUARTERS,
                "failures": self.before_failures,
                "hub_months": self.before_months,
                "failures_per_100_hub_months": self.before_rate.to_dict(),
            },
            "change": {**self.change.to_dict(), "p_value": self.change_p},
            "other_ends": self.other_ends,
            "by_quarter": records(self.by_quarter),
            "groups": records(self.groups),
            "groups_compared": self.compared,
        }


def count_quarter(hubs: HubsInUse, quarter: Quarter) -> QuarterCounts:
    """Count a quarter.

    Parameters
    ----------
    hubs : HubsInUse
        The hubs that ran, as known on the day asked about.
    quarter : Quarter
        Which.

    Returns
    -------
    QuarterCounts
        All zeros where nothing ran.

    Notes
    -----
    A failure counts in the quarter in which it came to be known. Rates are compared exactly, given their sum; of the
    groups' p-values the smallest is multiplied by their number and so on (Holm), so that of many groups that have not
    changed hardly ever one seems to have.
    """
    frame = hubs.frame
    span = (quarter.first_day, quarter.last_day)
    past = (quarter.shifted(-BEFORE_QUARTERS).first_day, quarter.shifted(-1).last_day)
    told = frame.assign(
        month=hubs.months_within(*span),
        bad=hubs.failed_within(*span),
        month_before=hubs.months_within(*past),
        bad_before=hubs.failed_within(*past),
    )
    failures, months = int(told["bad"].sum()), float(told["month"].sum())
    before, before_months = int(told["bad_before"].sum()), float(told["month_before"].sum())
    change = compare_rates(failures, months, before, before_months)
    began = days_within(frame["from_on"], *span)
    ended = days_within(frame["to_on"], *span) & frame["outcome"].eq("other-cause")
    causes = frame.loc[ended, "cause"].fillna("unknown").value_counts()
    return QuarterCounts(
        quarter=quarter,
        fittings=int(began.sum()),
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
        groups=_by_groups(told),
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
            }
        )
    return pd.DataFrame(
        rows,
        columns=[
            "quarter", "fittings", "failures", "hub_months", "rate", "low", "high", "month_mean", "mature_share",
        ],
    )  # fmt: skip


def _by_groups(told: pd.DataFrame) -> pd.DataFrame:
    """Compare every group with itself before; groups that were not in use in the quarter are left out."""
    rows = []
    for by in GROUPINGS:
        sums = (
            told.dropna(subset=[by])
            .groupby(by, sort=True)[["bad", "month", "bad_before", "month_before"]]
            .sum()
            .reset_index()
        )
        for group, bad, month, bad_before, month_before in sums.itertuples(index=False, name=None):
            if month <= 0:
                continue
            rate = rate_estimate(int(bad), float(month), per=PER_MONTHS)
            change = compare_rates(int(bad), float(month), int(bad_before), float(month_before))
            rows.append(
                {
                    "by": by,
                    "group": f"{group:g}" if by == "undersize_um" else str(group),
                    "failures": int(bad),
                    "hub_months": float(month),
                    "rate": rate.value,
                    "low": rate.low,
                    "high": rate.high,
                    "before_failures": int(bad_before),
                    "before_months": float(month_before),
                    "ratio": change.ratio.value,
                    "ratio_low": change.ratio.low,
                    "ratio_high": change.ratio.high,
                    "p": change.p_value,
                }
            )
    frame = pd.DataFrame(
        rows,
        columns=[
            "by", "group", "failures", "hub_months", "rate", "low", "high", "before_failures", "before_months", "ratio",
            "ratio_low", "ratio_high", "p",
        ],
    )  # fmt: skip
    return frame.assign(p_adjusted=holm(frame["p"].to_numpy(dtype=float)) if len(frame) else [])


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Give rows as JSON has them: what is missing is null, days are written out."""
    return [
        {
            str(key): None if pd.isna(value) else str(value.date()) if isinstance(value, pd.Timestamp) else value
            for key, value in row.items()
        }
        for row in frame.to_dict("records")
    ]
