"""Studies do their algebra on one thread: many small matrices gain nothing from more, and sums come out the same."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import ParamSpec, TypeVar

from threadpoolctl import threadpool_limits

_P = ParamSpec("_P")
_R = TypeVar("_R")


def one_thread(study: Callable[_P, _R]) -> Callable[_P, _R]:
    """Run a study with its linear algebra on one thread."""

    @functools.wraps(study)
    def limited(*args: _P.args, **kwargs: _P.kwargs) -> _R:
        with threadpool_limits(limits=1, user_api="blas"):
            return study(*args, **kwargs)

    return limited
