"""One pass over a run: chunks, cases, padding, gaps, and whom a value belongs to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.scoring.measure import discover_measures
from dualduty.scoring.score import Scores, join_scores, score
from dualduty.trace import Case, Trace

Array = NDArray[np.float64]
Run = Callable[..., Any]
Parts = dict[str, dict[str, Array]]
NAMES = tuple(discover_measures())


def _picked(parts: Parts, cases: Any) -> Parts:
    return {
        group: {name: np.ascontiguousarray(values[:, :, cases]) for name, values in entries.items()} for group, entries in parts.items()
    }


def test_every_measure_has_a_value_on_a_full_run(make_run: Run, car: Any, lively: Parts) -> None:
    scores = score(make_run(**lively), car)
    assert tuple(measure.name for measure in scores.measures) == NAMES
    missing = [NAMES[row] for row in np.flatnonzero(~np.isfinite(scores.values).all(axis=1))]
    assert missing == []
    assert not any(text for texts in scores.reasons for text in texts)


@pytest.mark.parametrize("edges", [[1], [3, 4, 1111], list(range(1, 2000, 7)), list(range(1, 2000))])
def test_chunked_is_the_whole(make_run: Run, car: Any, lively: Parts, edges: list[int]) -> None:
    whole = score(make_run(**lively), car)
    chunked = score(make_run(edges=edges, **lively), car)
    for name, before, after in zip(NAMES, whole.values, chunked.values, strict=True):
        if (
            name == "peak_landing_acceleration"
        ):  # the backward pass forgets where it began to 2e-16; the peak is equal to the bit here, the waveform to 5e-16 of it
            np.testing.assert_allclose(after, before, rtol=1e-14)
        else:
            np.testing.assert_array_equal(after, before, err_msg=name)


def test_cases_do_not_mix(make_run: Run, car: Any, lively: Parts) -> None:
    together = score(make_run(**lively), car).values
    for case in range(3):
        alone = score(make_run(**_picked(lively, [case])), car).values
        np.testing.assert_array_equal(alone[:, 0], together[:, case])
    spoilt = {group: {name: values.copy() for name, values in entries.items()} for group, entries in lively.items()}
    for entries in spoilt.values():
        for values in entries.values():
            values[:, 500:, 1] = np.nan
    np.testing.assert_array_equal(score(make_run(**spoilt), car).values[:, [0, 2]], together[:, [0, 2]])


@pytest.mark.parametrize("garbage", [np.nan, 1e9, 0.0])
@pytest.mark.parametrize("length", [1200, 1990])
def test_a_padded_case_scores_as_if_alone(make_run: Run, car: Any, lively: Parts, garbage: float, length: int) -> None:
    running = np.ones((1, 2000, 3))
    running[:, length:, 1] = 0
    for entries in lively.values():
        for values in entries.values():
            values[:, length:, 1] = garbage
    alone = {
        group: {name: np.ascontiguousarray(values[:, :length, [1]]) for name, values in entries.items()}
        for group, entries in lively.items()
    }
    padded = score(make_run(running=running, edges=[700, 1500], **lively), car)
    wanted = score(make_run(**alone), car)
    # rtol: the end of the channel class is held in both, by different ways; measured equal to the bit for all
    np.testing.assert_allclose(padded.values[:, 1], wanted.values[:, 0], rtol=1e-13)


def test_without_the_mask_padding_would_count(make_run: Run, car: Any, lively: Parts) -> None:
    """Planted fault: every measure must notice when the end of a section isn't masked."""
    length = 1200
    for entries in lively.values():
        for name, values in entries.items():
            sway = np.linspace(4000.0, 8000.0, len(values))[:, None] * np.sin(0.05 * np.arange(2000 - length))
            values[:, length:, 1] = 0.0 if name == "wheel_load" else sway
    running = np.ones((1, 2000, 3))
    open_mask = score(make_run(running=running, **lively), car).values[:, 1]
    running[:, length:, 1] = 0
    masked = score(make_run(running=running, **lively), car).values[:, 1]
    assert [name for name, one, other in zip(NAMES, open_mask, masked, strict=True) if one == other] == []


