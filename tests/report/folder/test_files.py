"""The folder of pages: everything written, linked in both directions, names that meet apart, and lists that hold."""

from __future__ import annotations

import dataclasses
import datetime
import html
import re
from collections.abc import Sequence
from pathlib import Path
from urllib.parse import unquote

import pandas as pd
import pytest

from tests.report.support.made_studies import shaft_study
from wearstats.analysis.advice.remarks import First
from wearstats.analysis.estimate import Estimate
from wearstats.analysis.remark import refused
from wearstats.errors import ReportError
from wearstats.report.folder.files import INDEX, LINKS, REPORT, SHAFTS, WARN, folder_paths, write_folder
from wearstats.report.rendering.no_break import breakable
from wearstats.second_process import SecondProcess
from wearstats.studies.all_shafts import AllShafts
from wearstats.studies.forecast.figures import Figures, InUse
from wearstats.studies.shaft_pages import ShaftPages

NAMES = ("S0001", "Вал", "Ось", "S 2", "S/2", "<b>&")
DAY = pd.Timestamp(2026, 3, 1)


def in_use(shafts: Sequence[str]) -> InUse:
    """Give hubs of which all are to be warned, the first the most likely to be loose."""
    number = len(shafts)
    frame = pd.DataFrame(
        {
            "fitting": [f"F{at}" for at in range(number)],
            "shaft": list(shafts),
            "hub": [f"H{at}" for at in range(number)],
            "owner": "owner-1",
            "region": "carr",
            "batch": None,
            "withdrawn": False,
            "told": False,
            "loose_now": [0.5 / (at + 1) for at in range(number)],
            "risk_quarter": [0.6 / (at + 1) for at in range(number)],
            "last_word_on": DAY,
            "fitted_on": DAY,
            "due_on": DAY,
            "overdue_days": 0,
            "to_warn": True,
            "at_risk": True,
            "to_ask": False,
        }
    )
    none = Estimate(value=1.0, low=0.0, high=3.0)
    figures = Figures(
        hubs_in_use=number,
        hubs_looked_at=number,
        to_warn=number,
        already_warned=0,
        to_ask=0,
        of_withdrawn_batches=0,
        loose_now=float(frame["loose_now"].sum()),
        loose_within_quarter=float(frame["risk_quarter"].sum()),
        failures_next_quarter=none,
        failures_next_year=none,
    )
    return InUse(frame=frame, figures=figures)


def asked(names: Sequence[str] = NAMES, *, warned: Sequence[str] = NAMES[:3]) -> ShaftPages:
    first = {name: First.STOP_AND_CHECK if name in warned else None for name in names}
    studies = tuple(dataclasses.replace(shaft_study(first=first[name]), shaft=name) for name in names)
    return ShaftPages(
        as_of=datetime.date(2026, 9, 30),
        invented=True,
        shafts=AllShafts(studies=studies, unanswered={"never": refused("no reading of shaft never")}),
        owners={NAMES[0]: "owner-1"},
        in_use=in_use(warned) if warned else None,
    )


def linked(page: Path) -> set[Path]:
    """Give the files that a page links to."""
    hrefs = re.findall(r'href="([^"#]+)', page.read_text(encoding="utf-8"))
    return {(page.parent / unquote(html.unescape(href))).resolve() for href in hrefs}


def in_words(page: Path) -> str:
    return breakable(html.unescape(re.sub(r"<[^>]*>", " ", page.read_text(encoding="utf-8"))))


def test_every_shaft_has_its_page_and_every_page_leads_back(tmp_path: Path) -> None:
    said = write_folder(asked(), tmp_path, second=SecondProcess())
    pages = sorted((tmp_path / SHAFTS).iterdir())
    assert len(pages) == len(NAMES)
    assert said[-1] == f"The shafts: {len(NAMES)} pages in {tmp_path / SHAFTS}"
    assert {path.name for path in tmp_path.iterdir()} == {path.name for path in folder_paths(tmp_path)}
    others = {(tmp_path / name).resolve() for name, _ in LINKS}
    for page in pages:
        assert linked(page) == others
    # the report stands beside them when the command is over
    assert linked(tmp_path / INDEX) == {*(page.resolve() for page in pages), *others} - {(tmp_path / INDEX).resolve()}
    warned = linked(tmp_path / WARN) - others
    assert len(warned) == 3
    assert warned <= {page.resolve() for page in pages}
    titles = {re.search(r"<title>(.*)</title>", page.read_text(encoding="utf-8")) for page in pages}
    assert {html.unescape(title[1]) for title in titles if title} == {
        f"Shaft {name} (D8): which hub?" for name in NAMES
    }
    assert (tmp_path / REPORT).name in {href for href, _ in LINKS}


def test_the_index_has_all_without_its_script(tmp_path: Path) -> None:
    write_folder(asked(), tmp_path, second=SecondProcess())
    text = (tmp_path / INDEX).read_text(encoding="utf-8")
    assert text.count('scope="row"') == len(NAMES) + 1
    # the box is shown by the script alone; without it the whole table is there
    assert '<p id="search" hidden>' in text
    assert "<tr hidden" not in text
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', text)
    assert policy is not None
    assert re.fullmatch(
        r"default-src 'none'; style-src 'sha256-\S+'; script-src 'sha256-\S+'; base-uri 'none'; form-action 'none'",
        html.unescape(policy[1]),
    )
    told = in_words(tmp_path / INDEX)
    assert "7 shafts: 3 to stop and check and 3 to send a hub for." in told
    assert "No answer for never: no reading of shaft never." in told


def test_the_list_to_warn_is_by_risk_and_says_what_its_first_hold(tmp_path: Path) -> None:
    shafts = [f"S{at:04d}" for at in range(60)]
    write_folder(asked(shafts[:30], warned=shafts), tmp_path, second=SecondProcess())
    text = in_words(tmp_path / WARN)
    rows = re.findall(r"\bS\d{4}\b", text)
    assert rows == shafts
    # half of the harmonic numbers of 10, 20, 50 and 60: 2.93, 3.60, 4.50, 4.68 (from the sum itself)
    assert (
        "Of about 2 hubs in use that may be loose already the first 10 hold about 1, the first 20 about 2, "
        "the first 50 about 2 and all 60 about 2." in text
    )
    assert "The owners of 60 hubs are to be told so, from the top of this list down." in text
    # a shaft that was not asked about has no page, and no link that leads nowhere
    assert len([path for path in linked(tmp_path / WARN) if path.parent.name == SHAFTS]) == 30


def test_with_nobody_to_warn_it_says_so(tmp_path: Path) -> None:
    write_folder(asked(warned=()), tmp_path, second=SecondProcess())
    assert "Nobody is to be warned." in in_words(tmp_path / WARN)


def test_another_order_than_to_stop_stands_in_its_row(tmp_path: Path) -> None:
    made = asked(NAMES[:3])
    others = (dataclasses.replace(shaft_study(first=First.DO_NOT_RUN), shaft=NAMES[0]), *made.shafts.studies[1:])
    other = dataclasses.replace(made, shafts=dataclasses.replace(made.shafts, studies=others))
    write_folder(made, tmp_path, second=SecondProcess())
    assert "and first of all" not in in_words(tmp_path / WARN)
    write_folder(other, tmp_path, second=SecondProcess())
    text = in_words(tmp_path / WARN)
    assert "and first of all" in text
    assert text.count("Do not run it, and send no hub") == 1


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / SHAFTS).write_text("")
    with pytest.raises(ReportError, match="cannot be written to"):
        write_folder(asked(), tmp_path, second=SecondProcess())
