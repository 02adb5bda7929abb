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
        """Let it fall, hanging free, by `height` of the tyre over the ground; `law` gives new duties every 5 ms from then on."""
        weight = (self.sprung + self.unsprung) * STANDARD_GRAVITY
        hang = self.static_travel - self.sprung * STANDARD_GRAVITY / self.spring
        speed = -float(np.sqrt(2.0 * STANDARD_GRAVITY * height))
        wheel, wheel_speed, body_speed = weight / self.tyre, speed, speed
        body = wheel + self.static_travel - hang
        peak = deepest = stop = rise = off = 0.0
        compression = rebound = 0.5
        for index in range(round(time_after / self.step)):
            travel, shaft = self.static_travel - body + wheel, wheel_speed - body_speed
            if index % round(self.duty_step / self.step) == 0:
                compression, rebound = law(travel, shaft)
            damper = self.damper(shaft, compression) if shaft > 0.0 else -self.damper(-shaft, rebound)
            push = self.net_spring(travel) + self.sprung * STANDARD_GRAVITY + self.stops(travel) + damper
            tyre = max(weight - self.tyre * wheel, 0.0)
            body_speed += self.step * (push / self.sprung - STANDARD_GRAVITY)
            wheel_speed += self.step * ((tyre - push) / self.unsprung - STANDARD_GRAVITY)
            body += self.step * body_speed
            wheel += self.step * wheel_speed
            peak, deepest = max(peak, push / self.sprung / STANDARD_GRAVITY), max(deepest, travel)
            stop, rise = max(stop, self.stops(travel)), max(rise, body_speed)
            off += self.step * float(tyre <= 0.0 and rise > 0.0)
        return Landed(peak, deepest, stop, rise, off)


@pytest.fixture(scope="session")
def corner() -> DroppedCorner:
    """The dropped corner."""
    return DroppedCorner()
