"""What tests share: the demo's store and the dearest answers from it, each made once in a run, whoever asks first.

Property tests try the same examples on every machine and are not timed: a busy machine is no failure.
"""

import os
import pickle
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TypeVar, cast

# every process of a parallel run has a core of its own; threads of the algebra would only wait for one another. Read
# when the libraries are loaded, so it stands before them
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import pytest
from hypothesis import settings

from tests.browser.driver import PRESENT
from tests.studies.support.small_demo import make_small_demo
from tests.support.declared_frames import hold_results_to_their_columns
from wearstats.store.cache.results import KeptResults
from wearstats.store.database.connection import Store, open_store
from wearstats.studies.demo import demo_as_of, make_demo_store
from wearstats.studies.loosening.study import LooseningStudy, study_loosening
from wearstats.studies.methods.answer import MethodsStudy
from wearstats.studies.methods.study import study_methods
from wearstats.studies.review.study import ReviewStudy, study_review
from wearstats.studies.snapshot import Snapshot
from wearstats.studies.stock.answer import StockStudy
from wearstats.studies.stock.study import study_stock
from wearstats.studies.wear.answer import WearStudy
from wearstats.studies.wear.study import study_wear

settings.register_profile("same everywhere", deadline=None, derandomize=True)
settings.load_profile("same everywhere")

_T = TypeVar("_T")
_WAIT_S = 300.0

# whatever a test makes, its frames have the columns that they declare
hold_results_to_their_columns()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say so where no page was tried in a browser."""
    if not PRESENT:
        terminalreporter.write_line("no Chromium with its driver: no page was tried in a browser (README.md)")


@pytest.fixture(scope="session")
def run_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder that all processes of a run share, and no other run."""
    base = tmp_path_factory.getbasetemp()
    # each process of a parallel run has its folder in that of the run
    shared = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "made-once"
    shared.mkdir(exist_ok=True)
    return shared


def made_once(file: Path, make: Callable[[Path], None]) -> Path:
    """Have a file made by the first process that wants it; the others wait for it."""
    lock, until = file.with_suffix(".lock"), time.monotonic() + _WAIT_S
    while not file.exists():
        try:
            lock.mkdir()
        except FileExistsError:
            assert time.monotonic() < until, f"{file.name} was begun by another process and never finished"
            time.sleep(0.05)
            continue
        try:
            if not file.exists():
                making = file.with_name(f"making-{file.name}")
                make(making)
                making.replace(file)
        finally:
            lock.rmdir()
    return file


def asked_once(folder: Path, name: str, ask: Callable[[], _T]) -> _T:
    """Have a question answered by the first process that asks it; tests only read the answer."""

    def keep(file: Path) -> None:
        file.write_bytes(pickle.dumps(ask()))

    return cast(_T, pickle.loads(made_once(folder / f"{name}.pickle", keep).read_bytes()))


@pytest.fixture(scope="session")
def demo_file(run_folder: Path) -> Path:
    """Give the file of the demo's store, which nobody opens to write: to be copied."""
    return made_once(run_folder / "demo.duckdb", make_demo_store)


@pytest.fixture(scope="session")
def demo_store(demo_file: Path) -> Iterator[Store]:
    """Give the demo's store, opened for reading alone."""
    with open_store(demo_file) as opened:
        yield opened


@pytest.fixture(scope="session")
def small_demo_file(run_folder: Path) -> Path:
    """Give the file of a store of some of the demo's shafts, which nobody opens: to be copied."""
    return made_once(run_folder / "small-demo.duckdb", make_small_demo)


@pytest.fixture(scope="session")
def demo(demo_store: Store) -> Snapshot:
    """Give the demo as known on its last day; its parts are shared by all tests of this run that ask it."""
    return Snapshot(store=demo_store, known_on=demo_as_of(), kept=KeptResults(demo_store))


@pytest.fixture(scope="session")
def demo_wear(run_folder: Path, demo: Snapshot) -> WearStudy:
    return asked_once(run_folder, "wear", lambda: study_wear(demo))


@pytest.fixture(scope="session")
def demo_methods(run_folder: Path, demo: Snapshot) -> MethodsStudy:
    return asked_once(run_folder, "methods", lambda: study_methods(demo))


@pytest.fixture(scope="session")
def demo_loosening(run_folder: Path, demo: Snapshot) -> LooseningStudy:
    return asked_once(run_folder, "loosening", lambda: study_loosening(demo))


@pytest.fixture(scope="session")
def demo_review(run_folder: Path, demo: Snapshot) -> ReviewStudy:
    return asked_once(run_folder, "review", lambda: study_review(demo))


@pytest.fixture(scope="session")
def demo_stock(run_folder: Path, demo: Snapshot) -> StockStudy:
    return asked_once(run_folder, "stock", lambda: study_stock(demo))


@pytest.fixture(scope="session")
def demo_stock_d8(run_folder: Path, demo: Snapshot) -> StockStudy:
    return asked_once(run_folder, "stock-d8", lambda: study_stock(demo.of("D8")))
