"""The command line: its commands, and what happens when one fails."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

import wearstats
from wearstats.cli.forms import sheet_app
from wearstats.cli.questions import question_app
from wearstats.cli.report import report_app
from wearstats.cli.review import review_app
from wearstats.cli.running.exit_codes import exit_code
from wearstats.cli.running.options import remembers_shared_options
from wearstats.cli.running.output import in_lines, print_note
from wearstats.cli.running.progress import progress
from wearstats.cli.store import store_app
from wearstats.errors import WearstatsError


class _Commands(TyperGroup):
    """The commands, with one place where an error becomes a message and an exit code."""

    def invoke(self, ctx: Any) -> Any:
        try:
            with progress():
                return super().invoke(ctx)
        except WearstatsError as error:
            print_note(f"wearstats: {in_lines(error)}")
            raise typer.Exit(exit_code(error)) from error
        except BrokenPipeError:
            # whoever reads has had enough: nothing more is written, and nothing went wrong
            with suppress(OSError, ValueError):
                os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            raise typer.Exit from None


app = typer.Typer(
    name="wearstats",
    cls=_Commands,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"wearstats {wearstats.__version__}")
        raise typer.Exit


@app.callback()
@remembers_shared_options
def wearstats_command(
    *,
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version and leave.")
    ] = False,
) -> None:
    """Statistics for splined drive hubs on worn shafts.

    From readings, hubs, fittings and what became of them: how worn the shafts are, which hub to send, whether hubs
    stay tight. Start with "wearstats demo", which shows it all on invented data.
    """


app.add_typer(report_app)
app.add_typer(store_app, name="store")
app.add_typer(sheet_app, name="sheet")
app.add_typer(question_app)
app.add_typer(review_app)
