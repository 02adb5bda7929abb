"""Agreement figures against counts made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from replay.sameness.grounding import judge, layers_apart
from replay.sameness.sameness import SamenessRules, sameness
from replay.sameness.sameness_states import paired
from tests.replay.logged_trace import DT, trace_of, waves

TICKS = 12_000
SETTLE = 1500  # ticks


def later(rows: np.ndarray, ticks: int) -> np.ndarray:
    """Rows `ticks` later, their first value held."""
    return np.concatenate([np.repeat(rows[:, :1], ticks, axis=1), rows[:, :-ticks]], axis=1) if ticks else rows


@pytest.mark.validates("closed form: ticks counted by hand")
def test_a_quarter_of_one_corner_off_by_five_points() -> None:
    replayed = waves(TICKS)
    logged = replayed.copy()
    logged[2, 9000:] += 0.05  # rear-left compression; the duty moves by 0.4 points at most within the slack
    found = sameness(trace_of(replayed, logged))
    counted = TICKS - SETTLE
    assert (found.tally.compared.sum(axis=2) == counted).all()
    assert found.tally.agreeing[0].sum(axis=1).tolist() == [counted, counted, counted - 3000, counted]
    assert found.share("rebound") == 1.0
    assert found.share("compression") == (4 * counted - 3000) / (4 * counted)
    assert found.worst == ("compression", found.share("compression"))
    # two waves of 0.2 and 0.1 at 0.57 and 0.97 Hz move 0.8 points in three ticks at most
    assert 0.042 * 3000 < found.tally.apart[0, 2].sum() <= 0.05 * 3000
    assert found.left_out == {"settling after the start or a gap": SETTLE * DT}
    assert found.compared_seconds == counted * DT


@pytest.mark.validates("closed form: a copy that is later by whole ticks")
@pytest.mark.parametrize(("ticks", "name", "expected"), [(0, "logged", 0.0), (7, "logged", 7.0), (8, "applied", 7.0), (1, "applied", 0.0)])
def test_the_offset_is_found_and_taken_out(ticks: int, name: str, expected: float) -> None:
    replayed = waves(TICKS)
    found = sameness(trace_of(replayed, later(replayed, ticks), name=name))
    assert abs(found.offset.seconds / DT - expected) < 0.2
    assert found.offset.certain
    assert found.share("compression") == found.share("rebound") == 1.0
    # 0.3 of a point a tick: without shifting, seven ticks are out of tolerance for half of the time
    assert found.tally.compared[0, 0].sum() == TICKS - SETTLE - ticks


@pytest.mark.validates("closed form: a clock that loses 200 millionths")
def test_a_drift_is_followed() -> None:
    replayed = waves(60_000)
    found = sameness(trace_of(replayed, waves(60_000, 0.004, 200e-6)), SamenessRules(tolerance=0.002))
    assert found.offset.drifts
    assert abs(found.offset.drift / 200e-6 - 1.0) < 0.05
    assert found.worst[1] > 0.999  # 28 ms late at the end: without drift a third of it is out


@pytest.mark.validates("closed form: ticks counted by hand")
def test_layers_modes_and_gaps_are_counted_apart() -> None:
    replayed = waves(TICKS)
    layer = np.zeros((8, TICKS))
    layer[:4, 6000:7000] = 1  # landing decides compression for two seconds at all corners
    logged = replayed - 0.15 * layer
    mode = np.where(np.arange(TICKS) < 8000, 0, 1)
    travel = np.full((4, TICKS), 0.1)
    travel[1, 4000:4100] = np.nan  # 0.2 s: bad once it is older than 50 ms, then 3 s to settle
    found = sameness(trace_of(replayed, logged, layer=layer, mode=mode, travel=travel))
    left_out = SETTLE + (4100 - 4000 - 26 + 1) + SETTLE
    assert found.compared_seconds == pytest.approx((TICKS - left_out) * DT)
    assert found.tally.compared[0, 0].tolist() == [8000 - left_out, 4000]
    assert found.tally.layer_compared[0].tolist() == [4 * (TICKS - left_out - 1000), 4000]
    assert found.tally.layer_agreeing[0].tolist() == [4 * (TICKS - left_out - 1000), 0]
    apart = layers_apart(found)
    assert [(one.layer, one.side, one.share) for one in apart] == [("landing", "compression", 0.0)]
    assert apart[0].seconds == pytest.approx(8.0)
    assert apart[0].apart == pytest.approx(-0.15, abs=0.011)  # bins of a point, and the slack
    assert apart[0].steady
    assert found.share("compression") > 0.86
    assert not judge(found, least=0.8).grounded  # the share alone would do
    assert "not where landing decides compression (0 %)" in judge(found, least=0.8).text


@pytest.mark.validates("closed form: overlaps of intervals by hand")
def test_events_are_paired_and_their_edges_measured() -> None:
    logged = [(10.0, 10.5), (20.0, 20.4), (30.0, 31.0), (50.0, 54.0)]
    replayed = [(10.03, 10.49), (20.6, 20.9), (30.2, 30.9), (40.0, 40.1), (51.5, 53.9)]
    events = paired(logged, replayed)
    assert [event.only for event in events] == ["", "log", "replay", "", "replay", ""]
    assert [round(event.off, 3) for event in events if not event.only] == [0.03, 0.2, 1.5]


@pytest.mark.validates("closed form: active time by hand")
def test_a_state_agrees_by_tick_and_by_active_time() -> None:
    replayed = waves(TICKS)
    logged_state, replayed_state = np.zeros((1, TICKS)), np.zeros((1, TICKS))
    logged_state[0, 5000:5500], replayed_state[0, 5020:5500] = 1.0, 1.0
    found = sameness(trace_of(replayed, replayed, states={"airborne": (logged_state, replayed_state)})).states[0]
    slack = 3  # ticks within which an edge counts as the same
    assert (found.compared, found.compared - found.agreeing) == (TICKS - SETTLE, 20 - slack)
    assert found.share_active == pytest.approx(480 / 500)
    assert len(found.off_by_more(0.02)) == 1
    assert not found.off_by_more(0.05)


@pytest.mark.validates("law of nature: how a trace is cut into chunks changes nothing")
@pytest.mark.parametrize("chunk", [997, 12_000])
def test_chunks_do_not_matter(chunk: int) -> None:
    replayed = waves(TICKS)
    logged = waves(TICKS, 0.011)
    logged[:, 3000:3050] = np.nan
    one, other = (sameness(trace_of(replayed, logged, chunk=size)) for size in (chunk, 3001))
    assert one.offset == other.offset
    assert one.left_out == pytest.approx(other.left_out)
    for name in ("compared", "agreeing", "layer_compared", "moving_agreeing"):
        np.testing.assert_array_equal(getattr(one.tally, name), getattr(other.tally, name))
    np.testing.assert_allclose(one.tally.windows, other.tally.windows, atol=1e-12)


@pytest.mark.validates("closed form: ticks counted by hand")
def test_what_moves_is_counted_apart() -> None:
    """A step of a duty counts as moving for 0.2 s, 100 ticks; here there are three, and between two of them the log is off."""
    replayed = np.full((8, TICKS), 0.3)
    replayed[:4, 6000:] = 0.6
    logged = replayed.copy()
    logged[:4, 6050:6100] = 0.7
    found = sameness(trace_of(replayed, logged)).tally
    # steps at 6000, 6050 and 6100: moving from 6000 to 6199
    assert found.moving.tolist() == [4 * 200, 0]
    assert found.moving_agreeing.tolist() == [4 * 150, 0]
