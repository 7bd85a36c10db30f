"""The options that every command takes, before its name or after it.

``wearstats --json wear`` and ``wearstats wear --json`` mean the same; where both are given the one after the name
counts. A command is written with one parameter ``options`` and decorated with `takes_shared_options`.
"""

from __future__ import annotations

import copy
import datetime
import functools
import inspect
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from wearstats.cli.running.completion import DEFAULT_STORE, STORE_VARIABLE, complete_pattern
from wearstats.cli.running.output import print_note, recording
from wearstats.errors import UsageError

if TYPE_CHECKING:
    from wearstats.store.database.connection import Store

DEFAULT_SEED = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What was said on the command line, with the defaults filled in.

    Parameters
    ----------
    store : pathlib.Path
        The store's file.
    as_of : datetime.date
        Only what was known on that day counts.
    as_of_given : bool
        Whether it was said; else it is today.
    pattern : str or None
        Restriction to one spline pattern.
    horizon_months : float
        How far ahead a chance is given.
    risk_limit : float
        Highest chance of working loose within the horizon that is acceptable, 0 to 1.
    seed : int
        Seed of everything random.
    full : bool
        Whether everything is said, not a verdict and a few lines.
    as_json : bool
        Whether the answer is one JSON document instead of sentences.
    no_cache : bool
        Whether everything is worked out anew, and nothing kept.
    held : Store, optional
        The store, where it is open already.
    """

    store: Path = Path(DEFAULT_STORE)
    as_of: datetime.date
    as_of_given: bool = True
    pattern: str | None = None
    horizon_months: float = 12.0
    risk_limit: float = 0.05
    seed: int = DEFAULT_SEED
    full: bool = False
    as_json: bool = False
    no_cache: bool = False
    held: Store | None = None

    @property
    def in_short(self) -> bool:
        """Whether only a verdict and a few lines are said."""
        return not (self.full or self.as_json)


def parse_as_of(text: str) -> datetime.date:
    """Read the day given with ``--as-of``; a usage error says what else the text could mean."""
    from wearstats.domain.dates import parse_date
    from wearstats.domain.typed import TypedValueError

    try:
        return parse_date(text)
    except TypedValueError as refused:
        parts = (refused.found, refused.allowed, refused.next_step)
        raise typer.BadParameter("; ".join(part for part in parts if part)) from None


def day_of_writing(options: Options) -> datetime.date:
    """Give the day from which what is written counts as known; a usage error where it is still to come."""
    today = datetime.date.today()
    if options.as_of > today:
        raise UsageError(
            f"--as-of: {options.as_of} is still to come; what is written counts from today, {today}, or from an "
            "earlier day; leave it out for today"
        )
    return options.as_of


def _above_zero(value: float | None) -> float | None:
    if value is not None and not 0 < value < 1200:
        raise typer.BadParameter(f"{value:g}; allowed: a number of months above 0 and below 1200")
    return value


def _share(value: float | None) -> float | None:
    if value is not None and not 0 < value < 1:
        raise typer.BadParameter(f"{value:g}; allowed: between 0 and 1, for instance 0.05 for one in twenty")
    return value


_SHARED: dict[str, Any] = {
    "store": Annotated[
        Path | None,
        typer.Option(
            "--store",
            metavar="PATH",
            help=f"The store's file; if not given, {STORE_VARIABLE} or else {DEFAULT_STORE} here.",
        ),
    ],
    "as_of": Annotated[
        datetime.date | None,
        typer.Option(
            "--as-of", metavar="DATE", parser=parse_as_of, help="Use only what was known on that day (YYYY-MM-DD)."
        ),
    ],
    "pattern": Annotated[
        str | None,
        typer.Option(
            "--pattern", metavar="NAME", autocompletion=complete_pattern, help="Look at one spline pattern only."
        ),
    ],
    "horizon_months": Annotated[
        float | None,
        typer.Option(
            "--horizon-months", metavar="MONTHS", callback=_above_zero, help="How far ahead chances are given; 12."
        ),
    ],
    "risk_limit": Annotated[
        float | None,
        typer.Option(
            "--risk-limit",
            metavar="SHARE",
            callback=_share,
            help="Highest chance of working loose within that time; 0.05.",
        ),
    ],
    "seed": Annotated[
        int | None,
        typer.Option("--seed", metavar="NUMBER", min=0, help=f"Seed of everything random; {DEFAULT_SEED}."),
    ],
    "full": Annotated[
        bool | None, typer.Option("--full", help="Say everything, not the verdict and a few lines.", show_default=False)
    ],
    "as_json": Annotated[
        bool | None, typer.Option("--json", help="Print one JSON document instead of sentences.", show_default=False)
    ],
    "no_cache": Annotated[
        bool | None,
        typer.Option("--no-cache", help="Work everything out anew, and keep nothing of it.", show_default=False),
    ],
}


OF_THE_STORE: Final = ("store", "as_json")
OF_A_DAY: Final = ("store", "as_of", "as_json")
OF_A_FORM: Final = ("store", "as_of", "pattern", "as_json")
OF_READINGS: Final = ("store", "as_of", "pattern", "seed", "full", "as_json", "no_cache")
OF_METHODS: Final = ("store", "as_of", "pattern", "horizon_months", "seed", "full", "as_json", "no_cache")
OF_RISK: Final = tuple(_SHARED)
"""Options that matter to a command and stand in its help; it takes the others too, so that a script may give them."""


def takes_shared_options(listed: tuple[str, ...]) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command the shared options.

    Parameters
    ----------
    listed : tuple of str
        Those that matter to it.

    Returns
    -------
    callable
        Makes of a command that takes a keyword ``options`` (`Options`) besides its own parameters the same command as
        the command line sees it: its own parameters, then the shared options.
    """

    def taking(command: Callable[..., None]) -> Callable[..., None]:
        @functools.wraps(command)
        def with_options(context: typer.Context, **given: Any) -> None:
            shared = {name: given.pop(name) for name in _SHARED}
            with recording():
                command(options=_settled(context, shared), **given)

        return _signed(with_options, command, leave_out="options", listed=listed)

    return taking


