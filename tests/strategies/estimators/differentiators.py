"""Causal differentiators to compare the shipped one with, and what is measured of each: noise, lag, loss, error on the lane."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from tests.strategies.estimators.lane import DT, Driven, plug_in, run, spread

Array = NDArray[np.float64]
Differentiator = Callable[[Array], Array]  # (any, time) travel -> speed

NOISE: Final = 0.3e-3  # m, of plant.sensors.TYPICAL["shaft_travel"], as its grid
GRID: Final = 0.1e-3


def difference(lags: int, hz: float) -> Differentiator:
    """The difference of two samples, smoothed by equal first-order lags one after the other."""
    share = -np.expm1(-2.0 * np.pi * hz * DT)

    def speed(travel: Array) -> Array:
        rate = np.diff(travel, axis=-1, prepend=travel[..., :1]) / DT
        for _ in range(lags):
            rate = lfilter([share], [1.0, share - 1.0], rate, axis=-1)
        return rate

    return speed


def slope(samples: int) -> Differentiator:
    """Slope of the least-squares line through the last samples."""
    weights = (samples - 1) / 2.0 - np.arange(samples)
    weights /= (weights**2).sum() * DT

    def speed(travel: Array) -> Array:
        rate = lfilter(weights, [1.0], travel, axis=-1)
        rate[..., : samples - 1] = 0.0
        return rate

    return speed


def tracking(hz: float) -> Differentiator:
    """The shipped filter, another corner frequency."""

    def speed(travel: Array) -> Array:
        rows = travel.reshape(-1, travel.shape[-1])
        ticks = rows.shape[1]
        found = run(plug_in("ShaftSpeed", corner_hz=hz), spread(ticks, shaft_travel=np.repeat(rows[:, :, None], 1, axis=2)))["shaft_speed"]
        return found[:, :, 0].reshape(travel.shape)  # type: ignore[no-any-return]

    return speed


@dataclass(frozen=True)
class Measured:
    """Noise at rest [m/s r.m.s.], lag at low frequency [ms], share of a 20 Hz motion left, mean error on the lane [m/s r.m.s.]."""

    noise: float
    lag: float
    left: float
    error: float


def measured(of: Differentiator, driven: Driven, sections: tuple[str, ...]) -> Measured:
    """All that is compared."""
    random = np.random.default_rng(7)
    still = np.round((0.1 + NOISE * random.standard_normal((4, 50_000))) / GRID) * GRID
    time = np.arange(3000) * DT
    quickening = np.broadcast_to(0.5 * time**2, (4, 3000))
    moving = np.broadcast_to(np.sin(2 * np.pi * 20.0 * time) / (2 * np.pi * 20.0), (4, 3000))
    return Measured(
        noise=float(of(still)[:, 100:].std()),
        lag=float((time - of(quickening))[:, 1500:].mean() * 1e3),
        left=float(np.sqrt(2.0 * (of(moving)[:, 1500:] ** 2).mean())),
        error=float(np.mean([_error(of, driven, section) for section in sections])),
    )


def _error(of: Differentiator, driven: Driven, section: str) -> float:
    travel, true = (driven.cut(array, section) for array in (driven.signals["shaft_travel"], driven.truth["true_shaft_speed"]))
    return float(np.sqrt(((of(travel) - true) ** 2).mean()))


# All at a lag of 4 ms, the fastest the sensor's noise allows for damping forces: 40 Hz was what shipped before.
AT_4_MS: Final[dict[str, Differentiator]] = {
    "difference, one lag of 40 Hz": difference(1, 40.5),
    "difference, two lags of 67 Hz": difference(2, 67.3),
    "least-squares slope, 5 samples": slope(5),
    "tracking filter, 46 Hz": tracking(46.0),
}
OTHERS: Final[dict[str, Differentiator]] = {
    "difference, one lag of 25 Hz": difference(1, 25.0),
    "least-squares slope, 7 samples": slope(7),
    "tracking filter, 30 Hz": tracking(30.0),
    "tracking filter, 60 Hz": tracking(60.0),
}
ROUGH: Final = ("kicker_jump", "whoops", "corrugation", "iso_road")
