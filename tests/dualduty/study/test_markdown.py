"""Only what stands between markers is written anew."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput
from dualduty.study.markdown import spread, table, write_made

FRESH = "# Title\n\n<!-- made: a -->\n<!-- end -->\n\ntail\n"


def test_words_by_hand_stay(tmp_path: Path) -> None:
    path = tmp_path / "doc.md"
    write_made(path, {"a": "one"}, FRESH)
    path.write_text(path.read_text(encoding="utf-8").replace("tail", "by hand"), encoding="utf-8")
    write_made(path, {"a": "two"}, FRESH)
    assert path.read_text(encoding="utf-8") == "# Title\n\n<!-- made: a -->\n\ntwo\n\n<!-- end -->\n\nby hand\n"


def test_a_missing_marker_is_one_line(tmp_path: Path) -> None:
    path = tmp_path / "doc.md"
    path.write_text("# Title\n", encoding="utf-8")
    with pytest.raises(BadInput, match=r"expected a stretch from <!-- made: a -->"):
        write_made(path, {"a": "one"}, FRESH)
    assert path.read_text(encoding="utf-8") == "# Title\n"


def test_tables_and_spreads() -> None:
    assert table(["a", "b"], [["x", "1"]]) == "| a | b |\n| --- | ---: |\n| x | 1 |"
    assert table(["a"], []) == "None."
    assert spread([-0.1, 0.02, 0.03]) == ["+20", f"{1e3 * float(np.percentile([-0.1, 0.02, 0.03], 90)):+.0f}", "+30"]
    assert spread([-0.1, 0.02, 0.03], "worst")[2] == "-100"
    assert spread([]) == ["-", "-", "-"]
