"""Cumulative incidence against a published data set and against closed forms."""

import numpy as np
import pytest
from numpy.typing import ArrayLike
from statsmodels.duration.survfunc import CumIncidenceRight

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.survival.cumulative_incidence import IncidenceCurve, combine_causes, fit_incidence
from wearstats.analysis.survival.kaplan_meier import fit_kaplan_meier
from wearstats.domain.arrays import FloatArray
from wearstats.errors import AnalysisError


def _at(curve: IncidenceCurve, months: ArrayLike) -> FloatArray:
    return np.append(0.0, curve.share)[np.searchsorted(curve.months, np.asarray(months), side="right")]


def test_progression_and_death() -> None:
    # Aalen-Johansen on the data of Kyle et al. (2002), as two programs give it
    data = reference_frame("plasma_cell_progression.csv")
    progressed = data["pstat"].eq(1)
    months = data["ptime"].where(progressed, data["futime"])
    cause = np.where(progressed, 1, 2 * data["death"])
    curves = fit_incidence(months, cause)
    np.testing.assert_allclose(_at(curves[1], [120, 240, 360]), [0.06372, 0.09981, 0.13404], atol=5e-6)
    np.testing.assert_allclose(_at(curves[2], [120, 240, 360]), [0.53182, 0.72403, 0.78421], atol=5e-6)


def test_one_cause_is_kaplan_meier_with_greenwoods_error() -> None:
    data = reference_frame("leukaemia_remission.csv")
    treated = data[data["group"] == "6-MP"]
    curve = fit_incidence(treated["weeks"], treated["relapsed"])[1]
    plain = fit_kaplan_meier(treated["weeks"], treated["relapsed"])
    np.testing.assert_allclose(curve.share, 1 - plain.still_tight)
    np.testing.assert_allclose(curve.std_error, plain.std_error)
    np.testing.assert_allclose(curve.low, 1 - plain.high)
    np.testing.assert_allclose(curve.high, 1 - plain.low)


def test_nothing_lost_from_sight_is_the_binomial_share() -> None:
    stop = np.array([1, 2, 2, 3, 4, 5, 5, 6, 7, 8], dtype=float)
    cause = np.array([1, 2, 1, 1, 2, 1, 2, 2, 1, 2])
    curve = fit_incidence(stop, cause)[1]
    share = np.array([np.mean((stop <= t) & (cause == 1)) for t in curve.months])
    np.testing.assert_allclose(curve.share, share)
    np.testing.assert_allclose(curve.std_error, np.sqrt(share * (1 - share) / 10), atol=1e-12)


def test_nothing_lost_gives_no_curve_and_no_fittings_an_error() -> None:
    assert fit_incidence([3.0, 4.0], [0, 0]) == {}
    with pytest.raises(AnalysisError):
        fit_incidence([], [])
    with pytest.raises(AnalysisError):
        fit_incidence([2.0], [1], start=[2.0])


def test_aids_or_switch_as_another_program_has_it() -> None:
    # the data of Putter, Fiocco, Geskus (2007); reference: statsmodels, another program, computed in the same run
    data = reference_frame("aids_or_switch.csv")
    assert data["cause"].value_counts().to_dict() == {1: 113, 2: 107, 0: 104}
    curves = fit_incidence(data["years"], data["cause"])
    with np.errstate(divide="ignore", invalid="ignore"):  # theirs divides by none left at the last time
        theirs = CumIncidenceRight(data["years"], data["cause"])
    times = np.asarray(theirs.times)
    for number, curve in curves.items():
        np.testing.assert_allclose(_at(curve, times), np.asarray(theirs.cinc[number - 1]), atol=1e-12)
        error = np.asarray(theirs.cinc_se[number - 1])[np.searchsorted(times, curve.months)]
        inner = curve.months < times[-1]
        np.testing.assert_allclose(curve.std_error[inner], error[inner], rtol=0.02)


def test_causes_put_together_again_are_aalen_johansen() -> None:
    # each cause's own Kaplan-Meier curve, the other lost from sight, on the times themselves and on a coarser grid
    data = reference_frame("aids_or_switch.csv")
    both = fit_incidence(data["years"], data["cause"])
    fine, coarse = np.unique(data["years"]), np.arange(0.0, 14.0, 0.25)
    for grid, tolerance in ((fine, 2e-3), (coarse, 5e-3)):
        alone = [1 - fit_kaplan_meier(data["years"], data["cause"].eq(number)).at(grid) for number in (1, 2)]
        for number, share in zip((1, 2), combine_causes(alone), strict=True):
            np.testing.assert_allclose(share, _at(both[number], grid), atol=tolerance)