def remembers_shared_options(callback: Callable[..., None]) -> Callable[..., None]:
    """Let the program's own callback take the shared options too, and keep them for the command that follows."""

    @functools.wraps(callback)
    def with_options(context: typer.Context, **given: Any) -> None:
        context.obj = {name: value for name in _SHARED if (value := given.pop(name)) is not None}
        callback(**given)

    return _signed(with_options, callback, listed=OF_RISK)


def _signed(
    wrapper: Callable[..., None], inner: Callable[..., None], *, leave_out: str = "", listed: tuple[str, ...]
) -> Callable[..., None]:
    """Show the command line the inner function's own parameters and, behind them, the shared options."""
    keyword = inspect.Parameter.KEYWORD_ONLY
    own = inspect.signature(inner, eval_str=True).parameters.values()
    shared = {name: kind if name in listed else _unlisted(kind) for name, kind in _SHARED.items()}
    parameters = [
        inspect.Parameter("context", keyword, annotation=typer.Context),
        *(parameter.replace(kind=keyword) for parameter in own if parameter.name != leave_out),
        *(inspect.Parameter(name, keyword, annotation=kind, default=None) for name, kind in shared.items()),
    ]
    wrapper.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    wrapper.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
    return wrapper


def _unlisted(kind: Any) -> Any:
    """Take an option that the help does not list."""
    (option,) = kind.__metadata__
    unlisted = copy.copy(option)
    unlisted.hidden = True
    return Annotated[kind.__origin__, unlisted]


def _settled(context: typer.Context, given: dict[str, Any]) -> Options:
    """Join what stands after the command's name, what stands before it, the environment and the defaults."""
    before: dict[str, Any] = context.obj if isinstance(context.obj, dict) else {}
    known = {name: before[name] for name in _SHARED if name in before}
    known |= {name: value for name, value in given.items() if value is not None}
    if "store" not in known and os.environ.get(STORE_VARIABLE):
        known["store"] = Path(os.environ[STORE_VARIABLE])
    if (store := known.get("store", Path(DEFAULT_STORE))).is_symlink():
        print_note(f"{store} is a link to {store.resolve()}, which is what is read and written")
    if "as_of" in known:
        return Options(**known)
    return Options(as_of=datetime.date.today(), as_of_given=False, **known)
