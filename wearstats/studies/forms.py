"""What a form must know: the pattern to measure, fittings to ask after, hubs to gauge, names to choose from."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from wearstats.domain.pattern import Pattern
from wearstats.domain.units import um_to_mm
from wearstats.errors import AnalysisError, UsageError
from wearstats.studies.inputs.widths import patterns_known
from wearstats.studies.snapshot import Snapshot


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFitting:
    """A fitting to ask after.

    Parameters
    ----------
    fitting, shaft, hub : str
        Their names.
    fitted_on : str or None
        The day or month, as it was written; None where it is not known.
    """

    fitting: str
    shaft: str
    hub: str
    fitted_on: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPiece:
    """A check piece that goes with a sheet.

    Parameters
    ----------
    size_mm : float
        Its size: its own, where it has a name.
    piece : str or None
        Its name.
    """

    size_mm: float
    piece: str | None = None

    @property
    def written(self) -> str:
        """Its size as it is written on the sheet, in millimetres."""
        return f"{self.size_mm:.{3 if self.piece is None else 4}f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetNames:
    """The names in the store that a notebook offers to choose from.

    Parameters
    ----------
    names : dict
        Table to the names of its rows, in order.
    stations : tuple of str
        The stations of all patterns, from the shoulder to the nut end.
    """

    names: dict[str, tuple[str, ...]]
    stations: tuple[str, ...]


def sheet_pattern(snapshot: Snapshot, shaft: str | None = None) -> Pattern:
    """Find the pattern that a measuring sheet is for: the one named, that of the shaft, or the only one.

    Raises
    ------
    UsageError
        When none was named and the store knows not just one; when the shaft is of another.
    AnalysisError
        When the store does not know it.
    """
    known, pattern = patterns_known(snapshot), snapshot.pattern
    found = [] if shaft is None else snapshot.query("forms/pattern_of_shaft", shaft=shaft)["pattern"].tolist()
    if found and pattern not in (None, found[0]):
        raise UsageError(f"--pattern: {pattern}, but shaft {shaft} is of pattern {found[0]}; leave --pattern out")
    pattern = found[0] if found else pattern
    if pattern is None and len(known) == 1:
        return next(iter(known.values()))
    if pattern in known:
        return known[pattern]
    listed = ", ".join(sorted(known)) or "none"
    if pattern is None:
        raise UsageError(f"a measuring sheet is for one pattern, and the store knows {listed}; say --pattern NAME")
    raise AnalysisError(
        f"pattern '{pattern}' is not in the store, which knows {listed}",
        needed="its name as the store has it, or its row of patterns, added with: wearstats store add",
    )


def sheet_piece(snapshot: Snapshot, said: str, pattern: Pattern) -> SheetPiece:
    """Find the check piece that goes with a sheet, by its name in the store or by its size in millimetres.

    Raises
    ------
    UsageError
        When it is neither, or of a size that tells nothing of readings of the pattern.
    """
    known = dict(snapshot.query("gauging/pieces").itertuples(index=False, name=None))
    if said.strip() in known:
        return _near(SheetPiece(size_mm=float(known[said.strip()]), piece=said.strip()), pattern)
    try:
        size_mm = float(said)
    except ValueError:
        size_mm = math.nan
    if 0.1 <= size_mm <= 100:
        return _near(SheetPiece(size_mm=size_mm), pattern)
    names = ", ".join(known) or "none is on record; add it with: wearstats store add check_pieces.csv"
    raise UsageError(
        f"--check-piece: {said!r}; allowed: a size of 0.1 to 100 mm, or the name of a check piece: {names}"
    )


def _near(piece: SheetPiece, pattern: Pattern) -> SheetPiece:
    """Refuse a size that may be inches, or of another pattern: within the limits of the check on what comes back."""
    if not pattern.width_mm / 2 <= piece.size_mm <= 2 * pattern.width_mm:
        inches = 25.4 * piece.size_mm
        meant = f"; {inches:.3f} if that is in inches" if 0.5 <= inches / pattern.width_mm <= 2 else ""
        raise UsageError(
            f"--check-piece: {piece.size_mm:g} mm; a new spline of {pattern.pattern} has {pattern.width_mm:g} mm; "
            f"allowed: half to twice that{meant}"
        )
    return piece


def sheet_fittings(snapshot: Snapshot, fittings: Sequence[str]) -> tuple[SheetFitting, ...]:
    """Find the fittings that a follow-up sheet asks after, in the order named, each once.

    Raises
    ------
    AnalysisError
        When the store does not know one of them; all of these are named.
    """
    known = snapshot.query("forms/fittings").set_index("fitting", drop=False)
    wanted = list(dict.fromkeys(fittings))
    unknown = [name for name in wanted if name not in known.index]
    if unknown:
        raise AnalysisError(
            f"no fitting {', '.join(unknown)} was known on {snapshot.known_on.isoformat()}",
            needed="its name as the store has it; wearstats store export lists all fittings",
        )
    return tuple(
        SheetFitting(
            fitting=str(row["fitting"]),
            shaft=str(row["shaft"]),
            hub=str(row["hub"]),
            fitted_on=None if pd.isna(row["fitted_on"]) else str(row["fitted_on"]),
        )
        for row in known.loc[wanted].to_dict("records")
    )


def sheet_names(snapshot: Snapshot) -> SheetNames:
    """List the names that a notebook offers to choose from."""
    found = snapshot.query("forms/names")
    stations = [name for pattern in patterns_known(snapshot).values() for name in pattern.stations]
    return SheetNames(
        names={str(table): tuple(map(str, rows)) for table, rows in found.groupby("table_name")["name"]},
        stations=tuple(dict.fromkeys(stations)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetHub:
    """A hub to gauge, or to label.

    Parameters
    ----------
    hub : str
        Its name.
    pattern : Pattern
        What it is made for.
    undersize_um : float
        As it is engraved.
    space_mm, doubt_um, taper_um, spread_um : float or None
        Mean of its spaces by the gauging that holds, its standard uncertainty, mouth less nut face, and the standard
        deviation of its spaces; None where it was not gauged by space and end, or was changed since.
    gauged_on : datetime.date or None
        The day of that gauging.
    """

    hub: str
    pattern: Pattern
    undersize_um: float
    space_mm: float | None
    doubt_um: float | None
    taper_um: float | None
    spread_um: float | None
    gauged_on: datetime.date | None

    @property
    def nominal_mm(self) -> float:
        """What its spaces were to be."""
        return self.pattern.space_width_mm - um_to_mm(self.undersize_um)


def sheet_hubs(snapshot: Snapshot, hubs: Sequence[str], batch: str | None) -> tuple[SheetHub, ...]:
    """Find the hubs that a gauging sheet or labels are for, by name, or all of a batch.

    Raises
    ------
    UsageError
        When neither hubs nor a batch were named, or both.
    AnalysisError
        When the store does not know one of them, or of a batch no hub by number.
    """
    if bool(hubs) == (batch is not None):
        raise UsageError("say --hub ID, once or several times, or --batch ID")
    found = snapshot.query("forms/gauging_hubs", hubs=list(hubs), batch=batch)
    if missing := [name for name in dict.fromkeys(hubs) if name not in set(found["hub"])]:
        raise AnalysisError(
            f"no hub {', '.join(missing)} was known on {snapshot.known_on.isoformat()}",
            needed="its number as the store has it, or its row of hubs, added with: wearstats store add",
        )
    if not len(found):
        raise AnalysisError(
            f"of batch '{batch}' no hub by number was known on {snapshot.known_on.isoformat()}",
            needed="a row of hubs for each that is to have a number, added with: wearstats store add",
        )
    patterns = patterns_known(snapshot)
    if strange := sorted(set(found["pattern"]) - set(patterns)):
        raise AnalysisError(
            f"pattern '{strange[0]}' is not in the store", needed="its row of patterns, added with: wearstats store add"
        )
    return tuple(
        SheetHub(
            hub=str(row["hub"]),
            pattern=patterns[row["pattern"]],
            undersize_um=float(row["undersize_um"]),
            space_mm=_known(row["space_width_mm"]) if pd.notna(row["gauged_on"]) else None,
            doubt_um=_known(row["space_u_um"]),
            taper_um=_known(row["taper_um"]),
            spread_um=_known(row["spread_um"]),
            gauged_on=None if pd.isna(row["gauged_on"]) else pd.Timestamp(row["gauged_on"]).date(),
        )
        for row in found.to_dict("records")
    )


def label_hubs(snapshot: Snapshot, hubs: Sequence[str], batch: str | None) -> tuple[SheetHub, ...]:
    """Find the hubs to label: those of `sheet_hubs` that were gauged by space and end and not changed since.

    Raises
    ------
    AnalysisError
        When one that was named, or all of a batch, have no gauging that holds; and as `sheet_hubs` does.
    """
    found = sheet_hubs(snapshot, hubs, batch)
    gauged = tuple(hub for hub in found if hub.space_mm is not None)
    lacking = [hub.hub for hub in found if hub.space_mm is None]
    if lacking and (hubs or not gauged):
        raise AnalysisError(
            f"hub {', '.join(lacking)}: not gauged by space and end, or changed since by going on a shaft",
            needed=f"a gauging, on the sheet of: wearstats sheet gauging --hub {lacking[0]}",
        )
    return gauged


def _known(value: float | None) -> float | None:
    return None if pd.isna(value) else float(value)
