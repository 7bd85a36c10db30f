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
from wearstats.analysis.remark import remark
from wearstats.errors import ReportError
from wearstats.report.folder.files import free_paths, write_shaft_page
from wearstats.report.folder.places import shade_colours
from wearstats.report.folder.render import render
from wearstats.report.folder.section_drawing import section_rows
from wearstats.report.folder.shaft_page import shaft_page
from wearstats.report.folder.shaft_sentences import measure_again_lines, sitting_lines, wear_lines
from wearstats.report.forms.drawing import shade
from wearstats.report.remarks.say import say
from wearstats.report.rendering.no_break import breakable
from wearstats.report.rendering.theme import contrast, luminance
from wearstats.report.shaft.history_chart import history_title
from wearstats.report.words.cautions import CAUTIONS, HEADING
from wearstats.report.words.phrases import sentence
from wearstats.studies.gaps.contact_of_fitting import FittingSeen

SEEN = FittingSeen(fitting="F1", shaft="S-3", predicted=Estimate(value=0.9, low=0.7, high=1.0), marked=0.85)


def in_words(text: str) -> str:
    """Give what is read of a page."""
    return breakable(html.unescape(re.sub(r"<[^>]*>", " ", text)))


def test_the_answer_is_first_and_every_part_is_there() -> None:
    study = dataclasses.replace(shaft_study(), seen=SEEN)
    page = shaft_page(study, invented=False, owner="owner-1")
    assert page.warning == ""
    assert page.answer == (
        "Send the hub 0.05 mm (0.0020 in) undersize, to be filed and fitted by the owner: the cheapest under the limit "
        "of 5 in 100 loose.",
        "About 95 minutes of filing; of 100 such hubs 4.1 (2 to 8, 95 % sure) work loose within 12 months; 140 EUR "
        "expected in all.",
    )
    text = in_words(render(page, "shaft"))
    headings = re.findall(r"<h2[^>]*>([^<]*)</h2>", render(page, "shaft"))
    assert headings == [
        "What would each hub do?",
        "What comes off the hub, and where?",
        "How would the hub sit?",
        "What was found before?",
        "What is worth measuring again?",
        "What to beware of on this shaft",
        HEADING,
        "Words used",
    ]
    assert "Owner owner-1." in text
    assert "85 in 100 sides marked" in text
    assert page.beware == (
        "The register was not measured: whether the hub runs true cannot be judged from the splines.",
    )
    said = [*page.answer, *page.wear, *page.sitting, *page.seen, *page.again, *page.beware]
    assert len(said) == len(set(said))


@pytest.mark.parametrize("first", list(First))
def test_what_cannot_wait_stands_in_a_box_of_words_on_top(first: First) -> None:
    page = shaft_page(shaft_study(first=first), invented=False)
    text = render(page, "shaft")
    boxed = first in {First.DO_NOT_RUN, First.STOP_AND_CHECK, First.SEND_SHAFT_HERE}
    assert ('<div class="warning" role="note"' in text) == boxed
    order = sentence(say(remark(first)))
    if boxed:
        # the order in its box, its reason under it, and neither a second time
        assert text.index('class="warning"') < text.index(html.escape(order)) < text.index('id="worn"')
        assert page.because == "It was measured with calipers only, which are not good enough to choose a size by."
        assert in_words(text).count(order) == 1
        assert in_words(text).count(page.because) == 1
    else:
        assert page.answer[0].startswith(order.rstrip("."))


def test_it_stands_alone_and_has_every_caution() -> None:
    text = render(shaft_page(shaft_study(), invented=True), "shaft")
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', text)
    assert policy is not None
    assert html.unescape(policy[1]).startswith("default-src 'none'; style-src 'sha256-")
    assert "script-src" not in policy[1]
    assert not re.search(r"(<script|\bsrc=|url\((?!#)|<link|\bstyle=)", text)
    assert all(caution in breakable(html.unescape(text)) for caution in CAUTIONS)
    assert "Invented demo data." in text
    assert 'aria-label="The other pages"' not in text


