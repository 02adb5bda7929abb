"""Where a travel channel that runs the wrong way reads full extension: from flights, else from the other side of its axle."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from replay.health.motion import flights
from replay.health.slow_copy import SlowMotion
from replay.health.travel_identity import TravelIdentity

Array = NDArray[np.float64]
OUT: Final = 0.9  # quantile within flights: a shaft needs most of a flight to come out


def zeros_of_turned(motion: SlowMotion, identity: TravelIdentity | None, hang_travel: Array | None) -> Array:
    """What to take a turned channel's value from so that it is right, (4,), NaN for the others. [m]

    hang_travel : (4,) array or None
        Travel of each corner hanging free in flight; 0 where it isn't known. [m]
    """
    zeros = np.full(4, np.nan)
    if identity is None:
        return zeros
    travels = motion.corners("shaft_travel")
    flown = [np.arange(*flight) for flight in flights(motion)]
    inside = np.concatenate(flown) if flown else np.empty(0, dtype=np.intp)
    means = np.array([np.mean(row[np.isfinite(row)]) if np.isfinite(row).any() else np.nan for row in travels])
    for channel in np.flatnonzero(np.array(identity.sign) < 0.0).tolist():
        at = travels[channel, inside]
        if np.isfinite(at).any():
            hang = 0.0 if hang_travel is None else float(hang_travel[identity.corner[channel]])
            zeros[channel] = float(np.quantile(at[np.isfinite(at)], OUT)) + hang
        elif identity.sign[channel ^ 1] > 0.0:
            zeros[channel] = float(means[channel] + means[channel ^ 1])
    return zeros
