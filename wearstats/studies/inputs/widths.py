"""The readings of widths, out of the store and into the arrays that the width model takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any

import numpy as np
import pandas as pd

from wearstats.analysis.widths.data import PatternShape, WidthData, measuring_class, reduce_readings
from wearstats.domain.frames import columns
from wearstats.domain.pattern import Pattern
from wearstats.errors import AnalysisError
from wearstats.store.database.connection import Store
from wearstats.studies.snapshot import Snapshot, part


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WidthReadings:
    """All readings known by a day.

    Parameters
    ----------
    patterns : dict of str to Pattern
        By name.
    inspections : DataFrame
        One row an inspection, with ``unit``: its shaft and how many hubs had run on it before, or things been done.
    moments : DataFrame
        One row an inspection and place.
    of_shafts : int or None
        How many shafts there are, where these are the readings of some taken at random; None: of all.
    """

    patterns: dict[str, Pattern]
    inspections: Annotated[
        pd.DataFrame,
        columns(
            text=(
                "inspection shaft pattern duty region measured_at measurer gauge_kind read_in unit group class piece? "
                "source?"
            ),
            number="step_um check_um piece_u_um? register_mm hours",
            whole="hubs_before hubs_surely_before",
            flag="marked",
            day="measured_on",
        ),
    ]
    moments: Annotated[
        pd.DataFrame, columns(text="inspection source?", number="mean_um within_um2", whole="spline station n")
    ]
    of_shafts: int | None = None

    @property
    def shapes(self) -> dict[str, PatternShape]:
        """How each pattern's places are laid out."""
        return {
            name: PatternShape(
                pattern=name, splines=pattern.splines, stations=pattern.stations, new_width_mm=pattern.width_mm
            )
            for name, pattern in self.patterns.items()
        }

    def of(self, shafts: Sequence[str]) -> WidthReadings:
        """Give those of some shafts."""
        inspections = self.inspections[self.inspections["shaft"].isin(shafts)]
        moments = self.moments[self.moments["inspection"].isin(inspections["inspection"])]
        return replace(self, inspections=inspections, moments=moments)

    def apart(self) -> dict[str, WidthReadings]:
        """Give those of every shaft by itself, by its name."""
        shafts = self.inspections.set_index("inspection")["shaft"]
        moments = dict(tuple(self.moments.groupby(self.moments["inspection"].map(shafts), sort=False)))
        nothing = self.moments.iloc[:0]
        found = {}
        for shaft, inspections in self.inspections.groupby("shaft", sort=False):
            name = str(inspections["pattern"].iloc[0])
            patterns = {name: self.patterns[name]} if name in self.patterns else {}
            mine = moments.get(shaft, nothing)
            found[str(shaft)] = replace(self, patterns=patterns, inspections=inspections, moments=mine)
        return found

    def of_pattern(self, pattern: str | None) -> WidthReadings:
        """Give those of one pattern; AnalysisError where there are none."""
        if pattern is None:
            return self
        inspections = self.inspections[self.inspections["pattern"] == pattern]
        moments = self.moments[self.moments["inspection"].isin(inspections["inspection"])]
        if moments.empty:
            raise AnalysisError(
                f"no width reading of pattern {pattern} was known", needed="add inspections and readings of its shafts"
            )
        patterns = {pattern: self.patterns[pattern]}
        return replace(self, patterns=patterns, inspections=inspections, moments=moments)

    def without(self, places: pd.DataFrame) -> WidthReadings:
        """Give those but for some places.

        Parameters
        ----------
        places : DataFrame
            ``inspection``, ``spline`` and ``station`` (its name), the latter two missing where all of them are meant.
        """
        pattern = self.inspections.set_index("inspection")["pattern"].reindex(places["inspection"])
        at = [
            np.nan if pd.isna(name) else float(self.patterns[str(of)].stations.index(name))
            for name, of in zip(places["station"], pattern, strict=True)
        ]
        told = places[["inspection", "spline"]].assign(station=at)
        out = np.zeros(len(self.moments), dtype=bool)
        for (splines, stations), mine in told.groupby([told["spline"].notna(), told["station"].notna()]):
            said = ["inspection", *(["spline"] if splines else []), *(["station"] if stations else [])]
            keys = pd.MultiIndex.from_frame(mine[said].astype(dict.fromkeys(said[1:], int)))
            out |= pd.MultiIndex.from_frame(self.moments[said]).isin(keys)
        return replace(self, moments=self.moments[~out])

    def without_inspections(self, wrong: pd.Series[str]) -> WidthReadings:
        """Give those but for some inspections."""
        return replace(
            self,
            inspections=self.inspections[~self.inspections["inspection"].isin(wrong)],
            moments=self.moments[~self.moments["inspection"].isin(wrong)],
        )

    def some(self, most: int) -> WidthReadings:
        """Give those of about so many shafts, every so many-th by name."""
        shafts = self.inspections["shaft"].unique().tolist()
        return self if len(shafts) <= most else self.of(shafts[:: -(-len(shafts) // most)])

    def reduce(self, inspections: pd.DataFrame | None = None) -> WidthData:
        """Stack the readings of some inspections (all, without any given) for the width model."""
        wanted = self.inspections if inspections is None else inspections
        moments = self.moments[self.moments["inspection"].isin(wanted["inspection"])]
        return reduce_readings(moments, wanted, self.shapes)

    def one_unit_a_shaft(self) -> WidthData:
        """Stack one unit of every shaft: the one with the most inspections, the earliest of these.

        Units of one shaft resemble each other, so only one may count where shafts are taken to be independent.
        """
        read = self.inspections[self.inspections["inspection"].isin(self.moments["inspection"].unique())]
        sizes = read.groupby(["shaft", "unit", "hubs_before"], as_index=False).size()
        chosen = sizes.sort_values(["size", "hubs_before"], ascending=[False, True]).drop_duplicates("shaft")
        return self.reduce(read[read["unit"].isin(chosen["unit"])])


@part("known_on")
def patterns_known(snapshot: Snapshot) -> dict[str, Pattern]:
    """Give the patterns known, by name."""
    frame = snapshot.query("store/patterns")
    names = ("register_mm", "pull_on_mm", "grid_um", "lead_days", "batch_size", "deepest_um")
    patterns = {}
    for row in frame.to_dict("records"):
        extra = {name: row[name] for name in names if pd.notna(row[name])}
        patterns[str(row["pattern"])] = Pattern(
            pattern=str(row["pattern"]),
            splines=int(row["splines"]),
            width_mm=float(row["width_mm"]),
            space_width_mm=float(row["space_width_mm"]),
            minor_mm=float(row["minor_mm"]),
            major_mm=float(row["major_mm"]),
            engaged_mm=float(row["engaged_mm"]),
            stations=tuple(row["stations"]),
            **extra,
        )
    return patterns


def read_widths(
    snapshot: Snapshot, *, shafts: Sequence[str] | None = None, of_shafts: int | None = None, store: Store | None = None
) -> WidthReadings:
    """Read the readings known, of all patterns.

    Parameters
    ----------
    shafts : sequence of str or None
        Restriction to some shafts.
    of_shafts : int or None
        How many there are besides, where those were taken at random.
    store : Store, optional
        Where they are read from, if not from the snapshot's: the part of it that is about these shafts.

    Returns
    -------
    WidthReadings

    Raises
    ------
    AnalysisError
        When there is no reading.
    """
    patterns = patterns_known(snapshot)
    wanted = None if shafts is None else list(shafts)
    asked: dict[str, Any] = {"as_of": snapshot.known_on, "pattern": None, "shafts": wanted}
    inspections, moments = (
        (store or snapshot.store).query(rows, **asked) for rows in ("widths/inspections", "widths/moments")
    )
    if moments.empty:
        of = f" of shaft {wanted[0]}" if wanted and len(wanted) == 1 else ""
        raise AnalysisError(
            f"no width reading{of} was known on {snapshot.known_on.isoformat()}",
            needed="add inspections and readings with: wearstats store add",
        )
    used = sorted(set(inspections["pattern"]))
    inspections = tell_units(inspections)
    return WidthReadings(
        patterns={name: patterns[name] for name in used if name in patterns},
        inspections=inspections,
        moments=moments.astype({"spline": "int64", "station": "int64"}),
        of_shafts=of_shafts,
    )


def tell_units(inspections: pd.DataFrame) -> pd.DataFrame:
    """Say of every inspection its ``unit``, the ``group`` its prior mean hangs on, and its ``class``."""
    duty = inspections["duty"].astype(object).where(inspections["duty"].notna(), "duty not said")
    after = np.where(inspections["hubs_before"] > 0, "after a hub", "first hub")
    # where it is not sure whether a hub had run before an inspection, it is nobody's repeat
    doubtful = inspections["hubs_before"] > inspections["hubs_surely_before"]
    return inspections.assign(
        unit=inspections["shaft"]
        + "#"
        + inspections["hubs_before"].astype(str)
        + ("?" + inspections["inspection"]).where(doubtful, ""),
        group=duty.astype(str) + ", " + after,
        **{"class": measuring_class(inspections["measured_at"], inspections["gauge_kind"])},
    )


def readings_in_hand(readings: WidthReadings, fittings: pd.DataFrame) -> WidthReadings:
    """Take, for every fitting, a copy of the inspections in hand when its hub was chosen.

    Parameters
    ----------
    readings : WidthReadings
        All readings.
    fittings : DataFrame
        One row a fitting: ``fitting``, ``shaft``, ``chosen_on``, ``inspections`` (lists, may be missing),
        ``changed_on`` (when the shaft was last made another width before it; may be missing).

    Returns
    -------
    WidthReadings
        Its units are the fittings; inspections are named ``fitting inspection``, since one may stand behind several.
        What was read before the shaft was made another width tells nothing of the hub's gap, whoever names it.
    """
    known = readings.inspections[readings.inspections["inspection"].isin(readings.moments["inspection"].unique())]
    known = known.drop(columns=["unit"])
    listed = np.array(
        [isinstance(names, list | np.ndarray) and len(names) > 0 for names in fittings["inspections"]], bool
    )
    named = fittings[listed][["fitting", "inspections", "changed_on"]].explode("inspections")
    by_name = named.rename(columns={"inspections": "inspection"}).merge(known, on="inspection")
    by_date = fittings[~listed][["fitting", "shaft", "chosen_on", "changed_on"]].merge(known, on="shaft")
    by_date = by_date[by_date["measured_on"] <= by_date["chosen_on"]]
    last = by_date.groupby("fitting")["hubs_before"].transform("max")
    chosen = pd.concat([by_name, by_date[by_date["hubs_before"] == last].drop(columns="chosen_on")], ignore_index=True)
    overtaken = pd.to_datetime(chosen["changed_on"]) > pd.to_datetime(chosen["measured_on"])
    chosen = chosen[~overtaken].drop(columns="changed_on").rename(columns={"fitting": "unit"})
    chosen = chosen.assign(source=chosen["inspection"], inspection=chosen["unit"] + " " + chosen["inspection"])
    chosen = chosen.assign(group=chosen.groupby("unit")["group"].transform("last"))
    moments = chosen[["inspection", "source"]].merge(
        readings.moments.rename(columns={"inspection": "source"}), on="source"
    )
    return WidthReadings(patterns=readings.patterns, inspections=chosen, moments=moments)
