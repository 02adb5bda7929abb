"""Which faults a session gets: channels and sizes drawn from its seed, places drawn so that no two of them meet."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

import numpy as np

from dualduty.trial.demo_session import faults
from dualduty.trial.demo_session.faults import Injected
from dualduty.trial.demo_session.frame import Frame

LOST: Final = "travel_rl_mm"
LOST_ON: Final = "whoops-2"
_LOST_FOR: Final = 0.8  # s
_TRIES: Final = 2000
_GAP: Final = (1.5, 60.0)  # s between two faults, and at most this part of the log's length
_DROPOUTS: Final = ("travel_fl_mm", "travel_rr_mm", "accel_y_g", "yaw_rate_deg_s", "wheel_speed_fr_km_h", "pitch_rate_deg_s")
_LOSING: Final = ("travel_fl_mm", "travel_fr_mm", "accel_z_g", "roll_rate_deg_s")
_STUCK: Final = ("travel_fr_mm", "roll_rate_deg_s", "travel_rl_mm")
_SPIKY: Final = {"travel_rr_mm": 40.0, "accel_z_g": 6.0}


class Places:
    """Windows within a log, drawn so that they keep apart."""

    def __init__(self, frame: Frame, random: np.random.Generator) -> None:
        self._length = frame.length
        self._apart = min(_GAP[0], frame.length / _GAP[1])
        self._random = random
        self._taken: list[tuple[float, float]] = []

    def window(self, shortest: float, longest: float) -> tuple[float, float]:
        """A window of such a length, but never more than an eighth of the log. [s]"""
        lasts = float(self._random.uniform(shortest, min(longest, max(shortest, self._length / 8))))
        for _ in range(_TRIES):
            start = round(float(self._random.uniform(1.0, self._length - lasts - 1.0)), 2)
            end = start + round(lasts, 2)
            if all(end + self._apart < other[0] or start - self._apart > other[1] for other in self._taken):
                self._taken.append((start, end))
                return start, end
        raise ValueError(f"no room for another fault in {self._length:.0f} s")

    def moment(self) -> float:
        """[s]"""
        return self.window(0.02, 0.02)[0]


def _every_session(frame: Frame, places: Places, random: np.random.Generator) -> list[Injected]:
    done = [faults.dropout(frame, str(name), *places.window(0.1, 1.0)) for name in random.permutation(_DROPOUTS)[:4]]
    done.append(faults.lost_samples(frame, str(random.choice(_LOSING)), 5e-4, random))
    return [*done, faults.logger_gap(frame, *places.window(0.3, 0.8))]


def _worn_wiring(frame: Frame, places: Places, random: np.random.Generator) -> list[Injected]:
    name = str(random.choice(sorted(_SPIKY)))
    return [
        faults.offset(frame, "travel_fl_mm", round(float(random.choice([-1.0, 1.0]) * random.uniform(7.0, 12.0)), 1)),
        faults.spikes(frame, name, places.window(4.0, 20.0), _SPIKY[name], random),
        faults.stuck(frame, str(random.choice(_STUCK)), *places.window(1.5, 6.0)),
        *_every_session(frame, places, random),
    ]


def _cheap_box(frame: Frame, places: Places, random: np.random.Generator) -> list[Injected]:
    return [
        faults.saturated(frame, "accel_z_g", 5e-4),
        faults.stuck(frame, str(random.choice(_STUCK)), *places.window(1.5, 6.0)),
        *(faults.duplicated_stamp(frame, places.moment()) for _ in range(3)),
        *(faults.backward_stamp(frame, places.moment()) for _ in range(2)),
        *_every_session(frame, places, random),
    ]


def _slow_bus(frame: Frame, places: Places, random: np.random.Generator) -> list[Injected]:
    return [
        faults.late_bus(frame, 4 * int(random.integers(2, 5))),
        faults.quantised(frame, "travel_fr_mm", 2.0),
        *_every_session(frame, places, random),
    ]


RECIPES: Final[Mapping[str, Callable[[Frame, Places, np.random.Generator], list[Injected]]]] = {
    "session_patrol": _worn_wiring, "session_dash": _cheap_box, "session_haul": _slow_bus,
}  # fmt: skip


def with_faults(frame: Frame, name: str, seed: int) -> list[Injected]:
    """Put the faults of a session into its frame, which changes; gives what was done, in order of time. None for a clean log."""
    recipe = RECIPES.get(name)
    if recipe is None:
        return []
    random = np.random.default_rng([seed, 4])
    return sorted(recipe(frame, Places(frame, random), random), key=lambda fault: (fault.start, fault.kind, fault.channel))


def with_wrong_wiring(frame: Frame, sections: Mapping[str, tuple[float, float]], seed: int) -> list[Injected]:
    """What a fresh car's first log shows: the inertial unit turned, a travel sensor inverted, and lost for 0.8 s on the second whoops.

    sections : dict of (start, end)
        When each section was driven. [s]
    """
    start, end = sections[LOST_ON]
    begin = round(float(np.random.default_rng([seed, 5]).uniform(start + 0.2, max(start + 0.3, end - _LOST_FOR - 0.2))), 2)
    return [
        faults.turned_left(frame), faults.inverted(frame, LOST), faults.dropout(frame, LOST, begin, begin + _LOST_FOR),
    ]  # fmt: skip


def marker_presses(frame: Frame, count: int, seed: int) -> list[float]:
    """When the driver presses the marker button, as pressed in the frame. [s]"""
    random = np.random.default_rng([seed, 6])
    parts = frame.length / count
    moments = [round(float(parts * (at + random.uniform(0.2, 0.8))), 2) for at in range(count)]
    faults.press_marker(frame, moments)
    return moments
