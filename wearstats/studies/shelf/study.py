"""What is on the shelf by number, what is out on loan, and where a count and the records disagree."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Annotated, Any, Final

import pandas as pd

from wearstats.analysis.remark import Remark, remark
from wearstats.domain.frames import columns
from wearstats.errors import AnalysisError
from wearstats.studies.shelf.loans import LOAN_COLUMNS, hub_loans, loan_facts
from wearstats.studies.shelf.remarks import ShelfVerdict
from wearstats.studies.snapshot import Snapshot, part

_STATES: Final = {"there": "there", "to-gauge": "to_gauge", "withdrawn": "withdrawn", "not-again": "not_again"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShelfStudy:
    """The shelf as the records have it.

    Parameters
    ----------
    as_of : datetime.date
        The day up to which things were known.
    hubs : DataFrame
        One row a hub by number that is not out: ``state`` (``there``; ``to-gauge``: back from a shaft and not gauged
        since; ``withdrawn`` with its batch; ``not-again``: came back and may not be sent), ``space_width_mm`` and
        ``space_u_um`` (as gauged), ``gauged_on`` (by space and end), ``sent_on``, ``returned_on``, ``reason``.
    loans : DataFrame
        One row a shaft and day of sending of which hubs are to come back, overdue first: ``hubs`` (those that may),
        ``to_come`` (how many of them), ``shaft``, ``owner``, ``back_by`` (missing: no day was said), ``overdue_days``.
    sizes : DataFrame
        One row a size: how many hubs by number are in each state, ``gauged`` (of those there), ``on_loan``, and by the
        last count and what moved since, ``on_hand`` (missing where never counted).
    disagreements : DataFrame
        One row a size whose last count cannot be: ``counted``, ``differ`` (counted less what there can have been),
        ``look_for`` (numbers; those that were there, or those sent without word).
    verdict : Remark
        What comes first.
    """

    as_of: datetime.date
    hubs: Annotated[
        pd.DataFrame,
        columns(
            text="hub pattern batch state reason shaft",
            number="undersize_um space_width_mm space_u_um",
            day="gauged_on sent_on returned_on",
        ),
    ]
    loans: Annotated[pd.DataFrame, LOAN_COLUMNS]
    sizes: Annotated[
        pd.DataFrame,
        columns(
            text="pattern",
            number="undersize_um on_hand",
            whole="there gauged to_gauge withdrawn not_again on_loan",
            day="counted_on",
        ),
    ]
    disagreements: Annotated[
        pd.DataFrame,
        columns(text="pattern", number="undersize_um", whole="counted differ", any="look_for", day="counted_on"),
    ]
    verdict: Remark

    def to_dict(self) -> dict[str, Any]:
        """Give the ``--json`` form."""
        return {
            "verdict": self.verdict,
            "loans": self.loans,
            "sizes": self.sizes,
            "disagreements": self.disagreements,
            "hubs": self.hubs,
        }

    @property
    def overdue(self) -> pd.DataFrame:
        """The loans whose day is over."""
        return self.loans[self.loans["overdue_days"] > 0]


@part("known_on", "pattern")
def study_shelf(snapshot: Snapshot) -> ShelfStudy:
    """Say what is on the shelf by number, what is out on loan, and where the last counts disagree with that.

    Raises
    ------
    AnalysisError
        When no hub is on record by number.
    """
    every = snapshot.query("shelf/hubs")
    if every.empty:
        of = f" of {snapshot.pattern}" if snapshot.pattern else ""
        raise AnalysisError(
            f"no hub{of} was on record by number on {snapshot.known_on.isoformat()}",
            needed="a row of hubs for each; hubs without numbers are counted by: wearstats stock",
        )
    loans = hub_loans(snapshot)
    differ = _disagreements(snapshot)
    hubs = every[every["state"] != "out"].reset_index(drop=True)
    return ShelfStudy(
        as_of=snapshot.known_on,
        hubs=hubs,
        loans=loans,
        sizes=_sizes(snapshot, every, loans),
        disagreements=differ,
        verdict=_verdict(hubs, loans, differ),
    )


def _disagreements(snapshot: Snapshot) -> pd.DataFrame:
    """Find the sizes of which fewer were counted than lay there by number, or more than there can have been."""
    counts = snapshot.query("shelf/counts")
    there = counts["there"].map(len).astype(int)
    most = there + counts["without_number"].astype("Float64").fillna(float("inf")).astype(float)
    fewer, more = counts["counted"] - there, counts["counted"] - most
    differ = fewer.where(fewer < 0, more.where(more > 0, 0)).astype(int)
    look_for = counts["there"].where(differ < 0, counts["silent"]).map(tuple)
    found = counts[["pattern", "undersize_um", "counted_on", "counted"]].assign(differ=differ, look_for=look_for)
    return found[differ != 0].reset_index(drop=True)


def _sizes(snapshot: Snapshot, hubs: pd.DataFrame, loans: pd.DataFrame) -> pd.DataFrame:
    """Count the hubs of each size that has any by number."""
    by, out = ["pattern", "undersize_um"], hubs.set_index("hub")["undersize_um"]
    flags = {name: hubs["state"] == state for state, name in _STATES.items()}
    flags["gauged"] = flags["there"] & hubs["space_width_mm"].notna()
    counted = hubs[by].assign(**flags).groupby(by, as_index=False).sum()
    lent = loans[["pattern", "hubs"]].explode("hubs")
    lent_by = lent.assign(undersize_um=lent["hubs"].map(out).astype(float)).groupby(by).size().to_dict()
    on_hand = pd.concat(
        [
            snapshot.query("stock/on_hand", pattern=name)[["undersize_um", "on_hand", "counted_on"]].assign(
                pattern=name
            )
            for name in sorted(set(hubs["pattern"]))
        ]
    )
    joined = counted.merge(on_hand, on=by, how="left")
    lent_now = pd.MultiIndex.from_frame(joined[by]).map(lent_by.get)
    joined = joined.assign(on_loan=pd.Series(lent_now, index=joined.index).fillna(0).astype(int))
    whole = [*_STATES.values(), "gauged"]
    # of what was never counted nobody knows how many there are without a number
    hand = joined["on_hand"].astype(float).where(joined["counted_on"].notna())
    return joined.assign(**joined[whole].astype(int), on_hand=hand)


def _verdict(hubs: pd.DataFrame, loans: pd.DataFrame, differ: pd.DataFrame) -> Remark:
    """Say what comes first: somebody to ask, numbers to look for, hubs to gauge."""
    overdue, undated = loans[loans["overdue_days"] > 0], loans[loans["back_by"].isna()]
    gauge = hubs.loc[hubs["state"] == "to-gauge", "hub"]
    if len(overdue):
        return remark(ShelfVerdict.OVERDUE, **_first(overdue))
    if len(differ):
        row = differ.iloc[0]
        code = ShelfVerdict.COUNTED_FEWER if row["differ"] < 0 else ShelfVerdict.COUNTED_MORE
        facts = {"pattern": str(row["pattern"]), "undersize_um": float(row["undersize_um"])}
        return remark(code, **facts, hubs=abs(int(row["differ"])), more=len(differ) - 1)
    if len(gauge):
        return remark(ShelfVerdict.TO_GAUGE, hubs=len(gauge), first=str(gauge.iloc[0]))
    if len(undated):
        return remark(ShelfVerdict.UNDATED, **_first(undated))
    if len(loans):
        return remark(ShelfVerdict.DUE_NEXT, **_first(loans))
    return remark(ShelfVerdict.IN_ORDER, hubs=int((hubs["state"] == "there").sum()))


def _first(loans: pd.DataFrame) -> dict[str, Any]:
    return loan_facts(loans.iloc[0].to_dict())
