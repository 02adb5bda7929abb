"""A candidate beside its baseline: verdicts, bands, order, gates, and what must not be compared."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import make_dataclass
from typing import Any

import numpy as np
import pytest

from dualduty.errors import BadInput
from dualduty.scoring.compare import compare, pooled_noise
from dualduty.scoring.gate import Gate
from dualduty.scoring.measure import Matters
from dualduty.scoring.noise import NoiseBand, Scatter
from dualduty.scoring.score import Scores, score
from dualduty.scoring.scorecard import Cell, Scorecard
from dualduty.trace import Case

Values = dict[tuple[str, str, str, int], dict[str, float]]  # section, mode, candidate, seed -> value by measure name


def _measure(name: str, direction: str = "lower", matters: float = 0.1, said: str = "1", unit: str = "1", *, follows: bool = False) -> Any:
    space = {
        "name": name, "label": name.replace("_", " "), "unit": unit, "said": said, "direction": direction, "source": "common practice",
        "needs": "truth", "matters": Matters(matters, 0.0, "because"), "moves_in_open_loop": follows,
    }  # fmt: skip
    return make_dataclass("Made", [], frozen=True, namespace=space)()


ROLL = _measure("roll", said="deg", unit="rad", matters=0.01)
GRIP = _measure("grip", "higher")
TRAVEL = _measure("travel", "none")
DUTY = _measure("duty", "none", follows=True)


def _scored(values: Values, *measures: Any, driven_by: str = "", reasons: dict[tuple[str, int], str] | None = None) -> Scores:
    cases = tuple(Case(section, candidate, mode, seed) for section, mode, candidate, seed in values)
    table = np.array([[by_name.get(measure.name, np.nan) for by_name in values.values()] for measure in measures])
    told = tuple(tuple((reasons or {}).get((measure.name, case), "") for case in range(len(cases))) for measure in measures)
    return Scores(cases, measures, table, told, (driven_by,) * len(cases))


def _seeds(measure: str, before: list[float], after: list[float], section: str = "whoops", mode: str = "dash") -> Values:
    pairs = {"base": before, "firmer": after}
    return {(section, mode, name, seed): {measure: value} for name, row in pairs.items() for seed, value in enumerate(row)}


def _one(values: Values, measure: Any, **more: Any) -> Cell:
    card = compare(_scored(values, measure), "base", "firmer", **more)
    assert len(card.cells) == 1
    return card.cells[0]


@pytest.mark.parametrize(
    ("measure", "before", "after", "verdict"),
    [
        (GRIP, 1.0, 1.2, "better"), (GRIP, 1.0, 0.8, "worse"), (GRIP, 1.0, 1.05, "same"), (GRIP, 1.0, 1.0, "identical"),
        (ROLL, 0.1, 0.12, "worse"), (ROLL, 0.1, 0.08, "better"), (TRAVEL, 1.0, 1.2, "changed"), (TRAVEL, 1.0, 0.95, "same"),
        (GRIP, 1.0, np.nextafter(1.0, 2.0), "same"),
    ],
)  # fmt: skip
def test_verdict_of_a_single_run(measure: Any, before: float, after: float, verdict: str) -> None:
    cell = _one(_seeds(measure.name, [before], [after]), measure)
    assert cell.verdict == verdict
    assert cell.runs == 1
    assert np.isnan(cell.half_width)
    assert cell.band == measure.matters.absolute


def test_pairing_by_seed_takes_the_ground_out() -> None:
    grounds = [1.0, 2.0, 3.0, 4.0]
    cell = _one(
        _seeds("grip", grounds, [value + 0.2 + jitter for value, jitter in zip(grounds, (0.01, -0.01, 0.005, 0.0), strict=True)]), GRIP
    )
    assert cell.verdict == "better"
    assert cell.change == pytest.approx(0.20125)
    assert cell.half_width < 0.02  # unpaired, the grounds alone would make it 2


def test_seeds_are_paired_whatever_their_order() -> None:
    values: Values = {
        ("whoops", "dash", "firmer", 2): {"grip": 2.5}, ("whoops", "dash", "base", 1): {"grip": 1.0},
        ("whoops", "dash", "firmer", 1): {"grip": 1.5},
        ("whoops", "dash", "base", 2): {"grip": 2.0}, ("whoops", "dash", "base", 3): {"grip": 9.0},
    }  # fmt: skip
    cell = _one(values, GRIP)
    assert (cell.runs, cell.change, cell.half_width, cell.baseline) == (2, 0.5, 0.0, 1.5)


def test_scatter_hides_a_change_and_says_how_many_runs_would_show_it() -> None:
    cell = _one(_seeds("grip", [0.0] * 4, [0.9, -0.5, 0.7, -0.1]), GRIP)
    assert cell.verdict == "can't tell"
    assert cell.band == cell.half_width > GRIP.matters.absolute
    # deviation 0.661, wanted 0.25: t(0.975, 29) 0.661 / sqrt(30) = 0.247 is within it, t(0.975, 28) 0.661 / sqrt(29) = 0.251 is not
    assert cell.more_runs == 30 - 4


def test_a_small_scatter_makes_same_a_finding() -> None:
    cell = _one(_seeds("grip", [0.0] * 4, [0.01, -0.01, 0.02, 0.0]), GRIP)
    assert cell.verdict == "same"
    assert cell.band == GRIP.matters.absolute
    assert cell.half_width == pytest.approx(3.182 * np.std([0.01, -0.01, 0.02, 0.0], ddof=1) / 2, rel=1e-3)


def test_the_number_of_cells_is_allowed_for() -> None:
    """The same seeds are better alone, and can't tell on a card of a hundred cells."""
    before, after = [0.0] * 4, [0.5, 0.8, 0.6, 0.9]
    assert _one(_seeds("grip", before, after), GRIP).verdict == "better"
    crowd: Values = {}
    for place in range(100):
        crowd |= _seeds("grip", before, after, section=f"section_{place}")
    card = compare(_scored(crowd, GRIP), "base", "firmer")
    assert card.compared == 100
    assert {cell.verdict for cell in card.cells} == {"can't tell"}


