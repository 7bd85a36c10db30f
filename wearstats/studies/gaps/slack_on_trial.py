"""Whether hubs were found slack on trial as often as the readings let expect: the advice's own chance, checked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy.special import ndtri

from wearstats.analysis.advice.limits import AdviceLimits
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gaps.posterior import draw_maps
from wearstats.analysis.numerics.poisson_binomial import count_chances, count_interval
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.widths.fitted import shared_sd
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.domain.arrays import FloatArray
from wearstats.domain.contact import sum_up_fit, way_in
from wearstats.studies.gaps.known_gaps import with_spaces
from wearstats.studies.gaps.remarks import SlackRemark
from wearstats.studies.inputs.width_fit import width_fit
from wearstats.studies.inputs.widths import readings_in_hand
from wearstats.studies.snapshot import Snapshot, part

_DRAWS: Final = 64
_SHARED: Final = 8
"""So many equally likely values of what all readings share."""
_LEVEL: Final = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class SlackOnTrial:
    """Hubs tried on the shaft that they were chosen for.

    Parameters
    ----------
    tried : int
        With readings in hand when they were sent; of a large fleet, on the sample's shafts.
    slack : int
        Found slack on trial.
    predicted : Estimate
        How many were to be expected; interval of that number, 95 %.
    """

    tried: int
    slack: int
    predicted: Estimate

    @property
    def verdict(self) -> Remark:
        """Whether it is as expected: within the interval, ends included."""
        expected = self.predicted
        code = SlackRemark.AS_EXPECTED
        if expected.high is not None and self.slack > expected.high:
            code = SlackRemark.MORE
        if expected.low is not None and self.slack < expected.low:
            code = SlackRemark.FEWER
        return remark(code, slack=self.slack, tried=self.tried, expected=expected)

    def to_dict(self) -> dict[str, Any]:
        """Give the part of the ``--json`` document."""
        return {"tried": self.tried, "slack": self.slack, "predicted": self.predicted, "verdict": self.verdict}


@part("known_on", "models_from", "pattern", "seed", kept=True)
def slack_on_trial(snapshot: Snapshot) -> SlackOnTrial | None:
    """Compare them; None where no hub that was tried has readings in hand.

    A hub is slack where the smallest gap that it leaves is over the shake limit, as the advice counts it. What is
    unsure of single readings is each hub's own; what all readings at home share moves all hubs at once.

    Raises
    ------
    AnalysisError
        With no reading.
    """
    widths = width_fit(snapshot)
    readings, fit = widths.readings, widths.fit
    rows = snapshot.query("fittings/tried")
    rows = widths.spoiled.without_spaces(rows[rows["pattern"].isin(readings.patterns)])
    in_hand = readings_in_hand(readings, rows)
    if rows.empty or in_hand.inspections.empty:
        return None
    data, told = in_hand.reduce(), with_spaces(rows, readings.patterns).set_index("fitting")
    limit, draws = AdviceLimits().play_um, snapshot.draws.within("slack on trial")
    at_home = in_hand.inspections["class"].eq("home").groupby(in_hand.inspections["unit"]).all()
    shared = shared_sd(fit) * ndtri((np.arange(_SHARED) + 0.5) / _SHARED)
    chances: list[FloatArray] = []
    names: list[str] = []
    for prediction in predict_maps(fit, data):
        units = data.units["unit"].to_numpy(dtype=object)[prediction.unit]
        of_hubs, home = told.loc[units], at_home.loc[units].to_numpy(dtype=float)[:, None]
        rng = draws.generator(prediction.shape.pattern, str(len(chances)))
        normal = rng.standard_normal((len(of_hubs), _DRAWS, prediction.shape.places + 1))
        maps = draw_maps(prediction, normal[..., 1:])
        spaces = of_hubs["space_mean_um"].to_numpy(dtype=float)[:, None]
        spaces = spaces + of_hubs["space_sd_um"].to_numpy(dtype=float)[:, None] * normal[..., 0]
        passed, mean = way_in(maps), maps.mean(axis=(-2, -1))
        # a shaft that is wider than all readings say is as a hub that is tighter
        fits = (sum_up_fit(passed, mean, spaces - shift * home) for shift in shared)
        chances.append(np.stack([(fitted.smallest_gap_um > limit).mean(axis=1) for fitted in fits]))
        names += of_hubs.index.tolist()
    chance = np.concatenate(chances, axis=1)
    low, high = count_interval(count_chances(chance), level=_LEVEL)
    return SlackOnTrial(
        tried=chance.shape[1],
        slack=int(told.loc[names, "slack"].sum()),
        predicted=Estimate(
            value=float(chance.sum(axis=1).mean()),
            low=low,
            high=high,
            level=_LEVEL,
            method=remark(SlackRemark.BY_READINGS),
        ),
    )
