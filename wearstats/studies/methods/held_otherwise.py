"""Hubs held by a compound, a shim or a sleeve, beside those held by their flanks: rates as reports came in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from wearstats.analysis.estimate import Estimate
from wearstats.analysis.rates.poisson_rates import compare_rates, rate_estimate
from wearstats.domain.tables import HELD_OTHERWISE
from wearstats.studies.snapshot import Snapshot

ENOUGH: Final = 10
"""Fittings from which a way is compared with the others (judgement)."""
_PER_MONTHS: Final = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldOtherwise:
    """One way of holding a hub otherwise.

    Parameters
    ----------
    method : str
        ``compound`` or ``repair``.
    fittings, failures : int
        On record, and reported loose or broken.
    per_100_hub_months : Estimate
        Failures reported, in a hundred months heard of; exact interval.
    ratio : Estimate or None
        That rate over the rate of hubs held by their flanks, reports taken as they came for both; None under `ENOUGH`.
    """

    method: str
    fittings: int
    failures: int
    per_100_hub_months: Estimate
    ratio: Estimate | None


def held_otherwise(snapshot: Snapshot) -> tuple[HeldOtherwise, ...]:
    """Count them, and compare where there are enough; no size, reading or shaft is allowed for."""
    rows = snapshot.query("methods/held_otherwise")
    of_flanks = rows[~rows["method"].isin(HELD_OTHERWISE)]
    failed, time = int(of_flanks["failures"].sum()), float(of_flanks["hub_months"].sum())
    return tuple(
        HeldOtherwise(
            method=str(row["method"]),
            fittings=int(row["fittings"]),
            failures=int(row["failures"]),
            per_100_hub_months=rate_estimate(int(row["failures"]), float(row["hub_months"]), per=_PER_MONTHS),
            ratio=compare_rates(int(row["failures"]), float(row["hub_months"]), failed, time).ratio
            if row["fittings"] >= ENOUGH
            else None,
        )
        for row in rows[rows["method"].isin(HELD_OTHERWISE)].to_dict("records")
    )
