"""The page of one shaft: the answer first, every part there, nothing that needs a network."""

from __future__ import annotations

import dataclasses
import html
import re
from pathlib import Path

import numpy as np
import pytest

from tests.report.support import small_frames
from tests.report.support.made_studies import shaft_study
from wearstats.analysis.advice.remarks import First
from wearstats.analysis.estimate import Estimate
from wearstats.errors import ReportError
from wearstats.report.page.render import render_page
from wearstats.report.shaft.files import free_paths, write_shaft_page
from wearstats.report.shaft.history_chart import history_title
from wearstats.report.shaft.page import shaft_page
from wearstats.report.shaft.page_sentences import measure_again_lines, sitting_lines, wear_lines
from wearstats.report.shaft.section_chart import section_rows
from wearstats.report.words.cautions import CAUTIONS
from wearstats.studies.gaps.contact_of_fitting import FittingSeen

SEEN = FittingSeen(fitting="F1", shaft="S-3", predicted=Estimate(value=0.9, low=0.7, high=1.0), marked=0.85)


def test_the_answer_is_first_and_every_part_is_there() -> None:
    study = dataclasses.replace(shaft_study(), seen=SEEN)
    page = shaft_page(study, invented=False)
    assert page.answer == (
        "Send the hub 0.05 mm (0.0020 in) undersize, to be filed and fitted by the owner: the cheapest under the limit "
        "of 5 in 100 loose.",
        "About 95 minutes of filing; of 100 such hubs 4.1 (2 to 8, 95 % sure) work loose within 12 months; 140 EUR "
        "expected in all.",
    )
    assert [section.name for section in page.sections] == ["hubs", "worn", "sits", "earlier", "again", "beware"]
    figures = [figure.name for section in page.sections for figure in section.figures]
    assert figures == ["ladder", "map", "section", "history"]
    assert page.sections[-1].points == (
        "The register was not measured: whether the hub runs true cannot be judged from the splines.",
    )
    said = [line for section in page.sections for line in (*section.sentences, *section.points)]
    assert len(said) == len(set(said))
    assert any("85 in 100 sides marked" in line for line in page.sections[3].sentences)


def test_it_stands_alone_and_has_every_caution() -> None:
    text = render_page(shaft_page(shaft_study(), invented=True))
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', text)
    assert policy is not None
    assert html.unescape(policy[1]).startswith("default-src 'none'; style-src 'sha256-")
    assert "script-src" not in policy[1]
    assert not re.search(r"(<script|\bsrc=|url\((?!#)|<link)", text)
    assert all(caution in html.unescape(text) for caution in CAUTIONS)
    assert "Invented demo data." in text


@pytest.mark.parametrize("first", [First.MEASURE_AGAIN, None])
def test_without_a_hub_it_shows_the_shaft_alone(first: First | None) -> None:
    study = shaft_study(None, first=first)
    page = shaft_page(study, invented=False)
    assert sitting_lines(study) == []
    assert "No hub is named" in page.sections[0].figures[0].description
    assert page.sections[2].heading == "What does a spline look like?"
    assert page.sections[2].figures[0].table.head == ("spline", "station", "lost, µm")
    again = page.sections[4].points
    assert again[0].startswith("Send no hub before it has been measured again") == (first is not None)


def test_a_name_is_text_and_nothing_else() -> None:
    odd = dataclasses.replace(shaft_study(), shaft="<script>x</script>\u202e&amp;")
    text = render_page(shaft_page(odd, invented=False))
    assert "<script" not in text
    assert "\u202e" not in text


def test_wear_and_sitting_in_words() -> None:
    study = shaft_study()
    mean, places = wear_lines(study)
    assert mean.startswith("On average the splines are 0.028 mm (0.0011 in) narrower than when new")
    assert places.startswith("The widest place is spline 3 at the shoulder, the most worn is spline 1 at the middle")
    off, gap = sitting_lines(study)
    assert "the most comes off over spline 3 at the shoulder, about 0.032 mm (0.0013 in)" in off
    assert "furthest off over spline 1 at the middle, by 0.025 mm" in gap
    new = dataclasses.replace(study, width_um_below_new=Estimate(value=0.2, low=-4.0, high=5.0))
    assert "about as wide as when new" in wear_lines(new)[0]
    assert "between 0.004 mm (0.0002 in) wider and 0.005 mm (0.0002 in) narrower" in wear_lines(new)[0]


def test_what_is_worth_measuring_again() -> None:
    study = shaft_study()
    assert measure_again_lines(study)[0].startswith("One measurement more by another hand")
    twice = dataclasses.replace(study, inspections=("I1", "I2"))
    assert measure_again_lines(twice) == ["Nothing has to be measured again for this advice."]
    gap, stray = study.map.copy(), study.map.copy()
    gap.loc[[1, 4], "reading_um_below_new"] = np.nan
    told = measure_again_lines(dataclasses.replace(twice, map=gap))
    assert told == [
        "2 places of 9 were never read, and so only guessed from the others: splines 1 and 2 at the middle."
    ]
    stray["reading_um_below_new"] += np.where(stray.index == 8, 60.0, 0.0)
    told = measure_again_lines(dataclasses.replace(twice, map=stray))
    assert told == [
        "The reading hardly goes with the rest of the shaft, the advice allows for it: spline 3 at the nut-end."
    ]


def test_the_drawing_keeps_to_the_map() -> None:
    """Hub less gap is the spline, and what comes off lies between the hub as it comes and as it stands home."""
    rows = section_rows(shaft_study().map)
    assert np.allclose(rows["lost"] - rows["gap"], rows["home"])
    assert np.allclose(rows["supplied"] - rows["off"], rows["home"])
    assert rows["panel"].unique().tolist() == ["Spline 3: the first to bind", "Spline 1: most gap left"]


def test_a_page_that_is_there_is_kept_and_names_that_meet_are_refused(tmp_path: Path) -> None:
    (path,) = free_paths(tmp_path / "pages", ["S 3/a"], force=False)
    assert path.name == "shaft-S-3-a.html"
    write_shaft_page(shaft_study(), path, invented=False)
    with pytest.raises(ReportError, match="is there already; choose another --out, or say --force"):
        free_paths(tmp_path / "pages", ["S 3/a"], force=False)
    assert free_paths(tmp_path / "pages", ["S 3/a"], force=True) == [path]
    with pytest.raises(ReportError, match="pages of the same name"):
        free_paths(tmp_path, ["S 3", "S-3"], force=False)
    (tmp_path / "file").write_text("")
    with pytest.raises(ReportError, match="cannot be written to"):
        write_shaft_page(shaft_study(), tmp_path / "file" / "shaft.html", invented=False)


def test_a_shaft_measured_once_has_a_table_of_it_and_no_picture_of_one_point() -> None:
    study = dataclasses.replace(shaft_study(), history=small_frames.history().head(1))
    earlier = shaft_page(study, invented=False).sections[3]
    assert earlier.figures == ()
    assert [len(table.rows) for table in earlier.tables] == [1]
    assert history_title(study.history_frame(), shaft="S-3") == "Shaft S-3 had lost 0.021 mm when it was measured"
