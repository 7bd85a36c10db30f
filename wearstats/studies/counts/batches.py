"""Batches that run wide, and batches of which more work loose than of the others."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
import pandas as pd
from scipy import special

from wearstats.analysis.numerics.multiple_testing import holm
from wearstats.analysis.rates.poisson_rates import compare_rates
from wearstats.domain.frames import columns
from wearstats.studies.inputs.hubs_in_use import HubsInUse, months_in_use
from wearstats.studies.snapshot import Snapshot

_USUAL_GRID_UM = 10.0
_FEWEST_GAUGED = 2
_UNSTATED_U_UM = 2.0
"""Doubt of a gauged space that bears none; judgement."""
LEVEL = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BatchReview:
    """The batches with hubs in use or gauged.

    Parameters
    ----------
    frame : DataFrame
        One row a batch: ``batch``, ``pattern``, ``undersize_um``, ``gauged`` (hubs), ``wider_um`` (mean of gauged less
        nominal space), ``wider_sd_um`` (doubt of that mean), ``plug_low_um``, ``plug_high_um`` (the same as the plug
        gauges tell it), ``allowed_um`` (half the step between sizes), ``wide_p`` (chance of such a mean if the batch
        were no wider than allowed; Holm over the batches), ``odds_p`` (that gauged hubs and plugs agree; Holm),
        ``hubs`` (that ran), ``failures``, ``hub_months``, ``ratio`` (of its rate to that of all others), ``loose_p``
        (Holm), ``wide``, ``loose``, ``at_odds``, ``withdrawn`` with ``withdrawn_because``, ``went_to`` (shafts on
        which its hubs run), ``untold`` (of those whose owner was not yet warned), ``unheard`` (sent, neither fitted nor
        back as far as is known).
    """

    frame: Annotated[
        pd.DataFrame,
        columns(
            text="batch pattern withdrawn_because",
            number=(
                "undersize_um plug_low_um plug_high_um wider_um wider_sd_um allowed_um hub_months ratio "
                "loose_p wide_p odds_p"
            ),
            whole="gauged hubs failures untold unheard",
            flag="wide at_odds loose withdrawn",
            any="went_to",
        ),
    ]

    @property
    def named(self) -> pd.DataFrame:
        """Those withdrawn, and those that run wide, fail more, or are gauged unlike their plugs, beyond chance."""
        told = self.frame["wide"] | self.frame["loose"] | self.frame["at_odds"] | self.frame["withdrawn"]
        return self.frame[told]

    def to_dict(self) -> list[dict[Hashable, Any]]:
        """Give the part of the ``--json`` document: the batches named, with whom they went to."""
        return self.named.assign(went_to=self.named["went_to"].map(", ".join)).to_dict("records")


def review_batches(snapshot: Snapshot, hubs: HubsInUse) -> BatchReview:
    """Look at every batch.

    Parameters
    ----------
    hubs : HubsInUse
        The hubs that ran.

    Notes
    -----
    A batch is called wide only where its mean is sure to lie more than half a step over its size: then its hubs are
    nearer to the next looser size than to their own. The doubt of the mean holds the spread of the batch and a doubt of
    the gauge that all its hubs share. Where fewer than two hubs were gauged, a go gauge alone can tell: all spaces that
    it enters are at least as wide as it is.
    """
    made = snapshot.query("review/hubs")
    made = made[made["batch"].notna()]
    if snapshot.pattern is not None:
        made = made[made["pattern"].eq(snapshot.pattern)]
    steps = snapshot.query("store/patterns").set_index("pattern")["grid_um"]
    made = made.assign(
        wider_um=1000.0 * (made["space_width_mm"] - made["nominal_space_mm"]),
        u_um=made["space_u_um"].fillna(_UNSTATED_U_UM),
    )
    gauged = made[made["wider_um"].notna()]
    grouped = gauged.groupby("batch")
    plugs = snapshot.query("review/batches").drop_duplicates("batch").set_index("batch")
    if snapshot.pattern is not None:
        plugs = plugs[plugs["pattern"].eq(snapshot.pattern)]
    named = ["pattern", "undersize_um"]
    frame = made.groupby("batch", sort=True)[named].first().combine_first(plugs[named])
    frame = frame.join(plugs[["plug_low_um", "plug_high_um"]].astype(float))
    frame = frame.join(plugs[["withdrawn", "withdrawn_because", "unheard"]])
    frame = frame.assign(
        withdrawn=frame["withdrawn"].fillna(False).astype(bool), unheard=frame["unheard"].fillna(0).astype(int)
    )
    spread = grouped["wider_um"].var(ddof=1).fillna(0.0) / grouped.size()
    frame = frame.assign(
        gauged=grouped.size().reindex(frame.index, fill_value=0),
        wider_um=grouped["wider_um"].mean(),
        wider_sd_um=np.sqrt(spread + grouped["u_um"].mean() ** 2),
        allowed_um=frame["pattern"].map(steps).fillna(_USUAL_GRID_UM).astype(float) / 2,
    ).reset_index()
    frame = frame.assign(**_failures(frame["batch"], hubs))
    judged = frame["gauged"] >= _FEWEST_GAUGED
    told = pd.DataFrame(
        {
            "um": frame["wider_um"].where(judged, frame["plug_low_um"]),
            "sd": frame["wider_sd_um"].where(judged, _UNSTATED_U_UM),
        }
    )
    wide_p = special.ndtr(-((told["um"] - frame["allowed_um"]) / told["sd"]).fillna(-np.inf))
    outside = np.maximum(frame["plug_low_um"] - frame["wider_um"], frame["wider_um"] - frame["plug_high_um"])
    odds_p = np.where(judged, 2 * special.ndtr(-(outside / frame["wider_sd_um"]).fillna(-np.inf)), 1.0)
    frame = frame.assign(
        wide_p=holm(wide_p),
        odds_p=holm(np.minimum(odds_p, 1.0)),
        loose_p=holm(frame["loose_p"].to_numpy(dtype=float)),
    )
    loose = (frame["loose_p"] < LEVEL) & (frame["ratio"].fillna(np.inf) > 1) & (frame["failures"] > 0)
    return BatchReview(frame=frame.assign(wide=frame["wide_p"] < LEVEL, at_odds=frame["odds_p"] < LEVEL, loose=loose))


def _failures(batches: pd.Series[str], hubs: HubsInUse) -> dict[str, Any]:
    """Count failures and months of every batch, and compare it with all others."""
    told = hubs.frame.assign(months=months_in_use(hubs.frame, hubs.as_of))
    sums = told.groupby("batch")[["failed", "months"]].sum().reindex(batches, fill_value=0.0)
    failures, months = sums["failed"].to_numpy(dtype=np.int64), sums["months"].to_numpy(dtype=float)
    all_failures, all_months = int(told["failed"].sum()), float(told["months"].sum())
    changes = [
        compare_rates(int(bad), float(month), all_failures - int(bad), all_months - float(month))
        for bad, month in zip(failures, months, strict=True)
    ]
    running = told[hubs.running].dropna(subset=["batch"])
    untold = (~running["told"]).groupby(running["batch"]).sum()
    went_to = running.groupby("batch")["shaft"].agg(lambda shafts: sorted(shafts))
    return {
        "hubs": told.groupby("batch").size().reindex(batches, fill_value=0).to_numpy(),
        "failures": failures,
        "hub_months": months,
        "ratio": [change.ratio.value for change in changes],
        "loose_p": [change.p_value for change in changes],
        "went_to": [went_to.get(batch, []) for batch in batches],
        "untold": untold.reindex(batches, fill_value=0).to_numpy(dtype=np.int64),
    }
