"""Hubs still tight by method, duty, known gap, ...: curves beside each other, and whether they differ."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from wearstats.report.loosening.survival_chart import curves_chart, shares_at
from wearstats.report.remarks.say import say
from wearstats.report.rendering.charts import AnyChart
from wearstats.report.rendering.theme import LINE_COLOURS, WIDE
from wearstats.report.words.phrases import in_hundred

SURE_P = 0.05
"""Below this, allowing for all groupings looked at, groups are said to differ."""

_BY = {
    "method_sent": "by how they were sent",
    "method_done": "by how they were fitted",
    "pattern": "by pattern",
    "duty": "by duty",
    "region": "by region",
    "gap_band": "by what was known of the gap",
}
_CRUDE = {
    "method_sent": "Each way was used on its own shafts; like is compared with like only by the comparison of methods.",
    "method_done": "Each way was used on its own shafts; like is compared with like only by the comparison of methods.",
    "gap_band": "The gap is as it was known on the day of choice; true gaps differ within a band.",
}
_ESTIMATORS = {
    "turnbull": "Failures lie between two answers, and silent hubs are weighed (Turnbull's curve).",
    "kaplan-meier": "Times are known to within a month (Kaplan-Meier's curve).",
}


def grouped_curves_chart(
    curves: pd.DataFrame,
    at_risk: pd.DataFrame,
    groups: pd.DataFrame,
    *,
    by: str,
    adjusted_p: float | None,
    estimator: str,
    horizon_months: float,
    width: int = WIDE,
) -> AnyChart:
    """Draw the curves of one grouping with the numbers still followed.

    Parameters
    ----------
    curves : pandas.DataFrame
        ``group``, ``months``, ``still_tight`` (0 to 1), ``low``, ``high``; at least one group.
    at_risk : pandas.DataFrame
        ``group``, ``months``, ``at_risk``.
    groups : pandas.DataFrame
        ``group``, ``fittings``, ``said`` (a remark where a group is small, else None).
    by : str
        What the fittings are grouped by: ``method_sent``, ``method_done``, ``pattern``, ``duty``, ``region``,
        ``gap_band``.
    adjusted_p : float or None
        Probability of so great a difference if there were none, allowing for all groupings; None if not tested.
    estimator : {"kaplan-meier", "turnbull"}
        How the curves were made.
    horizon_months : float
        The month that the title speaks of.
    width : int
        Width of the picture in screen points.

    Returns
    -------
    altair chart
        At most four groups, those of the most fittings; the others are counted below the title.
    """
    drawn = _largest(curves, groups)
    title = grouped_curves_title(curves, at_risk, by=by, adjusted_p=adjusted_p, horizon_months=horizon_months)
    notes = [
        _ESTIMATORS[estimator],
        *_judged(adjusted_p),
        *([_CRUDE[by]] if by in _CRUDE else []),
        *_small(groups, drawn),
    ]
    return curves_chart(
        curves[curves["group"].isin(drawn)],
        at_risk[at_risk["group"].isin(drawn)],
        horizon_months=horizon_months,
        title=title,
        notes=notes,
        width=width,
    )


def grouped_curves_title(
    curves: pd.DataFrame, at_risk: pd.DataFrame, *, by: str, adjusted_p: float | None, horizon_months: float
) -> str:
    """Say whether the groups differ, and how many of each are still tight at the horizon."""
    said, few = shares_at(curves, at_risk, horizon_months=horizon_months)
    if not said:
        return f"Too few hubs have been followed for {horizon_months:g} months to tell them apart {_BY[by]}"
    if adjusted_p is None:
        head = "Hubs still tight"
    elif adjusted_p < SURE_P:
        head = f"Hubs differ {_BY[by]}: still tight"
    else:
        head = f"No sure difference {_BY[by]}: still tight"
    shares = ", ".join(f"{in_hundred(share)} of 100 {_named(by, group)}" for group, share in said.items())
    too_few = f"; too few {' and '.join(_named(by, group) for group in few)} to say" if few else ""
    return f"{head} after {horizon_months:g} months are {shares}{too_few}"


def _judged(adjusted_p: float | None) -> list[str]:
    if adjusted_p is None:
        return []
    chance = "p < 0.001" if adjusted_p < 0.001 else f"p = {adjusted_p:.{3 if adjusted_p < 0.01 else 2}f}"
    return [f"Whether they differ is judged allowing for all groupings looked at ({chance})."]


def _named(by: str, group: str) -> str:
    """Name a group so that it can follow a number."""
    return f"with {group}" if by == "gap_band" else f"in {group}" if by == "region" else group


def _largest(curves: pd.DataFrame, groups: pd.DataFrame) -> list[str]:
    """Give the groups that are drawn: as many as there are lines that can be told apart."""
    there = groups[groups["group"].isin(curves["group"])]
    return there.nlargest(len(LINE_COLOURS), "fittings", keep="first")["group"].tolist()


def _small(groups: pd.DataFrame, drawn: Sequence[str]) -> list[str]:
    """Say what can be said of small groups, and how many are not drawn."""
    said = [f"{group}: {say(told)}." for group, told in zip(groups["group"], groups["said"], strict=True) if told]
    more = int(groups["said"].isna().sum() - groups.loc[groups["said"].isna(), "group"].isin(drawn).sum())
    return [*said, *([f"{more} smaller groups are not drawn."] if more else [])]
