"""What goes on the machine now: every size to make with the limits of its spaces, its bore, number and engraving."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import pandas as pd

from wearstats.analysis.gaps.spoiled import LEFT_OUT, judge_hubs
from wearstats.analysis.making.batch_spread import BatchSpread, spread_of_gauged, spread_of_plugs
from wearstats.analysis.register.bores import Bore, bore_for_batch
from wearstats.analysis.remark import Remark, remark
from wearstats.domain.tolerances.limits_fits import MOST_MM, tolerance_um
from wearstats.domain.units import engraved
from wearstats.studies.making.answer import BatchToMake, MakingList, PatternMaking
from wearstats.studies.making.batch_numbers import next_numbers
from wearstats.studies.making.remarks import LimitsFrom, MakingRemark
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.answer import PatternStock, StockStudy

_GRADE: Final = 7
"""Grade of the limits (ISO 286-1) where nothing is learnt; common practice, no source."""
_LEAST_SET_UM: Final = 1.0
"""No machine is set by less (judgement)."""
_FEWEST_GAUGED: Final = 10
"""Gauged hubs, beyond one a batch, from which the spread is theirs."""


def study_making(snapshot: Snapshot, stock: StockStudy) -> MakingList:
    """List what is to be made now.

    Parameters
    ----------
    snapshot : Snapshot
        As the stock was asked of.
    stock : StockStudy
        How many of which size.

    Returns
    -------
    MakingList
        Without patterns of which nothing is to be made.
    """
    wanted = {
        name: {um: hubs for um, hubs in part.make.make.items() if hubs}
        for name, part in stock.by_pattern.items()
        if part.make and part.make.hubs
    }
    known = snapshot.query("making/names")["batch"].tolist()
    numbers = iter(next_numbers([str(name) for name in known], sum(map(len, wanted.values()))))
    rows = snapshot.query("store/patterns").to_dict("records")
    patterns = {str(row["pattern"]): row for row in rows}
    by_pattern = {}
    for name, sizes in wanted.items():
        numbered = {um: (next(numbers), hubs) for um, hubs in sizes.items()}
        by_pattern[name] = _of_pattern(snapshot, name, patterns[name], stock.by_pattern[name], numbered)
    not_told = {name: part.why_no_make for name, part in stock.by_pattern.items() if part.why_no_make is not None}
    return MakingList(as_of=stock.as_of, by_pattern=by_pattern, not_told=not_told)


def _of_pattern(
    snapshot: Snapshot, name: str, row: dict[Any, Any], stock: PatternStock, sizes: dict[float, tuple[str, int]]
) -> PatternMaking:
    standard_mm = float(row["space_width_mm"])
    made = snapshot.query("making/batches", pattern=name)
    spread = _spread(snapshot, name, standard_mm, made)
    step = _step(stock.choice.chosen.undersizes_um)
    half, why = half_limits(spread, step, standard_mm)
    batches = tuple(
        BatchToMake(
            batch=number,
            undersize_um=um,
            quantity=hubs,
            space_mm=(space := round(standard_mm - um / 1000, 4)),
            go_mm=round(space - half / 1000, 4),
            no_go_mm=round(space + half / 1000, 4),
            limits_from=why,
            engraving=f"{name} {engraved(um)} {number}",
        )
        for um, (number, hubs) in sizes.items()
    )
    newest = {} if made.empty else made.astype(object).where(made.notna(), "").iloc[-1].to_dict()
    return PatternMaking(
        pattern=name,
        batches=batches,
        spread=spread,
        bore=_bore(snapshot, name, row),
        material=str(newest.get("material", "")),
        hardened=str(newest.get("hardened", "")),
        remarks=(*_remarks(spread, step), *_misfits(snapshot, name)),
    )


def _spread(snapshot: Snapshot, name: str, standard_mm: float, made: pd.DataFrame) -> BatchSpread | None:
    """Learn how batches came out: by their gauged hubs where there are enough, else by their plugs."""
    hubs = snapshot.query("stock/gauged_hubs", pattern=name).dropna(subset=["batch"])
    off = 1000 * (hubs["space_width_mm"].to_numpy(dtype=float) - standard_mm) + hubs["undersize_um"].to_numpy(
        dtype=float
    )
    sound = judge_hubs(off, hubs["batch"].to_numpy(dtype=object)) <= LEFT_OUT
    by_batch = pd.Series(off[sound]).groupby(hubs["batch"].to_numpy(dtype=object)[sound]).agg(["mean", "var", "count"])
    plugged = made[made["no_go_mm"] > made["go_mm"]]
    if int((by_batch["count"] - 1).sum()) >= _FEWEST_GAUGED or (plugged.empty and len(by_batch)):
        return spread_of_gauged(
            by_batch["mean"].to_numpy(dtype=float),
            by_batch["var"].fillna(0.0).to_numpy(dtype=float),
            by_batch["count"].to_numpy(dtype=np.int64),
        )
    if plugged.empty:
        return None
    return spread_of_plugs(*(1000 * plugged[name].to_numpy(dtype=float) for name in ("go_mm", "no_go_mm")))


def _step(kept_um: tuple[float, ...]) -> float:
    """Give the least step between sizes kept; infinite where only one is."""
    return float(np.diff(np.sort(kept_um)).min()) if len(kept_um) > 1 else math.inf


def half_limits(spread: BatchSpread | None, step_um: float, space_mm: float) -> tuple[float, Remark]:
    """Give how far from what is meant spaces may lie, in whole micrometres.

    As far as batches spread, but never past the middle between two sizes: beyond that a hub is another size.

    Parameters
    ----------
    spread : BatchSpread or None
        How batches came out.
    step_um : float
        Least step between sizes kept.
    space_mm : float
        Standard space.
    """
    if spread is not None and spread.half_um is not None:
        half, why = spread.half_um, remark(LimitsFrom.SPREAD if spread.hubs else LimitsFrom.PLUGS)
    else:
        grade = tolerance_um(min(space_mm, MOST_MM), _GRADE)
        half, why = grade / 2, remark(LimitsFrom.GRADE, grade=_GRADE, tolerance_um=grade)
    if half > step_um / 2:
        half, why = step_um / 2, remark(LimitsFrom.STEP, step_um=step_um)
    return max(float(math.floor(half)), 1.0), why


def _remarks(spread: BatchSpread | None, step_um: float) -> tuple[Remark, ...]:
    if spread is None:
        return (remark(MakingRemark.NOTHING_LEARNT),)
    told = []
    half, off = spread.half_um, spread.off_um
    if half is not None and spread.hubs and 2 * half > step_um:
        told.append(remark(MakingRemark.WIDER_THAN_STEP, spread_um=2 * half, step_um=step_um))
    if off.side() in (1, -1) and abs(off.value or 0.0) >= _LEAST_SET_UM:
        told.append(remark(MakingRemark.CAME_OUT_OFF, off_um=off, batches=spread.batches))
    elif off.value is not None:
        told.append(remark(MakingRemark.CAME_OUT_RIGHT, off_um=off, batches=spread.batches))
    return tuple(told)


def _misfits(snapshot: Snapshot, name: str) -> tuple[Remark, ...]:
    """Say how many hubs came back since their bore did not suit, and how many were sent with no register read."""
    found = snapshot.query("making/misfits", pattern=name).iloc[0].to_dict()
    return (
        (remark(MakingRemark.MISFITS, **{str(key): int(value) for key, value in found.items()}),)
        if found["hubs"]
        else ()
    )


def _bore(snapshot: Snapshot, name: str, row: dict[Any, Any]) -> Bore | None:
    """Give the bore's limits over the register; None where the pattern has none."""
    pattern_mm = row["register_mm"]
    if pd.isna(pattern_mm):
        return None
    return bore_for_batch(
        snapshot.query("making/registers", pattern=name)["register_mm"].to_numpy(dtype=float), pattern_mm
    )
