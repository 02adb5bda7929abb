"""Whatever is wrong with what one gives: one clear line, exit code 2, and nothing half-written; each case is one change."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

import pytest

Command = Callable[..., tuple[int, str, str]]
Change = Callable[[Path], None]

C: Final = "strategies/berm_support.toml"
B: Final = "strategies/marram_baseline.toml"
SECTION: Final = "sections/iso_road.toml"
VEHICLE: Final = "vehicles/marram.toml"
SHEET: Final = "logs/quarry_loop_dash.toml"
LOG: Final = "logs/quarry_loop_dash.csv"
MARKS: Final = "logs/quarry_loop_dash.marks.csv"
MAP: Final = "channel_maps/marram_logger.toml"
GARBAGE: Final = bytes(range(256)) * 20

TRY: Final = ("try", "berm_support", "--no-logs", "--section", "iso_road", "--mode", "dash", "--quiet")
TRY_LOG: Final = ("try", "berm_support", "--section", "iso_road", "--mode", "dash", "--quiet")
REPLAY: Final = ("replay", "quarry_loop_dash", "marram_baseline", "--quiet")
CHECK: Final = ("check", "marram_baseline", "--quiet")


def nothing(_: Path) -> None:
    """The folder is good; the command isn't."""


def put(file: str, old: str, new: str) -> Change:
    """Replace some text of a file."""

    def change(work: Path) -> None:
        text = (work / file).read_text(encoding="utf-8")
        assert old in text
        (work / file).write_text(text.replace(old, new, 1), encoding="utf-8")

    return change


def raw(file: str, content: bytes) -> Change:
    """Put other bytes in a file's place."""

    def change(work: Path) -> None:
        (work / file).write_bytes(content)

    return change


def gone(file: str) -> Change:
    """Take a file away."""
    return lambda work: (work / file).unlink()


def folder(file: str) -> Change:
    """Put a folder where a file was, or nothing."""

    def change(work: Path) -> None:
        (work / file).unlink(missing_ok=True)
        (work / file).mkdir()

    return change


def cells(row: int, column: int, cell: str) -> Change:
    """Put `cell` into one field of the log."""

    def change(work: Path) -> None:
        lines = (work / LOG).read_text(encoding="utf-8").splitlines()
        fields = lines[row].split(",")
        lines[row] = ",".join([*fields[:column], cell, *fields[column:][1:]])
        (work / LOG).write_text("\n".join(lines) + "\n", encoding="utf-8")

    return change


def emptied(what: str) -> Change:
    """Take all files out of a folder and of those in it."""

    def change(work: Path) -> None:
        for path in [path for path in (work / what).rglob("*") if path.is_file()]:
            path.unlink()

    return change


def gap(work: Path) -> None:
    """One channel gives NaN for 0.2 s."""
    for row in range(500, 540):
        cells(row, 1, "NaN")(work)


CALIBRATION = [
    (put(C, "outer_compression_pct", "outer_compresion_pct"), TRY, C, "unknown key; did you mean 'outer_compression_pct'?"),
    (put(C, "= 70", "= 145"), TRY, C, "outer_compression_pct.dash.front: = 145 % is above 100 %"),
    (put(C, "outer_compression_pct", "outer_compression_km_h"), TRY, C, "km/h is a unit of speed; expected number: 1 or pct"),
    (put(C, ".dash.front", ".dsh.front"), TRY, C, "got 'dsh'; did you mean 'dash'?"),
    (put(C, "= 70", "= 1" + "0" * 400), TRY, C, "expected a number of 64 bits"),
    (put(C, "= 70", "= nan"), TRY, C, "= nan is not a number"),
    (put(C, "marram_baseline.toml", "marram_base.toml"), TRY, "marram_base.toml", "found no file; did you mean 'marram_baseline.toml'?"),
    (put(C, "marram_baseline.toml", "berm_support.toml"), TRY, C, "starts_from leads back to this file"),
    (put(C, '"berm support"', '"marram baseline"'), TRY, C, "name: expected another name than the baseline's"),
    (raw(C, GARBAGE), TRY, C, "expected UTF-8 text"),
    (raw(C, b"\0" * 9), TRY, C, "is not valid TOML"),
    (raw(C, b"name = 'unclosed"), TRY, C, "is not valid TOML"),
    (raw(C, b""), TRY, C, "has no starts_from; say what to compare with: --baseline FILE"),
    (put(B, "fallback_rebound_pct = 45", "fallback_rebound_pct = 5"), TRY, C, "limit broken: fallback not softer than 10 %"),
    (put(B, "fallback_rebound_pct = 45", "fallback_rebound_pct = 5"), ("export", "berm_support"), C, "limit broken: fallback not softer"),
    (nothing, ("try", "marram_baseline"), B, "has no starts_from"),
    (nothing, ("try", "marram_baseline", "--baseline", "marram_baseline"), B, "expected another name than the baseline's"),
    (nothing, ("export", "marram_baseline", "--baseline", "marram_baseline"), B, "expected another name than the baseline's"),
]

