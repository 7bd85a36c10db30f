"""How many more fittings are wanted, against a published sample size and on drawn futures."""

import datetime
import math

import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.power import NormalIndPower

from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.methods.evidence import MethodEvidence, follow_evidence
from wearstats.analysis.methods.sample_size import fittings_needed, more_fittings_needed, more_fittings_once
from wearstats.analysis.remark import refused

AS_OF = datetime.date(2026, 9, 30)


def entered(first: float, second: float, *, quarters: int = 8, each: int = 20, seed: int = 1) -> pd.DataFrame:
    """Fittings that reach their horizon, so many of both ways each quarter up to the day."""
    rng = np.random.default_rng(seed)
    days = pd.period_range(end=pd.Period("2026Q3"), periods=quarters, freq="Q").to_timestamp()
    frame = pd.DataFrame({"entered_on": days.repeat(2 * each), "supplied": np.tile([True, False], quarters * each)})
    risk = np.where(frame["supplied"], first, second)
    return frame.assign(stratum=frame["entered_on"].astype("str"), failed=rng.random(len(frame)) < risk)


def evidence(first: float, second: float, **others: int) -> MethodEvidence:
    return follow_evidence(entered(first, second, **others), as_of=AS_OF)


def counted(first: int, second: int) -> MethodEvidence:
    """So many of 20 failed each quarter, two quarters long."""
    frame = entered(0.0, 0.0, quarters=2)
    place = frame.groupby(["entered_on", "supplied"]).cumcount()
    return follow_evidence(frame.assign(failed=place < np.where(frame["supplied"], first, second)), as_of=AS_OF)


def test_means_of_two_groups() -> None:
    # a difference of half a standard deviation at 80 % power: 63 in each group; Cohen, Statistical Power Analysis,
    # 2nd ed. (1988), Table 2.4.1, gives 64 for the t test (from memory)
    per_group = fittings_needed(0.5, math.sqrt(2 / 100), 200, power=0.8, level=0.95) / 2
    assert per_group == pytest.approx(62.8, abs=0.1)
    library = NormalIndPower().solve_power(effect_size=0.5, alpha=0.05, power=0.8)
    assert per_group == pytest.approx(float(library), rel=1e-4)


def test_looked_at_once() -> None:
    seen = Estimate(value=0.05, low=-0.03, high=0.13)
    more = more_fittings_once(seen, 0.04, 300)
    assert more.value == math.ceil(300 * (2.801585 * 0.04 / 0.05) ** 2 - 300)
    assert more.low == 0
    assert more.method is not None
    assert more.method.facts == pytest.approx({"power_percent": 80.0, "size_percent": 5.0})
    nothing = more_fittings_once(Estimate(value=0.0, low=-0.05, high=0.05), 0.025, 300)
    assert (nothing.value, nothing.status) == (None, "bounded")
    assert nothing.low == math.ceil(300 * (2.801585 * 0.025 / 0.05) ** 2 - 300)
    settled = more_fittings_once(Estimate(value=0.1, low=0.02, high=0.18), 0.04, 300)
    assert (settled.value, settled.status) == (0.0, "bounded")
    assert more_fittings_once(no_estimate(refused("no overlap")), None, 300).status == "none"


def test_looked_at_every_quarter_four_futures_in_five_settle() -> None:
    start = evidence(0.12, 0.10, seed=3)
    assert not start.settled
    told = more_fittings_needed(start, rng=np.random.default_rng(4))
    again = more_fittings_needed(start, rng=np.random.default_rng(5))
    assert told.low is not None
    assert again.low == pytest.approx(told.low, abs=40)  # a quarter
    assert told.low % 40 == 0


def test_a_larger_difference_needs_fewer() -> None:
    small, large = (counted(failed, 1) for failed in (3, 5))
    assert not large.settled
    rng = np.random.default_rng(7)
    few, many = more_fittings_needed(large, rng=rng), more_fittings_needed(small, rng=rng)
    assert few.value is not None
    assert many.value is None or few.value < many.value
    assert few.low is not None
    assert few.low <= few.value


def test_settled_and_empty() -> None:
    done = evidence(0.6, 0.05)
    assert done.settled
    assert (more_fittings_needed(done, rng=np.random.default_rng(1)).value) == 0.0
    nothing = follow_evidence(entered(0.1, 0.1).head(0), as_of=AS_OF)
    assert more_fittings_needed(nothing, rng=np.random.default_rng(1)).status == "none"
    one_way = entered(0.1, 0.1)
    alone = follow_evidence(one_way[one_way["supplied"]], as_of=AS_OF)
    assert more_fittings_needed(alone, rng=np.random.default_rng(1)).status == "none"


def test_no_difference_seen_has_no_number() -> None:
    told = more_fittings_needed(counted(2, 2), rng=np.random.default_rng(2))
    assert (told.value, told.status) == (None, "bounded")
    assert told.low is not None
