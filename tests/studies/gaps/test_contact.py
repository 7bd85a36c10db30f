"""Contact predicted from widths alone, on the invented fleet whose true contact is known."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from wearstats.analysis.gaps.contact_check import compare_contact
from wearstats.domain.contact import CONTACT_LIMIT_UM
from wearstats.errors import AnalysisError
from wearstats.report.remarks.document import plain
from wearstats.simulate.demo_files import make_demo
from wearstats.studies.gaps.contact import ContactStudy, study_contact_seen
from wearstats.studies.gaps.contact_of_fitting import last_fitting_seen
from wearstats.studies.gaps.known_gaps import KnownGaps, known_gaps
from wearstats.studies.gaps.notes import notes_of
from wearstats.studies.inputs.width_fit import width_fit
from wearstats.studies.inputs.widths import read_widths
from wearstats.studies.snapshot import Snapshot


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(20260930)


@pytest.fixture(scope="module")
def gaps(demo: Snapshot) -> KnownGaps:
    return known_gaps(demo)


@pytest.fixture(scope="module")
def study(demo: Snapshot) -> ContactStudy:
    return study_contact_seen(demo)


def true_shares() -> pd.Series[Any]:
    """Work out the share of splines that truly bear, place by place, without the program's own geometry."""
    truth = make_demo()[0].truth
    fittings = truth.fittings[truth.fittings["fitting"] != ""]
    maps = truth.width_um[fittings["period"].to_numpy(dtype=int)]
    # stations run from the shoulder to the nut end; a hub keeps, at each place, what it passed on its way to it
    met = np.stack([maps[..., at:].max(axis=-1) for at in range(maps.shape[-1])], axis=-1)
    space = np.maximum(fittings["space_um"].to_numpy(dtype=float)[:, None, None], met)
    bears = (space - maps).min(axis=-1) <= CONTACT_LIMIT_UM
    share = np.where(np.isnan(maps[..., 0]), np.nan, bears)
    return pd.Series(np.nanmean(share, axis=1), index=fittings["fitting"].to_numpy(dtype=str))


def test_what_truly_bears_is_predicted(gaps: KnownGaps, rng: np.random.Generator) -> None:
    """All fittings with readings in hand, marked as though colour showed exactly the places within the limit."""
    frame = gaps.frame
    names = {"bearing_share": "predicted", "bearing_low": "low", "bearing_high": "high"}
    told = frame.rename(columns=names).assign(marked=true_shares().loc[frame["fitting"]].to_numpy())
    seen = compare_contact(told, rng=rng)
    assert seen.fittings > 350
    assert seen.difference.value == pytest.approx(0.0, abs=0.03)
    assert seen.slope.value == pytest.approx(1.0, abs=0.08)
    assert seen.covered.value is not None
    assert seen.covered.value > 0.9


def test_the_mark_itself_is_not_used(gaps: KnownGaps, study: ContactStudy) -> None:
    """The share predicted is that of the frame before notes weigh anything, whatever was marked."""
    frame = gaps.frame.set_index("fitting")
    told = study.fittings.set_index("fitting")
    assert told["predicted"].equals(frame.loc[told.index, "bearing_share"].rename("predicted"))
    assert frame["marked_share"].isna().sum() == len(frame) - len(told)


def test_marks_of_the_invented_fleet(study: ContactStudy) -> None:
    """Its colour shows half of the sides at 6 um and fades over some um, where geometry cuts off at 5."""
    seen = study.seen
    assert seen is not None
    assert seen.fittings == len(study.fittings) > 100
    assert seen.slope.high is not None
    assert seen.slope.high < 1
    assert seen.covered.value is not None
    assert 0.7 < seen.covered.value < 0.95
    # of sides predicted all to bear some do not show, and some show where none was predicted
    assert seen.bands["marked"].iloc[0] > seen.bands["predicted"].iloc[0]
    assert seen.bands["marked"].iloc[-1] < seen.bands["predicted"].iloc[-1]
    document = plain(study)
    assert document["over_all"]["fittings"] == len(document["fittings"])


def test_single_fittings(demo: Snapshot, study: ContactStudy) -> None:
    name, shaft = (str(study.fittings[column].iloc[-1]) for column in ("fitting", "shaft"))
    one = study_contact_seen(demo, fittings=(name,))
    assert one.seen is None
    assert [seen.fitting for seen in one.singly()] == [name]
    with pytest.raises(AnalysisError, match="fitting F0002 has no marks"):
        study_contact_seen(demo, fittings=("F0002",))
    fit, readings = width_fit(demo).fit, read_widths(demo, shafts=[shaft])
    found = demo.query("fittings/last_fitting", shafts=[shaft]).to_dict("records")
    rows = [{str(column): value for column, value in row.items()} for row in found]
    last = last_fitting_seen(demo, rows, fit=fit, readings=readings)
    assert last is not None
    assert last.fitting == name
    # a shaft's draws are its own, whether it is asked about alone or among all
    assert last == one.singly()[0]
    assert last_fitting_seen(demo, [], fit=fit, readings=readings) is None


def test_more_marks_than_splines_say_nothing() -> None:
    rows = pd.DataFrame(
        {
            "method": "owner-fitted",
            "went_on": "pulled-on",
            "play_um": np.nan,
            "filing_min": np.nan,
            "drive_marked": pd.array([8, 14, None, 4], dtype="Int64"),
            "coast_marked": pd.array([8, 2, 8, 0], dtype="Int64"),
        }
    )
    marked = notes_of(rows, 8)["splines marked"]
    assert np.array_equal(marked, [1.0, np.nan, np.nan, 0.25], equal_nan=True)
