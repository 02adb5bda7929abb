"""The scene the bench exists for: "too much roll in the berm" is answered in dash, and nothing else moves, to the bit."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from dualduty.discovery import discover
from dualduty.export.candidate import export_candidate
from dualduty.export.table import Row, read_table
from dualduty.scoring.scorecard import Cell, Scorecard
from dualduty.shipped import shipped_calibrations
from dualduty.trace import FLAG_FAULT, TraceChunk
from dualduty.trial.folder import WorkFolder
from dualduty.trial.gates import read_gates
from dualduty.trial.simulate import Lane, Simulated, simulate
from dualduty.trial.trial import Pair, read_pair, scorecard_of

CORNERS = ("berm_corner", "rough_corner")  # the sections with a corner to hold
UNTOUCHED = ("patrol", "haul")


class Scene(NamedTuple):
    """One simulation for all tests of this module."""

    pair: Pair
    simulated: Simulated
    card: Scorecard
    whole: TraceChunk

    def cells(self, section: str, mode: str) -> dict[str, Cell]:
        """Cells of one place by measure."""
        return {cell.measure.name: cell for cell in self.card.cells if (cell.section, cell.mode) == (section, mode)}


@pytest.fixture(scope="module")
def scene() -> Scene:
    """`berm_support` against what it starts from: every everyday section, every drive mode."""
    work = WorkFolder(shipped_calibrations())
    plug_ins = discover()
    pair = read_pair(work.calibration("berm_support"), None, plug_ins)
    lane = Lane(tuple(work.everyday_sections()), pair.baseline.modes)
    simulated = simulate((pair.baseline, pair.candidate), lane, plug_ins)
    card = scorecard_of(simulated, pair, read_gates(work.root / "gates.toml", [path.stem for path in work.section_files(())], lane.modes))
    return Scene(pair, simulated, card, simulated.traces[0].whole())


def test_everything_ran_in_one_batch(scene: Scene) -> None:
    sections = {path.stem for path in WorkFolder(shipped_calibrations()).everyday_sections()}
    assert len(scene.simulated.traces) == 1
    assert len(scene.simulated.traces[0].header.cases) == len(sections) * 3 * 2
    assert {cell.section for cell in scene.card.cells} == sections


def test_no_sensor_fails_on_a_shipped_section(scene: Scene) -> None:
    """The scores belong to the calibration, not to its fallback duties: a gyro that reads 0 to the bit counts as stuck."""
    for side, flags in scene.whole.flags.items():
        failed = [
            case.label for index, case in enumerate(scene.simulated.traces[0].header.cases) if (flags[:, :, index] & FLAG_FAULT).any()
        ]
        assert not failed, (side, failed)


def test_the_berm_rolls_less_in_dash(scene: Scene) -> None:
    cell = scene.cells("berm_corner", "dash")["suspension_roll_rms"]
    assert cell.verdict == "better"
    assert cell.change < 0.0


def test_the_price_is_shown(scene: Scene) -> None:
    verdicts = {name: cell.verdict for name, cell in scene.cells("rough_corner", "dash").items()}
    assert "worse" in verdicts.values()
    assert verdicts["suspension_roll_rms"] == "better"  # the roll is held there too; comfort pays
    assert {cell.section for cell in scene.card.summary().worse} == {"rough_corner"}


def test_every_other_section_is_identical_in_dash(scene: Scene) -> None:
    moved = {cell.section for cell in scene.card.cells if cell.mode == "dash" and cell.verdict != "identical"}
    assert moved == set(CORNERS)


def test_the_modes_it_was_not_meant_for_are_identical(scene: Scene) -> None:
    cells = [cell for cell in scene.card.cells if cell.mode in UNTOUCHED]
    assert len(cells) == len(scene.card.cells) * 2 // 3
    assert {cell.verdict for cell in cells} == {"identical"}


def test_there_every_raw_array_is_the_same_to_the_bit(scene: Scene) -> None:
    cases = scene.simulated.traces[0].header.cases
    pairs = [(section, mode) for section in sorted({case.section for case in cases}) for mode in UNTOUCHED]
    differing = {(place, name) for place in pairs for name, before, after in _both(scene, *place) if before.tobytes() != after.tobytes()}
    assert not differing


@pytest.mark.parametrize("section", CORNERS)
def test_the_same_look_at_raw_arrays_sees_the_change_in_dash(scene: Scene, section: str) -> None:
    differing = {name for name, before, after in _both(scene, section, "dash") if before.tobytes() != after.tobytes()}
    assert {"duty.compression", "duty.rebound", "truth.roll", "signals.shaft_travel"} <= differing


def test_the_difference_is_two_values(scene: Scene) -> None:
    said = [(c.place, c.parameter, c.mode, c.corners, c.before, c.after, c.unit) for c in scene.pair.changes]
    assert said == [
        ("layers.corner support.RollHold", "outer_compression", "dash", "front", 60.0, 70.0, "%"),
        ("layers.corner support.RollHold", "inner_rebound", "dash", "rear", 27.0, 37.0, "%"),
    ]


def test_the_tables_differ_in_those_rows_only(scene: Scene, tmp_path: Path) -> None:
    written = [export_candidate(one, scene.pair.baseline, tmp_path) for one in (scene.pair.baseline, scene.pair.candidate)]
    before, after = (read_table(one.table) for one in written)
    assert len(before) == len(after)
    differing = [(_place(new), old["value"], new["value"]) for old, new in zip(before, after, strict=True) if old != new]
    law = "layers.corner support.RollHold"
    assert differing == [
        ((law, "outer_compression", "dash", "front_left"), "60", "70"),
        ((law, "outer_compression", "dash", "front_right"), "60", "70"),
        ((law, "inner_rebound", "dash", "rear_left"), "27", "37"),
        ((law, "inner_rebound", "dash", "rear_right"), "27", "37"),
    ]


def test_no_gate_is_crossed_and_none_is_left_unchecked(scene: Scene) -> None:
    assert scene.card.gates
    assert [check.sentence() for check in scene.card.gates if check.crossed is not False] == []


def _place(row: Row) -> tuple[str, ...]:
    return tuple(row[name] for name in ("place", "parameter", "drive_mode", "corner"))


def _both(scene: Scene, section: str, mode: str) -> Iterator[tuple[str, Any, Any]]:
    """Every raw array of one place, of the baseline and of the candidate."""
    before, after = (scene.simulated.find(section, mode, one.name)[1] for one in (scene.pair.baseline, scene.pair.candidate))
    for group in ("signals", "valid", "quantities", "states", "strengths", "asked", "duty", "layer", "flags", "truth"):
        for name, array in getattr(scene.whole, group).items():
            yield f"{group}.{name}", np.ascontiguousarray(array[..., before]), np.ascontiguousarray(array[..., after])
