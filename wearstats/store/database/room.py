"""How much memory, how many threads and how much disk the database may take, on this machine and in its control group.

Two processes may be at work on one store, each with arrays of its own; so the database of each gets a quarter of what
may be used, and never more than its threads make use of. One that writes is alone, and has half.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from wearstats.errors import StoreError

_PROCESS: Final = 350_000_000
_THREAD: Final = 175_000_000
"""What the database makes use of, in bytes: by itself, and for each thread. Of two threads that is what a million
shafts were asked about with (`tests/benchmarks/scale.md`)."""

_LEAST_OF_THREAD: Final = 125_000_000
"""A thread with less stands in the way of the others: then there are fewer (the database's own advice)."""

_LEAST: Final = 100_000_000
_LARGE: Final = 200_000_000
_FOR_TWO: Final = 5_000_000_000
"""Of a store larger than that, in bytes, two processes held 3.0 to 3.9 GB together (`tests/benchmarks/scale.md`)."""

_LIBRARIES: Final = 300_000_000
"""What a process holds before it has read anything, about."""

_SPILT: Final = 2_000_000_000
"""So much room for what does not fit into memory is looked for first."""
_OF_DISK: Final = 0.9
_IN_MEMORY: Final = ("tmpfs", "ramfs", "zram")

_GROUPS: Final = Path("/sys/fs/cgroup")
_OWN_GROUPS: Final = Path("/proc/self/cgroup")
_MOUNTS: Final = Path("/proc/mounts")


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """What the database may take.

    Parameters
    ----------
    memory : int
        Bytes.
    threads : int
        At least 1.
    """

    memory: int
    threads: int


def database_room(*, write: bool) -> Room:
    """Say what the database of this process may take."""
    return share_out(memory_allowed(), threads_allowed(), write=write)


def share_out(memory: int, threads: int, *, write: bool) -> Room:
    """Share what may be used between the database and everything else.

    Parameters
    ----------
    memory : int
        Bytes that this process and a second one may use together.
    threads : int
        How many may run at once.
    write : bool
        Whether the store is opened for writing.
    """
    most = memory // (2 if write else 4)
    threads = max(1, min(threads, most // _LEAST_OF_THREAD))
    used = most if write else min(most, _PROCESS + _THREAD * threads)
    return Room(memory=max(used, _LEAST), threads=threads)


def memory_allowed() -> int:
    """Say how many bytes may be used: what the machine has, or less where a control group or a limit says so."""
    found = [_machine_memory()]
    for group in _own_groups("memory"):
        found += [number for name in ("memory.max", "memory.limit_in_bytes") if (number := _number(group / name))]
    with suppress(ImportError, ValueError, OSError):
        import resource

        limit = resource.getrlimit(resource.RLIMIT_AS)[0]
        found += [limit] if limit != resource.RLIM_INFINITY else []
    return min(found)


def room_for_two(store: Path) -> bool:
    """Say whether two processes may be at work on a store at once: of a large one each holds much."""
    with suppress(OSError):
        return store.stat().st_size < _LARGE or memory_allowed() >= _FOR_TWO
    return True


def require_memory(store: Path, needed: int, *, shafts: int) -> None:
    """Refuse before any work what the machine or a control group would end in the middle of it.

    Parameters
    ----------
    store : pathlib.Path
        Which store.
    needed : int
        Bytes, besides what every process takes.
    shafts : int
        How many are asked about.

    Raises
    ------
    StoreError
        When less may be used.
    """
    needed += _LIBRARIES
    if (allowed := memory_allowed()) < needed:
        raise StoreError(
            f"{store}: of {shafts} shafts this takes {needed / 1e9:.1f} GB of memory, and {allowed / 1e9:.1f} GB may "
            "be used; ask where more may be used"
        )


def threads_allowed() -> int:
    """Say how many threads may run at once: the cores of this process, or fewer where a control group says so."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    shares = [share for group in _own_groups("cpu") if (share := _cpu_share(group)) is not None]
    return max(1, min([cores, *(int(-(-share // 1)) for share in shares)]))


def spill_folder(store: Path) -> tuple[Path, int]:
    """Choose where the database puts what does not fit into memory: on a disk, with room.

    Returns
    -------
    pathlib.Path
        A folder of this process, which the database makes when it needs it.
    int
        How many bytes it may take there.
    """
    places = []
    for place in (Path(tempfile.gettempdir()), Path("/var/tmp"), store.absolute().parent):
        with suppress(OSError):
            if os.access(place, os.W_OK | os.X_OK):
                places.append((place, shutil.disk_usage(place).free, not _in_memory(place)))
    name = f"wearstats-{os.getpid()}"
    if not places:
        return Path(tempfile.gettempdir()) / name, 0
    # the first on a disk with enough room, else where there is most; memory only where there is no disk
    place, free, _ = max(places, key=lambda told: (told[2], min(told[1], _SPILT)))
    return place / name, int(_OF_DISK * free)


def _machine_memory() -> int:
    with suppress(ValueError, OSError, AttributeError):
        return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    return 4_000_000_000  # not told here: a small machine


def _own_groups(controller: str) -> Iterator[Path]:
    """Give this process's control groups, innermost first, of either version."""
    with suppress(OSError):
        for line in _OWN_GROUPS.read_text(encoding="utf-8").splitlines():
            number, _, rest = line.partition(":")
            controllers, _, inner = rest.partition(":")
            if number != "0" and controller not in controllers.split(","):
                continue
            top = _GROUPS if number == "0" else _GROUPS / controller
            group = top / inner.strip("/")
            # whoever sits in a container sees its own group as the top
            yield from (each for each in (group, *group.parents) if each.is_relative_to(top))


def _number(file: Path) -> int | None:
    """Read a limit; None where there is none."""
    with suppress(OSError, ValueError):
        return int(file.read_text(encoding="utf-8"))
    return None


def _cpu_share(group: Path) -> float | None:
    """Say how many cores' worth of time a group may take; None where that is not limited."""
    with suppress(OSError, ValueError):
        quota, period = (group / "cpu.max").read_text(encoding="utf-8").split()
        return int(quota) / int(period)
    quota_us, period_us = _number(group / "cpu.cfs_quota_us"), _number(group / "cpu.cfs_period_us")
    return quota_us / period_us if quota_us and period_us and quota_us > 0 else None


def _in_memory(place: Path) -> bool:
    """Whether a folder's files lie in memory."""
    with suppress(OSError):
        lines = [line.split() for line in _MOUNTS.read_text(encoding="utf-8").splitlines()]
        mounts = {Path(told[1]): told[2] for told in lines if len(told) > 2}
        resolved = place.resolve()
        return next((mounts[each] for each in (resolved, *resolved.parents) if each in mounts), "") in _IN_MEMORY
    return False
