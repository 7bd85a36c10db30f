"""The advice, demand by demand: each refusal with what would lift it, and how the chance of working loose decides."""

from __future__ import annotations

import numpy as np
import pytest

from wearstats.analysis.advice.options import AdviceLimits, Evidence, weigh_sizes
from wearstats.analysis.advice.rule import Advice, RiskDemand, advise
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.gaps.posterior import hub_space
from wearstats.analysis.gauging.agreement import Disagreement
from wearstats.domain.tables import METHODS

LIMITS = AdviceLimits()
SPLINES, STATIONS, DRAWS = 8, 3, 200
SIZES = {0.0: 10.0, 25.0: -15.0, 50.0: -40.0, 75.0: -65.0}
"""Space less new width, um, by undersize."""


def maps(mean_um: float = -20.0, *, sd_um: float = 1.0, hollow_um: float = 0.0, taper_um: float = 0.0) -> np.ndarray:
    """Draw maps of a worn shaft: widths less new width, the middle hollow, the nut end wider by a taper."""
    rng = np.random.default_rng(1)
    shape = np.array([0.0, -hollow_um, taper_um])
    drawn = (
        mean_um
        + shape
        + sd_um * rng.standard_normal((DRAWS, 1, 1))
        + 0.5 * rng.standard_normal((DRAWS, SPLINES, STATIONS))
    )
    return np.asarray(drawn)


def evidence(**changed: object) -> Evidence:
    known: dict[str, object] = {
        "width_sd_um": 3.0, "measured_share": 1.0, "calipers_only": False, "filing_min_per_um": 0.2,
        "places": SPLINES * STATIONS,
    }  # fmt: skip
    return Evidence(**(known | changed))  # type: ignore[arg-type]


def told(
    shaft: np.ndarray,
    *,
    known: Evidence | None = None,
    limits: AdviceLimits = LIMITS,
    special_um: float | None = None,
    risks: dict[float, tuple[float, float]] | None = None,
    limit: float = 0.05,
) -> Advice:
    """Advise; `risks` gives value and upper end by undersize, the same for every method."""
    spaces = {um: hub_space(nominal_um=space) for um, space in SIZES.items()}
    options = weigh_sizes(shaft, spaces, limits=limits, rng=np.random.default_rng(2))
    demand = None
    if risks is not None:
        demand = RiskDemand(
            risks={
                (um, method): Estimate(value=value, low=0.0, high=high)
                for um, (value, high) in risks.items()
                for method in METHODS
            },
            limit=limit,
            months=12.0,
        )
    return advise(shaft, options, known or evidence(), special_um=special_um, limits=limits, demand=demand)


def test_without_a_law_the_loosest_tight_hub_is_sent() -> None:
    found = told(maps())
    assert (found.do, found.undersize_um) == ("send", 50.0)
    assert found.method == "owner-fitted"


@pytest.mark.parametrize(
    ("known", "words"),
    [
        ({"calipers_only": True}, "calipers only"),
        ({"measured_share": 0.4}, "only 40 % of its places"),
        ({"width_sd_um": 14.0}, "give or take 28 µm"),
        ({"all_equal": ("I1",)}, "all readings of inspection I1 are the same"),
        ({"disagreement": Disagreement(first="I1", second="I2", apart_um=60.0, sds=9.0)}, "one of them must be wrong"),
    ],
)
def test_what_cannot_be_believed_is_measured_again_and_says_what_would_tell(
    known: dict[str, object], words: str
) -> None:
    found = told(maps(), known=evidence(**known))
    assert found.do == "measure-again"
    assert words in found.why
    assert "by another hand" in found.why


def test_too_hollow_is_declined_whatever_the_average() -> None:
    found = told(maps(hollow_um=60.0))
    assert found.do == "decline"
    assert "no hub, however tight" in found.why


def test_too_worn_for_the_offer_asks_for_a_special() -> None:
    found = told(maps(-120.0), special_um=130.0)
    assert (found.do, found.undersize_um, found.method) == ("make-special", 130.0, "workshop-fitted")
    assert told(maps(-120.0)).do == "decline"


def test_too_much_to_file_is_declined() -> None:
    limits = AdviceLimits(most_filing_um=10.0)
    found = told(maps(-20.0), limits=limits)
    assert found.do == "decline"
    assert "grow thin" in found.why


def test_nothing_goes_as_supplied_above_the_shake_limit() -> None:
    # a hub a little tighter than the splines goes on as it is; with a shake limit under its clearance it does not
    limits = AdviceLimits(slide_um=30.0)
    assert told(maps(), limits=limits).method == "as-supplied"
    strict = AdviceLimits(slide_um=30.0, play_um=-100.0)
    assert told(maps(), limits=strict).method != "as-supplied"


def test_the_loosest_that_is_surely_under_the_limit_is_sent() -> None:
    found = told(maps(), risks={0.0: (0.3, 0.5), 25.0: (0.1, 0.2), 50.0: (0.04, 0.07), 75.0: (0.02, 0.04)})
    assert found.undersize_um == 75.0
    assert "surely under" in found.why


def test_where_none_is_surely_under_the_best_estimate_decides_and_says_so() -> None:
    found = told(maps(), risks={0.0: (0.3, 0.5), 25.0: (0.1, 0.2), 50.0: (0.04, 0.07), 75.0: (0.039, 0.06)})
    assert found.undersize_um == 50.0
    assert "cannot rule out 7.0" in found.why


def test_where_none_is_under_the_loosest_with_hardly_more_goes_and_says_so() -> None:
    found = told(maps(), risks={0.0: (0.3, 0.5), 25.0: (0.2, 0.3), 50.0: (0.083, 0.1), 75.0: (0.080, 0.1)})
    assert found.undersize_um == 50.0
    assert "over the limit of 5 in 100" in found.why
    found = told(maps(), risks={0.0: (0.3, 0.5), 25.0: (0.2, 0.3), 50.0: (0.12, 0.2), 75.0: (0.080, 0.1)})
    assert found.undersize_um == 75.0


def test_as_supplied_must_be_surely_under_the_limit() -> None:
    limits = AdviceLimits(slide_um=30.0)
    unsure = {0.0: (0.3, 0.5), 25.0: (0.1, 0.2), 50.0: (0.04, 0.07), 75.0: (0.04, 0.07)}
    found = told(maps(), limits=limits, risks=unsure)
    assert found.method != "as-supplied"
    sure = unsure | {50.0: (0.02, 0.04)}
    assert told(maps(), limits=limits, risks=sure).method == "as-supplied"


def test_a_gap_beyond_the_record_is_refused_with_what_would_lift_it() -> None:
    shaft = maps()
    spaces = {um: hub_space(nominal_um=space) for um, space in SIZES.items()}
    options = weigh_sizes(shaft, spaces, limits=LIMITS, rng=np.random.default_rng(2))
    beyond = Estimate(value=None, method="beyond the record", status="beyond-data")
    demand = RiskDemand(risks={(um, method): beyond for um in SIZES for method in METHODS}, limit=0.05, months=12.0)
    found = advise(shaft, options, evidence(), special_um=None, limits=LIMITS, demand=demand)
    assert found.do == "decline"
    assert "more than any on record" in found.why
    assert "would lift this" in found.why
