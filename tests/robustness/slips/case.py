"""A later file in which nothing is wrong: two shafts are measured, hubs made, sent and fitted, and heard of again."""

from __future__ import annotations

Row = dict[str, str]
Tables = dict[str, list[Row]]

MAP_D8 = (
    ("5.957", "5.951", "5.960"),
    ("5.953", "5.948", "5.956"),
    ("5.961", "5.954", "5.959"),
    ("5.949", "5.944", "5.952"),
    ("5.958", "5.950", "5.955"),
    ("5.955", "5.952", "5.962"),
    ("5.952", "5.947", "5.951"),
    ("5.960", "5.953", "5.957"),
)
"""Widths of S9001 by spline and station, mm."""

MAP_D10_IN = (
    ("0.2131", "0.2129", "0.2132"),
    ("0.2130", "0.2127", "0.2130"),
    ("0.2133", "0.2130", "0.2131"),
    ("0.2129", "0.2126", "0.2129"),
    ("0.2131", "0.2128", "0.2130"),
    ("0.2132", "0.2129", "0.2133"),
    ("0.2130", "0.2127", "0.2128"),
    ("0.2133", "0.2129", "0.2131"),
    ("0.2129", "0.2128", "0.2130"),
    ("0.2131", "0.2130", "0.2132"),
)
"""Widths of S9002, inches."""

SPACES_H9005 = (
    ("5.963", "5.961"),
    ("5.962", "5.960"),
    ("5.964", "5.961"),
    ("5.963", "5.962"),
    ("5.962", "5.961"),
    ("5.964", "5.962"),
    ("5.963", "5.960"),
    ("5.962", "5.961"),
)
"""Spaces of a hub by number, at its mouth and at its nut face, mm."""

_STATIONS = ("shoulder", "middle", "nut-end")


def _rows(columns: str, *lines: str) -> list[Row]:
    """Read lines as a file has them; what is blank is left out."""
    names = columns.split(",")
    return [{name: cell for name, cell in zip(names, line.split(","), strict=True) if cell} for line in lines]


def _readings(inspection: str, widths: tuple[tuple[str, ...], ...]) -> list[Row]:
    return [
        {"inspection": inspection, "spline": str(spline), "station": station, "width": width}
        for spline, row in enumerate(widths, start=1)
        for station, width in zip(_STATIONS, row, strict=True)
    ]


def case() -> Tables:
    """Give the rows, by table; all of them invented."""
    later = tuple(tuple(f"{float(width) - 0.001:.3f}" for width in row) for row in MAP_D8)
    return {
        "gauges": _rows(
            "gauge,kind,unit,resolution,checked_on",
            "G9001,micrometer-flat,mm,0.001,2026-08-01",
            "G9002,micrometer-flat,in,0.0001,",
            "G9003,micrometer-blade,mm,0.001,2026-01-10",
        ),
        "check_pieces": _rows("piece,size_mm,size_u_um,checked_on", "P9001,6.0005,0.5,2026-07-20"),
        "check_piece_loans": _rows(
            "piece,sent_on,shaft,owner,back_by,back_on", "P9001,2026-08-03,S9001,owner-901,2026-09-01,2026-08-28"
        ),
        "shafts": _rows(
            "shaft,pattern,engine,region,duty,first_seen_on,owner",
            "S9001,D8,saltings pump 901,saltings,daily,2026-08-03,",
            "S9002,D10,carr pump 902,carr,daily,2026-08-05,",
        ),
        "shaft_events": _rows("shaft,happened_on,what", "S9001,2026-08-04,crack-tested"),
        "inspections": _rows(
            "inspection,shaft,measured_on,measured_by,measured_at,gauge,unit,hours,register,major,spline_1_marked,"
            "check_piece,check_reading,piece",
            "I90001,S9001,2026-08-05,owner-901,home,G9001,mm,12000,29.985,35.86,yes,6.000,6.004,",
            "I90002,S9002,2026-08-06,owner-902,home,G9002,in,8000,,,yes,,,",
            "I90003,S9001,2026-09-20,workshop-1,workshop,G9003,mm,12180,,,yes,,6.001,P9001",
        ),
        "readings": _readings("I90001", MAP_D8) + _readings("I90002", MAP_D10_IN) + _readings("I90003", later),
        "batches": _rows(
            "batch,pattern,undersize_um,made_on,quantity,go_mm,no_go_mm,material,hardened",
            "B9001,D8,50,2026-07-10,16,5.955,5.965,steel,no",
            "B9002,D10,40,2026-07-12,12,5.415,5.425,steel,no",
        ),
        "hubs": _rows(
            "hub,pattern,undersize_um,batch,space_width_mm,space_u_um,register_mm",
            "H9001,D8,50,B9001,5.961,1.5,30.012",
            "H9002,D8,50,B9001,5.959,1.5,30.010",
            "H9003,D8,50,B9001,5.960,1.5,30.011",
            "H9004,D10,40,B9002,5.421,1.5,28.010",
            "H9005,D8,50,B9001,5.962,1.5,30.013",
        ),
        "hub_spaces": [
            {"hub": "H9005", "gauged_on": "2026-07-20", "space": str(space), "end": end, "width_mm": width}
            for space, widths in enumerate(SPACES_H9005, start=1)
            for end, width in zip(("mouth", "nut-face"), widths, strict=True)
        ],
        "orders": _rows(
            "order,ordered_on,pattern,region,shaft,asked_undersize_um,outcome",
            "R9001,2026-08-03,D8,saltings,S9001,50,sent",
            "R9002,2026-08-05,D10,carr,S9002,40,sent",
        ),
        "dispatches": _rows(
            "hub,sent_on,shaft,order,sent_as,inspection,back_by",
            "H9001,2026-08-10,S9001,R9001,owner-fitted,I90001,",
            "H9003,2026-08-10,S9001,R9001,owner-fitted,I90001,2026-08-31",
            "H9004,2026-08-11,S9002,R9002,owner-fitted,I90002,",
        ),
        "fittings": _rows(
            "fitting,shaft,hub,fitted_on,method,inspections,went_on,pulled_mm,seated,drive_marked,coast_marked,play_um,"
            "filing_min",
            "F9001,S9001,H9001,2026-08-15,owner-fitted,I90001,pulled-on,5.5,yes,6,7,2,20",
            "F9002,S9002,H9004,2026-08-16,owner-fitted,I90002,pulled-on,4.8,yes,,,,25",
        ),
        "follow_ups": _rows(
            "fitting,seen_on,state,prompted,how,cause,hours",
            "F9001,2026-09-15,tight,asked,rocked-by-hand,,12160",
            "F9001,2026-09-19,removed,unasked,taken-off,other,12170",
            "F9002,2026-09-16,tight,asked,said-so,,8150",
        ),
        "returns": _rows("hub,returned_on,reason,back_on_shelf", "H9003,2026-08-25,second-size-back,yes"),
        "undersizes_offered": _rows("pattern,undersize_um,from_on,to_on", "D8,110,2026-09-01,"),
        "stock_counts": _rows("pattern,undersize_um,counted_on,on_hand", "D8,50,2026-09-29,7", "D10,40,2026-09-29,6"),
        "costs": _rows(
            "pattern,item,from_on,amount,currency",
            "D8,failure,2026-09-01,980,EUR",
            "D8,filing_minute,2026-09-01,0.95,EUR",
            "D8,hub_made,2026-09-01,54,EUR",
        ),
    }
