"""Read the store's fittings as histories, for the studies that follow them."""

from __future__ import annotations

import datetime
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from wearstats.analysis.histories.build import Histories, build_histories
from wearstats.analysis.histories.records_end import OutcomesEnd
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.errors import AnalysisError
from wearstats.store.database.connection import Store
from wearstats.studies.inputs.coverage import outcomes_end
from wearstats.studies.inputs.sampling import sampled_names, sampled_store, shaft_sample
from wearstats.studies.snapshot import Snapshot, part

RISK_MONTHS = (6.0, 12.0, 24.0)
_STEP_MONTHS = 0.5
_SHAFTS_AT_ONCE = 200_000
_WORDS = (
    "kind", "pattern", "duty", "region", "went_on", "method_sent", "method_done", "period", "outcome", "prompted",
    "cause", "reason",
)  # fmt: skip
"""Columns with few words, each said of very many fittings."""

_OF_NO_SHAFT = ""
"""Stands for hubs whose shaft is not known."""


@part("known_on", "models_from", kept=True)
def sampled_histories(snapshot: Snapshot) -> Histories:
    """Give the histories of the shafts in the sample, of all patterns; where there is none, of all shafts.

    Contradictions are looked for among all fittings of these shafts, of whatever pattern, since a hub of the wrong
    pattern may sit on a shaft.
    """
    names, ends = sampled_names(snapshot), outcomes_end(snapshot)
    if names is None:
        return _read_all(snapshot.store, as_of=snapshot.known_on, ends=ends)
    return read_together(sampled_store(snapshot), as_of=snapshot.known_on, shafts=names, ends=ends)


def histories_of(snapshot: Snapshot) -> Histories:
    """Give those of the sample and of the snapshot's pattern."""
    histories = sampled_histories(snapshot)
    return histories if snapshot.pattern is None else of_pattern(histories, snapshot.pattern)


def all_histories(snapshot: Snapshot) -> Histories:
    """Give those of all shafts and of the snapshot's pattern, to be counted; of a large fleet they are not kept."""
    if shaft_sample(snapshot) is None:
        return histories_of(snapshot)
    histories = _read_all(snapshot.store, as_of=snapshot.known_on, ends=outcomes_end(snapshot))
    return histories if snapshot.pattern is None else of_pattern(histories, snapshot.pattern)


def _read_all(store: Store, *, as_of: datetime.date, ends: OutcomesEnd) -> Histories:
    """Read all histories, of very many shafts in pieces, so that they fit into memory.

    Of very many shafts contradictions are looked for among those of a piece of them.
    """
    shafts = store.query("fittings/shafts", as_of=as_of, pattern=None)["shaft"]
    if len(shafts) <= _SHAFTS_AT_ONCE:
        return read_together(store, as_of=as_of, shafts=None, ends=ends)
    groups = [shafts[begin : begin + _SHAFTS_AT_ONCE].tolist() for begin in range(0, len(shafts), _SHAFTS_AT_ONCE)]
    groups[0].append(_OF_NO_SHAFT)
    pieces = [_words_shared(read_together(store, as_of=as_of, shafts=group, ends=ends)) for group in groups]
    return Histories(
        frame=pd.concat([piece.frame for piece in pieces], ignore_index=True),
        left_out=pd.concat([piece.left_out for piece in pieces], ignore_index=True),
        as_of=as_of,
        delay=max((piece.delay for piece in pieces), key=lambda delay: delay.told),
    )


def _words_shared(histories: Histories) -> Histories:
    """Hold each word once, however many fittings it is said of: of a million, words are most of the memory."""
    frame = histories.frame
    shared = {}
    for name in _WORDS:
        codes, words = pd.factorize(frame[name])
        shared[name] = pd.Series(words.array, dtype=frame[name].dtype).reindex(codes).set_axis(frame.index)
    return replace(histories, frame=frame.assign(**shared))


def read_together(
    store: Store, *, as_of: datetime.date, shafts: list[str] | None, ends: OutcomesEnd | None = None
) -> Histories:
    """Read some shafts, with all that happened to their hubs, on whatever shaft, and keep what is theirs."""
    asked: dict[str, Any] = {"as_of": as_of, "shafts": shafts}
    fittings = store.query("fittings/histories", **asked)
    histories = build_histories(
        fittings=fittings,
        follow_ups=store.query("fittings/follow_ups", **asked),
        dispatches=store.query("fittings/dispatches", **asked),
        returns=store.query("fittings/returns", **asked),
        shaft_events=store.query("wear/events", **asked),
        as_of=as_of,
        ends=ends,
    )
    if shafts is None:
        return histories
    theirs = set(shafts)
    kept = histories.frame["shaft"].astype(object).fillna(_OF_NO_SHAFT).isin(theirs)
    left = histories.left_out["fitting"].isin(fittings.loc[fittings["shaft"].isin(theirs), "fitting"])
    return replace(histories, frame=histories.frame[kept], left_out=histories.left_out[left])


def of_pattern(histories: Histories, pattern: str) -> Histories:
    """Keep the histories of one pattern."""
    return replace(
        histories,
        frame=histories.frame[histories.frame["pattern"].eq(pattern)],
        left_out=histories.left_out[histories.left_out["pattern"].eq(pattern)],
    )


def require_fittings(histories: Histories, pattern: str | None) -> None:
    """Raise an AnalysisError when no fitting ran."""
    if histories.by_flanks.empty:
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