VEHICLES_AND_SECTIONS = [
    (gone(VEHICLE), TRY, B, "vehicle: expected a vehicle file, found no file"),
    (put(VEHICLE, "grip = 0.85", "grp = 0.85"), TRY, VEHICLE, "unknown key; did you mean 'grip'?"),
    (put(VEHICLE, "sprung_mass_kg = 800", "sprung_mass_kg = 0"), TRY, VEHICLE, "0 is below 50"),
    (put(VEHICLE, "tyre_damping_ns_m = 120", "tyre_damping_ns_m = 1e300"), TRY, VEHICLE, "1e+300 is above 10000"),
    (raw(VEHICLE, GARBAGE), TRY, VEHICLE, "expected UTF-8 text"),
    (gone("vehicles/marram_front_rebound.csv"), TRY, "marram_front_rebound.csv", "can't be read"),
    (raw("vehicles/marram_front_rebound.csv", GARBAGE), TRY, "marram_front_rebound.csv", "can't"),
    (raw("vehicles/marram_front_rebound.csv", b"a,b\n1,x\n"), TRY, "marram_front_rebound.csv", "expected"),
    (raw("vehicles/marram_front_rebound.csv", b""), TRY, "marram_front_rebound.csv", "expected"),
    (put(SECTION, 'kind = "random_road"', 'kind = "randm_road"'), TRY, SECTION, "is no kind of ground; did you mean 'random_road'?"),
    (put(SECTION, "duration_s = ", "duration_s = 1e9 #"), TRY, SECTION, "duration_s: 1e+09 s is above 600 s"),
    (put(SECTION, "duration_s = ", "duration_ms = "), TRY, SECTION, "duration_ms"),
    (raw(SECTION, GARBAGE), TRY, SECTION, "expected UTF-8 text"),
    (raw(SECTION, "name = 'größer'".encode("latin-1")), TRY, SECTION, "expected UTF-8 text"),
    (put(SECTION, 'kind = "random_road"', 'kind = "randm_road"'), ("picture", SECTION), SECTION, "is no kind of ground"),
    (emptied("sections"), ("try", "berm_support"), "sections", "expected section files (*.toml), found none"),
]

GATES = [
    (put("gates.toml", "hard_stop_count", "hard_stop_cnt"), TRY, "gates.toml: gate[0].measure", "did you mean 'hard_stop_count'?"),
    (put("gates.toml", '"whoops"', '"whops"'), TRY, "gates.toml: gate[0].sections", "got 'whops'; did you mean 'whoops'?"),
    (put("gates.toml", "at_most = 2", 'at_most = 2\nmodes = ["dsh"]'), TRY, "gates.toml: gate[0].modes", "got 'dsh'; did you mean 'dash'?"),
    (put("gates.toml", "at_most_g", "at_most_km_h"), TRY, "gates.toml: gate[2]", "expected a number under at_most_ with"),
    (raw("gates.toml", GARBAGE), TRY, "gates.toml", "expected UTF-8 text"),
    (put("detector_gates.toml", "min_recall_pct", "min_recal_pct"), CHECK, "detector_gates.toml", "did you mean 'min_recall_pct'?"),
]

