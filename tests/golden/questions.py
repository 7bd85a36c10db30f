"""What is asked of a store: every question, whole and by pattern, on several days and with several seeds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from tests.golden.stores import GoldenStore
from tests.golden.tables import Tables, measured_most, values

SEEDS = (1, 7)
_ALL = "all"
_OUT = "out"
_DRAWN = ("wear", "gauging", "loosening", "methods", "stock", "review", "calls", "contact")
_COUNTED = ("store check", "store info")


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One invocation.

    Parameters
    ----------
    question : str
        The command: ``wear``, ``store check``.
    shaft : str
        Which shaft it is about; empty where it is about all.
    pattern : str
        Which pattern, or ``all``.
    as_of : str
        The day asked about.
    seed : int
        The seed of everything random.
    text : bool
        Whether it is asked for the terminal's text instead of the document.
    args : list of str
        The arguments.
    out : str or None
        The folder whose files are part of the answer.
    """

    question: str
    shaft: str
    pattern: str
    as_of: str
    seed: int
    text: bool
    args: list[str]
    out: str | None = None

    @property
    def name(self) -> str:
        """Question, pattern, day and seed, by which it is known in what is printed."""
        asked = " ".join(part for part in (self.question, self.shaft, "as text" if self.text else "") if part)
        return f"{asked}/{self.pattern}/{self.as_of}/{self.seed}"

    def to_dict(self) -> dict[str, Any]:
        """Give what the driver needs."""
        return asdict(self) | {"name": self.name}


def chosen_shafts(store: GoldenStore, tables: Tables) -> list[str]:
    """Choose the first shaft, a middle one, the one measured most often, the last of each pattern, the store's own."""
    names = sorted(values(tables["shafts"], "shaft"))
    last = [
        max(row["shaft"] for row in tables["shafts"] if row["pattern"] == pattern)
        for pattern in sorted(values(tables["shafts"], "pattern"))
    ]
    return list(
        dict.fromkeys([names[0], names[len(names) // 2], measured_most(tables, names)[0], *last, *store.shafts])
    )


def questions(store: GoldenStore, tables: Tables, *, quick: bool) -> list[Asked]:
    """List everything that is asked of a store, in the order of asking."""
    return list(_questions(store, chosen_shafts(store, tables), quick=quick))


def _questions(store: GoldenStore, shafts: list[str], *, quick: bool) -> Iterator[Asked]:
    last = store.days[-1]
    for as_of in (last,) if quick else store.days:
        for seed in SEEDS[:1] if quick or (as_of != last and not store.thorough) else SEEDS:
            for pattern in (_ALL, *(store.patterns[-1:] if quick else store.patterns)):
                shown = (as_of, seed) == (last, SEEDS[0])
                for text in (False, True) if shown and (pattern == _ALL or not quick) else (False,):
                    about: dict[str, Any] = {"pattern": pattern, "as_of": as_of, "seed": seed, "text": text}
                    for question in _DRAWN:
                        yield _ask(store, question, **about)
                    for shaft in shafts:
                        yield _ask(store, "shaft", shaft=shaft, **about)
                    if seed == SEEDS[0]:
                        for question in _COUNTED:
                            yield _ask(store, question, **about)
                    # it takes as long as all the others together, and its page says what its document says
                    if shown and (text or (store.thorough and not quick)):
                        yield _ask(store, "report", out=_OUT, **about)


def _ask(
    store: GoldenStore, question: str, *, pattern: str, as_of: str, seed: int, text: bool, shaft: str = "",
    out: str | None = None,
) -> Asked:  # fmt: skip
    args = [*question.split(), "--store", store.file, "--as-of", as_of, "--seed", str(seed)]
    args += [] if pattern == _ALL else ["--pattern", pattern]
    args += [] if text else ["--json"]
    args += [] if out is None else ["--out", out]
    # whatever a shaft is called, it is no option
    args += ["--", shaft] if shaft else []
    return Asked(question=question, shaft=shaft, pattern=pattern, as_of=as_of, seed=seed, text=text, args=args, out=out)
