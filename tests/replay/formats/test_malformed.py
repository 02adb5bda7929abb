"""Whatever a file holds: the end is a result or a BadInput of one line, never another exception, never a hang."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dualduty.errors import BadInput, SeveralBadInputs
from replay.channels.channel_map import TimeBase
from replay.open_log import open_log
from replay.open_loop import replay
from replay.open_recording import open_recording
from tests.replay.formats.made_up_files import write_mdf, write_parquet
from tests.replay.made_up_logs import Remembers, frame, write_map

FOLDER: Final = Path(tempfile.mkdtemp())
MAP: Final = write_map(FOLDER)
CSV: Final = frame(12).to_csv(index=False).encode()
GERMAN: Final = "Gerät;1;;\nt;a;b;mode\n[s];[mm];[°/s];-\n0,0;1,5;2;ein\n0,5;2,5;3;aus\n1,0;3,5;4;\n".encode("cp1252")
PARQUET: Final = write_parquet(FOLDER / "good.parquet", samples=60, row_group=25).read_bytes()
MDF: Final = write_mdf(FOLDER / "good.mf4", samples=60, compression=1).read_bytes()
MDF3: Final = write_mdf(FOLDER / "good.mdf", samples=60, version="3.30").read_bytes()
FILES: Final = {"csv": CSV, "german": GERMAN, "parquet": PARQUET, "mdf": MDF, "mdf3": MDF3}


def zipped(data: bytes) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("run.csv", data)
    return held.getvalue()


ARCHIVES: Final = {
    "gzip": gzip.compress(CSV),
    "bzip2": bz2.compress(CSV),
    "xz": lzma.compress(CSV),
    "zip": zipped(CSV),
    "zip of mdf": zipped(MDF),
}

cells = st.one_of(
    st.floats().map(str),
    st.sampled_from(
        [
            "",
            " ",
            "nan",
            "-inf",
            "1e999",
            "0x1F",
            "1_0",
            "True",
            "1,5",
            "1.234,5",
            '"',
            "'",
            "#",
            "\t",
            ";",
            "é",
            "\ufeff",
            "\0",
            "1.2.3",
            "-",
        ]
    ),
    st.sampled_from(["0", "1", "2.5", "3", "2031-05-01T10:00:00Z", "12:00:01.5", "9999-99-99", "25:61:00", "٣", "1e5", "+.5"]),
)
lines = st.one_of(st.lists(cells, min_size=8, max_size=8), st.lists(cells, max_size=10))
edits = st.lists(
    st.tuples(st.sampled_from(["set", "cut", "insert", "swap", "end"]), st.integers(0, 10**9), st.binary(max_size=9)), max_size=4
)


def told(error: BadInput, path: Path) -> str:
    """The error, which says in one line, or a line for each problem, what is wrong with which file."""
    problems = error.problems if isinstance(error, SeveralBadInputs) else [error]
    assert all(str(problem).startswith(str(path)) and "\n" not in str(problem) for problem in problems)
    return str(error)


def outcome(content: bytes, name: str = "run.bin", time: TimeBase | None = None) -> str:
    """`read`, or the line of the error; anything else is raised."""
    path = FOLDER / "session" / name
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(content)
    where = path if time is None else path.parent
    try:
        recording = open_recording(where, time=time)
        for index, group in enumerate(recording.groups):
            for block in recording.blocks(index, group.names[:3], group.names[-2:]):
                assert all(len(column) == len(block.lines) for column in (*block.numbers.values(), *block.texts.values()))
                assert block.stamps is None or len(block.stamps) == len(block.lines)
    except BadInput as error:
        return told(error, where)
    return "read"


def replayed(content: bytes) -> str:
    """As `outcome`, through a channel map and into a controller."""
    path = FOLDER / "run.csv"
    path.write_bytes(content)
    try:
        log = open_log(path, MAP)
        ticks = sum(chunk.ticks for chunk in replay(log, Remembers(dt=0.05)))
    except BadInput as error:
        return told(error, path)
    assert ticks >= 1
    return "read"


def edited(content: bytes, changes: list[tuple[str, int, bytes]]) -> bytes:
    for kind, at, new in changes:
        here = at % max(len(content), 1)
        if kind == "set":
            content = content[:here] + new + content[here + len(new) :]
        elif kind == "cut":
            content = content[:here] + content[here + len(new) :]
        elif kind == "insert":
            content = content[:here] + new + content[here:]
        elif kind == "swap":
            half = len(content[here:]) // 2
            content = content[:here] + content[here + half :] + content[here : here + half]
        else:
            content = content[:here]
    return content


def bounded(cases: int) -> Any:
    return settings(max_examples=cases, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))


def made_up_rows(rows: list[list[str]], delimiter: str, end: str) -> str:
    head = CSV.split(b"\n")[0].decode().replace(",", delimiter)
    return replayed((head + end + end.join(delimiter.join(row) for row in rows)).encode("utf-8", errors="surrogatepass"))


def with_edits(name: str, changes: list[tuple[str, int, bytes]]) -> str:
    return outcome(edited(FILES[name], changes))


def archive_with_edits(name: str, changes: list[tuple[str, int, bytes]]) -> str:
    return outcome(edited(ARCHIVES[name], changes))


def packed_after_edits(name: str, changes: list[tuple[str, int, bytes]]) -> str:
    return outcome(gzip.compress(edited(FILES[name], changes), 1))


def beside_a_good_one(changes: list[tuple[str, int, bytes]]) -> str:
    (FOLDER / "session" / "good.csv").write_bytes(CSV)
    try:
        return outcome(edited(CSV, changes), "other.csv", TimeBase(("t",)))
    finally:
        for path in (FOLDER / "session").iterdir():
            path.unlink()


CASES: Final[dict[str, tuple[Callable[..., str], tuple[Any, ...], int, int]]] = {
    # what is done, what is drawn, cases in the fast suite and in the slow one
    "rows under a good header": (
        made_up_rows, (st.lists(lines, max_size=5), st.sampled_from([",", ";", "\t", "|", " "]), st.sampled_from(["\n", "\r\n", "\r"])),
        20, 900,
    ),
    "bytes that are no log": (outcome, (st.binary(max_size=200),), 10, 500),
    "text that is no log": (lambda text: outcome(text.encode("utf-8", "replace")), (st.text(max_size=120),), 10, 500),
    "a good log, replayed": (lambda changes: replayed(edited(CSV, changes)), (edits,), 10, 700),
    "files with some bytes changed": (with_edits, (st.sampled_from(list(FILES)), edits), 30, 2000),
    "archives with some bytes changed": (archive_with_edits, (st.sampled_from(list(ARCHIVES)), edits), 15, 700),
    "changed and then packed": (packed_after_edits, (st.sampled_from(list(FILES)), edits), 5, 300),
    "beside a good one in a folder": (beside_a_good_one, (edits,), 5, 300),
}  # fmt: skip


def run(name: str, cases: int) -> None:
    does, drawn, *_ = CASES[name]

    def once(values: tuple[Any, ...]) -> None:
        does(*values)

    bounded(cases)(given(st.tuples(*drawn))(once))()


@pytest.mark.parametrize("name", CASES)
def test_a_few_of_everything(name: str) -> None:
    run(name, CASES[name][2])


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_many_of_everything(name: str) -> None:
    run(name, CASES[name][3])


def test_a_run_of_the_slow_suite_has_at_least_5000_cases() -> None:
    assert sum(cases for *_, cases in CASES.values()) >= 5000


@pytest.mark.parametrize("name", FILES)
def test_the_good_files_are_read(name: str) -> None:
    assert outcome(FILES[name]) == "read"


@pytest.mark.parametrize("at", [*range(0, len(CSV), 37), len(CSV)])
def test_a_log_cut_off_anywhere_is_read_up_to_there_or_empty(at: int) -> None:
    path = FOLDER / "cut.csv"
    path.write_bytes(CSV[:at])
    whole_lines = CSV[:at].rstrip(b"\r\n").split(b"\n")
    if len(whole_lines) > 2 and whole_lines[-1].count(b",") < 7:
        assert [notice.kind for notice in open_recording(path).opening] == ["cut line"]
    else:
        assert replayed(CSV[:at])
