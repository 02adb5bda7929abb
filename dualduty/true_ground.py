"""What the ground under the wheels truly was: its lean, how rough, and where it has a rhythm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.truth_gates import centred_mean

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]

REFERENCE_WAVENUMBER: Final = 0.1  # cycles/m, n0 of ISO 8608
MIDDLE: Final = (3.0, 8.0)  # Hz, between body and wheel hop: there a wheel follows the ground and the body hardly moves
HOP: Final = (8.0, 20.0)  # Hz, where wheels hop
WINDOW: Final = 0.25  # s, long enough for a wave of the middle band, short enough to say where a rough stretch begins
SLOWEST: Final = 2.0  # m/s; below it waves of this band are shorter than a tyre's contact with the ground
_LEVEL: Final = 2e-3  # m
_LEAST_LOADED: Final = 0.2  # share of the window
_ORDER: Final = 2
_LONGEST_WASHBOARD: Final = 1.5  # m; several tens of centimetres: Matsuyama et al., Proc. R. Soc. A 476:20200323, 2020


@dataclass(frozen=True)
class Stretch:
    """A kind of ground and where it lies, by the front axle's distance along the section. [m]"""

    kind: str
    start: float
    end: float


def stretches_of(section: Any) -> tuple[Stretch, ...]:
    """The stretches of a section (`plant.section.Section`) whose ground has a rhythm."""
    placed = [(one.kind, one.start, _length(one.kind, one.piece)) for one in section.ground]
    return tuple(Stretch(kind, start, start + length) for kind, start, length in placed if length > 0.0)


def _length(kind: str, piece: Any) -> float:
    if kind == "corrugation":
        return float(piece.length) if piece.wavelength <= _LONGEST_WASHBOARD else 0.0  # longer waves twist or heave the car
    if kind == "whoops":
        return float(piece.count * piece.pitch)
    return float(piece.count * piece.cycle) if kind == "double_whoops" else 0.0


def on_kind(name: str, kind: str | Sequence[Stretch], distance: Array, ground: Array, wheelbase: float) -> Gate:
    """Where both axles stand on ground of a kind; `double_whoops` are whoops.

    Parameters
    ----------
    name : str
        "whoops" or "corrugation".
    kind : str or sequence of Stretch
        As `truth_states.truth_intervals` takes it.
    distance : (time,) array
        Of the front axle. [m]
    ground : (4, time) array
        Height under each wheel. [m]
    wheelbase : float
        [m]
    """
    gate = np.zeros(len(distance), np.bool_)
    if isinstance(kind, str):
        return _unlevel(ground) if kind in {name, f"double_{name}"} else gate
    for one in kind:
        if one.kind in {name, f"double_{name}"}:
            gate |= (distance - wheelbase >= one.start) & (distance < one.end)
    return gate


def _unlevel(ground: Array) -> Gate:
    """From where the rear wheels first leave the level to where the front wheels last did."""
    uneven = np.abs(ground - ground[:, :1]) > _LEVEL
    front, rear = (np.flatnonzero(uneven[rows].any(axis=0)) for rows in (slice(0, 2), slice(2, 4)))
    gate = np.zeros(ground.shape[1], np.bool_)
    if front.size and rear.size:
        gate[rear[0] : front[-1] + 1] = True
    return gate


def bank(ground: Array, track: float) -> Array:
    """Lean of the ground across the car from (4, time) heights, right side up positive. [rad]"""
    left, right = ground[0] + ground[2], ground[1] + ground[3]
    return np.asarray(np.arctan(0.5 * (right - left) / track))


def roughness(ground: Array, loaded: Gate, speed: Array, dt: float, band: tuple[float, float] = MIDDLE) -> Array:
    """How rough the ground is that the wheels roll over, as the density that ISO 8608 states at 0.1 cycles/m.

    Parameters
    ----------
    ground : (4, time) array
        Height under each wheel. [m]
    loaded : (4, time) array of bool
        Where a wheel stands on it; the rest does not count.
    speed : (time,) array
        [m/s]
    dt : float
        [s]
    band : pair of float
        Frequencies at which the wheels feel it. [Hz]

    Returns
    -------
    (time,) array
        Density at 0.1 cycles/m over a centred quarter of a second. [m³]

    Notes
    -----
    With Gd(n) = Gd(n0)·(n/n0)^-2 the slope of the ground has the constant density (2·pi·n0)²·Gd(n0); driven at v, the ground's vertical
    speed has (2·pi·n0)²·Gd(n0)·v per Hz, whatever the frequency. Its mean square within a band, over v and the band's width, is so
    Gd(n0) by definition, and the same at every speed. ISO 8608:2016, line fit with exponent 2.
    """
    from scipy.signal import butter, sosfiltfilt, sosfreqz

    sos = butter(_ORDER, band, "bandpass", fs=1.0 / dt, output="sos")
    hz, response = sosfreqz(sos, 1 << 14, fs=1.0 / dt)
    width = float(np.sum(np.abs(response) ** 4) * (hz[1] - hz[0]))  # both ways through the filter
    rate = np.where(loaded, np.gradient(ground, dt, axis=1), 0.0)
    square = sosfiltfilt(sos, rate, axis=1, padlen=min(rate.shape[1] - 1, round(1.0 / dt))) ** 2
    share = centred_mean(loaded.mean(axis=0), WINDOW, dt)
    mean = centred_mean(np.asarray((square * loaded).mean(axis=0)), WINDOW, dt) / np.maximum(share, _LEAST_LOADED)
    return np.asarray(mean / (np.maximum(np.abs(speed), SLOWEST) * width * (2.0 * np.pi * REFERENCE_WAVENUMBER) ** 2))
