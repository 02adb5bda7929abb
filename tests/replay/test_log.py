"""A log of several clocks in SI: streams in order of time, samples out of order set aside and told, raw samples beside the ticks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.array_log import log_of_arrays
from replay.channels.channel_map import Channel, ChannelMap, ModeSource, TimeBase, resolve
from replay.channels.mounting import Mounting
from replay.log import Log, LogPart
from replay.open_loop import replay
from replay.raw_signals import raw_signals
from replay.recording import Block, Column, Group, Recording
from tests.replay.made_up_logs import Remembers

Array = NDArray[np.float64]


@dataclass
class Clocks(Recording):
    """Groups with clocks of their own, in blocks of `size` samples."""

    held: list[tuple[Array, dict[str, Array]]] = field(default_factory=list)
    size: int = 100
    read: list[int] = field(default_factory=list)

    def blocks(self, group: int, numbers: Sequence[str], texts: Sequence[str] = ()) -> Iterator[Block]:
        """Blocks of one group."""
        stamps, columns = self.held[group]
        for start in range(0, len(stamps), self.size):
            cut = slice(start, start + self.size)
            self.read.append(group)
            lines = np.arange(len(stamps))[cut]
            texts_cut = {name: columns[name][cut].astype(int).astype(str).astype(object) for name in texts}
            numbers_cut = {name: columns[name][cut] for name in numbers}
            yield Block(numbers_cut, texts_cut, lines, min(1.0, (start + self.size) / len(stamps)), stamps[cut])


TRAVELS = tuple(Channel("shaft_travel", corner, (f"t{corner}",)) for corner in range(4))
YAW = Channel("yaw_rate", 0, ("wz",), latency=0.03)
MODES = ModeSource(("mode",), {"0": "patrol", "1": "dash"}, before_first="patrol")


def two_clocks(size: int = 100) -> Log:
    random = np.random.default_rng(4)
    fast = np.cumsum(random.uniform(0.0015, 0.0025, 900)) + 5.0
    slow = np.arange(5.013, 7.0, 0.05)
    travels = {f"t{corner}": random.uniform(0.1, 0.2, len(fast)) for corner in range(4)}
    bus = {"wz": random.normal(size=len(slow)), "mode": (slow > 6.0).astype(float)}
    groups = (Group("fast", tuple(map(Column, travels)), "t"), Group("bus", tuple(map(Column, bus)), "t"))
    recording = Clocks("two clocks", groups, counts="sample", held=[(fast, travels), (slow, bus)], size=size)
    channel_map = ChannelMap("map.toml", TimeBase(), MODES, (*TRAVELS, YAW))
    return Log(recording, channel_map, resolve(channel_map, groups, "two clocks"))


def test_streams_are_rows_of_one_clock_and_one_latency() -> None:
    log = two_clocks()
    assert [(stream.group, stream.latency, len(stream.rows)) for stream in log.streams] == [(0, 0.0, 4), (1, 0.0, 1), (1, 0.03, 1)]
    parts = list(log.parts())
    assert sum(part.ended for part in parts) == 3
    late = next(part for part in parts if part.stream == 2 and len(part.time))
    prompt = next(part for part in parts if part.stream == 1 and len(part.time))
    np.testing.assert_allclose(late.time - prompt.time, 0.03, atol=1e-12)
    assert min(part.time[0] for part in parts if len(part.time)) == 0.0


def test_the_lagging_clock_is_read_on() -> None:
    log = two_clocks(size=10)
    list(log.parts())
    assert isinstance(log.recording, Clocks)
    order = log.recording.read
    assert order[:2] == [0, 1]
    assert 0 in order[3:]
    assert order.index(1, 2) > 8, "a block of the slow clock spans 25 of the fast one: it waits"


def test_two_clocks_replayed_in_any_cut_are_the_same_to_the_bit() -> None:
    whole = replay(two_clocks(), Remembers()).whole()
    for size, ticks in ((1, 13), (7, 1), (33, 100)):
        other = replay(two_clocks(size), Remembers(), chunk_ticks=ticks).whole()
        for name, values in whole.signals.items():
            np.testing.assert_array_equal(other.signals[name], values, err_msg=name)
        np.testing.assert_array_equal(other.mode, whole.mode)
        for name, rows in whole.raw.items():
            np.testing.assert_array_equal(other.raw[name].values, rows.values)
    changes = int(np.argmax(whole.mode[0, :, 0] > 0))
    assert whole.mode[0, -1, 0] == 1
    assert changes * 0.004 == pytest.approx(1.0, abs=0.06)


def out_of_order(*, back: float) -> Log:
    time = np.arange(100.0) * 0.01
    time[40] = time[39]  # sent twice
    time[60:63] = time[57:60] - 0.001 if back < 1 else time[60:63] - back
    return log_of_arrays(time, {"yaw_rate": np.arange(100.0)}, "dash")


def test_samples_out_of_order_are_set_aside_and_told() -> None:
    log = out_of_order(back=0.05)
    parts = list(log.parts())
    values = np.concatenate([part.values[0] for part in parts])
    assert sorted(set(range(100)) - set(values.astype(int).tolist())) == [40, 60, 61, 62]
    texts = [str(notice) for notice in log.notices]
    assert any("sample 40: time stands still at 0.39" in text for text in texts)
    assert any("sample 60: time runs backwards: 0.569 after 0.59" in text for text in texts)
    assert "stamps: 4 of 100 samples set aside: stamped not after the one before" in texts


def test_another_recording_in_the_same_file_ends_the_reading() -> None:
    with pytest.raises(BadInput, match=r"sample 60: time runs backwards by 4\.99 s.*cut the log here"):
        list(out_of_order(back=5.0).parts())


def test_stamps_coarser_than_the_samples_are_told() -> None:
    log = log_of_arrays(np.asarray(np.arange(100) // 2 * 0.01), {"yaw_rate": np.arange(100.0)}, "dash")
    list(log.parts())
    assert "give the map rate_hz instead" in str(log.notices[-1])


def test_raw_signals_keep_their_rate_and_their_own_stamps() -> None:
    raw = raw_signals(two_clocks(), ("shaft_travel", "yaw_rate", "brake"))
    assert len(raw["shaft_travel"]) == 4
    assert len(raw["shaft_travel"][0].time) == 900
    assert raw["yaw_rate"][0].time[0] == pytest.approx(5.013 - 5.0, abs=0.003), "latency is the controller's, not the wheel's"
    assert "brake" not in raw


def test_raw_samples_beside_the_ticks_are_the_recorded_ones() -> None:
    time: Array = np.arange(400.0) * 0.005
    values = np.sin(np.arange(1600.0)).reshape(4, 400)
    values[2, 50:60] = np.nan
    trace = replay(log_of_arrays(time, {"shaft_travel": values}, "dash"), Remembers(modes=("dash",)), chunk_ticks=37)
    raw = trace.whole().raw["shaft_travel"]
    assert raw.step == 0.005
    np.testing.assert_allclose(raw.values[:, :, 0], values, rtol=1e-12)
    np.testing.assert_array_equal(raw.ticks, np.floor(time / 0.004 + 1e-6))


def parts_have_rows(parts: list[LogPart]) -> bool:
    return all(part.values.shape == (len(part.rows), len(part.time)) for part in parts)


def test_values_stand_in_the_order_of_their_rows() -> None:
    log = two_clocks()
    parts = list(log.parts())
    assert parts_have_rows(parts)
    first = next(part for part in parts if part.stream == 0)
    assert isinstance(log.recording, Clocks)
    for corner in range(4):
        np.testing.assert_array_equal(first.values[corner], log.recording.held[0][1][f"t{corner}"][:100])


def turned(columns: Sequence[str]) -> Log:
    """A unit turned 90 degrees about the vertical, of which the log has these axes; each axis has a value of its own."""
    values = {"x": 1.0, "y": 2.0, "z": 9.8}
    numbers = {name: np.full(50, values[name]) for name in columns}
    groups = (Group("", tuple(map(Column, numbers)), "t"),)
    recording = Clocks("unit", groups, counts="sample", held=[(np.arange(50.0) * 0.01, numbers)])
    mounting = Mounting(axes=((0.0, -1.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))
    channels = tuple(Channel(f"specific_force_{axis}", 0, (axis,)) for axis in "xyz")
    channel_map = ChannelMap("map.toml", TimeBase(), ModeSource(constant="dash"), channels, mounting=mounting)
    return Log(recording, channel_map, resolve(channel_map, groups, "unit"))


@pytest.mark.parametrize(("columns", "has", "lacks"), [("xyz", "xyz", ""), ("yz", "xz", "y"), ("xz", "yz", "x")])
def test_a_turned_unit_gives_what_its_columns_make(columns: str, has: str, lacks: str) -> None:
    log = turned(columns)
    expected = {"x": -2.0, "y": 1.0, "z": 9.8}
    raw = raw_signals(log, [f"specific_force_{axis}" for axis in "xyz"])
    assert {name[-1] for name in raw} == set(has)
    for axis in has:
        np.testing.assert_allclose(raw[f"specific_force_{axis}"][0].values, expected[axis])
        assert log.lacking(f"specific_force_{axis}") == []
    for axis in lacks:
        assert not log.has(f"specific_force_{axis}")
        assert "looked for" in log.lacking(f"specific_force_{axis}")[0]
