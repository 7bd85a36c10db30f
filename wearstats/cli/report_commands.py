"""The commands that write pages: the whole picture, and the same on invented data."""

from __future__ import annotations

import typer

report_app = typer.Typer(rich_markup_mode=None)
