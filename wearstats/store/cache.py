"""Documents that were long in the making are kept in a file beside the store, so that they need not be made again.

They hold nothing that the store does not give again: the file may be deleted at any time, and one that cannot be read,
or not be written, is passed over. Each is found under a key that names the state of the store by its intakes, and that
of the program, and counts only if it is as it was written. Whoever changes a store past its intakes, by SQL of his own,
has to delete the file.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from wearstats import __version__
from wearstats.resources import program_state
from wearstats.store.database.connection import Store

_MOST = 8
"""So many are kept, those made last."""


def kept_path(store: Path) -> Path:
    """Give the file that lies beside a store."""
    return store.with_name(f"{store.name}.kept.json")


def kept_key(store: Store, **asked: Any) -> str:
    """Name a document by all that it depends on.

    Parameters
    ----------
    store : Store
        Open store; every intake changes its keys.
    **asked
        What was asked, such as it goes into JSON.

    Returns
    -------
    str
        A digest, 64 hexadecimal digits.
    """
    state = store.query("store/state").astype(object).to_dict("list")
    told = json.dumps([__version__, program_state(), state, asked], sort_keys=True, default=str)
    return hashlib.sha256(told.encode()).hexdigest()


def find_kept(store: Store, key: str) -> dict[str, Any] | None:
    """Find a document; None where there is none, or the file cannot be read."""
    found = _read(kept_path(store.path)).get(key)
    if not isinstance(found, dict) or not isinstance(document := found.get("document"), dict):
        return None
    return document if found.get("sha256") == _digest(document) else None


def keep(store: Store, key: str, document: Mapping[str, Any]) -> None:
    """Keep a document; where the folder cannot be written to, nothing happens.

    Parameters
    ----------
    key : str
        Of `kept_key`.
    document : mapping
        What goes into JSON and comes out of it unchanged: numbers come back to the last bit.
    """
    path = kept_path(store.path)
    kept = {name: value for name, value in _read(path).items() if name != key}
    kept[key] = {"document": dict(document), "sha256": _digest(document)}
    text = json.dumps(dict([*kept.items()][-_MOST:]))
    with suppress(OSError):
        number, name = tempfile.mkstemp(prefix=path.name, dir=path.parent)
        try:
            with os.fdopen(number, "w", encoding="utf-8") as file:
                file.write(text)
            Path(name).chmod(store.path.stat().st_mode & 0o777)
            # readers see the old file or the new one, never a part
            Path(name).replace(path)
        finally:
            Path(name).unlink(missing_ok=True)


def _digest(document: Mapping[str, Any]) -> str:
    return hashlib.sha256(json.dumps(document, sort_keys=True).encode()).hexdigest()


def _read(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}
