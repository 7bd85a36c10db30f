"""The commands for what is in the field: the quarterly review, and whom to call."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from wearstats.cli.running.kept_answers import answers_kept
from wearstats.cli.running.open_store import opened
from wearstats.cli.running.options import OF_READINGS, OF_RISK, Options, day_of_writing, takes_shared_options
from wearstats.cli.running.output import print_answer, print_note
from wearstats.errors import UsageError

review_app = typer.Typer(rich_markup_mode=None)


@review_app.command()
@takes_shared_options(OF_RISK)
@answers_kept(advice=True)
def review(
    *,
    quarter: Annotated[
        str | None,
        typer.Option("--quarter", metavar="YEARQN", help="Which, for instance 2026Q3; the last that is over."),
    ] = None,
    ask_all: Annotated[
        bool,
        typer.Option("--ask-all/--ask-as-before", help="Predict as if all owners were asked now and answered."),
    ] = False,
    options: Options,
) -> None:
    """Review what came back in a quarter.

    With what to do first, whether failures are more than chance, what is still to come, and which hubs are most at
    risk.
    """
    from wearstats.domain.quarters import parse_quarter
    from wearstats.studies.review.study import study_review

    asked = parse_quarter(quarter) if quarter else None
    with opened(options, second=("wearstats.studies.stock.study",)) as snapshot:
        study = study_review(
            snapshot,
            quarter=asked,
            horizon_months=options.horizon_months,
            risk_limit=options.risk_limit,
            ask_all=ask_all,
        )
    print_answer("review", study, options)


@review_app.command()
@takes_shared_options(OF_READINGS)
@answers_kept(unless=("withdraw", "warned", "export"))
def calls(
    *,
    warn: Annotated[bool, typer.Option("--warn", help="Name all to be warned, and nobody else.")] = False,
    batch: Annotated[
        str | None, typer.Option("--batch", metavar="NAME", help="Say who has a hub of this batch instead.")
    ] = None,
    withdraw: Annotated[
        str | None, typer.Option("--withdraw", metavar="WHY", help="Record that the batch is withdrawn, and why.")
    ] = None,
    warned: Annotated[
        list[str] | None,
        typer.Option("--warned", metavar="SHAFT", help="Record that its owner was warned; may be given again."),
    ] = None,
    export: Annotated[
        Path | None, typer.Option("--export", metavar="FILE", help="Write the whole list to FILE, .csv or .xlsx.")
    ] = None,
    options: Options,
) -> None:
    """Say whom to warn, and whom to ask how the hub is doing.

    First whoever is to stop and check: hubs that may be loose and those of a withdrawn batch. Then those overdue, by
    what an answer would teach.
    """
    _record(withdraw, warned or [], batch=batch, options=options)
    question, study, write = _asked_batch(batch, options) if batch else _asked_calls(options, warn=warn)
    if export:
        print_note(f"written: {write(study, export)}")
    print_answer(question, study, options)


def _asked_calls(options: Options, *, warn: bool) -> tuple[str, Any, Callable[[Any, Path], Path]]:
    from wearstats.report.calls.table import write_calls
    from wearstats.studies.review.calls import study_calls

    with opened(options) as snapshot:
        study = study_calls(snapshot)
    return "calls", study.to_warn() if warn else study, write_calls


def _asked_batch(batch: str, options: Options) -> tuple[str, Any, Callable[[Any, Path], Path]]:
    from wearstats.report.calls.batch import write_batch
    from wearstats.studies.review.batch import study_batch

    with opened(options) as snapshot:
        return "batch", study_batch(snapshot, batch), write_batch


def _record(withdraw: str | None, warned: list[str], *, batch: str | None, options: Options) -> None:
    """Write down what was decided or done, before the question is asked."""
    from wearstats.store.database.connection import open_store
    from wearstats.store.stated_later import note_warned, withdraw_batch

    if withdraw is not None and batch is None:
        raise UsageError("--withdraw: of which batch? say it too: --batch NAME")
    if withdraw is None and not warned:
        return
    with open_store(options.store, write=True, on_wait=print_note) as store:
        if withdraw is not None and batch is not None:
            withdraw_batch(store, batch, because=withdraw, on=day_of_writing(options))
            print_note(f"recorded: batch {batch} is withdrawn ({withdraw})")
        if warned:
            hubs = note_warned(store, warned, on=day_of_writing(options))
            print_note(f"recorded: the owners of {hubs} {'hub' if hubs == 1 else 'hubs'} were warned")
