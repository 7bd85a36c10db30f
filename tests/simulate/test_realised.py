"""What is said of a fleet's luck agrees with published curves and with the fleet's own truth."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.simulate import Scenario, simulate
from wearstats.simulate.truth import product_limit, realise


def test_product_limit_on_published_remission_times() -> None:
    # Remission times in weeks under 6-mercaptopurine: E. Freireich et al., Blood 21 (1963) 699-716; the curve and its
    # standard errors as in D. Collett, Modelling Survival Data, and many textbooks: S(6) = 0.857, S(10) = 0.753,
    # S(22) = 0.538, standard errors 0.076, 0.096, 0.128
    weeks = np.array([6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35], dtype=float)
    ended = np.array([1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0], dtype=bool)
    for horizon, still, error in ((6.0, 0.857, 0.076), (10.0, 0.753, 0.096), (22.0, 0.538, 0.128)):
        risk, found = product_limit(weeks, ended, horizon)
        assert 1 - risk == pytest.approx(still, abs=6e-4)
        assert found == pytest.approx(error, abs=6e-4)


def test_a_large_fleet_comes_out_as_stated() -> None:
    fleet = simulate(Scenario(shafts=4000), rng=np.random.default_rng(17))
    for name, each in realise(fleet.truth).items():
        assert abs(each["realised"] - each["stated"]) < 4 * each["standard_error"], name
