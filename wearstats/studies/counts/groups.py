"""Groups compared with themselves before: exact rates in 100 hub-months, exact tests, all told together."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import special

from wearstats.analysis.numerics.multiple_testing import holm
from wearstats.analysis.rates.poisson_rates import compare_rates
from wearstats.domain.arrays import FloatArray

PER_MONTHS = 100.0
GROUPINGS = ("pattern", "method_sent", "region", "duty", "undersize_um", "batch")
"""By what failures and returns are told apart, in the order shown."""
COMPARED = [
    "by", "group", "number", "hub_months", "rate", "low", "high", "before_number", "before_months", "ratio",
    "ratio_low", "ratio_high", "p",
]  # fmt: skip
LEVEL = 0.05
_TAIL = 0.025


def compare_groups(sums: pd.DataFrame) -> pd.DataFrame:
    """Compare every group with itself before.

    Parameters
    ----------
    sums : DataFrame
        One row a group: ``by``, ``group``, ``number``, ``hub_months``, ``before_number``, ``before_months``.

    Returns
    -------
    DataFrame
        Those in use now, with ``rate``, ``low``, ``high`` (in 100 hub-months, exact, 95 %), ``ratio`` (of the rate to
        that before) with ``ratio_low``, ``ratio_high``, and ``p`` (exact, given the sum).
    """
    frame = sums[sums["hub_months"] > 0].reset_index(drop=True)
    number, months = frame["number"].to_numpy(dtype=np.int64), frame["hub_months"].to_numpy(dtype=float)
    changes = [
        compare_rates(int(now), float(time), int(before), float(before_time))
        for now, time, before, before_time in zip(
            number, months, frame["before_number"], frame["before_months"], strict=True
        )
    ]
    ratios = [change.ratio for change in changes]
    frame = frame.assign(
        number=number,
        before_number=frame["before_number"].astype(np.int64),
        rate=PER_MONTHS * number / months,
        low=PER_MONTHS * np.where(number > 0, special.gammaincinv(np.maximum(number, 1), _TAIL), 0.0) / months,
        high=PER_MONTHS * special.gammaincinv(number + 1.0, 1.0 - _TAIL) / months,
        ratio=np.array([ratio.value for ratio in ratios], dtype=float),
        ratio_low=np.array([ratio.low for ratio in ratios], dtype=float),
        ratio_high=np.array([ratio.high for ratio in ratios], dtype=float),
        p=np.array([change.p_value for change in changes], dtype=float),
    )
    return frame[COMPARED]


def told_together(*frames: pd.DataFrame) -> tuple[pd.DataFrame, ...]:
    """Put ``counted`` and ``p_adjusted`` to frames of `compare_groups`: Holm over all that could show a change.

    Notes
    -----
    The tests are made given the sum of both counts, and where that is small no split of it is unlikely enough to show
    anything. Such groups, known from the sums alone, do not count among the comparisons [1]_.

    References
    ----------
    .. [1] R. E. Tarone, A modified Bonferroni method for discrete data, Biometrics 46 (1990) 515-522.
    """
    p = np.concatenate([frame["p"].to_numpy(dtype=float) for frame in frames])
    least = np.concatenate([smallest_p(frame) for frame in frames])
    among = int(np.count_nonzero(least <= LEVEL))
    counted = least <= LEVEL
    for number in range(1, among + 1):
        counted = least <= LEVEL / number
        if np.count_nonzero(counted) <= number:
            break
    adjusted = np.ones(p.size)
    adjusted[counted] = holm(p[counted])
    told = pd.DataFrame({"counted": counted, "p_adjusted": adjusted})
    parts, first = [], 0
    for frame in frames:
        rows = told.iloc[first : first + len(frame)].set_axis(frame.index)
        parts.append(frame.assign(counted=rows["counted"], p_adjusted=rows["p_adjusted"]))
        first += len(frame)
    return tuple(parts)


def smallest_p(frame: pd.DataFrame) -> FloatArray:
    """Give the smallest p-value that any split of each sum could have, shape (groups,); 1 where nothing happened."""
    total = (frame["number"] + frame["before_number"]).to_numpy(dtype=float)
    now, before = (frame[name].to_numpy(dtype=float) for name in ("hub_months", "before_months"))
    share = now / np.where(now + before > 0, now + before, 1.0)
    least = np.minimum(share, 1.0 - share) ** total
    return np.asarray(np.where((total > 0) & (before > 0), least, 1.0))


def is_compared(frame: pd.DataFrame) -> pd.Series[bool]:
    """Which groups of `compare_groups` had anything happen, now or before, and were in use then too."""
    return (frame["number"] + frame["before_number"] > 0) & (frame["before_months"] > 0)


def is_shown(frame: pd.DataFrame) -> pd.Series[bool]:
    """Which groups a table shows: of the many batches only those with two cases or more."""
    return frame["by"].ne("batch") | (frame["number"] + frame["before_number"] > 1)


def group_name(by: str, group: object) -> str:
    """Write a group's name; undersizes as whole numbers where they are."""
    return f"{group:g}" if by == "undersize_um" else str(group)
