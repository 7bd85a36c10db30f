"""The pages of shafts as files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from wearstats.errors import ReportError
from wearstats.report.rendering.write_files import file_stem, is_there, write_in
from wearstats.studies.shaft.answer import ShaftStudy


def free_paths(folder: Path, shafts: Sequence[str], *, force: bool) -> list[Path]:
    """Name the page of every shaft.

    Parameters
    ----------
    folder : Path
        Where the pages go.
    shafts : sequence of str
        Names of shafts.
    force : bool
        Whether pages that are there may be overwritten.

    Returns
    -------
    list of Path
        One a shaft, all different.

    Raises
    ------
    ReportError
        When a page is there already, or two shafts would have the same one.
    """
    paths = [folder / f"{file_stem('shaft', name)}.html" for name in shafts]
    if len(set(paths)) < len(set(shafts)):
        raise ReportError(f"{folder}: two of these shafts would have pages of the same name; ask for them one by one")
    there = [str(path) for path in dict.fromkeys(paths) if is_there(path)]
    if there and not force:
        raise ReportError(f"{', '.join(there)}: is there already; choose another --out, or say --force to overwrite it")
    return paths


def write_shaft_page(study: ShaftStudy, path: Path, *, invented: bool) -> Path:
    """Write the page of one shaft, in a folder made if needed; give its path, ReportError where that cannot be."""
    # charts take a second to load: only where a page is asked for
    from wearstats.report.page.render import render_page
    from wearstats.report.shaft.page import shaft_page

    text = render_page(shaft_page(study, invented=invented))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_in(path.parent, path.name, text.encode())
    except OSError as refused:
        raise ReportError(f"{path}: cannot be written to ({refused.strerror}); choose another --out") from refused
    return path
