"""Slips of the hand: one figure wrong, a unit, columns swapped, a wrong year or name; chosen before the checks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Scene = Literal["first", "later"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """One slip.

    Parameters
    ----------
    table : str
        Where it was made.
    at : dict
        The key of the row, column to what stands there.
    typed : dict
        What was typed, column to text.
    kind : str
        What kind of slip it is.
    scene : {"first", "later"}
        In the first load of a store, or in a later file.
    """

    table: str
    at: dict[str, str]
    typed: dict[str, str]
    kind: str
    scene: Scene = "later"

    @property
    def name(self) -> str:
        """Name it: ``hubs H9001: space_width_mm 5.916``."""
        typed = ", ".join(f"{column} {text}" for column, text in self.typed.items())
        return f"{self.table} {' '.join(self.at.values())}: {typed}"


def _of(table: str, at: str, *slips: tuple[str, str], scene: Scene = "later") -> list[Slip]:
    """Give the slips of one row: ``column=value column=value`` and their kind."""
    key = dict(pair.split("=", 1) for pair in at.split(" "))
    return [
        Slip(
            table=table,
            at=key,
            typed=dict(pair.split("=", 1) for pair in typed.split(" ")),
            kind=kind,
            scene=scene,
        )
        for typed, kind in slips
    ]


SLIPS: list[Slip] = [
    *_of(
        "patterns",
        "pattern=D8",
        ("width_mm=6.600", "one figure"),
        ("width_mm=60.00", "decimal point"),
        ("width_mm=5.990", "one figure, small"),
        ("width_mm=6.010 space_width_mm=6.000", "columns swapped"),
        ("space_width_mm=6.100", "figures moved"),
        ("space_width_mm=6.020", "one figure, small"),
        ("space_width_mm=0.2366", "inches"),
        ("minor_mm=36 major_mm=32", "columns swapped"),
        ("splines=18", "one figure"),
        ("splines=6", "one figure"),
        ("splines=9", "one figure"),
        ("major_mm=63", "figures swapped"),
        ("minor_mm=23", "figures swapped"),
        ("engaged_mm=2.8", "decimal point"),
        ("engaged_mm=82", "figures swapped"),
        ("register_mm=3.0", "decimal point"),
        ("stations=shoulder;middle;middle", "name twice"),
        ("stations=nut-end;middle;shoulder", "order turned"),
        ("pull_on_mm=60", "decimal point"),
        ("grid_um=50", "decimal point"),
        ("lead_days=350", "decimal point"),
        scene="first",
    ),
    *_of(
        "gauges",
        "gauge=G9001",
        ("resolution=0.01", "decimal point"),
        ("resolution=0.1", "decimal point"),
        ("resolution=1", "micrometres"),
        ("resolution=10", "micrometres"),
        ("unit=in", "unit"),
        ("unit=thou", "unit"),
        ("kind=caliper", "wrong word"),
    ),
    *_of(
        "shafts",
        "shaft=S9001",
        ("pattern=D10", "wrong name"),
        ("pattern=D80", "wrong name"),
        ("first_seen_on=2026-12-03", "month"),
        ("duty=standby", "wrong word"),
    ),
    *_of(
        "shaft_events",
        "shaft=S9001",
        ("what=scrapped", "wrong word"),
        ("what=dressed", "wrong word"),
        ("happened_on=2036-08-04", "year"),
    ),
    *_of(
        "inspections",
        "inspection=I90001",
        ("measured_on=2025-08-05", "year"),
        ("measured_on=2016-08-05", "year"),
        ("measured_on=2062-08-05", "figures swapped"),
        ("measured_on=2026-05-08", "day and month"),
        ("measured_on=2026-08-15", "one figure"),
        ("hours=120000", "decimal point"),
        ("hours=12000000", "thousands"),
        ("shaft=S9002", "wrong name"),
        ("shaft=S0001", "wrong name"),
        ("unit=in", "unit"),
        ("register=28.985", "one figure"),
        ("register=299.85", "decimal point"),
        ("register=29.895", "figures swapped"),
        ("major=38.56", "figures swapped"),
        ("check_reading=6.040", "figures moved"),
        ("check_reading=6.400", "figures moved"),
        ("check_piece=6.004 check_reading=6.000", "columns swapped"),
        ("check_piece=6.005", "one figure"),
        ("gauge=G9002", "wrong name"),
        ("measured_by=owner-091", "wrong name"),
        ("measured_at=workshop", "wrong word"),
    ),
    *_of(
        "inspections",
        "inspection=I90003",
        ("hours=1218", "decimal point"),
        ("hours=12810", "figures swapped"),
        ("hours=12018", "figures swapped"),
    ),
    *_of(
        "readings",
        "inspection=I90001 spline=1 station=shoulder",
        ("width=5.597", "figures swapped"),
        ("width=5.975", "figures swapped"),
        ("width=5.857", "one figure"),
        ("width=59.57", "decimal point"),
        ("width=0.2345", "inches"),
        ("width=6.957", "one figure"),
        ("spline=9", "one figure"),
        ("inspection=I90003 trial=2", "wrong name"),
    ),
    *_of("readings", "inspection=I90001", ("width=*-0.1", "same figure in all"), ("width=*+0.05", "zero not set")),
    *_of(
        "batches",
        "batch=B9001",
        ("undersize_um=0.05", "millimetres"),
        ("undersize_um=2", "thou"),
        ("undersize_um=500", "decimal point"),
        ("undersize_um=-50", "sign"),
        ("undersize_um=75", "wrong size"),
        ("made_on=2026-10-07", "day and month"),
        ("made_on=2026-08-17", "one figure"),
        ("made_on=2025-07-10", "year"),
        ("quantity=160", "decimal point"),
        ("quantity=1600", "decimal point"),
        ("quantity=3", "one figure"),
        ("go_mm=5.965 no_go_mm=5.955", "columns swapped"),
        ("go_mm=5.595", "figures swapped"),
        ("go_mm=59.55", "decimal point"),
        ("pattern=D10", "wrong name"),
        ("withdrawn_on=2025-08-01", "year"),
    ),
    *_of(
        "hubs",
        "hub=H9001",
        ("undersize_um=0.05", "millimetres"),
        ("undersize_um=2", "thou"),
        ("undersize_um=75", "wrong size"),
        ("space_width_mm=5.916", "figures swapped"),
        ("space_width_mm=5.861", "one figure"),
        ("space_width_mm=5.971", "one figure, small"),
        ("space_width_mm=59.61", "decimal point"),
        ("space_width_mm=0.2347", "inches"),
        ("space_width_mm=30.012 register_mm=5.961", "columns swapped"),
        ("batch=B9002", "wrong name"),
        ("pattern=D10", "wrong name"),
        ("space_u_um=0.0015", "millimetres"),
        ("space_u_um=150", "decimal point"),
        ("register_mm=31.012", "one figure"),
    ),
    *_of(
        "dispatches",
        "hub=H9001",
        ("hub=H9002", "wrong name"),
        ("hub=H0001", "wrong name"),
        ("sent_on=2025-08-10", "year"),
        ("sent_on=2026-08-18", "one figure"),
        ("sent_on=2062-08-10", "figures swapped"),
        ("shaft=S9002", "wrong name"),
        ("inspection=I90002", "wrong name"),
        ("inspection=I90003", "wrong name"),
        ("order=R9002", "wrong name"),
        ("sent_as=as-supplied", "wrong word"),
    ),
    *_of(
        "fittings",
        "fitting=F9001",
        ("hub=H9005", "wrong name"),
        ("hub=H9004", "wrong name"),
        ("shaft=S9002", "wrong name"),
        ("shaft=S0001", "wrong name"),
        ("fitted_on=2026-08-05", "one figure"),
        ("fitted_on=2025-08-15", "year"),
        ("fitted_on=2026-08-25", "one figure"),
        ("method=as-supplied", "wrong word"),
        ("inspections=I90002", "wrong name"),
        ("pulled_mm=55", "decimal point"),
        ("pulled_mm=0.55", "decimal point"),
        ("drive_marked=16", "one figure"),
        ("drive_marked=7 coast_marked=6", "columns swapped"),
        ("play_um=0.002", "millimetres"),
        ("play_um=200", "decimal point"),
        ("play_um=20", "decimal point"),
        ("filing_min=0.3", "hours"),
        ("filing_min=2000", "decimal point"),
        ("filing_min=200", "decimal point"),
        ("refit_of=F9001", "wrong name"),
        ("refit_of=F9002", "wrong name"),
        ("known_from=2025-09-01", "year"),
    ),
    *_of(
        "follow_ups",
        "fitting=F9001 seen_on=2026-09-15",
        ("seen_on=2025-09-15", "year"),
        ("seen_on=2026-10-15", "month"),
        ("seen_on=2026-09-25", "one figure"),
        ("hours=1216", "decimal point"),
        ("hours=121600", "decimal point"),
        ("state=loose", "wrong word"),
        ("fitting=F9002", "wrong name"),
    ),
    *_of(
        "returns",
        "hub=H9003",
        ("hub=H9002", "wrong name"),
        ("returned_on=2026-08-05", "one figure"),
        ("returned_on=2025-08-25", "year"),
        ("reason=worked-loose", "wrong word"),
        ("fitting=F9002", "wrong name"),
    ),
    *_of(
        "orders",
        "order=R9001",
        ("ordered_on=2026-08-30", "one figure"),
        ("ordered_on=2025-08-03", "year"),
        ("pattern=D10", "wrong name"),
        ("asked_undersize_um=0.05", "millimetres"),
        ("asked_undersize_um=2", "thou"),
        ("shaft=S9002", "wrong name"),
    ),
    *_of(
        "undersizes_offered",
        "pattern=D8",
        ("undersize_um=0.11", "millimetres"),
        ("undersize_um=1100", "decimal point"),
        ("to_on=2026-08-01", "columns swapped"),
    ),
    *_of(
        "stock_counts",
        "pattern=D8",
        ("on_hand=700", "decimal point"),
        ("on_hand=70", "decimal point"),
        ("on_hand=-7", "sign"),
        ("undersize_um=5", "decimal point"),
        ("undersize_um=0.05", "millimetres"),
        ("counted_on=2062-09-29", "figures swapped"),
    ),
    *_of(
        "costs",
        "item=failure",
        ("amount=98", "decimal point"),
        ("amount=98000", "decimal point"),
        ("amount=890", "figures swapped"),
        ("currency=USD", "wrong word"),
        ("item=return", "wrong word"),
        ("from_on=2062-09-01", "figures swapped"),
    ),
    *_of("costs", "item=filing_minute", ("amount=95", "decimal point"), ("amount=57", "an hour's price")),
    *_of(
        "hub_spaces",
        "hub=H9005 space=3 end=mouth",
        ("width_mm=5.946", "figures swapped"),
        ("width_mm=5.954", "one figure"),
        ("width_mm=5.974", "one figure, small"),
        ("width_mm=6.964", "one figure"),
        ("width_mm=0.2348", "inches"),
        ("width_mm=59.64", "decimal point"),
        ("space=13", "one figure"),
        ("space=9", "one figure"),
        ("end=nut-face", "wrong word"),
        ("hub=H9002", "wrong name"),
        ("hub=H9050", "wrong name"),
        ("gauged_on=2026-07-02", "figures swapped"),
        ("gauged_on=2025-07-20", "year"),
        ("gauged_on=2027-07-20", "year"),
        ("gauge=G9002", "wrong name"),
    ),
    *_of(
        "check_pieces",
        "piece=P9001",
        ("size_mm=6.0050", "decimal point"),
        ("size_mm=6.0500", "decimal point"),
        ("size_mm=0.2362", "inches"),
        ("size_u_um=5", "decimal point"),
        ("checked_on=2062-07-20", "figures swapped"),
    ),
    *_of(
        "check_piece_loans",
        "piece=P9001",
        ("piece=P9010", "wrong name"),
        ("back_on=2026-08-02", "one figure"),
        ("back_by=2025-09-01", "year"),
        ("sent_on=2026-09-03", "month"),
        ("shaft=S9002", "wrong name"),
        ("owner=owner-902", "wrong name"),
    ),
    *_of(
        "inspections",
        "inspection=I90003",
        ("piece=P9010", "wrong name"),
        ("check_reading=6.010", "figures moved"),
        ("check_reading=6.101", "one figure"),
    ),
    *_of("dispatches", "hub=H9003", ("back_by=2026-08-01", "one figure"), ("back_by=2025-08-31", "year")),
]
"""All of them."""
