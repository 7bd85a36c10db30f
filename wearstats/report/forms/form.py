"""What a form asks for, whatever it is printed on: its name, its lines, its places or fittings."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass
from typing import Final

from wearstats.domain.pattern import Pattern
from wearstats.domain.tables import TABLE_BY_NAME
from wearstats.report.forms.wording import Wording
from wearstats.report.rendering.write_files import file_stem
from wearstats.studies.forms import SheetFitting, SheetHub, SheetPiece

EDITION: Final = 4
"""Counts up when what a form asks for changes."""

_MICROMETER_MM: Final = 25
"""Outside micrometers come in steps of 25 mm (common practice)."""

MEASURING_LINES: Final = (
    "form", "pattern", "shaft", "measured_on", "measured_by", "measured_at", "turn", "kind", "unit", "resolution",
    "hours", "condition", "register", "spline_1_marked", "check_piece", "check_reading", "piece", "remark",
)  # fmt: skip
"""The lines above the readings, as the store reads them."""

GAUGING_LINES: Final = ("form", "hub", "gauged_on", "gauge", "remark")
"""The lines above the spaces of one hub, as the store reads them."""

FOLLOW_UP_COLUMNS: Final = ("fitting", "seen_on", "state", "prompted", "how", "cause", "hours", "failed_on", "remark")


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuringForm:
    """A measuring sheet for one pattern.

    Parameters
    ----------
    pattern : Pattern
        What is measured.
    wording : Wording
        In which language.
    shaft : str or None
        Its number, where the sheet is for one shaft.
    piece : SheetPiece or None
        The check piece that goes with the sheet.
    """

    pattern: Pattern
    wording: Wording
    shaft: str | None = None
    piece: SheetPiece | None = None

    @property
    def form(self) -> str:
        """What tells this form from others: kind, pattern, and a mark of all that the pattern says."""
        said = repr((EDITION, self.pattern, self.wording.language))
        return f"measuring {self.pattern.pattern} {hashlib.sha256(said.encode()).hexdigest()[:6]}"

    @property
    def check_piece(self) -> str | None:
        """The check piece's size in millimetres, as it is written."""
        return None if self.piece is None else self.piece.written

    @property
    def prefilled(self) -> dict[str, str]:
        """What is written on the form from the start: line to value."""
        known = {"form": self.form, "pattern": self.pattern.pattern, "shaft": self.shaft, "measured_at": "home"}
        known |= {"check_piece": self.check_piece, "piece": None if self.piece is None else self.piece.piece}
        return {line: value for line, value in known.items() if value is not None}

    @property
    def places(self) -> tuple[tuple[str, str], ...]:
        """The stations as they are called, each with its distance from the shoulder as it is written."""
        told = zip(self.pattern.stations, self.pattern.station_mm, strict=True)
        return tuple((self.wording.station(name), f"{at:g} mm") for name, at in told)

    @property
    def steps(self) -> list[str]:
        """How to measure, with this pattern's places and the micrometer that reaches over its register."""
        register = self.pattern.register_mm
        part = self.wording["measuring"]
        facts = {"places": ", ".join(f"{name} {at}" for name, at in self.places), "reach": ""}
        if register is not None:
            least = _MICROMETER_MM * math.floor(register / _MICROMETER_MM)
            facts["reach"] = part["reach"].format(size=f"{register:g}", least=least, most=least + _MICROMETER_MM)
        return [step.format(**facts) for step in part["steps"]]

    @property
    def stem(self) -> str:
        """Name of its files, without ending."""
        return file_stem("measuring", self.pattern.pattern, self.shaft)


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowUpForm:
    """A sheet that asks how some hubs are.

    Parameters
    ----------
    fittings : tuple of SheetFitting
        Which.
    wording : Wording
        In which language.
    """

    fittings: tuple[SheetFitting, ...]
    wording: Wording

    @property
    def form(self) -> str:
        """What tells this form from others: kind, and a mark of the fittings asked after."""
        said = repr((EDITION, self.fittings, self.wording.language))
        return f"follow-up {hashlib.sha256(said.encode()).hexdigest()[:6]}"

    @property
    def stem(self) -> str:
        """Name of its files, without ending: the fitting's, or how many there are."""
        more = f"and-{len(self.fittings) - 1}-more" if len(self.fittings) > 1 else None
        return file_stem("follow-up", self.fittings[0].fitting, more)


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugingForm:
    """A sheet on which the shop notes the spaces of its own hubs.

    Parameters
    ----------
    hubs : tuple of SheetHub
        Which.
    wording : Wording
        In which language.
    batch : str or None
        The batch, where it is for all hubs of one.
    """

    hubs: tuple[SheetHub, ...]
    wording: Wording
    batch: str | None = None

    @property
    def form(self) -> str:
        """What tells this form from others: kind, and a mark of the hubs and what their spaces were to be."""
        said = repr((EDITION, [(hub.hub, hub.pattern.pattern, hub.undersize_um) for hub in self.hubs]))
        return f"gauging {hashlib.sha256((said + self.wording.language).encode()).hexdigest()[:6]}"

    @property
    def stem(self) -> str:
        """Name of its files, without ending: the batch's, or the first hub's."""
        if self.batch is not None:
            return file_stem("gauging", self.batch)
        more = f"and-{len(self.hubs) - 1}-more" if len(self.hubs) > 1 else None
        return file_stem("gauging", self.hubs[0].hub, more)

    def alone(self) -> tuple[GaugingForm, ...]:
        """Give a form a hub, for pages that are filled in hub by hub."""
        return tuple(GaugingForm(hubs=(hub,), wording=self.wording) for hub in self.hubs)


def allowed_words(field: str) -> tuple[str, ...]:
    """Give the words that the store takes for a line or column of a form; empty where it takes any text."""
    for table in ("inspections", "gauges", "follow_ups"):
        for column in TABLE_BY_NAME[table].columns:
            if column.name == field:
                return ("yes", "no") if column.kind == "yes_no" else column.choices
    return ()
