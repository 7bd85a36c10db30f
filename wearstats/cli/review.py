"""The commands for what is in the field: the quarterly review, and whom to call."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wearstats.cli.running.open_store import opened
from wearstats.cli.running.options import OF_READINGS, OF_RISK, Options, takes_shared_options
from wearstats.cli.running.output import print_answer, print_note

review_app = typer.Typer(rich_markup_mode=None)


@review_app.command()
@takes_shared_options(OF_RISK)
def review(
    *,
    quarter: Annotated[
        str | None,
        typer.Option("--quarter", metavar="YEARQN", help="Which, for instance 2026Q3; the last that is over."),
    ] = None,
    options: Options,
) -> None:
    """Review what came back in a quarter.

    With what to do first, whether failures are more than chance, what is still to come, and which hubs are most at
    risk.
    """
    from wearstats.domain.quarters import parse_quarter
    from wearstats.studies.review.study import study_review

    asked = parse_quarter(quarter) if quarter else None
    with opened(options, second=()) as snapshot:
        study = study_review(
            snapshot, quarter=asked, horizon_months=options.horizon_months, risk_limit=options.risk_limit
        )
    print_answer("review", study, options)


@review_app.command()
@takes_shared_options(OF_READINGS)
def calls(
    *,
    export: Annotated[
        Path | None, typer.Option("--export", metavar="FILE", help="Write the whole list to FILE, .csv or .xlsx.")
    ] = None,
    options: Options,
) -> None:
    """Say whom to ask next how the hub is doing.

    Hubs that may be loose come first, then those overdue, by what an answer would teach.
    """
    from wearstats.report.review.calls_table import write_calls
    from wearstats.studies.review.calls import study_calls

    with opened(options) as snapshot:
        study = study_calls(snapshot)
    if export:
        print_note(f"written: {write_calls(study, export)}")
    print_answer("calls", study, options)
