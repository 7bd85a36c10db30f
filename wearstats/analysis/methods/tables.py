"""The plain table of methods against outcomes, on the fittings of which the outcome is known.

A fitting is counted only when its horizon has passed and it is known whether it had failed by then. Counting a failure
before its horizon has passed, while the good ones of the same age must wait, would make every method look worse than it
is. What is left out is counted by the reason: hubs that went silent are most of it, and since failures come in unasked
the table overstates the risk of both groups; the curves (`wearstats.analysis.survival.group_risks`) do not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.methods.remarks import MethodsRemark
from wearstats.analysis.rates.mantel_haenszel import MantelHaenszelResult, mantel_haenszel
from wearstats.analysis.rates.two_by_two import (
    FisherResult,
    FourfoldTable,
    fisher_test,
    newcombe_difference,
)
from wearstats.analysis.remark import remark
from wearstats.domain.tables import METHODS

AS_SUPPLIED = METHODS[0]
HAND_FITTED = "hand-fitted"
FAILED, TIGHT = "failed", "tight"
STRATA = ("pattern", "period", "duty")
LEFT_OUT = ("horizon-not-passed", "known-late", "failed-about-then", "ended-otherwise", "silent")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MethodTable:
    """As supplied against fitted by hand, at the horizon.

    Parameters
    ----------
    table : FourfoldTable
        As supplied first.
    left_out : dict of str to int
        Fittings not in the table, by reason: the horizon has not passed; known only from a later date; the failure
        lies in an interval round the horizon; ended for another cause before; no word through the horizon.
    difference : Estimate
        Share failed, as supplied minus by hand, with Newcombe's interval.
    fisher : FisherResult or None
        None where one of the groups is empty.
    stratified : MantelHaenszelResult
        Compared inside `strata`.
    strata : tuple of str
        The columns that make the strata.
    """

    table: FourfoldTable
    left_out: dict[str, int]
    difference: Estimate
    fisher: FisherResult | None
    stratified: MantelHaenszelResult
    strata: tuple[str, ...]


def status_at(ran: pd.DataFrame, horizon_months: float) -> pd.Series[str]:
    """Say of each fitting that ran whether it had failed by the horizon.

    Parameters
    ----------
    ran : DataFrame
        As `wearstats.analysis.histories.build.Histories.ran` gives it.
    horizon_months : float

    Returns
    -------
    Series of str
        ``failed``, ``tight``, or why it is not known, one of `LEFT_OUT`.
    """
    failed = ran["outcome"].eq("failed")
    # past the records' end a failure may have come in early, and no good news
    passed = ran["recorded_months"] if "recorded_months" in ran else ran["age_months"]
    status = np.select(
        [
            passed < horizon_months,
            ran["entry_months"] > 0,
            ran["first_bad_months"] <= horizon_months,
            ran["failed_after_months"].where(failed, ran["observed_months"]) >= horizon_months,
            failed,
            ran["outcome"].isin(["removed", "other-cause"]),
        ],
        [LEFT_OUT[0], LEFT_OUT[1], FAILED, TIGHT, LEFT_OUT[2], LEFT_OUT[3]],
        default=LEFT_OUT[4],
    )
    return pd.Series(status, index=ran.index, dtype="str")


def hand_or_supplied(method: pd.Series[str]) -> pd.Series[str]:
    """Put the two ways of fitting by hand together."""
    return method.where(method.eq(AS_SUPPLIED), HAND_FITTED).where(method.notna())


def tabulate_methods(
    ran: pd.DataFrame,
    *,
    by: str,
    horizon_months: float,
    strata: Sequence[str] = STRATA,
    level: float = 0.95,
) -> MethodTable:
    """Tabulate failures at the horizon against the method.

    Parameters
    ----------
    ran : DataFrame
        As `wearstats.analysis.histories.build.Histories.ran` gives it.
    by : str
        Column of the method: ``method_sent`` or ``method_done``.
    horizon_months : float
    strata : sequence of str
        Columns within whose combinations the methods are also compared; a missing value is a stratum of its own.
    level : float
        Coverage of the intervals.

    Returns
    -------
    MethodTable
    """
    status = status_at(ran, horizon_months)
    known = status.isin([FAILED, TIGHT])
    group = hand_or_supplied(ran[by])
    labels = [ran.loc[known, column].astype("str").fillna("") for column in strata]
    tables = _tables(group[known], status[known], labels)
    table = _added(tables)
    both = min(table.first_total, table.second_total) > 0
    return MethodTable(
        table=table,
        left_out={why: int(status.eq(why).sum()) for why in LEFT_OUT},
        difference=newcombe_difference(table, level=level)
        if both
        else no_estimate(remark(MethodsRemark.ONE_GROUP_EMPTY)),
        fisher=fisher_test(table, level=level) if both else None,
        stratified=mantel_haenszel(tables, level=level),
        strata=tuple(strata),
    )


def _tables(group: pd.Series[str], status: pd.Series[str], strata: Sequence[pd.Series[str]]) -> list[FourfoldTable]:
    """Count every stratum's table."""
    supplied, by_hand, failed = group.eq(AS_SUPPLIED), group.eq(HAND_FITTED), status.eq(FAILED)
    cells = pd.DataFrame(
        {
            "first_failed": supplied & failed,
            "first_tight": supplied & ~failed,
            "second_failed": by_hand & failed,
            "second_tight": by_hand & ~failed,
        }
    ).astype("int64")
    counted = cells.groupby(list(strata)).sum() if strata else cells.sum().to_frame().T
    return [FourfoldTable(**{str(name): int(n) for name, n in row.items()}) for row in counted.to_dict("records")]


def _added(tables: Sequence[FourfoldTable]) -> FourfoldTable:
    return FourfoldTable(
        first_failed=sum(table.first_failed for table in tables),
        first_tight=sum(table.first_tight for table in tables),
        second_failed=sum(table.second_failed for table in tables),
        second_tight=sum(table.second_tight for table in tables),
    )
