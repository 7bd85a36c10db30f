"""What is remarked of sizes and stock."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from wearstats.analysis.making.remarks import SpreadRemark
from wearstats.analysis.stock.remarks import StockRemark
from wearstats.domain.units import print_um
from wearstats.report.words.phrases import count, millimetres, sure_microns, two_figures
from wearstats.studies.limits.remarks import LimitsRemark, LimitsVerdict
from wearstats.studies.making.remarks import LimitsFrom, MakingRemark
from wearstats.studies.stock.remarks import MakeAssumption, MakeRemark, StockStudyRemark

_SURE = "(nine chances in ten)"
_MORE = "{on_hand} on hand, {needed}: with {make} more {lasts}"


def _never_counted(undersizes_um: Sequence[float]) -> str:
    sizes = ", ".join(f"{um:g}" for um in undersizes_um)
    return f"undersize {sizes} um was never counted: what was made, less what was sent"


def _too_near(undersize_um: float, kept_um: float) -> str:
    return f"{_engraved(undersize_um)} mm cannot be told apart from {_engraved(kept_um)}"


def _saves_little(undersize_um: float, saved: float, keeping: float) -> str:
    return f"{_engraved(undersize_um)} mm would save {max(saved, 0.0):.0f} a year and cost {keeping:.0f} to keep"


def _engraved(um: float) -> str:
    return print_um(um).partition(" mm")[0]


STOCK: Final[Mapping[str, str | Callable[..., str]]] = {
    StockRemark.TOO_FEW_QUARTERS: "{quarters:quarter is/quarters are} too few to tell a difference from chance",
    StockRemark.PAIRED_QUARTERS: (
        "{quarters} paired quarters, taken as independent though stock goes over from one to the next"
    ),
    StockRemark.DRAWN_ANEW: "shafts and models of working loose drawn anew {times} times",
    StockRemark.SHAFTS_ANEW: "simulated shelf; interval by drawing shafts anew {times} times",
    StockRemark.MEAN_OVER_SHAFTS: (
        "mean over the shafts on record; interval by drawing shafts and models of working loose anew"
    ),
    StockRemark.COURSES_WEIGHED: "courses weighed by their evidence",
    StockRemark.STAGES_SIMULATED: "{stages} simulated stages",
    StockRemark.TOO_NEAR: _too_near,
    StockRemark.SAVES_LITTLE: _saves_little,
    StockStudyRemark.COURSES_DIVIDED: "courses of demand, divided by the shares",
    StockStudyRemark.AS_MANY_AS_SHAFTS: "as many hubs as shafts were ever measured",
    StockStudyRemark.NEEDED_BY_NOW: ("{hubs} needed from {first_on} to {until}, lost sales and specials among them"),
    StockStudyRemark.NEEDED_ON_RECORD: (
        "{hubs} needed from {first_on} to {until}, where the records end, lost sales and specials among them"
    ),
    StockStudyRemark.HABIT_SENT: "what was sent a year before",
    StockStudyRemark.HABIT_MADE: "what was made a year before",
    MakeRemark.NO_LONGER_KEPT: "no longer kept: {on_hand} to be used up, or filed out for looser needs",
    MakeRemark.TOO_FEW: ("{needed}: too few for a set-up; an unserved need has a chance of {short_percent:.0f} %"),
    MakeRemark.TIGHTER_SERVE: f"none on hand, {{needed}}: tighter hubs, filed out, serve it {{end}} {_SURE}",
    MakeRemark.ENOUGH: "{on_hand} on hand, {needed}: {lasts}",
    MakeRemark.MORE: _MORE,
    MakeRemark.MORE_LATE: (
        f"{_MORE}; may run out before they are there ({{late_percent:.0f}} %; {{mean:.1f}} needed by then, "
        "{low:.0f} to {high:.0f})"
    ),
    MakeRemark.NEEDED: "{mean:.1f} needed until a later batch could be there ({low:.0f} to {high:.0f})",
    MakeRemark.LASTS: f"lasts {{end}} {_SURE}",
    MakeRemark.LASTS_FILED_OUT: f"lasts until {{own_until}}, with tighter hubs filed out {{end}} {_SURE}",
    MakeRemark.UNTIL: "until {day}",
    MakeRemark.BEYOND: "beyond {day}",
    MakeAssumption.PRICES: (
        "prices of {day} in {currency}: a set-up {setup:g} for up to {batch_size}, a hub {made:g} to make and {held:g} "
        "a year to keep"
    ),
    MakeAssumption.UNSERVED: (
        "a need that nothing serves costs {cost:g}: the lesser of a special, and of a lost sale with the hub it would "
        "have paid for"
    ),
    MakeAssumption.LOST_COUNT: (
        "{lost} of {needed:hub/hubs} needed were lost for want of a size or made singly, and count as needed; orders "
        "declined, cancelled or gone silent do not"
    ),
    MakeAssumption.TIMES: (
        "what is made now is on the shelf in {lead_days:g} days, and more can be made in {stage_days:.0f}"
    ),
    MakeAssumption.SHARES_STAY: "every size's share of the need stays as the model of wear has it",
    MakeAssumption.FILED_OUT: ("a tighter hub is filed out for a looser need where that costs less than going without"),
    MakeAssumption.NOT_FILED_OUT: ("no hub serves another size's need, for no cost of filing one out was given"),
    MakeAssumption.NEVER_COUNTED: _never_counted,
}


def _may_rattle(loosest_um: float | None, worn_um: float | None) -> str:
    if loosest_um is None:
        return "no standard fit is on hand for this width"
    told = f"by limits alone a hub may rattle: {millimetres(loosest_um)} mm of play new"
    return told if worn_um is None else f"{told}, {millimetres(loosest_um + worn_um)} worn"


LIMITS: Final[Mapping[str, str | Callable[..., str]]] = {
    LimitsVerdict.MAY_RATTLE: _may_rattle,
    LimitsVerdict.HOLDS: lambda tightest_um: (
        f"the tightest standard fit holds with at least {two_figures(tightest_um)} µm of interference"
    ),
    LimitsRemark.ISO_14: "its sizes are those of ISO 14:1982, {designation}; limits by ISO 286",
    LimitsRemark.BY_WIDTH: (
        "its sizes are not in ISO 14; the same classes of ISO 286 are taken for its width of {width_mm:g} mm"
    ),
    LimitsRemark.TOO_WIDE: "a width of {width_mm:g} mm is beyond the tables on hand, which end at {most_mm:g} mm",
}

MAKING: Final[Mapping[str, str | Callable[..., str]]] = {
    SpreadRemark.OF_GAUGED: "learnt from hubs gauged one by one",
    SpreadRemark.OF_PLUGS: "bounded by the plug gauges that batches were held between",
    SpreadRemark.ONE_EACH: "of no batch were two hubs gauged",
    SpreadRemark.ONE_BATCH: "only one batch is on record",
    LimitsFrom.SPREAD: "limits as far from what is meant as 19 hubs in 20 came out from their middle",
    LimitsFrom.PLUGS: "limits as far apart as plug gauges have been; gauged hubs would tell how hubs come out",
    LimitsFrom.STEP: "limits up to the middle between two sizes, which are {step_um:.0f} µm apart",
    LimitsFrom.GRADE: "limits of grade IT{grade}, {tolerance_um} µm, since no batch tells how hubs spread",
    MakingRemark.WIDER_THAN_STEP: (
        "Hubs of one size come out over {spread_um:.0f} µm, more than the {step_um:.0f} µm between two sizes: gauge "
        "every hub, and put it with the size that it came out as"
    ),
    MakingRemark.CAME_OUT_OFF: lambda off_um, batches: (
        f"{count(batches, 'batch', 'batches')} came out {sure_microns(off_um)} "
        f"{'wider' if (off_um.value or 0) > 0 else 'narrower'} than meant: set the machine so much "
        f"{'narrower' if (off_um.value or 0) > 0 else 'wider'}"
    ),
    MakingRemark.CAME_OUT_RIGHT: lambda off_um, batches: (
        f"{count(batches, 'batch', 'batches')} came out as meant on average, as far as can be told: within "
        f"{two_figures(max(abs(off_um.low or 0.0), abs(off_um.high or 0.0)))} µm"
    ),
    MakingRemark.MISFITS: lambda hubs, unread, sent: (
        f"{count(hubs, 'hub')} of {sent} sent came back since the bore did not suit the register"
        + (
            f", {unread} of them for a shaft whose register was not read: have it read before one is sent"
            if unread
            else ""
        )
    ),
    MakingRemark.NOTHING_LEARNT: "No batch on record has plug gauges or gauged hubs: how hubs come out is not known",
}
