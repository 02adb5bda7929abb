"""When each state was true in a simulated run, read off the plant: the definitions of docs/states.md in numbers.

    truth_intervals(whole, header, case=0, kind="", limits=Limits()) -> dict[str, list[tuple[float, float]]]
    truth_by_corner(whole, header, case=0, limits=Limits()) -> dict[str, tuple[list, list, list, list]]
    unsure_intervals(whole, header, case=0, limits=Limits()) -> dict[str, list[tuple[float, float]]]

Times are seconds from the first tick, half open. Truth is a definition, not a detector: it looks both ways in time and reads
wheel loads, true speed and the ground under the wheels, which no controller sees. Only the yaw rate and the pedals are taken
from the signals, since the plant keeps no other record of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.trace import Header, TraceChunk
from dualduty.true_ground import HOP, MIDDLE, Stretch, bank, on_kind, roughness
from dualduty.truth_gates import Interval, after, bridged, centred_mean, filled, kept, stretches
from dualduty.units import STANDARD_GRAVITY

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]

_G: Final = STANDARD_GRAVITY
BY_CORNER: Final = ("wheel_off", "cornering_outer", "cornering_inner", "side_slope_upper", "bump_approach", "droop_approach")
LIKELY: Final = {"airborne_likely": "airborne", "cornering_likely": "cornering"}  # a pre-arm is held against what it announces


@dataclass(frozen=True)
class Limits:
    """The numbers of the definitions, SI; docs/states.md says why each.

    `no_load` [N]; `least_*` shortest stretch that counts [s]; `flight_before_landing`, `landing_lasts` [s]; `turning`, `deceleration`,
    `acceleration` [m/s²]; `mean_over` length of the centred mean of accelerations [s]; `pedal`, `throttle` [1]; `pause` of a foot
    on a pedal [s]; `rough`, `smooth` as ISO 8608 density at 0.1 cycles/m [m³], `ground_pause`
    that is bridged [s]; `still`, `walking` [m/s]; `slope` [rad];
    `track`, `wheelbase` [m]; `stop_lead` how long before a stop is touched it is being approached [s].
    """

    no_load: float = 1.0
    least_flight: float = 0.08
    flight_before_landing: float = 0.12
    landing_lasts: float = 0.45
    turning: float = 0.25 * _G
    least_turn: float = 0.3
    mean_over: float = 0.2
    pedal: float = 0.08
    pause: float = 0.5
    least_braking: float = 0.05
    deceleration: float = 0.3 * _G
    throttle: float = 0.5
    acceleration: float = 0.2 * _G
    least_felt: float = 0.2
    rough: float = 512e-6
    smooth: float = 128e-6
    ground_pause: float = 0.4
    least_ground: float = 1.0
    still: float = 0.2
    walking: float = 2.0
    least_slow: float = 0.3
    slope: float = 0.14
    least_slope: float = 0.5
    track: float = 1.5
    wheelbase: float = 2.4
    stop_lead: float = 0.06


def truth_intervals(
    whole: TraceChunk, header: Header, case: int = 0, kind: str | Sequence[Stretch] = "", limits: Limits = Limits()
) -> dict[str, list[Interval]]:
    """When each whole-vehicle state was true in one case of a simulated run.

    Parameters
    ----------
    whole : TraceChunk
        `trace.whole()` of a simulated run; truth, signals and `running` are read.
    header : Header
        Its steps, `dt` and `truth_dt`.
    case : int
        Index of the case.
    kind : str or sequence of Stretch
        What the ground is made of where a rhythm counts: `stretches_of(section)`, or one word, "whoops" or "corrugation", for all of the
        ground that isn't level. Nothing: neither state is ever true.
    limits : Limits
        The numbers of the definitions.

    Returns
    -------
    dict of state name to list of (start, end)
        From the first tick. [s] Every state is a key; a pre-arm (`airborne_likely`, `cornering_likely`) has the truth of what it announces.
    """
    scene = _Scene.of(whole, header, case, limits)
    gates = {
        "airborne": scene.airborne(limits.least_flight),
        "landing": scene.landing(),
        "cornering": scene.turning(1.0) | scene.turning(-1.0),
        "braking": scene.braking(),
        "accelerating": scene.accelerating(),
        "standstill": scene.slow(limits.still),
        "walking_pace": scene.slow(limits.walking),
        "side_slope": scene.side_slope(1.0) | scene.side_slope(-1.0),
        **scene.grounds(kind),
    }
    found = {name: scene.intervals(gate) for name, gate in gates.items()}
    return {**found, **{likely: list(found[sure]) for likely, sure in LIKELY.items()}}


def truth_by_corner(whole: TraceChunk, header: Header, case: int = 0, limits: Limits = Limits()) -> dict[str, tuple[list[Interval], ...]]:
    """When each state by corner was true: four lists of intervals per state, arguments as `truth_intervals`."""
    scene = _Scene.of(whole, header, case, limits)
    left, right = scene.turning(1.0), scene.turning(-1.0)
    right_up, left_up = scene.side_slope(1.0), scene.side_slope(-1.0)
    by_corner: Mapping[str, Sequence[Gate]] = {
        "wheel_off": [kept(row < limits.no_load, limits.least_flight, scene.dt) for row in scene.load],
        "cornering_outer": [right, left, right, left],
        "cornering_inner": [left, right, left, right],
        "side_slope_upper": [left_up, right_up, left_up, right_up],
        "bump_approach": [scene.stop(row > 0.0) for row in scene.stop_force],
        "droop_approach": [scene.stop(row < 0.0) for row in scene.stop_force],
    }
    return {name: tuple(scene.intervals(gate) for gate in gates) for name, gates in by_corner.items()}


def unsure_intervals(whole: TraceChunk, header: Header, case: int = 0, limits: Limits = Limits()) -> dict[str, list[Interval]]:
    """Stretches in which a detection counts neither for nor against: real, but too short to be held against a detector that misses them.

    Hops shorter than `least_flight`, and touchdowns after flights too short for a landing; arguments as `truth_intervals`.
    """
    scene = _Scene.of(whole, header, case, limits)
    hops = scene.airborne(0.0) & ~scene.airborne(limits.least_flight)
    soft = after(scene.airborne(0.0), 0.0, limits.landing_lasts, scene.dt) & ~scene.landing()
    found = {"airborne": scene.intervals(hops), "landing": scene.intervals(soft)}
    return {**found, "airborne_likely": list(found["airborne"])}


@dataclass(frozen=True)
class _Scene:
    """What the definitions read, at the controller's ticks, one case, gaps bridged."""

    dt: float
    load: Array
    stop_force: Array
    speed: Array
    lateral: Array
    forward: Array
    brake: Array
    throttle: Array
    distance: Array
    ground: Array
    limits: Limits

    @classmethod
    def of(cls, whole: TraceChunk, header: Header, case: int, limits: Limits) -> _Scene:
        ticks = int((whole.running[0, :, _at(whole.running, case)] > 0).sum())
        every = max(round(header.dt / header.truth_dt), 1) if header.truth_dt > 0 else 1

        def true(name: str) -> Array:
            return _rows(whole.truth, name, case)[:, ::every][:, :ticks]

        def seen(name: str) -> Array:
            return filled(_rows(whole.signals, name, case)[0, :ticks])

        def smooth(values: Array) -> Array:
            return centred_mean(values, limits.mean_over, header.dt)

        speed = true("speed")[0]
        rate = np.gradient(speed, header.dt) if ticks > 1 else np.zeros(ticks)
        return cls(
            header.dt, true("wheel_load"), true("stop_force"), speed, smooth(seen("yaw_rate") * speed), smooth(rate), seen("brake"),
            seen("throttle"), true("distance")[0], true("ground_height"), limits,
        )  # fmt: skip

    def intervals(self, gate: Gate) -> list[Interval]:
        """[s]"""
        return [(first * self.dt, last * self.dt) for first, last in stretches(gate)]

    def airborne(self, least: float) -> Gate:
        """No wheel carries anything."""
        return kept(np.asarray((self.load < self.limits.no_load).all(axis=0)), least, self.dt)

    def landing(self) -> Gate:
        """From the first touch after a flight, for a fixed time."""
        return after(self.airborne(0.0), self.limits.flight_before_landing, self.limits.landing_lasts, self.dt)

    def grounded(self) -> Gate:
        """Neither in the air nor just down: what is felt ahead is what the tyres do."""
        return ~(self.airborne(0.0) | after(self.airborne(0.0), 0.0, self.limits.landing_lasts, self.dt))

    def turning(self, side: float) -> Gate:
        """Yaw rate times speed towards one side (+1 left)."""
        return kept(side * self.lateral >= self.limits.turning, self.limits.least_turn, self.dt)

    def braking(self) -> Gate:
        """The pedal, or true loss of speed on the ground."""
        pedal = kept(bridged(self.brake > self.limits.pedal, self.limits.pause, self.dt), self.limits.least_braking, self.dt)
        return pedal | kept((self.forward <= -self.limits.deceleration) & self.grounded(), self.limits.least_felt, self.dt)

    def accelerating(self) -> Gate:
        """The throttle, or true gain of speed on the ground."""
        pedal = kept(bridged(self.throttle > self.limits.throttle, self.limits.pause, self.dt), self.limits.least_felt, self.dt)
        return pedal | kept((self.forward >= self.limits.acceleration) & self.grounded(), self.limits.least_felt, self.dt)

    def slow(self, below: float) -> Gate:
        """At most so fast."""
        return kept(np.abs(self.speed) <= below, self.limits.least_slow, self.dt)

    def side_slope(self, side: float) -> Gate:
        """The ground leans (+1: right side up) while the car does not turn."""
        lean = side * centred_mean(bank(self.ground, self.limits.track), self.limits.mean_over, self.dt)
        straight = np.abs(self.lateral) < self.limits.turning
        return kept((lean >= self.limits.slope) & straight, self.limits.least_slope, self.dt)

    def grounds(self, kind: str | Sequence[Stretch]) -> dict[str, Gate]:
        """How rough, and with which rhythm."""
        loaded = (self.load > self.limits.no_load) & ~self.landing()
        middle, hop = (roughness(self.ground, loaded, self.speed, self.dt, band) for band in (MIDDLE, HOP))
        fast = self.speed > self.limits.walking
        return {
            "rough_ground": self._lasting((middle >= self.limits.rough) & fast),
            "smooth_ground": self._lasting((np.maximum(middle, hop) <= self.limits.smooth) & fast),
            **{name: on_kind(name, kind, self.distance, self.ground, self.limits.wheelbase) for name in ("whoops", "corrugation")},
        }

    def _lasting(self, gate: Gate) -> Gate:
        """Short pauses bridged, since random ground has its calm and its lively moments; a stone or a ledge is too short to stay."""
        return kept(bridged(gate, self.limits.ground_pause, self.dt), self.limits.least_ground, self.dt)

    def stop(self, touched: Gate) -> Gate:
        """From shortly before a stop is touched until it is let go."""
        early = np.zeros_like(touched)
        lead = round(self.limits.stop_lead / self.dt)
        for first, last in stretches(touched):
            early[max(first - lead, 0) : last] = True
        return early


def _rows(values: Mapping[str, Any], name: str, case: int) -> Array:
    array = values[name]
    return np.asarray(array[:, :, _at(array, case)], float)


def _at(array: Array, case: int) -> int:
    return case if array.shape[2] > 1 else 0
