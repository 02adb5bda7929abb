"""Smooth shapes over distance from which grounds and driving are made."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def smooth_step(share: Array) -> Array:
    """Raised-cosine step: 0 below 0, 1 above 1, level at both ends; its steepest slope is pi/2."""
    return 0.5 - 0.5 * np.cos(np.pi * np.clip(share, 0.0, 1.0))


def smooth_window(along: Array, length: float, fade: float) -> Array:
    """1 inside `length`, 0 outside, with raised-cosine fades inside both ends.

    along : (n,) array
        Distance from the start of the stretch. [m]
    """
    return smooth_step(along / fade) * smooth_step((length - along) / fade)


def smooth_plateau(along: Array, rise: float, level: float, fall: float) -> Array:
    """0, a half cosine up to 1, a level, a half cosine down to 0; its bend where rise or fall meet the level is pi²/2 / length².

    along : (n,) array
        Distance from the start of the rise. [m]
    rise, level, fall : float
        Lengths of the three parts. [m]
    """
    return smooth_step(along / rise) * smooth_step((rise + level + fall - along) / fall)


def mound(share: Array) -> Array:
    """Raised cosine: 0 up to 0, 1 at one half, 0 from 1 on; its steepest slope is pi."""
    return 0.5 * (1.0 - np.cos(2.0 * np.pi * np.clip(share, 0.0, 1.0)))


def on_side(shape: Array, side: str) -> tuple[Array, Array]:
    """Left and right track of a shape that lies under `both` wheels or under the one named."""
    level = np.zeros_like(shape)
    return (level if side == "right" else shape), (level.copy() if side == "left" else shape.copy())


def banked(angle: Array, track: float) -> tuple[Array, Array]:
    """Left and right track of ground turned about the centre line, right side up positive.

    angle : (n,) array
        [rad]
    track : float
        Distance between the tracks. [m]
    """
    half = 0.5 * track * np.tan(angle)
    return -half, half


def check_carried(what: str, length: float, along: Array, steps: int) -> None:
    """ValueError where a length is shorter than so many grid steps, since the grid would make something else of it."""
    step = float(along[1] - along[0])
    if length < steps * step * (1.0 - 1e-9):  # the grid's own rounding
        grid = f"{steps} grid steps" if steps > 1 else "a grid step"
        raise ValueError(f"{what} {1e3 * length:g} mm is shorter than {grid} of {1e3 * step:g} mm; lengthen it or make step_mm finer")


def trapezoid(along: Array, rise: float, level: float, fall: float) -> Array:
    """0, a straight rise to 1, a level, a straight fall to 0.

    along : (n,) array
        Distance from the start of the rise. [m]
    rise, level, fall : float
        Lengths of the three parts. [m]
    """
    return np.interp(along, np.cumsum([0.0, rise, level, fall]), [0.0, 1.0, 1.0, 0.0])


def rounded_ramp(along: Array, length: float, foot: float) -> Array:
    """Ramp from 0 to 1 over `length` whose slope grows evenly from 0 over the first `foot` metres; held after.

    along : (n,) array
        Distance from the foot of the ramp. [m]
    """
    x = np.clip(along, 0.0, length)
    slope = 1.0 / (length - 0.5 * foot)
    curved = np.minimum(x, foot)
    return slope * (x - curved) + (0.5 * slope * curved * curved / foot if foot else 0.0)