def test_a_band_from_elsewhere_serves_a_single_run() -> None:
    noise = NoiseBand({("whoops", "grip"): Scatter(0.3, 30)})
    assert _one(_seeds("grip", [1.0], [1.5]), GRIP, noise=noise).verdict == "can't tell"
    assert _one(_seeds("grip", [1.0], [1.7]), GRIP, noise=noise).verdict == "better"
    other = NoiseBand({("berm", "grip"): Scatter(0.3, 30)})
    assert _one(_seeds("grip", [1.0], [1.5]), GRIP, noise=other).verdict == "better"


def test_pooling_over_modes_buys_degrees_of_freedom() -> None:
    values: Values = {}
    for mode in ("patrol", "dash", "haul"):
        values |= _seeds("grip", [0.0] * 3, [0.3, 0.4, 0.5], mode=mode)
    scores = _scored(values, GRIP)
    noise = pooled_noise(scores, "base", "firmer")
    assert noise.scatter["whoops", "grip"].degrees == 6
    assert noise.scatter["whoops", "grip"].deviation == pytest.approx(0.1)
    alone, pooled = (compare(scores, "base", "firmer", band).cells[0] for band in (None, noise))
    assert pooled.half_width < 0.6 * alone.half_width
    assert (alone.verdict, pooled.verdict) == ("can't tell", "better")


def _mixed() -> Scores:
    values: Values = {}
    for mode, worse in (("patrol", 0.0), ("dash", 0.3)):
        values["whoops", mode, "base", 0] = {"roll": 0.10, "grip": 1.0, "travel": 0.5}
        values["whoops", mode, "firmer", 0] = {"roll": 0.10 + worse * 0.12, "grip": 1.0 - worse, "travel": 0.5 + 0.2}
        values["berm", mode, "base", 0] = {"roll": 0.20, "grip": 1.0}
        values["berm", mode, "firmer", 0] = {"roll": 0.15, "grip": 0.2, "travel": 0.4}
    lost = {("travel", case): "the run has no true_travel" for case in (2, 6)}
    return _scored(values, ROLL, GRIP, TRAVEL, reasons=lost)