def test_links_to_the_other_pages_are_there_where_they_are() -> None:
    text = render(shaft_page(shaft_study(), invented=True), "shaft", links=(("../index.html", "All shafts"),))
    assert '<a href="../index.html">All shafts</a>' in text


@pytest.mark.parametrize("first", [First.MEASURE_AGAIN, None])
def test_without_a_hub_it_shows_the_shaft_alone(first: First | None) -> None:
    study = shaft_study(None, first=first)
    page = shaft_page(study, invented=False)
    assert sitting_lines(study) == []
    assert page.ladder is not None
    assert page.ladder.title.startswith("No hub is named")
    assert page.rings == ""
    (lost,) = page.grids
    assert lost.caption == "lost, µm"
    assert page.sections[0].table.head == ("station", "lost, µm")
    assert "What does a spline look like?" in render(page, "shaft")
    assert page.again[0].startswith("Send no hub before it has been measured again") == (first is not None)


def test_rings_and_map_are_coloured_by_what_comes_off() -> None:
    study = shaft_study()
    page = shaft_page(study, invented=False)
    filing = study.map.pivot_table(index="spline", columns="station_index", values="filing_um").to_numpy()
    off, gap, lost = page.grids
    numbers = np.array([[int(words) for words, _ in cells] for _, cells in off.rows])
    steps = np.array([[-1 if step is None else step for _, step in cells] for _, cells in off.rows])
    assert np.array_equal(numbers, np.round(filing))
    # the more comes off the darker, and nothing that could be printed stays white
    assert np.array_equal(steps == -1, numbers == 0)
    assert np.all(np.diff(steps.ravel()[np.argsort(filing.ravel(), kind="stable")]) >= 0)
    # one meaning of colour on a page
    assert {step for grid in (gap, lost) for _, cells in grid.rows for _, step in cells} == {None}
    face = page.rings.split("<g transform")[1]
    most = filing.max(axis=1)
    shades = re.findall(r'Z" fill="(#[0-9a-f]+)"', face)
    assert shades == ["#fff" if round(um) <= 0 else shade(min(um / 40.0, 1.0)) for um in most]
    assert [int(n) for n in re.findall(r'fill="#[0-9a-f]+">(\d+)</text>', face)] == [
        round(um) for um in most if um > 0.5
    ]


def test_letters_are_read_on_every_shade() -> None:
    """4.5 to 1 is the least contrast of small letters (Web Content Accessibility Guidelines 2.1, 1.4.3)."""
    for paper, letters in shade_colours():
        one, other = ([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)] for colour in (paper, letters))
        assert contrast(luminance(one), luminance(other)) >= 4.5


def test_a_name_is_text_and_nothing_else() -> None:
    name = "<script>x</script>\u202e&amp;"
    odd = dataclasses.replace(shaft_study(), shaft=name)
    text = render(shaft_page(odd, invented=False, owner=name), "shaft")
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


def test_a_page_that_is_there_is_kept_and_names_that_meet_have_their_own(tmp_path: Path) -> None:
    (path,) = free_paths(tmp_path / "pages", ["S0001"], force=False)
    assert path.name == "shaft-S0001.html"
    write_shaft_page(shaft_study(), path, invented=False)
    with pytest.raises(ReportError, match="is there already; choose another --out, or say --force"):
        free_paths(tmp_path / "pages", ["S0001"], force=False)
    assert free_paths(tmp_path / "pages", ["S0001"], force=True) == [path]
    assert len(set(free_paths(tmp_path, ["S 3", "S-3", "s-3", "Вал", "Ось", "轴"], force=False))) == 6
    (tmp_path / "file").write_text("")
    with pytest.raises(ReportError, match="cannot be written to"):
        write_shaft_page(shaft_study(), tmp_path / "file" / "shaft.html", invented=False)


def test_a_shaft_measured_once_has_a_table_of_it_and_no_picture_of_one_point() -> None:
    study = dataclasses.replace(shaft_study(), history=small_frames.history().head(1))
    history = shaft_page(study, invented=False).history
    assert history is not None
    assert history.pictures == ()
    assert len(history.table.rows) == 1
    assert history_title(study.history_frame(), shaft="S-3") == "Shaft S-3 had lost 0.021 mm when it was measured"
