"""The making list: what goes on the machine, and within which limits."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearstats.analysis.making.batch_spread import BatchSpread
from wearstats.analysis.register.bores import Bore
from wearstats.analysis.remark import Remark


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchToMake:
    """One batch.

    Parameters
    ----------
    batch : str
        Its number, the shop's next.
    undersize_um : float
    quantity : int
    space_mm : float
        What the spaces are meant to be.
    go_mm, no_go_mm : float
        Their limits: the plug that must go in, and the one that must not.
    limits_from : Remark
        `LimitsFrom`.
    engraving : str
        What is cut into each hub.
    """

    batch: str
    undersize_um: float
    quantity: int
    space_mm: float
    go_mm: float
    no_go_mm: float
    limits_from: Remark
    engraving: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternMaking:
    """What to make of one pattern.

    Parameters
    ----------
    pattern : str
    batches : tuple of BatchToMake
        By undersize.
    spread : BatchSpread or None
        How batches came out so far; None where nothing of it is on record.
    bore : Bore or None
        None where the pattern has no register.
    material, hardened : str
        As those of the newest batch; empty where not on record.
    remarks : tuple of Remark
        `MakingRemark`.
    """

    pattern: str
    batches: tuple[BatchToMake, ...]
    spread: BatchSpread | None
    bore: Bore | None
    material: str
    hardened: str
    remarks: tuple[Remark, ...]

    def to_dict(self) -> dict[str, Any]:
        """Give what the ``--json`` document has."""
        return {
            "batches": self.batches,
            "spread": self.spread,
            "bore": self.bore,
            "material": self.material,
            "hardened": self.hardened,
            "remarks": self.remarks,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class MakingList:
    """What to make now.

    Parameters
    ----------
    as_of : datetime.date
        The day.
    by_pattern : mapping
        Patterns of which something is to be made.
    not_told : mapping
        Patterns of which it cannot be told, with why.
    """

    as_of: datetime.date
    by_pattern: Mapping[str, PatternMaking]
    not_told: Mapping[str, Remark]

    @property
    def hubs(self) -> int:
        """All hubs on it."""
        return sum(batch.quantity for part in self.by_pattern.values() for batch in part.batches)

    def batches_frame(self) -> pd.DataFrame:
        """Give a row a batch, as intake takes them once ``made_on`` is filled in; the last columns become its notes."""
        rows = [
            {
                "batch": batch.batch,
                "pattern": name,
                "undersize_um": batch.undersize_um,
                "made_on": "",
                "quantity": batch.quantity,
                "go_mm": batch.go_mm,
                "no_go_mm": batch.no_go_mm,
                "material": part.material,
                "hardened": part.hardened,
                "meant_space_mm": batch.space_mm,
                "bore_from_mm": None if part.bore is None else part.bore.low_mm,
                "bore_to_mm": None if part.bore is None else part.bore.high_mm,
                "engraved": batch.engraving,
            }
            for name, part in self.by_pattern.items()
            for batch in part.batches
        ]
        return pd.DataFrame(rows)
