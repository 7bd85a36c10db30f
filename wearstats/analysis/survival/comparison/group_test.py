"""Whether the groups of a grouping fail alike, or why that cannot be said."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from wearstats.analysis.remark import Quoted, Remark, remark
from wearstats.analysis.survival.comparison.redrawn_log_rank import compare_groups
from wearstats.analysis.survival.remarks import SurvivalRemark
from wearstats.analysis.survival.reporting import SilentHistories
from wearstats.errors import AnalysisError


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupTest:
    """Whether the groups of a grouping fail alike.

    Parameters
    ----------
    interval_log_rank_p : float or None
        Log-rank test that takes the intervals, the silence and the shafts as they are, its null redrawn.
    why : Remark or None
        Why there is none.
    """

    interval_log_rank_p: float | None
    why: Remark | None = None


def judge_groups(ran: pd.DataFrame, group: ArrayLike, *, reported: float, rng: np.random.Generator) -> GroupTest:
    """Test whether groups fail alike.

    Parameters
    ----------
    ran : DataFrame
        Histories of the fittings compared, all of which ran.
    group : array_like, shape (fittings,)
        Which group each belongs to.
    reported : float
        Chance that a failure is reported unasked.
    rng : Generator
        For redrawing the null.
    """
    names = np.asarray(group, dtype=str)
    if np.unique(names).size < 2:
        return GroupTest(interval_log_rank_p=None, why=remark(SurvivalRemark.ONE_GROUP))
    age = ran["age_months"].to_numpy(dtype=float)
    try:
        test = compare_groups(SilentHistories.from_frame(ran), age, names, reported=reported, rng=rng)
    except AnalysisError as error:
        return GroupTest(interval_log_rank_p=None, why=remark(Quoted.REFUSAL, message=error.why))
    return GroupTest(interval_log_rank_p=test.p_value)
