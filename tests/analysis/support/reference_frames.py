"""Reference tables as frames; lines that begin with # say where a table comes from."""

from pathlib import Path

import pandas as pd

FOLDER = Path(__file__).resolve().parents[2] / "reference"


def reference_frame(name: str) -> pd.DataFrame:
    path = FOLDER / name
    assert path.read_text(encoding="utf-8").startswith("#"), f"{name} does not say where it comes from"
    return pd.read_csv(path, comment="#")
