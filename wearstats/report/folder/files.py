"""The pages of shafts as files: one for each that is asked about, or a folder of them with its lists."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final
from urllib.parse import quote

from wearstats.errors import ReportError
from wearstats.report.rendering.write_files import is_there, safe_names, write_in
from wearstats.report.words.phrases import count
from wearstats.studies.shaft.answer import ShaftStudy

if TYPE_CHECKING:
    from wearstats.second_process import SecondProcess
    from wearstats.studies.shaft_pages import ShaftPages
    from wearstats.studies.shaft_photos import ShaftPhoto

SHAFTS: Final = "shafts"
INDEX: Final = "index.html"
WARN: Final = "warn.html"
REPORT: Final = "report.html"

LINKS: Final = ((REPORT, "The whole picture"), (INDEX, "All shafts"), (WARN, "Whom to warn"))
"""The pages beside those of the shafts, and what they are called."""

_WORTH_A_PROCESS: Final = 60


def folder_paths(out: Path) -> list[Path]:
    """List what is written beside the report."""
    return [out / INDEX, out / WARN, out / SHAFTS]


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
        When a page is there already.
    """
    names = safe_names(shafts)
    paths = [folder / f"shaft-{names[shaft]}.html" for shaft in shafts]
    there = [str(path) for path in dict.fromkeys(paths) if is_there(path)]
    if there and not force:
        raise ReportError(f"{', '.join(there)}: is there already; choose another --out, or say --force to overwrite it")
    return paths


def write_shaft_page(
    study: ShaftStudy,
    path: Path,
    *,
    invented: bool,
    owner: str = "",
    links: Sequence[tuple[str, str]] = (),
    photos: Sequence[ShaftPhoto] = (),
) -> Path:
    """Write the page of one shaft, in a folder made if needed; give its path, ReportError where that cannot be."""
    # what draws takes a second to load: only where a page is asked for
    from wearstats.report.folder.render import render
    from wearstats.report.folder.shaft_page import shaft_page

    text = render(shaft_page(study, invented=invented, owner=owner, photos=photos), "shaft", links=links)
    with _told(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_in(path.parent, path.name, text.encode())
    return path


def write_folder(asked: ShaftPages, out: Path, *, second: SecondProcess) -> list[str]:
    """Write the pages of all shafts and the lists, beside the report.

    Parameters
    ----------
    asked : ShaftPages
        The answers.
    out : Path
        A folder that is there; files in it are overwritten.
    second : SecondProcess
        Half of the pages are written there.

    Returns
    -------
    list of str
        A line for each file or folder written, to be printed.

    Raises
    ------
    ReportError
        When a file cannot be written.
    """
    from wearstats.report.folder.lists import index_page, warn_page
    from wearstats.report.folder.render import render

    studies, folder = asked.shafts.studies, out / SHAFTS
    names = safe_names(study.shaft for study in studies)
    with _told(folder):
        folder.mkdir(exist_ok=True)
    half = len(studies) // 2 if len(studies) >= _WORTH_A_PROCESS else 0
    facts = (folder, names, asked.owners, asked.photos, asked.invented)
    other = second.begin(_write_pages, studies[:half], *facts) if half else None
    written = _write_pages(studies[half:], *facts)
    hrefs = {shaft: f"{SHAFTS}/{quote(name)}.html" for shaft, name in names.items()}
    with _told(out):
        index = render(index_page(asked, hrefs), "index", links=_but(INDEX), script="search.js")
        write_in(out, INDEX, index.encode())
        write_in(out, WARN, render(warn_page(asked, hrefs), "warn", links=_but(WARN)).encode())
    written += 0 if other is None else other()
    return [
        f"All shafts: {out / INDEX}",
        f"Whom to warn: {out / WARN}",
        f"The shafts: {count(written, 'page')} in {folder}",
    ]


def _write_pages(
    studies: Sequence[ShaftStudy],
    folder: Path,
    names: Mapping[str, str],
    owners: Mapping[str, str],
    photos: Mapping[str, Sequence[ShaftPhoto]],
    invented: bool,
) -> int:
    links = tuple((f"../{href}", words) for href, words in LINKS)
    for study in studies:
        path, owner = folder / f"{names[study.shaft]}.html", owners.get(study.shaft, "")
        own = photos.get(study.shaft, ())
        write_shaft_page(study, path, invented=invented, owner=owner, links=links, photos=own)
    return len(studies)


def _but(name: str) -> tuple[tuple[str, str], ...]:
    return tuple(link for link in LINKS if link[0] != name)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as refused:
        raise ReportError(f"{path}: cannot be written to ({refused.strerror}); choose another --out") from refused
