"""Ends for another cause beside the flanks: as histories of their own, and as shares lost beside each other.

An end for another cause is heard of as a failure is: reported unasked, or found by asking, or not at all. It has a
chance of an unasked report of its own (`wearstats.analysis.survival.reporting`), since a slack nut and a loose hub need
not be written about alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from wearstats.analysis.rates.two_by_two import upper_bound, wilson
from wearstats.analysis.survival.cumulative_incidence import combine_causes
from wearstats.analysis.survival.group_risks import GroupRisk
from wearstats.analysis.survival.reporting import SilentHistories

CAUSES: Mapping[str, str] = {"flanks": "failed", "other causes": "other-cause", "removed": "removed"}
"""What a hub can be lost to, and the outcome of the histories that says so."""


def end_histories(ran: pd.DataFrame, outcomes: Sequence[str]) -> SilentHistories:
    """Take the histories with an end for another cause as the event, the flanks' failures as lost from sight.

    Parameters
    ----------
    ran : DataFrame
        Histories of the fittings that ran.
    outcomes : sequence of str
        Which outcomes count as the event (``other-cause``, ``removed``).

    Returns
    -------
    SilentHistories
        Its ``failed`` says which ended so. An end reported unasked is dated to its day, one found by asking lies
        anywhere since the last news.
    """
    plain = SilentHistories.from_frame(ran)
    ended = ran["outcome"].isin(outcomes).to_numpy(dtype=bool)
    unasked = ended & ran["prompted"].eq("unasked").to_numpy(dtype=bool)
    observed = ran["observed_months"].to_numpy(dtype=float)
    last = ran["last_tight_months"].to_numpy(dtype=float)
    # the middle of the interval is on record: its end is as far beyond it as the last news is before it
    end = np.where(unasked, observed, 2 * observed - last)
    left = np.where(plain.failed, observed, plain.left)
    return SilentHistories(
        left=np.where(ended, np.where(unasked, observed, last), left),
        right=np.where(ended, end, np.inf),
        entry=plain.entry,
        silent_from=plain.silent_from,
        last_word=np.where(ended, end, observed),
        failed=ended,
        unasked=unasked,
        asked=ended & ran["prompted"].eq("asked").to_numpy(dtype=bool),
        shaft=plain.shaft,
    )


def incidence_of_risks(risks: Sequence[GroupRisk]) -> pd.DataFrame:
    """Put one group's curves of single causes beside each other.

    Parameters
    ----------
    risks : sequence of GroupRisk
        Of the same group and months, one for each of `CAUSES`, from the same shafts drawn anew.

    Returns
    -------
    DataFrame
        ``cause``, ``months``, ``share``, ``low``, ``high`` as far as the group is followed, for causes to which any
        was lost. The interval is the score interval on the effective number, as for the risks themselves.
    """
    flanks = risks[0]
    told = flanks.months <= flanks.followed_to
    shares = combine_causes([risk.share for risk in risks])
    spreads = combine_causes([risk.spread for risk in risks])
    frames = []
    for cause, share, spread in zip(CAUSES, shares, spreads, strict=True):
        if share[-1] <= 1e-9:
            continue
        variance = np.nanvar(spread, axis=0, ddof=1)
        number = flanks.told.copy()
        np.divide(share * (1 - share), variance, out=number, where=variance > 0)
        number = np.minimum(number, flanks.told)
        ends = [
            wilson(part * count, count) if part > 1e-9 else upper_bound(0, max(int(count), 1))
            for part, count in zip(share[told], number[told], strict=True)
        ]
        frame = pd.DataFrame({"cause": cause, "months": flanks.months[told], "share": share[told]})
        frames.append(frame.assign(low=[end.low or 0.0 for end in ends], high=[end.high or 0.0 for end in ends]))
    found = pd.concat(frames, ignore_index=True) if frames else no_incidence()
    # nothing is lost at the start, and that is no estimate
    return found.assign(high=found["high"].where(found["months"] > 0, found["share"]))


def no_incidence() -> pd.DataFrame:
    """Give the table of a group of which nothing was lost."""
    numbers = {name: np.empty(0) for name in ("months", "share", "low", "high")}
    return pd.DataFrame({"cause": pd.Series(dtype="str"), **numbers})
