"""Open the store for a question, and see that the pattern asked about is one that it knows."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from wearstats.cli.output import print_note
from wearstats.errors import UsageError

if TYPE_CHECKING:
    from wearstats.cli.options import Options
    from wearstats.store.connection import Store


@contextmanager
def opened(options: Options) -> Iterator[Store]:
    """Open the store for reading.

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
    from wearstats.store.connection import open_store

    with open_store(options.store, on_wait=print_note) as store:
        if options.pattern is not None:
            known = sorted(store.query("patterns", as_of=options.as_of)["pattern"])
            if known and options.pattern not in known:
                raise UsageError(
                    f"--pattern: {options.pattern!r} was not known to the store on {options.as_of.isoformat()}; it "
                    f"knew {', '.join(known)}; say one of these, or add its row with: wearstats store add patterns.csv"
                )
        yield store
