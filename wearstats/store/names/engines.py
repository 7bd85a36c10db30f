"""The pattern of an engine: found by its type, as the shop's own table of types has it; none comes with the program."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from wearstats.store.database.connection import Store

if TYPE_CHECKING:
    from wearstats.store.parsing.incoming import Incoming


def patterns_of_engine(store: Store, engine: str) -> list[str]:
    """Give the patterns that an engine's type takes.

    Parameters
    ----------
    store : Store
        Open store.
    engine : str
        As it is written: it may say more than the type, such as the engine's number.

    Returns
    -------
    list of str
        In the order of the alphabet; of the longest type that is named in it, so that a variant goes before its like.
    """
    return _patterns(store.rows("select engine_type, pattern from engine_types"), engine)


def engines_named_in(store: Store, words: str) -> list[str]:
    """List the engine types that running words name; a type within a longer one there is not named by itself.

    Types without a letter are passed over: in words a number may be anything.
    """
    types = [str(kind) for (kind,) in store.rows("select distinct engine_type from engine_types order by 1")]
    said, named = f" {_bare(words)} ", []
    for kind in sorted(types, key=lambda kind: -len(_bare(kind))):
        if re.search(r"[^\W\d_]", kind) and f" {_bare(kind)} " in said:
            named.append(kind)
            said = said.replace(f" {_bare(kind)} ", "  ")
    return named


def fill_by_engine(store: Store, incoming: Incoming, pattern: str) -> list[str]:
    """Fill in the pattern of staged rows that name an engine and no pattern; gives what there is to say of it.

    Parameters
    ----------
    store : Store
        Open for writing.
    incoming : Incoming
        Rows that name engines.
    pattern : str
        The staging column of their pattern.
    """
    types = store.rows("select engine_type, pattern from engine_types")
    if not types:
        return []
    engine = incoming.columns["engine"]
    blank = f"trim(coalesce({pattern}, '')) = ''"
    told = []
    for (text,) in store.rows(
        f"select distinct trim({engine}) from {incoming.relation} where trim(coalesce({engine}, '')) <> '' and {blank} "
        "order by 1"
    ):
        found = _patterns(types, text)
        if len(found) == 1:
            store.execute(
                f"update {incoming.relation} set {pattern} = $pattern where trim({engine}) = $engine and {blank}",
                {"pattern": found[0], "engine": text},
            )
            told.append(f"{incoming.file}: engine '{text}' takes pattern {found[0]}, as engine_types has it")
        elif found:
            told.append(f"{incoming.file}: engine '{text}' takes {' or '.join(found)}: say which in a column pattern")
    return told


def _patterns(types: list[tuple[str, str]], engine: str) -> list[str]:
    said = f" {_bare(engine)} "
    named = [(len(_bare(kind)), pattern) for kind, pattern in types if f" {_bare(kind)} " in said]
    longest = max((length for length, _ in named), default=0)
    return sorted({pattern for length, pattern in named if length == longest})


def _bare(text: str) -> str:
    """Take off in what two ways to write a type differ: capitals, and all signs but letters and figures."""
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))
