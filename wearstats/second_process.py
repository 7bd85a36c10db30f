"""Work that goes on in a second process beside the first, where the machine has a second core for it.

What is asked of it must be found by name and be pickled, as must its answer. Where there is no second process, or it
died, the same work is done in the first one, so that nobody who asks need know.
"""

from __future__ import annotations

import importlib
import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache, partial
from typing import Any, ParamSpec, TypeVar, cast

_P = ParamSpec("_P")
_R = TypeVar("_R")


class SecondProcess:
    """Where work goes that need not be waited for yet.

    Parameters
    ----------
    pool : ProcessPoolExecutor or None
        The second process; None where there is only the first.
    starting : Future, optional
        Is done when the process can take work; until then what is begun can be taken back.
    """

    def __init__(self, pool: ProcessPoolExecutor | None = None, starting: Future[Any] | None = None) -> None:
        self._pool = pool
        self._waiting: deque[_Piece] = deque()
        self._lock = threading.RLock()
        self._busy = starting is not None
        if pool is not None and starting is not None:
            starting.add_done_callback(partial(self._done, pool))

    def begin(self, work: Callable[_P, _R], *args: _P.args, **kwargs: _P.kwargs) -> Callable[[], _R]:
        """Begin work; pieces are done in the order in which they were begun.

        Parameters
        ----------
        work : callable
            A function of a module.
        *args, **kwargs
            What it is to be called with.

        Returns
        -------
        callable
            Gives the result, or raises what the work raised; waits for it, or does work that is not begun yet here.
        """
        here = cache(partial(work, *args, **kwargs))
        if self._pool is None:
            return here
        piece = _Piece(partial(work, *args, **kwargs))
        with self._lock:
            self._waiting.append(piece)
            self._go_on(self._pool)

        def result() -> _R:
            try:
                begun = self._handed_over(piece)
                return here() if begun is None else cast(_R, begun.result())
            except BrokenProcessPool:
                return here()

        return result

    def _go_on(self, pool: ProcessPoolExecutor) -> None:
        """Hand over the next piece, and no other: a pool takes some ahead, which nobody could take back."""
        if self._busy or not self._waiting:
            return
        try:
            begun = pool.submit(self._waiting[0].work)
        except RuntimeError:
            # it broke or was closed: whoever waits does what is left himself
            return
        self._waiting.popleft().begun = begun
        self._busy = True
        begun.add_done_callback(partial(self._done, pool))

    def _done(self, pool: ProcessPoolExecutor, begun: Future[Any]) -> None:
        with self._lock:
            self._busy = False
            # while a pool breaks it must not be asked for more
            if not begun.cancelled() and not isinstance(begun.exception(), BrokenProcessPool):
                self._go_on(pool)

    def _handed_over(self, piece: _Piece) -> Future[Any] | None:
        """Say what comes of a piece; one that still waits is taken back, and None."""
        with self._lock, suppress(ValueError):
            self._waiting.remove(piece)
        return piece.begun


@dataclass(slots=True, eq=False)
class _Piece:
    """A piece of work, and what comes of it once it is handed over."""

    work: Callable[[], Any]
    begun: Future[Any] | None = None


@contextmanager
def second_process(*modules: str, begun: bool = True) -> Iterator[SecondProcess]:
    """Start a second process that ends with the block, or with the first process however that ends.

    Parameters
    ----------
    *modules : str
        What it is to read while nothing is asked of it yet.
    begun : bool
        Whether it is begun at once, or only when something is asked of it.

    Yields
    ------
    SecondProcess
        Without a second process where there is one core only.
    """
    if _cores() < 2:
        yield SecondProcess()
        return
    # not forked: the store's threads would not be there in a copy of this process
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(1, mp_context=context, initializer=_ready, initargs=(modules,))
    try:
        yield SecondProcess(pool, pool.submit(_nothing) if begun else None)
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _cores() -> int:
    """Count the cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _ready(modules: tuple[str, ...]) -> None:
    """Leave interrupts to the first process, end when it does, and read what will be needed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_first, daemon=True).start()
    for module in modules:
        importlib.import_module(module)


def _end_with_first() -> None:
    first = multiprocessing.parent_process()
    if first is not None:
        first.join()
        os._exit(1)


def _nothing() -> None:
    """Have the process started."""
