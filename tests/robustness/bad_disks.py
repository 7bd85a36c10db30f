"""Disks that fill up and files that spoil: ``python -m tests.robustness.bad_disks COUNT`` writes ``bad_disks.md``.

*No room*: a child may write files only up to a size drawn beforehand (a limit that the system puts on a process, so
that no disk need be filled), and adds, corrects, migrates or saves until it meets it. *Spoiled*: bytes of a store or
its log are cut off, flipped or overwritten with zeros; what the program says of it is followed to the end.
The parent itself never opens a store, so that every child may be forked.
"""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.robustness.killing import (
    ADDED_ON,
    FORK,
    INSPECTIONS,
    MARKS,
    Base,
    Prints,
    bases,
    elsewhere,
    files_of,
    fingerprint,
    look,
    work,
    write_files,
)
from tests.store.support.small_store import make_store
from wearstats.errors import StoreError
from wearstats.store.archive.backup import backup_store, restore_store
from wearstats.store.archive.verify import read_whole
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files

SEED = 43
HERE = Path(__file__).parent
UNSEEN = "not told, though something is lost"
Found = Counter[tuple[str, str, str]]


def log_of(path: Path) -> Path:
    """Name the log that stands beside a store whose last writer did not end well."""
    return path.with_name(f"{path.name}.wal")


# ---------------------------------------------------------------------------------------------------- no room


