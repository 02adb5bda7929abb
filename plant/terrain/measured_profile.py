"""Measured profile: two wheel tracks read from a file beside the section's."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param
from plant.profile_file import Profile, read_profile
from plant.resample import resampled, without_long_waves
from plant.section_file import choice, file_beside
from plant.shapes import smooth_step

Array = NDArray[np.float64]


@dataclass(frozen=True)
class MeasuredProfile:
    """A stretch of a measured profile, brought onto the grid and faded in from level ground.

    Notes
    -----
    The same line is taken from both tracks, so that a bank between them stays. Less a line, the ground fades out to the
    level again; with `detrend = "none"` it begins at the level and the last height of each track is held. `high_pass` takes out
    waves longer than it, from each track by itself, and with them what is left of a bank.
    """

    file: str = file_beside("profile file with the columns distance_m, left_mm, right_mm")
    skip: float = param(0.0, "m", 0.0, 1e6, "length left out at the beginning of the file")
    length: float = param(0.0, "m", 0.0, 1e6, "length of the stretch, 0 for all that follows")
    detrend: str = choice("line", ("line", "none"), "whether the straight line through the stretch is taken out")
    high_pass: float = param(0.0, "m", 0.0, 1000.0, "wavelength above which waves are taken out, 0 for none")
    fade: float = param(3.0, "m", 0.2, 50.0, "length of the smooth fade at both ends")
    required = ("file",)

    @cached_property
    def profile(self) -> Profile:
        """What the file holds."""
        return read_profile(Path(self.file))

    @property
    def used_length(self) -> float:
        """Length of the stretch. [m]"""
        there = float(self.profile.distance[-1] - self.profile.distance[0]) - self.skip
        length = self.length or there
        if length > there * (1 + 1e-9):
            raise ValueError(f"{self.file} ends {max(there, 0.0):g} m after {self.skip:g} m; expected a length of {length:g} m")
        if length < 2.0 * self.fade:
            raise ValueError(f"{length:g} m of {self.file} leave no room for two fades of {self.fade:g} m")
        return length

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Left and right heights."""
        length = self.used_length
        inside = (along >= 0) & (along <= length)
        here, step = along[inside], float(along[1] - along[0])
        tracks = self.tracks(here, step)
        into, out_of = smooth_step(here / self.fade), smooth_step((length - here) / self.fade)
        left, right = np.zeros_like(along), np.zeros_like(along)
        for whole, track in zip((left, right), tracks, strict=True):
            whole[inside] = track * into * (out_of if self.levelled else 1.0)
            whole[along > length] = 0.0 if self.levelled else track[-1]
        return left, right

    @property
    def levelled(self) -> bool:
        """Whether the ground comes back to the level."""
        return self.detrend == "line" or self.high_pass > 0

    def tracks(self, here: Array, step: float) -> tuple[Array, Array]:
        """The stretch on the grid, its line and long waves taken out, not faded.

        here : (n,) array
            Uniform grid from the start of the stretch. [m]
        step : float
            Grid step. [m]
        """
        at = here + self.profile.distance[0] + self.skip
        left, right = (resampled(self.profile.distance, track, at) for track in (self.profile.left, self.profile.right))
        middle = 0.5 * (left + right)
        line = np.polynomial.Polynomial.fit(here, middle, 1)(here) if self.detrend == "line" else middle[0]
        left, right = left - line, right - line
        if self.high_pass > 0:
            left, right = (without_long_waves(track, step, self.high_pass) for track in (left, right))
        return left, right
