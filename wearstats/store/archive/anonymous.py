"""Names without names, for a store that is to be looked at by others.

Shafts, owners, measurers, inspections, gauges, check pieces, hubs, batches, orders and fittings are called by a
letter and a keyed digest [1]_, which says nothing of the name nor of its place among the others: shops number as
things come in, and who knows one number would know its neighbours. Every study matches them as before; inspections of
one day come in another order, which moves the components of the demo by up to 2 %, and what is drawn at random goes
by name and differs by chance, as by another seed. Nobody can find the name without the key, and two exports with one
key match each other. What an engine is called, what was filed with, why a batch was withdrawn, photos and all columns
that no table has are left out. Days, regions, duties and sizes stay: they are what is studied, and whoever knows a
shop well may know a shaft again by them.

References
----------
.. [1] H. Krawczyk, M. Bellare, R. Canetti, HMAC: keyed-hashing for message authentication, RFC 2104, 1997.
"""

from __future__ import annotations

import hashlib
import hmac

import pandas as pd

from wearstats.store.database.connection import Store

KINDS = {
    "shaft": "shaft",
    "measured_by": "measurer",
    "owner": "measurer",
    "inspection": "inspection",
    "inspections": "inspection",
    "gauge": "gauge",
    "hub": "hub",
    "batch": "batch",
    "order": "order",
    "fitting": "fitting",
    "refit_of": "fitting",
    "engine_type": "engine_type",
    "piece": "piece",
}
"""Columns that hold names, and what they name."""

UNNAMED = ("photos",)
"""Tables that no anonymous export holds: a picture may show whose engine it is."""

LEFT_OUT = ("engine", "compound", "withdrawn_because")
"""Columns of the contract that hold free text and that no study reads."""

REGISTERED = "anonymous_names"
"""The name under which the frame of aliases is seen by statements."""

_NAMED_IN = {
    "shaft": ("shafts", "shaft_events", "inspections", "check_piece_loans", "dispatches", "fittings", "orders"),
    "inspection": ("inspections", "readings", "dispatches"),
    "gauge": ("gauges", "inspections", "hub_spaces"),
    "hub": ("hubs", "hub_spaces", "dispatches", "fittings", "returns"),
    "batch": ("batches", "hubs"),
    "order": ("orders", "dispatches"),
    "fitting": ("fittings", "follow_ups", "returns"),
    "engine_type": ("engine_types",),
    "piece": ("check_pieces", "check_piece_loans", "inspections"),
}


def alias_names(store: Store, *, key: bytes) -> pd.DataFrame:
    """Give every name in the store another.

    Parameters
    ----------
    key : bytes
        Secret; the same key gives the same digests.

    Returns
    -------
    DataFrame
        ``kind``, ``name``, ``alias``.
    """
    frames = []
    for kind, names in _all_names(store).items():
        aliases = [f"{kind[0].upper()}-{_digest(key, kind, name)}" for name in names]
        frames.append(pd.DataFrame({"kind": kind, "name": names, "alias": aliases}))
    return pd.concat(frames, ignore_index=True)


def aliased(text: str, kind: str) -> str:
    """Write the SQL that gives a name's alias."""
    return f"(select named.alias from {REGISTERED} as named where named.kind = '{kind}' and named.name = {text})"


def aliased_list(table: str, key: str, column: str, kind: str) -> str:
    """Write the SQL of a derived table that gives the aliases of a list, joined by ``;``, by the table's key."""
    return f"""(
        select each."{key}" as listed_for, string_agg(named.alias, ';' order by each.place) as aliases
        from (
            select "{key}", unnest("{column}") as name, generate_subscripts("{column}", 1) as place from {table}
        ) as each
        join {REGISTERED} as named on named.kind = '{kind}' and named.name = each.name
        group by each."{key}"
    )"""


def _all_names(store: Store) -> dict[str, list[str]]:
    """List the names of every kind, sorted as the studies sort them."""
    found = {
        kind: _distinct(store, [f'select "{kind}" as name from {table}' for table in tables])
        for kind, tables in _NAMED_IN.items()
    }
    # who owns a shaft often measures it: one name in either place
    measurers = ["select measured_by as name from inspections"]
    measurers += [f"select owner as name from {table}" for table in ("shafts", "check_piece_loans")]
    found["measurer"] = _distinct(store, measurers)
    listed = _distinct(store, ["select unnest(inspections) as name from fittings"])
    found["inspection"] = sorted({*found["inspection"], *listed})
    refits = _distinct(store, ["select refit_of as name from fittings"])
    found["fitting"] = sorted({*found["fitting"], *refits})
    return found


def _distinct(store: Store, selects: list[str]) -> list[str]:
    return sorted({str(row[0]) for row in store.rows(" union ".join(selects)) if row[0] is not None})


def _digest(key: bytes, kind: str, name: str) -> str:
    return hmac.new(key, f"{kind}\0{name}".encode(), hashlib.sha256).hexdigest()[:12]
