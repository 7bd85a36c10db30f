"""Rows of the small reference tables; lines that begin with # say where a table comes from."""

import csv
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[1] / "reference"


def reference_rows(name: str) -> list[dict[str, str]]:
    lines = (FOLDER / name).read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("#"), f"{name} does not say where it comes from"
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))
