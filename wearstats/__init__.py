"""Statistics for splined drive hubs on worn shafts: wear, fit, working loose, stock and returns.

>>> import wearstats
>>> shop = wearstats.open_store("wearstats.duckdb")
>>> shop.wear()

`open_store` gives a `Shop`, which answers every question; each answer shows itself and has ``.sentences()``,
``.frame()``, ``.chart()`` and ``.to_dict()``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wearstats.errors import AnalysisError, InputError, ReportError, StoreError, UsageError, WearstatsError
    from wearstats.front import Answer, Shop, open_store

__version__ = "0.2.0"

__all__ = [
    "AnalysisError",
    "Answer",
    "InputError",
    "ReportError",
    "Shop",
    "StoreError",
    "UsageError",
    "WearstatsError",
    "__version__",
    "open_store",
]


def __getattr__(name: str) -> Any:
    """Read the rooms behind a name when it is first used: the command line's help needs none of them."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module("wearstats.errors" if name.endswith("Error") else "wearstats.front"), name)


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)
