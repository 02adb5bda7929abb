"""What can go wrong between sensors and file: each function does it to a frame and says what it did."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.trial.demo_session.columns import BY_NAME, RATE, SPAN
from dualduty.trial.demo_session.frame import Frame

Array = NDArray[np.float64]

FORCES: Final = ("accel_x_g", "accel_y_g")
RATES: Final = ("roll_rate_deg_s", "pitch_rate_deg_s")
_BACK: Final = 0.012  # s by which a stamp goes back: behind the two before it
_PRESSED: Final = 0.3  # s


@dataclass(frozen=True)
class Injected:
    """A fault that was put in: kind, column ("" for the whole logger), from when to when [s], and what else there is to say."""

    kind: str
    channel: str
    start: float
    end: float
    details: dict[str, Any] = field(default_factory=dict)

    def to_row(self) -> dict[str, Any]:
        """As the file of faults says it."""
        return {"kind": self.kind, "channel": self.channel, "start_s": round(self.start, 3), "end_s": round(self.end, 3), **self.details}


def dropout(frame: Frame, channel: str, start: float, end: float) -> Injected:
    """A column without values."""
    frame.columns[channel][frame.within(start, end)] = np.nan
    return Injected("dropout", channel, start, end)


def lost_samples(frame: Frame, channel: str, share: float, random: np.random.Generator) -> Injected:
    """Single samples of a column lost here and there."""
    values = frame.columns[channel]
    there = np.flatnonzero(np.isfinite(values))
    lost = random.choice(there, max(round(share * len(there)), 3), replace=False)
    values[lost] = np.nan
    return Injected("lost_samples", channel, 0.0, frame.length, {"samples": len(lost)})


def logger_gap(frame: Frame, start: float, end: float) -> Injected:
    """No sample of anything."""
    frame.kept &= ~frame.within(start, end)
    return Injected("logger_gap", "", start, end)


def stuck(frame: Frame, channel: str, start: float, end: float) -> Injected:
    """A column that stays at its last value."""
    values = frame.columns[channel]
    here = frame.within(start, end) & np.isfinite(values)
    held = float(values[here][0])
    values[here] = held
    return Injected("stuck", channel, start, end, {"value": round(held, BY_NAME[channel].digits)})


def spikes(frame: Frame, channel: str, window: tuple[float, float], size: float, random: np.random.Generator) -> Injected:
    """Single samples far off, about one in two seconds, up or down."""
    here = np.flatnonzero(frame.within(*window))
    count = max(2, round((window[1] - window[0]) / 2.0))
    at = here[np.sort(random.choice(np.arange(5, len(here) - 5, 11), count, replace=False))]
    frame.columns[channel][at] += size * random.choice([-1.0, 1.0], count)
    return Injected("spikes", channel, *window, {"size": size, "moments_s": np.round(frame.time[at], 3).tolist()})


def saturated(frame: Frame, channel: str, wanted_share: float) -> Injected:
    """A sensor whose range ends where a share of the samples lies beyond, alike up and down."""
    values = frame.columns[channel]
    reach = round(float(np.nanquantile(np.abs(values), 1.0 - wanted_share)), 1)
    beyond = np.flatnonzero(np.abs(values) > reach)
    frame.columns[channel] = np.clip(values, -reach, reach)
    ends = (frame.time[beyond[0]], frame.time[beyond[-1]]) if len(beyond) else (0.0, 0.0)
    return Injected("saturation", channel, float(ends[0]), float(ends[1]), {"low": -reach, "high": reach, "samples": len(beyond)})


def offset(frame: Frame, channel: str, size: float) -> Injected:
    """A sensor whose zero is off, throughout."""
    frame.columns[channel] = frame.columns[channel] + size
    return Injected("offset", channel, 0.0, frame.length, {"size": size})


def quantised(frame: Frame, channel: str, grid: float) -> Injected:
    """A column in coarse steps, throughout."""
    frame.columns[channel] = grid * np.round(frame.columns[channel] / grid)
    return Injected("quantised", channel, 0.0, frame.length, {"grid": grid})


def late_bus(frame: Frame, samples: int) -> Injected:
    """Every column of the bus as old as so many samples, a multiple of how seldom they come."""
    for name, values in frame.columns.items():
        if BY_NAME[name].box == "bus":
            frame.columns[name] = np.concatenate(
                [np.tile(values[: BY_NAME[name].every], samples // BY_NAME[name].every), values[:-samples]]
            )
    return Injected("latency", "bus", 0.0, frame.length, {"latency_ms": 1e3 * samples / RATE})


def duplicated_stamp(frame: Frame, moment: float) -> Injected:
    """A sample with the stamp of the one before it."""
    at = int(np.searchsorted(frame.time, moment))
    frame.stamps[at] = frame.stamps[at - 1]
    return Injected(
        "duplicated_stamp", "time_s", float(frame.time[at]), float(frame.time[at]), {"stamp_s": round(float(frame.stamps[at]), 4)}
    )


def backward_stamp(frame: Frame, moment: float) -> Injected:
    """A sample whose stamp lies before that of the one before it."""
    at = int(np.searchsorted(frame.time, moment))
    frame.stamps[at] -= _BACK
    return Injected(
        "backward_stamp", "time_s", float(frame.time[at]), float(frame.time[at]), {"stamp_s": round(float(frame.stamps[at]), 4)}
    )


def turned_left(frame: Frame) -> Injected:
    """The inertial unit turned by 90 degrees to the left about the vertical: its x shows the car's y, its y the car's -x."""
    for ahead, left in (FORCES, RATES):
        frame.columns[ahead], frame.columns[left] = frame.columns[left], -frame.columns[ahead]
    return Injected("turned", "inertial_unit", 0.0, frame.length, {"about": "z", "by_deg": 90})


def inverted(frame: Frame, channel: str) -> Injected:
    """A travel sensor mounted the other way round: it shows the rest of its span."""
    frame.columns[channel] = SPAN - frame.columns[channel]
    return Injected("inverted", channel, 0.0, frame.length, {"span_mm": SPAN})


def press_marker(frame: Frame, moments: list[float]) -> None:
    """The driver's marker button, each press a third of a second long; no fault."""
    for moment in moments:
        frame.columns["marker"][frame.within(moment, moment + _PRESSED)] = 1.0
