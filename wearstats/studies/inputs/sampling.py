"""Of a large fleet, the fittings of some shafts taken at random, the same each time.

Of six thousand shafts the chance of working loose within a year is known to about half a hub in a hundred, and the
slope against the gap to about a tenth of itself: more would sharpen what nobody decides by, at a hundred times the
work. What happened is counted over all shafts.
"""

from __future__ import annotations

from dataclasses import dataclass

from wearstats.store.database.connection import Store
from wearstats.store.database.room import require_memory
from wearstats.store.database.subset import part_of_shafts
from wearstats.store.left_out import leave_out_impossible
from wearstats.studies.inputs.sample_limits import lowered
from wearstats.studies.snapshot import Snapshot, part

SAMPLE_SHAFTS = 6_000
"""Of more shafts than that so many are taken; may be lowered: `sample_limits`."""

_SAMPLED_BYTES = 150_000
"""What is held of a shaft of the sample (`tests/benchmarks/at_once.md`)."""


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


@part("models_from")
def shaft_sample(snapshot: Snapshot) -> ShaftSample | None:
    """Take some shafts of those that hubs went to, of all patterns; None where all may be taken.

    Notes
    -----
    A shaft is taken by a digest of its name, so that the same store always gives the same sample, and a growing one
    keeps most of it.
    """
    most = lowered(SAMPLE_SHAFTS)
    shafts = snapshot.store.query("fittings/shafts", as_of=snapshot.models_from, pattern=None)["shaft"]
    return None if len(shafts) <= most else ShaftSample(names=shafts.head(most).tolist(), of=len(shafts))


@part("models_from")
def sampled_store(snapshot: Snapshot) -> Store:
    """Give what to ask about the shafts of the sample, by their names: the part of the store that is about them.

    It is the store itself where all shafts are taken.
    """
    sample = shaft_sample(snapshot)
    if sample is None:
        return snapshot.store
    part = part_of_shafts(snapshot.store, sample.names)
    leave_out_impossible(part)
    return part


def sampled_names(snapshot: Snapshot) -> list[str] | None:
    """Give the names of the shafts in the sample; None where all are taken."""
    sample = shaft_sample(snapshot)
    return None if sample is None else sample.names


def require_room(snapshot: Snapshot, *, bytes_of_shaft: int) -> None:
    """Refuse what of a large fleet takes more memory than may be used; StoreError.

    Parameters
    ----------
    bytes_of_shaft : int
        What is held of every shaft of the fleet, besides what is held of the sample.
    """
    if (sample := shaft_sample(snapshot)) is not None:
        needed = _SAMPLED_BYTES * len(sample.names) + bytes_of_shaft * sample.of
        require_memory(snapshot.store.path, needed, shafts=sample.of)
