"""How a number was come by, or why there is none: a code with its facts, of which `report.remarks` makes words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any


@dataclass(frozen=True, slots=True)
class Remark:
    """A code with the facts that its sentence needs.

    Parameters
    ----------
    code : str
        A member of the enumeration of the room that remarks; no two rooms share a value.
    facts : mapping
        Plain numbers, texts, days, or further remarks, by the names that the sentence has for them.
    """

    code: StrEnum | str
    facts: Mapping[str, Any] = field(default_factory=dict)

    def __hash__(self) -> int:
        return hash((str(self.code), tuple(self.facts)))


class Quoted(StrEnum):
    """Of what was said already."""

    REFUSAL = "refused-because"


def remark(code: StrEnum, **facts: Any) -> Remark:
    """Make a remark."""
    return Remark(code, facts)


def refused(error: Exception | str) -> Remark:
    """Make a remark of why something could not be answered; its message is its sentence already."""
    return Remark(Quoted.REFUSAL, {"message": str(error)})
