"""What every question is asked of: a store as known on a day, of one pattern or of all, with a seed.

What several questions rest on (readings, width model, histories, gaps, law) are its *parts*. Each is declared once, in
the room that makes it, with what it depends on, and is worked out when it is first asked for; whoever asks again has
the same one. So an answer is the same alone and within the whole picture, and nothing is handed on.
"""

from __future__ import annotations

import datetime
import functools
import inspect
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Concatenate, Final, Generic, Literal, ParamSpec, TypeVar, cast

import pandas as pd

from wearstats.analysis.numerics.named_draws import NamedDraws
from wearstats.analysis.numerics.one_thread import one_thread
from wearstats.errors import AnalysisError
from wearstats.second_process import SecondProcess
from wearstats.store.cache.results import KeptResults
from wearstats.store.database.connection import Store, open_store
from wearstats.store.database.statements import statement
from wearstats.store.left_out import leave_out_impossible

_P = ParamSpec("_P")
_R = TypeVar("_R")

Asked = Literal["known_on", "models_from", "pattern", "seed"]
"""What of a snapshot a part may depend on."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Snapshot:
    """A store as known on a day.

    Parameters
    ----------
    store : Store
        Open for reading.
    known_on : datetime.date
        What had happened and was known by that day counts.
    models_from : datetime.date, optional
        The day whose width model, prices and sample of shafts are used; `known_on` if not given.
    pattern : str or None
        A view: widths and prices are those of the whole store, the fittings and their law those of the pattern.
    seed : int
        Of all that is drawn at random.
    second : SecondProcess
        Where work goes that need not be waited for.
    on_part : callable
        Told the name of every part that begins to be worked out in this process.
    kept : KeptResults, optional
        What was worked out before, by this process or another.
    """

    store: Store
    known_on: datetime.date
    models_from: datetime.date = field(default=None)  # type: ignore[assignment]
    pattern: str | None = None
    seed: int = 1
    second: SecondProcess = field(default_factory=SecondProcess)
    on_part: Callable[[str], object] = str
    kept: KeptResults | None = None
    _parts: dict[Hashable, Callable[[], Any]] = field(default_factory=dict)
    _carried: tuple[tuple[Hashable, Any], ...] = ()

    def __post_init__(self) -> None:
        if self.models_from is None:
            object.__setattr__(self, "models_from", self.known_on)

    def __reduce__(self) -> tuple[Callable[..., Snapshot], tuple[Any, ...]]:
        """Give another process the same question: it opens the store itself, and keeps its own parts."""
        asked = (self.store.path, self.known_on, self.models_from, self.pattern, self.seed)
        return _reopened, (*asked, self.kept is not None, self._carried)

    @property
    def draws(self) -> NamedDraws:
        """Where everything random comes from."""
        return NamedDraws(self.seed)

    def at(self, day: datetime.date, *, models_from: datetime.date | None = None) -> Snapshot:
        """Give the same as known on another day; the models stay those of `models_from`, unless said otherwise."""
        return replace(self, known_on=day, models_from=models_from or self.models_from)

    def of(self, pattern: str | None) -> Snapshot:
        """Give the view of one pattern, or of all; what concerns all shafts is shared with it."""
        return replace(self, pattern=pattern)

    def carrying(self, *parts: Part[[], Any]) -> Snapshot:
        """Give the same, with which some parts go along to another process, which then need not work them out again."""
        return replace(self, _carried=tuple((part._key(self, (), {}), part(self)) for part in parts))

    def query(self, name: str, **params: Any) -> pd.DataFrame:
        """Run a statement of ``sql/queries`` as known on the day; ``pattern`` is this one's, unless given."""
        wanted = statement(name).params
        known: dict[str, Any] = {"as_of": self.known_on, "pattern": self.pattern}
        return self.store.query(name, **{key: value for key, value in known.items() if key in wanted} | params)


