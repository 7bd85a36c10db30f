"""Names that look alike: the same but for capitals, blanks, signs that do not show, ways to write a letter, O and 0."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import pandas as pd

from wearstats.store.database.connection import Store

KINDS: Final = {
    "shafts": ("shaft", "shafts"),
    "hubs": ("hub", "hubs"),
    "measurers": ("measured_by", "inspections"),
}
"""What is named, the column that names it and the table in which all its names stand."""
_ALIKE: Final = {"o": "0", "i": "1", "l": "1"}
"""Letters and figures that are taken for each other, written or typed; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LookAlike:
    """Two names of one kind that look alike.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    name : str
        The one that came later.
    like : str
        The one that was there first.
    """

    kind: str
    name: str
    like: str

    @property
    def same(self) -> str:
        """Give the command that says that they mean the same."""
        return f'wearstats store merge {self.kind} "{self.name}" "{self.like}"'


def skeleton(name: str) -> str:
    """Give what is left of a name when all is taken off in which look-alikes differ."""
    plain = unicodedata.normalize("NFKC", name).casefold()
    seen = "".join(sign for sign in plain if not sign.isspace() and unicodedata.category(sign) not in ("Cf", "Cc"))
    return seen.translate(str.maketrans("".join(_ALIKE), "".join(_ALIKE.values())))


def look_alikes(
    store: Store, *, intake: int | None = None, tables: Collection[str] | None = None
) -> tuple[LookAlike, ...]:
    """Find names that look like an earlier one.

    Parameters
    ----------
    store : Store
        Open store.
    intake : int, optional
        Only names that first came with this intake.
    tables : collection of str, optional
        Only names that stand in one of these.
    """
    found = []
    signs, figures = "".join(_ALIKE), "".join(_ALIKE.values())
    for kind, (column, table) in KINDS.items():
        if tables is not None and table not in tables:
            continue
        odd = [
            name
            for (name,) in store.rows(
                f"select distinct {column} from {table} where {column} <> strip_accents("
                f"{column}) or not regexp_full_match({column}, '[ -~]*')"
            )
        ]
        bones = pd.DataFrame({"name": odd, "bone": [skeleton(name) for name in odd]}, dtype="str")
        with store.frame("odd_names", bones):
            rows = store.rows(
                f"with named as (select {column} as name, min(intake) as first from {table} group by 1), "
                "bare as (select named.name, first, coalesce(odd_names.bone, translate(lower(regexp_replace("
                f"named.name, '\\s', '', 'g')), '{signs}', '{figures}')) as bone "
                "from named left join odd_names on odd_names.name = named.name), "
                "alike as (select name, first, "
                "first_value(name) over (partition by bone order by first, name) as earlier, "
                "count(*) over (partition by bone) as names from bare) "
                "select name, earlier from alike where names > 1 and name <> earlier "
                "and ($intake::integer is null or first = $intake::integer) order by 1",
                {"intake": intake},
            )
        found += [LookAlike(kind=kind, name=name, like=like) for name, like in rows]
    return tuple(found)
