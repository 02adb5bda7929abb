"""Candidates with other layers or laws run in a batch of their own, and leave a mode they don't touch as it is, to the bit."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from dualduty.calibration.read import read_calibration
from dualduty.discovery import PlugIns, discover
from dualduty.shipped import shipped_calibrations
from dualduty.trace import TraceChunk
from dualduty.trial.simulate import Lane, Simulated, simulate
from dualduty.trial.trial import Pair, read_pair, scorecard_of

STRATEGIES = shipped_calibrations() / "strategies"
BASELINE = STRATEGIES / "marram_baseline.toml"
LAW = '''
from __future__ import annotations
from dataclasses import dataclass
import numpy as np
from dualduty.contract import Chunk, Duty, Memory
from dualduty.parameters import param

@dataclass(frozen=True)
class LeanOnLateral:
    """Compression duty in proportion to felt lateral acceleration; invented for this test."""

    per_g: float = param(0.6, "1", 0.0, 1.0, "duty at 1 g", said="pct")

    def run(self, now: Chunk, memory: Memory) -> Duty:
        wanted = np.minimum(np.abs(now.specific_force_y) / 9.81 * self.per_g, 1.0)
        return Duty(np.repeat(wanted, 4, axis=0), None)
'''
ADDED = """
name = "one more"
[[layers]]
name = "lean"
law = "LeanOnLateral"
act = "raise"
enabled = { patrol = 0, dash = 1, haul = 0 }
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A section that is over soon after the corner begins, and a law of one's own."""
    made = tmp_path_factory.mktemp("structures")
    text = (shipped_calibrations() / "sections" / "berm_corner.toml").read_text(encoding="utf-8")
    (made / "berm_corner.toml").write_text(re.sub(r"(?m)^duration_s = .*$", "duration_s = 2.0", text), encoding="utf-8")
    (made / "law.py").write_text(LAW, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def plug_ins(folder: Path) -> PlugIns:
    """The shipped ones, and the law of one's own."""
    return discover((folder / "law.py",))


def added(_: str) -> str:
    """One more layer, in dash only."""
    return f'starts_from = "{BASELINE.as_posix()}"\n{ADDED}'


def removed(text: str) -> str:
    """The whole baseline without its landing layer."""
    kept, cuts = re.subn(r'\[\[layers\]\]\nname = "landing".*?(?=\n# the stops)', "", text, flags=re.DOTALL)
    assert cuts == 1
    return _renamed(kept, "one less")


def replaced(text: str) -> str:
    """The corner support by the law of one's own, in dash only; in the other modes nothing supports."""
    kept, cuts = re.subn(r"(?s)\[layers\.RollHold\].*?(?=\n# brake and throttle)", "[layers.LeanOnLateral]\nper_g_pct = 50\n", text)
    assert cuts == 1
    return _renamed(kept.replace('law = "RollHold"', 'law = "LeanOnLateral"'), "another law")


def _renamed(text: str, name: str) -> str:
    moved = text.replace('vehicle = "../', f'vehicle = "{shipped_calibrations().as_posix()}/')
    return moved.replace('name = "marram baseline"', f'name = "{name}"')


def tried(folder: Path, plug_ins: PlugIns, made: Callable[[str], str]) -> tuple[Pair, Simulated]:
    """A candidate against the shipped baseline, in patrol and dash."""
    path = folder / f"{made.__name__}.toml"
    path.write_text(made(BASELINE.read_text(encoding="utf-8")), encoding="utf-8")
    pair = read_pair(path, BASELINE, plug_ins)
    lane = Lane((folder / "berm_corner.toml",), ("patrol", "dash"))
    return pair, simulate((pair.baseline, pair.candidate), lane, plug_ins)


def differing(pair: Pair, simulated: Simulated, mode: str) -> set[str]:
    """Raw arrays that differ between baseline and candidate in one drive mode, or that only one of them has."""
    sides: list[tuple[TraceChunk, int]] = []
    for one in (pair.baseline, pair.candidate):
        trace, case = simulated.find("berm_corner", mode, one.name)
        sides.append((trace.whole(), case))
    (before, left), (after, right) = sides
    found: set[str] = set()
    for group in ("signals", "quantities", "duty", "truth"):
        one, other = getattr(before, group), getattr(after, group)
        found |= {f"{group}.{name}" for name in one.keys() ^ other.keys()}
        same = [name for name in one.keys() & other.keys() if np.array_equal(one[name][..., left], other[name][..., right], equal_nan=True)]
        found |= {f"{group}.{name}" for name in (one.keys() & other.keys()).difference(same)}
    return found


def test_a_layer_more_leaves_the_modes_where_it_is_off(folder: Path, plug_ins: PlugIns) -> None:
    pair, simulated = tried(folder, plug_ins, added)
    card = scorecard_of(simulated, pair, ())
    assert [len(trace.header.layers) for trace in simulated.traces] == [11, 12]
    assert differing(pair, simulated, "patrol") == set()
    assert {"duty.compression", "truth.roll"} <= differing(pair, simulated, "dash")
    assert {cell.verdict for cell in card.cells if cell.mode == "patrol"} == {"identical"}
    assert {cell.verdict for cell in card.cells if cell.mode == "dash"} != {"identical"}
    assert [(change.place, change.after) for change in pair.changes] == [("layers.lean", "added (LeanOnLateral, raise)")]


def test_a_layer_less_moves_nothing_where_it_never_opened(folder: Path, plug_ins: PlugIns) -> None:
    pair, simulated = tried(folder, plug_ins, removed)
    assert [len(trace.header.layers) for trace in simulated.traces] == [11, 10]
    assert differing(pair, simulated, "patrol") == differing(pair, simulated, "dash") == set()
    assert any("landing" in change.place for change in pair.changes)


def test_another_law_in_the_same_layer_is_another_structure(folder: Path, plug_ins: PlugIns) -> None:
    pair, simulated = tried(folder, plug_ins, replaced)
    assert len(simulated.traces) == 2
    assert simulated.traces[0].header.layers == simulated.traces[1].header.layers
    everywhere = differing(pair, simulated, "patrol") & differing(pair, simulated, "dash")
    assert "duty.compression" in everywhere
    assert "quantities.suspension_roll" in everywhere  # only RollHold reads it: without it, nobody works it out


def test_other_damper_maps_map_forces_by_themselves(folder: Path, plug_ins: PlugIns) -> None:
    """A candidate that holds its dampers for half as firm asks for more duty than the baseline beside it."""
    baseline = read_calibration(BASELINE, plug_ins)
    maps = {f"{axle}_{side}": getattr(baseline.car, f"{axle}_{side}") for axle in ("front", "rear") for side in ("compression", "rebound")}
    softer = {name: dataclasses.replace(entry, forces=0.5 * entry.forces) for name, entry in maps.items()}
    other = dataclasses.replace(baseline, name="softer", car=dataclasses.replace(baseline.car, **softer))
    simulated = simulate((baseline, other), Lane((folder / "berm_corner.toml",), ("dash",)), plug_ins)
    assert len(simulated.traces) == 2
    (one, left), (two, right) = (simulated.find("berm_corner", "dash", name) for name in (baseline.name, "softer"))
    asked, wanted = (trace.whole().asked["rebound"][..., case].mean() for trace, case in ((one, left), (two, right)))
    assert wanted > asked + 0.005  # measured 0.0098; mapped with the baseline's maps it would be 0
