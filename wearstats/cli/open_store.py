"""Open the store for a question; see that it knows the pattern asked about, and how far its records reach."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from wearstats.cli.output import print_note
from wearstats.errors import UsageError

if TYPE_CHECKING:
    from wearstats.cli.options import Options
    from wearstats.store.database.connection import Store


@contextmanager
def opened(options: Options) -> Iterator[Store]:
    """Open the store for reading, and say so where its records end long before the day asked about.

    Parameters
    ----------
    options : Options
        Which store, and perhaps of which pattern.

    Yields
    ------
    Store

    Raises
    ------
    UsageError
        When the store knows patterns, and not this one.
    """
    from wearstats.store.database.connection import open_store
    from wearstats.studies.inputs.coverage import ends_early, record_end

    with open_store(options.store, on_wait=print_note) as store:
        if options.pattern is not None:
            known = sorted(store.query("store/patterns", as_of=options.as_of)["pattern"])
            if known and options.pattern not in known:
                raise UsageError(
                    f"--pattern: {options.pattern!r} was not known to the store on {options.as_of.isoformat()}; it "
                    f"knew {', '.join(known)}; say one of these, or add its row with: wearstats store add patterns.csv"
                )
        if (early := ends_early(record_end(store, as_of=options.as_of), as_of=options.as_of)) is not None:
            print_note(early)
        yield store
