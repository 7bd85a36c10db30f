"""What the page of one shaft says besides the answer: how worn it is, how the hub will sit, what to measure again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from wearstats.report.words.phrases import count, joined, sentence, size

if TYPE_CHECKING:
    from wearstats.studies.shaft.answer import ShaftStudy

_FAR = 2.5
"""How many times the doubt of a place a reading lies off before it is asked for again; judgement."""
_MOST_PLACES = 6


def wear_lines(study: ShaftStudy) -> list[str]:
    """Say how much the splines have lost, how sure that is, and where they are hollow."""
    lost, shaft_map = study.width_um_below_new, study.map_frame()
    value, low, high = (lost.value or 0.0, lost.low or 0.0, lost.high or 0.0)
    told = "about as wide as when new" if round(value) == 0 else f"{_narrower(value)} than when new"
    widest, thinnest = _place(shaft_map, -shaft_map["width_um_below_new"]), _place(shaft_map, lost_um(shaft_map))
    apart = float(lost_um(shaft_map).max() - lost_um(shaft_map).min())
    lines = [
        f"on average the splines are {told}; with readings like these the true figure lies between "
        f"{_narrower(low)} and {_narrower(high)} in 95 cases of 100",
        f"the widest place is {widest}, the most worn is {thinnest}; {size(apart)} lie between them",
    ]
    return [sentence(line) for line in lines]


def _narrower(um: float) -> str:
    return f"{size(abs(um))} {'narrower' if round(um) >= 0 else 'wider'}"


def lost_um(shaft_map: pd.DataFrame) -> pd.Series[float]:
    """Give what every place has lost."""
    return shaft_map["width_um_below_new"].astype(float)


def _place(shaft_map: pd.DataFrame, numbers: pd.Series[float]) -> str:
    """Name the place where some numbers are largest."""
    row = shaft_map.iloc[int(numbers.to_numpy(dtype=float).argmax())]
    return f"spline {row['spline']} at the {row['station']}"


def sitting_lines(study: ShaftStudy) -> list[str]:
    """Say in words what the drawing of the splines shows: what comes off, and what stays open."""
    shaft_map = study.map_frame()
    if study.advice.hub is None or shaft_map["gap_left_um"].isna().any():
        return []
    off, gap = shaft_map["filing_um"], shaft_map["gap_left_um"]
    if float(off.max()) < 0.5:
        lines = ["by the readings nothing has to come off this hub: it slides on"]
    else:
        lines = [
            f"the hub passes every place between the nut end and its seat. So what the widest place takes off it is "
            f"missing behind: the most comes off over {_place(shaft_map, off)}, about {size(float(off.max()))}"
        ]
    if float(gap.max()) < 0.5:
        lines.append("once home it touches everywhere, as far as the readings tell")
    else:
        lines.append(
            f"once home it stands furthest off over {_place(shaft_map, gap)}, by {size(float(gap.max()))} over both "
            "sides together; the widths cannot tell how that is shared between the two sides, only marking colour can"
        )
    return [sentence(line) for line in lines]


def measure_again_lines(study: ShaftStudy) -> list[str]:
    """Say what is worth measuring again: places never read, readings that hardly belong, another hand."""
    shaft_map = study.map_frame()
    unread = shaft_map[shaft_map["reading_um_below_new"].isna()]
    lines = []
    if len(unread):
        lines.append(
            f"{count(len(unread), 'place')} of {len(shaft_map)} {'was' if len(unread) == 1 else 'were'} never read, "
            f"and so only guessed from the others: {_places(unread)}"
        )
    off = shaft_map["reading_um_below_new"] - shaft_map["width_um_below_new"]
    doubt = (shaft_map["sd_um"] ** 2 - shaft_map["sd_um"].min() ** 2).clip(lower=0) ** 0.5
    middle = off - off.median()
    spread = 1.4826 * float((middle.abs()).median())
    far = shaft_map[middle.abs() > _FAR * (spread**2 + doubt**2) ** 0.5 + 3.0]
    if len(far):
        # an order to measure would undo an advice to send
        then = "the advice allows for it" if study.advice.sent_now is not None else "so read again"
        lines.append(f"the reading hardly goes with the rest of the shaft, {then}: {_places(far)}")
    if len(study.inspections) == 1:
        lines.append(
            "one measurement more by another hand, with another gauge, tells more than many by the same: what a hand "
            "reads too large or too small it reads so every time"
        )
    if study.advice.do == "measure-again":
        lines.insert(0, "send no hub before it has been measured again")
    return [sentence(line) for line in lines] or [sentence("nothing has to be measured again for this advice")]


def _places(rows: pd.DataFrame) -> str:
    """List places by station: ``splines 2 and 5 at the middle``."""
    shown = rows.sort_values(["station_index", "spline"]).head(_MOST_PLACES)
    parts = []
    for station, mine in shown.groupby("station", sort=False):
        numbers = [str(int(spline)) for spline in mine["spline"]]
        parts.append(f"{'splines' if len(numbers) > 1 else 'spline'} {joined(numbers)} at the {station}")
    rest = len(rows) - len(shown)
    return "; ".join(parts) + (f"; and {rest} more" if rest else "")