def test_worst_comes_first() -> None:
    cells = compare(_mixed(), "base", "firmer").cells
    told = [(cell.verdict, cell.mode, cell.section, cell.measure.name) for cell in cells]
    assert told[:4] == [
        ("worse", "patrol", "berm", "grip"), ("worse", "dash", "berm", "grip"),
        ("worse", "dash", "whoops", "roll"), ("worse", "dash", "whoops", "grip"),
    ]  # fmt: skip
    assert [cell.verdict for cell in cells[4:]] == ["changed"] * 2 + ["better"] * 2 + ["not comparable"] * 2 + ["identical"] * 2


def test_the_summary_counts_by_mode_and_hides_nothing() -> None:
    summary = compare(_mixed(), "base", "firmer").summary()
    assert summary.counts["dash"] == {
        "worse": 3,
        "can't tell": 0,
        "changed": 1,
        "better": 1,
        "same": 0,
        "not comparable": 1,
        "identical": 0,
    }
    assert summary.counts["patrol"]["identical"] == 2
    assert len(summary.worse) == 4
    assert [cell.reason for cell in summary.lost] == ["base: the run has no true_travel"] * 2
    assert (summary.compared, summary.single_run) == (10, 10)
    lines = summary.lines()
    assert "worse: dash, whoops: roll 7.792 deg, was 5.73 deg (+36 %)" in lines
    assert lines[-1] == "10 of 10 cells rest on one run: how far runs scatter is not known there"


def test_rows_and_table_are_in_the_units_people_say() -> None:
    card = compare(_mixed(), "base", "firmer")
    frame = card.to_frame()
    assert len(frame) == len(card.to_rows()) == 12
    row = next(row for row in card.to_rows() if row["measure"] == "roll" and row["section"] == "berm" and row["mode"] == "dash")
    assert row["unit"] == "deg"
    assert row["baseline"] == pytest.approx(np.degrees(0.20))
    assert row["change"] == pytest.approx(np.degrees(-0.05))
    assert row["band"] == pytest.approx(np.degrees(0.01))
    assert row["change_pct"] == pytest.approx(-25.0)
    assert all(isinstance(value, str | int | float) for row in card.to_rows() for value in row.values())


def _gated(gates: list[Gate], values: Values | None = None, *measures: Any) -> Scorecard:
    return compare(_scored(values, *measures) if values else _mixed(), "base", "firmer", gates=gates)


def test_gates_are_held_against_the_cells_they_cover() -> None:
    gates = [Gate("roll", 0.12), Gate("grip", 0.9, modes=("patrol",), sections=("whoops",)), Gate("grip", 0.5, sections=("berm",))]
    card = _gated(gates)
    crossed = {(check.gate.measure, check.mode, check.section) for check in card.crossed()}
    assert crossed == {
        ("roll", "dash", "whoops"),
        ("roll", "dash", "berm"),
        ("roll", "patrol", "berm"),
        ("grip", "dash", "berm"),
        ("grip", "patrol", "berm"),
    }
    assert len(card.gates) == 4 + 1 + 2
    berm = next(check for check in card.crossed() if check.section == "berm" and check.gate.measure == "roll")
    assert berm.was_crossed
    assert "roll 8.594 deg, at most 6.875 deg allowed (the baseline crossed it too)" in berm.sentence()


def test_on_the_limit_is_inside() -> None:
    values = _seeds("grip", [1.0], [0.9])
    assert not _gated([Gate("grip", 0.9)], values, GRIP).crossed()
    assert _gated([Gate("grip", np.nextafter(0.9, 1))], values, GRIP).crossed()
    values = _seeds("roll", [0.1], [0.12])
    assert not _gated([Gate("roll", 0.12)], values, ROLL).crossed()
    assert _gated([Gate("roll", np.nextafter(0.12, 0))], values, ROLL).crossed()


def test_a_gate_looks_at_the_worst_seed_not_at_the_mean() -> None:
    values = _seeds("roll", [0.0] * 3, [0.0, 0.0, 0.13])
    card = _gated([Gate("roll", 0.12)], values, ROLL)
    assert card.cells[0].candidate < 0.05
    assert card.crossed()[0].value == 0.13


