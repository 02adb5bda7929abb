"""Hardware and calibration on one scorecard: who drove what, the baseline untouched, and nothing of it in the table."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest

from dualduty.discovery import PlugIns, discover
from dualduty.errors import BadInput
from dualduty.export.candidate import export_candidate
from dualduty.shipped import shipped_calibrations
from dualduty.trial.cars import read_cars
from dualduty.trial.folder import WorkFolder
from dualduty.trial.results import tried
from dualduty.trial.simulate import Lane, Simulated, simulate
from dualduty.trial.trial import Pair, Trial, read_pair, scorecard_of

SHIPPED = shipped_calibrations()
BASELINE = SHIPPED / "strategies" / "marram_baseline.toml"
CANDIDATE = SHIPPED / "strategies" / "berm_support.toml"
MARRAM = SHIPPED / "vehicles" / "marram.toml"
OVERLAY = SHIPPED / "vehicles" / "overlays" / "rear_compression_firmer.toml"


@pytest.fixture(scope="module")
def plug_ins() -> PlugIns:
    """The shipped ones."""
    return discover()


@pytest.fixture(scope="module")
def lane(tmp_path_factory: pytest.TempPathFactory) -> Lane:
    """The beginning of the whoops, in dash."""
    made = tmp_path_factory.mktemp("cars") / "whoops.toml"
    text = (SHIPPED / "sections" / "whoops.toml").read_text(encoding="utf-8")
    made.write_text(re.sub(r"(?m)^duration_s = .*$", "duration_s = 3.0", text), encoding="utf-8")
    return Lane((made,), ("dash",))


def travel(simulated: Simulated, candidate: str) -> np.ndarray:
    """True travels of one column."""
    trace, index = simulated.find("whoops", "dash", candidate)
    return trace.whole().truth["true_travel"][:, :, index]


@pytest.mark.parametrize("candidate", [BASELINE, CANDIDATE])
def test_only_the_candidate_s_column_drives_the_hardware(plug_ins: PlugIns, lane: Lane, candidate: Path) -> None:
    pair = read_pair(candidate, None, plug_ins, other_hardware=True)
    cars = read_cars(MARRAM, overlay=OVERLAY)
    both = (pair.baseline, pair.candidate)
    plain, simulated = simulate(both[:1], lane, plug_ins), simulate(both, lane, plug_ins, cars=cars)
    before, after = cars.columns(both)
    assert after == f"{pair.candidate.name} on rear_compression_firmer"
    np.testing.assert_array_equal(travel(simulated, before), travel(plain, pair.baseline.name))
    assert np.abs(travel(simulated, after) - travel(simulated, before)).max() > 1e-3
    card = scorecard_of(simulated, pair, (), cars)
    assert (card.baseline, card.candidate) == (before, after)
    # measured 5 cells: vibration dose, landing acceleration and stop force less, one duty reversal more, another crest factor
    assert any(cell.verdict not in ("identical", "same") for cell in card.cells)


def test_the_manifest_says_who_drove_what_and_the_table_does_not_change(plug_ins: PlugIns, lane: Lane, tmp_path: Path) -> None:
    pair = read_pair(CANDIDATE, None, plug_ins, other_hardware=True)
    both = (pair.baseline, pair.candidate)
    written = []
    for name, overlay in (("plain", None), ("firmer", OVERLAY)):
        cars = read_cars(MARRAM, "stretcher", overlay)
        simulated = simulate(both, lane, plug_ins, cars=cars)
        trial = Trial(pair, simulated, scorecard_of(simulated, pair, (), cars), cars=cars)
        (tmp_path / name).mkdir()
        written.append(export_candidate(pair.candidate, pair.baseline, tmp_path / name, tried(trial)))
    assert written[0].table.read_bytes() == written[1].table.read_bytes()
    told = [json.loads(one.manifest.read_text(encoding="utf-8"))["tried"]["vehicles"] for one in written]
    assert told[0]["hardware_of_candidate"] is None
    assert told[1]["payload"] == "stretcher"
    assert told[1]["hardware_of_candidate"]["changes"][0].startswith("valving rear compression +15 %")


def test_without_hardware_a_calibration_against_itself_is_refused(plug_ins: PlugIns) -> None:
    with pytest.raises(BadInput, match="starts_from"):
        read_pair(BASELINE, None, plug_ins)
    alone: Pair = read_pair(BASELINE, None, plug_ins, other_hardware=True)
    assert alone.baseline is alone.candidate


def test_vehicles_and_overlays_are_found_by_name() -> None:
    work = WorkFolder(SHIPPED)
    assert work.vehicle("marram_2").name == "marram_2.toml"
    assert work.overlay("softer_tyres").name == "softer_tyres.toml"
    with pytest.raises(BadInput, match="did you mean 'softer_tyres'"):
        work.overlay("softer_tyre")
    with pytest.raises(BadInput, match="did you mean 'stretcher'"):
        read_cars(MARRAM, "strecher")
