"""Every bad input of a calibration file is one clear line with file and key."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path

import pytest

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.contract import Duty, quantity
from dualduty.discovery import PlugIns, examine
from dualduty.errors import BadInput, SeveralBadInputs
from strategies.estimators.corner_speed import CornerSpeed

Read = Callable[..., Calibration]
LAYER = '[[layers]]\nname = "support"\n'
NEW = '[[layers]]\nname = "new"\n'
LAW = LAYER + "[layers.RollHold]\n"

CANDIDATES = [
    # what the file says, the place, what is said about it
    ("[intake]\nfault_aftr_ms = 20", "intake.fault_aftr_ms", "unknown key; did you mean 'fault_after_ms'?"),
    ("[detectors.Cornering]\non_delya_ms = 20", "detectors.Cornering.on_delya_ms", "did you mean 'on_delay_ms'?"),
    ("[supervisr]\nfault_after_ms = 20", "supervisr", "unknown key; did you mean 'supervisor'?"),
    ("[detectors.Corneing]\non_g = 0.2", "detectors.Corneing", "expected a detector, got 'Corneing'; did you mean 'Cornering'?"),
    ("[estimators.Cornering]\non_g = 0.2", "estimators.Cornering", "expected an estimator, got 'Cornering'"),
    (LAW + "outr_compression_pct = 40", 'layers[0] "support".RollHold.outr_compression_pct', "did you mean 'outer_compression_pct'?"),
    (LAYER + "[layers.RolHold]\nrate_gain_s_rad = 1", 'layers[0] "support".RolHold', "expected a table of a law of this layer, RollHold"),
    ("[detectors.Cornering]\non_g = 9", "detectors.Cornering.on_g", "= 9 g is above 1.22366 g"),
    (LAW + "outer_compression_pct = -1", "RollHold.outer_compression_pct", "= -1 % is below 0 %"),
    (LAW + "outer_compression_pct = nan", "RollHold.outer_compression_pct", "= nan is not a number"),
    (LAW + "outer_compression_pct = inf", "RollHold.outer_compression_pct", "not a number"),
    (LAW + f"outer_compression_pct = 1{'0' * 400}", "RollHold.outer_compression_pct", "expected a number of 64 bits"),
    (LAW + "outer_compression_pct = true", "RollHold.outer_compression_pct", "expected a number, got True"),
    (LAW + "outer_compression_pct = { dash = 65, front = 30 }", "RollHold.outer_compression_pct", "which one wins? Put the corners inside"),
    (LAW + "outer_compression_pct = { front = 65, left = 30 }", "RollHold.outer_compression_pct", "front and left overlap at one corner"),
    (LAW + 'outer_compression_pct = "40"', "RollHold.outer_compression_pct", "expected a number, got '40'"),
    (LAW + "outer_compression_pct = [40, 40]", "RollHold.outer_compression_pct", "expected a number, got [40, 40]"),
    ("[detectors.Cornering]\non_km_h = 3", "detectors.Cornering.on_km_h", "km/h is a unit of speed; expected acceleration: m_s2 or g"),
    ("[detectors.Cornering]\non = 3", "detectors.Cornering.on", "the key names the unit: expected on_m_s2 or on_g"),
    ("[detectors.Cornering]\nfull_furlong = 3", "detectors.Cornering.full_furlong", "unit 'furlong' is not known; expected full_ with"),
    ("[detectors.Cornering]\non_g = 0.2\non_m_s2 = 3", "detectors.Cornering.on_m_s2", "on is given twice, also as 'on_g'"),
    (LAW + "outer_compression_pct.dsh = 40", "outer_compression_pct.dsh", "expected a drive mode (patrol, dash, haul) or a corner or axle"),
    (LAW + "outer_compression_pct.dsh = 40", "outer_compression_pct.dsh", "did you mean 'dash'?"),
    (LAW + "outer_compression_pct.dash.frnt = 40", "outer_compression_pct.dash.frnt", "did you mean 'front'?"),
    (LAW + "outer_compression_pct.dash.patrol = 40", "outer_compression_pct.dash.patrol", "got 'patrol'"),
    (LAW + "outer_compression_pct.front.rear = 40", "outer_compression_pct.front.rear", "got 'rear'"),
    ("[detectors.Cornering]\non_g.front = 0.2", "detectors.Cornering.on_g.front", "on holds for the whole vehicle and can't differ"),
    (LAYER + 'act = "sett"', 'layers[0] "support".act', "expected one of set, add, raise, cap, got 'sett'"),
    (LAYER + 'join = "mean"', 'layers[0] "support".join', "expected one of max, sum, got 'mean'"),
    (LAYER + 'when = "cornering"', 'layers[0] "support".when', "expected a list of state names, got 'cornering'"),
    (LAYER + 'when = ["cornring"]', 'layer "support"', "when/unless name a state; 'cornring' is none of accelerating, "),
    (LAYER + 'corners = ["outer_frnt"]', 'layers[0] "support".corners', "expected roles among outer, inner, leading, trailing"),
    (LAYER + 'corners = "outer"', 'layers[0] "support".corners', "expected a list of roles, got 'outer'"),
    (LAYER + f"when = {['braking'] * 9}".replace("'", '"'), 'layers[0] "support".when', "expected at most 8, got 9"),
    (LAYER + 'unless = ["shaft_speed"]', 'layer "support"', "when/unless name a state; 'shaft_speed' is none of accelerating, "),
    (LAYER + 'law = "FixedDuty"', 'layers[0] "support".law', "a layer keeps its law; expected RollHold, got 'FixedDuty'"),
    (LAYER + 'laws = ["FixedDuty"]', 'layers[0] "support".laws', "a layer keeps its law; expected RollHold, got ['FixedDuty']"),
    (LAYER + "laws = 3", 'layers[0] "support".laws', "a layer keeps its law; expected RollHold, got 3"),
    (LAYER + "RollHold = 3", 'layers[0] "support".RollHold', "expected a table of parameters, got 3"),
    (LAYER + LAYER, 'layers[1] "support"', "a layer of this name stands above in this file"),
    (LAYER + 'after = "bse"', 'layers[0] "support".after', "expected the name of another layer, got 'bse'"),
    (LAYER + "after = [1]", 'layers[0] "support".after', "expected the name of another layer, got [1]"),
    ('[[layers]]\nname = "new"\nlaw = "FixdDuty"', 'layers[0] "new".law', "expected a law, got 'FixdDuty'; did you mean 'FixedDuty'?"),
    ('[[layers]]\nname = "new"\nlaw = "Cornering"', 'layers[0] "new".law', "expected a law, got 'Cornering'"),
    ('[[layers]]\nname = "new"', 'layers[0] "new"', 'expected law = "Name" or laws = ["Name", ...], got None'),
    ('[[layers]]\nname = "new"\nlaws = []', 'layers[0] "new"', "got []"),
    (NEW + 'laws = ["SkyhookTwoWay", "FixedDuty"]', 'layers[0] "new".laws', "several laws in one layer must all ask for force"),
    (NEW + 'laws = ["SkyhookTwoWay", "SkyhookTwoWay"]', 'layers[0] "new".laws', "expected each law once"),
    (NEW + 'law = "Trim"\nact = "set"', 'layers[0] "new".act', "Trim asks for a difference; expected act = \"add\", got 'set'"),
    ('[[layers]]\nlaw = "FixedDuty"', "layers[0]", "expected a layer with a name"),
    ('[[layers]]\nname = ["FixedDuty"]', "layers[0]", "expected a layer with a name"),
    ("layers = 3", "layers", "expected a list of layers, each under [[layers]]"),
    ("layers = [3]", "layers[0]", "expected a layer with a name"),
    ("supervisor = 3", "supervisor", "expected a table, got 3"),
    ("detectors = { Cornering = 3 }", "detectors.Cornering", "expected a table of parameters, got 3"),
    ('modes = ["patrol"]', "modes", "expected those of base.toml, patrol, dash, haul, got ['patrol']"),
    ('[suppliers]\nshaft_speed = "CornerSpeed"', "suppliers.shaft_speed", "what gives 'shaft_speed': ShaftSpeed, got 'CornerSpeed'"),
    ('[suppliers]\nshaft_sped = "ShaftSpeed"', "suppliers.shaft_sped", "expected what gives 'shaft_sped': nothing does"),
    ("vehicle = 3", "vehicle", "expected a path to a vehicle file, got 3"),
    ('vehicle = "nothing.toml"', "vehicle", "expected a vehicle file, found no file 'nothing.toml'"),
    ("[detectors.Cornering]\noff_g = 0.3", "detectors.Cornering.off", "= 0.3 g is above on = 0.25 g (drive mode patrol)"),
    (
        "[supervisor]\nlowest_rebound_pct.dash = 60\nhighest_rebound_pct = 50",
        "supervisor.lowest_rebound",
        "= 60 % is above highest_rebound = 50 % (drive mode dash)",
    ),
    ("name = \nnote = 1", "", "is not valid TOML: Invalid value (at line 2, column 8)"),
    ("name = 1\nname = 2\nnote = 3", "", "is not valid TOML: Cannot overwrite a value (at line 3"),
    ("\x00", "", "is not valid TOML"),
]

CURVE = LAYER.replace("support", "base") + "[layers.ModeCurves.compression]\n"
CURVES = [
    ("pct = [10, 20, 30]", "compression.pct", "expected 4 numbers, one per breakpoint, got [10, 20, 30]"),
    ("pct = 10", "compression.pct", "expected 4 numbers, one per breakpoint, got 10"),
    ("pct.dash = [10, 20, 30, 140]", "compression.pct.dash", "= 140 % is above 100 %"),
    ("vehicle_speed_km_h = [0, 50, 20, 90]\npct = [1, 2, 3, 4]", "compression.vehicle_speed_km_h", "expected a list of rising numbers"),
    ("vehicle_speed_km_h = [0, 20, 20, 90]\npct = [1, 2, 3, 4]", "compression.vehicle_speed_km_h", "expected a list of rising numbers"),
    ("vehicle_speed_km_h = []\npct = [1, 2, 3, 4]", "compression.vehicle_speed_km_h", "expected a list of rising numbers, got []"),
    ("vehicle_speed_km_h = 20\npct = [1, 2, 3, 4]", "compression.vehicle_speed_km_h", "expected a list of rising numbers, got 20"),
    ("vehicle_speed_g = [0, 1, 2, 3]\npct = [1, 2, 3, 4]", "compression.vehicle_speed_g", "expected vehicle_speed_ with m_s or"),
    ("vehicle_sped_km_h = [0, 1, 2, 3]", "compression.vehicle_sped_km_h", "expected vehicle_speed_km_h or values under 1 or pct"),
    ("vehicle_speed_km_h = [0, 20, 60, 90]", "compression", "the breakpoints changed: expected values for every drive mode"),
    ("vehicle_speed_km_h = [0, 20, 60]\npct.dash = [1, 2, 3]", "compression", "the breakpoints changed: expected values for every"),
]


def _refused(read: Callable[[], object]) -> str:
    with pytest.raises(BadInput) as caught:
        read()
    assert not isinstance(caught.value, SeveralBadInputs), str(caught.value)
    said = str(caught.value)
    assert "\n" not in said
    return said


@pytest.mark.parametrize(("text", "place", "said"), CANDIDATES)
def test_a_bad_candidate_is_one_line_with_file_and_key(text: str, place: str, said: str, read: Read, tmp_path: Path) -> None:
    line = _refused(lambda: read(text))
    assert line.startswith(f"{tmp_path / 'candidate.toml'}: ")
    assert place in line
    assert said in line


@pytest.mark.parametrize(("text", "place", "said"), CURVES)
def test_a_bad_curve_is_one_line_with_file_and_key(text: str, place: str, said: str, read: Read) -> None:
    line = _refused(lambda: read(CURVE + text))
    assert f'candidate.toml: layers[0] "base".ModeCurves.{place}' in line
    assert said in line


@pytest.mark.parametrize(
    ("replace", "said"),
    [
        (('modes = ["patrol", "dash", "haul"]', ""), "modes: expected a list of drive-mode names, each once, got None"),
        (('modes = ["patrol", "dash", "haul"]', 'modes = ["dash", "dash"]'), "modes: expected a list of drive-mode names, each once"),
        (("vehicle =", "note ="), "vehicle: expected the path of a vehicle file, the key is missing"),
        (("[[layers]]", "[[layerz]]"), "layerz: unknown key; did you mean 'layers'?"),
    ],
)
def test_a_bad_root_is_one_line(replace: tuple[str, str], said: str, read: Read) -> None:
    assert f"candidate.toml: {said}" in _refused(lambda: read(replace=replace))


def test_no_layer_at_all(tmp_path: Path, base: Path, plug_ins: PlugIns) -> None:
    file = tmp_path / "none.toml"
    file.write_text(base.read_text(encoding="utf-8").split("[[layers]]", 1)[0], encoding="utf-8")
    assert "none.toml: layers: expected at least one layer" in _refused(lambda: read_calibration(file, plug_ins))


def test_a_circle_of_files(tmp_path: Path, plug_ins: PlugIns) -> None:
    for name, other in (("a", "b"), ("b", "c"), ("c", "a")):
        (tmp_path / f"{name}.toml").write_text(f'starts_from = "{other}.toml"', encoding="utf-8")
    assert _refused(lambda: read_calibration(tmp_path / "a.toml", plug_ins)).endswith("a.toml: starts_from leads back to this file")


@pytest.mark.parametrize("parent", ['"nothing.toml"', "3", '"."', '"a\\u0000b"'])
def test_a_missing_parent_is_told_at_its_key(parent: str, tmp_path: Path, plug_ins: PlugIns) -> None:
    file = tmp_path / "child.toml"
    file.write_text(f"starts_from = {parent}", encoding="utf-8")
    line = _refused(lambda: read_calibration(file, plug_ins))
    assert line.startswith(f"{file}: starts_from: expected the path of another calibration, found no file")


def test_files_that_are_none(tmp_path: Path, base: Path, plug_ins: PlugIns) -> None:
    assert "did you mean 'base.toml'?" in _refused(lambda: read_calibration(tmp_path / "basse.toml", plug_ins))
    assert "can't be read: Is a directory" in _refused(lambda: read_calibration(tmp_path, plug_ins))
    base.write_bytes(b'name = "\xff"')
    assert "base.toml: expected UTF-8 text" in _refused(lambda: read_calibration(base, plug_ins))


def test_all_problems_of_a_chain_of_files_come_at_once(read: Read, base: Path) -> None:
    base.write_text(base.read_text(encoding="utf-8").replace("on_g = 0.25", "on_g = 99"), encoding="utf-8")
    with pytest.raises(SeveralBadInputs) as caught:
        read(LAW + "outer_compression_pct = 400\nrate_gain_s_rad = -1")
    lines = str(caught.value).splitlines()
    assert [line.split(": ")[0].rsplit("/", 1)[1] for line in lines] == ["base.toml", "candidate.toml", "candidate.toml"]


class _SecondSpeed(CornerSpeed):
    """Also gives the corner speed."""


class _First:
    gives = (quantity("first", "m/s", "made up"),)

    def run(self, now, memory):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
        """Reads what reads it."""
        return {"first": now.second}


class _Second:
    gives = (quantity("second", "m/s", "made up"),)

    def run(self, now, memory):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
        """Reads what reads it."""
        return {"second": now.first}


def _with(plug_ins: PlugIns, *classes: type) -> PlugIns:
    return examine([*(found.cls for found in plug_ins.by_name.values()), *(dataclasses.dataclass(frozen=True)(cls) for cls in classes)])


SKYHOOK = '[[layers]]\nname = "hold"\nlaw = "SkyhookTwoWay"\nact = "raise"\n'


def test_two_suppliers_must_be_chosen(base: Path, plug_ins: PlugIns) -> None:
    both = _with(plug_ins, _SecondSpeed)
    file = base.parent / "candidate.toml"
    text = f'starts_from = "base.toml"\n{SKYHOOK}'
    file.write_text(text, encoding="utf-8")
    line = _refused(lambda: read_calibration(file, both))
    assert "suppliers.corner_speed: CornerSpeed and _SecondSpeed both give 'corner_speed'; expected one of them here" in line
    file.write_text(text + '[suppliers]\ncorner_speed = "_SecondSpeed"', encoding="utf-8")
    assert "_SecondSpeed" in read_calibration(file, both).suppliers


def test_estimators_in_a_circle(base: Path, plug_ins: PlugIns) -> None:
    class ReadsFirst:
        def run(self, now, memory):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
            """Pulls in the circle."""
            return Duty(0.0 * now.first)

    every = _with(plug_ins, _First, _Second, ReadsFirst)
    file = base.parent / "candidate.toml"
    file.write_text('starts_from = "base.toml"\n[[layers]]\nname = "circle"\nlaw = "ReadsFirst"', encoding="utf-8")
    line = _refused(lambda: read_calibration(file, every))
    assert "candidate.toml: estimators in a circle: _First -> _Second -> _First" in line
