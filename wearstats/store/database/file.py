"""The store's file: opened, once another process has let go of it, or refused in our words."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import duckdb

from wearstats.errors import StoreError
from wearstats.store.database.failures import damaged, first_line, is_damage, is_forbidden, reason
from wearstats.store.database.room import database_room, spill_folder

NO_STORE = "make one with: wearstats store new"

_HOLDER = re.compile(r"held in (?P<program>.*?)\(PID (?P<pid>[0-9]+)\)")


def connect(
    path: Path, *, write: bool, wait_s: float, on_wait: Callable[[str], None] | None
) -> duckdb.DuckDBPyConnection:
    """Open the file, waiting a while for another process."""
    room, (spill, spilt) = database_room(write=write), spill_folder(path)
    config: dict[str, str | bool | int | float | list[str]] = {
        "autoinstall_known_extensions": False,
        "autoload_known_extensions": False,
        "python_enable_replacements": False,
        "memory_limit": f"{room.memory}B",
        "threads": room.threads,
        # what is more than fits into memory goes through files there
        "temp_directory": str(spill),
    }
    deadline = time.monotonic() + wait_s
    told = False
    while True:
        try:
            connection = duckdb.connect(str(path), read_only=not write, config=config)
            # a bar of progress would stand between the answers of a question that takes long; settings are locked
            # already where this program has the file open
            with suppress(duckdb.InvalidInputException):
                connection.execute("set enable_progress_bar = false")
                connection.execute(f"set max_temp_directory_size = '{spilt}B'")
            return connection
        except (duckdb.Error, UnicodeDecodeError) as refused:
            text = str(refused)
            if not is_lock(text):
                raise _refusal(path, refused) from refused
            holder = _HOLDER.search(text)
            who = f"process {holder['pid']}" if holder else "another process"
            if time.monotonic() >= deadline:
                raise StoreError(
                    f"{path}: is in use by {who}; waited {wait_s:g} s; allowed: one that writes, or any number that "
                    "read; try again when it has finished"
                ) from refused
            if on_wait is not None and not told:
                on_wait(f"{path} is in use by {who}; waiting up to {wait_s:g} s")
                told = True
            time.sleep(0.05)


def is_lock(text: str) -> bool:
    """Whether DuckDB says that another process holds the file."""
    return "lock on file" in text


def _refusal(path: Path, refused: duckdb.Error | UnicodeDecodeError) -> StoreError:
    """Say in our words why DuckDB would not open a file."""
    low = str(refused).lower()
    log = path.with_name(f"{path.name}.wal")
    if "wal file" in low and log.exists():
        return StoreError(
            f"{path}: its log {log.name} is damaged ({first_line(refused)}), so the last command that wrote cannot be "
            f"brought back; move that file to another place, and the store opens as it was before that command; look "
            "with: wearstats store info; then add again what is missing, nothing counts twice"
        )
    if isinstance(refused, duckdb.Error) and is_damage(refused):
        return damaged(path, refused)
    if "different configuration" in low:
        return StoreError(f"{path}: is already open in this program in another way; close it first")
    # a file that ends in .csv or the like DuckDB would take for data to look at
    if "not a valid duckdb" in low or "does not appear to be" in low or "in-memory" in low:
        return StoreError(f"{path}: is not a DuckDB file, so not a store; {NO_STORE}")
    if "newer version" in low or "storage version" in low or "version number" in low:
        return StoreError(f"{path}: was written by a newer DuckDB; install a newer wearstats")
    if isinstance(refused, duckdb.Error) and is_forbidden(refused):
        return StoreError(
            f"{path}: may not be opened ({reason(refused)}); check the permissions of the file, its folder and its "
            "disk, or copy it to where it may be opened"
        )
    return StoreError(f"{path}: cannot be opened ({first_line(refused)}); restore a backup: wearstats store restore")
