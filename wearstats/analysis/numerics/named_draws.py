"""Random numbers by name: what is drawn under a name depends on the seed and that name, and on nothing drawn before.

So an answer does not hang on the order in which questions are asked, on what else was asked, nor a shaft's draws on
which other shafts are there. Options that are compared share draws on purpose, by asking for the same name.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.domain.arrays import FloatArray

_BETWEEN = b"\x1f"
"""Stands between the parts of a name, so that no two names run into one: intake keeps names with such a sign out."""


@dataclass(frozen=True, slots=True)
class NamedDraws:
    """Where random numbers come from.

    Parameters
    ----------
    seed : int
        The seed of all of them.
    scope : tuple of str
        What stands before every name.

    Notes
    -----
    A name's 128-bit digest is the key of a counter-based generator, whose streams are independent whatever the keys
    (J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw, Parallel random numbers: as easy as 1, 2, 3, SC 2011).
    """

    seed: int
    scope: tuple[str, ...] = ()

    def within(self, *names: str) -> NamedDraws:
        """Give the draws of a part, all of whose names begin with these."""
        return NamedDraws(self.seed, (*self.scope, *names))

    def generator(self, *names: str) -> np.random.Generator:
        """Make the generator of a name; the same name gives the same numbers again."""
        return np.random.Generator(np.random.Philox(key=int.from_bytes(self._digest(*names), "little")))

    def standard_normal(self, name: str, labels: Iterable[Any], size: tuple[int, ...]) -> FloatArray:
        """Draw standard normal numbers for each label, the same for a label whatever the others are.

        Parameters
        ----------
        name : str
            What is drawn.
        labels : iterable of n labels
            Whose draws they are: shafts, hubs, measurers. Labels that are the same as text have the same draws.
        size : tuple of int
            Numbers a label.

        Returns
        -------
        ndarray, shape (n, *size)
        """
        given = [str(label) for label in labels]
        drawn = np.empty((len(given), *size))
        for row, label in enumerate(given):
            self.generator(name, label).standard_normal(out=drawn[row])
        return drawn

    def some(self, name: str, labels: pd.Series[Any] | NDArray[Any], most: int) -> NDArray[np.int64]:
        """Choose at random, each by its own label, so that who is chosen hardly changes when others come.

        Parameters
        ----------
        name : str
            What is chosen.
        labels : sequence of n labels
            Of whom.
        most : int
            How many at most.

        Returns
        -------
        ndarray of int, shape (min(n, most),)
            Their places, in order.
        """
        words = np.asarray(labels).astype(str).astype(object)
        if words.size <= most:
            return np.arange(words.size, dtype=np.int64)
        digest = pd.util.hash_array(words, hash_key=self._digest(name).hex()[:16], categorize=False)
        return np.asarray(np.sort(np.lexsort((words, digest))[:most]), dtype=np.int64)

    def _digest(self, *names: str) -> bytes:
        parts = [str(self.seed), *self.scope, *names]
        return hashlib.blake2b(_BETWEEN.join(part.encode() for part in parts), digest_size=16).digest()
