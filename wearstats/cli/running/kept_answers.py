"""A question that was asked before is answered from what is kept beside the store, before any heavy library is read.

What is kept is what was said: the answer, its notes, or why the data cannot answer. It is found under the state of the
store as known by the day, all that was asked, how it is shown, and the program itself.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wearstats.cli.running.output import print_note, recording, replay, shown_how
from wearstats.errors import AnalysisError

if TYPE_CHECKING:
    from wearstats.cli.running.options import Options
    from wearstats.store.database.connection import Store

_ELSEWHERE = ("store", "no_cache", "held", "as_of_given")
"""Options that change no answer."""


def answers_kept(
    *,
    only: tuple[str, ...] = (),
    unless: tuple[str, ...] = (),
    advice: bool = False,
    after: Callable[[Any, Options], None] | None = None,
) -> Callable[[Callable[..., Any]], Callable[..., None]]:
    """Have what a command says kept, and said again when the same is asked again.

    Parameters
    ----------
    only : tuple of str
        Parameters of which one must be given for there to be a question.
    unless : tuple of str
        Parameters with which the command does more than to say something, so that it has to run.
    advice : bool
        Whether the answer hangs on the advice given.
    after : callable, optional
        Called at the end, once the store is closed, with what the command gave, which JSON can keep: what is to be done
        as well when the answer was found.

    Returns
    -------
    callable
        Takes a command with a keyword ``options``.
    """

    def keeping(command: Callable[..., Any]) -> Callable[..., None]:
        @functools.wraps(command)
        def answered(*, options: Options, **given: Any) -> None:
            said = {name for name, value in given.items() if value}
            if options.no_cache or said & {*unless} or (only and not said & {*only}):
                told = command(options=options, **given)
            else:
                told = _found_or_asked(command, options, given, advice=advice)
            if after is not None:
                after(told, options)

        return answered

    return keeping


def _found_or_asked(command: Callable[..., Any], options: Options, given: dict[str, Any], *, advice: bool) -> Any:
    """Say what was kept, or run the command and keep what it says; gives what the command gave."""
    from wearstats.store.cache.entries import Entries
    from wearstats.store.cache.key import entry_key, state_by
    from wearstats.store.database.connection import open_store

    # held open until the end, so that nothing is added to it meanwhile
    with open_store(options.store, on_wait=functools.partial(print_note, passing=True)) as store:
        said = {each.name: getattr(options, each.name) for each in dataclasses.fields(options)}
        asked = {name: value for name, value in said.items() if name not in _ELSEWHERE}
        states = [state_by(store, options.as_of, advice=advice)]
        where = str(Path(options.store))
        what = f"{command.__module__}.{command.__qualname__}"
        key = entry_key(states, what=what, asked=asked, given=given, how=shown_how(), where=where)
        entries, name = Entries(options.store), f"{key}.json"
        found = entries.read_document(name)
        if found is not None:
            with suppress(KeyError, TypeError, ValueError):
                return _said_again(found)
        return _asked(command, _holding(options, store), given, keep=functools.partial(entries.write_document, name))


def _holding(options: Options, store: Store) -> Options:
    return dataclasses.replace(options, held=store)


def _said_again(found: dict[str, Any]) -> Any:
    """Say what was kept; KeyError, TypeError or ValueError, before anything is said, where it is something else."""
    said, refused, told = found["said"], found["refused"], found["told"]
    lines = [(str(text), bool(is_note)) for text, is_note in said]
    error = None if refused is None else AnalysisError(str(refused["why"]), needed=str(refused["needed"]))
    replay(lines)
    if error is not None:
        raise error
    return told


def _asked(command: Callable[..., Any], options: Options, given: dict[str, Any], *, keep: Callable[..., None]) -> Any:
    """Run a command, and keep what it says."""
    with recording() as said:
        try:
            told = command(options=options, **given)
        except AnalysisError as error:
            keep({"said": said, "refused": {"why": error.why, "needed": error.needed}, "told": None})
            raise
    keep({"said": said, "refused": None, "told": told})
    return told
