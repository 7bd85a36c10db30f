"""Of many shafts some are taken at random, whole shafts and always the same ones."""

from __future__ import annotations

import datetime
import hashlib
from pathlib import Path

import pytest

from tests.studies.support.shop_store import AS_OF, make_shop, splines
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files
from wearstats.studies.demo import demo_as_of
from wearstats.studies.forecast.study import study_forecast
from wearstats.studies.inputs import histories as fitting_histories
from wearstats.studies.inputs import sampling
from wearstats.studies.inputs.histories import all_histories, histories_of, sampled_histories
from wearstats.studies.inputs.sampling import shaft_sample
from wearstats.studies.snapshot import Snapshot


def test_few_shafts_are_all_taken(demo: Snapshot) -> None:
    assert shaft_sample(demo) is None


def test_sample_goes_by_the_digest_of_names(demo: Snapshot, demo_store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sampling, "SAMPLE_SHAFTS", 50)
    sample = shaft_sample(Snapshot(store=demo_store, known_on=demo_as_of()))
    assert sample is not None
    everyone = set(histories_of(demo).frame["shaft"].dropna())
    assert sample.of >= len(everyone)
    assert sample.times == sample.of / 50
    ordered = sorted(everyone, key=lambda name: (hashlib.md5(name.encode()).hexdigest(), name))
    # those of whose hubs every history contradicts itself are in the store, and in no frame
    assert [name for name in sample.names if name in everyone] == ordered[: len(set(sample.names) & everyone)]


def test_earlier_day_has_most_of_the_same_shafts(demo_store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sampling, "SAMPLE_SHAFTS", 100)
    now = shaft_sample(Snapshot(store=demo_store, known_on=demo_as_of()))
    before = shaft_sample(Snapshot(store=demo_store, known_on=demo_as_of() - datetime.timedelta(days=90)))
    assert now is not None
    assert before is not None
    assert len(set(now.names) & set(before.names)) > 70


def test_histories_of_some_shafts_are_those_of_all_restricted_to_them(
    demo: Snapshot, demo_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sampling, "SAMPLE_SHAFTS", 120)
    some = Snapshot(store=demo_store, known_on=demo_as_of())
    sample = shaft_sample(some)
    assert sample is not None
    told = all_histories(demo).ran
    told = told[told["shaft"].isin(sample.names)]
    alone = sampled_histories(some).ran
    columns = ["fitting", "shaft", "outcome", "entry_months", "first_bad_months"]
    dated = told["origin_from"].eq(told["origin_to"])
    kept = told.loc[dated, columns].sort_values("fitting").reset_index(drop=True)
    again = alone[alone["fitting"].isin(kept["fitting"])][columns].sort_values("fitting").reset_index(drop=True)
    assert kept.equals(again)
    assert set(told["fitting"]) == set(alone["fitting"])


def test_reading_in_pieces_loses_no_history(demo: Snapshot, demo_store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = histories_of(demo)
    monkeypatch.setattr(fitting_histories, "_SHAFTS_AT_ONCE", 60)
    pieces = histories_of(Snapshot(store=demo_store, known_on=demo_as_of()))
    for one, other in ((whole.frame, pieces.frame), (whole.left_out, pieces.left_out)):
        assert (
            one["fitting"]
            .fillna("")
            .value_counts()
            .sort_index()
            .equals(other["fitting"].fillna("").value_counts().sort_index())
        )
    outcomes = [found.frame["outcome"].value_counts().sort_index() for found in (whole, pieces)]
    assert outcomes[0].equals(outcomes[1])


def test_a_hub_sent_again_to_another_shaft_invents_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    names = [f"S{number}" for number in range(6)]
    shafts = {name: splines(4.39, 4.39, 4.39) for name in names}
    path = make_shop(tmp_path / "s.duckdb", shafts, folder=tmp_path, gauge="shop")
    sent, fitted = [], []
    for number, name in enumerate(names):
        other = names[(number + 1) % len(names)]
        sent += [f"H{number},2026-01-04,{name},owner-fitted", f"H{number},2026-01-18,{other},owner-fitted"]
        fitted += [f"F{number}a,{name},H{number},2026-01-06,owner-fitted"]
        fitted += [f"F{number}b,{other},H{number},2026-01-20,owner-fitted"]
    tables = {
        "hubs": "hub,pattern,undersize_um\n" + "".join(f"H{number},P10,25\n" for number in range(6)),
        "dispatches": "hub,sent_on,shaft,sent_as\n" + "\n".join(sent) + "\n",
        "fittings": "fitting,shaft,hub,fitted_on,method\n" + "\n".join(fitted) + "\n",
        # which fitting came back loose is not said
        "returns": "hub,returned_on,reason\n" + "".join(f"H{number},2026-01-28,worked-loose\n" for number in range(6)),
    }
    files = []
    for name, text in tables.items():
        files.append(tmp_path / f"{name}.csv")
        files[-1].write_text(text, encoding="utf-8")
    with open_store(path, write=True) as store:
        add_files(store, files, added_on=AS_OF)
    with open_store(path) as store:
        whole = histories_of(Snapshot(store=store, known_on=AS_OF)).frame
        monkeypatch.setattr(fitting_histories, "_SHAFTS_AT_ONCE", 1)
        pieces = histories_of(Snapshot(store=store, known_on=AS_OF)).frame
    columns = ["fitting", "shaft", "hub", "kind", "outcome", "superseded"]
    one, other_way = (frame[columns].astype(str).sort_values(columns, ignore_index=True) for frame in (whole, pieces))
    assert len(one) == 12
    assert one.equals(other_way)


def test_forecast_from_a_sample_reckons_up_to_all(
    demo: Snapshot, demo_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def predicted(snapshot: Snapshot) -> tuple[float, float, float, int]:
        study = study_forecast(snapshot, past=False)
        year = study.next_year
        assert year.value is not None
        assert year.low is not None
        assert year.high is not None
        return year.value, year.low, year.high, study.hubs

    value, _, _, hubs = predicted(demo)
    monkeypatch.setattr(sampling, "SAMPLE_SHAFTS", 200)
    some, low, high, of_some = predicted(Snapshot(store=demo_store, known_on=demo_as_of()))
    assert low < value < high
    assert some == pytest.approx(value, rel=0.5)
    assert of_some == pytest.approx(hubs, rel=0.15)