LOGS = [
    (cells(500, -1, "9"), REPLAY, f"{LOG} line 501", "drive mode '9' is not in"),
    (
        put(MAP, '1 = "dash"', '1 = "dsh"'),
        REPLAY,
        f"{LOG} line 3",
        "drive mode 'dsh' is unknown to the strategy; it has patrol, dash, haul",
    ),
    (cells(500, 1, "abc"), REPLAY, f"{LOG} line 501", "column 'travel_fl_mm': expected a number, came 'abc'"),
    (cells(690, 0, "0.5"), REPLAY, f"{LOG} line 691", "time runs backwards by"),
    (put(LOG, "travel_fl_mm", "travel_xx_mm"), REPLAY, LOG, "the strategy needs shaft_travel front_left: looked for 'travel_fl_mm'"),
    (raw(LOG, b""), REPLAY, LOG, "the log is empty"),
    (raw(LOG, b"time_s,travel_fl_mm\n"), REPLAY, LOG, "no column for drive mode: looked for 'drive_mode'"),
    (raw(LOG, GARBAGE), REPLAY, LOG, "this is binary data of unknown kind"),
    (lambda work: raw(LOG, (work / LOG).read_bytes()[:90_011])(work), REPLAY, MARKS, "the log ends at 3.5"),
    (gone(LOG), REPLAY, f"{SHEET}: log", "expected a file, found none at 'quarry_loop_dash.csv'"),
    (folder(LOG), REPLAY, LOG, "holds no recording"),
    (put(SHEET, "driven_by", "drivn_by"), REPLAY, f"{SHEET}: drivn_by", "unknown key; did you mean 'driven_by'?"),
    (put(SHEET, '"marram 2"', "2"), REPLAY, f"{SHEET}: vehicle", "expected a text, got 2"),
    (raw(SHEET, GARBAGE), REPLAY, SHEET, "expected UTF-8 text"),
    (put(MAP, 'unit = "mm"', 'unit = "deg"'), REPLAY, MAP, "expected a unit of length, came 'deg', a unit of angle"),
    (put(MAP, "bridge_ms = 40  ", "brige_ms = 40  "), REPLAY, MAP, "unknown key; did you mean 'bridge_ms'?"),
    (gone(MAP), REPLAY, f"{SHEET}: channel_map", "expected a file, found none"),
    (put(MARKS, "airborne,", "airbrne,"), REPLAY, f"{MARKS} line 3", "'airbrne' is no state of this strategy; did you mean 'airborne'?"),
    (put(MARKS, "airborne,", "airborne,x"), REPLAY, f"{MARKS} line 3", "start_s: expected seconds"),
    (put(MARKS, "airborne,", "airborne"), REPLAY, f"{MARKS} line 3", "expected 7 fields, came 6"),
    (raw(MARKS, GARBAGE), REPLAY, MARKS, "expected UTF-8 text"),
    (raw(MARKS, b""), REPLAY, MARKS, "came nothing"),
    (put(SHEET, 'marks = "quarry_loop_dash.marks.csv"\n', ""), CHECK, "logs", "expected at least one run with marks, found none"),
    (nothing, (*REPLAY, "--from", "900"), "--from", "expected a time within the log, which lasts"),
    (cells(500, -1, "9"), TRY_LOG, f"{LOG} line 501", "drive mode '9' is not in"),
    (put(MARKS, "airborne,", "airbrne,"), TRY_LOG, f"{MARKS} line 3", "did you mean 'airborne'?"),
]

OUTPUT = [
    (nothing, (*TRY, "--out", "gates.toml"), "gates.toml", "expected the name of a folder"),
    (nothing, (*TRY, "--out", "gates.toml/below"), "gates.toml/below", "expected the name of a folder"),
    (nothing, (*TRY, "--out", "strategies"), "strategies", "holds what no run has written"),
    (nothing, (*TRY, "--out", "."), ".", "holds what no run has written"),
    (nothing, (*REPLAY, "--out", "gates.toml"), "gates.toml", "expected the name of a folder"),
    (nothing, (*REPLAY, "--out", "logs"), "logs", "holds what no run has written"),
    (nothing, (*CHECK, "--out", "gates.toml"), "gates.toml", "expected the name of a folder"),
    (nothing, ("export", "berm_support", "--out", "gates.toml"), "gates.toml/berm", "can't be written"),
    (nothing, ("picture", SECTION, "--out", "gates.toml/x.png"), "gates.toml/x.png", "can't be written"),
    (nothing, ("picture", SECTION, "--out", "logs"), "--out", "expected the name of a PNG file"),
    (nothing, ("new-folder", "logs"), "logs", "exists already"),
    (nothing, ("new-folder", "gates.toml/x"), "gates.toml/x", "can't be written"),
    (folder("results"), (*TRY, "--out", "results/" + "x" * 300), "xxx", "can't be written: File name too long"),
]

