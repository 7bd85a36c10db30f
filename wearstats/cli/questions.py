"""The commands that answer a question about shafts and hubs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from wearstats.cli.mail import From, named_or_mailed
from wearstats.cli.running.completion import complete_shaft
from wearstats.cli.running.kept_answers import answers_kept
from wearstats.cli.running.open_store import opened
from wearstats.cli.running.options import OF_METHODS, OF_READINGS, OF_RISK, Options, takes_shared_options
from wearstats.cli.running.output import print_answer, print_document, print_note, print_told
from wearstats.errors import UsageError

question_app = typer.Typer(rich_markup_mode=None)


@question_app.command()
@takes_shared_options(OF_READINGS)
@answers_kept()
def wear(*, options: Options) -> None:
    """Say how worn the shafts are.

    And how they differ, how fast they wear, and how far the measurements can be trusted.
    """
    from wearstats.studies.wear.study import study_wear

    with opened(options) as snapshot:
        study = study_wear(snapshot, short=options.in_short)
    print_answer("wear", study, options)


@question_app.command()
@takes_shared_options(OF_READINGS)
@answers_kept()
def gauging(*, options: Options) -> None:
    """Say how far the measurements can be trusted.

    At home, in the workshop and with calipers; and what is worth asking an owner to measure.
    """
    from wearstats.studies.gauging.study import study_gauging

    with opened(options) as snapshot:
        study = study_gauging(snapshot, short=options.in_short)
    print_answer("gauging", study, options)


def _keep_advice(given: list[dict[str, Any]] | None, options: Options) -> None:
    """Keep today's advice in the store, so that it can be judged later; what was known earlier is not advice given."""
    from wearstats.store.advice import GivenAdvice, keep_advice

    if given is None or options.as_of_given:
        return
    # what comes from the cache has days and lists as JSON has them
    advice = [
        GivenAdvice(**each | {"given_on": options.as_of, "inspections": (*each["inspections"],)}) for each in given
    ]
    if refused := keep_advice(options.store, advice):
        print_note(f"the advice was not kept: {refused}", passing=True)


@question_app.command()
@takes_shared_options(OF_RISK)
@answers_kept(only=("shafts", "every"), unless=("from_file", "export", "out"), after=_keep_advice)
def shaft(
    *,
    shafts: Annotated[
        list[str] | None,
        typer.Argument(metavar="ID", autocompletion=complete_shaft, help="One shaft or several, by their names."),
    ] = None,
    from_file: From = None,
    every: Annotated[
        bool, typer.Option("--all", help="All shafts that were measured, a line each.", show_default=False)
    ] = False,
    export: Annotated[
        Path | None, typer.Option("--export", metavar="FILE", help="With --all: write a row a shaft, .csv or .xlsx.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Write a page a shaft to this folder too.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite pages that are there.", show_default=False)] = False,
    wanted: Annotated[
        bool, typer.Option("--wanted", help="A hub is asked for, though one on it holds.", show_default=False)
    ] = False,
    options: Options,
) -> list[dict[str, Any]] | None:
    """Say which hub to send for a shaft.

    What comes first, what would be sent then and why, and what its neighbours would cost; with --full every hub and
    method, the map of its wear, and what to beware of.
    A page, shaft-ID.html, shows it in pictures and needs no network.
    """
    if every:
        _all_shafts([*(shafts or []), *([from_file] if from_file else [])], export, wanted=wanted, options=options)
        return None
    if export:
        raise UsageError("--export: allowed with --all; --out DIR writes a page a shaft")
    from dataclasses import asdict

    from wearstats import __version__
    from wearstats.report.folder.files import free_paths, write_shaft_page
    from wearstats.studies.demo import is_invented
    from wearstats.studies.shaft.study import names_in_use, study_shaft
    from wearstats.studies.shaft_photos import shaft_photos

    shafts = named_or_mailed(shafts or [], from_file, options)
    paths = free_paths(out, shafts, force=force) if out else []
    limits: dict[str, Any] = {"horizon_months": options.horizon_months, "risk_limit": options.risk_limit}
    # a hub's number is offered to one shaft at a time
    limits |= {"wanted": wanted, "by_number": len(shafts) == 1}
    with opened(options) as snapshot:
        named = names_in_use(snapshot, shafts)
        studies = [study_shaft(snapshot, name, among=tuple(named), **limits) for name in named]
        invented = bool(out) and is_invented(snapshot)
        photos = shaft_photos(snapshot, named) if out else {}
    for asked, name in zip(shafts, named, strict=True):
        if asked != name:
            print_note(f"{asked} stands for {name}: wearstats store info --names")
    for study, path in zip(studies, paths, strict=False):
        page = write_shaft_page(study, path, invented=invented, photos=photos.get(study.shaft, ()))
        print_note(f"the page: {page}")
    if options.as_json:
        print_document("shaft", studies[0] if len(studies) == 1 else {"shafts": studies}, as_of=options.as_of)
    else:
        print_told("shaft", studies, full=options.full)
    return [asdict(study.given(version=__version__)) | {"given_on": None} for study in studies]


