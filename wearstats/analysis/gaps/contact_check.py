"""Contact as it was predicted beside contact as it was marked, over many fittings.

What is predicted must not have used the mark itself. A mark scatters about the truth and the truth about what was
predicted, so the line of marked against predicted has slope 1 where all is well (Berkson 1950); errors of the readings
are in the predicted's doubt and do not flatten it.

Fittings of one shaft share its readings, so whole shafts are drawn anew. Percentiles of so few are a little too narrow;
they are taken further out, as far as Student's quantile lies beyond the normal one (Hesterberg 2015, section 5.3).

References
----------
J. Berkson, Are there two regressions?, J. American Statistical Association 45 (1950) 164-180.
T. C. Hesterberg, What teachers should know about the bootstrap, The American Statistician 69 (2015) 371-386; section
from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import special

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gaps.remarks import GapRemark
from wearstats.analysis.rates.two_by_two import clopper_pearson
from wearstats.analysis.remark import remark
from wearstats.domain.arrays import FloatArray
from wearstats.domain.frames import columns
from wearstats.errors import AnalysisError, counted

FEWEST = 10
"""Shafts with marks below which nothing is said of all; judgement."""
_BANDS = 5
_FEWEST_IN_BAND = 8
_REPLICATES = 2000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ContactSeen:
    """What the comparison shows.

    Parameters
    ----------
    fittings, shafts : int
        With marks and a predicted share.
    difference : Estimate
        Mean share marked less predicted.
    slope : Estimate
        By how much the marked share changes where the predicted one changes by one.
    covered : Estimate
        Share of fittings whose marked share lies within its own predicted interval; as though each stood by itself.
    bands : DataFrame
        One row a band of fittings of like predicted share: ``band``, ``fittings``, ``predicted``, ``marked``, ``low``,
        ``high``; shares, 0 to 1, from the least predicted.
    """

    fittings: int
    shafts: int
    difference: Estimate
    slope: Estimate
    covered: Estimate
    bands: Annotated[pd.DataFrame, columns(number="predicted marked low high", whole="band fittings")]


def compare_contact(told: pd.DataFrame, *, rng: np.random.Generator) -> ContactSeen:
    """Compare contact predicted with contact marked.

    Parameters
    ----------
    told : DataFrame
        One row a fitting: ``shaft``, ``predicted``, ``low``, ``high`` (95 %), ``marked``; shares, 0 to 1.
    rng : Generator
        For drawing shafts anew.

    Returns
    -------
    ContactSeen

    Raises
    ------
    AnalysisError
        With fewer than `FEWEST` shafts.
    """
    shaft = np.unique(told["shaft"].to_numpy(dtype=str), return_inverse=True)[1]
    shafts = int(shaft.max(initial=-1)) + 1
    if shafts < FEWEST:
        raise AnalysisError(
            f"marks and readings in hand for {counted(shafts, 'shaft')}; {FEWEST} are needed",
            needed="drive_marked and coast_marked of more fittings",
        )
    predicted, low, high, marked = (told[name].to_numpy(dtype=float) for name in ("predicted", "low", "high", "marked"))
    drawn = rng.multinomial(shafts, np.full(shafts, 1 / shafts), size=_REPLICATES).astype(float)
    ones = np.ones(len(told))
    sums = np.stack([_by_shaft(part, shaft) for part in (ones, predicted, marked, predicted**2, predicted * marked)])
    tiny = 1e-9
    within = int(np.sum((low - tiny <= marked) & (marked <= high + tiny)))
    return ContactSeen(
        fittings=len(told),
        shafts=shafts,
        difference=_estimate(_mean_difference, sums, drawn),
        slope=_estimate(_slope, sums, drawn),
        covered=clopper_pearson(within, len(told)),
        bands=_bands(predicted, marked, shaft, drawn),
    )


def _by_shaft(values: FloatArray, shaft: NDArray[np.int64]) -> FloatArray:
    return np.asarray(np.bincount(shaft, weights=values), dtype=float)


def _mean_difference(sums: FloatArray) -> FloatArray:
    n, predicted, marked = sums[:3]
    return np.asarray((marked - predicted) / n)


def _slope(sums: FloatArray) -> FloatArray:
    n, x, y, xx, xy = sums
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray((n * xy - x * y) / (n * xx - x**2))


def _estimate(of_sums: Callable[[FloatArray], FloatArray], sums: FloatArray, drawn: FloatArray) -> Estimate:
    """Work out a number from sums over fittings, (sums, shafts), and its interval from the shafts drawn anew."""
    value = float(of_sums(sums.sum(axis=1)))
    low, high = _interval(of_sums(sums @ drawn.T), sums.shape[1])
    return Estimate(value=value, low=low, high=high, method=remark(GapRemark.SHAFTS_ANEW))


def _interval(replicates: FloatArray, shafts: int) -> tuple[float, float]:
    """Take percentiles as far out as so few shafts ask for."""
    there = replicates[np.isfinite(replicates)]
    if shafts < 2 or there.size == 0:
        return np.nan, np.nan
    tail = special.ndtr(np.sqrt(shafts / (shafts - 1)) * special.stdtrit(shafts - 1, 0.025))
    low, high = np.quantile(there, [tail, 1 - tail])
    return float(low), float(high)


def _bands(predicted: FloatArray, marked: FloatArray, shaft: NDArray[np.int64], drawn: FloatArray) -> pd.DataFrame:
    """Average in bands of as many fittings each, from the least predicted to the most."""
    bands = int(np.clip(predicted.size // _FEWEST_IN_BAND, 1, _BANDS))
    band = np.empty(predicted.size, dtype=np.int64)
    band[np.argsort(predicted, kind="stable")] = np.arange(predicted.size) * bands // predicted.size
    rows = []
    for at in range(bands):
        mine = band == at
        count, total = (_by_shaft(mine * part, shaft) for part in (np.ones(predicted.size), marked))
        count, total = (np.pad(part, (0, drawn.shape[1] - part.size)) for part in (count, total))
        with np.errstate(invalid="ignore"):
            low, high = _interval((drawn @ total) / (drawn @ count), int(np.sum(count > 0)))
        rows.append(
            {
                "band": at + 1,
                "fittings": int(mine.sum()),
                "predicted": float(predicted[mine].mean()),
                "marked": float(marked[mine].mean()),
                "low": low,
                "high": high,
            }
        )
    return pd.DataFrame(rows)
