"""What readings alone say of a shaft is what a fitter would work out by hand, and nothing of other shafts is in it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tests.analysis.support.width_layout import layout
from tests.analysis.widths.test_fit_recovery import SHAPE, invent
from wearstats.analysis.widths.components import COMPONENTS
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import cautious
from wearstats.analysis.widths.shaft_means import hollow_weights, mean_weights, read_alone, taper_weights


def test_one_full_inspection_gives_its_mean_less_the_mean_bias() -> None:
    rng = np.random.default_rng(2)
    rows = []
    for unit in range(40):
        level, owner = rng.normal(-30, 20), rng.normal(4, 6)
        widths = level + rng.normal(0, 4, (6, 1)) + rng.normal(0, 3, (6, 3))
        visits = [("home", f"owner-{unit}", owner, 5.0)] + [("workshop", "hand", 0.5, 2.0)] * (unit % 4 == 0)
        rows += [
            (unit, f"{unit}-{who}", kind, who, spline + 1, station, widths[spline, station] + bias + rng.normal(0, sd))
            for kind, who, bias, sd in visits
            for spline in range(6)
            for station in range(3)
        ]
    frame = pd.DataFrame(rows, columns=["unit", "inspection", "class", "measurer", "spline", "station", "width"])
    data = layout(frame, splines=6, stations=3)
    fit = fit_widths(data, intervals=False)
    home = fit.mean_of("class:home")
    assert home is not None
    sd = {name: float(np.sqrt(value)) for name, value in zip(COMPONENTS, cautious(fit).variances, strict=True)}
    shape = data.blocks[0].shape
    read = read_alone(fit, data, {"P": mean_weights(shape)}).set_index("shaft")
    alone = [str(unit) for unit in range(40) if unit % 4]
    means = frame.groupby("unit")["width"].mean()
    assert read.loc[alone, "value_um"].to_numpy() == pytest.approx(
        means[[int(unit) for unit in alone]].to_numpy() - home[0], abs=0.02
    )
    variance = sd["measurer_home"] ** 2 + sd["inspection_home"] ** 2 + sd["repeatability_home"] ** 2 / 18
    assert read.loc[alone, "sd_um"].to_numpy() == pytest.approx(variance**0.5, rel=1e-3)
    # where the workshop measured too, its reading counts most
    assert (read.loc[["0", "4", "8"], "sd_um"] < 0.7 * variance**0.5).all()


def test_the_errors_are_as_large_as_they_are_said_to_be() -> None:
    data, true = invent(300, rng=np.random.default_rng(4))
    fit = fit_widths(data, intervals=False)
    read = read_alone(fit, data, {"P": mean_weights(SHAPE)})
    shaft = data.units["shaft"].astype(int).to_numpy()[read["unit"]]
    error = (read["value_um"].to_numpy() - true.mean(axis=(1, 2))[shaft]) / read["sd_um"]
    # four workshop hands tell their own spread badly, so shafts that they measured are left out
    assert error[read["sd_um"] > 4.0].std() == pytest.approx(1.0, abs=0.12)


def test_hollow_and_taper_do_not_hang_on_the_bias() -> None:
    data, true = invent(150, rng=np.random.default_rng(3))
    fit = fit_widths(data, intervals=False)
    shaft = data.units["shaft"].astype(int).to_numpy()
    for weights, expected in (
        (hollow_weights(SHAPE), 0.5 * (true[:, :, 0] + true[:, :, 2]).mean(axis=1) - true[:, :, 1].mean(axis=1)),
        (taper_weights(SHAPE), (true[:, :, 0] - true[:, :, 2]).mean(axis=1)),
    ):
        read = read_alone(fit, data, {"P": weights}, along_spline=True)
        assert read["sd_um"].median() < 4.0
        error = (read["value_um"].to_numpy() - expected[shaft[read["unit"]]]) / read["sd_um"]
        assert error.mean() == pytest.approx(0.0, abs=0.25)
        assert error.std() == pytest.approx(1.0, abs=0.15)
