"""Full disks, places that may only be read, spoiled files: told for what they are, and nothing is lost."""

import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import duckdb
import pytest
from typer.testing import CliRunner, Result

from tests.store.support.small_store import fitting, make_store
from wearstats.cli.main import app
from wearstats.store.archive.backup import backup_store
from wearstats.store.database.connection import Store, open_store
from wearstats.store.database.failures import refusals_told

HERE = Path(__file__).parent
TOP = HERE.parents[1]


def _run(store: Path, *arguments: str | Path) -> Result:
    return CliRunner().invoke(app, ["store", *map(str, arguments), "--store", str(store)])


def _hub_fitted_later(folder: Path) -> Path:
    """Write down a hub that the backup does not know."""
    row = fitting("F9", "H2", "2026-06-01")
    file = folder / "fittings.csv"
    file.write_text(",".join(row) + "\n" + ",".join(map(str, row.values())) + "\n", "utf-8")
    return file


def _added(store: Path, folder: Path) -> Result:
    return _run(store, "add", _hub_fitted_later(folder), "--as-of", "2026-06-10")


def _spoil(path: Path, table: str) -> None:
    """Flip a bit of a block that holds a table's rows."""
    with open_store(path) as store:
        place = store.value(
            f"select min(block_id) from pragma_storage_info('{table}') "
            "where block_id >= 0 and segment_type <> 'VALIDITY'"
        )
    content = bytearray(path.read_bytes())
    # three headers of 4096 bytes stand before the blocks
    content[3 * 4096 + place * 262144 + 100] ^= 1
    path.write_bytes(content)


def _told(text: str, pattern: str) -> int:
    found = re.search(pattern, " ".join(text.split()))
    assert found is not None, pattern
    return int(found[1])


def test_the_committed_table_is_of_many_disks() -> None:
    text = (HERE / "bad_disks.md").read_text(encoding="utf-8")
    assert _told(text, r"(\d+) jobs met a limit") >= 200
    assert _told(text, r"(\d+) stores and logs were spoiled") >= 200


@pytest.mark.slow
def test_a_few_full_disks_and_spoiled_files_lose_nothing(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "tests.robustness.bad_disks", "6", str(tmp_path / "bad_disks.md")]
    ran = subprocess.run(command, cwd=TOP, capture_output=True, text=True, timeout=300, check=False)
    assert ran.returncode == 0, ran.stderr[-2000:]
    assert _told((tmp_path / "bad_disks.md").read_text(encoding="utf-8"), r"(\d+) stores and logs") == 6


@pytest.fixture
def small_disk() -> Iterator[list[str]]:
    """Give how to run a shell in which a disk of 12 MB is mounted; skipped where this system lets nobody do so."""
    disk = tempfile.mkdtemp()
    alone = ["unshare", "--user", "--map-root-user", "--mount", "sh", "-ec"]
    mount = f"mount -t tmpfs -o size=12m tmpfs '{disk}'; cd '{disk}'; "
    if shutil.which("unshare") is None or subprocess.run([*alone, mount], capture_output=True, check=False).returncode:
        pytest.skip("no disk can be mounted here")
    yield [*alone, mount]
    shutil.rmtree(disk)


_ON_A_SMALL_DISK = """
cp "$1" kept.duckdb
program="$2 -m wearstats"
dd if=/dev/zero of=filler bs=1k 2>/dev/null || true
status=0; $program store add "$3" --as-of 2026-06-10 --store kept.duckdb || status=$?
echo "add ended with $status"
$program store backup saved.duckdb --store kept.duckdb || echo "backup ended with $?"
test ! -e saved.duckdb
rm filler
$program store check --store kept.duckdb --as-of 2026-05-31
$program store add "$3" --as-of 2026-06-10 --store kept.duckdb
$program store info --store kept.duckdb
"""


def _on(small_disk: list[str], script: str, *given: str | Path) -> subprocess.CompletedProcess[str]:
    """Run a script on the small disk; ``$1`` and so on are what is given."""
    return subprocess.run(
        [*small_disk[:-1], small_disk[-1] + script, "sh", *map(str, given)],
        capture_output=True,
        text=True,
        check=False,
        env={"PYTHONPATH": str(TOP), "PATH": "/usr/sbin:/usr/bin:/sbin:/bin"},
    )


def test_a_disk_that_is_really_full(small_disk: list[str], tmp_path: Path) -> None:
    path = make_store(tmp_path / "kept.duckdb")
    ran = _on(small_disk, _ON_A_SMALL_DISK, path, sys.executable, _hub_fitted_later(tmp_path))
    said = ran.stdout + ran.stderr
    assert ran.returncode == 0, said
    assert "add ended with 4" in ran.stdout, said
    assert "there is no room (Could not write file" in ran.stderr
    assert "No space left on device" in ran.stderr
    assert "the store holds what it held before" in ran.stderr
    assert "backup ended with 4" in ran.stdout
    assert "saved.duckdb: there is no room" in ran.stderr
    assert "make room or choose another place" in ran.stderr
    assert "1 accepted" in ran.stdout
    assert "Traceback" not in said


