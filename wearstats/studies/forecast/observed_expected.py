"""Failures seen against failures predicted, quarter after quarter: whether there are more, since when, and how many."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.monitoring.observed_expected import ratio_sequence
from wearstats.analysis.monitoring.risk_adjusted_cusum import MovingSum, watch_with_moving_limits

ODDS_RATIO = 2.0
"""The change that is watched for: twice the odds of the model."""
FALSE_ALARM_QUARTERS = (20, 40, 80)
"""Mean time between false alarms; the middle one is used, the others say what other limits would have said."""
USED = FALSE_ALARM_QUARTERS[1]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Watch:
    """Failures seen against failures predicted, quarter after quarter.

    Parameters
    ----------
    ratio : Estimate
        Seen over predicted; its interval holds at every look and contains the model's doubt.
    sums : dict of int to MovingSum
        Risk-adjusted sums, their limits and alarms, by `FALSE_ALARM_QUARTERS`. False alarms come no more often, the
        doubt of the model allowed for (``tests/simulation/forecast.md``).
    """

    ratio: Estimate
    sums: dict[int, MovingSum]


def watch_failures(earlier: pd.DataFrame) -> Watch:
    """Watch past quarters.

    Parameters
    ----------
    earlier : DataFrame
        In order of time: ``happened``, ``expected``, ``doubt`` (variance of what was expected, over the draws of the
        law), and ``discount``, the sum of what hubs add that do not fail.
    """
    seen, expected, doubt, discount = (
        earlier[name].to_numpy(dtype=float) for name in ("happened", "expected", "doubt", "discount")
    )
    return Watch(
        ratio=ratio_sequence(seen, expected, doubt),
        sums={
            length: watch_with_moving_limits(
                seen, expected, discount, doubt=doubt, odds_ratio=ODDS_RATIO, wanted=float(length)
            )
            for length in FALSE_ALARM_QUARTERS
        },
    )
