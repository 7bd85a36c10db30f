"""Programs killed in the middle of their work: ``python -m tests.robustness.killing COUNT`` writes ``kills.md``.

A child works on a copy of a store and says through a pipe what it is about to do; the parent kills it (SIGKILL) after
a mark drawn beforehand and a short random while. The last mark that came through says where it died: after ``begin``
and before ``commit`` it died inside an open transaction. Nothing of this is in the program: the child wraps its rooms.
The parent itself never opens a store, so that every child may be forked.
"""

from __future__ import annotations

import datetime
import multiprocessing
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from tests.store.support.small_store import inspection, make_store
from wearstats.domain.tables import TABLES
from wearstats.store.archive import backup as archive
from wearstats.store.archive.backup import backup_store
from wearstats.store.database import connection, migrations
from wearstats.store.database.connection import Store, open_store
from wearstats.store.database.migrations import Migration, newest_version, store_version
from wearstats.store.intake import add as intake
from wearstats.store.intake.add import add_files
from wearstats.store.taking_back import rename, retract, undo

SEED = 41
HERE = Path(__file__).parent
ADDED_ON = datetime.date(2026, 6, 10)
INSPECTIONS = 500
FORK = multiprocessing.get_context("fork")

MARKS: dict[str, tuple[str, ...]] = {
    "add": ("staging", "begin", "inspections", "readings", "written down", "commit", "checkpoint", "done"),
    "correct": ("staging", "begin", "inspections", "readings", "written down", "commit", "checkpoint", "done"),
    "undo": ("begin", "sums", "commit", "done"),
    "retract": ("begin", "sums", "commit", "done"),
    "merge": ("begin", "sums", "commit", "done"),
    "migrate": ("saving the older", "begin", "change", "commit", "begin views", "commit views", "done"),
    "backup": ("copying", "counting", "moving", "done"),
}
"""What each job says it is about to do, in order."""

TAKING_BACK: dict[str, Callable[[Store], Any]] = {
    "undo": lambda store: undo.undo(store, 2, on=ADDED_ON),
    "retract": lambda store: retract.retract(store, "shafts", ["S1"], on=ADDED_ON, with_all=True),
    "merge": lambda store: rename.merge(store, "shafts", "S1", "S2", on=ADDED_ON),
}
"""What is taken back or put under another name, of a store to which the files were added."""

INSIDE = {"begin", "inspections", "readings", "written down", "sums", "change", "begin views"}
"""Marks after which a transaction is open and its commit not yet asked for."""

Prints = dict[str, tuple[int, Any]]


def write_files(folder: Path) -> None:
    """Write the files that are added: many inspections with their readings; and the same, corrected."""
    folder.mkdir()
    for name, shift in (("first", 0), ("corrected", 1)):
        (folder / name).mkdir()
        rows = [inspection(f"K{at}", measured_on="2026-05-02", hours=str(100 + shift)) for at in range(INSPECTIONS)]
        heading = ",".join(rows[0])
        lines = [",".join(str(cell) for cell in row.values()) for row in rows]
        (folder / name / "inspections.csv").write_text("\n".join([heading, *lines]) + "\n", encoding="utf-8")
        lines = [
            f"K{at},{spline},{station},5.9{(at * 7 + spline * 3 + shift) % 10}{spline}"
            for at in range(INSPECTIONS)
            for spline in range(1, 9)
            for station in ("shoulder", "middle", "nut-end")
        ]
        text = "\n".join(["inspection,spline,station,width", *lines]) + "\n"
        (folder / name / "readings.csv").write_text(text, encoding="utf-8")


def files_of(folder: Path, job: str) -> list[Path]:
    """Give the files that a job adds."""
    return sorted((folder / ("corrected" if job == "correct" else "first")).glob("*.csv"))


def grown() -> tuple[Migration, ...]:
    """Give the program's changes and one more, as a later program would have."""
    sql = "create table further as select inspection, count(*) as n from readings group by inspection; analyze;"
    return (*migrations.known_migrations(), Migration(number=newest_version() + 1, name="further", sql=sql))


class Telling:
    """A connection that says which transaction it begins and ends."""

    def __init__(self, inner: Any, say: Callable[[str], None]) -> None:
        self.inner, self.say, self.begun = inner, say, 0

    def __getattr__(self, name: str) -> Any:
        return getattr(self.inner, name)

    def execute(self, sql: Any, *given: Any) -> Any:
        """Run a statement, marks before commits and after begins."""
        views = " views" if self.begun > 1 or (sql == "begin" and self.begun == 1) else ""
        if sql == "commit":
            self.say(f"commit{views}")
        done = self.inner.execute(sql, *given)
        if sql == "begin":
            self.begun += 1
            self.say(f"begin{views}")
        elif not isinstance(sql, str) and not views:
            self.say("change")
        return done