def test_a_damaged_store_is_told_and_brought_back(tmp_path: Path) -> None:
    path, backup = make_store(tmp_path / "kept.duckdb"), tmp_path / "saved.duckdb"
    backup_store(path, backup)
    assert _added(path, tmp_path).exit_code == 0
    _spoil(path, "readings")
    damaged = path.read_bytes()
    checked = _run(path, "check")
    assert checked.exit_code == 4
    assert "kept.duckdb: is damaged (" in checked.stderr
    assert "store backup FILE" in checked.stderr
    assert "store restore BACKUP" in checked.stderr
    assert _run(path, "backup", tmp_path / "again.duckdb").exit_code == 4
    assert not (tmp_path / "again.duckdb").exists()
    brought = _run(path, "restore", backup, "--force")
    assert brought.exit_code == 0, brought.output
    assert "Its last files: intake 1, added on 2026-02-01: " in brought.stdout
    assert "Missing now: intake 2, added on 2026-06-10: fittings.csv, fittings, 1 row" in brought.stdout
    assert "add again what is missing (1 file); nothing counts twice" in brought.stderr
    (kept,) = tmp_path.glob("kept-replaced-*.duckdb")
    assert kept.read_bytes() == damaged
    assert _added(path, tmp_path).exit_code == 0
    with open_store(path) as store:
        assert store.value("select count(*) from fittings where fitting = 'F9'") == 1


def test_of_a_store_that_cannot_be_asked_it_is_said_where_the_backup_ends(tmp_path: Path) -> None:
    path, backup = make_store(tmp_path / "kept.duckdb"), tmp_path / "saved.duckdb"
    backup_store(path, backup)
    path.write_bytes(b"\0" * 9000)
    brought = _run(path, "restore", backup, "--force")
    assert brought.exit_code == 0, brought.output
    assert "Missing now" not in brought.stdout
    assert "cannot be told" in brought.stdout
    assert "add again what was added since the last files named here" in brought.stdout
    assert "is kept as" in brought.stdout


def test_what_is_replaced_is_kept_where_no_file_is_lost_either(tmp_path: Path) -> None:
    path, backup = make_store(tmp_path / "kept.duckdb"), tmp_path / "saved.duckdb"
    backup_store(path, backup)
    brought = _run(path, "restore", backup, "--force")
    assert "Missing now" not in brought.stdout
    # advice, and rows dismissed, came with no file
    assert "kept as" in brought.stdout
    assert len([*tmp_path.glob("kept-replaced-*.duckdb")]) == 1


_IN_A_PLACE_TO_READ_ONLY = """
cp "$1" kept.duckdb
mount -o remount,ro .
program="$2 -m wearstats"
$program store info --store kept.duckdb | head -1
$program store check --store kept.duckdb --as-of 2026-05-31
for what in "add $3" "backup saved.duckdb" "restore $1 --force" "new --force" "export folder" "info --update"; do
    status=0; $program store $what --store kept.duckdb || status=$?
    echo "$what ended with $status"
done
cmp "$1" kept.duckdb
"""


def test_a_place_that_may_only_be_read(small_disk: list[str], tmp_path: Path) -> None:
    path = make_store(tmp_path / "kept.duckdb")
    ran = _on(small_disk, _IN_A_PLACE_TO_READ_ONLY, path, sys.executable, _hub_fitted_later(tmp_path))
    said = ran.stdout + ran.stderr
    assert ran.returncode == 0, said
    assert "kept.duckdb: store of version" in ran.stdout
    assert ran.stdout.count("ended with 4") == 6, said
    for told in (
        "kept.duckdb: may not be opened (Read-only file system); check the permissions",
        "saved.duckdb: may not be written (Read-only file system); choose another place",
        "folder: cannot be written to (Read-only file system); choose another place",
    ):
        assert told in ran.stderr, said
    assert "Traceback" not in said
    assert "restore a backup" not in said


def test_what_stands_only_in_the_log_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = make_store(tmp_path / "kept.duckdb")
    real = Store.execute

    def full(self: Store, sql: str, params: Mapping[str, Any] | None = None) -> None:
        if sql == "checkpoint":
            with refusals_told(self.path):
                raise duckdb.IOException(f'IO Error: Could not write file "{self.path}": No space left on device')
        real(self, sql, params)

    monkeypatch.setattr(Store, "execute", full)
    added = _added(path, tmp_path)
    assert added.exit_code == 0
    assert "stands only in the log kept.duckdb.wal beside the store" in added.stderr
    assert "No space left on device" in added.stderr
    assert "holds what it held before" not in added.stderr
    monkeypatch.undo()
    with open_store(path) as store:
        assert store.value("select count(*) from fittings where fitting = 'F9'") == 1


def test_readings_changed_where_no_digest_sees_it_are_told(tmp_path: Path) -> None:
    path, backup = make_store(tmp_path / "kept.duckdb"), tmp_path / "saved.duckdb"
    backup_store(path, backup)
    with duckdb.connect(str(path)) as connection:
        connection.execute(
            "update readings set width_tenth_um = width_tenth_um + 1 where inspection = 'I1' and spline = 3"
        )
    for asked in (["check"], ["backup", tmp_path / "again.duckdb"]):
        told = _run(path, *asked)
        assert told.exit_code == 4
        assert "the readings of 1 inspection do not give the sums kept beside them, first I1" in told.stderr
        assert "store restore BACKUP" in told.stderr
    assert not (tmp_path / "again.duckdb").exists()
    assert _run(path, "restore", backup, "--force").exit_code == 0
    assert _run(path, "check").exit_code in {0, 6}
