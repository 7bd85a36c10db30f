"""The hubs in use with what the law of working loose predicts of each, on any day, as known then.

The law is fitted to the histories as they stood on that day. What is known of a fitting's gap rests on readings of the
day of choice, so that no later one enters; only the width model behind them, how readings scatter, is today's. A hub of
which no gap is known is given those of all others together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import numpy as np
import pandas as pd

from wearstats.analysis.answers.model import LastAnswers, draw_last_answers
from wearstats.analysis.gaps.nodes import GapNodes
from wearstats.analysis.loosening.fit import LooseningFit
from wearstats.analysis.loosening.forecast import Predicted, predict
from wearstats.analysis.loosening.likelihood import LooseningData
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.domain.arrays import BoolArray, FloatArray
from wearstats.domain.frames import columns
from wearstats.errors import AnalysisError
from wearstats.studies.forecast.answers import answer_records
from wearstats.studies.gaps.known_gaps import KnownGaps, known_gaps
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.inputs.hubs_in_use import HubsInUse
from wearstats.studies.loosening.covariates import beside_gap, with_gaps
from wearstats.studies.loosening.fit_from_store import loosening_fit
from wearstats.studies.loosening.risk_model import FEWEST_FAILURES
from wearstats.studies.snapshot import Snapshot

AHEAD_MONTHS = (3.0, 12.0)
"""A quarter and a year."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunningChances:
    """What is predicted of the hubs in use on one day.

    Parameters
    ----------
    hubs : DataFrame
        Rows of `HubsInUse.frame` that are in use, in the order of the chances.
    gap_um : ndarray, shape (hubs,)
        Mean of what is known of the gap; NaN where nothing is.
    predicted : Predicted
        Chances over `AHEAD_MONTHS`.
    answers : LastAnswers
        When owners are last heard of in the time ahead, drawn beside the law's parameters.
    fit : LooseningFit
        The law as fitted then.
    data : LooseningData
        All fittings then, those without a known gap too.
    running : ndarray of bool, shape (fittings,)
        Which of `data` are in use.
    """

    hubs: Annotated[
        pd.DataFrame,
        columns(
            text="fitting shaft hub pattern region duty method_sent method_done outcome batch",
            number="undersize_um",
            flag="failed withdrawn told",
            day="from_on last_word_on recorded_on?",
            any="cause to_on",
        ),
    ]
    gap_um: FloatArray
    predicted: Predicted
    answers: LastAnswers
    fit: LooseningFit
    data: LooseningData
    running: BoolArray

    def known(self, time: int, *, ask_all: bool = False) -> FloatArray:
        """Give the chance that a failure comes to be known in the time ahead, shape (draws, hubs).

        Parameters
        ----------
        time : int
            Which of `AHEAD_MONTHS`.
        ask_all : bool
            Whether all owners are asked on the day, and answer, beside being asked later as before.
        """
        answering = self.answers.answering(time)
        after = self.answers.after(time, AHEAD_MONTHS[time])
        return self.predicted.known_by(time, np.ones_like(answering) if ask_all else answering, after)

    @property
    def assumed(self) -> bool:
        """Whether how many failures are reported unasked is not told by the data, as where none was found by asking."""
        return not bool(self.fit.data.asked.any())


def predict_running(snapshot: Snapshot, hubs: HubsInUse, *, draws: int) -> RunningChances:
    """Predict the hubs in use on the snapshot's day with the law as known then.

    Parameters
    ----------
    hubs : HubsInUse
        The hubs of its histories.
    draws : int
        Of the law's parameters.

    Raises
    ------
    AnalysisError
        When no hub is in use, or fewer than `FEWEST_FAILURES` failures with a known gap are on record.
    """
    ran, gaps = histories_of(snapshot).ran.reset_index(drop=True), known_gaps(snapshot)
    if not hubs.running.any():
        raise AnalysisError(f"no hub was in use on {hubs.as_of}", needed="fittings on record")
    known, rows = with_gaps(ran, gaps)
    failures = int(known["outcome"].eq("failed").sum())
    if failures < FEWEST_FAILURES:
        raise AnalysisError(
            f"failures with a known gap on record on {hubs.as_of}: {failures}",
            needed=f"at least {FEWEST_FAILURES}, and the readings that were in hand when those hubs were chosen",
        )
    nodes = gaps.nodes["gap_left_um"].take(rows)
    fit = loosening_fit(snapshot)
    value = _nodes_of_all(ran, gaps, nodes)
    told = SilentHistories.from_frame(ran, with_late_news=True)
    beside = beside_gap(ran, fit.names) - fit.covariate_means
    data = LooseningData.of(told, fit.term(value), beside, now=ran["age_months"].to_numpy(dtype=float))
    order = np.argsort(told.shaft, kind="stable")
    running = hubs.running.to_numpy(dtype=bool)[order]
    months = np.array(AHEAD_MONTHS)
    place = order[running]
    answers = draw_last_answers(
        answer_records(snapshot, hubs, ran["entry_months"]),
        hubs.running.to_numpy(dtype=bool),
        ends=months,
        draws=draws,
        rng=snapshot.draws.generator("answers", snapshot.known_on.isoformat()),
    )
    in_order = np.argsort(np.argsort(place, kind="stable"), kind="stable")
    gap = np.where(ran["fitting"].isin(known["fitting"]), value.mean(axis=1), np.nan)
    return RunningChances(
        hubs=hubs.frame.iloc[place].reset_index(drop=True),
        gap_um=gap[place],
        predicted=predict(
            fit,
            running,
            data=data,
            months=months,
            leaving=_leaving(hubs),
            draws=draws,
            rng=snapshot.draws.generator("laws", snapshot.known_on.isoformat()),
        ),
        answers=LastAnswers(month=answers.month[:, in_order]),
        fit=fit,
        data=data,
        running=running,
    )


def _nodes_of_all(ran: pd.DataFrame, gaps: KnownGaps, known: GapNodes) -> FloatArray:
    """Give the gap's nodes of every fitting, shape (fittings, nodes); of one without readings those of all together."""
    place = pd.Series(np.arange(len(gaps.frame)), index=gaps.frame["fitting"]).reindex(ran["fitting"])
    own = gaps.nodes["gap_left_um"].value_um
    count = own.shape[1]
    all_together = np.quantile(known.value_um, (np.arange(count) + 0.5) / count)
    have = place.notna().to_numpy(dtype=bool)
    value = np.tile(all_together, (len(ran), 1))
    value[have] = own[place.to_numpy(dtype=float)[have].astype(np.int64)]
    return value


def _leaving(hubs: HubsInUse) -> float:
    """How many hubs come off for other causes, a month and hub in use."""
    first = hubs.frame["from_on"].min().date()
    months = float(hubs.months_within(first, hubs.as_of).sum())
    gone = int((hubs.frame["to_on"].notna() & ~hubs.frame["failed"]).sum())
    return gone / months if months > 0 else 0.0
