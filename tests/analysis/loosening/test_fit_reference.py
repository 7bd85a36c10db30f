"""The Weibull likelihood against published fits; with gaps taken as known the integral over them drops out."""

import numpy as np
import pytest

from tests.analysis.support.reference_frames import reference_frame
from wearstats.analysis.gaps.nodes import as_single_values
from wearstats.analysis.loosening.fit import LooseningFit, fit_loosening
from wearstats.analysis.survival.reporting import SilentHistories

EXACT = 1e-4  # a time known exactly, as an interval so wide


def fit_times(after: np.ndarray, by: np.ndarray, covariates: np.ndarray | None = None) -> LooseningFit:
    """Fit without penalties and without a gap; infinite `by` is still running at `after`."""
    n = len(after)
    failed = np.isfinite(by)
    nowhere = np.zeros(n, dtype=bool)
    histories = SilentHistories(
        left=np.asarray(after, float), right=np.asarray(by, float), entry=np.zeros(n), silent_from=np.full(n, np.nan),
        last_word=np.asarray(after, float), failed=failed, unasked=nowhere, asked=nowhere,
        shaft=np.arange(n, dtype=np.int64),
    )  # fmt: skip
    gaps = as_single_values(np.zeros(n), histories.shaft)
    return fit_loosening(
        histories, gaps, covariates=covariates, term=lambda gap: np.empty((*gap.shape, 0)), steadied=False
    )


def scale_of(fit: LooseningFit) -> float:
    """Give the time by which 63 % have failed."""
    return float(12.0 * np.exp(-fit.parameters[0] / fit.shape))


def test_heat_exchanger_tubes() -> None:
    # Meeker & Escobar 1998 data; shape 1.3455, scale 23.620 years, log likelihood -54.4147 (computed by two programs)
    tubes = reference_frame("heat_exchanger_tubes.csv")
    rows = tubes.loc[tubes.index.repeat(tubes["tubes"])]
    fit = fit_times(rows["after_years"].to_numpy(), rows["by_years"].to_numpy())
    assert fit.shape == pytest.approx(1.3455, abs=2e-3)
    assert scale_of(fit) == pytest.approx(23.620, rel=2e-3)
    assert fit.log_likelihood == pytest.approx(-54.4147, abs=1e-3)


def test_turbine_wheels_looked_at_once() -> None:
    # Nelson 1982 data; shape 2.17578, scale 46.777, log likelihood -189.2872 (computed by two programs)
    wheels = reference_frame("turbine_wheels.csv")
    after, by = [], []
    for hours, inspected, failed in wheels.to_numpy():
        after += [0.0] * int(failed) + [hours] * int(inspected - failed)
        by += [hours] * int(failed) + [np.inf] * int(inspected - failed)
    fit = fit_times(np.array(after), np.array(by))
    assert fit.shape == pytest.approx(2.17578, abs=1e-3)
    assert scale_of(fit) == pytest.approx(46.777, rel=1e-3)
    assert fit.log_likelihood == pytest.approx(-189.2872, abs=1e-3)
    # standard error of the logarithm of the scale: 0.0639
    level, shape = fit.parameters[0], fit.shape
    slope = np.array([-1 / shape, level / shape, 0.0])
    assert np.sqrt(slope @ fit.covariance @ slope) == pytest.approx(0.0639, abs=5e-4)


def test_generator_fans() -> None:
    # Nelson 1982 data, 12 failures of 70; shape 1.0584, scale 26297 h (computed)
    fans = reference_frame("generator_fans.csv")
    hours = fans["hours"].to_numpy() / 1000
    fit = fit_times(hours - EXACT, np.where(fans["status"] == 1, hours, np.inf))
    assert fit.failures == 12
    assert fit.shape == pytest.approx(1.0584, abs=2e-3)
    assert scale_of(fit) == pytest.approx(26.297, rel=5e-3)


def test_leukaemia_remission() -> None:
    # Cox & Oakes 1984: accelerated failure time 2.2484 + 1.2673 (0.3106) for 6-MP, scale 0.7322
    weeks = reference_frame("leukaemia_remission.csv")
    time = weeks["weeks"].to_numpy(float)
    drug = weeks["group"].eq("6-MP").to_numpy(float)[:, None]
    fit = fit_times(time - EXACT, np.where(weeks["relapsed"] == 1, time, np.inf), drug)
    assert 1 / fit.shape == pytest.approx(0.7322, abs=1e-3)
    assert -fit.parameters[1] / fit.shape == pytest.approx(1.2673, abs=2e-3)


def test_lung_cancer_with_two_covariates() -> None:
    # survival package's example: time ~ ph.ecog + sex: -0.3557319, 0.4013684, scale 0.7310495 (n = 227)
    lung = reference_frame("lung_cancer.csv").dropna(subset=["ph_ecog"])
    time = lung["time"].to_numpy(float) / 30
    covariates = lung[["ph_ecog", "sex"]].to_numpy(float)
    fit = fit_times(time - EXACT, np.where(lung["status"] == 1, time, np.inf), covariates)
    assert 1 / fit.shape == pytest.approx(0.7310495, abs=1e-3)
    assert -fit.parameters[1:3] / fit.shape == pytest.approx([-0.3557319, 0.4013684], abs=2e-3)


def test_breast_cosmesis() -> None:
    # Finkelstein & Wolfe 1985 data: effect -0.567553 (0.17573), scale 0.61934, log likelihood -143.3208 (two programs)
    cosmesis = reference_frame("breast_cosmesis.csv")
    chemo = cosmesis["group"].eq("RadChem").to_numpy(float)[:, None]
    fit = fit_times(cosmesis["after_months"].to_numpy(float), cosmesis["by_months"].to_numpy(float), chemo)
    assert 1 / fit.shape == pytest.approx(0.61934, abs=1e-3)
    assert -fit.parameters[1] / fit.shape == pytest.approx(-0.567553, abs=2e-3)
    assert fit.log_likelihood == pytest.approx(-143.3208, abs=1e-3)
