"""Biases that few inspections tell are taken for as doubtful as they are, and well told ones as they come out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, stats

from tests.analysis.widths.test_fit_recovery import SHAPE, invent
from wearstats.analysis.widths.components import COMPONENTS
from wearstats.analysis.widths.fit import fit_widths
from wearstats.analysis.widths.fitted import (
    ASSUMED_UM,
    CLASS_MEAN_SD_UM,
    ONE_IN_TWENTY_UM,
    STATED_SD,
    WidthFit,
    cautious,
    shared_sd,
)
from wearstats.analysis.widths.shaft_means import mean_weights, read_alone

MEASURER = COMPONENTS.index("measurer_home")


@pytest.fixture(scope="module")
def fit() -> WidthFit:
    data, _ = invent(150, rng=np.random.default_rng(31))
    return fit_widths(data, intervals=False)


def told(fit: WidthFit, *, variance: float, doubt: float) -> WidthFit:
    """Give the owners' bias another variance, known to so much of itself."""
    variances, covariance = fit.variances.copy(), fit.variance_covariance.copy()
    variances[MEASURER] = variance
    covariance[MEASURER, MEASURER] = (doubt * variance) ** 2
    return replace(fit, variances=variances, variance_covariance=covariance)


def test_the_stated_limits_stand_in_the_order_of_the_components() -> None:
    assert tuple(ASSUMED_UM) == COMPONENTS


def test_what_is_assumed_of_a_hand_is_what_is_said_of_it() -> None:
    # a width by one owner who is not known: his bias 5 to 10 um, all readings of an inspection together (here the root
    # of 7 and 3), and owners on the whole within 4 of the workshop; a trained hand repeats to 2, an owner to 5, and
    # calipers are good to 20 to 30. Every first answer's doubt is made of these
    assert np.hypot(ASSUMED_UM["measurer_home"], ASSUMED_UM["inspection_home"]) == pytest.approx(58**0.5)
    assert np.hypot(ASSUMED_UM["measurer_workshop"], ASSUMED_UM["inspection_workshop"]) == pytest.approx(5**0.5)
    caliper = (ASSUMED_UM[f"{part}_caliper"] for part in ("measurer", "inspection", "repeatability"))
    assert sum(sd**2 for sd in caliper) ** 0.5 == pytest.approx(20.6, abs=0.1)
    assert (ASSUMED_UM["repeatability_workshop"], ASSUMED_UM["repeatability_home"]) == (2.0, 5.0)
    assert CLASS_MEAN_SD_UM == {"home": 4.0, "workshop": 0.0, "caliper": 10.0}
    # a factor of 1.6 in a standard deviation, 2.7 at the outside
    assert np.exp(STATED_SD / 2) == pytest.approx(1.65, abs=0.01)
    # ends and limits agree: the root of the mean square of an exponential density is the limit
    for name, end_um in ONE_IN_TWENTY_UM.items():
        density = stats.expon(scale=end_um / np.log(20))
        assert density.sf(end_um) == pytest.approx(0.05)
        assert density.moment(2) ** 0.5 == pytest.approx(ASSUMED_UM[name], rel=0.05)


def test_a_well_told_bias_stays(fit: WidthFit) -> None:
    found = cautious(told(fit, variance=36.0, doubt=0.02))
    assert found.variances[MEASURER] == pytest.approx(36.0, rel=1e-3)
    others = [k for k, name in enumerate(COMPONENTS) if not name.startswith(("measurer", "inspection"))]
    assert found.variances[others] == pytest.approx(fit.variances[others])


def test_a_doubtful_bias_is_the_mean_of_what_estimate_and_limit_say(fit: WidthFit) -> None:
    # independent: the product of two normal densities of the logarithm, integrated numerically
    found = cautious(told(fit, variance=9.0, doubt=0.8)).variances[MEASURER]

    def density(log: float) -> float:
        return float(
            stats.norm.pdf(log, np.log(9.0), 0.8)
            * stats.norm.pdf(log, np.log(ASSUMED_UM["measurer_home"] ** 2), STATED_SD)
        )

    mass = integrate.quad(density, -10, 15)[0]
    mean = integrate.quad(lambda log: np.exp(log) * density(log), -10, 15)[0] / mass
    assert found == pytest.approx(mean, rel=1e-6)
    assert found > 9.0


def test_a_bias_that_came_out_at_zero_is_taken_at_its_limit(fit: WidthFit) -> None:
    found = cautious(told(fit, variance=0.0, doubt=0.0))
    assert found.variances[MEASURER] == pytest.approx(ASSUMED_UM["measurer_home"] ** 2)
    # what ties the owners' mean bias to the workshop is then less sure as well
    row = list(fit.means["name"]).index("class:home")
    assert found.mean_covariance[row, row] > fit.mean_covariance[row, row]
    assert np.linalg.eigvalsh(found.mean_covariance).min() > -1e-9


def test_what_is_assumed_stays(fit: WidthFit) -> None:
    held = replace(fit, free=np.zeros(len(COMPONENTS), dtype=bool))
    assert cautious(held).variances == pytest.approx(fit.variances)
    assert cautious(held).mean_covariance == pytest.approx(fit.mean_covariance)


def test_what_all_readings_at_home_share_is_the_error_of_their_tie_or_its_limit(fit: WidthFit) -> None:
    tie = fit.mean_of("class:home")
    assert tie is not None
    assert shared_sd(fit) >= tie[1]
    assert shared_sd(replace(fit, free=np.zeros(len(COMPONENTS), dtype=bool))) == pytest.approx(tie[1])
    data, _ = invent(30, rng=np.random.default_rng(32), workshop=0.0)
    untied = fit_widths(data, intervals=False)
    assert shared_sd(untied) == CLASS_MEAN_SD_UM["home"]
    # it is in every shaft's own error, unless it is reckoned with once for all
    average = {"P": mean_weights(SHAPE)}
    with_it, without = (read_alone(untied, data, average, shared=shared) for shared in (True, False))
    assert with_it["value_um"].to_numpy() == pytest.approx(without["value_um"].to_numpy(), abs=1.5)
    lost = with_it["sd_um"] ** 2 - without["sd_um"] ** 2
    # less only where a check piece told an owner's bias
    assert lost.median() == pytest.approx(CLASS_MEAN_SD_UM["home"] ** 2, rel=0.01)
    assert lost.max() < CLASS_MEAN_SD_UM["home"] ** 2 * 1.01
