"""How true losses are spread over shafts: the fitted laws, put right by the readings where these know better.

A law of five parameters is never quite true, and the more shafts there are the surer it is of what is not so. The
readings themselves know where shafts lie to within their error. So the averaged laws are only the start: every shaft's
loss is worked out from its reading and the law, and the mean of these is the next spread; a few rounds of that leave
the law to fill in what the errors blur, and the tail that no shaft reached. Every share under the spread is a smooth
function of the readings, and its error is worked out from what each single shaft does to it, by way of the parameters,
of the families' weights and of every round.

References
----------
.. [1] N. Laird, Nonparametric maximum likelihood estimation of a mixing distribution, JASA 73 (1978) 805-811 (rounds
   without end lead there, and to spikes).
.. [2] S. T. Buckland, K. P. Burnham, N. H. Augustin, Model selection: an integral part of inference, Biometrics 53
   (1997) 603-618 (weights of the families).
.. [3] R. S. Woodruff, Confidence intervals for medians and other position measures, JASA 47 (1952) 635-646.
.. [4] F. R. Hampel, The influence curve and its role in robust estimation, JASA 69 (1974) 383-393.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import Remark, remark
from wearstats.analysis.wear.families import Cells, WearLaw, law_masses
from wearstats.analysis.wear.likelihood import BOUNDS, WearLikelihood
from wearstats.analysis.wear.remarks import WearRemark
from wearstats.domain.arrays import FloatArray

ROUNDS = 3
"""How often the readings put the law right: enough for two lumps, too few for spikes."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WearSpread:
    """How losses are spread.

    Parameters
    ----------
    cells : Cells
        What a shaft may have lost.
    masses : ndarray, shape (cells,)
        Share of shafts in each.
    likelihood : WearLikelihood
        The readings.
    laws : tuple of WearLaw
        The start.
    rounds : tuple of ndarray, shape (cells,)
        The spread before each round.
    """

    cells: Cells
    masses: FloatArray
    likelihood: WearLikelihood
    laws: tuple[WearLaw, ...]
    rounds: tuple[FloatArray, ...]

    def cumulative(self, below_new_um: FloatArray) -> FloatArray:
        """Share of shafts that have lost less than that, same shape as the argument."""
        return np.asarray(np.interp(below_new_um, self.cells.edges_um, self._below()))

    def density(self, below_new_um: FloatArray) -> FloatArray:
        """Density of what shafts have lost, per um, same shape as the argument."""
        return np.asarray(np.interp(below_new_um, self.cells.middles_um, self.masses / self.cells.width_um))

    def averaged(self) -> WearSpread:
        """Give the averaged laws alone: as smooth as they are, where the rounds follow single shafts."""
        return replace(self, masses=self.rounds[0] if self.rounds else self.masses, rounds=())

    def density_band(self, below_new_um: FloatArray, *, window_um: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give the density with its interval, of what the laws leave open.

        Parameters
        ----------
        below_new_um : ndarray, shape (points,)
            Where.
        window_um : float
            Width of the windows over which it is averaged.

        Returns
        -------
        value, low, high : ndarray, shape (points,)
            Per um; ends of 95 %.
        """
        ends = [np.array([self.part_below(x + sign * window_um / 2) for x in below_new_um]) for sign in (-1, 1)]
        share, se = self.shares(ends[1] - ends[0])
        pairs = [_logit_interval(float(v), float(s), self.reach) for v, s in zip(share, se, strict=True)]
        low, high = np.array(pairs).T
        return share / window_um, low / window_um, high / window_um

    def quantile(self, probability: float) -> float:
        """Give what that share of the shafts has lost less than, um."""
        return float(np.interp(probability, self._below(), self.cells.edges_um))

    def _below(self) -> FloatArray:
        return np.concatenate([[0.0], np.cumsum(self.masses)])

    def shares(self, parts: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Give shares of the shafts and their standard errors.

        Parameters
        ----------
        parts : ndarray, shape (shares, cells)
            Chance that a shaft of that loss is counted.

        Returns
        -------
        share, se : ndarray, shape (shares,)
        """
        influence = self._influence(parts)
        shafts = self.likelihood.shafts
        spare = max(shafts - 5, 1) / shafts
        return parts @ self.masses, np.sqrt(self.likelihood.count @ influence**2 / spare)

    def share_estimates(self, parts: FloatArray, *, common_um: float, method: Remark) -> list[Estimate]:
        """Give shares with intervals even on the logit; what all readings share moves every loss by `common_um`."""
        value, se = self.shares(parts)
        if common_um > 0:
            step = common_um / self.cells.width_um
            moved = [_shifted(self.masses, by) for by in (step, -step)]
            se = np.hypot(se, 0.5 * np.abs(parts @ (moved[0] - moved[1])))
        return [
            Estimate(value=float(v), low=float(a), high=float(b), method=method)
            for v, s in zip(value, se, strict=True)
            for a, b in [_logit_interval(float(v), float(s), self.reach)]
        ]

    @property
    def reach(self) -> float:
        """Standard errors to either side of an interval of 95 %."""
        return float(special.stdtrit(max(self.likelihood.shafts - 5, 1), 0.975))

    def quantiles_um(self, probabilities: Sequence[float], *, common_se_um: float) -> list[Estimate]:
        """Give what shares of the shafts have lost less than; what all readings share adds to the doubt."""
        values = [self.quantile(p) for p in probabilities]
        parts = np.stack([self.part_below(value) for value in values])
        _, errors = self.shares(parts)
        found = []
        for probability, value, se in zip(probabilities, values, errors, strict=True):
            low, high = (self.quantile(p) for p in _seen_shares(probability, float(se), self.reach))
            common = self.reach * common_se_um
            found.append(
                Estimate(
                    value=value,
                    low=value - float(np.hypot(value - low, common)),
                    high=value + float(np.hypot(high - value, common)),
                    method=remark(WearRemark.FITTED_LAW),
                )
            )
        return found

    def part_below(self, below_new_um: float) -> FloatArray:
        """Share of every cell that lies below, shape (cells,)."""
        return np.clip((below_new_um - self.cells.edges_um[:-1]) / self.cells.width_um, 0.0, 1.0)

    def _influence(self, parts: FloatArray) -> FloatArray:
        """Tell what one more shaft like each does to shares, shape (readings, shares) [4]_."""
        like = self.likelihood
        kernel, count = like.kernel, like.count
        total = count.sum()
        weight = parts.T.astype(float)
        influence = np.zeros((kernel.shape[0], weight.shape[1]))
        after = self.masses
        for before in reversed(self.rounds):
            density = like.density(before)
            ratio = (count / density) @ kernel / total
            told = (kernel @ (before[:, None] * weight)) / density[:, None]
            influence += (told - after @ weight) / total
            weight = ratio[:, None] * weight - kernel.T @ (told * (count / density)[:, None]) / total
            after = before
        return influence + self._law_influence(weight)

    def _law_influence(self, weight: FloatArray) -> FloatArray:
        """Tell the same of the laws' parameters and of the weights of their families."""
        like = self.likelihood
        held = like.held()
        masses, logs, moves = [], [], []
        for law in self.laws:
            mass, slopes = law_masses(law.family, law.parameters, self.cells)
            log, scores = like.scores(law.family, law.parameters)
            inside = (law.parameters > BOUNDS[:, 0] + 1e-6) & (law.parameters < BOUNDS[:, 1] - 1e-6)
            free = np.array([k for k in range(5) if k not in held and inside[k]])
            values, vectors = np.linalg.eigh(like.curvature(law.family, law.parameters)[np.ix_(free, free)])
            inverse = (vectors / np.maximum(values, 1e-3)) @ vectors.T
            moves.append(scores[:, free] @ inverse @ (slopes[free] @ weight))
            masses.append(mass @ weight)
            logs.append(log)
        share = akaike_weights(self.laws)
        mean_log = np.tensordot(share, np.array(logs), axes=1)
        found = np.tensordot(share, np.array(moves), axes=1)
        mean_mass = share @ np.array(masses)
        for w, log, mass in zip(share, logs, masses, strict=True):
            found += w * np.outer(log - mean_log - like.count @ (log - mean_log) / like.shafts, mass - mean_mass)
        return np.asarray(found)


def akaike_weights(laws: Sequence[WearLaw]) -> FloatArray:
    """Akaike's weights of the families [2]_, shape (laws,)."""
    relative = np.array([law.aic for law in laws])
    weights = np.exp(-0.5 * (relative - relative.min()))
    return np.asarray(weights / weights.sum())


def spread_wear(likelihood: WearLikelihood, laws: tuple[WearLaw, ...], *, rounds: int = ROUNDS) -> WearSpread:
    """Average the laws and let the readings put them right.

    Parameters
    ----------
    likelihood : WearLikelihood
        The readings.
    laws : tuple of WearLaw
        Fitted to them.
    rounds : int
        How often.

    Returns
    -------
    WearSpread
    """
    weights = akaike_weights(laws)
    masses = weights @ np.stack([law_masses(law.family, law.parameters, likelihood.cells)[0] for law in laws])
    before = []
    for _ in range(rounds):
        before.append(masses)
        ratio = (likelihood.count / likelihood.density(masses)) @ likelihood.kernel / likelihood.count.sum()
        masses = masses * ratio
    return WearSpread(cells=likelihood.cells, masses=masses, likelihood=likelihood, laws=laws, rounds=tuple(before))


def _logit_interval(share: float, se: float, reach: float) -> tuple[float, float]:
    """Interval of a share, even on the logit."""
    inside = min(max(share, 1e-9), 1 - 1e-9)
    move = np.exp(reach * se / (inside * (1 - inside)))
    odds = inside / (1 - inside)
    return float(odds / move / (1 + odds / move)), float(1 - 1 / (1 + odds * move))


def _seen_shares(share: float, se: float, reach: float) -> tuple[float, float]:
    """Which shares may well be seen where this is the true one: even on the arcsine, as nearly for counts [3]_."""
    at, root = np.arcsin(share**0.5), (share * (1 - share)) ** 0.5
    low, high = (np.clip(at + sign * reach * se / (2 * root), 0.0, np.pi / 2) for sign in (-1, 1))
    return float(np.sin(low) ** 2), float(np.sin(high) ** 2)


def _shifted(masses: FloatArray, cells: float) -> FloatArray:
    """Masses moved up by a number of cells."""
    at = np.arange(masses.size, dtype=float)
    return np.asarray(np.interp(at - cells, at, masses, left=0.0, right=0.0))
