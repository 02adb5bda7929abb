"""Every plug-in found goes through every public check: `pytest -k YourLaw` is all it takes."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import dualduty
from dualduty.checks import PUBLIC, check_plug_in, rig_for
from dualduty.discovery import Found, PlugIns, discover
from dualduty.errors import BadInput
from strategies.supervisor import Supervisor

HOUSE = Path(dualduty.__file__).parent.parent
PLUG_INS: PlugIns = discover()

LAW = '''"""Brake floor: compression at the front while the pedal is pressed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.contract import Chunk, Duty, Memory
from dualduty.parameters import param


@dataclass(frozen=True)
class BrakeFloor:
    """Front compression grows with the pedal."""

    gain: float = param(0.5, "1", 0.0, 1.0, "duty at full pedal", said="pct", by_corner=True)

    def run(self, now: Chunk, memory: Memory) -> Duty:
        """Compression duty."""
        pedal = np.clip(now.brake, 0.0, 1.0)
        front = np.concatenate([pedal, pedal, 0.0 * pedal, 0.0 * pedal])
        return Duty(compression=front * self.gain)
'''

CHECK_ALL = """
from dualduty.checks import PUBLIC, rig_for
from dualduty.discovery import discover
plug_ins = discover()
found = plug_ins.by_name["BrakeFloor"]
for name, check in PUBLIC.items():
    check(rig_for(found, plug_ins, None))
    print(name)
print(found.kind, found.reads, found.returns, *found.parameters)
"""


@pytest.mark.parametrize("check", PUBLIC)
@pytest.mark.parametrize("found", PLUG_INS.by_name.values(), ids=lambda found: found.name)
def test_public_check(found: Found, check: str, car: object) -> None:
    PUBLIC[check](rig_for(found, PLUG_INS, car))  # type: ignore[arg-type]


def test_all_kinds_are_found() -> None:
    assert {found.kind for found in PLUG_INS.by_name.values()} == {"estimator", "detector", "law"}


@pytest.mark.parametrize("found", PLUG_INS.by_name.values(), ids=lambda found: found.name)
def test_file_name_is_class_name_and_everything_has_a_meaning(found: Found) -> None:
    assert found.source.stem.replace("_", "") == found.name.lower()
    assert found.summary.endswith((".", "]"))
    assert all(declaration.meaning for declaration in found.parameters.values())
    assert all(given.meaning for given in found.gives)


def test_a_law_given_by_path_is_found_and_checked(tmp_path: Path) -> None:
    file = tmp_path / "brake_floor.py"
    file.write_text(LAW, encoding="utf-8")
    plug_ins = discover((file,))
    found = plug_ins.by_name["BrakeFloor"]
    assert (found.kind, found.reads, found.returns, found.source) == ("law", ("brake",), "Duty", file)
    check_plug_in(found, plug_ins, None)
    assert set(plug_ins.by_name) == {*PLUG_INS.by_name, "BrakeFloor"}


def test_a_law_laid_into_the_folder_is_found_with_nothing_else_edited(tmp_path: Path) -> None:
    """The folder of laws, on the path of its package, is all that discovery looks at."""
    laws = tmp_path / "more" / "laws"
    laws.mkdir(parents=True)
    (laws / "brake_floor.py").write_text(LAW, encoding="utf-8")
    # as if the file lay in strategies/laws/: the package's path is where discovery walks
    script = f"import strategies.laws; strategies.laws.__path__.append({str(laws)!r})\n{CHECK_ALL}"
    done = subprocess.run([sys.executable, "-c", script], cwd=HOUSE, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == [*PUBLIC, "law ('brake',) Duty gain"]


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (("np.clip(now.brake", "np.clip(now.break_pedal"), "'break_pedal', which no signal or plug-in gives"),
        (("now.brake", "now.barke"), "did you mean 'brake'?"),
        (("now.brake", "now.hub_specific_force_z[:1]"), "reads 'hub_specific_force_z', which is instrumentation only"),
        (("frozen=True", "frozen=False"), "BrakeFloor has run() but is not a frozen dataclass"),
        (('param(0.5, "1", 0.0, 1.0, "duty at full pedal", said="pct", by_corner=True)', "0.5"), "gain is not declared with param"),
        (("return Duty(compression=front * self.gain)", "return front"), "run returned ndarray; a law returns Duty or Force"),
        (("return Duty(compression=front * self.gain)", "return Duty(front[0])"), "compression has shape (1, 1); expected (1 or 4, 1, 1)"),
        (("class BrakeFloor", "class RollHold"), "RollHold is also defined in"),
        (("import numpy as np", "import numpyy as np"), "can't be imported: ModuleNotFoundError"),
        (("def run", "def runs"), "holds no plug-in"),
        (("def run", "def )run"), "can't be imported: SyntaxError"),
        (("front * self.gain", "front * (1 // 0)"), "run raised ZeroDivisionError at line 23"),
        (('param(0.5, "1"', 'param(0.5, "furlong"'), "'furlong' is not a unit known here"),
        (("param(0.5,", "param(1.5,"), "default 1.5 is outside 0..1"),
    ],
)
def test_a_file_that_can_not_be_used_is_one_line_with_its_path(tmp_path: Path, change: tuple[str, str], expected: str) -> None:
    file = tmp_path / "brake_floor.py"
    assert change[0] in LAW
    file.write_text(LAW.replace(*change), encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        discover((file,))
    said = str(caught.value)
    assert expected in said
    assert said.startswith(str(file))
    assert "\n" not in said


def test_a_missing_plug_in_file_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"nothing.py: expected a Python file with a plug-in, found no file"):
        discover((tmp_path / "nothing.py",))


def test_two_plug_in_files_of_one_name_keep_their_own_source(tmp_path: Path) -> None:
    files = []
    for folder, name in (("a", "BrakeFloor"), ("b", "BrakeRoof")):
        (tmp_path / folder).mkdir()
        files.append(tmp_path / folder / "law.py")
        files[-1].write_text(LAW.replace("BrakeFloor", name), encoding="utf-8")
    plug_ins = discover(tuple(files))
    assert [plug_ins.by_name[name].source for name in ("BrakeFloor", "BrakeRoof")] == files


def test_the_fixed_parts_are_known_to_discovery() -> None:
    assert PLUG_INS.fixtures["supervisor"] is Supervisor
    assert set(PLUG_INS.fixtures) == {"intake", "supervisor", "layer"}
