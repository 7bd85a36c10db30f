"""Answers for the designed shafts and for some of the demo's, asked once in a run."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.conftest import asked_once, made_once
from tests.studies.support.designed_shafts import DESIGNED, make_designed, shaft_name
from wearstats.store.database.connection import open_store
from wearstats.studies.demo import demo_as_of
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot

OF_THE_DEMO = tuple(f"S{number:04d}" for number in (*range(3, 400, 10), 279))
"""Every tenth, and one whose marks say that its widths mislead."""


@pytest.fixture(scope="session")
def designed(run_folder: Path, demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Snapshot]:
    """Give the store of the demo's shafts and the designed ones, as known on the demo's last day."""

    def make(file: Path) -> None:
        assert make_designed(file, demo_file, added_on=demo_as_of()).kept_out == 1

    made = made_once(run_folder / "designed.duckdb", make)
    with open_store(shutil.copy(made, tmp_path_factory.mktemp("designed") / "d.duckdb")) as store:
        yield Snapshot(store=store, known_on=demo_as_of())


@pytest.fixture(scope="session")
def answers(run_folder: Path, designed: Snapshot) -> dict[str, ShaftStudy]:
    """Give the answer for every designed shaft, by its label."""

    def ask() -> dict[str, ShaftStudy]:
        return {label: study_shaft(designed, shaft_name(label)) for label in DESIGNED}

    return asked_once(run_folder, "designed-answers", ask)


@pytest.fixture(scope="session")
def demo_answers(run_folder: Path, demo: Snapshot) -> dict[str, ShaftStudy]:
    """Give the answer for some of the demo's shafts, by name."""

    def ask() -> dict[str, ShaftStudy]:
        return {shaft: study_shaft(demo, shaft) for shaft in OF_THE_DEMO}

    return asked_once(run_folder, "demo-answers", ask)
