"""`try` says where a damper moved faster than it was ever tested."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

Command = Callable[..., tuple[int, str, str]]


def test_a_damper_beyond_its_tested_speeds_is_told(work: Path, run: Command) -> None:
    asked = ("try", "berm_support", "--section", "kicker_jump", "--mode", "dash", "--no-logs", "--quiet")
    _, out, _ = run(*asked)
    assert "faster than it was tested" not in out
    for table in (work / "vehicles").glob("marram_*.csv"):  # as if nobody had tested beyond 0.8 m/s
        lines = table.read_text(encoding="utf-8").splitlines()
        kept = [line for line in lines if not line[0].isdigit() or float(line.split(",")[0]) <= 0.8]
        table.write_text("\n".join(kept) + "\n", encoding="utf-8")
    _, out, _ = run(*asked)
    assert "dash, kicker_jump: a damper moves faster than it was tested: baseline " in out
    assert "its force is extrapolated there" in out
