"""What the database may take, from what a machine, a control group or a limit says; and what it says when it has not.

The files of control groups are those of the kernel's documentation, "Control Group v2" (memory.max, cpu.max) and
"CPUSets", "Memory Resource Controller", "CFS Bandwidth Control" of version 1.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from tests.store.support.small_store import make_store
from wearstats.errors import StoreError
from wearstats.store.database import file as opening
from wearstats.store.database import room
from wearstats.store.database.connection import open_store
from wearstats.store.database.room import (
    Room,
    memory_allowed,
    require_memory,
    room_for_two,
    share_out,
    spill_folder,
    threads_allowed,
)

GB = 1_000_000_000

Groups = Callable[[str, dict[str, str]], None]


def _told(told: Room, *, write: bool) -> Room:  # noqa: ARG001 (as it is called)
    return told


@pytest.fixture
def groups(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Groups:
    """Give a machine of 64 GB and 16 cores, and a way to say in which control groups this process is."""
    monkeypatch.setattr(room, "_machine_memory", lambda: 64 * GB)
    monkeypatch.setattr("os.sched_getaffinity", lambda _: set(range(16)), raising=False)

    def make(own: str, files: dict[str, str]) -> None:
        (tmp_path / "own").write_text(own, encoding="utf-8")
        for name, text in files.items():
            (tmp_path / "groups" / name).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / "groups" / name).write_text(text, encoding="utf-8")

    monkeypatch.setattr(room, "_OWN_GROUPS", tmp_path / "own")
    monkeypatch.setattr(room, "_GROUPS", tmp_path / "groups")
    return make


def test_without_a_limit_all_of_the_machine_may_be_used(groups: Groups) -> None:
    assert (memory_allowed(), threads_allowed()) == (64 * GB, 16)
    groups("0::/job\n", {"job/memory.max": "max\n", "job/cpu.max": "max 100000\n"})
    assert (memory_allowed(), threads_allowed()) == (64 * GB, 16)
    groups("4:memory:/\n", {"memory/memory.limit_in_bytes": "9223372036854771712\n"})
    assert memory_allowed() == 64 * GB


@pytest.mark.parametrize("inner", ["/", "/job", "/job/of/mine", "/not/seen/from/here"])
def test_the_least_of_a_group_and_those_around_it_counts(groups: Groups, inner: str) -> None:
    groups(f"0::{inner}\n", {"memory.max": f"{8 * GB}\n", "cpu.max": "250000 100000\n"})
    assert (memory_allowed(), threads_allowed()) == (8 * GB, 3)
    groups(f"0::{inner}\n", {f"{inner.strip('/')}/memory.max".strip("/"): f"{2 * GB}\n"})
    assert memory_allowed() == 2 * GB


def test_the_first_version_counts_too(groups: Groups) -> None:
    own = "4:memory:/job\n2:cpuacct,cpu:/job\n0::/\n"
    files = {"memory/job/memory.limit_in_bytes": f"{GB}\n", "cpu/job/cpu.cfs_quota_us": "50000\n"}
    groups(own, files | {"cpu/job/cpu.cfs_period_us": "100000\n"})
    assert (memory_allowed(), threads_allowed()) == (GB, 1)
    groups(own, {"cpu/job/cpu.cfs_quota_us": "-1\n"})
    assert threads_allowed() == 16


@pytest.mark.parametrize("threads", [1, 2, 8, 16])
@pytest.mark.parametrize("memory_gb", [1, 2, 4])
@pytest.mark.parametrize("write", [False, True])
def test_two_processes_leave_half_to_everything_else(memory_gb: int, threads: int, write: bool) -> None:
    found = share_out(memory_gb * GB, threads, write=write)
    assert found.memory * (1 if write else 2) <= memory_gb * GB // 2
    assert 1 <= found.threads <= threads
    # no thread stands in the way of the others
    assert found.memory >= 125_000_000 * found.threads


def test_two_threads_of_a_usual_machine_have_what_they_had() -> None:
    assert share_out(8 * GB, 2, write=False) == Room(memory=700_000_000, threads=2)
    # sixteen of a large one had 44 MB each of that, and ended
    assert share_out(64 * GB, 16, write=False) == Room(memory=3_150_000_000, threads=16)


def test_a_limit_on_the_process_counts() -> None:
    pytest.importorskip("resource")
    code = (
        "import resource; resource.setrlimit(resource.RLIMIT_AS, (3_000_000_000, resource.RLIM_INFINITY))\n"
        "from wearstats.store.database.room import memory_allowed; print(memory_allowed())"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert int(ran.stdout) <= 3_000_000_000


@pytest.mark.parametrize(("threads", "memory"), [(1, 250_000_000), (2, 250_000_000), (8, 1_000_000_000)])
def test_the_open_store_has_these_limits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, threads: int, memory: int
) -> None:
    path = make_store(tmp_path / "s.duckdb")
    monkeypatch.setattr(opening, "database_room", partial(_told, Room(memory=memory, threads=threads)))
    with open_store(path) as store:
        told = dict(store.rows("select name, value from duckdb_settings() where name in ('threads', 'memory_limit')"))
    assert told["threads"] == str(threads)
    number, unit = told["memory_limit"].split()
    assert float(number) * {"MiB": 2**20, "GiB": 2**30}[unit] == pytest.approx(memory, rel=0.01)


def test_what_does_not_fit_goes_to_the_disk_and_the_words_say_what_has_no_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = make_store(tmp_path / "s.duckdb")
    monkeypatch.setattr(opening, "database_room", partial(_told, Room(memory=60_000_000, threads=2)))
    spill = tmp_path / "spill"
    asked = "select count(*) from (select distinct i, hash(i) as h from range(4000000) as t(i))"
    for spilt in (10 * GB, 0):
        monkeypatch.setattr(opening, "spill_folder", lambda _, spilt=spilt: (spill, spilt))
        with open_store(path) as store:
            if spilt:
                assert store.value(asked) == 4_000_000
                assert spill.is_dir()
            else:
                with pytest.raises(StoreError, match=r"no room in .* for what does not fit into memory .*TMPDIR"):
                    store.value(asked)
            with pytest.raises(StoreError, match="there is not enough memory"):
                store.value("select length(list(i)) from range(30000000) as t(i)")
        assert not spill.exists()


def test_what_is_spilt_goes_to_a_disk_before_memory_and_where_there_is_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual, store = tmp_path / "usual", tmp_path / "stores" / "s.duckdb"
    usual.mkdir()
    store.parent.mkdir()
    free = {usual: 5 * GB, Path("/var/tmp"): 0, store.parent: 50 * GB}
    usage = type(shutil.disk_usage(tmp_path))
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(usual))
    monkeypatch.setattr("shutil.disk_usage", lambda place: usage(100 * GB, 0, free[Path(place)]))
    assert spill_folder(store) == (usual / f"wearstats-{os.getpid()}", int(4.5 * GB))
    free[usual] = GB
    assert spill_folder(store)[0].parent == store.parent
    free[usual] = 5 * GB
    mounts = tmp_path / "mounts"
    mounts.write_text(f"disk / ext4 rw 0 0\ntmpfs {usual} tmpfs rw 0 0\n", encoding="utf-8")
    monkeypatch.setattr(room, "_MOUNTS", mounts)
    assert spill_folder(store)[0].parent == store.parent


def test_two_processes_work_on_a_large_store_only_where_there_is_room_for_both(groups: Groups, tmp_path: Path) -> None:
    small, large = tmp_path / "small", tmp_path / "large"
    for path, size in ((small, 0.1 * GB), (large, 0.3 * GB)):
        with path.open("wb") as file:
            file.truncate(int(size))
    assert (room_for_two(small), room_for_two(large)) == (True, True)
    groups("0::/job\n", {"job/memory.max": f"{2 * GB}\n"})
    assert (room_for_two(small), room_for_two(large)) == (True, False)


def test_what_would_be_ended_in_the_middle_is_refused_before(groups: Groups, tmp_path: Path) -> None:
    require_memory(tmp_path, 2 * GB, shafts=1_000_000)
    groups("0::/job\n", {"job/memory.max": f"{GB}\n"})
    with pytest.raises(StoreError, match=r"of 1000000 shafts this takes 2\.3 GB of memory, and 1\.0 GB may be used"):
        require_memory(tmp_path, 2 * GB, shafts=1_000_000)
