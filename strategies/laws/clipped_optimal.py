"""Clipped optimal control: what a linear-quadratic regulator would push, as far as a damper can give it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.each_tick import each_tick
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY

Array = NDArray[np.float64]


@each_tick
@dataclass(frozen=True)
class ClippedOptimal:
    """Weighs body acceleration, suspension travel and tyre deflection; each corner is a quarter car of its own.

    Notes
    -----
    Quarter car at the wheel, states x = (zd, z', zt - zr, zt'), force u on the body (up): M z'' = -k zd + u,
    m zt'' = k zd - u - kt (zt - zr), ground speed unknown (white). u = -K x is the regulator of the sum over the ticks of
    z''^2 + zd^2 / d^2 + (zt - zr)^2 / e^2, its gain worked out once per calibration at the tick's step; d and e are the travel and the
    tyre deflection that weigh as much as 1 m/s^2. Then F_compression = max(u, 0), F_rebound = max(-u, 0), over motion ratio at
    the shaft; the damper map clips the rest.

    Clipping is not optimal (Tseng and Hedrick 1994, from memory); it is what a predictive controller with a horizon of one step
    does (Giorgetti, Bemporad, Tseng and Hrovat 2006, abstract read). What clipping keeps of the gain over the best fixed
    setting is about half when comfort counts, nearly all when grip counts. Needs the full state: where the tyre's force
    is not estimated well, take a hook law. Masses and rates are the nominal car's; other payloads need other numbers.

    References
    ----------
    D. Hrovat, D. L. Margolis, M. Hubbard, ASME Journal of Dynamic Systems, Measurement and Control 110 (1988) 288 (abstract read).
    H. E. Tseng, J. K. Hedrick, Vehicle System Dynamics 23 (1994) 545 (from memory). N. Giorgetti, A. Bemporad, H. E. Tseng,
    D. Hrovat, International Journal of Control 79 (2006) 521-533 (abstract read).
    """

    equal_travel: float = param(0.03, "m", 0.003, 1.0, "suspension travel that weighs as much as 1 m/s² of body acceleration", said="mm")
    equal_tyre: float = param(0.01, "m", 0.001, 0.3, "tyre deflection that weighs as much as 1 m/s² of body acceleration", said="mm")
    wheel_rate: float = param(16e3, "N/m", 2e3, 2e5, "suspension rate at the wheel", said="N/mm", by_corner=True)
    tyre_rate: float = param(110e3, "N/m", 3e4, 1e6, "tyre rate", said="N/mm", by_corner=True)
    static_wheel_load: float = param(
        2300.0, "N", 100.0, 50000.0, "wheel load standing at ride height", by_corner=True, from_car="static_wheel_load"
    )
    unsprung_mass: float = param(38.0, "kg", 5.0, 300.0, "unsprung mass", by_corner=True, from_car="unsprung_mass")
    static_travel: float = param(0.1, "m", 0.0, 1.0, "shaft travel at ride height", said="mm", by_corner=True, from_car="static_travel")
    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")

    returns = "Force"

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shaft force per travel [N/m], body speed [N·s/m], tyre force [1] and wheel speed [N·s/m]."""
        sprung = np.maximum(self.static_wheel_load / STANDARD_GRAVITY - self.unsprung_mass, 0.5 * self.unsprung_mass)
        each = (sprung, self.unsprung_mass, self.wheel_rate, self.tyre_rate, self.equal_travel, self.equal_tyre)
        travel, body, tyre, wheel = _gains_of_all(each, dt) / self.motion_ratio
        return {
            "per_travel": -travel / self.motion_ratio,  # shaft travel counts in compression
            "per_body": body,
            "per_tyre": -tyre / self.tyre_rate,  # a tyre pressed in is a negative deflection
            "per_wheel": wheel,
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Force of both sides. [N]"""
        for corner in range(4):
            down = self.per_travel[corner] * (now.shaft_travel[corner] - self.static_travel[corner])
            down += self.per_body[corner] * now.corner_speed[corner] + self.per_wheel[corner] * now.hub_speed[corner]
            down += self.per_tyre[corner] * (now.tyre_force[corner] - self.static_wheel_load[corner])
            out.compression[corner] = max(-down, 0.0)
            out.rebound[corner] = max(down, 0.0)


def _gains_of_all(each: tuple[Any, ...], dt: float) -> Array:
    """Gains (4, corner, 1, case) of quarter cars given by six numbers, each a float or an array by corner and case."""
    spread = np.broadcast_arrays(*each, np.zeros((1, 1, 1)))[:-1]
    table = np.stack([array.ravel() for array in spread])
    gains = np.array([_gains(*(float(value) for value in column), dt) for column in table.T])
    return np.ascontiguousarray(gains.T).reshape(-1, *spread[0].shape)


@lru_cache(maxsize=4096)
def _gains(*numbers: float) -> tuple[float, ...]:
    """K of u = -K x for one quarter car, sampled: sprung and unsprung mass, rates, the two equal deflections, step."""
    from scipy.linalg import expm, solve_discrete_are

    sprung, unsprung, rate, tyre, travel, deflection, dt = numbers
    body = np.array([-rate / sprung, 0.0, 0.0, 0.0])
    flow = np.zeros((5, 5))  # states, and the force held over the step
    flow[0, 1], flow[0, 3], flow[2, 3] = 1.0, -1.0, 1.0
    flow[1, :4], flow[1, 4] = body, 1.0 / sprung
    flow[3] = [rate / unsprung, 0.0, -tyre / unsprung, 0.0, -1.0 / unsprung]
    step = expm(flow * dt)
    a, b = step[:4, :4], step[:4, 4:]
    q = np.outer(body, body) + np.diag([travel**-2.0, 0.0, deflection**-2.0, 0.0])
    r, s = np.array([[sprung**-2.0]]), body[:, None] / sprung
    p = solve_discrete_are(a, b, q, r, s=s)
    k = np.linalg.solve(r + b.T @ p @ b, b.T @ p @ a + s.T)
    return tuple(float(value) for value in k[0])
