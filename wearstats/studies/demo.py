"""The demo: a store made from the invented history that comes with the program."""

from __future__ import annotations

import datetime
import hashlib
import json
from pathlib import Path

from wearstats.resources import resource
from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.snapshot import Snapshot

DEMO_DATA = "data/demo"


def demo_files() -> list[Path]:
    """List the demo's files, one a table."""
    return sorted(resource(DEMO_DATA).glob("*.csv"))


def demo_as_of() -> datetime.date:
    """Give the last day of the invented history; asked later, all hubs would merely look long unheard of."""
    truth = json.loads((resource(DEMO_DATA) / "truth.json").read_text(encoding="utf-8"))
    return datetime.date.fromisoformat(truth["scenario"]["end"])


def make_demo_store(path: Path, *, force: bool = False) -> None:
    """Make a store and add the demo's files to it.

    Parameters
    ----------
    path : pathlib.Path
        Where.
    force : bool
        Whether a store that is there already may be overwritten.
    """
    create_store(path, force=force)
    with open_store(path, write=True) as store:
        add_files(store, demo_files(), added_on=demo_as_of())


def is_invented(snapshot: Snapshot) -> bool:
    """Tell whether a store holds any of the demo's files; whatever is shown from it has to say so."""
    shipped = {hashlib.sha256(path.read_bytes()).hexdigest() for path in demo_files()}
    return bool(snapshot.query("store/files_added")["content_sha256"].isin(shipped).any())
