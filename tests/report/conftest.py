"""What tests of answers share: the demo and small stores, each opened once in a process."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from functools import partial
from pathlib import Path

import pytest

from tests.conftest import made_once
from tests.studies.support.small_demo import make_small_demo
from tests.support.small_stores import SMALL_STORES
from wearstats.store.database.connection import open_store
from wearstats.studies.demo import demo_as_of
from wearstats.studies.snapshot import Snapshot


@pytest.fixture(scope="session")
def snapshot_of(
    demo: Snapshot, run_folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Callable[[str], Snapshot]]:
    """Give a store as known on the demo's last day, by its name; ``demo`` is the demo's."""
    opened: dict[str, Snapshot] = {"demo": demo}
    with ExitStack() as stack:

        def of(name: str) -> Snapshot:
            if name not in opened:
                plain = name.replace(" ", "-")
                make = partial(make_small_demo, **SMALL_STORES[name])
                made = made_once(run_folder / f"{plain}.duckdb", make)
                copy = shutil.copy(made, tmp_path_factory.mktemp(plain) / "store.duckdb")
                opened[name] = Snapshot(store=stack.enter_context(open_store(copy)), known_on=demo_as_of())
            return opened[name]

        yield of
