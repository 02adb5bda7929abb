"""A sweep says of every value what a check says of it; words, table and refusals."""

from __future__ import annotations

import csv
import dataclasses
import io
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.discovery import PlugIns, discover
from dualduty.errors import BadInput
from dualduty.report.sweep_picture import SweptAxis, SweptFigures, draw_sweep
from dualduty.shipped import shipped_calibrations
from dualduty.trial.checked_log import Checker
from dualduty.trial.run_sheet import read_run_sheet
from dualduty.trial.sweep_words import best, csv_text, lines, runs
from dualduty.trial.swept_parameter import settings_of_cases, swept_parameter
from dualduty.trial.threshold_sweep import MarkedLog, Sweep, SweepPlan, marked_logs, state_to_judge, sweep
from replay.check.detector_gates import Gate, Gates
from replay.marks.mark import PROPOSED, REJECTED, WATCHED

Swept = Callable[..., Sweep]


@pytest.fixture(scope="module")
def plug_ins() -> PlugIns:
    """Everything found."""
    return discover()


@pytest.fixture(scope="module")
def demo(plug_ins: PlugIns) -> Calibration:
    """The demo's baseline."""
    return read_calibration(shipped_calibrations() / "strategies" / "marram_baseline.toml", plug_ins)


@pytest.fixture(scope="module")
def logs() -> list[MarkedLog]:
    """Both demo logs with their marks."""
    folder = shipped_calibrations() / "logs"
    return marked_logs([read_run_sheet(folder / f"quarry_loop_{name}.toml") for name in ("dash", "patrol")])


@pytest.fixture(scope="module")
def swept(demo: Calibration, plug_ins: PlugIns, logs: list[MarkedLog]) -> Swept:
    """`swept((text, values), ..., state=, gates=)`."""

    def made(*wanted: tuple[str, tuple[float, ...]], state: str, gates: Gates | None = None) -> Sweep:
        parameters = tuple(swept_parameter(text, np.array(values), demo, plug_ins) for text, values in wanted)
        plan = SweepPlan(demo, parameters, state, gates or Gates())
        return sweep(plan, logs, plug_ins, lambda _: nullcontext(lambda _: None))

    return made


def test_every_value_as_a_check_of_it(swept: Swept, demo: Calibration, plug_ins: PlugIns, logs: list[MarkedLog]) -> None:
    gates = Gates({"airborne": Gate(min_recall=1.0, max_false_per_minute=0.0, max_onset_p90=0.1)})
    made = swept(("Airborne.sure_evidence_ms", (0.0, 50.0, 150.0)), state="airborne", gates=gates)
    place = "detectors.Airborne"
    outcomes = set()
    for value, result in [*zip((0.0, 0.05, 0.15), made.cases, strict=True), (None, made.current)]:
        settings = demo.settings[place]
        if value is not None:
            entry = settings["sure_evidence"]
            settings = settings | {"sure_evidence": dataclasses.replace(entry, values=np.full_like(entry.values, value))}
        checker = Checker(dataclasses.replace(demo, settings=demo.settings | {place: settings}), plug_ins, gates)
        checked = [checker.check_log(sheet, marks).result for sheet, marks in logs]
        events = [event.to_row() for one in checked for event in one.events if event.state == "airborne"]
        assert repr([event.to_row() for event in result.events]) == repr(events)
        outcomes.add(tuple(event["outcome"] for event in events))
        figures = result.of("airborne")
        assert figures.exposure.ran == pytest.approx(sum(one.of("airborne").exposure.ran for one in checked))
        assert figures.non_event_time == pytest.approx(sum(one.of("airborne").non_event_time for one in checked))
    assert len(outcomes) > 2
    np.testing.assert_array_equal(made.kept, [False, False, False])
    assert made.current_keeps  # 89 ms late, 34 ms of evidence
    assert made.ticks > 29_000


def test_marks_that_count_neither_way_and_a_watched_stretch(demo: Calibration, plug_ins: PlugIns, logs: list[MarkedLog]) -> None:
    (sheet, marks), gates = logs[0], Gates()
    flight = next(mark for mark in marks if mark.state == "airborne")
    odd = [
        *(mark for mark in marks if mark is not flight), dataclasses.replace(flight, status=PROPOSED),
        dataclasses.replace(flight, start=20.0, end=21.0, status=REJECTED), dataclasses.replace(flight, state=WATCHED, start=0.0, end=25.0),
    ]  # fmt: skip
    plan = SweepPlan(demo, (swept_parameter("Airborne.sure_evidence_ms", np.array([0.0, 40.0]), demo, plug_ins),), "airborne", gates)
    made = sweep(plan, [(sheet, odd)], plug_ins, lambda _: nullcontext(lambda _: None))
    checked = Checker(demo, plug_ins, gates).check_log(sheet, odd).result
    assert repr(made.current.of("airborne")) == repr(checked.of("airborne"))
    assert made.current.of("airborne").ignored == 1
    assert made.cases[0].of("airborne").false > 0


