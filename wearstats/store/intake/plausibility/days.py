"""The days on which hubs are said to have come loose: of a loose one, and since it was last tight."""

from __future__ import annotations

import pandas as pd

from wearstats.store.database.connection import Store
from wearstats.store.database.statements import statement
from wearstats.store.parsing.cells import CellProblem

_LOOSE = ("loose", "broken", "removed", "worked-loose", "cracked")
"""States and reasons with which a day may stand on which the hub came loose."""


def failed_day_problems(store: Store, values: pd.DataFrame) -> dict[int, list[CellProblem]]:
    """Check the days on which hubs are said to have come loose: of a loose one, and since it was last tight.

    Parameters
    ----------
    store : Store
        Holds the fittings and what was heard of them, those of the same intake too.
    values : pandas.DataFrame
        Rows of follow_ups or returns as read; the index is the rows' identifier.

    Returns
    -------
    dict
        Row identifier to its problems.
    """
    told = values["failed_on"].notna()
    if not told.any():
        return {}
    answers = "seen_on" in values
    state = values["state" if answers else "reason"]
    sources = {"fitting": "fitting", "hub": "hub", "day": "seen_on" if answers else "returned_on"}
    arriving = pd.DataFrame({name: values.get(source) for name, source in sources.items()}, index=values.index)
    arriving = arriving.assign(failed_on=values["failed_on"], tight=state.eq("tight").map({True: "yes", False: "no"}))
    arriving = arriving.astype(object).where(arriving.notna(), None).astype(dict.fromkeys(arriving, "str"))
    arriving.insert(0, "row_id", values.index)
    with store.frame("arriving", arriving):
        found = store.run(statement("days/failed_on", "intake"))
    problems: dict[int, list[CellProblem]] = {}
    for row, failed, report, fitted, tight in found.itertuples(index=False, name=None):
        since = max((day for day in (fitted, tight) if pd.notna(day)), default=None)
        if state[row] not in _LOOSE:
            said, allowed = f"said of a hub that is {state[row]}", f"only with {', '.join(_LOOSE[:3])}"
            allowed = allowed if answers else f"only with {' or '.join(_LOOSE[3:])}"
        elif failed > report:
            said, allowed = f"{failed:%Y-%m-%d} is after the report", f"a day up to {report:%Y-%m-%d}"
        elif since is not None and failed < since:
            when = "last seen tight" if since == tight else "fitted"
            said = f"{failed:%Y-%m-%d} is before the hub was {when}"
            allowed = f"a day from {since:%Y-%m-%d} to {report:%Y-%m-%d}"
        else:
            continue
        step = "correct one of the days, or leave this one blank if nobody knows it"
        problems[int(row)] = [CellProblem(column="failed_on", found=said, allowed=allowed, next_step=step)]
    return problems