def work(job: str, store: Path, folder: Path, pipe: int) -> None:
    """Do a job in a child, with marks."""

    def say(mark: str) -> None:
        os.write(pipe, f"{mark}\n".encode())

    def before(room: Any, name: str, mark: str) -> None:
        real = getattr(room, name)

        def told(*given: Any, **named: Any) -> Any:
            say(mark)
            return real(*given, **named)

        setattr(room, name, told)

    real_execute = Store.execute

    def execute(self: Store, sql: str, params: Any = None) -> None:
        if sql in ("commit", "checkpoint"):
            say(sql)
        real_execute(self, sql, params)
        if sql == "begin":
            say("begin")

    if job in ("add", "correct"):
        Store.execute = execute  # type: ignore[method-assign]
        before(intake, "stage_paths", "staging")
        before(intake, "load_rows", "inspections")
        before(intake, "load_readings", "readings")
        before(intake, "_account_for", "written down")
        with open_store(store, write=True) as opened:
            add_files(opened, files_of(folder, job), added_on=ADDED_ON, correct=job == "correct")
    elif job in TAKING_BACK:
        Store.execute = execute  # type: ignore[method-assign]
        for room in (undo, retract, rename):
            before(room, "sum_anew", "sums")
        with open_store(store, write=True) as opened:
            TAKING_BACK[job](opened)
    elif job == "migrate":
        changes = grown()
        migrations.known_migrations = lambda: changes  # type: ignore[assignment]
        before(connection, "_keep_copy", "saving the older")
        real = migrations.migrate

        def told(opened: Any) -> Any:
            return real(Telling(opened, say))  # type: ignore[arg-type]

        connection.migrate = told  # type: ignore[assignment, attr-defined]
        open_store(store, write=True).close()
    else:
        before(archive, "_copy", "copying")
        before(archive, "_counts", "counting")
        before(os, "replace", "moving")
        backup_store(store, store.with_name("saved.duckdb"), force=True)
    say("done")


def fingerprint(store: Store) -> Prints:
    """Give for each table its number of rows and a sum that no order of rows and no intake number changes."""
    tables = [table.name for table in TABLES]
    kept = ("notes", "inspection_moments", "reading_counts", "aliases")
    names = [*tables, *(f"history_{name}" for name in tables), *kept]
    made = {}
    for name in names:
        has = {row[0] for row in store.rows(f"describe {name}")}
        left = ", ".join(column for column in ("intake", "replaced_by", "ended_by") if column in has)
        columns = f"* exclude ({left})" if left else "*"
        made[name] = store.rows(
            f"select count(*), sum(hash(held)::hugeint)::varchar from (select {columns} from {name}) held"
        )[0]
    return made


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """A store before a job and what it is to be after it."""

    path: Path
    folder: Path
    before: Prints
    after: Prints


def bases(place: Path) -> dict[str, Base]:
    """Make for each job the store it works on, and what it leads to undisturbed."""
    folder = place / "files"
    write_files(folder)
    made = {}
    for job in MARKS:
        path = make_store(place / f"{job}.duckdb")
        if job != "add":
            with open_store(path, write=True) as store:
                add_files(store, files_of(folder, "add"), added_on=ADDED_ON)
                add_files(store, [], text="shafts\nshaft,pattern\nS2,D8\n", added_on=ADDED_ON)
        with open_store(path) as store:
            before = after = fingerprint(store)
        if job in ("add", "correct", *TAKING_BACK):
            done = place / f"{job}-done.duckdb"
            shutil.copy2(path, done)
            with open_store(done, write=True) as store:
                if job in TAKING_BACK:
                    TAKING_BACK[job](store)
                else:
                    add_files(store, files_of(folder, job), added_on=ADDED_ON, correct=job == "correct")
                after = fingerprint(store)
            assert after != before
        made[job] = Base(path=path, folder=folder, before=before, after=after)
    return made


def look(job: str, path: Path, base: Base) -> str:
    """Check a store whose program was killed; gives ``whole`` or ``absent``. AssertionError where it is neither."""
    told: list[str] = []
    if job == "migrate":
        changes, newest = grown(), newest_version() + 1
        migrations.known_migrations = lambda: changes  # type: ignore[assignment]
        with connection.open_known(path) as store:
            version = store_version(store._connection)
            held = fingerprint(store)
        kept = list(path.parent.glob(f"{path.stem}-version-*.duckdb"))
        if version == newest:
            assert len(kept) == 1
        for copy in kept:
            # the copy is of the older program: opened as it is, it holds what it held
            with connection.open_known(copy) as store:
                assert fingerprint(store) == base.before
        with open_store(path, write=True) as store:
            assert store.value("select count(*) from further") == INSPECTIONS + 2
            assert fingerprint(store) == held == base.before
        return "whole" if version == newest else "absent"
    with open_store(path, on_wait=told.append) as store:
        held = fingerprint(store)
        odd = "select count(*) from intake_files where read <> accepted + duplicate + conflict + rejected"
        assert store.value(odd) == 0
        files = "(select count(*) from intake_files as told where told.intake = intakes.intake)"
        assert store.value(f"select count(*) from intakes where files <> {files}") == 0
    assert held in (base.before, base.after), {name: (held[name], base.before[name]) for name in held}
    saved = path.with_name("saved.duckdb")
    if job == "backup":
        if there := saved.exists():
            with open_store(saved) as store:
                assert fingerprint(store) == base.before
        backup_store(path, saved, force=True)
        with open_store(saved) as store:
            assert fingerprint(store) == base.before
        return "whole" if there else "absent"
    if job in TAKING_BACK:
        with open_store(path, write=True) as store:
            if held == base.before:
                TAKING_BACK[job](store)
            assert fingerprint(store) == base.after
        return "whole" if held == base.after else "absent"
    with open_store(path, write=True) as store:
        report = add_files(store, files_of(base.folder, job), added_on=ADDED_ON, correct=job == "correct")
        for file in report.files:
            assert file.read == file.accepted + file.duplicate
            assert (file.duplicate if held == base.after else file.accepted) == file.read
        assert fingerprint(store) == base.after
    return "whole" if held == base.after else "absent"