WORDS = [
    (nothing, ("try", "berm_suport"), "berm_suport", "did you mean 'berm_support'?"),
    (nothing, ("try", "berm_support", "--baseline", "marram_basline"), "marram_basline", "did you mean 'marram_baseline'?"),
    (nothing, ("try", "berm_support", "--mode", "dsh"), "drive mode dsh", "expected one of patrol, dash, haul"),
    (nothing, ("try", "berm_support", "--section", "berm_cornr"), "section berm_cornr", "did you mean 'berm_corner'?"),
    (nothing, ("try", "berm_support", "--log", "quarry_lop_dash"), "log quarry_lop_dash", "did you mean 'quarry_loop_dash'?"),
    (nothing, ("replay", "nix", "marram_baseline"), "log nix", "known: quarry_loop_dash"),
    (nothing, ("replay", "logs/nix.toml", "marram_baseline"), "logs/nix.toml", "found no file"),
    (nothing, ("replay", "quarry_loop_dash"), "Missing argument 'CALIBRATION'", "(help: dualduty replay --help)"),
    (nothing, ("try", "berm_support", "--sektion", "x"), "No such option '--sektion'", "--section"),
    (nothing, ("try", "berm_support", "--seeds", "0"), "--seeds", "0 is not in the range"),
    (nothing, ("try", "berm_support", "--driver-trim", "nan"), "--driver-trim", "nan is not a number"),
    (nothing, ("why", "marram_baseline", "--at", "1", "--window", "nan"), "--window", "nan is not a number"),
    (nothing, ("tri",), "no such command 'tri'", "did you mean 'try'?"),
    (nothing, ("list", "sctions"), "'sctions' is not one of", "sections"),
    (nothing, ("list", "sections", "--folder", "nix"), "nix", "expected a folder"),
    (nothing, ("list", "calibrations", "--folder", "nix"), "nix", "expected a working folder"),
    (nothing, ("picture", "sections/whops.toml"), "sections/whops.toml", "did you mean 'whoops.toml'?"),
    (nothing, ("picture", "sections"), "sections", "can't be read: Is a directory"),
    (nothing, (*TRY, "--folder", "nix"), "berm_support", "expected a calibration file or the name of one in nix"),
    (nothing, ("try", C, "--folder", "logs"), "logs", "expected a working folder with a folder sections/"),
    (emptied("strategies"), TRY, "berm_support", "expected a calibration file or the name of one in strategies"),
]

ALL = [*CALIBRATION, *VEHICLES_AND_SECTIONS, *GATES, *LOGS, *OUTPUT, *WORDS]


@pytest.mark.parametrize(("change", "command", "place", "said"), ALL, ids=[f"{place}: {said}" for _, _, place, said in ALL])
def test_bad_input_is_one_line(work: Path, run: Command, change: Change, command: tuple[str, ...], place: str, said: str) -> None:
    change(work)
    before = contents(work)
    code, _, err = run(*command)
    assert code == 2
    lines = [line for line in err.splitlines() if not line.startswith(("first run with", "compiled "))]  # an empty cache says so
    assert lines
    assert all(line.startswith("dualduty: ") for line in lines)
    assert place in lines[0].replace("logs/../", "").replace("strategies/../", "")
    assert said in lines[0]
    assert len(lines) == 1 or command is REPLAY  # a channel of each corner has a line
    assert contents(work) == before


