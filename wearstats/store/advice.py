"""The advice given is kept with the newest intake that it rested on, so that it can be judged by what happened."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from wearstats.errors import StoreError
from wearstats.store.database.connection import open_store

_WAIT_S = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenAdvice:
    """One piece of advice.

    Parameters
    ----------
    shaft : str
        For which.
    given_on : datetime.date
        When.
    inspections : tuple of str
        What was in hand.
    do : str
        What was advised.
    undersize_um : float or None
        Which hub.
    method : str or None
        How it was to be fitted.
    risk : float or None
        Chance of working loose within the horizon, as predicted then, 0 to 1.
    version : str
        Of the program.
    """

    shaft: str
    given_on: datetime.date
    inspections: tuple[str, ...]
    do: str
    undersize_um: float | None
    method: str | None
    risk: float | None
    version: str


def keep_advice(path: Path, advice: Sequence[GivenAdvice]) -> str:
    """Write advice to the store; what is there already, given the same day on the same inspections, is not repeated.

    Parameters
    ----------
    path : Path
        The store, which no one in this process may have open.
    advice : sequence of GivenAdvice
        What was said.

    Returns
    -------
    str
        Why it could not be kept: the store is held by another process, or may not be written to; empty where it was.
    """
    try:
        with open_store(path, write=True, wait_s=_WAIT_S) as store, store.transaction():
            for given in advice:
                store.execute(
                    """
                    insert into advice
                        (shaft, given_on, inspections, "do", undersize_um, method, risk, version, intake)
                    select
                        $shaft, $given_on, $inspections, $do, $undersize_um, $method, $risk, $version,
                        (select max(intake) from known_intakes($given_on))
                    where not exists (
                        select 1 from advice
                        where shaft = $shaft and given_on = $given_on and inspections = $inspections
                            and "do" = $do and undersize_um is not distinct from $undersize_um
                            and method is not distinct from $method and version = $version
                    )
                    """,
                    asdict(given) | {"inspections": list(given.inspections)},
                )
    except StoreError as refused:
        return str(refused)
    return ""
