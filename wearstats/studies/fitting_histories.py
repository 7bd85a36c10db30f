"""Read the store's fittings as histories, for the studies that follow them."""

from __future__ import annotations

import datetime
from typing import Any

import numpy as np

from wearstats.analysis.histories import Histories, build_histories
from wearstats.analysis.silence import SilentHistories
from wearstats.errors import AnalysisError
from wearstats.store.connection import Store

RISK_MONTHS = (6.0, 12.0, 24.0)
_STEP_MONTHS = 0.5


def read_histories(store: Store, *, as_of: datetime.date, pattern: str | None = None) -> Histories:
    """Read the store and put the histories together; of one pattern where asked for.

    Contradictions are looked for among all fittings, since a hub of the wrong pattern may sit on a shaft.
    """
    histories = build_histories(
        fittings=store.query("fitting_histories", as_of=as_of),
        follow_ups=store.query("fitting_follow_ups", as_of=as_of),
        dispatches=store.query("fitting_dispatches", as_of=as_of),
        returns=store.query("fitting_returns", as_of=as_of),
        shaft_events=store.query("growth_events", as_of=as_of),
        as_of=as_of,
    )
    return histories if pattern is None else of_pattern(histories, pattern)


def of_pattern(histories: Histories, pattern: str) -> Histories:
    """Keep the histories of one pattern."""
    return Histories(
        frame=histories.frame[histories.frame["pattern"].eq(pattern)],
        left_out=histories.left_out[histories.left_out["pattern"].eq(pattern)],
        as_of=histories.as_of,
    )


def require_fittings(histories: Histories, pattern: str | None) -> None:
    """Raise an AnalysisError when no fitting ran."""
    if histories.ran.empty:
        left_out = sum(histories.left_out_counts().values())
        also = f" ({left_out} left out because they contradict themselves or cannot be dated)" if left_out else ""
        raise AnalysisError(
            f"no fitting is on record{f' for pattern {pattern}' if pattern else ''} by {histories.as_of}{also}",
            needed="add the tables fittings and follow_ups",
        )


def grid_months(histories: SilentHistories, horizon_months: float) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Give the months at which curves are told: half-months as far as any fitting is followed, and the horizons."""
    end = max(float(histories.last_word.max()), horizon_months, *RISK_MONTHS)
    return np.unique(np.append(np.arange(0.0, end + 2 * _STEP_MONTHS, _STEP_MONTHS), horizon_months))


def ticks_months(followed_to: float) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Choose the months of the table of numbers at risk: at most eight steps of whole quarters."""
    step = next((step for step in (3.0, 6.0, 12.0, 24.0) if followed_to / step <= 8), 48.0)
    return np.arange(0.0, followed_to + 1e-9, step)
