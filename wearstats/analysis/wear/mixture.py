"""The distribution of true wear over shafts, freed of the readings' error, and the share that has none.

What a shaft has lost is read with a known error, so the histogram of readings is wider than the truth. Three families
of wear are fitted (`wearstats.analysis.wear.families`, `wear_likelihood`); averaged and put right by the readings they
give the spread of losses (`wear_spread`). The share of unworn shafts is the weight of the new ones in the mixture. It
hangs on what little wear looks like, which only the family says, so it is refused where the families disagree, where
the readings leave it open, where no family fits, and where what is called new is not like new shafts.

References
----------
.. [1] G. McLachlan, D. Peel, Finite Mixture Models, Wiley 2000 (6.9 choosing a family).
.. [2] K. P. Burnham, D. R. Anderson, Model Selection and Multimodel Inference, 2nd ed., Springer 2002 (4.3).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.remark import remark
from wearstats.analysis.wear.distribution import WearSpread, akaike_weights, spread_wear
from wearstats.analysis.wear.families import FAMILIES, WearLaw
from wearstats.analysis.wear.likelihood import BOUNDS, WearLikelihood
from wearstats.analysis.wear.remarks import WearRemark
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError, counted

LEAST_SHAFTS = 30
"""Fewer shafts than that bear no mixture of five parameters (judgement)."""

LEAST_FIT = 0.05
"""Families whose smooth test of fit gives less are not believed about the unworn share."""

NEW_REACH_UM = (8.0, 12.0)
"""A law whose new shafts lie further from the nominal width, or spread more (SD), takes worn ones for new (judgement:
twice `wearstats.analysis.wear.likelihood.NEW_MEAN_SD_UM`, and twice the spread that a usual tolerance allows)."""

_WIDEST_SHARE = 0.5
_NEAR = 4.0  # families within that of the best criterion all have their say about the unworn share
_DROP = 3.841458820694124


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WearMixture:
    """The fitted families, the best first, and what they and the readings make of the spread of losses.

    Parameters
    ----------
    laws : tuple of WearLaw
        In order of Akaike's criterion.
    law : WearSpread
        The averaged laws, put right by the readings.
    unworn_share : Estimate
        With its profile-likelihood interval; status ``none`` where unworn shafts cannot be told from little worn ones.
    shafts : int
        How many stand behind it.
    """

    laws: tuple[WearLaw, ...]
    law: WearSpread
    unworn_share: Estimate
    shafts: int

    @property
    def smooth(self) -> WearSpread | None:
        """The averaged laws alone, fit to be drawn; None where the readings belie every family."""
        return self.law.averaged() if any(law.fit_p >= LEAST_FIT for law in self.laws) else None


def fit_wear_mixture(
    below_new_um: FloatArray, error_sd_um: FloatArray, *, new_sd_um: float | None = None, unworn: bool = True
) -> WearMixture:
    """Fit all families.

    Parameters
    ----------
    below_new_um : ndarray, shape (shafts,)
        Mean of each shaft as read, not drawn towards anything (positive: metal lost).
    error_sd_um : ndarray, shape (shafts,)
        Known standard deviation of its error.
    new_sd_um : float, optional
        Spread of new shafts where it is set (from the tolerance) instead of estimated.
    unworn : bool
        Whether to give the unworn share its interval, which costs most of the time.

    Returns
    -------
    WearMixture

    Raises
    ------
    AnalysisError
        With fewer than `LEAST_SHAFTS` shafts.
    """
    if below_new_um.size < LEAST_SHAFTS:
        raise AnalysisError(
            f"{counted(below_new_um.size, 'shaft is', 'shafts are')} too few for the shape of their wear",
            needed=f"readings of at least {LEAST_SHAFTS} shafts",
        )
    likelihood = WearLikelihood(below_new_um, error_sd_um, new_sd_um=new_sd_um)
    laws = tuple(sorted((likelihood.fit(family, thorough=unworn) for family in FAMILIES), key=lambda law: law.aic))
    share = _unworn_share(likelihood, laws) if unworn else no_estimate(remark(WearRemark.UNWORN_NOT_ASKED))
    return WearMixture(laws=laws, law=spread_wear(likelihood, laws), unworn_share=share, shafts=int(below_new_um.size))


def _unworn_share(likelihood: WearLikelihood, laws: tuple[WearLaw, ...]) -> Estimate:
    """Profile the share under every family that may be true, and refuse where it is not told.

    What families with about as good a criterion disagree about is not known; one that the readings belie says nothing.
    """
    near = tuple(law for law in laws if law.aic <= laws[0].aic + _NEAR and law.fit_p >= LEAST_FIT)
    if any(abs(law.new_mean_um) > NEW_REACH_UM[0] or law.new_sd_um > NEW_REACH_UM[1] for law in near):
        return no_estimate(remark(WearRemark.UNWORN_NOT_NEW))
    if not near:
        return no_estimate(remark(WearRemark.UNWORN_NO_FAMILY))
    ends = [_profile(likelihood, law) for law in near]
    low, high = min(low for low, _ in ends), max(high for _, high in ends)
    if high - low > _WIDEST_SHARE:
        return no_estimate(remark(WearRemark.UNWORN_NOT_TOLD, low_percent=100 * low, high_percent=100 * high))
    families = ", ".join(law.family for law in near)
    value = float(akaike_weights(near) @ np.array([law.unworn for law in near]))
    return Estimate(
        value=value if value > 2e-3 else 0.0,
        low=low,
        high=high,
        method=remark(WearRemark.UNWORN_WEIGHT, families=families),
    )


def _profile(likelihood: WearLikelihood, law: WearLaw) -> tuple[float, float]:
    """Shares at which twice the log likelihood has dropped by the 95 % point of chi-square, 0 and 1 at the ends."""
    best = likelihood.with_slope(law.family, law.parameters)[0]
    centre = float(law.parameters[0])
    guess = 2 / float(np.sqrt(likelihood.scatter(law.family, law.parameters)[0, 0]))
    wanted = float(np.sqrt(_DROP))
    edges = []
    for end in BOUNDS[0]:
        start, inside, outside = law.parameters, (0.0, 0.0), (abs(end - centre), np.inf)
        step = min(guess, outside[0])
        for _ in range(12):
            value, start = likelihood.maximise(
                law.family, start, {**likelihood.held(), 0: centre + step * float(np.sign(end))}
            )
            # the root of the drop goes nearly straight with the logit
            root = float(np.sqrt(max(2 * (value - best), 0.0)))
            if abs(root - wanted) < 0.02 * wanted or (root < wanted and step >= abs(end - centre)):
                break
            inside, outside = ((step, root), outside) if root < wanted else (inside, (step, root))
            if np.isinf(outside[1]):
                step = min(step * min(1.05 * wanted / max(root, 0.1), 4.0), abs(end - centre))
            else:
                part = (wanted - inside[1]) / (outside[1] - inside[1])
                step = inside[0] + min(max(part, 0.05), 0.95) * (outside[0] - inside[0])
        logit = centre + step * float(np.sign(end))
        at_end = root < 0.98 * wanted or abs(end - centre) < 1e-3
        edges.append((0.0 if end < 0 else 1.0) if at_end else float(1 / (1 + np.exp(-logit))))
    return edges[0], edges[1]
