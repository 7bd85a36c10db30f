"""The words of the forms: one file a language beside the templates."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from wearstats.errors import UsageError
from wearstats.resources import resource

TEMPLATES: Final = "reports/templates/sheets"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """The words of one language.

    Parameters
    ----------
    language : str
        Its short name, as in ``en``.
    words : mapping
        As the file has them.
    """

    language: str
    words: Mapping[str, Any]

    def __getitem__(self, part: str) -> Any:
        """Give one part of the file."""
        return self.words[part]

    def station(self, name: str) -> str:
        """Name a station in plain words; one that only its pattern knows by its own name."""
        return str(self.words["stations"].get(name, name))

    def choices(self, field: str) -> dict[str, str]:
        """Give the words to choose from and what they mean."""
        return dict(self.words["choices"][field])


def languages() -> list[str]:
    """List the languages there are."""
    return sorted(path.stem for path in resource(TEMPLATES).glob("*.toml"))


def read_wording(language: str) -> Wording:
    """Read the words of a language.

    Raises
    ------
    UsageError
        When there is none such; those there are are named.
    """
    if language not in languages():
        raise UsageError(f"--language: '{language}' is not there; allowed: {', '.join(languages())}")
    text = resource(f"{TEMPLATES}/{language}.toml").read_text(encoding="utf-8")
    return Wording(language=language, words=tomllib.loads(text))
