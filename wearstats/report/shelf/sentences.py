"""What is on the shelf, in full: every loan, every hub by number, every count that disagrees."""

from __future__ import annotations

from typing import Final

import pandas as pd

from wearstats.report.remarks.hubs import asked_for, owner_of, size_of
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.shelf.answer import look_for_lines
from wearstats.report.words.phrases import count
from wearstats.studies.shelf.study import ShelfStudy

_STATES: Final = {
    "there": "there",
    "to-gauge": "there, to be gauged: it was on a shaft",
    "withdrawn": "withdrawn with its batch, not to be sent",
    "not-again": "came back, not to be sent again",
}


def shelf_sentences(study: ShelfStudy) -> list[str]:
    """Say who has what, and where counts disagree."""
    lines = []
    for row in study.loans.to_dict("records"):
        due = "no day was said"
        if not pd.isna(row["back_by"]):
            late = f", {count(int(row['overdue_days']), 'day')} late" if row["overdue_days"] else ""
            due = f"back by {row['back_by']:%Y-%m-%d}{late}"
        several = f" ({row['to_come']} of these)" if len(row["hubs"]) > row["to_come"] else ""
        lines.append(
            f"Out with {owner_of(row)}: {asked_for(row['hubs'])}{several}, sent {row['sent_on']:%Y-%m-%d}, {due}."
        )
    lines += look_for_lines(study, named=40)
    if (study.hubs["state"] == "to-gauge").any():
        lines.append("A hub that was on a shaft is sent again only as it was gauged since: wearstats sheet gauging.")
    lines.append(
        "The size of a hub is the mean of its newest gauging by space and end; without one, the width stated of it. "
        "By number is not all: hubs without numbers are in the last count and what moved since."
    )
    return lines


def shelf_tables(study: ShelfStudy) -> list[DataTable]:
    """Print the sizes, and every hub by number that is not out."""
    sizes = study.sizes
    hubs = study.hubs.sort_values("state", key=lambda states: states.map(list(_STATES).index), kind="stable")
    size = [size_of(pattern, um) for pattern, um in zip(sizes["pattern"], sizes["undersize_um"], strict=True)]
    printed = sizes.assign(
        size=size,
        on_hand=["" if pd.isna(number) else f"{number:.0f}" for number in sizes["on_hand"]],
        counted_on=_days(sizes["counted_on"]),
    )
    heads = {"size": "size, mm", "there": "there by number", "gauged": "of these gauged", "to_gauge": "to be gauged"}
    heads |= {"withdrawn": "withdrawn", "not_again": "not to be sent again", "on_loan": "on loan"}
    heads |= {"on_hand": "with those unnumbered", "counted_on": "last counted"}
    tables = [table_of(printed, caption="Hubs by number, a row a size", columns=heads)]
    if hubs.empty:
        return tables
    each = pd.DataFrame(
        {
            "hub": hubs["hub"],
            "size": [size_of(pattern, um) for pattern, um in zip(hubs["pattern"], hubs["undersize_um"], strict=True)],
            "mm": ["" if pd.isna(mm) else f"{mm:.4f}" for mm in hubs["space_width_mm"]],
            "doubt": ["" if pd.isna(um) else f"{um:.1f}" for um in hubs["space_u_um"]],
            "gauged_on": _days(hubs["gauged_on"]),
            "state": hubs["state"].map(_STATES),
            "reason": hubs["reason"].fillna(""),
            "returned_on": _days(hubs["returned_on"]),
        }
    )
    heads = {"hub": "hub", "size": "size, mm", "mm": "spaces, mm", "doubt": "± µm", "gauged_on": "gauged by space"}
    heads |= {"state": "state", "reason": "came back as", "returned_on": "on"}
    return [*tables, table_of(each, caption="Hubs by number that are not out", columns=heads)]


def _days(days: pd.Series) -> list[str]:
    return ["" if pd.isna(day) else f"{day:%Y-%m-%d}" for day in days]
