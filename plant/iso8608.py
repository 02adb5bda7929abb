"""Roughness of a profile by ISO 8608: its smoothed spectrum, the straight line through it, and the class."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import psi

from dualduty.errors import BadInput
from plant.profile_file import read_profile
from plant.resample import resampled
from plant.terrain.random_road import CLASS_DENSITY, REFERENCE_WAVENUMBER

Array = NDArray[np.float64]

# From memory of ISO 8608: the range of the line fit (also in a secondary source), and how wide the bands of the smoothing are below
# which wavenumber: octaves, third octaves, twelfth octaves
LOWEST: Final = 0.011  # cycles/m
HIGHEST: Final = 2.83  # cycles/m
_BANDS: Final = ((0.0, 1), (0.03, 3), (0.25, 12))  # cycles/m from which, bands per octave
_HANN_BINS: Final = 1.5  # noise bandwidth of a Hann window in bins, Harris 1978
_FILE_STEP: Final = 0.05  # m, the grid on which a file's profile is fitted, good for 8 cycles/m
_FEWEST: Final = 5  # bands through which a line is still a line


@dataclass(frozen=True)
class Roughness:
    """Line Gd(n) = density · (n/0.1 cycles/m)^-waviness through a smoothed spectrum.

    density : float
        The line at 0.1 cycles/m, Gd(n0). [m³]
    waviness : float
        Exponent w. [1]
    road_class : str
        A to H by the density.
    lowest, highest : float
        Edges of the bands used. [cycles/m]
    """

    density: float
    waviness: float
    road_class: str
    lowest: float
    highest: float


def road_class(density: float) -> str:
    """Class of ISO 8608 by Gd(n0) [m³]: each ends at twice its geometric mean, where the next begins."""
    letters = list(CLASS_DENSITY)
    above = np.log(density / CLASS_DENSITY["A"]) / np.log(4.0) + 0.5
    return letters[int(np.clip(np.floor(above), 0, len(letters) - 1))]


def roughness(height: Array, step: float, lowest: float = LOWEST, highest: float = HIGHEST) -> Roughness:
    """Fit the line to one track; ValueError where the profile is too short for it.

    height : (n,) array
        On a uniform grid. [m]
    step, lowest, highest : float
        Grid step [m], and the range within which bands are used [cycles/m].

    Notes
    -----
    Least squares over log wavenumber and log density of the bands, each counted once. Only bands that the profile holds are used:
    at least three lines of the spectrum from the lower edge of the lowest band to 0, and no waves shorter than 2.5 steps. We differ
    from the standard in one thing: the mean logarithm of a spectrum estimated from few lines is too low, by ln(k) - psi(k)
    for an estimate of 2k degrees of freedom, and is corrected for that, since sections are short.
    """
    centre, density, lines = smoothed_spectrum(height, step, max(lowest, 3.0 / (len(height) * step)), min(highest, 0.4 / step))
    if len(centre) < _FEWEST:
        length = len(height) * step
        raise ValueError(f"{length:g} m hold {len(centre)} bands of ISO 8608 in {lowest:g} to {highest:g} 1/m; expected {_FEWEST}")
    if not (density > 0).all():
        raise ValueError(f"no roughness at {centre[density <= 0][0]:g} 1/m; expected some in all of {lowest:g} to {highest:g} 1/m")
    free = np.maximum(lines / _HANN_BINS, 1.0)
    level = np.log(density) + np.log(free) - psi(free)
    slope, at_reference = np.polyfit(np.log(centre / REFERENCE_WAVENUMBER), level, 1)
    found = float(np.exp(at_reference))
    return Roughness(found, float(-slope), road_class(found), float(centre[0]), float(centre[-1]))


def roughness_of_file(path: Path, lowest: float = LOWEST, highest: float = HIGHEST) -> tuple[Roughness, Roughness]:
    """Roughness of the left and the right track of a measured profile; BadInput where the file or the profile won't do.

    lowest, highest : float
        Range within which bands are used; a profile that was high-passed holds nothing below. [cycles/m]
    """
    profile = read_profile(path)
    at = np.arange(profile.distance[0], profile.distance[-1] + 1e-9, _FILE_STEP)
    try:
        tracks = [resampled(profile.distance, track, at) for track in (profile.left, profile.right)]
        left, right = (roughness(track, _FILE_STEP, lowest, highest) for track in tracks)
    except ValueError as error:
        raise BadInput(path, str(error)) from None
    return left, right


def smoothed_spectrum(height: Array, step: float, lowest: float = LOWEST, highest: float = HIGHEST) -> tuple[Array, Array, Array]:
    """Mean one-sided density in each band.

    height : (n,) array
        On a uniform grid. [m]
    step, lowest, highest : float
        Grid step [m], and the range within which whole bands must lie [cycles/m].

    Returns
    -------
    centre, density, lines : (k,) arrays
        Geometric middle [cycles/m], mean density [m³], lines of the spectrum in the band [1]. The mean of n^-2 over a band is
        exactly its value at the geometric middle; for other slopes it is off, by 6 % in an octave where w = 3.
    """
    low, high = bands(lowest, highest)
    spacing, density = spectrum(height, step)
    # the lines are taken as steps of a histogram, so that a line that a band cuts counts in part
    area = np.concatenate(([0.0], np.cumsum(density) * spacing))
    edge = spacing * (np.arange(len(area)) - 0.5)
    whole = np.interp(high, edge, area) - np.interp(low, edge, area)
    return np.sqrt(low * high), whole / (high - low), (high - low) / spacing


def bands(lowest: float, highest: float) -> tuple[Array, Array]:
    """Lower and upper edges of the smoothing bands that lie within a range, rising. [cycles/m]"""
    low, high = [], []
    for index, (start, per_octave) in enumerate(_BANDS):
        end = _BANDS[index + 1][0] if index + 1 < len(_BANDS) else np.inf
        middle = 2.0 ** (np.arange(-12 * per_octave, 6 * per_octave + 1) / per_octave)
        middle = middle[(middle > start * (1 + 1e-9)) & (middle <= end * (1 + 1e-9))]
        low.append(middle * 2.0 ** (-0.5 / per_octave))
        high.append(middle * 2.0 ** (0.5 / per_octave))
    edges = np.concatenate(low), np.concatenate(high)
    inside = (edges[0] >= lowest * (1 - 1e-9)) & (edges[1] <= highest * (1 + 1e-9))
    return edges[0][inside], edges[1][inside]


def spectrum(height: Array, step: float) -> tuple[float, Array]:
    """Spacing of the lines [cycles/m] and one-sided density [m³] of the whole profile, less its line, under a Hann window."""
    along = np.linspace(-1.0, 1.0, len(height))
    level = height - np.polynomial.Polynomial.fit(along, height, 1)(along)
    window = np.hanning(len(height) + 1)[:-1]
    waves = np.fft.rfft(level * window)
    density = 2.0 * step / np.sum(window**2) * np.abs(waves) ** 2
    density[0] *= 0.5
    return 1.0 / (len(height) * step), np.asarray(density, np.float64)
