"""The fleet's ledgers as the tables of the contract: names for row numbers, text for dates and typed widths."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearstats.domain.arrays import BoolArray, FloatArray, IntArray
from wearstats.domain.tables import METHODS, STATIONS, TABLE_BY_NAME, WENT_ON
from wearstats.domain.units import from_um
from wearstats.simulate.events.choice import policy_change_day
from wearstats.simulate.events.progress import Progress
from wearstats.simulate.events.readings import all_gauges, step_um
from wearstats.simulate.scenario.kinds import GaugeType

TextArray = NDArray[np.object_]
MISSING = np.nan
"""What an empty cell holds in every column."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Names:
    """Names by row number of each ledger; empty text for rows that are not on record."""

    shafts: TextArray
    owners: TextArray
    hands: TextArray
    inspections: TextArray
    orders: TextArray
    hubs: TextArray
    fittings: TextArray


def numbered(prefix: str, count: int, digits: int) -> TextArray:
    """Make names from 1 on, such as ``S0001``; all with more digits where there are more."""
    width = max(digits, len(str(count)))
    return np.array([f"{prefix}{number:0{width}d}" for number in range(1, count + 1)], dtype=object)


def by_day(prefix: str, day: FloatArray, kept: BoolArray, digits: int) -> TextArray:
    """Give rows numbers in the order of their days; those not kept get empty text."""
    names = np.full(day.size, "", dtype=object)
    rows = np.flatnonzero(kept)
    names[rows[np.argsort(day[rows], kind="stable")]] = numbered(prefix, rows.size, digits)
    return names


def date_text(day: FloatArray) -> TextArray:
    """Write days since 1970 as ISO dates; what is not finite stays missing."""
    there = np.isfinite(day)
    text = np.full(day.shape, MISSING, dtype=object)
    if there.any():
        whole = day[there].astype(np.int64)
        first = int(whole.min())
        every = np.arange(first, int(whole.max()) + 1).astype("datetime64[D]").astype(str).astype(object)
        text[there] = every[whole - first]
    return text


def typed(
    value: NDArray[np.signedinteger], gauge: NDArray[np.signedinteger], gauges: tuple[GaugeType, ...]
) -> TextArray:
    """Write readings, whole steps of their gauge, as they are typed: ``5.94`` or ``0.2339``; negative ones missing.

    Texts are looked up, not made one by one, so that millions of readings share a few thousand.
    """
    text = np.full(value.shape, MISSING, dtype=object)
    for index, gauge_type in enumerate(gauges):
        here = (gauge == index) & (value >= 0)
        if not here.any():
            continue
        low, high = int(value[here].min()), int(value[here].max())
        step, decimals = float(gauge_type.resolution), gauge_type.decimals
        every = np.array([f"{count * step:.{decimals}f}" for count in range(low, high + 1)], dtype=object)
        text[here] = every[value[here] - low]
    return text


def either(where: BoolArray, then: object, otherwise: object) -> TextArray:
    """Pick words (or missing) by element; each a scalar or an object array."""
    text = np.empty(where.shape, dtype=object)
    text[:] = otherwise
    text[where] = np.broadcast_to(np.asarray(then, dtype=object), where.shape)[where]
    return text


def yes(where: BoolArray, *, no: object = "no") -> TextArray:
    """Write yes, and no (or nothing, with ``no=MISSING``)."""
    return either(where, "yes", no)


def text_of(names: TextArray, rows: IntArray) -> TextArray:
    """Look names up; missing for negative rows and for names not on record."""
    found = np.full(rows.shape, MISSING, dtype=object)
    there = rows >= 0
    found[there] = names[rows[there]]
    found[found == ""] = MISSING
    return found


def finish(table: str, frame: pd.DataFrame, *, sort: list[str] | None = None) -> pd.DataFrame:
    """Give a table exactly its contract's columns, in order; columns nobody filled are empty text."""
    contract = TABLE_BY_NAME[table]
    columns: dict[str, pd.Series] = {}
    for column in contract.columns:
        if column.name not in frame:
            columns[column.name] = pd.Series(MISSING, index=frame.index, dtype="str")
        elif column.kind == "integer" and frame[column.name].dtype.kind == "f":
            columns[column.name] = frame[column.name].astype("Int64")
        elif frame[column.name].dtype == object:
            columns[column.name] = frame[column.name].astype("str")
        else:
            columns[column.name] = frame[column.name]
    finished = pd.DataFrame(columns, columns=[column.name for column in contract.columns])
    return finished.sort_values(sort or list(contract.key), kind="stable").reset_index(drop=True)


