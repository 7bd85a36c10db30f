"""Licences and sizes of everything that an installed wearstats brings along, from the installed packages themselves.

Run with ``python -m tests.packaging.licences``, with the extra ``pdf`` installed; writes ``licences.md`` beside this.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

PROJECT, EXTRA = "wearstats", "pdf"
TABLE = Path(__file__).with_name("licences.md")
# licences that a program under the MIT licence may be installed and passed on with, notices kept; names as in SPDX
PERMISSIVE = frozenset(
    {"0BSD", "Apache-2.0", "BSD", "BSD-2-Clause", "BSD-3-Clause", "BSD-3-Clause-Open-MPI", "CC0-1.0", "HPND", "ISC"}
    | {"MIT", "MIT-CMU", "PSF-2.0", "Unlicense", "Zlib"}
)
# what older packages write in words; "BSD" alone does not say of how many clauses
WORDS = {
    "2-clause bsd": "BSD-2-Clause",
    "apache software license": "Apache-2.0",
    "bsd 2-clause license": "BSD-2-Clause",
    "bsd license": "BSD",
    "isc license": "ISC",
    "isc license (iscl)": "ISC",
    "mit license": "MIT",
    "python software foundation license": "PSF-2.0",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """An installed package: its licence as it says itself, bytes of its files
    with what Python compiled of them, and who asks for it directly."""

    name: str
    version: str
    licence: str
    size: int
    needed_by: tuple[str, ...]
    only_extra: bool


def can_live_with(licence: str) -> bool:
    """Tell whether some choice that the licence leaves is of permissive licences only; brackets are not read."""
    return any(all(term.strip() in PERMISSIVE for term in choice.split(" AND ")) for choice in licence.split(" OR "))


def licence_of(found: metadata.PackageMetadata) -> str:
    """Give the licence as an SPDX expression, or as near as the package comes to one."""
    if "License-Expression" in found:
        return str(found["License-Expression"])
    classed = [line.split(" :: ")[-1] for line in found.get_all("Classifier") or [] if line.startswith("License ::")]
    written = str(found["License"]).strip() if "License" in found else ""
    for words in (written, *classed):
        name = str(WORDS.get(words.lower(), words))
        if name in PERMISSIVE:
            return name
    return str((written.splitlines() or classed or ["not stated"])[0])


def needs(name: str, extras: frozenset[str]) -> Iterator[Requirement]:
    """Give what a package asks for on this machine."""
    for line in metadata.requires(name) or []:
        wanted = Requirement(line)
        if wanted.marker is None or any(wanted.marker.evaluate({"extra": extra}) for extra in extras | {""}):
            yield wanted


def closure(*extras: str) -> dict[str, set[str]]:
    """Give all packages that wearstats needs, each with those that ask for it."""
    asked: dict[str, set[str]] = {}
    seen: set[tuple[str, frozenset[str]]] = set()
    waiting: list[tuple[str, frozenset[str]]] = [(PROJECT, frozenset(extras))]
    while waiting:
        name, wished = waiting.pop()
        for wanted in needs(name, wished):
            found = str(canonicalize_name(wanted.name))
            asked.setdefault(found, set()).add(name)
            step = (found, frozenset(wanted.extras))
            if step not in seen:
                seen.add(step)
                waiting.append(step)
    return asked


def size_of(found: metadata.Distribution) -> int:
    """Add up the files that the package put on the disk."""
    files = [Path(str(file.locate())) for file in found.files or []]
    return sum(file.stat().st_size for file in files if file.is_file())


def packages(*extras: str) -> list[Package]:
    """Describe all that is needed, in the order of names."""
    core = closure()
    told = []
    for name, askers in sorted(closure(*extras).items()):
        found = metadata.distribution(name)
        told.append(
            Package(
                name=name,
                version=found.version,
                licence=licence_of(found.metadata),
                size=size_of(found),
                needed_by=tuple(sorted(askers)),
                only_extra=name not in core,
            )
        )
    return told


def carried(name: str) -> Iterator[tuple[str, str]]:
    """Give libraries that a package's wheel carries along, as its licence files list them, each with its licence."""
    for file in metadata.distribution(name).files or []:
        if ".dist-info" in str(file) and "licen" in str(file).lower():
            text = Path(str(file.locate())).read_text(encoding="utf-8", errors="replace")
            for part in re.findall(r"^Name: (.+)\n(?:.+\n)*?License: (.+)$", text, flags=re.MULTILINE):
                yield part[0].strip(), part[1].strip()


def page(told: list[Package]) -> str:
    """Write the table."""
    lines = [
        "# Licences and sizes of what wearstats needs\n",
        "Made by `python -m tests.packaging.licences` from the installed packages' own metadata: everything the core",
        f"and the extra `{EXTRA}` need, directly or through another. wearstats itself is under the MIT licence.\n",
        "| package | version | licence | MB on disk | needed by |",
        "|---|---|---|---:|---|",
    ]
    for one in told:
        by = ", ".join(one.needed_by) + (f" (only for `{EXTRA}`)" if one.only_extra else "")
        lines.append(f"| {one.name} | {one.version} | {one.licence} | {one.size / 1e6:.1f} | {by} |")
    core, extra = (sum(one.size for one in told if one.only_extra is only) / 1e6 for only in (False, True))
    lines.append(
        f"\n{len(told)} packages, {core:.0f} MB for the core and {extra:.0f} MB more for `{EXTRA}`. `BSD` stands where "
        "a package does not say\nin its metadata of how many clauses its licence is. Sizes are with what Python "
        "compiled.\n"
    )
    lines.append("Carried along inside wheels and listed in their licence files with a licence of another kind:\n")
    other = [(one.name, *part) for one in told for part in sorted(set(carried(one.name))) if not can_live_with(part[1])]
    lines.extend(f"- {name}: {what}, {licence}" for name, what, licence in other or [("none", "", "")])
    lines.append(
        "\nThese are separate files that the numerical libraries load. The GCC exception leaves programs that use the\n"
        "runtime library under their own licence, and so does the LGPL for a library that can be exchanged. wearstats\n"
        "copies none of them into its own wheel. (As the project reads them, from memory; no\n"
        "lawyer has looked.)"
    )
    return "\n".join(lines) + "\n"


def main() -> None:
    """Write the table."""
    told = packages(EXTRA)
    TABLE.write_text(page(told), encoding="utf-8")
    for one in told:
        if not can_live_with(one.licence):
            sys.stderr.write(f"{one.name}: '{one.licence}'; {', '.join(sorted(PERMISSIVE))}; read its licence file\n")


if __name__ == "__main__":
    main()
