"""Names of fittings, shafts and hubs as numbers while histories are put together: to sort and match text is slow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

_COLUMNS = ("fitting", "shaft", "hub")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Names:
    """What the numbers stand for.

    Parameters
    ----------
    known : mapping of str to ndarray
        For ``fitting``, ``shaft`` and ``hub`` their names in alphabetical order; the number is the place.
    dispatches : DataFrame
        The dispatches as they were given; one that has no fitting, or no shaft, goes by the number of its row beyond
        the names known.
    """

    known: Mapping[str, NDArray[np.object_]]
    dispatches: pd.DataFrame

    def of_dispatches(self, column: str, row: pd.Series[int]) -> pd.Series[float]:
        """Give the numbers by which dispatches go that have no fitting, or no shaft."""
        return row.astype(float) + self.known[column].size

    def decode(self, column: str, numbers: pd.Series[float]) -> pd.Series[str]:
        """Give the names again; missing where the number is."""
        known = self.known[column]
        codes = numbers.fillna(-1).to_numpy(dtype=np.int64)
        names = np.full(codes.size, None, dtype=object)
        inside = (codes >= 0) & (codes < known.size)
        names[inside] = known[codes[inside]]
        beyond = np.flatnonzero(codes >= known.size)
        if beyond.size:
            sent = self.dispatches.iloc[(codes[beyond] - known.size).astype(np.int64)]
            day = pd.to_datetime(sent["sent_on"]).dt.strftime("%Y-%m-%d")
            label = sent["hub"] + " sent " + day
            names[beyond] = label if column == "fitting" else "of " + label
        return pd.Series(names, index=numbers.index).astype("str")


def encode_names(frames: Mapping[str, pd.DataFrame]) -> tuple[dict[str, pd.DataFrame], Names]:
    """Put numbers for names.

    Parameters
    ----------
    frames : mapping of str to DataFrame
        Among them ``dispatches``; whichever of ``fitting``, ``shaft``, ``hub`` a frame bears is replaced.

    Returns
    -------
    tuple of dict and Names
        The same frames with numbers (float; NaN where the name is missing), and what they stand for.
    """
    coded = {name: frame.reset_index(drop=True) for name, frame in frames.items()}
    known: dict[str, NDArray[np.object_]] = {}
    for column in _COLUMNS:
        bearing = [name for name, frame in coded.items() if column in frame]
        codes, names = pd.factorize(pd.concat([coded[name][column] for name in bearing], ignore_index=True), sort=True)
        known[column] = np.asarray(names, dtype=object)
        numbers = np.where(codes < 0, np.nan, codes)
        ends = np.cumsum([len(coded[name]) for name in bearing])
        for name, part in zip(bearing, np.split(numbers, ends[:-1]), strict=True):
            coded[name] = coded[name].assign(**{column: part})
    return coded, Names(known=known, dispatches=frames["dispatches"].reset_index(drop=True))
