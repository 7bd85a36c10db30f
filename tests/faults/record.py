"""What became of each fault (tries.tsv), which change no answer as judged (equivalent.tsv), and the table of both."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path

from tests.faults.make_faults import Fault
from tests.faults.trying import SEEN, STOPPED, SURVIVED

HERE = Path(__file__).parent
HEADING = "## By room"
KEY = ("file", "line", "at", "old", "new")
COLUMNS = ("room", *KEY, "result", "by")
Key = tuple[str, ...]


class Record:
    """A file of what was tried: the last line about a fault counts.

    Parameters
    ----------
    file : Path
        Made where it is not there.
    """

    def __init__(self, file: Path) -> None:
        self._file = file
        self.rows: dict[Key, dict[str, str]] = {}
        if file.exists():
            with file.open(encoding="utf-8", newline="") as lines:
                for row in csv.DictReader(lines, delimiter="\t"):
                    self.rows[tuple(row[name] for name in KEY)] = row

    def result(self, fault: Fault) -> str | None:
        """Give what became of a fault, None where it was not tried."""
        row = self.rows.get(fault.key)
        return row["result"] if row else None

    def blamed(self) -> list[str]:
        """Name the tests that saw a fault."""
        return [row["by"] for row in self.rows.values() if row["result"] == SEEN]

    def keep(self, room: str, fault: Fault, result: str, by: str) -> None:
        """Write down what became of a fault."""
        row = {"room": room, **dict(zip(KEY, fault.key, strict=True)), "result": result, "by": by}
        self.rows[fault.key] = row
        with self._file.open("w", encoding="utf-8", newline="") as out:
            writer = csv.DictWriter(out, COLUMNS, delimiter="\t", lineterminator="\n")
            writer.writeheader()
            writer.writerows(self.rows.values())


def equivalent() -> dict[Key, str]:
    """Give the faults judged to change no answer, and why."""
    with (HERE / "equivalent.tsv").open(encoding="utf-8", newline="") as lines:
        return {tuple(row[name] for name in KEY): row["why"] for row in csv.DictReader(lines, delimiter="\t")}


def table(rooms: Mapping[str, Sequence[Fault]]) -> str:
    """Write the table, and what survived and is not known to be equivalent."""
    lines = {fault.key: fault.line for faults in rooms.values() for fault in faults}
    tries, judged = Record(HERE / "tries.tsv").rows, equivalent()
    became = {key: _became(row["result"], equivalent=key in judged) for key, row in tries.items()}
    counts = Counter((tries[key]["room"], result) for key, result in became.items())
    told = [_row(room, [counts[room, result] for result in RESULTS]) for room in sorted({room for room, _ in counts})]
    total = [sum(counts[room, result] for room in {room for room, _ in counts}) for result in RESULTS]
    survived = [
        f"- `{key[0]}:{lines.get(key, 0) or 'changed since'}` `{key[3]}` to `{key[4]}`: `{key[1]}`"
        for key in sorted(became, key=lambda key: (key[0], lines.get(key, 0)))
        if became[key] == SURVIVED
    ]
    return "\n".join([
        "| room | tried | seen | stopped | equivalent | survived | of true faults |", "|---|" + "---:|" * 6,
        *told, _row("all", total), "", "## What survived and changes an answer", "", *survived, "",
    ])  # fmt: skip


RESULTS = (SEEN, STOPPED, "equivalent", SURVIVED)


def _became(result: str, *, equivalent: bool) -> str:
    if result in (SEEN, STOPPED):
        return result
    return "equivalent" if equivalent else SURVIVED


def _row(room: str, counts: Sequence[int]) -> str:
    seen, stopped, equal, survived = counts
    part = 100 * survived / max(seen + stopped + survived, 1)
    return f"| {room} | {sum(counts)} | {seen} | {stopped} | {equal} | {survived} | {part:.1f} % |"
