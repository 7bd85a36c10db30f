"""The command that holds the quarterly review."""

from __future__ import annotations

from typing import Annotated

import typer

from wearstats.cli.options import Options, takes_shared_options
from wearstats.cli.output import print_document, print_note, print_sentences, print_table

review_app = typer.Typer(rich_markup_mode=None)


@review_app.command()
@takes_shared_options
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
    from wearstats.report.review_tables import at_risk_table, forecasts_table, groups_table, rates_table
    from wearstats.report.sentences.cautions import caution_sentences
    from wearstats.report.sentences.review import review_sentences
    from wearstats.store.connection import open_store
    from wearstats.studies.review import study_review

    asked = parse_quarter(quarter) if quarter else None
    with open_store(options.store, on_wait=print_note) as store:
        study = study_review(
            store, quarter=asked, as_of=options.as_of, pattern=options.pattern,
            horizon_months=options.horizon_months, risk_limit=options.risk_limit, rng=options.rng(),
        )  # fmt: skip
    if options.as_json:
        print_document("review", study.to_dict(), as_of=options.as_of)
        return
    print_sentences([*review_sentences(study), ""])
    for table in (at_risk_table(study), rates_table(study), groups_table(study), forecasts_table(study)):
        if table is not None:
            print_table(table)
    print_sentences(caution_sentences())
