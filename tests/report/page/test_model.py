"""The page: self-contained, nothing runs in it, readable by ear, says when its data are invented."""

from __future__ import annotations

import base64
import hashlib
import re
from html.parser import HTMLParser

import pytest

from tests.report.support.made_page import EVIL, made_page
from wearstats.report.page.render import render_page
from wearstats.report.words.cautions import CAUTIONS

VOID = {"meta", "link", "br", "hr", "img", "input"}


class _Outline(HTMLParser):
    """Read the page as a browser does and keep what the tests ask for."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: dict[str, list[str]] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and data.strip():
            self.text.setdefault(self.open[-1], []).append(data)


@pytest.fixture(scope="module")
def html() -> str:
    return render_page(made_page())


@pytest.fixture(scope="module")
def outline(html: str) -> _Outline:
    parser = _Outline()
    parser.feed(html)
    assert parser.open == []
    return parser


def test_it_fetches_and_runs_nothing(html: str, outline: _Outline) -> None:
    assert {tag for tag, _ in outline.tags}.isdisjoint({"script", "link", "iframe", "object", "embed", "form", "img"})
    for tag, attributes in outline.tags:
        assert not any(name.startswith("on") or name == "style" for name in attributes), (tag, attributes)
        for name in ("src", "href", "xlink:href"):
            target = attributes.get(name)
            # numbers to be saved stand in the page itself
            inside = target is None or target.startswith(("#", "data:text/csv;charset=utf-8;base64,"))
            assert inside, (tag, target)
            assert target is None or target.startswith("#") or "download" in attributes
    # the only addresses are the names of the drawing language
    assert set(re.findall(r"https?://[^\s\"'<>]+", html)) <= {
        "http://www.w3.org/2000/svg",
        "http://www.w3.org/1999/xlink",
    }


def test_its_policy_allows_its_own_style_only(html: str, outline: _Outline) -> None:
    policy = next(attributes["content"] for tag, attributes in outline.tags if "http-equiv" in attributes)
    style = re.search(r"<style>(.*?)</style>", html, re.DOTALL)
    assert style is not None
    assert policy is not None
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert policy == f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"


def test_texts_are_escaped_everywhere(html: str) -> None:
    assert "<script" not in html
    assert html.count("&lt;script&gt;") >= 3
    assert EVIL not in html


def test_identifiers_are_unique_and_links_lead_somewhere(outline: _Outline) -> None:
    names = [attributes["id"] for _, attributes in outline.tags if "id" in attributes]
    assert len(names) == len(set(names))
    for _, attributes in outline.tags:
        for name in ("href", "aria-labelledby"):
            if attributes.get(name) and "download" not in attributes:
                assert str(attributes[name]).removeprefix("#") in names


def test_references_inside_pictures_lead_into_the_same_picture(html: str) -> None:
    for picture in re.findall(r"<svg .*?</svg>", html, re.DOTALL):
        defined = set(re.findall(r'\bid="([^"]+)"', picture))
        assert set(re.findall(r"url\(#([^)]+)\)", picture)) <= defined


def test_it_can_be_read_by_ear(outline: _Outline) -> None:
    tags = [tag for tag, _ in outline.tags]
    assert ("html", {"lang": "en"}) in outline.tags
    assert tags.count("h1") == 1
    assert outline.text["title"] == ["A page"]
    assert outline.text["h2"][:2] == ["In short", "Do hubs stay tight?"]
    pictures = [attributes for tag, attributes in outline.tags if tag == "svg"]
    assert len(pictures) == 4
    assert all(attributes["role"] == "img" and attributes["aria-label"] for attributes in pictures)
    # a table stands behind each picture, its columns and rows named
    assert tags.count("details") == 3, "two pictures' numbers, and the words used"
    assert tags.count("table") == tags.count("caption") == 3
    assert {attributes["scope"] for tag, attributes in outline.tags if tag == "th"} == {"row", "col"}


def test_the_answer_comes_first_and_the_cautions_are_all_there(html: str, outline: _Outline) -> None:
    assert html.index("The answer first.") < html.index("Do hubs stay tight?</h2>") < html.index("Most do.")
    assert [text for text in outline.text["li"] if text in CAUTIONS] == list(CAUTIONS)


def test_it_says_on_top_when_the_data_are_invented() -> None:
    assert "Invented demo data" in render_page(made_page(invented=True))
    assert "nvented demo" not in render_page(made_page(invented=False))


def test_it_is_the_same_each_time(html: str) -> None:
    assert render_page(made_page()) == html
