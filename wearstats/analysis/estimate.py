"""An uncertain number, as every study returns it and every page prints it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

Status = Literal["ok", "assumed", "bounded", "beyond-data", "none"]

Z95 = 1.959963984540054
"""So many standard errors on either side enclose 95 in 100 of a normal distribution."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A number with its interval and where it comes from.

    Parameters
    ----------
    value : float or None
        The estimate, in the unit its key or column names; None where there is none.
    low, high : float or None
        Ends of the interval at `level`; None where unbounded or unknown.
    level : float
        Coverage the interval is meant to have, 0.95 unless said.
    method : str
        How it was computed, in a few words.
    status : {"ok", "assumed", "bounded", "beyond-data", "none"}
        ``assumed``: not identified by these data, taken from a stated assumption; ``bounded``: only a bound;
        ``beyond-data``: outside what was recorded; ``none``: no answer.
    """

    value: float | None
    low: float | None = None
    high: float | None = None
    level: float = 0.95
    method: str = ""
    status: Status = "ok"

    def __post_init__(self) -> None:
        """Turn NaN and infinities into None, so that no result ever prints them."""
        for name in ("value", "low", "high"):
            number = getattr(self, name)
            clean = float(number) if number is not None and math.isfinite(number) else None
            object.__setattr__(self, name, clean)

    def to_dict(self) -> dict[str, float | str | None]:
        """Give the ``--json`` form of the contract."""
        return {
            "value": self.value,
            "low": self.low,
            "high": self.high,
            "level": self.level,
            "method": self.method,
            "status": self.status,
        }


def assumed(value: float, *, low: float | None = None, high: float | None = None, why: str) -> Estimate:
    """Make an estimate that is an assumption, with the reason as its method."""
    return Estimate(value=value, low=low, high=high, method=why, status="assumed")


def no_estimate(why: str) -> Estimate:
    """Make an estimate without a number, with the reason as its method."""
    return Estimate(value=None, method=why, status="none")
