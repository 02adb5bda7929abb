"""Files of the demo sessions: log, run file, marks and the list of faults beside each, and the channel map that names all columns."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import tomlkit

from dualduty.files import write_text
from dualduty.trial.demo_session.columns import STATES
from dualduty.trial.demo_session.faults import Injected
from dualduty.trial.demo_session.frame import Frame
from dualduty.trial.demo_session.write_log import BUS_DRIFT, NOTE, WRITERS
from replay.marks.marks import Mark, write_marks

MAP: Final = "marram_session"
ORDINARY_MAP: Final = "marram_logger"
FAULTS: Final = ".faults.json"
CAR: Final = "session_car.json"
PEOPLE: Final = "_two_people"
_INVENTED: Final = "Invented demo data: simulated with a car that differs from the nominal one; no real place, vehicle or person."
_CORNERS: Final = {"front_left": "fl", "front_right": "fr", "rear_left": "rl", "rear_right": "rr"}


@dataclass(frozen=True, eq=False)
class Session:
    """A log with all that is known of it: sections by name [s], faults put in, presses of the marker button [s], marks."""

    name: str
    mode: str
    frame: Frame
    sections: dict[str, tuple[float, float]]
    injected: Sequence[Injected]
    presses: Sequence[float]
    marks: Sequence[Mark]


@dataclass(frozen=True)
class LogsFolder:
    """The working folder that is being filled."""

    root: Path
    driven_by: str
    form: str

    @property
    def logs(self) -> Path:
        """Where runs lie."""
        return self.root / "logs"

    def write_car(self, differences: dict[str, Any], seed: int) -> None:
        """How the car differs from the nominal one, and the channel map of the sessions."""
        said = {
            "note": _INVENTED, "seed": seed, "measured": "vehicles/marram_2.toml, which says how this car differs from its type",
            "further": "what this car differs by from that file, and what its sensors are off", **differences,
        }  # fmt: skip
        write_text(self.logs / CAR, json.dumps(said, indent=1) + "\n")
        ordinary = (self.root / "channel_maps" / f"{ORDINARY_MAP}.toml").read_text(encoding="utf-8")
        write_text(self.root / "channel_maps" / f"{MAP}.toml", session_map(ordinary, own_clocks=self.form == "mdf"))

    def write(self, session: Session) -> None:
        """Log, run file, faults and marks of a session."""
        suffix, writer = WRITERS[self.form]
        writer(self.logs / f"{session.name}{suffix}", session.frame, f"{NOTE}; {session.mode}")
        marks = f"{session.name}.marks.csv" if session.marks else ""
        if session.marks:
            write_marks(self.logs / marks, session.marks)
        write_text(self.logs / f"{session.name}{FAULTS}", self._faults(session))
        write_text(self.logs / f"{session.name}.toml", self._run_file(session, marks))

    def write_people(self, session: Session, marks: Sequence[Mark]) -> None:
        """A second run file for the same log, with what two people marked."""
        name = f"{session.name}{PEOPLE}"
        write_marks(self.logs / f"{name}.marks.csv", marks)
        write_text(self.logs / f"{name}.toml", self._run_file(session, f"{name}.marks.csv", sorted({mark.state for mark in marks})))

    def _run_file(self, session: Session, marks: str, marked: Sequence[str] = ()) -> str:
        sections = [
            f'  {{ name = "{name}", start_s = {start:.3f}, end_s = {end:.3f} }},' for name, (start, end) in session.sections.items()
        ]
        lines = [
            f"# {_INVENTED}",
            f'log = "{session.name}{WRITERS[self.form][0]}"',
            f'channel_map = "../channel_maps/{MAP}.toml"',
            *([f'marks = "{marks}"'] if marks else []),
            *([f"marked = {json.dumps(marked)}  # of other states nobody said anything"] if marked else []),
            f'driven_by = "{self.driven_by}"',
            'calibration = "../strategies/marram_baseline.toml"',
            'vehicle = "marram 2"',
            f'note = "Invented. Gorse Pit, {session.mode}, one section after another without a pause."',
            "sections = [", *sections, "]",
        ]  # fmt: skip
        return "\n".join(lines) + "\n"

    def _faults(self, session: Session) -> str:
        rows = [fault.to_row() for fault in session.injected]
        if self.form == "mdf":
            rows.append(
                {
                    "kind": "clock_drift",
                    "channel": "bus",
                    "start_s": 0.0,
                    "end_s": round(session.frame.length, 3),
                    "fast_by_ppm": 1e6 * BUS_DRIFT,
                }
            )
        said = {
            "note": f"{_INVENTED} Faults are in the recording only: the car's controller had sound signals.",
            "marker_pressed_s": list(session.presses), "faults": rows,
        }  # fmt: skip
        return json.dumps(said, indent=1) + "\n"


def session_map(ordinary: str, *, own_clocks: bool) -> str:
    """The ordinary channel map with the further columns of test sessions; with own clocks, without its column of stamps."""
    document = tomlkit.parse(ordinary)
    if own_clocks:
        for key in ("column", "alternatives", "unit"):
            document["time"].remove(key)
    lines = [tomlkit.dumps(document).rstrip("\n"), ""]
    for name in STATES:
        if name not in document.get("states", {}):
            lines += [f"[states.{name}]", f'column = "state_{name}"', ""]
    for side, short in (("compression", "comp"), ("rebound", "reb")):
        lines += [f"[commands.{side}]", 'unit = "%"', *(f'{corner} = "command_{short}_{at}_pct"' for corner, at in _CORNERS.items()), ""]
    return "\n".join([*lines, "[marker]                     # the driver's button", 'column = "marker"', ""])