def test_what_is_said(swept: Swept) -> None:
    gates = Gates({"airborne": Gate(min_recall=1.0, max_false_per_minute=0.0)})
    made = swept(("Airborne.sure_evidence_ms", (0.0, 20.0, 40.0, 60.0, 150.0)), state="airborne", gates=gates)
    said = list(lines(made))
    assert said[0].startswith("current: Airborne.sure_evidence_ms = 34 ms: found 2 of 2, 0 false per min, precision 100 %, onset ")
    assert said[0].endswith("; keeps all gates")
    assert said[1].startswith("best balanced: Airborne.sure_evidence_ms = 40 ms")  # 20 and 60 have a worse one beside them
    assert said[2] == "keeps all gates: Airborne.sure_evidence_ms = 20 to 60 ms"
    assert best(made) == (2,)
    rows = list(csv.DictReader(io.StringIO(csv_text(made))))
    assert [row["keeps_gates"] for row in rows] == ["no", "yes", "yes", "yes", "no", "yes"]
    assert [row["Airborne.sure_evidence_ms"] for row in rows] == ["0", "20", "40", "60", "150", "current"]
    assert [float(row["recall_pct"]) for row in rows] == [100.0, 100.0, 100.0, 100.0, 0.0, 100.0]
    assert rows[4]["onset_median_ms"] == ""


def test_a_pair_leaves_out_what_is_out_of_order_and_moves_the_rest_along(swept: Swept) -> None:
    made = swept(("Cornering.on_g", (0.1, 0.3)), ("Cornering.off_g", (0.08, 0.2)), state="cornering")
    np.testing.assert_array_equal(made.grid, [[0, -1], [1, 2]])
    assert made.moved == ("confirm",)  # 0.18 g stands below 0.1 g no more
    recall = made.figure(lambda one: one.recall)
    assert np.isnan(recall[0, 1])
    assert recall[1, 0] == 1.0
    assert not made.gated
    said = list(lines(made))
    assert said[2:] == [
        "gates: none for cornering",
        "moved along where it had to, to stay in order: confirm",
        "left out: 1 of 4 combinations, out of order",
    ]


def test_what_moves_along_goes_no_further_than_it_must(demo: Calibration, plug_ins: PlugIns) -> None:
    one = swept_parameter("Braking.off_demand_pct", np.array([2.0, 30.0, 90.0]), demo, plug_ins)
    settings = settings_of_cases([one], demo).settings["Braking"]
    low, middle, high = ({name: float(entry.values[0, 0]) for name, entry in each.items() if "demand" in name} for each in settings)
    assert low == {"on_demand": 0.08, "off_demand": 0.02, "full_demand": 0.8}
    assert middle == {"on_demand": 0.3, "off_demand": 0.3, "full_demand": 0.8}
    assert high == {"on_demand": 0.9, "off_demand": 0.9, "full_demand": 0.9}  # through the one between


@pytest.mark.parametrize(
    ("text", "values", "said"),
    [
        ("Cornering", (0.1, 0.2), "expected DETECTOR.PARAMETER with the unit of its key"),
        ("Cornerin.on_g", (0.1, 0.2), "expected a detector or estimator, got 'Cornerin'; did you mean 'Cornering'?"),
        ("Cornering.ong", (0.1, 0.2), "unknown key; did you mean 'on_g'?"),
        ("Cornering.on_ms", (0.1, 0.2), "ms is a unit of time; expected acceleration: m_s2 or g"),
        ("Cornering.on", (0.1, 0.2), "the key names the unit: expected on_m_s2 or on_g"),
        ("Cornering.on_g", (0.1, 60.0), "= 60 g is above 1.22366 g"),
    ],
)
def test_a_parameter_that_can_not_be_swept(text: str, values: tuple[float, ...], said: str, demo: Calibration, plug_ins: PlugIns) -> None:
    with pytest.raises(BadInput) as caught:
        swept_parameter(text, np.array(values), demo, plug_ins)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith(text)