GOOD = [
    (lambda work: raw(C, (work / C).read_bytes().replace(b"\n", b"\r\n"))(work), ("export", "berm_support"), "2 values changed"),
    (lambda work: raw(C, b"\xef\xbb\xbf" + (work / C).read_bytes())(work), ("export", "berm_support"), "2 values changed"),
    (lambda work: raw(LOG, (work / LOG).read_bytes().replace(b"\n", b"\r\n"))(work), CHECK, "quarry_loop_dash"),
    (put(LOG, "# invented", "# größer, invented"), CHECK, "quarry_loop_dash"),
    (gap, CHECK, "no value from 2.490 s to 2.690 s"),
    (cells(500, 1, "1e400"), CHECK, "gaps shorter than 50 ms"),
]


@pytest.mark.parametrize(("change", "command", "said"), GOOD, ids=["windows", "byte-order mark", "windows log", "note", "gap", "too large"])
def test_what_is_odd_but_clear_works_and_is_told(work: Path, run: Command, change: Change, command: tuple[str, ...], said: str) -> None:
    (work / "detector_gates.toml").unlink()
    change(work)
    code, out, err = run(*command)
    assert (code, err) == (0, "")
    assert said in out


HEAD = '''
from __future__ import annotations
from dataclasses import dataclass
import numpy as np
from dualduty.contract import Chunk, Duty, Memory
@dataclass(frozen=True)
class Mine:
    """A law of one's own."""
    def run(self, now: Chunk, memory: Memory) -> Duty:
        like = np.zeros((4, *now.vehicle_speed.shape[1:]))
'''
PLUG_INS = [
    ("def (", "can't be imported: SyntaxError"),
    ("\0", "can't be imported"),
    ("1 / 0", "can't be imported: ZeroDivisionError at line 1: division by zero"),
    ("", "holds no plug-in: expected a frozen dataclass with @each_tick and tick(self, now, memory, out), or run(self, now, memory)"),
    ("import sys; sys.exit(3)", "mine.py: can't be imported: it ends the program, sys.exit(3)"),
    (HEAD + "        raise ValueError('no way')", "Mine: run raised ValueError at line 11: no way"),
    (HEAD + "        raise SystemExit(5)", "a plug-in ended the program, sys.exit(5)"),
    (HEAD + "        return 5", "Mine: "),
    (HEAD + "        return Duty(np.zeros((3, 1, 1)), None)", "compression has shape (3, 1, 1); expected (1 or 4, 1, 1)"),
    (HEAD + "        return Duty(like + np.nan, None)", "Mine: compression duty is not a number"),
    (
        HEAD + "        if now.vehicle_speed.max() > 1: raise KeyError('late')\n        return Duty(like, None)",
        "run raised KeyError at line 11: 'late'",
    ),
    (HEAD + "        return Duty(like[:, :, :0] if now.vehicle_speed.max() > 1 else like, None)", "compression has shape (4, 1, 0)"),
]


@pytest.mark.parametrize(("text", "said"), PLUG_INS, ids=[said for _, said in PLUG_INS])
def test_a_bad_plug_in_is_one_line(work: Path, run: Command, text: str, said: str) -> None:
    (work / "mine.py").write_text(text, encoding="utf-8")
    with (work / C).open("a", encoding="utf-8") as file:
        file.write('\n[[layers]]\nname = "mine"\nlaw = "Mine"\nact = "raise"\n')
    before = contents(work)
    code, _, err = run(*TRY, "--plugin", "mine.py")
    assert (code, len(err.splitlines())) == (2, 1)
    assert err.startswith("dualduty: ")
    assert "mine.py" in err or "sys.exit" in err
    assert said in err
    assert contents(work) == before


@pytest.mark.parametrize("name", ["nix.py", "logs", "gates.toml"])
@pytest.mark.usefixtures("work")
def test_a_plug_in_file_that_is_none(run: Command, name: str) -> None:
    code, _, err = run(*TRY, "--plugin", name)
    assert (code, err.startswith(f"dualduty: {name}: expected a Python file")) == (2, True)


def contents(work: Path) -> dict[str, bytes]:
    """Every file below a folder with what is in it, and every folder."""
    found = [path for path in work.rglob("*") if "__pycache__" not in path.parts]
    return {str(path.relative_to(work)): path.read_bytes() if path.is_file() else b"" for path in found}
