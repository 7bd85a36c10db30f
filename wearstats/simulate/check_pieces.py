"""Check pieces with names, and to whom they were lent: told from the inspections, with no draw of its own."""

from __future__ import annotations

import datetime

import pandas as pd

from wearstats.simulate.scenario.scenario import Scenario
from wearstats.simulate.tables import MISSING, finish

_LOANS = 2
"""How many loans of each piece there are, at most."""

_BEFORE, _FOR, _BACK = (datetime.timedelta(days=days) for days in (14, 28, 8))
"""A piece is sent so long before the measuring, is lent for so long, and comes back so long after the measuring."""

_DOUBT_UM = 0.3


def with_check_pieces(scenario: Scenario, inspections: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Give a piece of each pattern's new width a name, and lend it for the last inspections that read one.

    Parameters
    ----------
    scenario : Scenario
        Its patterns and days.
    inspections : DataFrame
        The inspections table.

    Returns
    -------
    dict of str to DataFrame
        The inspections with the pieces' names, the pieces, and the loans, of which the last of each is not back.
    """
    pieces, loans = [], []
    named = inspections["piece"].astype(object).copy()
    start = scenario.start.isoformat()
    for number, pattern in enumerate(scenario.patterns, start=1):
        piece, size = f"CP-{number}", f"{pattern.width_mm:.3f}"
        pieces.append({"piece": piece, "size_mm": size, "size_u_um": f"{_DOUBT_UM:g}", "checked_on": start})
        mine = inspections[inspections["check_piece"].eq(size) & inspections["measured_at"].eq("home")]
        until = None
        for row, shaft, text in mine[["shaft", "measured_on"]].sort_values("measured_on").iloc[::-1].itertuples():
            measured = datetime.date.fromisoformat(str(text))
            sent, back = measured - _BEFORE, measured + _BACK
            if sent < scenario.start or (until is not None and back > until):
                continue
            named[row] = piece
            loans.append(
                {
                    "piece": piece,
                    "sent_on": sent.isoformat(),
                    "shaft": shaft,
                    "back_by": (sent + _FOR).isoformat(),
                    "back_on": MISSING if until is None else back.isoformat(),
                }
            )
            until = sent
            if sum(loan["piece"] == piece for loan in loans) == _LOANS:
                break
    head = ["piece", "sent_on", "shaft", "back_by", "back_on"]
    return {
        "inspections": inspections.assign(piece=named.astype("str")),
        "check_pieces": finish("check_pieces", pd.DataFrame(pieces)),
        "check_piece_loans": finish("check_piece_loans", pd.DataFrame(loans, columns=head).astype("str")),
    }
