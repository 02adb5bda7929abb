"""What stands on every export, report and README."""

from __future__ import annotations

from typing import Final

CAUTIONS: Final = (
    "Somebody will drive this. A simulated or replayed result is a forecast, not a release.",
    "The simulated vehicle is a model; each result says how far it has been compared with a vehicle.",
    "Check the table on the vehicle at standstill first, then at low speed, with a way back to the known calibration.",
    "Local codes and the organisation's own safety release come before anything written here.",
)


def simulated(stamp: str) -> str:
    """What must stand beside a simulated number: how far the plant has been compared with a vehicle, as `Header.stamp` says."""
    return "simulated; plant not compared with a vehicle" if stamp == "not compared" else f"simulated; plant {stamp}"
