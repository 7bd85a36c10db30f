"""How long after a hub came loose its owner wrote: learnt from those who told the day, for those who did not.

Whoever worked loose lately and has not written yet is not among those who told, so that of late failures only the
quickly reported are seen. Each delay is therefore counted against those that could have been as long, by the product
limit in reversed time [1]_; the records of outcomes are where it is cut off.

References
----------
.. [1] J. D. Kalbfleisch, J. F. Lawless, Inference based on retrospective ascertainment: an analysis of the data on
   transfusion-related AIDS, J. American Statistical Association 84 (1989) 360-372.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearstats.domain.arrays import FloatArray

FEWEST_TOLD = 10
"""So many must have told the day before others are taken to write as late as they did; judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportDelay:
    """How long before an unasked report the hub came loose.

    Parameters
    ----------
    told, untold : int
        Failures reported unasked whose day is known, and the others.
    told_asked, found_asked : int
        The same of failures found by asking: whose day is known, and the others.
    mean_months, sd_months : float
        Of the delay of a report, taken for those who did not tell.
    mean_asked_months : float or None
        Mean time from coming loose until it was found by asking, of those who told; None where nobody did.
    learnt : bool
        Whether it was learnt from those who told; else it is assumed.
    """

    told: int
    untold: int
    told_asked: int
    found_asked: int
    mean_months: float
    sd_months: float
    mean_asked_months: float | None
    learnt: bool

    @property
    def before_report(self) -> tuple[float, float]:
        """Months before the report between which a hub came loose: an even spread of that mean and, nearly, that SD."""
        half = min(float(np.sqrt(3.0)) * self.sd_months, self.mean_months)
        return self.mean_months - half, self.mean_months + half


def delay_moments(delay: FloatArray, window: FloatArray) -> tuple[float, float] | None:
    """Give mean and standard deviation of delays of which only those within their window could be seen.

    Parameters
    ----------
    delay : ndarray, shape (reports,)
        Time from failure to report, 0 or more.
    window : ndarray, shape (reports,)
        Time from failure to where the records end, no less than the delay.

    Returns
    -------
    tuple of float or None
        None where the longest delays fill all windows, so that nothing is known of longer ones.
    """
    delay, window = np.round(delay, 6), np.round(window, 6)
    value, ended = (each[::-1] for each in np.unique(delay, return_counts=True))
    # no window is shorter than its delay
    could = np.searchsorted(np.sort(delay), value, side="right") - np.searchsorted(np.sort(window), value, side="left")
    if (ended[:-1] >= could[:-1]).any():
        return None
    # chance to be shorter than each, the longest first: the product limit, run backwards
    shorter = np.append(np.cumprod(1.0 - ended[:-1] / could[:-1]), 0.0)
    mass = -np.diff(np.append(1.0, shorter))
    mean = float(mass @ value)
    return mean, float(np.sqrt(max(float(mass @ value**2) - mean**2, 0.0)))


def learn_delay(
    delay: FloatArray, window: FloatArray, unasked: np.ndarray, *, within_months: float, half_day: float
) -> ReportDelay:
    """Learn the delay of an unasked report.

    Parameters
    ----------
    delay, window : ndarray, shape (failures,)
        Months from coming loose to the report, NaN where nobody told, and to the end of the records.
    unasked : ndarray of bool, shape (failures,)
        Whether it was reported unasked.
    within_months : float
        Before a report the hub is taken to have come loose within so many months where too few tell.
    half_day : float
        Half a day in months: no day is known better.
    """
    there = ~np.isnan(delay)
    use = there & unasked & (window >= delay)
    found = None
    if use.sum() >= FEWEST_TOLD:
        found = delay_moments(np.maximum(delay[use], 0.0), window[use])
    mean, sd = (within_months / 2, within_months / np.sqrt(12.0)) if found is None else found
    asked = there & ~unasked
    return ReportDelay(
        told=int((there & unasked).sum()),
        untold=int((~there & unasked).sum()),
        told_asked=int(asked.sum()),
        found_asked=int((~there & ~unasked).sum()),
        mean_months=max(float(mean), half_day),
        sd_months=max(float(sd), half_day),
        mean_asked_months=float(delay[asked].mean()) if asked.any() else None,
        learnt=found is not None,
    )
