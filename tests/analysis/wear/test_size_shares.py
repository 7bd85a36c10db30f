"""The shares that the sizes serve are those of the law where shafts are even, and add up."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.wear.mixture import fit_wear_mixture
from wearstats.analysis.wear.size_shares import gripping_width, size_shares
from wearstats.analysis.widths.components import COMPONENTS
from wearstats.analysis.widths.data import PatternShape

SHAPE = PatternShape(pattern="P", splines=5, stations=("shoulder", "middle", "nut-end"), new_width_mm=6.0)


def test_gripping_width_is_what_four_splines_in_five_reach() -> None:
    widths = np.array(
        [[-10.0, -14.0, -12.0], [-20.0, -8.0, -9.0], [-30.0, -31.0, -32.0], [-4.0, -5.0, -6.0], [-7, -8, -9]]
    )
    # widest places -10, -8, -30, -4, -7: four of five reach -10
    assert gripping_width(widths) == pytest.approx(-10.0)


# stations that all lie 50 off the mean of all lie nowhere else; one 12 over the others is where the hub has to pass
@pytest.mark.parametrize(
    ("station_um", "wider"), [((0.0, 0.0, 0.0), 0.0), ((50.0, 50.0, 50.0), 0.0), ((8.0, -4.0, -4.0), 8.0)]
)
def test_even_shafts_are_served_by_the_law(station_um: tuple[float, float, float], wider: float) -> None:
    rng = np.random.default_rng(1)
    read = np.where(rng.random(400) < 0.2, 0.0, rng.gamma(2.0, 20.0, 400)) + rng.normal(0.0, 6.0, 400)
    law = fit_wear_mixture(read, np.full(400, 0.5), unworn=False).law
    shares = size_shares(
        law,
        SHAPE,
        np.zeros(len(COMPONENTS)),
        np.array(station_um),
        [0.0, 25.0, 50.0],
        np.array([10.0, -15.0, -40.0]),
        common_se_um=0.0,
        rng=rng,
        shafts=4_000,
    )
    assert shares["undersize_um"].tolist()[:3] == [0.0, 25.0, 50.0]
    values = [share.value for share in shares["share"]]
    assert sum(values) == pytest.approx(1.0)
    # an even shaft is gripped by every hub whose spaces are not wider: below new by at most 15 um for the second
    below = law.cumulative(np.array([-10.0, 15.0, 40.0]) + wider)
    assert values == pytest.approx([below[0], below[1] - below[0], below[2] - below[1], 1 - below[2]], abs=0.01)
    for share in shares["share"]:
        assert share.low <= share.value <= share.high
