"""Chances of working loose of many shafts at many gaps: worked out on a ladder of gaps, then averaged by how gaps lie.

The chance hangs on the gap smoothly and on what is held beside it, of which there are few kinds. So each kind has its
table, by the best law, by drawn laws, and with the law's doubt averaged out by quadrature; a shaft's mean is the sum of
the table weighed by where its drawn gaps lie between the rungs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from wearstats.analysis.loosening.predictor import REFERENCE_MONTHS, LooseningLaw
from wearstats.analysis.numerics.covariance_roots import symmetric_root
from wearstats.domain.arrays import FloatArray, IntArray

STEP_UM: Final = 1.0
_MOST_UM: Final = 200.0
"""Beyond it every gap counts as this one: no hub with such a gap is ever sent."""
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(9)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapChances:
    """Tables of the chance by some months.

    Parameters
    ----------
    kind : ndarray of int, shape (shafts,)
        Which table holds for a shaft.
    laws : ndarray, shape (kinds, 1 + laws, rungs)
        By the best law and the drawn ones.
    mean : ndarray, shape (kinds, rungs)
        With the law's doubt averaged out.
    """

    kind: IntArray
    laws: FloatArray
    mean: FloatArray

    @classmethod
    def of(cls, law: LooseningLaw | None, beside: FloatArray, months: float, *, normal: FloatArray) -> GapChances:
        """Work the tables out.

        Parameters
        ----------
        law : LooseningLaw or None
            Without one all chances are 0.
        beside : ndarray, shape (shafts, effects)
            What is held beside the gap, counted from the means.
        months : float
            When.
        normal : ndarray, shape (laws, parameters)
            Standard normal numbers of the drawn laws.
        """
        rungs = np.arange(0.0, _MOST_UM + STEP_UM, STEP_UM)
        if law is None:
            nothing = np.zeros((1, 1 + len(normal), rungs.size))
            return cls(kind=np.zeros(len(beside), dtype=np.int64), laws=nothing, mean=nothing[:, 0])
        kinds, kind = np.unique(beside, axis=0, return_inverse=True)
        parameters = np.stack([law.parameters, *(law.parameters + normal @ symmetric_root(law.covariance))])
        terms = law.term(rungs)
        slopes, log_time = terms.shape[-1], np.log(months / REFERENCE_MONTHS)
        line = (
            parameters[:, 0, None] + np.exp(parameters[:, -2, None]) * log_time
            + parameters[:, 1 : 1 + slopes] @ terms.T + (kinds @ parameters[:, 1 + slopes : -2].T)[..., None]
        )  # fmt: skip
        return cls(kind=kind.reshape(-1), laws=_chance(line), mean=_averaged(law, terms, kinds, float(log_time)))

    def means(self, gap_um: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Give each shaft's mean chance over its draws, each with its weight.

        Parameters
        ----------
        gap_um, weight : ndarray, shape (shafts, draws)
            Gaps left, and how much of each draw counts, 0 to 1.

        Returns
        -------
        ndarray, shape (shafts,)
            The law's doubt averaged out.
        ndarray, shape (1 + laws, shafts)
            By the best law and the drawn ones.
        """
        shafts, draws = gap_um.shape
        rungs = self.mean.shape[1]
        place = np.clip(gap_um / STEP_UM, 0.0, rungs - 1.001)
        below = place.astype(np.int64)
        over, at = place - below, below + rungs * np.arange(shafts)[:, None]
        lying = np.bincount(at.ravel(), (weight * (1 - over)).ravel(), shafts * rungs)
        lying += np.bincount(at.ravel() + 1, (weight * over).ravel(), shafts * rungs)
        lying = lying.reshape(shafts, rungs) / draws
        mean, laws = np.empty(shafts), np.empty((self.laws.shape[1], shafts))
        for number, table in enumerate(self.laws):
            mine = self.kind == number
            mean[mine], laws[:, mine] = lying[mine] @ self.mean[number], table @ lying[mine].T
        return mean, laws

    def best(self, gap_um: FloatArray) -> FloatArray:
        """Give the chance by the best law at each gap, shape (shafts, draws)."""
        found = np.empty_like(gap_um)
        rungs = STEP_UM * np.arange(self.mean.shape[1])
        for number, table in enumerate(self.laws):
            mine = self.kind == number
            found[mine] = np.interp(gap_um[mine], rungs, table[0])
        return found


def _averaged(law: LooseningLaw, terms: FloatArray, kinds: FloatArray, log_time: float) -> FloatArray:
    """Average the chance over the law's doubt: over the log shape, and given that over the line; (kinds, rungs)."""
    slopes, (shape, variance) = terms.shape[-1], (law.parameters[-2], law.covariance[-2, -2])
    # what each parameter moves the line by, but for the log shape
    moves = np.zeros((len(kinds), len(terms), law.parameters.size))
    moves[..., 0], moves[..., 1 : 1 + slopes], moves[..., 1 + slopes : -2] = 1.0, terms, kinds[:, None, :]
    line = moves @ law.parameters
    along = moves @ law.covariance[:, -2] / np.sqrt(variance) if variance > 0 else np.zeros_like(line)
    own = np.einsum("krp,pq,krq->kr", moves, law.covariance, moves)
    sd = np.sqrt(np.maximum(own - along**2, 0.0))
    mean = np.zeros_like(line)
    for node, weight in zip(_NODES, _WEIGHTS / _WEIGHTS.sum(), strict=True):
        given = line + node * along + np.exp(shape + node * np.sqrt(variance)) * log_time
        mean += weight * (_chance(given[..., None] + sd[..., None] * _NODES) @ (_WEIGHTS / _WEIGHTS.sum()))
    return mean


def _chance(line: FloatArray) -> FloatArray:
    return np.asarray(-np.expm1(-np.exp(np.minimum(line, 50.0))))
