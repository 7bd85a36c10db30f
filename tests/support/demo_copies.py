"""Copies of the demo's store, with what was worked out of it by then beside it."""

from __future__ import annotations

import shutil
from pathlib import Path

from wearstats.store.cache.entries import cache_folder


def copy_with_kept(store: Path, to: Path) -> Path:
    """Copy a store's file, and what is kept beside it: a question of the copy then rests on that."""
    shutil.copy(store, to)
    if cache_folder(store).is_dir():
        # what somebody is writing meanwhile is left there
        shutil.copytree(cache_folder(store), cache_folder(to), ignore=shutil.ignore_patterns("making-*"))
    return to
