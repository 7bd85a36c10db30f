"""Of how many shafts of a large fleet a question looks closely at: the limits, which a setting may lower.

Every limit is a constant beside the work that it bounds, and is asked for through `lowered`. With
``WEARSTATS_SAMPLE_SHAFTS`` in the environment no sample has more shafts than that, so that a small store is answered
for as a fleet past the limits is: for trying that out, not for better answers.
"""

from __future__ import annotations

import os

from wearstats.errors import UsageError

SAMPLE_VARIABLE = "WEARSTATS_SAMPLE_SHAFTS"

FEWEST_SHAFTS = 30
"""The law of wear has parameters from so many shafts on; samples smaller than that answer nothing."""


def most_sampled() -> int | None:
    """Read the setting.

    Returns
    -------
    int or None
        The most shafts that a sample may have; None where nothing is set.

    Raises
    ------
    UsageError
        When it is not a whole number, or too small.
    """
    said = os.environ.get(SAMPLE_VARIABLE, "").strip()
    if not said:
        return None
    # at most nine digits: longer ones are no number of shafts, and Python refuses to read very long ones
    if not (said.isascii() and said.isdigit() and len(said) < 10 and int(said) >= FEWEST_SHAFTS):
        raise UsageError(
            f"{SAMPLE_VARIABLE}: {said!r}; allowed: a whole number of shafts from {FEWEST_SHAFTS} on; correct it, or "
            "leave it unset for the usual limits"
        )
    return int(said)


def lowered(limit: int, *, part_of: int | None = None) -> int:
    """Give a limit as it is to be kept to.

    Parameters
    ----------
    limit : int
        The usual limit: shafts, or whatever is bounded in proportion to them.
    part_of : int, optional
        The usual limit of the sample, in shafts, of which this one takes a part; the part then keeps its share.

    Returns
    -------
    int
        The usual limit where nothing is set; never more than that, and at least 1.

    Raises
    ------
    UsageError
        When the setting is not a whole number, or too small.
    """
    most = most_sampled()
    if most is None:
        return limit
    if part_of is None:
        return min(limit, most)
    return max(1, limit * min(part_of, most) // part_of)