def whole(values: pd.Series) -> pd.Series:
    """Turn whole numbers with gaps into nullable integers."""
    return values.round().astype("Int64")


def inspections_table(
    progress: Progress, ledger: pd.DataFrame, names: Names, *, rng: np.random.Generator
) -> pd.DataFrame:
    """Make the inspections table; register and major diameter are measured by the workshop and some owners."""
    scenario = progress.scenario
    gauges = all_gauges(scenario)
    n = len(ledger)
    gauge = ledger["gauge"].to_numpy(dtype=np.int64)
    shaft = ledger["shaft"].to_numpy(dtype=np.int64)
    pattern = progress.shafts.pattern[shaft]
    at_home = ledger["at_home"].to_numpy(dtype=bool)
    person = ledger["person"].to_numpy(dtype=np.int64)
    step = np.array([step_um(each) for each in gauges])[gauge]
    sizes = {}
    for name, nominal, low, share in (("register", "register_mm", 10.0, 0.25), ("major", "major_mm", 60.0, 0.1)):
        meant = np.array([getattr(spec, nominal) for spec in scenario.patterns])[pattern] * 1000.0
        read = np.rint((meant - low + 8.0 * rng.standard_normal(n)) / step)
        asked = rng.random(n) < np.where(at_home, share, 0.7)
        sizes[name] = typed(np.where(asked, read, -1).astype(np.int64), gauge, gauges)
    check = ledger["check_steps"].to_numpy(dtype=np.int64)
    pin = np.array([f"{spec.width_mm:.3f}" for spec in scenario.patterns], dtype=object)[pattern]
    pin[check < 0] = MISSING
    who = names.owners[np.where(at_home, person, 0)]
    who = either(at_home, who, names.hands[np.where(at_home, 0, person)])
    frame = pd.DataFrame(
        {
            "inspection": names.inspections,
            "shaft": names.shafts[shaft],
            "measured_on": date_text(ledger["day"].to_numpy(dtype=float)),
            "measured_by": who,
            "measured_at": either(at_home, "home", "workshop"),
            "gauge": gauge_names(ledger, names),
            "unit": np.array([each.unit for each in gauges], dtype=object)[gauge],
            "hours": whole(ledger["hours"]),
            "register": sizes["register"],
            "major": sizes["major"],
            "spline_1_marked": yes(ledger["marked"].to_numpy(dtype=bool)),
            "check_piece": pin,
            "check_reading": typed(check, gauge, gauges),
        }
    )
    return finish("inspections", frame)


def gauge_names(ledger: pd.DataFrame, names: Names) -> TextArray:
    """Name each inspection's gauge: every owner has one, the workshop's people share one."""
    at_home = ledger["at_home"].to_numpy(dtype=bool)
    person = np.where(at_home, ledger["person"].to_numpy(dtype=np.int64), 0)
    own = np.array([name.replace("owner", "gauge") for name in names.owners], dtype=object)
    return either(at_home, own[person], "gauge-w1")


def gauges_table(progress: Progress, names: Names) -> pd.DataFrame:
    """Make the gauges table."""
    scenario = progress.scenario
    kind = np.append(progress.owners.gauge, len(scenario.home_gauges))
    gauges = all_gauges(scenario)
    frame = pd.DataFrame({"gauge": [*[name.replace("owner", "gauge") for name in names.owners], "gauge-w1"]})
    frame["kind"] = np.array([each.kind for each in gauges], dtype=object)[kind]
    frame["unit"] = np.array([each.unit for each in gauges], dtype=object)[kind]
    frame["resolution"] = np.array([each.resolution for each in gauges], dtype=object)[kind]
    by_shop = (frame["gauge"] == "gauge-w1").to_numpy(dtype=bool)
    frame["checked_on"] = either(by_shop, scenario.start.isoformat(), MISSING)
    return finish("gauges", frame)


