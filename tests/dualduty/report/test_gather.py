"""One pass leaves the right data, in the units people say."""

from __future__ import annotations

import numpy as np

from dualduty.report.gather import gather
from dualduty.trace import Trace
from tests.dualduty.report import made_up_trace as made_up


def test_curves_come_from_truth_where_there_is_some_and_from_sensors_otherwise() -> None:
    simulated, logged = gather(made_up.trace(2.0))[1], gather(made_up.trace(2.0, truth_dt=0.0, source="replayed"))[1]
    assert simulated.curves["speed"].title == "speed"
    assert logged.curves["speed"].title == "speed, estimated"
    assert (simulated.curves["vertical"].said, logged.curves["roll"].said) == ("g", "deg")
    assert simulated.curves["travel"].time[1] == 0.002
    assert logged.curves["travel"].time[1] == 0.004


def test_values_are_those_of_the_trace_in_the_said_unit() -> None:
    trace = made_up.trace(2.0)
    whole = trace.whole()
    found = gather(trace, [1])[0]
    np.testing.assert_allclose(found.curves["travel"].values, whole.truth["true_travel"][:, :, 1] * 1e3, rtol=1e-14)  # one rounding
    np.testing.assert_allclose(found.duty["rebound"].values, whole.duty["rebound"][:, :, 1] * 100, rtol=1e-14)


def test_a_padded_section_ends_where_it_ended() -> None:
    padded, full = gather(made_up.trace(4.0))
    assert np.isclose(full.curves["speed"].time[-1] - padded.curves["speed"].time[-1], 50 * 0.004)


def test_cutting_the_run_otherwise_changes_nothing() -> None:
    one, other = gather(made_up.trace(9.0, chunk=100_000), [1]), gather(made_up.trace(9.0, chunk=613), [1])
    for side in ("compression", "rebound"):
        np.testing.assert_array_equal(one[0].layer[side].values, other[0].layer[side].values)
        np.testing.assert_array_equal(one[0].duty[side].values, other[0].duty[side].values)


def test_a_window_shows_its_seconds_only() -> None:
    found = gather(made_up.trace(12.0), [1], window=(7.0, 8.0))[0]
    assert found.span[0] == 7.0
    assert abs(found.span[1] - 8.0) < 0.005
    assert found.states["landing"].values.any()
    assert not found.states["cornering"].values.any()


def test_memory_does_not_grow_with_the_log() -> None:
    found = gather(made_up.trace(240.0, cases=1, truth_dt=0.0), [0])[0]
    assert found.curves["travel"].values.shape[1] <= 2 * 1201
    assert found.layer["rebound"].values.shape[1] <= 513


def test_nothing_recorded_gives_nothing() -> None:
    found = gather(Trace(made_up.header(), lambda: iter(())))[0]
    assert found.curves == {}
    assert found.span == (0.0, 1.0)
