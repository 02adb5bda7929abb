"""Write a plug-in, check it, take it along: the commands as a user meets them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

Command = Callable[..., tuple[int, str, str]]


def test_a_new_law_is_written_checked_and_taken_along(work: Path, run: Command) -> None:
    code, out, _ = run("new", "law", "RoughHold")
    path = "strategies/laws/rough_hold.py"
    assert code == 0
    assert out.splitlines() == [
        f"made {path}: law RoughHold; it runs as it stands", f"next: say in it what it does, then dualduty check-plug-in {path}",
    ]  # fmt: skip
    code, out, _ = run("check-plug-in", path)
    assert code == 0
    assert out.startswith("law RoughHold: reads shaft_speed; gives a duty\n")
    assert " kept, 0 not. Next: a layer with law" in out
    candidate = '[[layers]]\nname = "rough"\nlaw = "RoughHold"\nact = "raise"\n'
    (work / "strategies" / "rough.toml").write_text(f'name = "rough"\nstarts_from = "marram_baseline.toml"\n{candidate}', encoding="utf-8")
    code, out, err = run("replay", "quarry_loop_dash", "rough", "--plugin", path, "--to", "0.5", "--quiet")
    assert code == 0
    assert [line for line in err.splitlines() if not line.startswith(("first run", "compiled"))] == []
    assert "\nrough " in out


def test_a_check_that_is_not_kept_is_told_and_ends_with_1(work: Path, run: Command) -> None:
    run("new", "law", "RoughHold")
    path = work / "strategies" / "laws" / "rough_hold.py"
    text = path.read_text(encoding="utf-8")
    planted = text.replace("now.shaft_speed[corner], self.smooth", "now.yaw_rate, self.smooth")
    assert planted != text
    path.write_text(planted, encoding="utf-8")
    code, out, _ = run("check-plug-in", str(path))
    assert code == 1
    assert "not kept: mirrors: compression does not mirror when left and right are exchanged" in out
    assert " 1 not. Look into rough_hold.py." in out


def test_one_line_for_what_can_not_be_used(run: Command, work: Path) -> None:
    assert run("new", "law", "RollHold")[2] == "dualduty: name 'RollHold': RollHold is there already; expected a name of its own\n"
    code, _, err = run("check-plug-in", "nothing.py")
    assert (code, err) == (2, "dualduty: nothing.py: expected a Python file with a plug-in, found no file\n")
    code, _, err = run("new", "wheel", "X")
    assert code == 2
    assert err.startswith("dualduty: Invalid value for '{law|detector|estimator}'")
    assert not (work / "strategies" / "laws").exists()


def test_a_file_that_can_not_be_used_is_told_in_one_line_with_its_place(work: Path, run: Command) -> None:
    run("new", "detector", "RoughHold")
    path = Path("strategies") / "detectors" / "rough_hold.py"
    text = (work / path).read_text(encoding="utf-8")
    raised = text.splitlines().index("@each_tick") + 1
    for planted, expected in (
        (text.replace("@each_tick\n", "1 / 0\n"), f"{path}: can't be imported: ZeroDivisionError at line {raised}: division by zero"),
        (text.replace("@each_tick\n", "raise SystemExit(3)\n"), f"{path}: can't be imported: it ends the program"),
        (text.replace('it is open"),)', 'it is open"))'), "RoughHold.gives: expected quantities and states in brackets"),
        (text.replace("self.smooth)", "self.smoth)"), "RoughHold: AttributeError: 'RoughHold' object has no attribute 'smoth'"),
        (text.replace("abs(low_pass", "nowhere(low_pass"), "RoughHold: tick can't be compiled: NameError: name 'nowhere' is not defined"),
    ):  # fmt: skip
        assert planted != text
        (work / path).write_text(planted, encoding="utf-8")
        code, out, err = run("check-plug-in", str(path))
        assert (code, out) == (2, "")
        assert expected in err.splitlines()[-1]
