"""Under which name an entry is found: a digest of all that it depends on.

Of the store that is what was known by a day, so that answers about past days stay when more is added. Every write makes
an intake, or settles or dismisses a row that was kept out; the advice given is no intake, and counts where it is read.
Whoever changes a store past its intakes, by SQL of his own, has to delete the folder.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import os
from typing import Any

from wearstats.resources import program_state
from wearstats.store.database.connection import Store
from wearstats.store.database.statements import statement

_SETTINGS = ("WEARSTATS_SAMPLE_SHAFTS",)
"""Of the environment; each changes answers."""


def state_by(store: Store, day: datetime.date, *, advice: bool = False) -> str:
    """Tell what was known by a day from every other state of the store.

    Parameters
    ----------
    store : Store
        Open store.
    day : datetime.date
        The last day that counts.
    advice : bool
        Whether the advice given by then counts too.

    Returns
    -------
    str
        Numbers and digests.
    """
    names = ("store/state", *(("store/advice_state",) if advice else ()))
    # as text: of a date, the database looks whether it is one of a heavy library's
    asked = {"as_of": day.isoformat()}
    return " ".join(str(row) for name in names for row in store.rows(statement(name).sql, asked))


def entry_key(states: list[str], **asked: Any) -> str:
    """Name an entry.

    Parameters
    ----------
    states : list of str
        Of `state_by`, for every day asked about.
    **asked
        What was asked, such as it goes into JSON.

    Returns
    -------
    str
        A digest, 64 hexadecimal digits.
    """
    settings = [os.environ.get(name) for name in _SETTINGS]
    told = json.dumps([program_state(), settings, states, asked], sort_keys=True, default=str)
    return hashlib.sha256(told.encode()).hexdigest()