def test_a_gate_that_cannot_be_checked_is_told() -> None:
    values = _seeds("roll", [0.1, 0.1], [0.1, np.nan])
    unchecked = _gated([Gate("roll", 0.12), Gate("roll", 0.12, modes=("haul",))], values, ROLL).summary().unchecked
    assert len(unchecked) == 2
    assert unchecked[1].reason == "no section or mode of this comparison is covered"
    assert _gated([Gate("roll", 0.05)], values, ROLL).crossed()  # what is known crosses it already


def test_seeds_without_a_value_are_left_out_and_counted() -> None:
    values = _seeds("grip", [1.0, 1.0, 1.0], [1.5, np.nan, 1.5])
    scores = _scored(values, GRIP, reasons={("grip", 4): "a value of the run is not a finite number"})
    cell = compare(scores, "base", "firmer").cells[0]
    assert (cell.runs, cell.change) == (2, 0.5)
    assert cell.reason == "1 of 3 seeds left out: firmer: a value of the run is not a finite number"


def test_open_loop_compares_duties_and_nothing_else() -> None:
    values: Values = {("whoops", "dash", name, 0): {"roll": 0.1, "duty": duty} for name, duty in (("base", 0.3), ("firmer", 0.6))}
    card = compare(_scored(values, ROLL, DUTY, driven_by="base"), "base", "firmer")
    by_name = {cell.measure.name: cell for cell in card.cells}
    assert by_name["duty"].verdict == "changed"
    assert by_name["roll"].verdict == "not comparable"
    assert by_name["roll"].reason == "firmer: open loop: belongs to base, which drove the log"
    assert by_name["roll"].baseline == 0.1
    assert np.isnan(by_name["roll"].candidate)
    assert card.compared == 1


def test_a_calibration_with_itself_is_identical() -> None:
    card = compare(_mixed(), "firmer", "firmer")
    assert {cell.verdict for cell in card.cells} == {"identical"}


def test_vehicles_are_places_of_their_own() -> None:
    cases = tuple(Case("whoops", name, "dash", 0, vehicle) for vehicle in ("laden", "empty") for name in ("base", "firmer"))
    scores = Scores(cases, (GRIP,), np.array([[1.0, 0.5, 1.0, 1.0]]), (("",) * 4,), ("",) * 4)
    assert {cell.vehicle: cell.verdict for cell in compare(scores, "base", "firmer").cells} == {"laden": "worse", "empty": "identical"}


def test_what_cannot_be_compared_is_refused_in_a_line() -> None:
    scores = _scored(_seeds("grip", [1.0], [1.2]), GRIP)
    with pytest.raises(BadInput, match="scored calibrations base, firmer; got 'softer'"):
        compare(scores, "base", "softer")
    with pytest.raises(BadInput, match="got measure 'grap'"):
        compare(scores, "base", "firmer", gates=[Gate("grap", 1.0)])
    apart: Values = {("whoops", "dash", "base", 0): {"grip": 1.0}, ("whoops", "dash", "firmer", 1): {"grip": 1.0}}
    with pytest.raises(BadInput, match="no section, mode and seed in common"):
        compare(_scored(apart, GRIP), "base", "firmer")
    twice = Scores(scores.cases * 2, (GRIP,), np.ones((1, 4)), (("",) * 4,), ("",) * 4)
    with pytest.raises(BadInput, match="scored twice"):
        compare(twice, "base", "firmer")


def test_from_a_run_to_a_card(make_run: Callable[..., Any], car: Any, lively: Any) -> None:
    cases = tuple(Case("whoops", name, "dash") for name in ("base", "firmer", "softer"))
    card = compare(score(make_run(cases=cases, **lively), car), "base", "firmer", gates=[Gate("hard_stop_count", 0.0)])
    assert card.compared == len(card.cells)
    assert card.summary().counts["dash"]["not comparable"] == 0
    assert next(cell for cell in card.cells if cell.measure.name == "travel_used").corner
