"""Modal skyhook: heave, roll and pitch of the body braked each with a damping of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class ModalSkyhook:
    """Wanted moments against roll and pitch and a wanted force against heave, shared out to the corners at least force.

    Notes
    -----
    W = -(c_heave z', c_roll phi', c_pitch theta') at the centre of gravity; corner forces f = G (G'G)^-1 W with the rows of G
    (1, y_i, -x_i): the smallest forces that make W, none of them in twist. f > 0 pushes the body up: compression; f < 0:
    rebound. A corner that can't give its part (its shaft moves the other way) gives nothing: nobody makes up for it. Shaft force is
    wheel force over motion ratio. A corner skyhook c is c_heave = 4 c, c_roll = c sum(y^2), c_pitch = c sum(x^2).

    Its worth is calibration: roll, pitch and heave apart. On a symmetric cost it is no better than a corner skyhook of the same
    damping (within some per cent, see `docs/laws.md`). Not for roll from steering: add floors (`RollHold`), since a
    rate alone comes late. Not over corrugation.

    References
    ----------
    Rigid-body kinematics and the least-norm solution of an underdetermined linear system (closed form); skyhook: Karnopp,
    Crosby and Harwood 1974 (citation from memory).
    """

    heave_damping: float = param(6000.0, "N·s/m", 0.0, 80000.0, "damping of the body's vertical speed, all four wheels together")
    roll_damping: float = param(3500.0, "N·m·s/rad", 0.0, 80000.0, "damping of the body's roll rate")
    pitch_damping: float = param(9000.0, "N·m·s/rad", 0.0, 200000.0, "damping of the body's pitch rate")
    wheelbase: float = param(2.7, "m", 1.0, 5.0, "wheelbase", said="mm", from_car="wheelbase")
    front_arm: float = param(1.35, "m", 0.1, 4.0, "centre of gravity of the sprung mass to the front axle", said="mm", from_car="front_arm")
    half_track: float = param(0.75, "m", 0.3, 1.5, "half the track", said="mm", by_corner=True, from_car="half_track")
    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")

    returns = "Force"

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shaft force per modal speed at each corner: the columns of G (G'G)^-1, times damping, over motion ratio."""
        y = self.half_track * np.reshape([1.0, -1.0, 1.0, -1.0], (4, 1, 1))
        g = self.wheelbase * np.reshape([0.0, 0.0, 1.0, 1.0], (4, 1, 1)) - self.front_arm  # -x
        a, b, c, d, e, f = 4.0, _sum(y), _sum(g), _sum(y * y), _sum(y * g), _sum(g * g)  # G'G, upper triangle by rows
        aa, ab, ac, bb, bc, cc = d * f - e * e, c * e - b * f, b * e - c * d, a * f - c * c, b * c - a * e, a * d - b * b  # adjugate
        scale = 1.0 / ((a * aa + b * ab + c * ac) * self.motion_ratio)
        return {
            "per_heave": self.heave_damping * scale * (aa + ab * y + ac * g),
            "per_roll": self.roll_damping * scale * (ab + bb * y + bc * g),
            "per_pitch": self.pitch_damping * scale * (ac + bc * y + cc * g),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Force of both sides. [N]"""
        for corner in range(4):
            up = self.per_roll[corner] * now.net_roll_rate + self.per_pitch[corner] * now.net_pitch_rate
            up += self.per_heave[corner] * now.heave_speed
            out.compression[corner] = max(-up, 0.0)
            out.rebound[corner] = max(up, 0.0)


def _sum(corners: Any) -> Any:
    """Over the four corners, left and right first, so that a mirrored car gives the same bits."""
    return (corners[0:1] + corners[1:2]) + (corners[2:3] + corners[3:4])