def readings_table(progress: Progress, ledger: pd.DataFrame, names: Names) -> pd.DataFrame:
    """Make the readings table, long, in the order of inspections, trials, splines and stations.

    The ledger's blocks are emptied on the way, so that a million shafts fit into memory.
    """
    blocks = progress.inspections.readings
    count = np.zeros((len(ledger), 2), dtype=np.int64)
    for block in blocks:
        count[:, int(block.trial) - 1] += np.bincount(block.inspection, minlength=len(ledger))
    order = np.argsort(ledger["day"].to_numpy(dtype=float), kind="stable")
    start = np.empty(len(ledger), dtype=np.int64)
    total = count.sum(axis=1)
    start[order] = np.cumsum(total[order]) - total[order]
    size = int(total.sum())
    inspection, steps = np.empty(size, dtype=np.int32), np.empty(size, dtype=np.int32)
    spline, station, trial = (np.empty(size, dtype=np.int8) for _ in range(3))
    while blocks:
        block = blocks.pop()
        begins = np.flatnonzero(np.diff(block.inspection, prepend=-1))
        within = np.arange(block.inspection.size) - np.repeat(begins, np.diff(begins, append=block.inspection.size))
        at = start[block.inspection] + within + (count[block.inspection, 0] if block.trial == 2 else 0)
        inspection[at], steps[at], trial[at] = block.inspection, block.steps, block.trial
        spline[at], station[at] = block.spline, block.station
    width = pd.Series(
        typed(steps, ledger["gauge"].to_numpy(dtype=np.int8)[inspection], all_gauges(progress.scenario)), dtype="str"
    )
    del steps
    columns = {
        "inspection": pd.Series(names.inspections[inspection], dtype="str"),
        "spline": spline,
        "station": pd.Series(np.array(STATIONS, dtype=object)[station], dtype="str"),
        "trial": trial,
        "width": width,
    }
    return pd.DataFrame(columns, copy=False)


def fittings_table(fittings: pd.DataFrame, names: Names) -> pd.DataFrame:
    """Make the fittings table from the ledger's rows that are on record."""
    frame = fittings[fittings["recorded"]]
    day = date_text(frame["fit_day"].to_numpy(dtype=float))
    form = frame["date_form"].to_numpy(dtype=np.int64)
    month = np.array([text[:7] for text in day], dtype=object)
    hands = [text_of(names.inspections, frame[f"hand_{k}"].to_numpy(dtype=np.int64)) for k in (1, 2, 3)]
    listed = [";".join(sorted(name for name in row if isinstance(name, str))) for row in zip(*hands, strict=True)]
    went_on = frame["went_on"].to_numpy(dtype=np.int64)
    table = pd.DataFrame(
        {
            "fitting": names.fittings[frame.index],
            "shaft": names.shafts[frame["shaft"]],
            "hub": names.hubs[frame["hub"]],
            "fitted_on": either(form == 0, day, either(form == 1, month, MISSING)),
            "method": np.array(METHODS, dtype=object)[frame["method"].to_numpy(dtype=np.int64)],
            "inspections": np.array(listed, dtype=object),
            "went_on": either(went_on >= 0, np.array(WENT_ON, dtype=object)[went_on], MISSING),
            "pulled_mm": frame["pulled_mm"].to_numpy(),
            "seated": yes(frame["seated"].to_numpy(dtype=bool)),
            "drive_marked": frame["drive_marked"].to_numpy(),
            "coast_marked": frame["coast_marked"].to_numpy(),
            "play_um": whole(frame["play_um"]).array,
            "filing_min": whole(frame["filing_min"]).array,
            "compound": either(frame["compound"].to_numpy(dtype=bool), "marking blue", MISSING),
            "refit_of": text_of(names.fittings, frame["refit_of"].to_numpy(dtype=np.int64)),
            "known_from": date_text(frame["known_from"].to_numpy(dtype=float)),
        }
    )
    return finish("fittings", table)


def policy_change_text(progress: Progress) -> str:
    """First day of the later policy, ISO."""
    return str(date_text(np.array([float(policy_change_day(progress.scenario))]))[0])


def mm_text(value_um: FloatArray) -> TextArray:
    """Write um as mm with three decimals; NaN stays missing."""
    return np.array([f"{from_um(each, 'mm'):.3f}" if each == each else MISSING for each in value_um], dtype=object)
