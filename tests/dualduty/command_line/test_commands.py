"""Every command does its job, says so, and ends with the exit code that its help promises."""

from __future__ import annotations

import csv
import importlib.metadata
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import click
import pytest

import dualduty
from dualduty.command_line import COMMANDS, cli
from dualduty.export.candidate import file_digest
from dualduty.files import RECORD

Command = Callable[..., tuple[int, str, str]]
HOUSE = Path(dualduty.__file__).parent.parent
PROGRAM = [sys.executable, "-m", "dualduty"]
ENVIRONMENT = os.environ | {"PYTHONPATH": str(HOUSE)}
SHORT = ("--section", "berm_corner", "--mode", "dash", "--quiet")


def names(folder: Path) -> set[str]:
    """Entries of one folder."""
    return {path.name for path in folder.iterdir()}


# help


def test_help_lists_every_command_and_the_exit_codes(run: Command) -> None:
    code, out, _ = run("--help")
    assert code == 0
    assert all(f"\n  {name} " in out for name in COMMANDS)
    assert "Exit codes: 0 done; 1 a gate is crossed" in out


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_explains_itself_without_heavy_imports(name: str) -> None:
    check = """
import sys
from dualduty.command_line import cli
try: cli.main(sys.argv[1:])
finally: print(sorted(sys.modules), file=sys.stderr)
"""
    started = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", check, name, "--help"], capture_output=True, text=True, env=ENVIRONMENT, check=False)
    seconds = time.perf_counter() - started
    assert done.returncode == 0
    assert done.stdout.startswith("Usage:")
    assert not {name for name in ("numpy", "scipy", "numba", "pandas", "matplotlib", "rich") if f"'{name}'" in done.stderr}
    # 0.3 s is the aim and 0.15 to 0.25 s measured; a shared machine may be ten times slower, an import of numba is seen above
    assert seconds < 3.0


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_says_what_it_does(name: str) -> None:
    command = cli.get_command(click.Context(cli), name)
    assert command is not None
    assert command.help
    assert all(option.help for option in command.params if isinstance(option, click.Option))


def test_version(run: Command) -> None:
    code, out, _ = run("--version")
    assert (code, out.split()[-1]) == (0, dualduty.__version__)


# each command


def test_new_folder_is_a_working_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Command) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, _ = run("new-folder", "mine")
    assert code == 0
    assert "next: cd mine; dualduty try berm_support" in out
    assert {"vehicles", "strategies", "sections", "channel_maps", "logs", "gates.toml"} <= names(tmp_path / "mine")
    assert names(tmp_path) == {"mine"}
    assert run("new-folder", "mine")[0] == 2


def test_try_writes_all_files_and_says_what_came_of_it(work: Path, run: Command) -> None:
    code, out, err = run("try", "berm_support", *SHORT)
    result = work / "results" / "berm_support"
    assert (code, err) == (0, "")
    assert names(result) == {
        RECORD, "report.html", "scorecard.csv", "scores_dash.png", "berm_support_table.csv", "berm_support_manifest.json",
        "motion_berm_corner_dash.png", "duties_berm_corner_dash.png", "duties_log_quarry_loop_dash.png", "detectors_quarry_loop_dash.png",
    }  # fmt: skip
    assert "outer_compression (dash, front): 60 -> 70 %" in out
    assert "suspension roll, r.m.s." in out
    assert "Somebody will drive this" in out
    manifest = json.loads((result / "berm_support_manifest.json").read_text(encoding="utf-8"))
    assert manifest["tried"]["sections"] == ["berm_corner"]
    assert manifest["tried"]["logs"] == ["quarry_loop_dash"]
    assert manifest["table"]["sha256"] == file_digest(result / "berm_support_table.csv")


def test_a_crossed_gate_is_exit_code_1_and_told(work: Path, run: Command) -> None:
    gate = '[[gate]]\nmeasure = "weighted_seat_acceleration"\nat_most_m_s2 = 0.01\nsections = ["iso_road"]\n'
    (work / "gates.toml").write_text(gate, encoding="utf-8")
    code, out, _ = run("try", "berm_support", "--no-logs", "--section", "iso_road", "--mode", "dash", "--quiet")
    assert code == 1
    assert "gate crossed: dash, iso_road" in out
    assert (work / "results" / "berm_support" / "report.html").is_file()


