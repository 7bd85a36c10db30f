"""Whoever fills in a form: taps and keys, counted, by one who looks at the box before he types."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner, Result

from tests.browser.driver import Browser
from wearstats.cli.main import app

# WebDriver, section 17.4.2: how keys without a sign are named
ENTER, BACKSPACE, TAB = "\ue007", "\ue003", "\ue004"
AT = "const cell = document.activeElement;"


def wearstats(*arguments: str | Path, stdin: str | None = None) -> Result:
    """Run the program."""
    return CliRunner().invoke(app, list(map(str, arguments)), input=stdin, prog_name="wearstats")


def cell(spline: int, at: int) -> str:
    """Name the box of a spline and station."""
    return f"[data-spline='{spline}'][data-at='{at}']"


def values(page: Browser) -> list[str]:
    """Give what stands in the boxes that hold a reading, in the order of the sheet."""
    found = page.run(
        "return [...document.querySelectorAll('[data-spline]')]"
        ".map(cell => cell.value === cell.dataset.given ? '' : cell.value)"
    )
    return [str(one) for one in found]


class Hand:
    """A hand whose taps and keys are counted.

    Parameters
    ----------
    page : Browser
        The page before it.
    """

    def __init__(self, page: Browser) -> None:
        self.page = page
        self.taps = 0
        self.keys = 0

    def tap(self, query: str) -> None:
        """Tap on something."""
        self.page.click(query)
        self.taps += 1

    def press(self, text: str) -> None:
        """Press keys."""
        self.page.press(text)
        self.keys += len(text)

    def read(self, text: str) -> None:
        """Type a reading into the box that has the focus: what is missing in it, or the whole; then go on."""
        before = self.page.run(AT + "return [cell.name, cell.value]")
        stands = before[1] if text.startswith(before[1]) else ""
        self.press(text[len(stands) :])
        stays, is_last = self.page.run(
            AT + "const all = [...document.querySelectorAll('[data-spline]')];"
            "return [cell.name === arguments[0], cell === all.at(-1)]",
            before[0],
        )
        if stays and not is_last:
            self.press(ENTER)
