"""Programs killed in the middle and files spoiled: the committed tables hold, and a part of each is done again."""

import re
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
TOP = HERE.parents[1]


def again(room: str, count: int, to: Path) -> str:
    """Run a part of a study by itself: its children are forked from a process that never opened a store."""
    command = [sys.executable, "-m", f"tests.robustness.{room}", str(count), str(to)]
    ran = subprocess.run(command, cwd=TOP, capture_output=True, text=True, timeout=300, check=False)
    assert ran.returncode == 0, ran.stderr[-2000:]
    return to.read_text(encoding="utf-8")


def told(text: str, pattern: str) -> int:
    found = re.search(pattern, " ".join(text.split()))
    assert found is not None, pattern
    return int(found[1])


def test_the_committed_kills_are_as_many_as_promised() -> None:
    text = (HERE / "kills.md").read_text(encoding="utf-8")
    assert told(text, r"(\d+) programs killed") >= 300
    assert told(text, r"(\d+) of them inside an open transaction") >= 50


def test_a_few_programs_killed_leave_whole_stores(tmp_path: Path) -> None:
    assert told(again("killing", 8, tmp_path / "kills.md"), r"(\d+) programs killed") == 8


def test_the_committed_fuzz_found_nothing_unsaid() -> None:
    text = (HERE / "fuzz.md").read_text(encoding="utf-8")
    assert told(text, r"(\d+) cases,") >= 20_000
    assert told(text, r"(\d+) ended in anything but") == 0


def test_a_few_hundred_spoiled_files_end_in_an_answer_or_an_error_of_ours(tmp_path: Path) -> None:
    text = again("fuzz", 200, tmp_path / "fuzz.md")
    assert told(text, r"(\d+) ended in anything but") == 0, text[-2000:]
