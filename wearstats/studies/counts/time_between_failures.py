"""How much use lay between one failure and the next: without any model, whether failures come closer or wider apart.

Waits count in hub-months of use, so that a fleet that grows does not shorten them. Failures that became known on one
day count as one, for nothing lies between them; where there are many such days, days are too coarse to tell, and the
numbers of whole quarters say it better.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.analysis.monitoring.cusum import NELSON_POWER, wait_chart
from wearstats.domain.arrays import FloatArray
from wearstats.domain.frames import columns
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.studies.inputs.hubs_in_use import HubsInUse

FEWEST_WAITS = 10
"""Waits below which their limits say nothing (judgement)."""
MOST_SHARED = 0.05
"""Share of days with several failures from which days are too coarse (judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FailureWaits:
    """Waits between failures.

    Parameters
    ----------
    frame : DataFrame
        A row a wait: ``until`` (the day on which it ended), ``hub_months``, ``outside`` ("shorter", "longer" or "").
    usual : tuple of float
        Between which hub-months chance leaves nearly all waits.
    since_last : float
        Hub-months since the last failure.
    """

    frame: Annotated[pd.DataFrame, columns(text="outside", number="hub_months", day="until")]
    usual: tuple[float, float]
    since_last: float

    @property
    def last_is_long(self) -> bool:
        """Whether the wait that is under way is longer already than chance allows."""
        return self.since_last > self.usual[1]

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {
            "waits": len(self.frame),
            "usual_hub_months": self.usual,
            "shorter": self.frame.loc[self.frame["outside"].eq("shorter"), "until"].tolist(),
            "longer": self.frame.loc[self.frame["outside"].eq("longer"), "until"].tolist(),
            "hub_months_since_last": self.since_last,
        }


def wait_for_failures(hubs: HubsInUse) -> FailureWaits | None:
    """Put the waits together; None where there are fewer than `FEWEST_WAITS`, or more than `MOST_SHARED` share a day.

    Parameters
    ----------
    hubs : HubsInUse
        With their failures.
    """
    ended = hubs.frame.loc[hubs.frame["failed"], "to_on"].dropna().to_numpy(dtype="datetime64[D]")
    days, failures = np.unique(ended, return_counts=True)
    if days.size <= FEWEST_WAITS or float(np.mean(failures > 1)) > MOST_SHARED:
        return None
    used = hub_months_until(hubs, np.append(days, np.datetime64(hubs.as_of)))
    waits = np.diff(used[:-1])
    some = waits > 0
    chart = wait_chart(waits[some])
    return FailureWaits(
        frame=pd.DataFrame(
            {
                "until": days[1:][some].astype(object),
                "hub_months": waits[some],
                "outside": np.select([chart.value < chart.low, chart.value > chart.high], ["shorter", "longer"], ""),
            }
        ),
        usual=(max(chart.low, 0.0) ** (1 / NELSON_POWER), chart.high ** (1 / NELSON_POWER)),
        since_last=float(used[-1] - used[-2]),
    )


def hub_months_until(hubs: HubsInUse, days: NDArray[np.datetime64]) -> FloatArray:
    """Give the months that all hubs together had been in use by each of some days, shape (days,)."""
    start = np.sort(hubs.frame["from_on"].to_numpy(dtype="datetime64[D]").astype(np.int64))
    stop = np.sort(hubs.frame["to_on"].dropna().to_numpy(dtype="datetime64[D]").astype(np.int64))
    day = days.astype("datetime64[D]").astype(np.int64)

    def passed(since: NDArray[np.int64]) -> FloatArray:
        count = np.searchsorted(since, day, side="right")
        total = np.concatenate([[0], np.cumsum(since)])
        return np.asarray(count * day - total[count], dtype=float)

    return np.asarray((passed(start) - passed(stop)) / MEAN_MONTH_DAYS)
