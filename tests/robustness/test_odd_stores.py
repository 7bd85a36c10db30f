"""All questions over odd stores: nothing that must not stand in an answer, and what finds it finds it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from tests.robustness.odd_stores import AS_OF, ODD_STORES, QUICK, make_odd_store
from tests.robustness.walk import look_at_document, look_at_words, shafts_of, walk
from wearstats.analysis.widths.components import COMPONENTS
from wearstats.cli.main import app
from wearstats.store.database.connection import open_store
from wearstats.studies.inputs.width_fit import width_fit
from wearstats.studies.snapshot import Snapshot

_TABLE = Path(__file__).with_name("odd_stores.md")


def _found(name: str, folder: Path) -> list[str]:
    return [str(each) for each in walk(make_odd_store(folder / "s.duckdb", name), shafts_of(name), folder=folder)]


@pytest.mark.parametrize("name", QUICK)
def test_some_odd_stores_are_answered_without_nonsense(name: str, tmp_path: Path) -> None:
    assert _found(name, tmp_path) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in ODD_STORES if name not in QUICK])
def test_all_odd_stores_are_answered_without_nonsense(name: str, tmp_path: Path) -> None:
    assert _found(name, tmp_path) == []


def test_failures_of_which_no_time_is_known_end_no_question(tmp_path: Path) -> None:
    store = make_odd_store(tmp_path / "s.duckdb", "many hubs on one shaft")
    ran = CliRunner().invoke(app, ["loosening", "--full", "--store", str(store), "--as-of", AS_OF.isoformat()])
    assert ran.exit_code == 0, ran.output


def test_nothing_was_found_in_the_stores_of_the_table() -> None:
    rows = [line.split("|") for line in _TABLE.read_text(encoding="utf-8").splitlines() if line.startswith("| ")][2:]
    assert {row[1].strip() for row in rows} <= set(ODD_STORES)
    assert {row[2].strip() for row in rows} == {"0"}


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("the chance is nan in 100", "nonsense"),
        ("shaft None has no reading", "nonsense"),
        ("1 rows kept out", "plural"),
        ("needs 89658406131 hours", "long number"),
        ("It failed. . Then it held", "empty"),
        ("RuntimeWarning: overflow", "warned"),
    ],
)
def test_what_must_not_stand_is_found(text: str, what: str) -> None:
    assert what in {found for found, _ in look_at_words(text)}


def test_plain_words_are_let_through() -> None:
    text = "21 rows, 1.1 hours, no information, Nonetheless '89658406131' is out of range; 1 row in 12 345 678 rows."
    assert list(look_at_words(text)) == []


def test_a_number_outside_its_interval_is_found_wherever_it_stands() -> None:
    inside = {"value": 1.0, "low": 0.5, "high": None}
    document = {"a": [inside, inside | {"value": 0.4}], "risk": 0.3, "risk_low": 0.1, "risk_high": 0.2}
    assert [where for _, where in look_at_document(document)] == [
        ".risk 0.3 (0.1 to 0.2)",
        ".a[1].value 0.4 (0.5 to None)",
    ]


def test_of_readings_without_scatter_the_shafts_differ_as_their_means_do(tmp_path: Path) -> None:
    """Without any scatter within shafts the restricted likelihood's maximum is the plain variance of the means."""
    with open_store(make_odd_store(tmp_path / "s.duckdb", "no scatter")) as store:
        fit = width_fit(Snapshot(store=store, known_on=AS_OF)).fit
    found = dict(zip(COMPONENTS, fit.variances, strict=True))
    means = [5.0 + 3.0 * (at * 7 % 13) for at in range(24)]
    # every other shaft was read by a second measurer too, whose bias is nothing
    assert found["shaft"] == pytest.approx(np.var(means, ddof=1), rel=0.02)
    others = ("spline", "cell", "repeatability_home", "repeatability_workshop")
    assert max(found[name] for name in others) < 1e-6
