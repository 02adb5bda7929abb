"""The colours of a stack's layers can be told apart, by colour-blind eyes too."""

from __future__ import annotations

from itertools import combinations
from typing import Final

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from numpy.typing import NDArray

from dualduty.calibration.read import read_calibration
from dualduty.discovery import discover
from dualduty.report import look
from dualduty.shipped import shipped_calibrations

# On linear sRGB, from memory and compared with several public copies: an eye that lacks one kind of cone altogether.
EYES: Final = {
    "all cones": np.eye(3),
    "no long": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]),
    "no medium": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]),
    "no short": np.array([[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]),
}
XYZ: Final = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])  # IEC 61966-2-1
TOLD_APART: Final = 15.0  # CIE 1976 colour difference; 2 to 3 is just seen on neighbouring patches (common practice)


def lab(colour: str, eye: NDArray[np.float64]) -> NDArray[np.float64]:
    """CIE 1976 L*a*b* (CIE 15) of a colour as an eye sees it."""
    part = np.array(to_rgb(colour))
    linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    relative = XYZ @ np.clip(eye @ linear, 0.0, 1.0) / XYZ.sum(axis=1)
    x, y, z = np.where(relative > (6 / 29) ** 3, np.cbrt(relative), relative / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


MACHADO: Final = "Machado, Oliveira and Fernandes, IEEE TVCG 15 (2009) 1291-1298, severity 1; CIE 15 colour difference of 1976"


@pytest.mark.validates(MACHADO)
@pytest.mark.parametrize("eye", EYES)
def test_any_two_layers_are_told_apart_by_any_eyes(eye: str) -> None:
    seen = [lab(colour, EYES[eye]) for colour in look.LAYER_COLOURS]
    apart = {(one, other): float(np.linalg.norm(seen[one] - seen[other])) for one, other in combinations(range(len(seen)), 2)}
    nearest = min(apart, key=lambda pair: apart[pair])
    assert apart[nearest] > TOLD_APART, nearest


@pytest.mark.validates(MACHADO + "; for every layer of the shipped stack")
def test_every_layer_of_the_shipped_stack_has_its_own_colour() -> None:
    stack = read_calibration(shipped_calibrations() / "strategies" / "marram_baseline.toml", discover()).layers
    assert len({look.layer_colour(place) for place in range(len(stack))}) == len(stack)
