"""What kinds of patterns, gauges, duties and endings the invented fleet has."""

from __future__ import annotations

from dataclasses import dataclass

from wearstats.domain.units import Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeType:
    """A kind of gauge that people own.

    Parameters
    ----------
    kind : str
        As in the gauges table.
    unit : str
        Unit it shows and its readings are typed in.
    resolution : str
        Its step in that unit, as printed: ``"0.01"``.
    share : float
        Share of owners who have one.
    """

    kind: str
    unit: Unit
    resolution: str
    share: float

    @property
    def decimals(self) -> int:
        """Digits after the decimal point that it shows."""
        return len(self.resolution.partition(".")[2])


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """An undersize that is kept, for a stretch of the study.

    Parameters
    ----------
    undersize_um : int
        How much narrower its spaces are than the standard hub's.
    begins, ends : float
        Stretch as shares of the study, from 0 (its start) to 1; ``ends`` over 1: still kept.
    """

    undersize_um: int
    begins: float = 0.0
    ends: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternSpec:
    """A spline pattern of the fleet; sizes as in the patterns table, ``share`` the share of shafts that have it."""

    pattern: str
    splines: int
    width_mm: float
    space_width_mm: float
    minor_mm: float
    major_mm: float
    engaged_mm: float
    register_mm: float
    pull_on_mm: float
    grid_um: int
    lead_days: int
    batch_size: int
    share: float
    offers: tuple[Offer, ...]

    @property
    def standard_um(self) -> float:
        """Space of the standard hub above the new width, in um."""
        return round((self.space_width_mm - self.width_mm) * 1000.0, 6)


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """How an engine is used.

    Parameters
    ----------
    duty : str
        Its word in the shafts table.
    share : float
        Share of shafts.
    hours_a_day : float
        Running hours a day.
    wear_factor, growth_factor : float
        Multiply the mean wear of a worn shaft, and the growth per hour.
    log_hazard : float
        Added to the log hazard of working loose, beside the gap.
    """

    duty: str
    share: float
    hours_a_day: float
    wear_factor: float = 1.0
    growth_factor: float = 1.0
    log_hazard: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Removal:
    """A cause other than the flanks that ends a hub's run.

    Parameters
    ----------
    cause, state : str
        As in the follow-ups table.
    rate_per_month : float
        Constant hazard.
    refit_share : float
        Share of the known ones after which the shaft gets another hub.
    return_reason : str
        Reason in the returns table of those sent back; empty when none is.
    """

    cause: str
    state: str
    rate_per_month: float
    refit_share: float
    return_reason: str = ""


D8 = PatternSpec(
    pattern="D8", splines=8, width_mm=6.0, space_width_mm=6.01, minor_mm=32, major_mm=36, engaged_mm=28, register_mm=30,
    pull_on_mm=6, grid_um=5, lead_days=35, batch_size=20, share=0.6,
    offers=(
        Offer(undersize_um=0), Offer(undersize_um=25), Offer(undersize_um=50), Offer(undersize_um=75),
        Offer(undersize_um=100), Offer(undersize_um=125, begins=0.5), Offer(undersize_um=150),
    ),
)  # fmt: skip
"""Eight straight splines, ISO 14 8x32x36."""

D10 = PatternSpec(
    pattern="D10", splines=10, width_mm=5.448, space_width_mm=5.46, minor_mm=30.04, major_mm=34.925, engaged_mm=30,
    register_mm=28, pull_on_mm=5, grid_um=5, lead_days=42, batch_size=20, share=0.4,
    offers=(
        Offer(undersize_um=0), Offer(undersize_um=20), Offer(undersize_um=40), Offer(undersize_um=60, ends=0.6),
        Offer(undersize_um=65, begins=0.6), Offer(undersize_um=90), Offer(undersize_um=120),
    ),
)  # fmt: skip
"""Ten straight splines on a 1.375 in shaft, after the SAE proportions."""

HOME_GAUGES = (
    GaugeType(kind="micrometer-flat", unit="mm", resolution="0.01", share=0.42),
    GaugeType(kind="micrometer-flat", unit="mm", resolution="0.001", share=0.22),
    GaugeType(kind="micrometer-flat", unit="in", resolution="0.0001", share=0.18),
    GaugeType(kind="micrometer-flat", unit="in", resolution="0.001", share=0.07),
    GaugeType(kind="micrometer-blade", unit="thou", resolution="0.1", share=0.05),
    GaugeType(kind="caliper", unit="mm", resolution="0.01", share=0.06),
)
WORKSHOP_GAUGE = GaugeType(kind="micrometer-blade", unit="mm", resolution="0.001", share=1.0)

DUTIES = (
    Duty(duty="standby", share=0.30, hours_a_day=0.3, wear_factor=0.7, growth_factor=0.8),
    Duty(duty="daily", share=0.45, hours_a_day=4.0),
    Duty(duty="continuous", share=0.25, hours_a_day=18.0, wear_factor=1.3, growth_factor=1.2),
)
REMOVALS = (
    Removal(cause="nut-slack", state="loose", rate_per_month=0.0015, refit_share=0.5, return_reason="other"),
    Removal(cause="register", state="removed", rate_per_month=0.0010, refit_share=0.7, return_reason="register-misfit"),
    Removal(cause="hub-cracked", state="broken", rate_per_month=0.0003, refit_share=0.9, return_reason="cracked"),
    Removal(cause="other", state="removed", rate_per_month=0.0090, refit_share=0.8),
)
