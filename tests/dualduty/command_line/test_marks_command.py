"""`dualduty marks ...`: a log is marked, judged and drawn from the command line, and whatever can't be done is one line."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from dualduty.command_line import cli
from dualduty.command_line.marks_command import COMMANDS
from dualduty.errors import BadInput
from dualduty.trial.run_marks import RunMarks
from dualduty.trial.run_sheet import read_run_sheet
from replay.marks.marks import read_marks

LOG = "quarry_loop_dash"
MARKS = Path("logs") / f"{LOG}.marks.csv"
Marks = Callable[..., Result]
RUN = f"""# a run file of one's own
log = "{LOG}.csv"
channel_map = "../channel_maps/marram_logger.toml"   # how to read it
driven_by = "marram baseline"
vehicle = "marram 2"
"""
KEPT = """# invented demo data
state,start_s,end_s,corner_or_side,sure,who,note
airborne,5.246,5.700,,yes,KR,
landing,5.700,5.95,,yes,KR,
"""


@pytest.fixture(name="marks")
def run_marks(work: Path) -> Marks:
    """`marks("add", ...)` in a working folder of one's own; what a command can't use is raised, as `main` then says it."""

    def run(*words: str) -> Result:
        return CliRunner().invoke(cli, ["marks", *words], catch_exceptions=True)

    (work / MARKS).write_text(KEPT, encoding="utf-8")
    return run


def refused(result: Result) -> str:
    """The one line of a command that could not be done."""
    if isinstance(result.exception, BadInput):
        assert "\n" not in str(result.exception)
        return str(result.exception)
    assert result.exit_code == 2
    return result.output.splitlines()[-1]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_explains_itself(marks: Marks, name: str) -> None:
    result = marks(name, "--help")
    assert result.exit_code == 0
    assert f"marks {name} [OPTIONS]" in result.output


def test_help_imports_nothing_heavy() -> None:
    source = (
        "import sys\n"
        "from dualduty.command_line import cli\n"
        "for words in (['marks', '--help'], *(['marks', name, '--help'] for name in sys.argv[1:])):\n"
        "    try:\n        cli.main(words, prog_name='dualduty')\n    except SystemExit:\n        pass\n"
        "print([name for name in ('numpy', 'numba', 'matplotlib', 'rich') if name in sys.modules])\n"
    )
    came = subprocess.run([sys.executable, "-c", source, *COMMANDS], capture_output=True, text=True, check=True)
    assert came.stdout.splitlines()[-1] == "[]"


def test_show_lists_what_there_is(marks: Marks) -> None:
    result = marks("show", LOG)
    assert result.exit_code == 0
    assert re.search(r"airborne@5\.246\s+0\.454 s\s+yes\s+accepted\s+KR", result.output)
    assert result.output.splitlines()[-1] == "2 marks: 2 accepted"


def test_proposals_of_both_kinds_are_judged_and_not_made_twice(marks: Marks) -> None:
    MARKS.write_text("# mine\nstate,start_s,end_s\n", encoding="utf-8")
    result = marks("propose", LOG, "--offline")
    assert result.output.splitlines()[-1].endswith("marks proposed")
    found = {mark.state: mark for mark in read_marks(MARKS)}
    assert {"airborne", "landing"} <= set(found)
    assert (found["airborne"].origin, found["airborne"].status) == ("offline", "proposed")
    assert found["airborne"].start == pytest.approx(5.246, abs=0.02)
    assert marks("reject", LOG, "landing@5.7", "--who", "KR").exit_code == 0
    result = marks("propose", LOG, "marram_baseline", "--state", "airborne", "--state", "landing", "--state", "wheel_off", "--quiet")
    assert "2 more known already, as marks or as rejected proposals" in result.output
    fresh = [mark for mark in read_marks(MARKS) if mark.state == "wheel_off"]
    assert {mark.origin for mark in fresh} == {"detector Airborne of marram baseline"}
    assert {mark.where for mark in fresh} == {"front_left", "front_right", "rear_left", "rear_right"}
    result = marks("accept", LOG, "--all", "--state", "wheel_off", "--who", "AS")
    assert result.output.splitlines()[-1] == f"{len(fresh)} marks accepted"
    assert {(mark.status, mark.who) for mark in read_marks(MARKS) if mark.state == "wheel_off"} == {("accepted", "AS")}
    assert MARKS.read_text(encoding="utf-8").startswith("# mine\nstate,start_s,end_s,")


def test_a_mark_is_moved_added_and_noted(marks: Marks) -> None:
    before = MARKS.read_text(encoding="utf-8").splitlines()
    assert marks("move", LOG, "airborne@5.25", "--start", "5.236", "--who", "KR").output == "moved airborne@5.246 to 5.236 s, 5.700 s\n"
    words = ("--where", "rear-left", "--sure", "80", "--who", "KR", "--note", "over the ledge")
    assert marks("add", LOG, "wheel_off", "5.8", "5.96", *words).output.splitlines()[0] == "  added wheel_off@5.800 rear_left"
    assert marks("note", LOG, "4.2", "thud, rear right", "--who", "KR").exit_code == 0
    flight, _, wheel, note = read_marks(MARKS)
    assert (flight.start, flight.note) == (5.236, "moved by KR: start from 5.246 s")
    assert (wheel.where, wheel.sure, wheel.note) == ("rear_left", 0.8, "over the ledge")
    assert (note.state, note.start, note.note) == ("note", 4.2, "thud, rear right")
    assert MARKS.read_text(encoding="utf-8").splitlines()[3] == before[3]


def test_people_who_agree_are_told_so(marks: Marks) -> None:
    marks("add", LOG, "airborne", "5.26", "5.69", "--who", "AS")
    result = marks("show", LOG)
    assert "airborne: 1 of 1 marked by both; starts differ by 14 ms median, 14 ms p90; ends differ by 10 ms median" in result.output
    assert "landing:" not in result.output
    marks("add", LOG, "airborne", "5.6", "5.8", "--who", "AS")
    assert "airborne@5.600 overlaps airborne@5.260 of line 5, both by AS" in refused(marks("show", LOG))


def test_presses_of_the_button_are_taken_in_once(marks: Marks) -> None:
    _with_button()
    result = marks("presses", LOG)
    assert result.output.splitlines()[0] == "the marker button was pressed 2 times: 2.00 s, 6.50 s"
    assert [mark.origin for mark in read_marks(MARKS)[2:]] == ["marker button"] * 2
    assert marks("presses", LOG).output.splitlines()[-1] == "0 marks added"
    assert len(read_marks(MARKS)) == 4


def _with_button() -> None:
    log = Path("logs") / f"{LOG}.csv"
    note, header, *rows = log.read_text(encoding="utf-8").splitlines()
    pressed = ["1" if 2.0 <= float(row.split(",")[0]) < 2.3 or 6.5 <= float(row.split(",")[0]) < 6.7 else "0" for row in rows]
    lines = [note, f"{header},button", *(f"{row},{down}" for row, down in zip(rows, pressed, strict=True))]
    log.write_text("\n".join(lines) + "\n", encoding="utf-8")
    with (Path("channel_maps") / "marram_logger.toml").open("a", encoding="utf-8") as channel_map:
        channel_map.write('\n[marker]\ncolumn = "button"\n')


def test_a_run_without_marks_gets_a_file_beside_its_log_and_its_run_file_is_told(marks: Marks) -> None:
    run_file = Path("logs") / f"{LOG}.toml"
    run_file.write_text(RUN, encoding="utf-8")
    MARKS.unlink()
    assert "0 marks" in marks("show", LOG).output
    assert not MARKS.exists()  # nobody who only looks makes files
    marks("add", LOG, "braking", "7", "8", "--who", "KR")
    lines = RUN.splitlines()
    assert run_file.read_text(encoding="utf-8").splitlines() == [*lines[:3], f'marks = "{LOG}.marks.csv"', *lines[3:]]
    assert [mark.name for mark in read_marks(MARKS)] == ["braking@7.000"]
    assert read_run_sheet(run_file).marks is not None


def test_a_run_file_with_sections_keeps_them_beneath_its_new_key(work: Path) -> None:
    run_file = work / "logs" / f"{LOG}.toml"
    text = (
        run_file.read_text(encoding="utf-8").replace(f'marks = "{LOG}.marks.csv"\n', "")
        + '\n[[sections]]\nname = "a"\nstart_s = 0\nend_s = 2\n'
    )
    run_file.write_text(text, encoding="utf-8")
    run = RunMarks.of(LOG)
    run.save(run.file.with_changes({}, run.file.marks))
    assert run_file.read_text(encoding="utf-8").replace(f'marks = "{LOG}.marks.csv"\n', "") == text
    assert [section.name for section in read_run_sheet(run_file).sections] == ["a"]


def test_a_file_that_somebody_changed_meanwhile_leaves_run_file_and_marks_alone(work: Path) -> None:
    run_file = work / "logs" / f"{LOG}.toml"
    run_file.write_text(RUN, encoding="utf-8")
    run = RunMarks.of(LOG)
    MARKS.write_text("state,start_s,end_s\n", encoding="utf-8")
    with pytest.raises(BadInput, match="has been changed by someone else"):
        run.save(run.file.with_changes({}, run.file.marks))
    assert run_file.read_text(encoding="utf-8") == RUN
    assert MARKS.read_text(encoding="utf-8") == "state,start_s,end_s\n"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("show", "quarry_loop_das"), "log quarry_loop_das: is not in logs; did you mean 'quarry_loop_dash'?"),
        (("show", LOG, "--state", "airborn"), "--state airborn: no mark of this state; did you mean 'airborne'?"),
        (("show", LOG, "--from", "5", "--to", "4"), "--to 4 s is not after --from 5 s"),
        (("show", LOG, "--out", "marks.jpg"), "--out marks.jpg: expected the name of a PNG file"),
        (("show", LOG, "--from", "500", "--out", "marks.png"), "--from: expected a time within the log, which lasts 7."),
        (("propose", LOG), "expected a CALIBRATION, or --offline"),
        (("propose", LOG, "marram_baseline", "--offline"), "expected a CALIBRATION, or --offline, and not both"),
        (("propose", LOG, "marram_baseline", "--state", "airborn"), "'airborn' is no state of this strategy; did you mean 'airborne'?"),
        (("propose", LOG, "--offline", "--state", "side_slope"), "state side_slope: is not one that is told afterwards; "),
        (("accept", LOG), "expected the names of marks, or --all"),
        (("accept", LOG, "airborne@5.2", "--all"), "expected the names of marks, or --all, and not both"),
        (("accept", LOG, "airborne@5.2", "--state", "airborne"), "--state goes with --all; a name has its state in it"),
        (("accept", LOG, "--all"), "expected marks that are proposed, found none"),
        (("reject", LOG, "airborne@7"), "airborne@7: no mark of this name within 0.25 s; near it: airborne@5.246"),
        (("move", LOG, "airborne@5.25"), "expected --start, --end or both"),
        (("move", LOG, "airborne@5.25", "--start", "nan"), "nan is not a number"),
        (("move", LOG, "airborne@5.25", "--end", "5"), "airborne@5.246: its end, 5 s, isn't after its start, 5.246 s"),
        (("add", LOG, "airborn", "1", "2"), "state airborn: no detector tells it; did you mean 'airborne'?"),
        (("add", LOG, "airborne", "2", "1"), "airborne@2.000: its end, 1 s, isn't after its start, 2 s"),
        (("add", LOG, "airborne", "1", "2", "--sure", "0.8"), "came '0.8'; did you mean 80 %?"),
        (("add", LOG, "airborne", "1", "2", "--where", "middle"), "expected one of front, rear, left, right"),
        (("note", LOG, "1", " "), "expected a text, came nothing"),
        (("presses", LOG), "has no marker button: expected its column under [marker] in"),
        (("adds", LOG), "no such command 'adds'; did you mean 'add'?"),
    ],
)
def test_what_cannot_be_done_is_one_line_and_changes_nothing(marks: Marks, words: tuple[str, ...], told: str) -> None:
    before = {path: path.read_bytes() for path in Path().rglob("*") if path.is_file()}
    assert told in refused(marks(*words))
    assert {path: path.read_bytes() for path in Path().rglob("*") if path.is_file()} == before


def test_a_picture_is_drawn_of_a_window(marks: Marks, tmp_path: Path) -> None:
    marks("add", LOG, "wheel_off", "5.3", "5.7", "--where", "rear_left", "--sure", "60")
    marks("note", LOG, "5.9", "thud")
    result = marks("show", LOG, "--from", "4.5", "--to", "7", "--out", str(tmp_path / "marks.png"))
    assert result.output.splitlines()[-1].startswith("picture in ")
    with Image.open(tmp_path / "marks.png") as picture:
        pixels = np.asarray(picture.convert("L"))
    assert pixels.shape[1] == 1386
    assert (pixels < 128).mean() > 0.01
