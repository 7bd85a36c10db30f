"""The demo's store, made once for all studies' tests, which only read it."""

from collections.abc import Iterator

import pytest

from wearstats.store.database.connection import Store, open_store
from wearstats.studies.demo import demo_as_of, make_demo_store
from wearstats.studies.inputs.width_fit import FittedWidths, fit_fleet


@pytest.fixture(scope="session")
def demo_store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    path = tmp_path_factory.mktemp("demo") / "demo.duckdb"
    make_demo_store(path)
    with open_store(path) as opened:
        yield opened


@pytest.fixture(scope="session")
def demo_widths(demo_store: Store) -> FittedWidths:
    """Give the width model of the demo's fleet, without intervals."""
    return fit_fleet(demo_store, as_of=demo_as_of(), intervals=False)
