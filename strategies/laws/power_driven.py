"""Power-driven: the damper takes back what the spring pushes, whenever it can."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class PowerDriven:
    """Wanted force = net spring force, against it: rebound while the spring pushes the body up, compression while it lets it fall.

    Notes
    -----
    One-valve form (PDD), with zd the extension from static: c = c_min if k zd v + c_min v^2 >= 0; c_max if k zd v + c_max v^2 < 0;
    -k zd / v between. Two-valve form: F_rebound = max(-k zd, 0), F_compression = max(k zd, 0); c_min and c_max are the limits of the
    damper map. No body acceleration and no sign of the shaft speed is needed. It is `AccelerationDriven` slid along z'' = 0,
    without the chatter, and it stands a slow valve (20 to 40 ms).

    Needs the spring force less its static value: a wrong ride height biases it for good. Not at the body resonance, which it
    leaves undamped: put a skyhook in the same layer (`join = "max"`). Not near the stops.

    References
    ----------
    R. Morselli, R. Zanasi, Control of port Hamiltonian systems by dissipative devices and its application to improve the
    semi-active suspension behaviour, Mechatronics 18 (2008) 364-369 (citation and formula from memory). The limit case of
    relative-motion balance: Alanoly and Sankar 1987 (abstract read).
    """

    spring_share: float = param(0.8, "1", 0.0, 1.5, "share of the net spring force taken back", said="pct", by_corner=True)

    returns = "Force"

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Force of both sides. [N]"""
        for corner in range(4):
            push = self.spring_share[corner] * now.net_spring_force[corner]
            out.compression[corner] = max(-push, 0.0)
            out.rebound[corner] = max(push, 0.0)
