"""A store that is read without the names of people: owners and measurers are told by codes.

Codes keep the order of the names, so that every study says the same; within one answer they match each other, and
nothing leads from them to the names. An inspection or a gauge whose name was made from its measurer's has the code in
that place, and so have remarks. Names that stand in a remark and nowhere else are not known to be names, and stay.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import pandas as pd

from wearstats.store.database.connection import Store

_PEOPLE: Final = ("owner", "measured_by")
_NAMED_AFTER: Final = ("inspection", "inspections", "gauge", "source", "name", "value", "measurer", "condition")
"""Columns in which a person's name may be a part of a text, or of the texts of a list."""
_EVERYBODY: Final = """
    select measured_by as name from inspections union select measured_by from history_inspections
    union select owner from shafts union select owner from history_shafts
    union select owner from check_piece_loans union select owner from history_check_piece_loans
"""


class NamelessStore(Store):
    """A store whose frames bear no names of people.

    Parameters
    ----------
    store : Store
        As it is; its connection is shared.
    """

    def __init__(self, store: Store) -> None:
        super().__init__(store.path, store._connection, write=store.write)
        names = sorted(str(name) for (name,) in store.rows(_EVERYBODY) if name is not None)
        width = len(str(len(names)))
        self._codes = {name: f"person-{place:0{width}d}" for place, name in enumerate(names, start=1)}
        self._longest = max((len(name.split(" ")) for name in names), default=0)

    def in_memory(self) -> Store:
        """Give an empty store beside this one, that hides the same names."""
        beside = NamelessStore(super().in_memory())
        beside.path, beside._codes, beside._longest = Path(":memory:"), self._codes, self._longest
        return beside

    def table(self, sql: str, params: Any = None) -> pd.DataFrame:
        """Give the rows of a statement, without names."""
        return self._hidden(super().table(sql, params))

    def _next_part(self, running: Any) -> pd.DataFrame:
        return self._hidden(super()._next_part(running))

    def _hidden(self, frame: pd.DataFrame) -> pd.DataFrame:
        told: dict[str, Any] = {}
        for column in frame.columns.intersection([*_PEOPLE, *_NAMED_AFTER]):
            values = frame[column]
            if values.dtype.kind in "biufM":
                continue
            told[column] = values.map(self._code if column in _PEOPLE else self._without, na_action="ignore")
        return frame.assign(**told) if told else frame

    def _code(self, name: Any) -> Any:
        # an owner may be told by an order of his
        return self._codes.get(name, name)

    def _without(self, text: Any) -> Any:
        """Put codes for the names that a text holds as whole words."""
        if not isinstance(text, str):
            return text if not hasattr(text, "__len__") else [self._without(each) for each in text]
        words, kept, at = text.split(" "), [], 0
        while at < len(words):
            for size in range(min(self._longest, len(words) - at), 0, -1):
                if (code := self._codes.get(" ".join(words[at : at + size]))) is not None:
                    kept.append(code)
                    at += size
                    break
            else:
                kept.append(words[at])
                at += 1
        return " ".join(kept)
