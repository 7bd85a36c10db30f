"""What answers rest on, kept beside the store: fits, gaps, histories, laws and whole results."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any

from wearstats.store.cache.entries import Entries
from wearstats.store.cache.key import entry_key, state_by
from wearstats.store.cache.values import NotKeptError, SpoiledError, from_bytes, to_bytes
from wearstats.store.database.connection import Store


class KeptResults:
    """Results kept beside one store.

    Parameters
    ----------
    store : Store
        Open for reading, so that nothing is added to it meanwhile.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._entries = Entries(store.path)
        self._states: dict[tuple[datetime.date, bool], str] = {}

    def name(self, what: str, asked: Mapping[str, Any], given: Any, *, advice: bool) -> str | None:
        """Name the entry of a result.

        Parameters
        ----------
        what : str
            Which result.
        asked : mapping
            Days, pattern and seed that it depends on; of a day counts what was known by then.
        given : object
            What else it was asked with.
        advice : bool
            Whether it hangs on the advice given too.

        Returns
        -------
        str or None
            None where it was asked with something that has no name.
        """
        try:
            told = to_bytes(given).hex()
        except NotKeptError:
            return None
        days = [day for day in asked.values() if isinstance(day, datetime.date)]
        for day in days:
            if (day, advice) not in self._states:
                self._states[day, advice] = state_by(self._store, day, advice=advice)
        states = [self._states[day, advice] for day in days]
        return entry_key(states, what=what, asked=dict(asked), given=told) + ".npz"

    def has(self, name: str) -> bool:
        """Whether there is an entry."""
        return self._entries.has(name)

    def find(self, name: str) -> tuple[Any] | None:
        """Give a result, alone in a tuple; None where there is none, or it cannot be read."""
        content = self._entries.read(name)
        if content is None:
            return None
        try:
            return (from_bytes(content),)
        except SpoiledError:
            return None

    def keep(self, name: str, value: Any) -> None:
        """Keep a result; one with something in it that is not kept, or too large, is not."""
        try:
            self._entries.write(name, to_bytes(value))
        except NotKeptError:
            return
