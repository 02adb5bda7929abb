"""Roll of the body against its wheels, from the four shaft travels."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def suspension_roll(travel: Array, motion_ratio: ArrayLike, static_travel: ArrayLike, half_track: ArrayLike) -> Array:
    """Suspension roll, right side down positive: mean of the front and the rear axle.

    travel : (4, sample, case) array
        Shaft travel. [m]
    motion_ratio : (4,) array
        Shaft travel per wheel travel. [1]
    static_travel : (4,) array
        Shaft travel at ride height. [m]
    half_track : (4,) array
        Distance of the wheel from the centre line. [m]

    Returns
    -------
    (1, sample, case) array
        Small angle: difference of wheel travels over track. [rad]
    """
    ratio, static, half = (np.broadcast_to(np.asarray(entry, dtype=float), 4) for entry in (motion_ratio, static_travel, half_track))
    sunk = (travel - static[:, None, None]) / ratio[:, None, None]
    front = (sunk[1:2] - sunk[0:1]) / (half[0] + half[1])
    rear = (sunk[3:4] - sunk[2:3]) / (half[2] + half[3])
    return np.asarray(0.5 * (front + rear))