def test_truth_on_a_finer_clock(make_run: Run, car: Any) -> None:
    """A controller at 500 Hz and truth at 1 kHz: the mask is spread, the step is that of the truth."""
    acceleration = np.random.default_rng(2).normal(0, 3, (1, 4000, 1))
    running = np.ones((1, 2000, 1))
    running[:, 1500:] = 0
    chosen = [
        discover_measures()[name] for name in ("vibration_dose", "worst_second_vibration", "peak_landing_acceleration", "spine_response")
    ]
    fine = make_run(running=running, edges=[1, 700], truth={"seat_acceleration_z": acceleration}, header={"dt": 2e-3, "truth_dt": 1e-3})
    plain = make_run(truth={"seat_acceleration_z": acceleration[:, :3000]})
    np.testing.assert_allclose(score(fine, car, chosen).values, score(plain, car, chosen).values, rtol=1e-13)


def test_a_log_counts_only_what_was_believed(make_run: Run, car: Any, lively: Parts) -> None:
    travel = lively["signals"]["shaft_travel"]
    valid = np.ones_like(travel)
    valid[0, 300:400], valid[3] = 0, 0
    travel[0, 300:400], travel[3] = np.nan, 9.0
    run = make_run(signals={"shaft_travel": travel}, valid={"shaft_travel": valid}, header={"source": "replayed", "driven_by": "as_driven"})
    scores = score(
        run,
        car,
        [discover_measures()[name] for name in ("peak_compression", "hard_stop_count", "peak_suspension_roll", "suspension_roll_rms")],
    )
    known = np.delete(travel[0], np.s_[300:400], axis=0).max(axis=0)
    wanted = np.maximum(known, travel[1:3].max(axis=(0, 1))) / 0.25
    np.testing.assert_allclose(scores.values[0], wanted, rtol=1e-15)
    assert scores.notes["peak_compression"] == "from the travel sensors; without rear-right"
    assert np.isnan(scores.value("hard_stop_count"))  # three corners would count too few, and roll needs all four
    assert np.isnan(scores.value("peak_suspension_roll"))
    assert np.isnan(scores.value("suspension_roll_rms"))
    assert scores.reasons[1][0] == "no sample counts: not running, or the channel was not believed"


@pytest.mark.parametrize("name", ["weighted_seat_acceleration", "worst_second_vibration", "spine_response", "peak_landing_acceleration"])
def test_a_gap_in_a_log_does_not_reach_the_filters(make_run: Run, car: Any, name: str) -> None:
    """In a gap the last good value is held, whatever stands there."""
    force = 9.80665 + np.random.default_rng(6).normal(0, 2, (1, 3000, 1))
    valid = np.ones_like(force)
    valid[:, 1000:1200] = 0
    measure = [discover_measures()[name]]
    values = []
    for filler in (force[0, 999, 0], 1e6, np.nan):
        force[:, 1000:1200] = filler
        run = make_run(signals={"specific_force_z": force.copy()}, valid={"specific_force_z": valid}, edges=[1100])
        values.append(score(run, car, measure).value(name))
    assert values[0] == values[1] == values[2] > 0


def test_what_is_missing_is_said(make_run: Run, car: Any) -> None:
    scores = score(make_run(duty={"compression": np.zeros((4, 50, 1)), "rebound": np.zeros((4, 50, 1))}), car)
    assert scores.reasons[scores.row("peak_roll")][0] == "the run has no roll"
    assert scores.reasons[scores.row("peak_compression")][0] == "the run has no true_travel or shaft_travel"
    assert scores.value("mean_rebound_duty") == 0.0
    short = score(make_run(truth={"seat_acceleration_z": np.ones((1, 50, 1))}), car)
    assert short.reasons[short.row("worst_second_vibration")][0] == "shorter than the window of 1 s"


def test_a_run_that_blew_up_has_no_value_and_says_so(make_run: Run, car: Any, lively: Parts) -> None:
    lively["truth"]["wheel_load"][2, 1500, 1] = np.nan  # one corner of one case
    scores = score(make_run(**lively), car)
    for name in ("tyre_load_variation", "off_ground_time"):
        assert np.isnan(scores.value(name, 1))
        assert scores.reasons[scores.row(name)][1] == "a value of the run is not a finite number"
        assert np.isfinite(scores.value(name, 0))


