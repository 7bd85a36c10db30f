"""Who has a hub of a batch, on a terminal and in full."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Final

import pandas as pd

from wearstats.report.rendering.short_answer import ShortAnswer, SmallTable
from wearstats.report.rendering.spreadsheet import write_rows
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.words.cautions import SHORT_CAUTIONS
from wearstats.report.words.phrases import in_hundred, joined, sentence, undersize
from wearstats.studies.forecast.running_frame import days_written
from wearstats.studies.review.batch import BatchStudy, Place

_ROWS: Final = 6
PLACE_WORDS: Final = {
    Place.IN_USE: "in use",
    Place.SENT: "sent, no word",
    Place.OFF: "came off, not back",
    Place.BACK: "came back",
    Place.SHELF: "on the shelf",
}


def batch_answer(study: BatchStudy) -> ShortAnswer:
    """Say who has one, and whether the batch is withdrawn."""
    held = study.with_owners
    body: list[str | SmallTable] = []
    if len(held):
        body.append(_small_table(held.head(_ROWS), withdrawn=study.withdrawn))
    body += [sentence(line) for line in _stated(study)]
    return ShortAnswer(
        question="Who has hubs of batch {}?",
        about=study.batch,
        verdict=_verdict(study),
        body=tuple(body),
        cautions=SHORT_CAUTIONS if len(held) else (),
        foot="",
        more=f"all {len(held)}: wearstats calls --batch {shlex.quote(study.batch)} --full, or --export batch.csv"
        if len(held) > _ROWS
        else "",
        urgent=study.withdrawn and bool(len(held)),
    )


def _verdict(study: BatchStudy) -> str:
    counts, held = study.counts(), study.with_owners
    parts = [
        f"{counts[place]} {PLACE_WORDS[place]}" for place in (Place.IN_USE, Place.SENT, Place.OFF) if counts[place]
    ]
    if not parts:
        return f"nobody; {counts[Place.SHELF]} on the shelf"
    untold = int((~held["told"]).sum())
    warned = f"; {'none' if untold == len(held) else len(held) - untold} warned" if study.withdrawn and untold else ""
    return f"{joined(parts)}{warned}"


def _stated(study: BatchStudy) -> list[str]:
    counts, name = study.counts(), shlex.quote(study.batch)
    here = f"{counts[Place.SHELF]} on the shelf, {counts[Place.BACK]} more came back"
    if not study.withdrawn:
        return [here, f'not withdrawn; to record that: wearstats calls --batch {name} --withdraw "why"']
    since = "" if study.withdrawn_on is None else f" on {study.withdrawn_on}"
    why = f": {study.withdrawn_because}" if study.withdrawn_because else ""
    lines = [f"withdrawn{since}{why}; {here}"]
    untold = not study.with_owners["told"].all()
    return [*lines, *(["whoever was warned is recorded with: wearstats calls --warned SHAFT"] if untold else [])]


def _small_table(rows: pd.DataFrame, *, withdrawn: bool) -> SmallTable:
    head = ("owner", "shaft", "hub", "where", "since", "in 100 loose soon", "warned")
    wanted = len(head) if withdrawn else -1
    return SmallTable(
        head=head[:wanted], rows=tuple(cells[:wanted] for cells in _cells(rows)), left=frozenset({0, 1, 2, 3})
    )


def _cells(rows: pd.DataFrame) -> list[tuple[str, ...]]:
    wanted = rows[["owner", "shaft", "hub", "place", "since", "risk", "told"]]
    return [
        (
            "" if pd.isna(owner) else str(owner),
            "" if pd.isna(shaft) else str(shaft),
            str(hub),
            PLACE_WORDS[place],
            "" if pd.isna(since) else f"{since:%Y-%m-%d}",
            "" if pd.isna(risk) else in_hundred(risk),
            "yes" if told else "no",
        )
        for owner, shaft, hub, place, since, risk, told in wanted.itertuples(index=False)
    ]


def batch_sentences(study: BatchStudy) -> list[str]:
    """Say everything in words."""
    made = "" if study.quantity is None else f"{study.quantity} made"
    size = "" if study.undersize_um is None else f"pattern {study.pattern}, undersize {undersize(study.undersize_um)}"
    first = ", ".join(filter(None, [f"batch {study.batch}", size, made]))
    return [sentence(line) for line in (first, _verdict(study), *_stated(study))]


def batch_table(study: BatchStudy) -> DataTable:
    """Print every hub of the batch that has a number."""
    names = ("owner", "shaft", "hub", "place", "since", "risk", "told")
    rows = pd.DataFrame(_cells(study.hubs), columns=names)
    heads = ("owner", "shaft", "hub", "where", "since", "loose within a quarter, in 100", "warned")
    return table_of(rows, caption=f"Hubs of batch {study.batch}", columns=dict(zip(names, heads, strict=True)))


def write_batch(study: BatchStudy, path: Path) -> Path:
    """Write every hub of the batch, .csv or .xlsx; errors as of `write_rows`."""
    rows = days_written(study.hubs).assign(place=study.hubs["place"].map(PLACE_WORDS), batch=study.batch)
    return write_rows(rows, path, sheet="batch")
