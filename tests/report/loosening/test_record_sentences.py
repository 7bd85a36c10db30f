"""Records that look wrong, and those that move the answer most, in words."""

import math

import pandas as pd

from wearstats.report.loosening.record_sentences import record_doubts, record_sentences
from wearstats.studies.loosening.moving_records import MovingRecords


def records(*, hubs: int = 1, inspections: int = 0, doubted: int = 0) -> MovingRecords:
    return MovingRecords(
        slope=math.log(1.72),
        shafts=pd.DataFrame({"shaft": ["S1"], "fittings": ["F1, F2"], "slope_without": [math.log(1.77)]}),
        doubted=pd.DataFrame({"fitting": ["F9"], "shaft": ["S9"], "hub": ["H9"], "chance": [0.31]}).head(doubted),
        inspections=pd.DataFrame({"inspection": ["I1", "I2"], "shaft": ["S3", "S4"], "off_um": [-246.0, 420.0]}).head(
            inspections
        ),
        hubs=pd.DataFrame({"hub": ["H1", "H2"], "space_width_mm": [59.85, 5.443], "off_um": [53_865.0, -80.0]}).head(
            hubs
        ),
    )


def test_what_moves_the_answer_is_said_even_where_nothing_is_wrong() -> None:
    assert record_sentences(records(hubs=0)) == [
        "what moves that rate of 1.72 times most: shaft S1 (F1, F2), without it 1.77 times"
    ]


def test_three_are_named_and_the_others_counted() -> None:
    said = record_sentences(records(hubs=2, inspections=2))[0]
    assert "hub H1 (gauged 59.850 mm, 54\u202f000 µm over its size)" in said
    assert "hub H2 (gauged 5.443 mm, 80 µm under its size)" in said
    assert said.endswith("and 1 more; all: wearstats store check")


def test_each_doubt_says_where_what_and_what_to_do() -> None:
    told = list(record_doubts(records(inspections=2, doubted=1)))
    assert [place for place, _, _ in told] == [
        "hub H1",
        "inspection I1, shaft S3",
        "inspection I2, shaft S4",
        "fitting F9, shaft S9",
    ]
    assert (
        told[1][1] == "all of it about 250 µm too narrow for its shaft and hub, perhaps half a turn of a thimble in mm"
    )
    assert told[2][1] == "all of it about 420 µm too wide for its shaft and hub"
    assert "31 in 100 that one is wrong" in told[3][1]
    assert all(step for _, _, step in told)
