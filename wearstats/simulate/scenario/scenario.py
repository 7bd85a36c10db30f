"""Every switch of the invented fleet, with the value it has unless said otherwise.

Nothing here is measured on anything: the spreads are of the order that is common practice for owners with micrometers
and trained hands, the rest is chosen so that every question of the studies has something to find.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Literal

from wearstats.simulate.scenario.kinds import (
    D8,
    D10,
    DUTIES,
    HOME_GAUGES,
    REMOVALS,
    WORKSHOP_GAUGE,
    Duty,
    GaugeType,
    PatternSpec,
    Removal,
)

Choice = Literal["readings", "unstored", "random"]
"""What the hub is chosen on: the readings in hand, knowledge that no table holds (the true mean width), or nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """All that is invented about a fleet. Shares and risks are from 0 to 1, spreads are standard deviations.

    Parameters
    ----------
    shafts : int
        How many shafts are measured.
    start, end : datetime.date
        First and last day of the study; nothing is known after the last.
    patterns, regions, duties : tuple
        What kinds there are.
    two_shaft_owner_share : float
        Share of owners with two shafts, whose bias is the same on both.
    new_mean_um, new_sd_um : float
        New widths above the nominal one: a normal, not a spike.
    unworn_share, wear_shape, wear_mean_um : float
        Share of shafts that never lost metal; wear of the others is gamma with this shape and mean (times the duty's
        factor), the same on all places.
    station_um : tuple of float, shape (stations,)
        Fixed deviations from the shoulder to the nut end, as widths: a middle more worn is negative.
    hollow_per_wear : float
        How much deeper than its ends the middle gets for each um of wear.
    spline_sd_um, shaft_station_sd_um, cell_sd_um : float
        Spread of splines within a shaft, of the shaft's own hollow or taper, of single places.
    growth_um_per_1000h, loose_growth_factor, growth_cv : float
        Wear while a hub runs tight (times the duty's factor), how many times faster once it is loose, and the
        coefficient of variation of the growth between shafts.
    home_gauges, workshop_gauge, workshop_hands : tuple, GaugeType, int
        Who measures with what.
    home_bias_um : float
        Mean bias of owners against the workshop, whose mean is zero.
    home_measurer_sd_um, workshop_measurer_sd_um, caliper_measurer_sd_um : float
        Bias of a person with a gauge, which never averages out.
    home_inspection_sd_um, workshop_inspection_sd_um, caliper_inspection_sd_um : float
        Bias of one occasion.
    home_repeatability_um, workshop_repeatability_um, caliper_repeatability_um : float
        Scatter of single readings before rounding.
    check_piece_share : float
        Share of home inspections that begin with a pin of the pattern's new width.
    home_twice_share, workshop_share, workshop_before_choice_share : float
        Shares of shafts measured twice by the owner, and by the workshop too, always before a hub runs; the last is
        the share of the latter whose workshop readings were in hand when the hub was chosen.
    missing_share, ends_only_share, trials_share, marked_share : float
        Share of places without a reading; of home inspections without the middle, with a second trial at every
        place, and with spline 1 marked (unmarked ones are numbered from a random spline).
    batch_sd_um, hub_sd_um, gauging_sd_um, gauged_share : float
        Spread of true spaces between and within batches, error of gauging them, share gauged at all.
    choice : {"readings", "unstored", "random"}
        What the hub is chosen on.
    target_as_supplied_um, target_hand_um : float
        Mean clearance aimed at by method; negative is interference, to be filed away.
    choice_sd_um, substitute_share : float
        Spread of the habits of choosing, and share that gets a neighbouring size for want of the right one.
    as_supplied_share : tuple of float
        Share sent as supplied before and after the change of policy.
    as_supplied_log_odds_per_10um : float
        Change of its log odds with each 10 um more wear read.
    policy_change : float
        When the policy changes, as a share of the study.
    workshop_fitted_share : float
        Share fitted by the workshop of those hand-fitted whose shaft was there.
    force_limit_um : float
        Interference at the tightest place that an as-supplied hub is still forced over.
    filed_instead_share : float
        Share of as-supplied hubs beyond it that the owner files; the rest come back.
    slack_limit_um : float
        Mean clearance beyond which a hub is sent back on trial, before it has run.
    loosening_family : {"weibull", "log-logistic"}
        Baseline of the proportional hazards.
    loosening_shape, risk_at_zero_gap, log_hazard_per_10um, log_hazard_as_supplied, frailty_sd : float
        Shape of the baseline, its 12-month risk at no gap, log hazard for each 10 um of mean gap left, for being run as
        supplied at the same gap, and spread of an unseen normal log frailty of the shaft.
    removals : tuple of Removal
        Competing causes.
    reported_unasked, removal_reported, report_delay_days : float
        Chance that a failure, or a removal, is reported unasked, and the mean delay of the report.
    day_told_share : float
        Share of failures of which the owner says on which day the hub came loose.
    first_asked_months, asked_every_months, asked_cv : float
        When the shop asks, as means, and how irregularly.
    silent_owner_share, no_answer_share, no_answer_noted_share : float
        Owners who never answer; single questions without answer; share of unanswered questions that are written down.
    refit_share : float
        Share of known failures after which the shaft is measured again and gets another hub.
    returned_share : float
        Share of failed hubs that come back.
    known_later_share : float
        Share of hubs sold through a dealer, of which the shop learns later, and only if they still run then.
    prefit_shares : dict-like tuple of (str, float)
        What happens to hubs before they are tried: reasons of the returns table, and ``no-word``.
    two_sent_share, filed_too_far_share : float
        Two sizes sent, one comes back; owner-filed hubs spoiled.
    month_only_share, date_missing_share : float
        Fitting dates known to the month, or not at all.
    went_on_share, filing_share, marks_share, play_share, pulled_share : float
        Share of fittings where each was written down.
    index_sd_um, play_sd_um : float
        Index errors of the splines and error of a measured play.
    filing_base_min, filing_min_per_um, filing_log_sd : float
        Minutes of filing: a fixed part, per um summed over the splines (each at its worst place), and log spread.
    went_silent_share, cancelled_share, special_share : float
        Orders that end in nothing; share of orders beyond the kept sizes for which a special is made.
    decline_hollow_um : float
        Hollow read above which an order is declined.
    lost_order_share : float
        Orders that never led to a measured shaft, as a share of `shafts`.
    currency : str
        Of the costs.
    most_attempts : int
        Hubs tried on one shaft at most.
    """

    shafts: int = 400
    start: datetime.date = datetime.date(2023, 10, 1)
    end: datetime.date = datetime.date(2026, 9, 30)
    patterns: tuple[PatternSpec, ...] = (D8, D10)
    regions: tuple[str, ...] = ("saltings", "carr", "upland")
    duties: tuple[Duty, ...] = DUTIES
    two_shaft_owner_share: float = 0.2
    new_mean_um: float = 0.0
    new_sd_um: float = 6.0
    unworn_share: float = 0.2
    wear_shape: float = 2.0
    wear_mean_um: float = 40.0
    station_um: tuple[float, float, float] = (2.0, -4.0, 2.0)
    hollow_per_wear: float = 0.0
    spline_sd_um: float = 4.0
    shaft_station_sd_um: float = 5.0
    cell_sd_um: float = 3.0
    growth_um_per_1000h: float = 1.5
    loose_growth_factor: float = 8.0
    growth_cv: float = 0.4
    home_gauges: tuple[GaugeType, ...] = HOME_GAUGES
    workshop_gauge: GaugeType = WORKSHOP_GAUGE
    workshop_hands: int = 3
    home_bias_um: float = 4.0
    home_measurer_sd_um: float = 6.0
    workshop_measurer_sd_um: float = 1.5
    caliper_measurer_sd_um: float = 12.0
    home_inspection_sd_um: float = 3.0
    workshop_inspection_sd_um: float = 1.0
    caliper_inspection_sd_um: float = 8.0
    home_repeatability_um: float = 5.0
    workshop_repeatability_um: float = 2.0
    caliper_repeatability_um: float = 15.0
    check_piece_share: float = 0.25
    home_twice_share: float = 0.12
    workshop_share: float = 1.0 / 3.0
    workshop_before_choice_share: float = 0.5
    missing_share: float = 0.05
    ends_only_share: float = 0.05
    trials_share: float = 0.06
    marked_share: float = 0.85
    batch_sd_um: float = 3.0
    hub_sd_um: float = 2.0
    gauging_sd_um: float = 1.5
    gauged_share: float = 0.85
    choice: Choice = "readings"
    target_as_supplied_um: float = 22.0
    target_hand_um: float = 7.0
    choice_sd_um: float = 9.0
    substitute_share: float = 0.1
    as_supplied_share: tuple[float, float] = (0.6, 0.25)
    as_supplied_log_odds_per_10um: float = -0.1
    policy_change: float = 0.5
    workshop_fitted_share: float = 0.5
    force_limit_um: float = 12.0
    filed_instead_share: float = 0.7
    slack_limit_um: float = 60.0
    loosening_family: Literal["weibull", "log-logistic"] = "weibull"
    loosening_shape: float = 1.4
    risk_at_zero_gap: float = 0.03
    log_hazard_per_10um: float = 0.5
    log_hazard_as_supplied: float = 0.0
    frailty_sd: float = 0.0
    removals: tuple[Removal, ...] = REMOVALS
    reported_unasked: float = 0.6
    removal_reported: float = 0.8
    report_delay_days: float = 6.0
    day_told_share: float = 0.5
    first_asked_months: float = 5.0
    asked_every_months: float = 6.0
    asked_cv: float = 0.4
    silent_owner_share: float = 0.3
    no_answer_share: float = 0.1
    no_answer_noted_share: float = 0.5
    refit_share: float = 0.85
    returned_share: float = 0.55
    known_later_share: float = 0.04
    prefit_shares: tuple[tuple[str, float], ...] = (
        ("not-needed", 0.012), ("register-misfit", 0.010), ("sent-wrong", 0.008), ("post-damage", 0.005),
        ("wrong-pattern", 0.005), ("no-word", 0.025),
    )  # fmt: skip
    two_sent_share: float = 0.03
    filed_too_far_share: float = 0.01
    month_only_share: float = 0.12
    date_missing_share: float = 0.06
    went_on_share: float = 0.85
    filing_share: float = 0.6
    marks_share: float = 0.35
    play_share: float = 0.12
    pulled_share: float = 0.4
    index_sd_um: float = 2.0
    play_sd_um: float = 3.0
    filing_base_min: float = 8.0
    filing_min_per_um: float = 0.5
    filing_log_sd: float = 0.3
    went_silent_share: float = 0.03
    cancelled_share: float = 0.01
    special_share: float = 0.4
    decline_hollow_um: float = 28.0
    lost_order_share: float = 0.12
    currency: str = "EUR"
    most_attempts: int = 8


DEMO = Scenario(
    shafts=425,
    target_as_supplied_um=38.0,
    target_hand_um=5.0,
    risk_at_zero_gap=0.02,
    log_hazard_per_10um=0.6,
)
"""The fleet of the demo: drainage pumps on a low-lying coast, three years, all invented."""

DEMO_SEED = 20260931
"""The written seed of the demo: the first, counting up, whose fleet is no outlier (`realised.within_one_error`)."""
