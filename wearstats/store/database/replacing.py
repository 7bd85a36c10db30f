"""A file that takes another's place: the old one is kept under a dated name, modes stay, links are followed."""

from __future__ import annotations

import datetime
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def followed(path: Path) -> Path:
    """Give the file that a link leads to, for its log and what is kept beside it lie there; else the path as it is."""
    return path.resolve() if path.is_symlink() else path


def keep_aside(path: Path) -> Path:
    """Give a file that is about to be replaced a second name, and its log with it."""
    stamp = datetime.datetime.now().strftime("%Y%m%dT%H%M%S%f")
    kept = path.with_name(f"{path.stem}-replaced-{stamp}{path.suffix}")
    for there, name in ((path.with_name(f"{path.name}.wal"), f"{kept.name}.wal"), (path, kept.name)):
        if there.exists():
            try:
                os.link(there, kept.with_name(name))
            except OSError:
                # no second names on this disk
                shutil.copy2(there, kept.with_name(name))
    return kept


@contextmanager
def made_as(building: Path, like: Path) -> Iterator[None]:
    """Let nobody but its owner see a file while it is made, and give it the mode of another when it is done.

    Parameters
    ----------
    building : pathlib.Path
        The file that is made.
    like : pathlib.Path
        Whose mode it gets; where there is no such file it gets what new files get.
    """
    mode = like.stat().st_mode & 0o777 if like.exists() else None
    usual = os.umask(0o077)
    try:
        yield
    finally:
        os.umask(usual)
    if building.exists():
        building.chmod(0o666 & ~usual if mode is None else mode)
