"""Random ground by ISO 8608: its spectral density falls as a straight line, and its two tracks agree where waves are long."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len
from scipy.special import gamma, kv

from dualduty.parameters import param
from plant.section_file import choice
from plant.shapes import smooth_window

Array = NDArray[np.float64]

REFERENCE_WAVENUMBER: Final = 0.1  # cycles/m, n0 of ISO 8608
CLASS_DENSITY: Final = {letter: 16e-6 * 4.0**index for index, letter in enumerate("ABCDEFGH")}  # m³; ISO 8608, geometric mean of each class


@dataclass(frozen=True)
class RandomRoad:
    """Gaussian ground with Gd(n) = Gd(n0)·(n/n0)^-w, one-sided, between two wavenumbers and nothing outside.

    Notes
    -----
    Level: `road_class` (the geometric mean of an ISO 8608 class) or `density`, exactly one of the two. The band starts
    at 0.05 cycles/m, the lower limit ISO 8608:2016 gives for off-road profiles, and ends at 2.83 cycles/m, the upper end
    of its range for the line fit (secondary source).
    Tracks: each has the density of the class; their coherence is that of an isotropic surface, see `track_coherence`.
    """

    road_class: str = choice("", ("", *CLASS_DENSITY), "class of ISO 8608, its geometric mean")
    density: float = param(0.0, "m³", 0.0, 0.3, "displacement spectral density at 0.1 cycles/m", said="cm³")
    waviness: float = param(2.0, "1", 1.5, 3.0, "exponent w of the density")
    lowest: float = param(0.05, "1/m", 0.005, 1.0, "lower end of the band, cycles per metre")
    highest: float = param(2.83, "1/m", 0.2, 25.0, "upper end of the band, cycles per metre")
    track: float = param(1.5, "m", 0.3, 3.0, "distance between the wheel tracks, which sets their coherence")
    length: float = param(1000.0, "m", 5.0, 1e5, "length of the stretch")
    fade: float = param(3.0, "m", 0.2, 50.0, "length of the smooth fade at both ends")

    def __post_init__(self) -> None:
        if bool(self.road_class) == (self.density > 0):
            raise ValueError("expected either road_class or density_cm3")
        if self.lowest >= self.highest:
            raise ValueError(f"lowest {self.lowest:g} 1/m is not below highest {self.highest:g} 1/m")

    @property
    def density_at_reference(self) -> float:
        """Density at 0.1 cycles/m. [m³]"""
        return CLASS_DENSITY[self.road_class] if self.road_class else self.density

    def density_at(self, wavenumber: Array) -> Array:
        """One-sided spectral density of either track.

        wavenumber : (n,) array
            Above 0. [cycles/m]
        """
        line = self.density_at_reference * (wavenumber / REFERENCE_WAVENUMBER) ** -self.waviness
        return np.where((wavenumber >= self.lowest) & (wavenumber <= self.highest), line, 0.0)

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights: a sum of waves whose sine and cosine parts are independent Gaussian numbers."""
        inside = (along >= 0) & (along <= self.length)
        step = float(along[1] - along[0])
        if self.highest > 0.5 / step:
            raise ValueError(f"highest {self.highest:g} 1/m needs a grid step up to {500 / self.highest:.0f} mm, came {1000 * step:g} mm")
        count = int(inside.sum())
        # one longest wave more than is used: the sum repeats, and its end must not resemble its start
        period = next_fast_len(count + int(np.ceil(1.0 / (self.lowest * step))), real=True)
        wavenumber = np.arange(1, period // 2 + 1) / (period * step)
        size = np.sqrt(self.density_at(wavenumber) / (period * step))
        shared = track_coherence(wavenumber * self.track, self.waviness)
        left = size * _gaussian(random, len(size))
        right = shared * left + np.sqrt(1.0 - shared**2) * size * _gaussian(random, len(size))
        window = smooth_window(along[inside], self.length, self.fade)
        return _placed(left, period, inside, window), _placed(right, period, inside, window)


def track_coherence(waves_across: Array, waviness: float) -> Array:
    """Coherence (not squared; real, no phase) of two parallel tracks of an isotropic surface.

    waves_across : (n,) array
        Wavenumber times distance between the tracks. [cycles]

    Notes
    -----
    gamma(x) = 2/Gamma(w/2) · (x/2)^(w/2) · K_(w/2)(x), x = 2·pi·n·track; x·K1(x) for w = 2. It follows from the cosine transform across
    the travel direction of a plane density proportional to |n|^-(w+1) (Basset's integral). Isotropy of road surfaces:
    Kamash & Robson, "The application of isotropy in road surface modelling", J. Sound Vib. 57, 1978. It is an assumption:
    measured pavements fit other curves better, loose ground has hardly been measured.
    """
    order = 0.5 * waviness
    x = 2.0 * np.pi * waves_across
    with np.errstate(invalid="ignore"):
        shape = 2.0 / gamma(order) * (0.5 * x) ** order * kv(order, x)
    return np.clip(np.where(x > 0, shape, 1.0), 0.0, 1.0)


def _gaussian(random: np.random.Generator, count: int) -> NDArray[np.complex128]:
    parts = random.standard_normal((2, count))
    waves: NDArray[np.complex128] = parts[0] - 1j * parts[1]
    return waves


def _placed(waves: NDArray[np.complex128], period: int, inside: NDArray[np.bool_], window: Array) -> Array:
    heights = np.zeros(len(inside))
    spectrum = np.concatenate(([0.0], 0.5 * period * waves))
    heights[inside] = irfft(spectrum, period)[: len(window)] * window
    return heights
