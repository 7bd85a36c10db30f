"""A setting lowers the limits past which a fleet is answered for from a sample."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from wearstats.cli.main import app
from wearstats.errors import UsageError
from wearstats.store.cache.entries import cache_folder
from wearstats.store.database.connection import Store
from wearstats.studies.demo import demo_as_of, make_demo_store
from wearstats.studies.inputs.sample_limits import FEWEST_SHAFTS, SAMPLE_VARIABLE, lowered, most_sampled
from wearstats.studies.inputs.sampling import shaft_sample
from wearstats.studies.inputs.width_fit import SAMPLE_SHAFTS, width_fit
from wearstats.studies.snapshot import Snapshot


@pytest.mark.parametrize("said", [None, "", " "])
def test_nothing_set_leaves_the_limits(said: str | None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(SAMPLE_VARIABLE, raising=False)
    if said is not None:
        monkeypatch.setenv(SAMPLE_VARIABLE, said)
    assert most_sampled() is None
    assert lowered(6000) == 6000
    assert lowered(4000, part_of=SAMPLE_SHAFTS) == 4000


def test_limits_are_lowered_and_never_raised(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SAMPLE_VARIABLE, "200")
    assert lowered(6000) == 200
    assert lowered(100) == 100
    # a part of the sample keeps its share of it
    assert lowered(4000, part_of=20_000) == 40
    assert lowered(50, part_of=20_000) == 1
    monkeypatch.setenv(SAMPLE_VARIABLE, "999999999")
    assert lowered(6000) == 6000
    assert lowered(4000, part_of=20_000) == 4000


@pytest.mark.parametrize("said", ["0", "-5", "29", "1e3", "2.5", "many", "٣٠٠", "1" * 5000])
def test_anything_else_is_refused(said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SAMPLE_VARIABLE, said)
    with pytest.raises(UsageError, match=f"allowed: a whole number of shafts from {FEWEST_SHAFTS} on"):
        lowered(6000)


def test_both_samples_keep_to_it(demo_store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SAMPLE_VARIABLE, "100")
    fittings = shaft_sample(Snapshot(store=demo_store, known_on=demo_as_of()))
    assert fittings is not None
    assert len(fittings.names) == 100
    widths = width_fit(Snapshot(store=demo_store, known_on=demo_as_of()))
    assert widths.sampled_shafts is not None
    assert widths.sampled_shafts <= 105  # a hundred, and those read in coarse steps besides
    assert widths.readings.of_shafts is not None
    assert widths.readings.of_shafts > 300


def test_the_command_line_says_so_and_keeps_answers_apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = tmp_path / "demo.duckdb"
    make_demo_store(store)
    asked = ["--store", str(store), "--as-of", demo_as_of().isoformat(), "shaft", "S0001"]
    for said, exit_code in (("100", 0), ("few", 2), ("", 0)):
        monkeypatch.setenv(SAMPLE_VARIABLE, said)
        ran = CliRunner().invoke(app, asked)
        assert ran.exit_code == exit_code, ran.output
    assert len([*cache_folder(store).glob("*.json")]) == 2
