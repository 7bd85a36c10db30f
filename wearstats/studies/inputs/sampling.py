"""Of a large fleet, the fittings of some shafts taken at random, the same each time.

Of six thousand shafts the chance of working loose within a year is known to about half a hub in a hundred, and the
slope against the gap to about a tenth of itself: more would sharpen what nobody decides by, at a hundred times the
work. What happened is counted over all shafts.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from wearstats.second_process import Beside
from wearstats.store.database.connection import Store
from wearstats.store.database.subset import part_of_shafts
from wearstats.studies.inputs.sample_limits import lowered

SAMPLE_SHAFTS = 6_000
"""Of more shafts than that so many are taken; may be lowered: `sample_limits`."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShaftSample:
    """Some shafts of all.

    Parameters
    ----------
    names : list of str
        The shafts taken.
    of : int
        How many there are.
    """

    names: list[str]
    of: int

    @property
    def times(self) -> float:
        """How many shafts each stands for."""
        return self.of / len(self.names)


def sampled_shafts(
    store: Store, *, as_of: datetime.date, pattern: str | None = None, most_shafts: int | None = None
) -> ShaftSample | None:
    """Take some shafts of those that hubs went to, where there are more than need be.

    Parameters
    ----------
    store : Store
        Open store.
    as_of : datetime.date
        Only what was known on that day counts.
    pattern : str or None
        Restriction to one pattern.
    most_shafts : int, optional
        How many at most; `SAMPLE_SHAFTS` by default.

    Returns
    -------
    ShaftSample or None
        None where all may be taken.

    Notes
    -----
    A shaft is taken by a digest of its name, so that the same store always gives the same sample, and a growing one
    keeps most of it.
    """
    most = lowered(SAMPLE_SHAFTS) if most_shafts is None else most_shafts

    def take() -> ShaftSample | None:
        shafts = store.query("fittings/shafts", as_of=as_of, pattern=pattern)["shaft"]
        return None if len(shafts) <= most else ShaftSample(names=shafts.head(most).tolist(), of=len(shafts))

    return store.once((sampled_shafts, as_of, pattern, most), take)


def store_of(store: Store, sample: ShaftSample | None) -> Store:
    """Give what to ask about the shafts of a sample, by their names: the part of the store that is about them.

    It is the store itself where all shafts are taken.
    """
    if sample is None:
        return store
    return store.once((store_of, *sample.names), lambda: part_of_shafts(store, sample.names))


def of_large_fleet(beside: Beside | None, store: Store, *, as_of: datetime.date, pattern: str | None = None) -> Beside:
    """Give where all hubs are counted: in a second process where they are so many that only some are looked at."""
    large = sampled_shafts(store, as_of=as_of, pattern=pattern) is not None
    return beside if beside is not None and large else Beside()