def with_little_room(job: str, path: Path, folder: Path, most_bytes: int) -> str:
    """Do a job in a child that may write no file longer than so many bytes; gives what it was told, or ``done``."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))
    return undisturbed(job, path, folder)


def undisturbed(job: str, path: Path, folder: Path) -> str:
    """Do a job in a child; gives what it was told, or ``done``."""
    with open(os.devnull, "w", encoding="utf-8") as nobody:
        try:
            work(job, path, folder, nobody.fileno())
        except StoreError as refused:
            return str(refused)
    return "done"


def fill_once(job: str, most_bytes: int, place: Path, base: Base) -> tuple[str, str]:
    """Let one job meet its limit; gives how it ended and what was found of it. AssertionError where they disagree."""
    room = Path(tempfile.mkdtemp(dir=place))
    path = room / "kept.duckdb"
    shutil.copy2(base.path, path)
    told = elsewhere(with_little_room, job, path, base.folder, most_bytes)
    left = {file.name for file in room.iterdir()}
    assert not any(name.endswith(".new") for name in left), left
    if told != "done":
        assert "\n" not in told
        assert "room" in told or "too large" in told.lower(), told
        assert "saved.duckdb" not in left
    outcome = str(elsewhere(look, job, path, base))
    if job == "backup":
        outcome = "whole" if told == "done" else "absent"
    assert (told == "done") == (outcome == "whole"), (told, outcome)
    shutil.rmtree(room)
    return ("done" if told == "done" else "told that there is no room"), outcome


def fill(count: int, place: Path) -> Found:
    """Let so many jobs meet a limit, from a few bytes to a little more than the job needs."""
    held = elsewhere(bases, place)
    rng = random.Random(SEED)
    needed = {}
    for job, base in held.items():
        room = Path(tempfile.mkdtemp(dir=place))
        shutil.copy2(base.path, room / "kept.duckdb")
        elsewhere(undisturbed, job, room / "kept.duckdb", base.folder)
        needed[job] = max(file.stat().st_size for file in room.iterdir())
    found: Found = Counter()
    for number in range(count):
        job = [*MARKS][number % len(MARKS)]
        # the log of a job is much shorter than the store
        most = round(rng.choice([0.02, 0.3, 1.0, 1.0]) * rng.uniform(0.0, 1.2) * needed[job])
        found[job, *fill_once(job, most, place, held[job])] += 1
    return found


# ---------------------------------------------------------------------------------------------------- spoiled


@dataclass(frozen=True, slots=True, kw_only=True)
class Years:
    """A store whose last intake, a correction, is not in its backup, and the same with that intake still in its log."""

    path: Path
    logged: Path
    backup: Path
    folder: Path
    before: Prints
    after: Prints


def _stop_before_the_checkpoint(path: Path, folder: Path) -> None:
    """Correct, and stop as pulled plugs do: committed, but nothing brought from the log into the file."""
    real = Store.execute

    def execute(self: Store, sql: str, params: object = None) -> None:
        if sql == "checkpoint":
            os._exit(0)
        real(self, sql, params)  # type: ignore[arg-type]

    Store.execute = execute  # type: ignore[method-assign]
    with open_store(path, write=True) as store:
        add_files(store, files_of(folder, "correct"), added_on=ADDED_ON, correct=True)


def _years(place: Path) -> Years:
    folder = place / "files"
    write_files(folder)
    path = make_store(place / "kept.duckdb")
    with open_store(path, write=True) as store:
        add_files(store, files_of(folder, "add"), added_on=ADDED_ON)
    with open_store(path) as store:
        before = fingerprint(store)
    backup = place / "saved.duckdb"
    backup_store(path, backup)
    logged = place / "logged.duckdb"
    shutil.copy2(path, logged)
    with open_store(path, write=True) as store:
        add_files(store, files_of(folder, "correct"), added_on=ADDED_ON, correct=True)
    with open_store(path) as store:
        after = fingerprint(store)
    return Years(path=path, logged=logged, backup=backup, folder=folder, before=before, after=after)


def years(place: Path) -> Years:
    """Make the stores that are spoiled."""
    made: Years = elsewhere(_years, place)
    child = FORK.Process(target=_stop_before_the_checkpoint, args=(made.logged, made.folder))
    child.start()
    child.join()
    assert log_of(made.logged).stat().st_size > 0
    return made


def cut(content: bytes, rng: random.Random) -> bytes:
    """Keep only a beginning."""
    return content[: rng.randrange(1, len(content))]


def flip(content: bytes, rng: random.Random) -> bytes:
    """Turn one bit."""
    spoiled = bytearray(content)
    spoiled[rng.randrange(len(spoiled))] ^= 1 << rng.randrange(8)
    return bytes(spoiled)


def blank(content: bytes, rng: random.Random) -> bytes:
    """Overwrite a sector of a disk with zeros."""
    at = rng.randrange(len(content)) // 4096 * 4096
    return content[:at] + bytes(len(content[at : at + 4096])) + content[at + 4096 :]


SPOILED: dict[str, Callable[[bytes, random.Random], bytes]] = {
    "cut short": cut,
    "a bit flipped": flip,
    "a sector of zeros": blank,
}


def complete(path: Path, held: Years) -> None:
    """Add again what is missing, and find the store as if nothing had happened."""
    with open_store(path, write=True) as store:
        add_files(store, files_of(held.folder, "correct"), added_on=ADDED_ON, correct=True)
        assert fingerprint(store) == held.after


def look_at_log(path: Path, held: Years) -> str:
    """Follow what the program says of a store with a spoiled log."""
    told: list[str] = []
    refused = _read_through(path, told)
    if refused is None:
        with open_store(path) as store:
            found = fingerprint(store)
        if found not in (held.before, held.after):
            return UNSEEN
        assert told, "nothing was said of the log"
        assert "stopped before it had finished" in told[0]
        outcome = "told; the last intake is " + ("whole" if found == held.after else "absent, added again")
    elif "do not give the sums" in refused:
        # the log's own digests saw nothing
        return brought_back(path, held)
    else:
        assert f"its log {log_of(path).name} is damaged" in refused, refused
        assert "move that file to another place" in refused
        log_of(path).rename(path.with_name("moved.wal"))
        with open_store(path) as store:
            assert fingerprint(store) == held.before
        outcome = "refused; opened without its log, the last intake added again"
    complete(path, held)
    return outcome


def _read_through(path: Path, told: list[str]) -> str | None:
    """Open a store and read it through; gives what was refused, if anything was."""
    try:
        with open_store(path, on_wait=told.append) as store:
            read_whole(store)
    except StoreError as refused:
        return str(refused)
    return None


def look_at_file(path: Path, held: Years) -> str:
    """Follow what the program says of a store with spoiled bytes."""
    refused = _read_through(path, [])
    if refused is None:
        with open_store(path) as store:
            if fingerprint(store) != held.after:
                return UNSEEN
        try:
            complete(path, held)
        except StoreError as later:
            # an index is read only where something is written
            return f"an index: told when written to; {_damaged(str(later), path, held).removeprefix('told; ')}"
        return "not told: bytes not in use"
    return _damaged(refused, path, held)


def _damaged(refused: str, path: Path, held: Years) -> str:
    # a file whose very first bytes are spoiled is no store any more
    assert "is damaged" in refused or "is not a DuckDB file" in refused, refused
    return brought_back(path, held)


def brought_back(path: Path, held: Years) -> str:
    """Do what is said of a damaged store: try to save it, and else bring it back from the backup."""
    spoiled = None if log_of(path).exists() else path.read_bytes()
    copy = path.with_name("copy.duckdb")
    try:
        backup_store(path, copy)
    except StoreError:
        assert not copy.exists()
    else:
        with open_store(copy) as store:
            assert fingerprint(store) == held.after
        return "told; a copy held everything"
    report = restore_store(held.backup, path, force=True)
    with open_store(path) as store:
        read_whole(store)
        assert fingerprint(store) == held.before
    assert report.kept is not None
    # where there was a log, it is in the file since that was opened for writing, to see that nobody holds it
    assert spoiled is None or report.kept.read_bytes() == spoiled
    assert [file.intake for file in report.ends] == [2, 2]
    complete(path, held)
    if report.unread is None:
        assert [(file.intake, file.file) for file in report.missing] == [
            (3, "inspections.csv"),
            (3, "readings.csv"),
        ]
        return "told; backup brought back, what is missing named"
    assert not report.missing
    return "told; backup brought back, with the day up to which it reaches"


def spoil_once(what: str, how: str, rng: random.Random, place: Path, held: Years) -> str:
    """Spoil a copy of a store, or of its log, and follow what is said of it to the end."""
    room = Path(tempfile.mkdtemp(dir=place))
    path = room / "kept.duckdb"
    if what == "log":
        shutil.copy2(held.logged, path)
        log_of(path).write_bytes(SPOILED[how](log_of(held.logged).read_bytes(), rng))
        outcome = str(elsewhere(look_at_log, path, held))
    else:
        path.write_bytes(SPOILED[how](held.path.read_bytes(), rng))
        outcome = str(elsewhere(look_at_file, path, held))
    shutil.rmtree(room)
    return outcome


def spoil(count: int, place: Path) -> Found:
    """Spoil so many stores and logs."""
    held = years(place)
    rng = random.Random(SEED)
    ways = [(what, how) for what in ("store", "log") for how in SPOILED]
    found: Found = Counter()
    for number in range(count):
        what, how = ways[number % len(ways)]
        found[what, how, spoil_once(what, how, rng, place, held)] += 1
    return found


# ---------------------------------------------------------------------------------------------------- the table


def table(filled: Found, spoiled: Found) -> str:
    """Write what was found."""
    unseen = sum(n for (*_, outcome), n in spoiled.items() if outcome == UNSEEN)
    lines = [
        "# Full disks and spoiled files",
        "",
        f"Made by `python -m tests.robustness.bad_disks COUNT`, seed {SEED}. Stores of {INSPECTIONS} inspections and",
        f"{INSPECTIONS * 24} readings.",
        "",
        f"{sum(filled.values())} jobs met a limit to how long a file may become, drawn from nothing to a little more",
        "than they need. Each ended with its work wholly there or with an error that says so and a store that held",
        "what it held before; nothing half done was left; doing it again with room led to the same store as doing it",
        "undisturbed. Work that is done may stand in the log beside the store, and is told to.",
        "",
        "| job | ended | found | jobs |",
        "|---|---|---|---:|",
        *(f"| {job} | {ended} | {outcome} | {n} |" for (job, ended, outcome), n in sorted(filled.items())),
        "",
        f"{sum(spoiled.values())} stores and logs were spoiled, and {unseen} of them read as if they were whole. Of",
        "the others it was told when they were opened or read through (`store check`), and what the message advises",
        "was done, up to the store as if nothing had happened. Of the store, one file of 9.9 MB, some blocks are free:",
        "what is spoiled there is not in use. The backup lacks the last intake; what is missing is named file by file,",
        "or, where the damaged file cannot be asked, by the last files that the backup holds. The damaged file is kept",
        "beside the store. The database's digests are sums without order over eight bytes each, so that zeros in place",
        "of a sector whose words are all alike are unseen by them: of readings the sums kept beside them show it.",
        "",
        "| what | spoiled by | outcome | cases |",
        "|---|---|---|---:|",
        *(f"| {what} | {how} | {outcome} | {n} |" for (what, how, outcome), n in sorted(spoiled.items())),
        "",
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    wanted = int(sys.argv[1])
    to = Path(sys.argv[2]) if len(sys.argv) > 2 else HERE / "bad_disks.md"
    with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as other:
        to.write_text(table(fill(wanted, Path(one)), spoil(wanted, Path(other))), encoding="utf-8")
