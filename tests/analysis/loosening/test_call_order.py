"""Whom to ask next: against matrices inverted outright, and an order written down by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tests.analysis.support.gap_fleet import GapFleet
from wearstats.analysis.loosening.call_order import SLOPE, Lesson, call_order, lesson_of
from wearstats.analysis.loosening.fit import fit_loosening
from wearstats.analysis.loosening.forecast import running_chances


def lesson(hubs: int = 6, size: int = 4) -> Lesson:
    rng = np.random.default_rng(3)
    root = rng.normal(size=(size, size))
    return Lesson(loose=rng.uniform(0.02, 0.7, hubs), direction=rng.normal(size=(hubs, size)), covariance=root @ root.T)


def test_what_one_answer_teaches_is_what_adding_its_information_leaves() -> None:
    told = lesson()
    for parameter in (SLOPE, 3):
        for gain, loose, along in zip(told.gain(parameter), told.loose, told.direction, strict=True):
            # independent: the information of one answer that is yes or no, added and inverted
            information = np.linalg.inv(told.covariance) + np.outer(along, along) / (loose * (1 - loose))
            left = np.linalg.inv(information)[parameter, parameter] / told.covariance[parameter, parameter]
            assert gain == pytest.approx(1 - left)


def test_many_answers_teach_what_their_information_says() -> None:
    told = lesson()
    asked = np.array([3.0, 0, 1, 0, 0, 2])
    information = np.linalg.inv(told.covariance)
    for times, loose, along in zip(asked, told.loose, told.direction, strict=True):
        information = information + times * np.outer(along, along) / (loose * (1 - loose))
    assert told.spread_after(asked) == pytest.approx(np.linalg.inv(information)[SLOPE, SLOPE] ** 0.5)
    assert told.spread_after(0 * asked) == pytest.approx(told.covariance[SLOPE, SLOPE] ** 0.5)


def test_safety_goes_first_then_what_is_due_and_then_what_is_due_soonest() -> None:
    order = call_order(
        safety=np.array([0.05, 0.10, 0.30, 0.02, 0.01, 0.00, 0.09]),
        limit=0.1,
        overdue=np.array([True, True, False, True, False, False, False]),
        teaching=np.array([0.1, 0.0, 0.0, 0.4, 0.2, 0.3, 0.2]),
        soonest=np.array([0.0, 0.0, 10.0, 0.0, 9.0, 9.0, 3.0]),
    )
    # by hand: 2 and 1 may be loose, the likelier first; 3 and 0 are due, the more telling first; 6 is due first, and of
    # two on one day the more telling goes before
    assert order.tolist() == [2, 1, 3, 0, 6, 5, 4]


def test_a_lesson_points_where_the_chance_of_being_loose_grows() -> None:
    histories, gaps, _ = GapFleet(fittings=300).draw(np.random.default_rng(3))
    fit = fit_loosening(histories, gaps)
    running = ~fit.data.failed
    told = lesson_of(fit, running)

    def loose(parameters: np.ndarray) -> np.ndarray:
        return np.asarray(running_chances(fit.data, parameters, running, np.ones(1))[0])

    assert told.loose == pytest.approx(loose(fit.parameters))
    assert told.covariance == pytest.approx(fit.covariance)
    # independent: a line through five steps to either side, and its bend left out
    steps = np.linspace(-1e-3, 1e-3, 11)
    for k in range(fit.parameters.size):
        at = np.stack([loose(fit.parameters + step * np.eye(fit.parameters.size)[k]) for step in steps])
        assert told.direction[:, k] == pytest.approx(np.polyfit(steps, at, 2)[1], abs=1e-5)
    assert np.abs(told.direction).max() > 0.01
