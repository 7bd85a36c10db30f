"""The fitter's table: shafts of which a fitter knows what to do, which hub, and what must never be said.

What is right is the trade's common practice, with no source; the shafts are those of `support/designed_shafts.py`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.studies.support.designed_shafts import GAUGED_HUB, GAUGES, SPLINES, STATIONS, shaft_name
from wearstats.analysis.advice.outcomes import AS_SUPPLIED, OWNER
from wearstats.analysis.advice.remarks import Finding, First, Reason
from wearstats.analysis.gauging.remarks import StrayRemark
from wearstats.analysis.widths.components import COMPONENTS
from wearstats.analysis.widths.prediction import predict_maps
from wearstats.report.shaft.answer import shaft_answer
from wearstats.report.shaft.sentences import shaft_sentences
from wearstats.store.database.connection import create_store, open_store
from wearstats.store.intake.add import add_frames
from wearstats.studies.demo import demo_as_of
from wearstats.studies.inputs.widths import read_widths
from wearstats.studies.shaft.answer import ShaftStudy
from wearstats.studies.shaft.background import shaft_background
from wearstats.studies.shaft.fitting_sheet import study_fitting_sheet
from wearstats.studies.shaft.readings import facts_of_readings
from wearstats.studies.shaft.study import study_shaft
from wearstats.studies.snapshot import Snapshot

Answers = Mapping[str, ShaftStudy]


@dataclass(frozen=True)
class Expected:
    """What a fitter would do.

    Parameters
    ----------
    do : str
        Now.
    first : str or None
        What comes first.
    code : str or None
        Why, as the headline has it.
    sizes_um : (float, float) or None
        The smallest and largest undersize that may be named; None where none may.
    method : tuple of str
        How it may go on.
    never : tuple of str
        What may not be said anywhere.
    """

    do: str
    first: First | None = None
    code: str | None = None
    sizes_um: tuple[float, float] | None = None
    method: tuple[str, ...] = (OWNER,)
    never: tuple[str, ...] = ()


_NO_SIDE = ("drive flank", "drive side", "coast", "worn flank")
"""Widths do not tell which side of a spline is worn: only marks do."""
_NO_HUB = ("undersize", "0.0", "filed", "if one is wanted", "by the readings")

TABLE = {
    "new": Expected("send", sizes_um=(0, 25), never=("special", *_NO_SIDE)),
    "evenly worn": Expected("send", sizes_um=(50, 50), never=("special of", *_NO_SIDE)),
    # it goes on over both ends, whatever the middle has lost: never by the mean, and not without a word
    "hollow": Expected("send", code=Reason.LEAST_CHANCE, sizes_um=(25, 25)),
    # what the wide nut end takes off the hub is missing at the shoulder
    "wide at the nut": Expected("send-shaft-here", First.SEND_SHAFT_HERE, Reason.NO_HUB_HOLDS, never=_NO_HUB),
    "wide at the shoulder": Expected("send", sizes_um=(50, 75)),
    "one flank": Expected("send", sizes_um=(50, 50), never=_NO_SIDE),
    "cracked": Expected("decline", First.DO_NOT_RUN, Finding.CRACKED, never=(*_NO_HUB, "measure it")),
    # a later look that finds nothing is no test
    "cracked and sound": Expected("decline", First.DO_NOT_RUN, Finding.CRACKED, never=_NO_HUB),
    "remarked cracked": Expected("decline", First.DO_NOT_RUN, Finding.CRACK_REMARKED, never=_NO_HUB),
    "remarked sound": Expected("send", sizes_um=(50, 50)),
    "bruised": Expected(
        "measure-again", First.DRESS_AND_MEASURE, Finding.DAMAGED, sizes_um=(50, 50), never=("grind", "send the hub 0")
    ),
    "twisted": Expected("send-shaft-here", First.SEND_SHAFT_HERE, Finding.TWISTED, never=_NO_HUB),
    "inches": Expected("send", sizes_um=(50, 75)),
    "millimetres": Expected("send", sizes_um=(50, 75)),
    "reads small": Expected("send", sizes_um=(50, 75)),
    "reads small, checked": Expected("send", sizes_um=(50, 75)),
    # a hub for the mean of two that cannot both be true fits neither
    "contradicting": Expected("measure-again", First.MEASURE_AGAIN, Finding.APART, never=_NO_HUB),
    "calipers": Expected("measure-again", First.MEASURE_AGAIN, Finding.CALIPERS, never=_NO_HUB),
    "far beyond": Expected("make-special", sizes_um=(205, 240)),
    "much too far beyond": Expected("measure-again", First.MEASURE_AGAIN, Finding.LEVEL_OFF, never=_NO_HUB[2:]),
    "figures swapped": Expected(
        "measure-again", First.MEASURE_AGAIN, Finding.STRAY_READING, (75, 100), never=("send the hub 0",)
    ),
    "one turn": Expected(
        "measure-again", First.MEASURE_AGAIN, Finding.STRAY_READING, (50, 50), never=("send the hub 0",)
    ),
    "one turn up": Expected(
        "measure-again", First.MEASURE_AGAIN, Finding.STRAY_READING, (50, 50), never=("send the hub 0",)
    ),
    "all a turn": Expected("measure-again", First.MEASURE_AGAIN, Finding.LEVEL_OFF, never=_NO_HUB[2:]),
    "line to line": Expected("send", sizes_um=(0, 0), method=(AS_SUPPLIED, OWNER), never=("special of",)),
    "for the gauged hub": Expected("send", sizes_um=(125, 125), method=(AS_SUPPLIED, OWNER)),
    "scrapped": Expected("decline", First.DO_NOT_RUN, Finding.SCRAPPED, never=_NO_HUB),
    "tight hub": Expected("decline", First.NOTHING_TO_SEND, Finding.HUB_TIGHT, (50, 75)),
    "loose hub": Expected("decline", First.STOP_AND_CHECK, Finding.HUB_LOOSE, (50, 75), never=("nothing to send",)),
    "rows kept out": Expected("measure-again", First.MEASURE_AGAIN, Finding.REJECTED, (50, 50)),
    "small stray": Expected("send", sizes_um=(75, 75), never=("send no hub",)),
    "all equal": Expected("measure-again", First.MEASURE_AGAIN, Finding.ALL_EQUAL, never=_NO_HUB),
    "ten evenly worn": Expected("send", sizes_um=(40, 65)),
    "ten hollow": Expected("send-shaft-here", First.SEND_SHAFT_HERE, Reason.NO_HUB_HOLDS),
    "ten new": Expected("send", sizes_um=(0, 20)),
    "ten one turn": Expected("measure-again", First.MEASURE_AGAIN, Finding.STRAY_READING, (40, 65)),
}


def said(study: ShaftStudy) -> str:
    """Give all that the terminal and the sentences say, in small letters."""
    return " ".join(" ".join([*shaft_answer(study).lines(), *shaft_sentences(study)]).split()).lower()


def strays(study: ShaftStudy) -> list[dict[str, object]]:
    return [dict(told.facts) for told in study.advice.because if told.code == Finding.STRAY_READING]


def test_every_designed_shaft_stands_in_the_table(answers: Answers) -> None:
    assert set(answers) == set(TABLE)


@pytest.mark.parametrize("label", TABLE)
def test_fitter_would_do_the_same(label: str, answers: Answers) -> None:
    wanted, study = TABLE[label], answers[label]
    advice = study.advice
    assert (advice.do, advice.first) == (wanted.do, wanted.first)
    if wanted.code is not None:
        assert advice.because[0].code == wanted.code
    if wanted.sizes_um is None:
        assert advice.hub is None
    else:
        assert advice.hub is not None
        assert wanted.sizes_um[0] <= advice.hub.undersize_um <= wanted.sizes_um[1]
        assert advice.hub.method in wanted.method
    text = said(study)
    assert not [words for words in wanted.never if words in text]


def test_hollow_shaft_is_served_by_its_ends(answers: Answers) -> None:
    hollow, even = answers["hollow"], answers["evenly worn"]
    assert hollow.advice.hub is not None
    assert hollow.advice.hub.risk.value > hollow.risk_limit  # type: ignore[operator]
    assert "over the limit" in said(hollow)
    # its middle has lost more than that of the even one, yet the hub is larger
    assert even.advice.hub is not None
    assert hollow.advice.hub.undersize_um < even.advice.hub.undersize_um


def test_taper_counts_by_the_end_that_is_met_first(answers: Answers) -> None:
    nut, shoulder = answers["wide at the nut"], answers["wide at the shoulder"]
    one, other = (study.width_um_below_new.value or 0.0 for study in (nut, shoulder))
    assert one == pytest.approx(other, abs=2.0)
    # no hub is named for the one, but why: the least chance that any would leave
    least = nut.advice.because[0].facts["least"]
    assert least > 2 * min(choice.candidate.risk.value or 1.0 for choice in shoulder.choices)


def test_inches_say_the_same_as_millimetres(answers: Answers) -> None:
    inches, millimetres = answers["inches"], answers["millimetres"]
    assert inches.width_um_below_new.value == pytest.approx(millimetres.width_um_below_new.value, abs=1.0)
    assert inches.advice.hub is not None
    assert millimetres.advice.hub is not None
    assert inches.advice.hub.undersize_um == millimetres.advice.hub.undersize_um


def test_check_piece_takes_most_of_a_mans_error_out(answers: Answers) -> None:
    true_um = 40.0
    blind, checked = (answers[label].width_um_below_new for label in ("reads small", "reads small, checked"))
    assert blind.value is not None
    assert checked.value is not None
    assert abs(checked.value - true_um) < 0.5 * abs(blind.value - true_um)
    # and what is not known is said: the truth lies within the checked interval
    assert checked.low is not None
    assert checked.high is not None
    assert checked.low < true_um < checked.high
    assert "no check piece" in said(answers["reads small"])
    assert "no check piece" not in said(answers["reads small, checked"])


@pytest.mark.parametrize(
    ("label", "spline", "station", "slip", "off_um"),
    [
        ("figures swapped", 3, "middle", StrayRemark.DIGITS_SWAPPED, -720),
        ("one turn", 5, "shoulder", StrayRemark.THIMBLE_TURN, -500),
        ("one turn up", 5, "shoulder", StrayRemark.THIMBLE_TURN, 500),
        ("ten one turn", 7, "nut-end", StrayRemark.THIMBLE_TURN, -500),
    ],
)
def test_slip_is_told_by_its_place_and_kind(
    label: str, spline: int, station: str, slip: StrayRemark, off_um: float, answers: Answers
) -> None:
    (told,) = strays(answers[label])
    assert (told["spline"], told["station"]) == (spline, station)
    assert told["found_um"] - told["expected_um"] == pytest.approx(off_um, abs=10)  # type: ignore[operator]
    assert told["why"].facts["slip"].code == slip  # type: ignore[attr-defined]
    # what then would be sent is what the same shaft without the slip gets
    text = said(answers[label])
    assert f"spline {spline} at the {station}" in text
    assert "by the other readings" in text


def test_slips_of_a_few_are_not_taken_for_the_scatter_of_all(designed: Snapshot, demo: Snapshot) -> None:
    at = COMPONENTS.index("repeatability_home")
    with_slips, without = (shaft_background(asked).fit.variances[at] ** 0.5 for asked in (designed, demo))
    assert with_slips == pytest.approx(without, rel=0.1)


def test_small_stray_is_only_a_remark(answers: Answers) -> None:
    study = answers["small stray"]
    assert study.advice.first is None
    (told,) = study.advice.beside
    assert told.code == Finding.STRAY_READING
    assert told.facts["spline"] == 2
    assert "it changes nothing" in said(study)


def test_gauged_hub_is_offered_by_its_number_and_chosen(answers: Answers, designed: Snapshot) -> None:
    study = answers["for the gauged hub"]
    assert study.advice.hub is not None
    assert study.advice.hub.hub == GAUGED_HUB
    assert GAUGED_HUB in said(study)
    # of the others of its size those that lie apart are weighed too; and none where many shafts are asked about
    weighed = {choice.candidate.hub for choice in study.choices}
    assert {"d-wide", "d-1", "d-2", "d-3"} <= weighed
    many = study_shaft(designed, shaft_name("for the gauged hub"), by_number=False)
    assert {choice.candidate.hub for choice in many.choices} == {None}


def test_hub_that_is_asked_for_is_named_though_one_is_on(designed: Snapshot) -> None:
    study = study_shaft(designed, shaft_name("tight hub"), wanted=True)
    assert study.advice.first not in {First.NOTHING_TO_SEND, First.DO_NOT_RUN}
    assert study.advice.hub is not None
    assert "nothing to send" not in said(study)


@pytest.mark.parametrize("label", ["cracked", "remarked cracked", "scrapped", "twisted"])
def test_asking_for_a_hub_does_not_clear_what_forbids_it(label: str, designed: Snapshot, answers: Answers) -> None:
    study = study_shaft(designed, shaft_name(label), wanted=True)
    assert (study.advice.first, study.advice.do) == (answers[label].advice.first, answers[label].advice.do)
    assert study.advice.hub is None
    assert study.choices == ()


@pytest.mark.parametrize("label", ["cracked", "remarked cracked", "scrapped", "twisted"])
def test_no_sheet_leads_to_fitting_where_no_hub_may_be(label: str, designed: Snapshot) -> None:
    assert study_fitting_sheet(designed, shaft_name(label), GAUGED_HUB).no_work


def test_loose_hub_asks_for_a_new_reading_too(answers: Answers) -> None:
    codes = [told.code for told in answers["loose hub"].advice.because]
    assert codes[:2] == [Finding.HUB_LOOSE, Finding.CAME_LOOSE_SINCE]


def test_few_clean_sheets_are_flagged(designed: Snapshot, tmp_path: Path) -> None:
    fit, sheets = shaft_background(designed).fit, 200
    variance = dict(zip(COMPONENTS, fit.variances, strict=True))
    rng = np.random.default_rng(20260930)

    def normal(name: str, *shape: int) -> np.ndarray:
        return rng.normal(0.0, variance[name] ** 0.5, shape)

    inspections, rows = [], []
    for number in range(sheets):
        splines, step = SPLINES["D8"], (0.001, 0.01)[number % 2]
        means = [fit.mean_of(f"station:D8:{station}") for station in STATIONS]
        usual = np.array([0.0 if mean is None else mean[0] for mean in means])
        width = usual + normal("shaft") + normal("shaft_station", 3) + normal("spline", splines, 1)
        width = width + normal("cell", splines, 3) + normal("measurer_home") + normal("inspection_home")
        width = width + normal("repeatability_home", splines, 3)
        name = f"C{number:03d}"
        inspections.append({"inspection": name, "shaft": name, "measured_by": name, "gauge": f"d-{step}"})
        written = np.round((6.0 + width / 1000) / step) * step
        rows += [
            {"inspection": name, "spline": spline + 1, "station": station, "width": f"{written[spline, at]:.3f}"}
            for spline in range(splines)
            for at, station in enumerate(STATIONS)
        ]
    gauges = pd.DataFrame({"gauge": ["d-0.001", "d-0.01"], "resolution": ["0.001", "0.01"]})
    frames = {
        "patterns": pd.read_csv(Path("data/demo/patterns.csv"), dtype=str),
        "gauges": gauges.assign(kind=GAUGES["kind"].iloc[0], unit="mm"),
        "shafts": pd.DataFrame({"shaft": [row["shaft"] for row in inspections]}).assign(pattern="D8"),
        "inspections": pd.DataFrame(inspections).assign(
            measured_on="2026-09-01", measured_at="home", unit="mm", spline_1_marked="yes"
        ),
        "readings": pd.DataFrame(rows),
    }
    create_store(tmp_path / "clean.duckdb")
    with open_store(tmp_path / "clean.duckdb", write=True) as store:
        assert add_frames(store, frames, added_on=demo_as_of()).kept_out == 0
        readings = read_widths(Snapshot(store=store, known_on=demo_as_of()))
    flagged = 0
    for _, in_hand in readings.inspections.groupby("shaft"):
        in_hand = in_hand.assign(group="all")
        data = readings.reduce(in_hand)
        facts = facts_of_readings(fit, predict_maps(fit, data)[0], data, readings, in_hand)
        flagged += bool(facts.strays or facts.level_um is not None or facts.all_equal)
    assert flagged <= sheets / 20