class Part(Generic[_P, _R]):
    """Something that is worked out once for a snapshot, when it is first asked for; see `part`.

    What the data cannot answer is remembered too: the same AnalysisError comes again.
    """

    def __init__(
        self, make: Callable[Concatenate[Snapshot, _P], _R], by: tuple[Asked, ...], *, kept: bool, advice: bool
    ) -> None:
        self._make = make
        self._by = by
        self._is_kept = kept
        self._reads_advice = advice
        self._signature = inspect.signature(make)
        functools.update_wrapper(self, make)

    def __reduce__(self) -> str:
        """Be found by name in another process."""
        return str(self.__qualname__)  # type: ignore[attr-defined]

    def __call__(self, snapshot: Snapshot, *args: _P.args, **kwargs: _P.kwargs) -> _R:
        """Give it, worked out now unless it was before."""
        key = self._key(snapshot, args, kwargs)
        if key not in snapshot._parts:
            snapshot._parts[key] = _outcome(functools.partial(self._work_out, snapshot, *args, **kwargs))
        found: _R = snapshot._parts[key]()
        return found

    def begin(self, snapshot: Snapshot, *args: _P.args, **kwargs: _P.kwargs) -> None:
        """Have it worked out in the second process, so that whoever asks for it later need not wait as long."""
        if not self.is_there(snapshot, *args, **kwargs):
            key = self._key(snapshot, args, kwargs)
            snapshot._parts[key] = _outcome(snapshot.second.begin(self._work_out, snapshot, *args, **kwargs))

    def is_there(self, snapshot: Snapshot, *args: _P.args, **kwargs: _P.kwargs) -> bool:
        """Whether it was asked for before, or is kept."""
        if self._key(snapshot, args, kwargs) in snapshot._parts:
            return True
        name = self._kept_name(snapshot, args, kwargs)
        return name is not None and snapshot.kept is not None and snapshot.kept.has(name)

    def release(self, snapshot: Snapshot, *args: _P.args, **kwargs: _P.kwargs) -> None:
        """Let it go, for what is held of very many shafts is large; asked for again it is worked out again."""
        snapshot._parts.pop(self._key(snapshot, args, kwargs), None)

    @one_thread
    def _work_out(self, snapshot: Snapshot, *args: _P.args, **kwargs: _P.kwargs) -> _R:
        name = self._kept_name(snapshot, args, kwargs)
        if name is not None and snapshot.kept is not None and (found := snapshot.kept.find(name)) is not None:
            return cast(_R, found[0])
        snapshot.on_part(self.__qualname__)  # type: ignore[attr-defined]
        made = self._make(snapshot, *args, **kwargs)
        if name is not None and snapshot.kept is not None:
            snapshot.kept.keep(name, made)
        return made

    def _key(self, snapshot: Snapshot, args: tuple[Any, ...], kwargs: dict[str, Any]) -> Hashable:
        asked = tuple(getattr(snapshot, name) for name in self._by)
        return (self.__module__, self.__qualname__, asked, self._given(args, kwargs))  # type: ignore[attr-defined]

    def _given(self, args: tuple[Any, ...], kwargs: dict[str, Any]) -> tuple[tuple[str, Any], ...]:
        # a default that is written out is the same question
        bound = self._signature.bind(None, *args, **kwargs)
        bound.apply_defaults()
        return tuple(bound.arguments.items())[1:]

    def _kept_name(self, snapshot: Snapshot, args: tuple[Any, ...], kwargs: dict[str, Any]) -> str | None:
        """Name it among what is kept beside the store; None where it is not."""
        if snapshot.kept is None or not self._is_kept:
            return None
        asked: dict[str, Any] = {name: getattr(snapshot, name) for name in self._by}
        what = f"{self.__module__}.{self.__qualname__}"  # type: ignore[attr-defined]
        return snapshot.kept.name(what, asked, self._given(args, kwargs), advice=self._reads_advice)


EVERYTHING: Final[tuple[Asked, ...]] = ("known_on", "models_from", "pattern", "seed")


def part(
    *by: Asked, kept: bool = False, advice: bool = False
) -> Callable[[Callable[Concatenate[Snapshot, _P], _R]], Part[_P, _R]]:
    """Declare a part: a function of a snapshot, and of arguments that can be compared, worked out once.

    Parameters
    ----------
    *by : str
        What of the snapshot it depends on; `EVERYTHING` where that is all. A part that is not by ``pattern`` is
        the same for every view.
    kept : bool
        Whether it is kept beside the store, where the snapshot has something kept: what takes long, and is no larger
        than can be read at once. It may depend on what was known by its days, and on nothing else in the store.
    advice : bool
        Whether it depends on the advice given by these days too, which is no intake.
    """

    def declare(make: Callable[Concatenate[Snapshot, _P], _R]) -> Part[_P, _R]:
        return Part(make, by or EVERYTHING, kept=kept, advice=advice)

    return declare


def _outcome(make: Callable[[], _R]) -> Callable[[], _R]:
    """Call once, and give what came of it, or raise it, as often as asked."""
    came: list[tuple[_R | None, AnalysisError | None]] = []

    def give() -> _R:
        if not came:
            try:
                came.append((make(), None))
            except AnalysisError as error:
                came.append((None, error))
        value, refused = came[0]
        if refused is not None:
            raise refused.with_traceback(None)
        return cast(_R, value)

    return give


@functools.cache
def _opened(path: Path, *, kept: bool) -> Snapshot:
    """Open, once for all that is asked of this process, a store that another process has open for reading."""
    store = open_store(path)
    leave_out_impossible(store)
    return Snapshot(store=store, known_on=datetime.date.max, kept=KeptResults(store) if kept else None)


def _reopened(
    path: Path,
    known_on: datetime.date,
    models_from: datetime.date,
    pattern: str | None,
    seed: int,
    kept: bool,
    carried: tuple[tuple[Hashable, Any], ...],
) -> Snapshot:
    asked: dict[str, Any] = {"known_on": known_on, "models_from": models_from, "pattern": pattern, "seed": seed}
    snapshot = replace(_opened(path, kept=kept), **asked)
    for key, value in carried:
        snapshot._parts[key] = functools.partial(_same, value)
    return snapshot


def _same(value: _R) -> _R:
    return value
