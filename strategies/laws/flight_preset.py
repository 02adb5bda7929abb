"""Flight preset: stand ready for the ground, as firm as the landing that is coming."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import keep_while
from dualduty.each_tick import each_tick
from dualduty.lookup import Curve
from dualduty.parameters import Axis, curve, param


@each_tick
@dataclass(frozen=True)
class FlightPreset:
    """Compression read off a curve over the predicted landing speed, so that a small hop isn't met full firm; a fixed rebound.

    Use with `set`, when airborne_likely or airborne. What counts is the duty reached before touchdown: with a valve that
    takes 20 ms, a hop of 80 ms leaves little time, so let the pre-arm open it. The last prediction of a flight is kept
    after it, so that the demand stands while the layer fades out.

    Not for crests where the wheels only go light: hold it back there by the delay of the pre-arm or by a fade-in. Not with
    much rebound: a wheel that can't extend in the air has less travel left to land on.

    Notes
    -----
    A constant duty is right for one height only: on a nonlinear corner the softest landings from 0.3, 0.6, 1.0 and 1.8 m wanted
    50, 55, 65 and 100 % compression (computed, not measured on a vehicle; docs/event_laws.md), and the default curve follows
    that, less firm for small hops. Closing speed of a drop from h: sqrt(2 g h).
    """

    compression: Curve = curve(
        Axis("landing_speed", "m/s", "m/s"), (1.0, 2.5, 4.5, 6.0), (0.25, 0.4, 0.7, 0.9), "1", 0.0, 1.0,
        "compression duty over predicted landing speed", said="pct", by_corner=True,
    )  # fmt: skip
    rebound: float = param(0.35, "1", 0.0, 1.0, "rebound duty in flight", said="pct", by_corner=True)

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty of both sides."""
        landed = 1.0 - max(now.airborne_likely, now.airborne)
        speed = keep_while(memory.speed, now.landing_speed, landed)
        for corner in range(4):
            out.compression[corner] = self.compression[corner](speed)
            out.rebound[corner] = self.rebound[corner]
