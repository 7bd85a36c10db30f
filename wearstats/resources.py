"""Where the SQL, data and templates lie, in an installed wheel and in a checkout."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path

from wearstats.errors import WearstatsError

_PACKAGE = Path(__file__).resolve().parent


@lru_cache
def resource(name: str) -> Path:
    """Find a shipped file or folder.

    Parameters
    ----------
    name : str
        Path with forward slashes relative to the project's top: ``sql/queries/moments.sql``.

    Returns
    -------
    pathlib.Path
        In ``wearstats/_bundled`` of an installed wheel, else in the checkout that the package lies in.

    Raises
    ------
    WearstatsError
        When it is in neither place; both are named.
    """
    bundled = _PACKAGE / "_bundled" / name
    if bundled.exists():
        return bundled
    checkout = _PACKAGE.parent
    if (checkout / "pyproject.toml").is_file() and (checkout / name).exists():
        return checkout / name
    raise WearstatsError(f"{name}: found neither in {bundled} nor in {checkout / name}; install wearstats again")


@lru_cache
def program_state() -> str:
    """Tell one state of the program from another: a digest of its own files, and the versions it reckons with."""
    files = sorted((*_PACKAGE.rglob("*.py"), *resource("sql").rglob("*.sql")))
    digest = hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()
    reckoning = ("numpy", "scipy", "pandas", "duckdb", "statsmodels", "scikit-learn")
    return " ".join([digest, *(f"{name} {version(name)}" for name in reckoning)])