def _answer(pipe: Connection, run: Callable[..., Any], given: tuple[Any, ...]) -> None:
    try:
        pipe.send((True, run(*given)))
    except BaseException as failed:  # noqa: BLE001 (whatever it is goes to the parent)
        pipe.send((False, f"{type(failed).__name__}: {failed}"))
    pipe.close()


def elsewhere(run: Callable[..., Any], *given: Any) -> Any:
    """Run a function in a forked child and give what it gives; RuntimeError where it fails or hangs for a minute."""
    ours, theirs = FORK.Pipe(duplex=False)
    child = FORK.Process(target=_answer, args=(theirs, run, given))
    child.start()
    theirs.close()
    came = ours.poll(120)
    fine, result = ours.recv() if came else (False, "no answer")
    if not came:
        child.kill()
    child.join()
    if not fine:
        raise RuntimeError(f"{run.__name__}: {result}")
    return result


def kill_once(job: str, mark: str, wait_s: float, place: Path, base: Base) -> tuple[str, str]:
    """Kill one job; gives the last mark that came through and what was found of the job afterwards."""
    room = Path(tempfile.mkdtemp(dir=place))
    path = room / "kept.duckdb"
    shutil.copy2(base.path, path)
    reading, writing = os.pipe()
    child = FORK.Process(target=work, args=(job, path, base.folder, writing))
    child.start()
    os.close(writing)
    came = b""
    while f"{mark}\n".encode() not in came and (part := os.read(reading, 4096)):
        came += part
    time.sleep(wait_s)
    if child.pid is not None:
        os.kill(child.pid, signal.SIGKILL)
    child.join()
    while part := os.read(reading, 4096):
        came += part
    os.close(reading)
    last = came.decode().split() and came.decode().rstrip("\n").splitlines()[-1]
    found = str(elsewhere(look, job, path, base))
    shutil.rmtree(room)
    return str(last), found


def run(count: int, place: Path) -> Counter[tuple[str, str, str]]:
    """Kill so many jobs; gives how many died at each mark of each job, and what was found."""
    held = elsewhere(bases, place)
    rng = random.Random(SEED)
    marks = [(job, mark) for job, said in MARKS.items() for mark in said[:-1]]
    found: Counter[tuple[str, str, str]] = Counter()
    for number in range(count):
        job, mark = marks[number % len(marks)]
        last, outcome = kill_once(job, mark, rng.choice([0.0, 0.001, 0.003, 0.01, 0.03]), place, held[job])
        found[job, last, outcome] += 1
    return found


def table(found: Counter[tuple[str, str, str]]) -> str:
    """Write what was found."""
    inside = sum(n for (_, mark, _), n in found.items() if mark in INSIDE)
    lines = [
        "# Killed in the middle",
        "",
        f"Made by `python -m tests.robustness.killing COUNT`, seed {SEED}: {sum(found.values())} programs killed with "
        "SIGKILL,",
        f"{inside} of them inside an open transaction (after `begin` had returned and before `commit` was asked for).",
        f"Files of {INSPECTIONS} inspections and {INSPECTIONS * 24} readings are added, corrected, taken back,",
        "retracted with their shaft, or put under another shaft's name; a store goes to a later version;",
        "a store is saved.",
        "",
        "After each the store opened, the job was wholly there or wholly absent, read = accepted + duplicate +",
        "conflict + rejected, the copy kept before a change of version was the older store, and doing the job again",
        "led to the same store as doing it undisturbed. A backup is there whole, or not at all.",
        "",
        "| job | died after saying | transaction open | killed | found whole | found absent |",
        "|---|---|---|---:|---:|---:|",
    ]
    for job, said in MARKS.items():
        for mark in said:
            whole, absent = found[job, mark, "whole"], found[job, mark, "absent"]
            if whole + absent:
                opened = "yes" if mark in INSIDE else ""
                lines.append(f"| {job} | {mark} | {opened} | {whole + absent} | {whole} | {absent} |")
    return "\n".join([*lines, ""])


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as temporary:
        done = run(int(sys.argv[1]), Path(temporary))
    to = Path(sys.argv[2]) if len(sys.argv) > 2 else HERE / "kills.md"
    to.write_text(table(done), encoding="utf-8")