def _logged(make_run: Run, lively: Parts) -> Trace:
    """A log of one drive, replayed under two candidates: only the duties have a case axis of two."""
    cases = (Case("whoops", "as_driven", "dash"), Case("whoops", "firmer", "dash"))
    signals = _picked({"signals": lively["signals"]}, [0])["signals"]
    made: Trace = make_run(
        running=np.ones((1, 2000, 1)), edges=[900], cases=cases, signals=signals, duty=_picked({"duty": lively["duty"]}, [0, 1])["duty"],
        header={"source": "replayed", "driven_by": "as_driven"},
    )  # fmt: skip
    return made


def test_in_open_loop_the_response_belongs_to_who_drove(make_run: Run, car: Any, lively: Parts) -> None:
    scores = score(_logged(make_run, lively), car)
    assert scores.values.shape == (len(NAMES), 2)
    assert scores.value("peak_compression", 0) == scores.value("peak_compression", 1)
    assert scores.value("mean_rebound_duty", 0) != scores.value("mean_rebound_duty", 1)
    assert scores.belongs_to("peak_compression", 1) == "as_driven"
    assert scores.belongs_to("mean_rebound_duty", 1) == "firmer"


def test_in_closed_loop_everything_belongs_to_the_candidate(make_run: Run, car: Any, lively: Parts) -> None:
    scores = score(make_run(**lively), car)
    assert {scores.belongs_to(name, 0) for name in NAMES} == {"base"}


def test_rows_are_in_the_units_people_say(make_run: Run, car: Any, lively: Parts) -> None:
    scores = score(make_run(**lively), car)
    frame = scores.to_frame()
    row = frame[(frame["measure"] == "peak_compression") & (frame["seed"] == 1)].iloc[0]
    assert row["value"] == pytest.approx(100 * scores.value("peak_compression", 1))
    assert (row["unit"], row["mode"], row["belongs_to"]) == ("%", "dash", "base")


def test_runs_are_put_side_by_side(make_run: Run, car: Any, lively: Parts) -> None:
    chosen = [discover_measures()[name] for name in ("peak_roll", "peak_compression")]
    parts = [score(make_run(**_picked(lively, [case]), cases=(Case(f"section_{case}", "base", "dash"),)), car, chosen) for case in range(3)]
    joined = join_scores(parts)
    np.testing.assert_array_equal(joined.values, score(make_run(**lively), car, chosen).values)
    assert [case.section for case in joined.cases] == ["section_0", "section_1", "section_2"]
    assert joined.corners["peak_compression"].shape == (4, 3)
    with pytest.raises(BadInput, match="same measures"):
        join_scores([parts[0], replace(parts[1], measures=parts[1].measures[:1])])


def test_an_unknown_measure_is_named(make_run: Run, car: Any, lively: Parts) -> None:
    scores: Scores = score(make_run(**lively), car, [discover_measures()["peak_roll"]])
    with pytest.raises(BadInput, match="expected one of peak_roll; got measure 'peak_rol'"):
        scores.value("peak_rol")


def test_all_measures_keep_pace(make_run: Run, car: Any) -> None:
    """36 cases of 8 s at 1 kHz, all measures: 0.18 to 0.22 s of one core measured; the bound leaves room for a busy machine."""
    from time import process_time

    random = np.random.default_rng(0)
    shape = (8000, 36)
    truth = {name: random.normal(size=(1, *shape)) for name in ("seat_acceleration_z", "roll", "pitch")}
    truth |= {name: random.normal(size=(4, *shape)) for name in ("wheel_load", "stop_force", "true_travel")}
    duty = {side: random.uniform(size=(4, *shape)) for side in ("compression", "rebound")}
    run = make_run(edges=list(range(500, 8000, 500)), truth=truth, duty=duty, signals={"roll_rate": random.normal(size=(1, *shape))})
    began = process_time()
    score(run, car)
    assert process_time() - began < 0.8
