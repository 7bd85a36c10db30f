"""What is known of a hub's spaces: as gauged, else even between the plug gauges of its batch, else assumed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from wearstats.analysis.gaps.posterior import (
    ASSUMED_SPACE_SD_UM,
    GAUGED_SD_UM,
    HubSpace,
    estimate_draws,
    hub_space,
    hub_spaces,
)

#        nominal, gauged, its error, go, no go
KNOWN = {
    "gauged": ((-25.0, -22.0, 1.2, -31.0, -19.0), HubSpace(mean_um=-22.0, sd_um=1.2)),
    "gauged, error not said": ((-25.0, -22.0, np.nan, -31.0, -19.0), HubSpace(mean_um=-22.0, sd_um=GAUGED_SD_UM)),
    # anywhere between the two gauges alike
    "held": (
        (-25.0, np.nan, np.nan, -31.0, -15.0), HubSpace(mean_um=-23.0, sd_um=float(stats.uniform(-31, 16).std()))
    ),
    "gauges alike": (
        (-25.0, np.nan, np.nan, -20.0, -20.0), HubSpace(mean_um=-25.0, sd_um=ASSUMED_SPACE_SD_UM, status="assumed")
    ),
    "one gauge": (
        (-25.0, np.nan, np.nan, -31.0, np.nan), HubSpace(mean_um=-25.0, sd_um=ASSUMED_SPACE_SD_UM, status="assumed")
    ),
    "nothing": (
        (-25.0, np.nan, np.nan, np.nan, np.nan), HubSpace(mean_um=-25.0, sd_um=ASSUMED_SPACE_SD_UM, status="assumed")
    ),
}  # fmt: skip
NAMES = ("nominal_um", "gauged_um", "gauged_u_um", "go_um", "no_go_um")


@pytest.mark.parametrize("case", KNOWN)
def test_one_hub(case: str) -> None:
    given, expected = KNOWN[case]
    told = {name: value for name, value in zip(NAMES, given, strict=True) if not np.isnan(value)}
    found = hub_space(**told)
    assert (found.mean_um, found.sd_um) == pytest.approx((expected.mean_um, expected.sd_um))
    assert found.status == expected.status


def test_many_hubs_at_once_are_as_one_by_one() -> None:
    columns = np.array([given for given, _ in KNOWN.values()]).T
    mean, sd, status = hub_spaces(**dict(zip(NAMES, columns, strict=True)))
    assert mean == pytest.approx([expected.mean_um for _, expected in KNOWN.values()])
    assert sd == pytest.approx([expected.sd_um for _, expected in KNOWN.values()])
    assert status.tolist() == [expected.status for _, expected in KNOWN.values()]


def test_draws_are_summed_up_by_their_mean_and_the_middle_95_of_100() -> None:
    found = estimate_draws(np.arange(1001.0))
    assert (found.value, found.low, found.high) == pytest.approx((500.0, 25.0, 975.0))
