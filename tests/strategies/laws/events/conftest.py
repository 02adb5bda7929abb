"""What the tests of manoeuvre and event laws share: one call of a law, and a nonlinear corner that is dropped on flat ground."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.contract import Chunk
from dualduty.memory import Memory
from dualduty.units import STANDARD_GRAVITY

Array = NDArray[np.float64]
Ran = Callable[..., dict[str, Array]]
Law = Callable[[float, float], tuple[float, float]]  # (travel, shaft speed) -> compression and rebound duty

SIDES: Final = ("compression", "rebound")


@pytest.fixture(scope="session")
def ran() -> Ran:
    """Run a law on fresh memory over `ticks` and give both sides as (corner, time).

    A value is a number, four numbers by corner, an array (time,), or an array (4, time).
    """

    def spread(value: Any, ticks: int) -> Array:
        array = np.asarray(value, float)
        by_corner = array.reshape(4, 1) if array.shape == (4,) else np.atleast_2d(array)
        return np.ascontiguousarray(np.broadcast_to(by_corner, (len(by_corner), ticks)))[:, :, None]

    def run(law: Any, values: dict[str, Any], ticks: int = 1, dt: float = 0.002) -> dict[str, Array]:
        memory = Memory(dt)
        memory.begin()
        asked = law.run(Chunk(dt, {name: spread(value, ticks) for name, value in values.items()}), memory)
        memory.end()
        return {side: getattr(asked, side)[:, :, 0] for side in SIDES}

    return run


@dataclass(frozen=True)
class Landed:
    """How a drop went: body's peak [g], deepest travel [m], largest stop force [N], upward speed [m/s], time off the ground [s]."""

    peak: float
    deepest: float
    stop_force: float
    rise_speed: float
    second_flight: float


@dataclass(frozen=True)
class DroppedCorner:
    """One corner on a tyre that can't pull: linear spring, slack when unloaded, rubber and metal stops, digressive map of two duties.

    Travel 0 is the droop stop, 160 mm below ride height; bump rubber 190 mm and metal 250 mm above. Motion ratio 1.
    Low-speed damping 350 to 4500 N·s/m over duty; beyond a knee at 200 to 2000 N the slope is 40 % of that.
    """

    sprung: float = 200.0
    unsprung: float = 35.0
    spring: float = 16e3
    tyre: float = 110e3
    static_travel: float = 0.16
    bump_contact: float = 0.35
    metal: float = 0.41
    step: float = 2.5e-4
    duty_step: float = 5e-3

    def damper(self, speed: float, duty: float) -> float:
        """Force of either side at a positive speed. [N]"""
        rate, knee = 350.0 + 4150.0 * duty, 200.0 + 1800.0 * duty
        return min(rate * speed, knee + 0.4 * (rate * speed - knee))

    def duty_for(self, speed: float, force: float) -> float:
        """Duty that gives a force at a speed of 0.05 m/s or more, by halving; held to 0..1."""
        low, high = 0.0, 1.0
        for _ in range(20):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.damper(max(speed, 0.05), middle) < force else (low, middle)
        return 0.0 if high < 1e-5 else high

    def net_spring(self, travel: float) -> float:
        """Spring force less what it carries at ride height. [N]"""
        weight = self.sprung * STANDARD_GRAVITY
        return max(self.spring * (travel - self.static_travel), -weight)

    def stops(self, travel: float) -> float:
        """Force of both stops, pushing the body up. [N]"""
        rubber, metal = max(travel - self.bump_contact, 0.0), max(travel - self.metal, 0.0)
        return 60e3 * rubber * (1.0 + 2.0 * (rubber / 0.06) ** 2) + 2e6 * metal + 6e5 * min(travel, 0.0)

    def drop(self, height: float, law: Law, time_after: float = 0.35) -> Landed:
        """Let it fall, hanging free, by `height` of the tyre over the ground; `law` gives new duties every 5 ms from touchdown on."""
        hang = self.static_travel - self.sprung * STANDARD_GRAVITY / self.spring
        speed = -float(np.sqrt(2.0 * STANDARD_GRAVITY * height))
        start = (self.slack + self.static_travel - hang, self.slack, speed, speed)
        path = self.driven(law, np.zeros(round(time_after / self.step)), start)
        stop = max(self.stops(travel) for travel in path["travel"])
        up = np.maximum.accumulate(path["body_speed"]) > 0.0
        off = self.step * float(np.count_nonzero(up & (path["tyre"] <= 0.0)))
        return Landed(float(path["felt"].max()), float(path["travel"].max()), stop, float(path["body_speed"].max()), off)

    @property
    def slack(self) -> float:
        """Height of the wheel over its place at rest at which the tyre just touches. [m]"""
        return (self.sprung + self.unsprung) * STANDARD_GRAVITY / self.tyre

    def driven(self, law: Law, ground: Array, start: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)) -> dict[str, Array]:
        """Travel [m], body's upward speed [m/s], felt force [g] and tyre force [N] over a ground height by step; heights from rest."""
        body, wheel, body_speed, wheel_speed = start
        compression = rebound = 0.5
        rows = np.empty((4, len(ground)))
        for index, height in enumerate(ground):
            travel, shaft = self.static_travel - body + wheel, wheel_speed - body_speed
            if index % round(self.duty_step / self.step) == 0:
                compression, rebound = law(travel, shaft)
            damper = self.damper(shaft, compression) if shaft > 0.0 else -self.damper(-shaft, rebound)
            push = self.net_spring(travel) + self.sprung * STANDARD_GRAVITY + self.stops(travel) + damper
            tyre = self.tyre * max(self.slack + float(height) - wheel, 0.0)
            body_speed += self.step * (push / self.sprung - STANDARD_GRAVITY)
            wheel_speed += self.step * ((tyre - push) / self.unsprung - STANDARD_GRAVITY)
            body += self.step * body_speed
            wheel += self.step * wheel_speed
            rows[:, index] = travel, body_speed, push / self.sprung / STANDARD_GRAVITY, tyre
        return dict(zip(("travel", "body_speed", "felt", "tyre"), rows, strict=True))


@pytest.fixture(scope="session")
def corner() -> DroppedCorner:
    """The dropped corner."""
    return DroppedCorner()
