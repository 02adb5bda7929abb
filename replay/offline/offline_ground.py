"""What the ground under a recorded drive was like, told afterwards from spectra in windows centred on each moment."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.true_ground import HOP, MIDDLE, roughness
from dualduty.truth_gates import after, bridged, kept, stretches
from dualduty.truth_states import Limits
from replay.offline.offline_scene import LIGHT, Body, Scene

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]

WHOOPS_BAND: Final = (0.8, 3.2)  # Hz, at which mounds of some metres are met; as docs/states.md has it
WHOOPS_SWING: Final = 0.3  # of the stroke, peak to peak; likewise
STROKE: Final = 0.28  # m; where no vehicle is known, usual of long-travel dampers (common practice)
WAVES: Final = (0.3, 1.5)  # m, washboard: several tens of centimetres (Matsuyama et al., Proc. R. Soc. A 476:20200323, 2020)
WAVES_BAND: Final = (5.0, 25.0)  # Hz; ours: above the body, below what a travel sensor at 100 Hz still shows
WAVES_ALIKE: Final = 0.6  # correlation; ours: a hopping wheel has forgotten its movement after three cycles, washboard hasn't
WAVES_SWING: Final = 1.0e-3  # m, r.m.s. of the shaft travel; ours: less is felt by nobody
STRETCH: Final = 6.0  # m, over which waves are held against each other
GRID: Final = 0.03  # m
HALF_CYCLES: Final = 4  # two mounds, as docs/states.md has it
FOLLOWS: Final = 1.55  # density that the wheels show over the ground's own in the middle band: median of 24 simulated sections
_EVEN: Final = 0.4  # smallest over largest swing of a row of mounds; a landing rings down faster
_SLOWEST_WHOOPS: Final = 3.0  # m/s; slower mounds are crossed one by one
_SLOWEST: Final = 2.0  # m/s
_CREEP: Final = 0.01  # m/s; so that the way rises also where the car stands
_SLOW: Final = (1.2, 2.4)  # Hz, below the middle band
_MIRRORED: Final = 3.0  # s


def ground_heights(scene: Scene) -> Array:
    """How each wheel moved up and down in the bands where it follows the ground, (4, time). [m]

    The body's movement above a wheel is its acceleration integrated twice and the turning of the car integrated once, which is exact
    but for what is slow; slow parts are taken out. The wheel's own is added from the shaft travel.
    """
    ratio = Body.of(scene.car).motion_ratio[:, None]
    rise = np.broadcast_to(_integrated(scene.row("specific_force_z"), 2, scene.dt), (4, scene.samples))
    if scene.car is not None and scene.has("pitch_rate", "roll_rate"):
        pitch, roll = (_integrated(scene.row(name), 1, scene.dt) for name in ("pitch_rate", "roll_rate"))
        rise = rise - scene.car.arm.reshape(4, 1) * pitch + np.ravel(scene.car.side).reshape(4, 1) * roll
    wheel = _integrated(scene.signals["shaft_travel"] / ratio, 0, scene.dt)
    return np.asarray(rise + wheel)


def _integrated(values: Array, times: int, dt: float) -> Array:
    """Integral over time without what is slower than the bands, mirrored at both ends; along the last axis."""
    margin = min(round(_MIRRORED / dt), values.shape[-1] - 1)
    longer = np.pad(values, [*[(0, 0)] * (values.ndim - 1), (margin, margin)], mode="reflect")
    hz = np.fft.rfftfreq(longer.shape[-1], dt)
    passed = np.sin(0.5 * np.pi * np.clip((hz - _SLOW[0]) / (_SLOW[1] - _SLOW[0]), 0.0, 1.0)) ** 2
    weight = passed / (2.0j * np.pi * np.where(hz > 0.0, hz, 1.0)) ** times
    made = np.fft.irfft(np.fft.rfft(longer) * weight, longer.shape[-1])
    return np.asarray(made[..., margin : margin + values.shape[-1]])


def rough_ground(scene: Scene, limits: Limits) -> Gate:
    """ISO 8608 density in the middle band at or above the limit."""
    middle = _density(scene, MIDDLE, limits)
    return _lasting((middle >= limits.rough) & (scene.speed > limits.walking), scene, limits)


def smooth_ground(scene: Scene, limits: Limits) -> Gate:
    """At most so much in both bands."""
    both = np.maximum(_density(scene, MIDDLE, limits), _density(scene, HOP, limits))
    return _lasting((both <= limits.smooth) & (scene.speed > limits.walking), scene, limits)


def _density(scene: Scene, band: tuple[float, float], limits: Limits) -> Array:
    top = min(band[1], 0.45 / scene.dt)
    if band[0] >= top or scene.samples < 2:  # noqa: PLR2004 - too slow a log tells neither rough nor smooth
        return np.full(scene.samples, np.nan)
    light = scene.load < LIGHT
    loaded = ~(light | after(kept(light, limits.least_flight, scene.dt), 0.0, limits.landing_lasts, scene.dt))
    density = roughness(ground_heights(scene), np.broadcast_to(loaded, (4, scene.samples)), scene.speed, scene.dt, (band[0], top))
    return np.asarray(density / FOLLOWS if band == MIDDLE else density)


def _lasting(gate: Gate, scene: Scene, limits: Limits) -> Gate:
    return kept(bridged(gate, limits.ground_pause, scene.dt), limits.least_ground, scene.dt)


def whoops(scene: Scene) -> Gate:
    """Front and rear both work evenly, by a large share of the stroke, for two mounds or more."""
    stroke = STROKE if scene.car is None else float(np.mean(scene.car.stroke))
    gates = []
    for rows in (slice(0, 2), slice(2, 4)):
        travel = scene.band(scene.signals["shaft_travel"][rows].mean(axis=0), *WHOOPS_BAND)
        gates.append(_rhythm(travel, WHOOPS_SWING * stroke))
    moving = scene.speed > _SLOWEST_WHOOPS
    return kept(bridged(gates[0] & gates[1] & moving, 0.3, scene.dt), 0.5, scene.dt)


def _rhythm(values: Array, swing: float) -> Gate:
    """Where half cycles in a row, at least `HALF_CYCLES`, all swing by so much and by about the same."""
    turns = np.flatnonzero(np.diff(np.signbit(np.diff(values)))) + 1
    gate = np.zeros(len(values), dtype=bool)
    swings = np.abs(np.diff(values[turns]))
    for first, last in stretches(swings >= swing):
        here = swings[first:last]
        if last - first >= HALF_CYCLES and here.min() >= _EVEN * here.max():
            gate[turns[first] : turns[last]] = True
    return gate


def corrugation(scene: Scene) -> Gate:
    """Along the way, the front wheels do the same again one, two and three wavelengths later, and that wavelength is washboard's."""
    way = np.concatenate([[0.0], np.cumsum(np.maximum(scene.speed[1:], _CREEP) * scene.dt)])
    grid = np.arange(0.0, way[-1], GRID)
    waves = round(WAVES[1] / GRID)
    if scene.dt > 0.5 / WAVES_BAND[1] or len(grid) < 8 * waves:
        return np.zeros(scene.samples, dtype=bool)
    front = scene.band(scene.signals["shaft_travel"][:2].mean(axis=0), *WAVES_BAND)
    along = np.interp(grid, way, front)
    strong = _running_mean(along**2) >= WAVES_SWING**2
    if not strong.any():
        return np.zeros(scene.samples, dtype=bool)
    again = np.full(len(grid), -1.0)
    for lag in range(round(WAVES[0] / GRID), waves + 1):
        np.maximum(again, _again(along, lag), out=again)
    gate = np.interp(way, grid, ((again >= WAVES_ALIKE) & strong).astype(float)) > 0.5  # noqa: PLR2004 - back to time
    return kept(bridged(gate & (scene.speed > _SLOWEST), 0.5, scene.dt), 1.0, scene.dt)


def _again(along: Array, lag: int) -> Array:
    """Least correlation with itself one, two and three lags away, both ways, over a stretch centred on each place."""
    power = np.maximum(_running_mean(along**2), 0.0)  # a running sum rounds
    least = np.ones(len(along))
    for times in (1, 2, 3):
        shift = times * lag
        product = _running_mean(along[shift:] * along[:-shift])
        size = np.sqrt(power[shift:] * power[:-shift]) + 1e-12
        alike = np.interp(np.arange(len(along)), np.arange(len(product)) + 0.5 * shift, product / size)
        least = np.minimum(least, alike)
    return least


def _running_mean(along: Array) -> Array:
    """Mean over the stretch centred on each place."""
    from scipy.ndimage import uniform_filter1d

    return np.asarray(uniform_filter1d(along, round(STRETCH / GRID) | 1, mode="nearest"))
