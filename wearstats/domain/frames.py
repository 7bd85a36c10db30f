"""What columns a frame has that goes from one floor to another, written down once beside the field that holds it.

A field is declared ``rows: Annotated[pd.DataFrame, columns(text="fitting shaft", number="gap_um play_um?")]``. When
tests run, every result that is made is held against what it declares (`tests/support/declared_frames.py`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

Kind = Literal["text", "number", "whole", "flag", "day", "any"]
"""What a column holds, missing values among it; ``any``: objects, or what differs from row to row."""

_HOLDS: dict[Kind, tuple[Kind, ...]] = {"number": ("whole",), "any": ("text", "number", "whole", "flag", "day")}
"""What besides itself a kind admits."""


@dataclass(frozen=True, slots=True)
class Columns:
    """The columns of a frame.

    Parameters
    ----------
    kinds : mapping of str to Kind
        By name.
    sometimes : frozenset of str
        Those that are not always there.
    carried : bool
        Whether further columns come along as they were given.
    """

    kinds: Mapping[str, Kind]
    sometimes: frozenset[str]
    carried: bool = False

    def problems(self, found: Mapping[str, Kind | None]) -> list[str]:
        """Say what of a frame is not as declared.

        Parameters
        ----------
        found : mapping of str to Kind or None
            Its columns; None where a column holds nothing that would tell.
        """
        lacking = [f"no column {name}" for name in self.kinds if name not in found and name not in self.sometimes]
        others = [] if self.carried else [name for name in found if name not in self.kinds]
        undeclared = [f"column {name} is not declared" for name in others]
        other = [
            f"column {name} holds {kind}, not {self.kinds[name]}"
            for name, kind in found.items()
            if name in self.kinds and kind not in (None, self.kinds[name], *_HOLDS.get(self.kinds[name], ()))
        ]
        return lacking + undeclared + other


def columns(*, carried: bool = False, **by_kind: str) -> Columns:
    """Declare columns.

    Parameters
    ----------
    carried : bool
        Whether further columns come along as they were given.
    **by_kind : str
        Names apart by blanks, by what they hold: ``text="fitting shaft"``; a question mark behind a name says that the
        column is not always there. ValueError for a kind that is none.
    """
    kinds: dict[str, Kind] = {}
    for written, names in by_kind.items():
        kind = next((kind for kind in get_args(Kind) if kind == written), None)
        if kind is None:
            raise ValueError(f"{written}: no kind of column")
        kinds |= dict.fromkeys((name.removesuffix("?") for name in names.split()), kind)
    sometimes = [name.removesuffix("?") for names in by_kind.values() for name in names.split() if name.endswith("?")]
    return Columns(kinds, frozenset(sometimes), carried)
