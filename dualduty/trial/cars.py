"""Which vehicle drives which column of a trial: one for both, and what a hardware overlay changes on the candidate's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dualduty.calibration.model import Calibration
from dualduty.export.candidate import file_digest
from plant.hardware import apply, payload_line
from plant.overlay_file import Overlay, read_overlay
from plant.payload import laden, payload_named
from plant.vehicle import Vehicle, read_vehicle


@dataclass(frozen=True, eq=False)
class Cars:
    """The vehicles of a trial; `lines` say all that the overlay changes on the candidate's."""

    file: Path
    payload: str
    baseline: Vehicle
    candidate: Vehicle
    overlay: Overlay | None = None
    lines: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """The vehicle both columns start from: its file, and what it carries."""
        return f"{self.file.stem} with {self.payload}" if self.payload else self.file.stem

    def columns(self, calibrations: Sequence[Calibration]) -> list[str]:
        """Names of the columns, the baseline first; a candidate on other hardware is named with it."""
        suffix = f" on {self.overlay.name}" if self.overlay else ""
        return [calibrations[0].name, *(f"{calibration.name}{suffix}" for calibration in calibrations[1:])]

    def vehicles(self, count: int) -> list[Vehicle]:
        """The vehicle of each column, the baseline first."""
        return [self.baseline, *[self.candidate] * (count - 1)]

    def words(self) -> list[tuple[str, str]]:
        """Who drove what, in words: a place and a sentence each."""
        carried = [("payload of both", payload_line(self.baseline.payloads[self.payload]))] if self.payload else []
        if self.overlay is None:
            return [("vehicle of both", f"{self.baseline.car.name}, {self.file.name}"), *carried]
        return [
            ("vehicle of the baseline", f"{self.baseline.car.name}, {self.file.name}"),
            (
                "vehicle of the candidate",
                f"the same with other hardware: {self.overlay.name}, {self.overlay.file.name} ({self.overlay.intent})",
            ),
            *carried,
            *[("hardware changed", line) for line in self.lines],
        ]

    def facts(self) -> dict[str, Any]:
        """The same for the manifest, with digests of the files."""
        found: dict[str, Any] = {"vehicle": {"file": self.file.name, "sha256": file_digest(self.file)}, "payload": self.payload or None}
        if self.overlay is None:
            return found | {"hardware_of_candidate": None}
        told = {"file": self.overlay.file.name, "sha256": file_digest(self.overlay.file), "changes": list(self.lines)}
        return found | {"hardware_of_candidate": told, "note": "the table is the same with and without this hardware"}


def read_cars(file: Path, payload: str = "", overlay: Path | None = None) -> Cars:
    """Read a vehicle file of either kind, load it, and lay an overlay over the candidate's."""
    vehicle = read_vehicle(file)
    if payload:
        vehicle = laden(vehicle, payload_named(vehicle, payload, f"--payload {payload}"))
    if overlay is None:
        return Cars(file, payload, vehicle, vehicle)
    read = read_overlay(overlay)
    changed = apply(read, vehicle)
    return Cars(file, payload, vehicle, changed.vehicle, read, changed.lines)
