"""Whatever stands in a CSV log: the end is a result or a BadInput of one line, never another exception."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dualduty.errors import BadInput, SeveralBadInputs
from replay.csv_log import open_csv
from replay.open_loop import replay
from tests.replay.made_up_logs import Remembers, frame, write_map

GOOD = frame(12).to_csv(index=False).encode()
FOLDER = Path(tempfile.mkdtemp())
MAP = write_map(FOLDER)
BOUNDED = settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))

cells = st.one_of(
    st.floats().map(str),
    st.sampled_from(
        ["", " ", "nan", "-inf", "1e999", "0x1F", "1_0", "True", "1,5", '"', "'", "#", "\t", ";", "é", "\ufeff", "\0", "1.2.3", "-", "٣"]
    ),
    st.sampled_from(["0", "1", "2.5", "3"]),
)
lines = st.one_of(st.lists(cells, min_size=8, max_size=8), st.lists(cells, max_size=10)).map(",".join)


def outcome(content: bytes) -> str:
    """`read` or the one line of the error; anything else is raised."""
    path = FOLDER / "run.csv"
    path.write_bytes(content)
    try:
        ticks = sum(chunk.ticks for chunk in replay(open_csv(path, MAP), Remembers(dt=0.05)))
    except BadInput as error:
        problems = error.problems if isinstance(error, SeveralBadInputs) else [error]
        assert all(str(problem).startswith(str(path)) and "\n" not in str(problem) for problem in problems)
        return str(error)
    assert ticks >= 1
    return "read"


@BOUNDED
@given(st.lists(lines, max_size=5), st.sampled_from(["\n", "\r\n", "\r"]))
def test_made_up_rows_under_a_good_header(rows: list[str], end: str) -> None:
    outcome(GOOD.split(b"\n")[0] + end.encode() + end.join(rows).encode("utf-8", errors="surrogatepass"))


@BOUNDED
@given(st.integers(0, len(GOOD) - 1), st.binary(max_size=12), st.integers(0, 12))
def test_a_good_log_with_some_bytes_replaced(at: int, inserted: bytes, removed: int) -> None:
    outcome(GOOD[:at] + inserted + GOOD[at + removed :])


@BOUNDED
@given(st.binary(max_size=200))
def test_bytes_that_are_no_log(content: bytes) -> None:
    assert outcome(content) != "read"


@BOUNDED
@given(st.integers(0, len(GOOD)))
def test_a_log_cut_off_anywhere_is_read_or_said_to_be_cut(at: int) -> None:
    told = outcome(GOOD[:at])
    whole_lines = GOOD[:at].rstrip(b"\r\n").split(b"\n")
    if len(whole_lines) > 1 and whole_lines[-1].count(b",") < 7:
        assert "cut off" in told


def test_the_good_log_is_read() -> None:
    assert outcome(GOOD) == "read"
