"""What columns a frame has that goes from one floor to another, written down once beside the field that holds it.

A field is declared ``rows: Annotated[pd.DataFrame, columns(fitting="text", gap_left_um="number")]``. When tests run
every result that is made is held against what it declares (`tests/support/declared_frames.py`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "number", "whole", "flag", "day", "any"]
"""What a column holds, missing values among it; ``any``: objects, or what differs from row to row."""

_HOLDS: dict[Kind, tuple[Kind, ...]] = {
    "number": ("number", "whole"),
    "any": ("text", "number", "whole", "flag", "day"),
}
"""What besides itself a kind admits."""


@dataclass(frozen=True, slots=True)
class Columns:
    """The columns of a frame.

    Parameters
    ----------
    always : mapping of str to Kind
        Columns that it always has.
    sometimes : mapping of str to Kind
        Columns that it may have.
    """

    always: Mapping[str, Kind]
    sometimes: Mapping[str, Kind]

    def problems(self, found: Mapping[str, Kind | None]) -> list[str]:
        """Say what of a frame is not as declared.

        Parameters
        ----------
        found : mapping of str to Kind or None
            Its columns; None where a column holds nothing that would tell.
        """
        declared = {**self.always, **self.sometimes}
        lacking = [f"no column {name}" for name in self.always if name not in found]
        undeclared = [f"column {name} is not declared" for name in found if name not in declared]
        other = [
            f"column {name} holds {kind}, not {declared[name]}"
            for name, kind in found.items()
            if name in declared and kind is not None and kind not in (declared[name], *_HOLDS.get(declared[name], ()))
        ]
        return lacking + undeclared + other


def columns(*, sometimes: Mapping[str, Kind] | None = None, **always: Kind) -> Columns:
    """Declare columns; `sometimes` are those that are not always there."""
    return Columns(always, sometimes or {})
