"""Bands of the gap: about as many fittings in each, bounds that can be said."""

import numpy as np
import pandas as pd

from wearstats.analysis.survival.group_curves import band_gaps


def test_three_bands_of_whole_steps() -> None:
    bands = band_gaps(pd.Series(np.arange(0.0, 60.0)))
    assert list(bands.cat.categories) == ["up to 20 µm", "20 to 40 µm", "over 40 µm"]
    assert bands.value_counts(sort=False).tolist() == [21, 20, 19]
    assert bands[20] == "up to 20 µm"


def test_a_gap_not_known_is_in_no_band() -> None:
    bands = band_gaps(pd.Series([1.0, np.nan, 50.0, 90.0]))
    assert bands.isna().tolist() == [False, True, False, False]


def test_bounds_that_fall_together_make_fewer_bands() -> None:
    assert list(band_gaps(pd.Series([19.0, 20.0, 20.5, 21.0, 22.0])).cat.categories) == ["up to 20 µm", "over 20 µm"]
    assert list(band_gaps(pd.Series([3.0, 3.0, 3.0])).cat.categories) == ["any gap"]
    assert band_gaps(pd.Series([np.nan, np.nan])).isna().all()
