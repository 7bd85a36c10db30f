"""Faults are made where something is worked out, and each changes one place."""

from __future__ import annotations

import ast
from pathlib import Path

from tests.faults.make_faults import faults_of

CODE = '''"""Text with 1 < 2."""
import math

LIMIT: float = 0.5


def share(a: float, b: float = 2.0) -> float:
    """Give it; 3 stays."""
    if a < 0 and not math.isnan(b):
        raise ValueError(f"a is {a + 1}")
    return max(a - b, -1.0) / 4
'''


def test_each_kind_is_made_once_and_still_reads(tmp_path: Path) -> None:
    (tmp_path / "µ.py").write_text(CODE, encoding="utf-8")
    found = faults_of(Path("µ.py"), root=tmp_path)
    made = {(fault.line, fault.old, fault.new) for fault in found}
    assert made == {
        (4, "0.5", "0.55"),
        (7, "2.0", "2.2"),
        (9, "<", "<="),
        (9, "0", "1"),
        (9, "and", "or"),
        (9, "not ", ""),
        (11, "max", "min"),
        (11, "-", "+"),
        (11, "-", ""),
        (11, "1.0", "1.1"),
        (11, "/", "*"),
        (11, "4", "5"),
    }
    for fault in found:
        changed = fault.put_into(CODE)
        ast.parse(changed)
        assert len(changed) - len(CODE) == len(fault.new) - len(fault.old)
