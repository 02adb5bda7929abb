"""What a tyre makes of the ground under it: it bridges hollows, climbs a ledge before it reaches it, and averages over its patch."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def enveloped(height: Array, step: float, radius: float, patch: float) -> Array:
    """Ground as a wheel feels it: a rigid circle rolls over it, and the path of its lowest point is averaged over the patch.

    height : (n,) array
        Ground height on a uniform grid. [m]
    step, radius, patch : float
        Grid step, radius of the circle, length of the contact patch; 0 leaves out the circle or the average. [m]

    Notes
    -----
    Two simple tyre models of the literature in series: the rigid tread band, held up by the one point that touches, and the
    fixed footprint, an average under a patch of constant length (Captain, Boghani & Wormley, "Analytical tire models for
    dynamic vehicle simulation", Vehicle System Dynamics 8, 1979; what the two models are: from memory). Tyres rolled slowly over
    a cleat also rise ahead of it and for longer than it lasts, as two cams a patch apart would (Zegelaar 1998, Schmeitz 2004;
    from memory).
    Where it is knowingly wrong: a real tyre swallows a stone smaller than its patch that the rigid circle climbs to its full height;
    and only height comes of it, neither the force along the ground nor the shift of the contact point.
    """
    return contact_average(rolled_circle(height, radius, step), patch, step)


def rolled_circle(height: Array, radius: float, step: float) -> Array:
    """Height of the lowest point of a circle that rests on the ground, over the circle's middle; ends are held.

    height : (n,) array
        Ground height on a uniform grid, straight between its points. [m]
    radius, step : float
        Radius of the circle and grid step; a radius of 0 leaves the ground as it is. [m]

    Notes
    -----
    Exact for straight pieces between the points: on a piece of slope s the circle touches radius·s/sqrt(1 + s²) ahead of its
    middle, or at the piece's nearer end; the highest of all touches counts. On an even slope the middle therefore stands
    radius·(sqrt(1 + s²) - 1) higher than over level ground, 2 mm for a radius of 0.36 m and s = 0.1, as on a real slope.
    """
    if radius <= 0:
        return height
    reach = int(np.ceil(radius / step))
    held = np.concatenate((np.full(reach, height[0]), height, np.full(reach, height[-1])))
    slope = np.diff(held) / step
    touch = radius * slope / np.sqrt(1.0 + slope**2)
    highest = height.copy()
    for piece in range(2 * reach):
        start = (piece - reach) * step
        here = slice(piece, piece + len(height))
        ahead = np.clip(touch[here], max(start, -radius), min(start + step, radius))
        np.maximum(highest, held[here] + slope[here] * (ahead - start) + np.sqrt(radius**2 - ahead**2) - radius, out=highest)
    return highest


def contact_average(height: Array, patch: float, step: float) -> Array:
    """Mean height under a contact patch, centred; ends are held.

    height : (n,) array
        Ground height on a uniform grid. [m]
    patch, step : float
        Length of the patch and of the grid step; a patch of 0 leaves the ground as it is. [m]
    """
    reach = int(np.ceil(0.5 * patch / step + 0.5)) - 1
    if reach <= 0:
        return height
    cells = np.arange(-reach, reach + 1)
    weight = np.clip(0.5 * patch / step + 0.5 - np.abs(cells), 0.0, 1.0)
    held = np.concatenate((np.full(reach, height[0]), height, np.full(reach, height[-1])))
    return np.convolve(held, weight / weight.sum(), mode="valid")
