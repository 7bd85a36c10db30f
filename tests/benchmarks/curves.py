"""Time Kaplan-Meier curves of a million fittings in six groups, read from a store, against a general library.

Run with ``python -m tests.benchmarks.curves``; prints the times and their ratio. Read from a table of times, ours are
to take less than a second. Beside that stand the same from the tables of fittings and answers, which have to be joined
first, and the putting together of the histories, which is to grow no faster than their number.
"""

from __future__ import annotations

import datetime
import statistics
import tempfile
import time
from pathlib import Path

import numpy as np
from statsmodels.duration.survfunc import SurvfuncRight

from wearstats.analysis.survival.kaplan_meier import KaplanMeierCurve, fit_kaplan_meier
from wearstats.domain.units import MEAN_MONTH_DAYS
from wearstats.store.database.connection import Store, create_store, open_store
from wearstats.studies.inputs.histories import histories_of
from wearstats.studies.snapshot import Snapshot

FITTINGS, REPEATS = 1_000_000, 5
AIM_S = 1.0
AS_OF = datetime.date(2026, 1, 1)
# one row a fitting: six groups of pattern and method, days to the failure or to the last word
ROWS = """
select
    shafts.pattern || ' ' || fittings.method as label,
    coalesce(news.failed_on, news.last_on, fittings.fitted_to) - fittings.fitted_from as days,
    news.failed_on is not null as failed
from fittings
join shafts on shafts.shaft = fittings.shaft
left join (
    select
        fitting,
        min(seen_on) filter (where state in ('loose', 'broken') and cause = 'flanks') as failed_on,
        max(seen_on) as last_on
    from follow_ups
    group by fitting
) as news on news.fitting = fittings.fitting
"""


def invent(path: Path, fittings: int) -> Path:
    """Write an invented fleet straight into a store: two answers for most fittings, three in ten worked loose."""
    create_store(path)
    numbered = "(select i, date '2016-01-01' + (hash(i) % 3000)::integer as made_on, hash(i + 1) % 1000 / 1000.0 as u, "
    numbered += f"hash(i + 2) % 1000 / 1000.0 as v from range({fittings}) as numbers(i))"
    method = "['as-supplied', 'owner-fitted', 'workshop-fitted'][1 + (i // 2) % 3]"
    pattern = "if(i % 2 = 0, 'D8', 'D10')"
    with open_store(path, write=True) as store:
        store.execute(
            "insert into intakes (intake, added_on, added_at, files, bulk) "
            "values (1, date '2026-01-01', timestamp '2026-01-01', 1, true)"
        )
        for statement in (
            f"insert into shafts (shaft, pattern, intake) select 'S' || i, {pattern}, 1 from {numbered}",
            f"insert into hubs (hub, pattern, undersize_um, intake) select 'H' || i, {pattern}, 50, 1 from {numbered}",
            "insert into dispatches (hub, sent_on, shaft, sent_as, intake) "
            f"select 'H' || i, made_on - 10, 'S' || i, {method}, 1 from {numbered}",
            "insert into fittings (fitting, shaft, hub, fitted_on, fitted_from, fitted_to, method, intake) "
            f"select 'F' || i, 'S' || i, 'H' || i, made_on::varchar, made_on, made_on, {method}, 1 from {numbered}",
            "insert into follow_ups (fitting, seen_on, state, prompted, cause, intake) "
            f"select 'F' || i, made_on + 180, 'tight', 'asked', null, 1 from {numbered} where u > 0.1 union all "
            "select 'F' || i, made_on + 200 + (v * 450)::integer, if(u < 0.35, 'loose', 'tight'), "
            f"if(v < 0.5, 'asked', 'unasked'), if(u < 0.35, 'flanks', null), 1 from {numbered} "
            "where u between 0.05 and 0.8",
        ):
            store.execute(statement)
    return path


def ours(store: Store, source: str) -> dict[str, KaplanMeierCurve]:
    """Count equal times in the database, and fit every group's curve to the counts."""
    counted = f"select label, days, failed, count(*) as fittings from {source} group by all order by all"
    rows = store.table(counted)
    return {
        str(label): fit_kaplan_meier(part["days"] / MEAN_MONTH_DAYS, part["failed"], weight=part["fittings"])
        for label, part in rows.groupby("label")
    }


def theirs(store: Store, source: str) -> dict[str, SurvfuncRight]:
    """Read every row, and give each group to the library."""
    rows = store.table(f"select label, days, failed from {source}")
    return {
        str(label): SurvfuncRight(part["days"].to_numpy() / MEAN_MONTH_DAYS, part["failed"].to_numpy().astype(int))
        for label, part in rows.groupby("label")
    }


def histories_s(path: Path, fittings: int) -> float:
    """Read a store of so many fittings and put the histories together."""
    with open_store(invent(path, fittings)) as store:
        began = time.perf_counter()
        found = histories_of(Snapshot(store=store, known_on=AS_OF))
        taken_s = time.perf_counter() - began
    if len(found.frame) + len(found.left_out) != fittings:
        raise AssertionError("not every fitting has a history")
    return taken_s


def _medians_s(store: Store, source: str) -> tuple[float, float]:
    times = []
    # in turns, so that both meet the same other work on the machine
    for _ in range(REPEATS):
        began = time.perf_counter()
        ours(store, source)
        between = time.perf_counter()
        theirs(store, source)
        times.append((between - began, time.perf_counter() - between))
    mine_s, peer_s = (statistics.median(column) for column in zip(*times, strict=True))
    return mine_s, peer_s


def main() -> None:
    """Print the comparison."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with open_store(invent(folder / "curves.duckdb", FITTINGS), write=True) as store:
            store.execute(f"create table times as {ROWS}")
            for source, told in (("times", "a table of times"), (f"({ROWS})", "fittings and answers, joined")):
                mine, peer = ours(store, source), theirs(store, source)
                for label, curve in mine.items():
                    np.testing.assert_allclose(curve.still_tight, np.asarray(peer[label].surv_prob), rtol=1e-9)
                mine_s, peer_s = _medians_s(store, source)
                print(f"{FITTINGS} fittings in {len(mine)} groups from {told}: the same curves, median of {REPEATS}")
                print(f"wearstats   {mine_s:7.3f} s" + (f" (to stay within {AIM_S:g})" if source == "times" else ""))
                print(f"statsmodels {peer_s:7.3f} s")
                print(f"ratio       {peer_s / mine_s:7.1f}", flush=True)
        print("histories put together, with the read:")
        for fittings in (FITTINGS // 100, FITTINGS // 10, FITTINGS):
            taken_s = histories_s(folder / f"{fittings}.duckdb", fittings)
            print(f"{fittings:9d} fittings {taken_s:7.2f} s, {1e6 * taken_s / fittings:6.1f} s a million")


if __name__ == "__main__":
    main()