def test_which_state_is_judged(demo: Calibration, plug_ins: PlugIns, logs: list[MarkedLog]) -> None:
    values = np.array([0.1, 0.2])
    cornering = swept_parameter("Cornering.on_g", values, demo, plug_ins)
    assert state_to_judge("", [cornering], logs, Gates()) == "cornering"
    assert state_to_judge("braking", [cornering], logs, Gates()) == "braking"
    stuck = swept_parameter("Standstill.on_speed_m_s", values, demo, plug_ins)
    with pytest.raises(BadInput, match="Standstill gives standstill, of which nothing is marked"):
        state_to_judge("", [stuck], logs, Gates())
    speed = swept_parameter("VehicleSpeed.gain_limit_g", values + 0.5, demo, plug_ins)
    with pytest.raises(BadInput, match="VehicleSpeed gives no state, of which nothing is marked"):
        state_to_judge("", [speed], logs, Gates())


def test_a_mark_beyond_the_log_names_its_file(demo: Calibration, plug_ins: PlugIns, logs: list[MarkedLog]) -> None:
    sheet, marks = logs[0]
    wrong = [dataclasses.replace(marks[0], start=900.0, end=901.0, row=7)]
    plan = SweepPlan(demo, (swept_parameter("Airborne.sure_evidence_ms", np.array([20.0, 40.0]), demo, plug_ins),), "airborne", Gates())
    with pytest.raises(BadInput, match=r"quarry_loop_dash\.marks\.csv line 7: .* begins at 900 s; the log ends at"):
        sweep(plan, [(sheet, wrong)], plug_ins, lambda _: nullcontext(lambda _: None))


def test_runs_of_kept_values() -> None:
    assert runs(np.array([True, False, True, True])) == [(0, 0), (2, 3)]
    assert runs(np.array([False, False])) == []


@pytest.mark.parametrize("pair", [False, True])
def test_the_picture_shows_the_set_value_and_where_gates_are_kept(pair: bool) -> None:
    axis = SweptAxis("Airborne.sure_evidence_ms  [ms]", np.linspace(0.0, 40.0, 5), (34.0,))
    shape = (5, 3) if pair else (5,)
    rising = np.linspace(0.0, 100.0, int(np.prod(shape))).reshape(shape)
    shown = SweptFigures(rising, rising, rising / 10.0, rising, rising, rising > 60.0)
    axes = [axis, SweptAxis("Airborne.off_after_ms  [ms]", np.array([1.0, 2.0, 3.0]), (2.0,))][: 1 + pair]
    figure: Any = draw_sweep("airborne", "made up", axes, shown)
    panel = figure.axes[0]
    if pair:
        assert len(panel.collections[-1].get_paths()) == int((rising > 60.0).sum())
        assert [(line.get_xdata()[0], line.get_ydata()[0]) for line in panel.lines] == [(34.0, 2.0)]
    else:
        bands = list(panel.patches)
        assert len(bands) == int((rising > 60.0).sum())
        assert any(np.all(np.asarray(line.get_xdata()) == 34.0) for line in panel.lines)


def test_one_person_s_folder_is_not_written_into(tmp_path: Path) -> None:
    from click.testing import CliRunner

    from dualduty.command_line.threshold_sweep_command import command

    (tmp_path / "notes.txt").write_text("mine")
    given = [str(shipped_calibrations() / "strategies" / "marram_baseline.toml"), "Airborne.sure_evidence_ms", "--from", "0", "--to", "40"]
    done = CliRunner().invoke(command, [*given, "--out", str(tmp_path), "--quiet"])
    assert isinstance(done.exception, BadInput)
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]


def test_the_command_writes_picture_and_table(tmp_path: Path) -> None:
    from click.testing import CliRunner

    from dualduty.command_line.threshold_sweep_command import command

    given = [str(shipped_calibrations() / "strategies" / "marram_baseline.toml"), "Airborne.sure_evidence_ms", "--from", "0", "--to", "40"]
    done = CliRunner().invoke(
        command, [*given, "--values", "3", "--log", "quarry_loop_dash", "--out", str(tmp_path / "out"), "--quiet"], catch_exceptions=False
    )
    assert done.exit_code == 0
    assert {path.name for path in (tmp_path / "out").iterdir()} >= {"sweep.csv", "sweep.png"}
    for option, value, said in (("--to", "0", "expected more than --from 0"), ("--from-2", "1", "belongs to a second parameter")):
        refused = CliRunner().invoke(command, [*given, option, value, "--quiet"])
        assert said in str(refused.exception)
