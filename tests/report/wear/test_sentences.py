"""What is said of wear, word for word."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd

from tests.report.support.made_studies import estimate, wear_study
from wearstats.analysis.estimate import Estimate, no_estimate
from wearstats.analysis.remark import refused
from wearstats.report.wear.growth_sentences import growth_sentences
from wearstats.report.wear.sentences import wear_sentences
from wearstats.studies.wear.growth import GrowthStudy


def test_wear() -> None:
    assert wear_sentences(wear_study()) == [
        "Up to 30 September 2026, 8 shafts gave 1\u202f200 readings.",
        "On average a shaft's splines have lost 33 µm (29 to 36) of their width. Half the shafts have lost more than "
        "26 µm (22 to 29) and one shaft in ten more than 78 µm (67 to 86).",
        "By pattern, on average, in µm: D8 33 (29 to 36) on 5 shafts; D10 33 (29 to 36) on 5 shafts.",
        "How many are as good as new: not told apart.",
        "The two hubs that serve most D8 shafts, as the loosest that grip: the standard hub for 10 in 100 and 0.05 mm "
        "undersize for 70 in 100; none on offer serves the last 20 in 100.",
        "The two hubs that serve most D10 shafts, as the loosest that grip: the standard hub for 10 in 100 and 0.05 mm "
        "undersize for 70 in 100; none on offer serves the last 20 in 100.",
        "How fast wear grows with running hours: not worked out in this version.",
        "How unlike they are, as one standard deviation: shafts of one pattern and duty differ by 32 µm, the splines "
        "of a shaft by 4 µm.",
        "Taken again by the same hand, a reading differs by 5 µm at home, as one standard deviation.",
        "All readings of a home inspection share an error that more readings do not cure but a pin of known size, "
        "measured along with them, does: as one standard deviation 8 µm for the hand with its gauge (assumed).",
        "Brackets: 95 % sure.",
    ]


def test_wear_that_knows_more() -> None:
    said = wear_sentences(wear_study(unworn=estimate(0.2, 0.15, 0.26)))
    assert "As good as unworn are 20 in 100 shafts (15 to 26)." in said


def test_growth() -> None:
    none = no_estimate(refused("too few shafts"))
    tight = Estimate(value=1.58, low=0.92, high=2.24)
    needed = pd.DataFrame({"shaft": ["S-1", "S-2", "S-3"], "needed_h": [5400.0, 1200.0, np.nan]})
    study = GrowthStudy(
        as_of=datetime.date(2026, 9, 30),
        pattern=None,
        shafts=402,
        shafts_again=71,
        growth=tight,
        growth_of="tight",
        by_duty={"daily": tight, "standby": none},
        by_between={"tight": tight, "loose": Estimate(value=3.81, low=2.15, high=5.48), "not known": none},
        while_loose=none,
        loose_minus_tight=Estimate(value=2.23, low=0.48, high=3.98),
        by_age=none,
        own_rate_sd=none,
        residual_sd=none,
        hours_on_record={},
        left_out={},
        by_pattern={},
        points=pd.DataFrame(),
        band=pd.DataFrame(),
        needed=needed,
    )
    assert growth_sentences(study) == [
        "While its hub stays tight a shaft loses 1.6 µm (0.9 to 2.2) in 1000 running hours (71 "
        "shafts measured again after a hub had run).",
        "Over hours in which a hub was found loose it lost 3.8 µm (2.1 to 5.5) in 1000 hours: a "
        "loose hub wears its shaft faster.",
        "Of 3 shafts with hours it is known for 2 when the next undersize will be due, first for S-2, after about "
        "1\u202f200 hours more; for the others that lies beyond the hours on record.",
    ]
