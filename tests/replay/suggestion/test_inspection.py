"""A recording looked through: clocks found, words told from numbers, odd columns kept apart, one pass in small memory."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from replay.formats.file_form import FileForm
from replay.open_recording import open_recording
from replay.suggestion.inspection import ChannelSeen, Inspection, inspect_recording
from tests.replay.made_up_recordings import HeldRecording, motion, recording_of


def channel(seen: Inspection, name: str) -> ChannelSeen:
    return next(entry for entry in seen.channels if entry.name == name)


def of_text(folder: Path, text: str) -> Inspection:
    path = folder / "run.csv"
    path.write_text(text, encoding="utf-8")
    return inspect_recording(open_recording(path, FileForm()))


def test_what_a_channel_is_told_as() -> None:
    time = np.arange(1000, dtype=np.float64) * 0.01
    values = np.round(np.sin(time) * 50, 1)
    values[100:150] = np.nan
    seen = inspect_recording(recording_of({"time": ("s", time), "pot": ("mm", values)}))
    pot = channel(seen, "pot")
    assert (pot.samples, pot.least, pot.most) == (1000, np.nanmin(values), np.nanmax(values))
    assert pot.blank == pytest.approx(0.05)
    assert pot.rate == pytest.approx(100.0)
    assert pot.step == pytest.approx(0.1)
    assert (pot.low, pot.middle, pot.high) == tuple(np.nanpercentile(values, [1, 50, 99]))


@pytest.mark.parametrize(
    ("unit", "name", "scale", "told", "said"),
    [
        ("s", "t", 1.0, "s", True),
        ("ms", "stamp", 1e3, "ms", True),
        ("", "time_us", 1e6, "µs", True),
        ("", "time", 1e3, "ms", False),
        ("", "Zeit", 1.0, "s", False),
    ],
)
def test_the_unit_of_time_is_read_or_guessed_from_the_rate(unit: str, name: str, scale: float, told: str, said: bool) -> None:
    si = motion(100.0)
    (group,) = inspect_recording(recording_of({name: (unit, si["time"] * scale), "brake": ("", si["brake"])})).groups
    assert (group.clock, group.time_unit, group.unit_is_said) == (name, told, said)
    assert group.rate == pytest.approx(100.0)
    assert group.lasts == pytest.approx(19.99)


def test_each_group_has_its_own_clock_or_none() -> None:
    si, slower = motion(100.0), motion(10.0)
    recording = recording_of({"a": ("", si["brake"])}, {"t": ("s", slower["time"]), "b": ("", slower["brake"])}, clocks=(si["time"], None))
    fast, slow = inspect_recording(recording).groups
    assert (fast.own_clock, fast.clock, round(fast.rate)) == (True, "", 100)
    assert (slow.own_clock, slow.clock, round(slow.rate)) == (False, "t", 10)
    (none,) = inspect_recording(recording_of({"a": ("", si["brake"])})).groups
    assert np.isnan(none.rate)
    (said,) = inspect_recording(recording_of({"a": ("", si["brake"])}), rate=100.0).groups
    assert (said.rate, said.lasts) == (100.0, 20.0)


def test_words_are_told_from_numbers(tmp_path: Path) -> None:
    seen = of_text(tmp_path, "t,mode,v\n0,patrol,1\n0.1,dash,2\n0.2,dash,\n")
    mode = channel(seen, "mode")
    assert mode.text
    assert set(mode.words) == {"patrol", "dash"}
    assert channel(seen, "v").most == 2.0


def test_words_that_begin_far_down_do_not_stop_it(tmp_path: Path) -> None:
    lines = [f"{index / 100},{index % 7}" for index in range(6000)] + ["60.01,FAULT", "60.02,3"]
    seen = of_text(tmp_path, "t,v\n" + "\n".join(lines) + "\n")
    assert channel(seen, "v").text
    assert channel(seen, "v").words == ("FAULT",)
    assert channel(seen, "t").most == 60.02


def test_a_name_that_several_columns_have_is_kept_out(tmp_path: Path) -> None:
    seen = of_text(tmp_path, "t,v,v\n0,1,2\n0.1,3,4\n")
    assert [entry.twice for entry in seen.channels] == [False, True, True]


@pytest.mark.parametrize("text", ["a;b\n", "time,a\n0,1\n", "time,a\n,\n,\n"])
def test_next_to_nothing_is_told_as_that(tmp_path: Path, text: str) -> None:
    seen = of_text(tmp_path, text)
    assert np.isnan(seen.groups[0].rate)
    assert seen.groups[0].gaps == 0
    assert len(seen.channels) == 2


def test_progress_runs_to_the_end_once() -> None:
    si = motion(100.0)
    told: list[float] = []
    inspect_recording(recording_of({"time": ("s", si["time"])}, {"time": ("s", si["time"])}), progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0


@pytest.mark.slow
def test_an_hour_of_thirty_channels_is_looked_through_in_small_memory() -> None:
    """Blocks come and go: what is kept of 720,000 samples of 30 channels is a few megabytes."""
    import tracemalloc

    samples = np.random.default_rng(1).normal(size=720_000)
    recording: HeldRecording = recording_of(
        {"time": ("s", np.arange(720_000) / 200.0), **{f"channel {index}": ("", samples) for index in range(30)}}
    )
    recording.block = 20_000
    tracemalloc.start()
    inspect_recording(recording)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    # 30 stores of 2 x 128 kB, and a block of 160 kB a channel with what is made of it: measured 25 MB
    assert peak < 60e6
