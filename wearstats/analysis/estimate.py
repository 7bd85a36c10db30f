"""An uncertain number, as every study returns it and every page prints it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from wearstats.analysis.remark import Remark
from wearstats.domain.arrays import BoolArray, FloatArray

Status = Literal["ok", "assumed", "bounded", "beyond-data", "none"]

Z95 = 1.959963984540054
"""So many standard errors on either side enclose 95 in 100 of a normal distribution."""


MOST_OF_ALL = 0.95
"""An interval of a share that is wider says nothing (judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A number with its interval and where it comes from.

    Parameters
    ----------
    value : float or None
        The estimate, in the unit its key or column names; None where there is none.
    low, high : float or None
        Ends of the interval at `level`; None where unbounded or unknown.
    level : float
        Coverage the interval is meant to have, 0.95 unless said.
    method : Remark or None
        How it was computed, or why there is none.
    status : {"ok", "assumed", "bounded", "beyond-data", "none"}
        ``assumed``: not identified by these data, taken from a stated assumption; ``bounded``: only a bound;
        ``beyond-data``: outside what was recorded; ``none``: no answer.
    """

    value: float | None
    low: float | None = None
    high: float | None = None
    level: float = 0.95
    method: Remark | None = None
    status: Status = "ok"

    def __post_init__(self) -> None:
        """Turn NaN and infinities into None, so that no result ever prints them."""
        for name in ("value", "low", "high"):
            number = getattr(self, name)
            clean = float(number) if number is not None and math.isfinite(number) else None
            object.__setattr__(self, name, clean)

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` form of the contract."""
        return {
            "value": self.value,
            "low": self.low,
            "high": self.high,
            "level": self.level,
            "method": self.method or "",
            "status": self.status,
        }

    def side(self, null: float = 0.0) -> int | None:
        """Say on which side of a number it surely lies.

        Returns
        -------
        int or None
            1 above, -1 below, 0 where it may be either; an interval that only touches the number does not leave it
            out. None where nothing is known: without an interval, or where that is an assumption.
        """
        if self.status in ("assumed", "none") or (self.low is None and self.high is None):
            return None
        if self.low is not None and self.low > null:
            return 1
        return -1 if self.high is not None and self.high < null else 0

    @property
    def code(self) -> str:
        """The code of how it was computed, or of why there is none."""
        return "" if self.method is None else str(self.method.code)


def may_be_any_share(share: Estimate) -> bool:
    """Whether the interval of a share leaves open nearly all there is between none and all."""
    return share.low is not None and share.high is not None and share.high - share.low > MOST_OF_ALL


def assumed(value: float, *, low: float | None = None, high: float | None = None, why: Remark) -> Estimate:
    """Make an estimate that is an assumption, with the reason as its method."""
    return Estimate(value=value, low=low, high=high, method=why, status="assumed")


def no_estimate(why: Remark | None) -> Estimate:
    """Make an estimate without a number, with the reason as its method."""
    return Estimate(value=None, method=why, status="none")


def widened_interval(draws: FloatArray, mean: ArrayLike) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Give the central 95 % interval of draws, reaching to their mean where a few draws far off carry that beyond it.

    Such an end leaves out fewer than 25 in 1000 draws, never more; the number it is told with is a mean, and one
    outside its own interval nobody could read.

    Parameters
    ----------
    draws : ndarray, shape (draws, ...)
        Of one or several quantities.
    mean : array_like, shape (...)
        Their means.

    Returns
    -------
    tuple of ndarray
        Lower ends, upper ends, and where one of them was moved, each shape (...).
    """
    low, high = np.quantile(draws, [0.025, 0.975], axis=0)
    told = np.asarray(mean, dtype=float)
    # the mean of draws that are all alike may differ from them in its last bit
    slack = 1e-12 * np.abs(told)
    moved = (told < low - slack) | (told > high + slack)
    return np.minimum(low, told), np.maximum(high, told), np.asarray(moved)
