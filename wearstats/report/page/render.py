"""One self-contained page as HTML: no network, pictures inside; a script only if asked."""

from __future__ import annotations

import base64
import functools
import hashlib
from collections.abc import Iterable, Sequence
from typing import Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined

import wearstats
from wearstats.report.page.interactive import interactive_data, interactive_script
from wearstats.report.page.model import Page
from wearstats.report.rendering.escape import finished
from wearstats.resources import resource

TEMPLATES: Final = "reports/templates"


def render_page(page: Page, *, interactive: bool = False, links: Sequence[tuple[str, str]] = ()) -> str:
    """Write a page as HTML.

    Parameters
    ----------
    page : Page
        What stands on it.
    interactive : bool
        Whether a script in the page draws the charts anew, so that they answer to a pointer.
    links : sequence of (str, str)
        Addresses of pages beside it, and what they are called.

    Returns
    -------
    str
        One file that needs no other; its own content-security policy forbids it to fetch anything, and to run
        anything but that script.
    """
    environment = page_environment()
    style = environment.get_template("page.css").render()
    script = interactive_script() if interactive else ""
    text: str = environment.get_template("page.html").render(
        page=page,
        links=links,
        style=style,
        policy=content_policy([style], [script] if script else []),
        script=script,
        chart_data=interactive_data(page) if interactive else "",
        version=wearstats.__version__,
    )
    return text


@functools.cache
def page_environment() -> Environment:
    """Open the templates of pages; each is read once."""
    return Environment(
        loader=FileSystemLoader(resource(TEMPLATES)),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=finished,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def content_policy(styles: Iterable[str], scripts: Iterable[str] = (), *, pictures: bool = False) -> str:
    """Allow the given styles and scripts by their digests, pictures in the page itself, and nothing else at all."""
    script = _digests(scripts)
    running = f" script-src {script};" if script else ""
    running += " img-src data:;" if pictures else ""
    return f"default-src 'none'; style-src {_digests(styles)};{running} base-uri 'none'; form-action 'none'"


def _digests(texts: Iterable[str]) -> str:
    digests = [base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in texts]
    return " ".join(f"'sha256-{digest}'" for digest in digests)