def _all_shafts(shafts: list[str], export: Path | None, *, wanted: bool, options: Options) -> None:
    """Answer for all shafts that were measured; advice for all of them is given to nobody, and not kept."""
    from wearstats.report.shaft.all_shafts import write_all_shafts
    from wearstats.studies.all_shafts import study_all_shafts

    if shafts:
        raise UsageError(f"--all: allowed without names, and {shafts[0]!r} is one; leave out one of them")
    limits: dict[str, Any] = {"horizon_months": options.horizon_months, "risk_limit": options.risk_limit}
    with opened(options, second=()) as snapshot:
        study = study_all_shafts(snapshot, wanted=wanted, **limits)
    if export:
        print_note(f"written: {write_all_shafts(study, export)}")
    print_answer("shafts", study, options)


@question_app.command()
@takes_shared_options(OF_READINGS)
@answers_kept()
def contact(
    *,
    fittings: Annotated[
        list[str] | None, typer.Option("--fitting", metavar="ID", help="Look at this fitting; may be given again.")
    ] = None,
    options: Options,
) -> None:
    """Say whether hubs bore where that was predicted.

    Sets the sides that marked at a fitting, as written down from the fitting sheet, against what the widths predicted.
    """
    from wearstats.studies.gaps.contact import study_contact_seen

    with opened(options) as snapshot:
        study = study_contact_seen(snapshot, fittings=tuple(fittings or ()))
    print_answer("contact", study, options)


@question_app.command()
@takes_shared_options(OF_RISK)
@answers_kept()
def loosening(*, options: Options) -> None:
    """Say how long hubs stay tight.

    With the chance of working loose, allowing for owners who stay silent while the hub holds.
    """
    from wearstats.studies.loosening.study import study_loosening

    with opened(options, second=()) as snapshot:
        limits = {"horizon_months": options.horizon_months, "risk_limit": options.risk_limit}
        study = study_loosening(snapshot, **limits, short=options.in_short)
    print_answer("loosening", study, options)


@question_app.command()
@takes_shared_options(OF_METHODS)
@answers_kept()
def methods(*, options: Options) -> None:
    """Compare the ways in which hubs go on.

    How many worked loose as supplied, fitted by the owner and fitted in the workshop, by what was sent and by what was
    done.
    """
    from wearstats.studies.methods.study import study_methods

    with opened(options) as snapshot:
        study = study_methods(snapshot, horizon_months=options.horizon_months)
    print_answer("methods", study, options)


@question_app.command()
@takes_shared_options(OF_READINGS)
@answers_kept()
def limits(*, options: Options) -> None:
    """Say what standard limits and fits give.

    The clearance of a hub made within ISO 14 and ISO 286, on a new shaft and on a worn one: why hubs are filed.
    """
    from wearstats.studies.limits.study import study_limits

    with opened(options) as snapshot:
        study = study_limits(snapshot)
    print_answer("limits", study, options)


@question_app.command()
@takes_shared_options(OF_RISK)
@answers_kept(unless=("export", "making_list"))
def stock(
    *,
    sizes: Annotated[
        int | None, typer.Option("--sizes", metavar="K", min=1, help="Keep K sizes, the best ones.")
    ] = None,
    hubs: Annotated[
        int | None, typer.Option("--hubs", metavar="N", min=0, help="Make at most N hubs now, of all patterns.")
    ] = None,
    budget: Annotated[
        float | None,
        typer.Option("--budget", metavar="AMOUNT", min=0.0, help="Spend at most so much on making now."),
    ] = None,
    export: Annotated[
        Path | None, typer.Option("--export", metavar="FILE", help="Write what to make to FILE, .csv or .xlsx.")
    ] = None,
    making_list: Annotated[
        Path | None,
        typer.Option("--making-list", metavar="DIR", help="Write what to make into DIR, to print and to add."),
    ] = None,
    options: Options,
) -> None:
    """Say which undersizes to keep.

    With what they cost a year against today's sizes, and how many of each to make now; what lies on the shelf counts.
    --hubs and --budget limit what is made now, of all patterns together: the best within them. The making list has
    each batch with its number, the limits of its spaces, go and no-go, its bore and what is engraved; its file
    batches.csv goes into the store once the day is filled in.
    """
    from wearstats.report.making.files import room_for_making, write_making
    from wearstats.report.stock.files import write_make_now
    from wearstats.studies.making.study import study_making
    from wearstats.studies.stock.study import study_stock

    asked: dict[str, Any] = {"sizes": sizes, "hubs": hubs, "budget": budget}
    asked |= {"horizon_months": options.horizon_months, "risk_limit": options.risk_limit}
    if making_list:
        room_for_making(making_list)
    second = () if options.pattern else ("wearstats.studies.stock.study",)
    with opened(options, second=second) as snapshot:
        study = study_stock(snapshot, past=not options.in_short, **asked)
        making = study_making(snapshot, study) if making_list else None
    if export:
        print_note(f"written: {write_make_now(study, export)}")
    if making_list and making:
        print_note(write_making(making, making_list))
    print_answer("stock", study, options)


@question_app.command()
@takes_shared_options(OF_READINGS)
@answers_kept()
def shelf(*, options: Options) -> None:
    """Say what is on the shelf by number, and what is out on loan.

    Whom to ask for a hub that is overdue, which hubs came back and may not be sent again, and where the last count
    disagrees with the records, which numbers to look for.
    """
    from wearstats.studies.shelf.study import study_shelf

    with opened(options) as snapshot:
        study = study_shelf(snapshot)
    print_answer("shelf", study, options)