@pytest.mark.slow
def test_three_seeds_say_what_is_noise(work: Path, run: Command) -> None:
    code, out, _ = run("try", "berm_support", "--no-logs", *SHORT, "--seeds", "3")
    assert code == 0
    with (work / "results" / "berm_support" / "scorecard.csv").open(encoding="utf-8", newline="") as file:
        cells = list(csv.DictReader(file))
    assert {cell["runs"] for cell in cells} <= {"0", "3"}  # 0: nothing to compare
    unsure = [cell for cell in cells if cell["verdict"] == "can't tell"]
    assert unsure
    assert all(int(cell["more_runs"]) > 0 for cell in unsure)
    assert "can't tell" in out
    manifest = json.loads((work / "results" / "berm_support" / "berm_support_manifest.json").read_text(encoding="utf-8"))
    assert manifest["tried"]["seeds_per_section"] == 3


def test_replay_draws_and_says_who_decided(work: Path, run: Command) -> None:
    code, out, err = run("replay", "quarry_loop_dash", "berm_support", "--to", "3", "--quiet", "--out", "shown")
    assert (code, err) == (0, "")
    assert {"duties.png", "motion.png"} < names(work / "shown")
    assert "quarry_loop_dash replayed through berm support; driven by marram baseline" in out
    assert "airborne: 1 of 1 found, 0 false" in out
    assert all(f"\n{layer} " in out for layer in ("base", "corner support", "landing"))


def test_check_keeps_its_limits_or_ends_with_1(work: Path, run: Command) -> None:
    (work / "strict.toml").write_text("[landing]\nmin_recall_pct = 100\nmax_onset_p90_ms = 0.001\n", encoding="utf-8")
    (work / "mild.toml").write_text("[landing]\nmin_recall_pct = 100\n", encoding="utf-8")
    assert run("check", "marram_baseline", "--gates", "mild.toml", "--quiet", "--out", "shown")[0] == 0
    assert {"check.html", "detectors_quarry_loop_dash.png", "events.csv"} < names(work / "shown")
    code, out, _ = run("check", "marram_baseline", "--gates", "strict.toml", "--quiet")
    assert code == 1
    assert "limit not kept: quarry_loop_dash: landing: onset" in out


def test_export_writes_two_files_and_says_it_was_not_tried(work: Path, run: Command) -> None:
    code, out, _ = run("export", "berm_support")
    assert code == 0
    assert names(work / "export" / "berm_support") == {"berm_support_table.csv", "berm_support_manifest.json"}
    assert "2 values changed against marram baseline" in out
    assert "Not tried in this run." in out


@pytest.mark.parametrize(
    ("what", "said"),
    [("plug-ins", "SkyhookTwoWay"), ("sections", "berm_corner"), ("measures", "suspension_roll_rms"), ("signals", "shaft_travel"),
     ("calibrations", "berm_support.toml")],
)  # fmt: skip
@pytest.mark.usefixtures("work")
def test_list(run: Command, what: str, said: str) -> None:
    code, out, _ = run("list", what)
    assert code == 0
    assert said in out


def test_picture(work: Path, run: Command) -> None:
    assert run("picture", "sections/whoops.toml", "--out", "made/w.png")[0] == 0
    assert (work / "made" / "w.png").read_bytes().startswith(b"\x89PNG")
    assert names(work / "made") == {"w.png"}


# as a user starts it


def test_the_program_starts_by_its_name_and_as_a_module() -> None:
    done = subprocess.run([*PROGRAM, "tri"], capture_output=True, text=True, env=ENVIRONMENT, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "dualduty: no such command 'tri'; did you mean 'try'? (help: dualduty --help)\n"
    with suppress(importlib.metadata.PackageNotFoundError):
        assert [point.value for point in importlib.metadata.distribution("dualduty").entry_points] == ["dualduty.__main__:main"]


def test_the_helper_process_refuses_as_this_one_does(work: Path) -> None:
    log = work / "logs" / "quarry_loop_dash.csv"
    lines = log.read_text(encoding="utf-8").splitlines()
    log.write_text("\n".join([*lines[:700], lines[100], *lines[700:]]) + "\n", encoding="utf-8")
    done = subprocess.run([*PROGRAM, "try", "berm_support", *SHORT], capture_output=True, text=True, env=ENVIRONMENT, check=False)
    assert done.returncode == 2
    before, after = (float(lines[at].split(",")[0]) for at in (699, 100))
    said = f"dualduty: {log} line 701: time runs backwards by {before - after:.6g} s: {after:g} after {before:g}; "
    assert done.stderr == said + "two recordings in one file, or a clock that was set: cut the log here\n"
    assert not (work / "results").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="a signal is sent to one process")
