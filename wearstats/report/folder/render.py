"""The pages of the folder as HTML: each is read without any other file, and links to those that are there."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import Any, Final

import wearstats
from wearstats.report.folder.places import shade_colours
from wearstats.report.page.render import content_policy, page_environment

_ROOM: Final = "folder"


def render(page: Any, template: str, *, links: Sequence[tuple[str, str]] = (), script: str = "") -> str:
    """Write a page as HTML.

    Parameters
    ----------
    page : ShaftPage, IndexPage or WarnPage
        What stands on it.
    template : str
        Name of its template, without the ending.
    links : sequence of (str, str)
        Addresses of the other pages, and what they are called.
    script : str
        Name of its one script; none if empty.

    Returns
    -------
    str
        One file; its own content-security policy forbids it to fetch anything, and to run anything but that script.
    """
    style, running = _style(), _script(script) if script else ""
    text: str = (
        page_environment()
        .get_template(f"{_ROOM}/{template}.html")
        .render(
            page=page,
            links=links,
            style=style,
            script=running,
            policy=content_policy([style], [running] if running else [], pictures=bool(getattr(page, "pictures", ()))),
            version=wearstats.__version__,
        )
    )
    return text


@functools.cache
def _style() -> str:
    environment = page_environment()
    shared = environment.get_template("page.css").render()
    return shared + environment.get_template(f"{_ROOM}/folder.css").render(shades=shade_colours())


@functools.cache
def _script(name: str) -> str:
    text: str = page_environment().get_template(f"{_ROOM}/{name}").render()
    return text
