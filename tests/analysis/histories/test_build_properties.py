"""Whatever was written down, a history is either left out with a reason or its times stand in order."""

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.analysis.support.history_frames import AS_OF, fitting, histories
from wearstats.analysis.histories.build import OUTCOMES, Histories
from wearstats.domain.tables import CAUSES, METHODS, PROMPTED, RETURN_REASONS, STATES

DAYS = st.integers(0, 900).map(lambda day: str((pd.Timestamp("2023-06-01") + pd.Timedelta(days=day)).date()))
NUMBERS = st.integers(1, 6)
FOLLOW_UPS = st.lists(
    st.tuples(
        NUMBERS.map("F{}".format),
        DAYS,
        st.sampled_from(STATES),
        st.sampled_from([*PROMPTED, None]),
        st.sampled_from([*CAUSES, None]),
    ),
    max_size=20,
    unique_by=lambda row: row[:2],
)
DISPATCHES = st.lists(
    st.tuples(NUMBERS.map("H{}".format), DAYS, NUMBERS.map("S{}".format), st.sampled_from([*METHODS, None])),
    max_size=8,
    unique_by=lambda row: row[:2],
)
RETURNS = st.lists(
    st.tuples(NUMBERS.map("H{}".format), DAYS, st.sampled_from(RETURN_REASONS), st.just(None)),
    max_size=5,
    unique_by=lambda row: row[:2],
)
FITTINGS = st.lists(
    st.builds(
        lambda number, day, shaft, known, method: fitting(
            f"F{number}", day, shaft=f"S{shaft}", known_from=known, method=method
        ),
        NUMBERS,
        DAYS | st.none(),
        NUMBERS,
        DAYS | st.none(),
        st.sampled_from(METHODS),
    ),
    max_size=6,
    unique_by=lambda row: row["fitting"],
)


def _assert_in_order(found: Histories) -> None:
    ran = found.ran
    assert (ran["origin_from"] <= ran["origin_on"]).all()
    assert (ran["origin_on"] <= ran["origin_to"]).all()
    assert (ran["entry_months"] >= 0).all()
    assert (ran["entry_months"] <= ran["last_tight_months"]).all()
    failed = ran[ran["outcome"].eq("failed")]
    assert (failed["last_tight_months"] <= failed["failed_after_months"]).all()
    assert (failed["failed_after_months"] < failed["first_bad_months"]).all()
    assert np.isinf(ran["first_bad_months"][ran["outcome"].ne("failed")]).all()
    assert (ran["observed_months"] >= ran["last_tight_months"]).all()
    silent = ran[ran["outcome"].isin(["running", "no-word"])]
    assert (silent["silent_since_months"] == silent["last_tight_months"]).all()
    assert (silent["silent_until_months"] >= silent["silent_since_months"]).all()
    assert ran["silent_since_months"][~ran.index.isin(silent.index)].isna().all()
    assert found.frame["outcome"].isin(OUTCOMES).all()


@settings(max_examples=25)  # a fifth of a second each
@given(FITTINGS, FOLLOW_UPS, DISPATCHES, RETURNS)
def test_times_stand_in_order(fittings: list, follow_ups: list, dispatches: list, returns: list) -> None:  # type: ignore[type-arg]
    known = {row["fitting"] for row in fittings}
    follow_ups = [row for row in follow_ups if row[0] in known and row[1] <= AS_OF.isoformat()]
    found = histories(fittings, follow_ups, dispatches, returns)
    _assert_in_order(found)
    kept = found.frame.loc[found.frame["kind"].eq("fitting"), "fitting"]
    assert sorted([*kept, *found.left_out["fitting"]]) == sorted(known)
    assert found.frame["kind"].eq("dispatch").sum() <= len(dispatches)
    turned = histories(fittings[::-1], follow_ups[::-1], dispatches[::-1], returns[::-1])
    pd.testing.assert_frame_equal(_essence(found), _essence(turned))


def _essence(found: Histories) -> pd.DataFrame:
    columns = ["fitting", "outcome", "first_bad_months", "observed_months", "method_sent"]
    fitted = found.frame[found.frame["kind"].eq("fitting")]
    return fitted.sort_values("fitting")[columns].reset_index(drop=True)