@pytest.mark.parametrize("delay", [0.1, 3.0])  # s after the helper came: while things are loaded, and while sections are driven
def test_an_interrupted_run_leaves_nothing_behind(work: Path, delay: float) -> None:
    before = set(work.rglob("*"))
    command = [*PROGRAM, "try", "berm_support", "--seeds", "3"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=ENVIRONMENT, start_new_session=True
    ) as running:
        helpers = _awaited_children(running.pid)
        time.sleep(delay)
        os.killpg(running.pid, signal.SIGINT)  # as a terminal does: to all of the group
        _, err = running.communicate(timeout=60)
    assert running.returncode == 130
    assert err.splitlines()[-1] == "dualduty: interrupted; nothing was written"
    assert "Traceback" not in err
    assert set(work.rglob("*")) == before
    assert _all_end(helpers)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a disk that is always full")
@pytest.mark.parametrize("arguments", [["--help"], ["list", "signals"]])
def test_an_output_that_is_full_is_one_line_and_a_closed_one_is_none_of_our_business(work: Path, arguments: list[str]) -> None:
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = subprocess.run(
            [*PROGRAM, *arguments], stdout=full, stderr=subprocess.PIPE, text=True, env=ENVIRONMENT, cwd=work, check=False
        )
    assert (done.returncode, done.stderr) == (2, "dualduty: output: can't be read or written: No space left on device\n")
    closed = ["sh", "-c", '"$@" >&-', "sh", *PROGRAM, *arguments]
    done = subprocess.run(closed, stderr=subprocess.PIPE, text=True, env=ENVIRONMENT, cwd=work, check=False)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.skipif(sys.platform == "win32", reason="no pipes of this kind")
@pytest.mark.parametrize("arguments", [["--help"], ["list", "signals"]])
def test_a_pipe_that_nobody_reads_any_more_ends_without_a_word(work: Path, arguments: list[str]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run([*PROGRAM, *arguments], stdout=writing, stderr=subprocess.PIPE, text=True, env=ENVIRONMENT, cwd=work, check=False)
    os.close(writing)
    assert (done.returncode, done.stderr) == (141, "")


INTERRUPTED_IN_EXEC = """
from dualduty import command_line

def interrupted(**_):
    exec("raise KeyboardInterrupt")

command_line.cli.main = interrupted
command_line.main()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no process ends by a signal there")
def test_an_interrupt_inside_a_text_run_by_exec_ends_as_any_other(tmp_path: Path) -> None:
    """Some imports run texts, and scipy's take long; the same came by chance of the run above, one time in ten at 1.5 s."""
    (tmp_path / "interrupted.py").write_text(INTERRUPTED_IN_EXEC, encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), str(HOUSE)])}
    done = subprocess.run([sys.executable, "-m", "interrupted"], capture_output=True, text=True, env=environment, check=False)
    assert (done.returncode, done.stderr) == (130, "dualduty: interrupted; nothing was written\n")


def _awaited_children(parent: int) -> list[int]:
    """Children of a process as soon as there are any; at most 20 s are waited."""
    for _ in range(400):
        if found := list(_children(parent)):
            return found
        time.sleep(0.05)
    raise AssertionError("no helper process came")


def _children(parent: int) -> Iterator[int]:
    for folder in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            if int((folder / "stat").read_text().rpartition(")")[2].split()[1]) == parent:
                yield int(folder.name)


def _all_end(processes: list[int]) -> bool:
    """Whether they end within 5 s; each was told to, but nobody waits for the last of them."""
    for _ in range(50):
        if not any(_is_alive(process) for process in processes):
            return True
        time.sleep(0.1)
    return False


def _is_alive(process: int) -> bool:
    with suppress(OSError):
        return (Path("/proc") / str(process) / "stat").read_text().rpartition(")")[2].split()[0] != "Z"
    return False
