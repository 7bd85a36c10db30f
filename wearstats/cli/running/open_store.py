"""Open the store for a question; see that it knows the pattern asked about, and how far its records reach."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING

from wearstats.cli.running.output import print_note
from wearstats.cli.running.progress import doing
from wearstats.errors import UsageError
from wearstats.report.words.stages import STAGES

if TYPE_CHECKING:
    from wearstats.cli.running.options import Options
    from wearstats.second_process import SecondProcess
    from wearstats.studies.snapshot import Snapshot


@contextmanager
def opened(options: Options, *, second: tuple[str, ...] | SecondProcess | None = None) -> Iterator[Snapshot]:
    """Open the store for a question; a note says so where its records end long before the day asked about.

    Parameters
    ----------
    options : Options
        Which store, on which day, and perhaps of which pattern.
    second : tuple of str or SecondProcess, optional
        Have a second process at hand; begun at once to read these modules, or only when something is asked of it; or
        one that is there already.

    Yields
    ------
    Snapshot

    Raises
    ------
    UsageError
        When the store knows patterns, and not this one.
    InputError
        When the sizes of this pattern cannot be.
    """
    from wearstats.report.remarks.say import say
    from wearstats.store.left_out import leave_out_impossible
    from wearstats.studies.inputs.coverage import records_end_early

    with opened_for_forms(options, second=second) as snapshot:
        left_out = {left.pattern: left for left in leave_out_impossible(snapshot.store)}
        known = sorted(snapshot.query("store/patterns")["pattern"]) if left_out or options.pattern is not None else []
        if left_out and (options.pattern in left_out or not known):
            raise left_out.get(options.pattern or "", next(iter(left_out.values()))).refusal()
        if options.pattern is not None and known and options.pattern not in known:
            raise UsageError(
                f"--pattern: {options.pattern!r} was not known to the store on {options.as_of.isoformat()}; it "
                f"knew {', '.join(known)}; say one of these, or add its row with: wearstats store add patterns.csv"
            )
        if (early := records_end_early(snapshot)) is not None:
            print_note(say(early))
        yield snapshot


@contextmanager
def opened_for_forms(options: Options, *, second: tuple[str, ...] | SecondProcess | None = None) -> Iterator[Snapshot]:
    """Open the store and say nothing of it: a form asks for names alone; parameters as of `opened`."""
    from wearstats.second_process import SecondProcess, second_process
    from wearstats.store.cache.results import KeptResults
    from wearstats.store.database.connection import open_store
    from wearstats.store.database.room import room_for_two
    from wearstats.store.left_out import leave_out_impossible
    from wearstats.studies.snapshot import Snapshot

    with ExitStack() as stack:
        store = options.held or stack.enter_context(open_store(options.store, on_wait=print_note))
        for left in leave_out_impossible(store):
            print_note(str(left))
        beside = second if isinstance(second, SecondProcess) else SecondProcess()
        if isinstance(second, tuple) and room_for_two(options.store):
            beside = stack.enter_context(second_process(*second, begun=bool(second)))
        yield Snapshot(
            store=store,
            known_on=options.as_of,
            pattern=options.pattern,
            seed=options.seed,
            second=beside,
            on_part=_told,
            kept=None if options.no_cache else KeptResults(store),
        )


def _told(part: str) -> None:
    """Say in words which part is worked out; those without words belong to the one before."""
    if (stage := STAGES.get(part)) is not None:
        doing(stage)
