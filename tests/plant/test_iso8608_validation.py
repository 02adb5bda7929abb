"""ISO 8608: generated ground of a class is found to be of that class, by a fit that knows nothing of how it was made."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from plant.iri import roughness_index
from plant.iso8608 import LOWEST, bands, roughness, roughness_of_file, smoothed_spectrum, spectrum
from plant.terrain.random_road import CLASS_DENSITY, RandomRoad
from plant.terrain.washed_out import WashedOut

Array = NDArray[np.float64]

STEP = 0.05


def road(letter: str, seed: int, length: float, **more: float) -> Array:
    """Left track of generated ground, without its fades."""
    made = RandomRoad(letter, length=length + 6.0, fade=1.0, **more)
    edge = round(3.0 / STEP)
    return made.heights(STEP * np.arange(round((length + 6.0) / STEP), dtype=np.float64), np.random.default_rng(seed))[0][edge:-edge]


@pytest.mark.parametrize("letter", "ABCDEFGH")
@pytest.mark.validates("ISO 8608 table of classes and its fit over 0.011 to 2.83 cycles/m (range and smoothing from memory), w = 2")
def test_generated_ground_falls_in_its_class(letter: str) -> None:
    for seed in range(4):
        found = roughness(road(letter, seed, 1000.0, lowest=0.005, highest=5.0), STEP)
        assert found.road_class == letter
        # 60 roads of 1 km measured ln(density/class) -0.04 +- 0.08 and w 1.985 +- 0.036; four times the scatter. A class is +-0.69 wide.
        assert np.log(found.density / CLASS_DENSITY[letter]) == pytest.approx(-0.04, abs=0.33)
        assert found.waviness == pytest.approx(1.985, abs=0.15)
        assert (found.lowest, found.highest) == pytest.approx((2.0**-6, 2.0 ** (17 / 12)))


@pytest.mark.validates("as above, off road and short: the band from 0.05 cycles/m (ISO 8608:2016) over a section's length")
def test_a_section_of_100_m_falls_in_its_class() -> None:
    found = [roughness(road("D", seed, 100.0), STEP, lowest=0.05) for seed in range(20)]
    level = np.log([each.density / CLASS_DENSITY["D"] for each in found])
    # 60 roads of 100 m measured +0.06 +- 0.26, so that all stay within the class at +-0.69; a mean of 20 scatters by 0.06, three times that
    assert [each.road_class for each in found] == ["D"] * 20
    assert level.mean() == pytest.approx(0.06, abs=0.18)
    assert 0.15 < level.std() < 0.40


@pytest.mark.parametrize("waviness", [1.5, 2.5, 3.0])
@pytest.mark.validates("closed form: the line that the ground was made from, Gd(n0)·(n/n0)^-w")
def test_other_slopes_are_found(waviness: float) -> None:
    found = [roughness(road("C", seed, 2000.0, lowest=0.005, highest=5.0, waviness=waviness), STEP) for seed in range(4)]
    # 40 roads of 2 km measured w within 0.011 of the line +- 0.028, and ln(density) -0.02 +- 0.066; a mean of four scatters by half
    assert np.mean([each.waviness for each in found]) == pytest.approx(waviness, abs=0.05)
    assert np.mean(np.log([each.density / 256e-6 for each in found])) == pytest.approx(0.0, abs=0.12)


@pytest.mark.validates("closed form: Parseval, a sine of amplitude a has the area a²/2 under its one-sided density")
def test_density_is_one_sided_and_per_cycle_per_metre() -> None:
    along = STEP * np.arange(20_000, dtype=np.float64)
    centre, density, _ = smoothed_spectrum(0.02 * np.sin(2 * np.pi * 0.125 * along), STEP)
    third = np.abs(np.log2(centre / 0.125)) < 0.01
    width = 0.125 * (2.0 ** (1 / 6) - 2.0 ** (-1 / 6))
    # rel: measured 4e-9, what the window lets out of the band
    assert float(density[third][0]) * width == pytest.approx(0.5 * 0.02**2, rel=1e-6)


@pytest.mark.validates("ISO 8608, mean over a band with the lines at its edges counted in part (formula from memory), written out")
def test_lines_at_the_edges_of_a_band_count_in_part() -> None:
    height = road("C", 1, 100.0)
    spacing, density = spectrum(height, STEP)
    for low, high, found in zip(*bands(0.05, 2.83), smoothed_spectrum(height, STEP, 0.05)[1], strict=True):
        first, last = round(low / spacing), round(high / spacing)
        area = ((first + 0.5) * spacing - low) * density[first] + (high - (last - 0.5) * spacing) * density[last]
        area += spacing * density[first + 1 : last].sum()
        if last > first:
            # rel: rounding of sums of falling numbers
            assert float(found) == pytest.approx(float(area / (high - low)), rel=1e-9)


@pytest.mark.validates("the file's class is the class of the ground written to it")
def test_class_of_a_file(tmp_path: Path) -> None:
    tracks = [road(letter, 3, 600.0, lowest=0.005, highest=5.0) for letter in "CE"]
    path = tmp_path / "lane.csv"
    rows = np.column_stack([STEP * np.arange(len(tracks[0])), *(1e3 * track for track in tracks)])
    np.savetxt(path, rows, fmt="%.4f", delimiter=",", header="distance_m,left_mm,right_mm", comments="")
    left, right = roughness_of_file(path)
    assert (left.road_class, right.road_class) == ("C", "E")
    # rel: 0.1 um in the file; the grid is the file's own
    assert left.density == pytest.approx(roughness(tracks[0], STEP).density, rel=1e-4)


@pytest.mark.validates("IRI of the class line, 0.554724·sqrt(Gd(n0)/1e-6 m³) mm/m, with the level as fitted and not as made")
def test_fit_and_roughness_index_agree() -> None:
    for letter in "BDF":
        height = road(letter, 5, 2000.0, lowest=LOWEST / 2, highest=9.9)
        found = roughness(height, STEP)
        # rel: the two weigh the band differently; 40 roads of 2 km measured 1.007 +- 0.031, three times that
        assert 1e3 * roughness_index(height, STEP, 0.0) == pytest.approx(0.554724 * np.sqrt(found.density / 1e-6), rel=0.1)


@pytest.mark.validates("ISO 8608: the ground between the washouts is of the stated class")
def test_washed_out_ground_without_its_washouts_is_of_its_class() -> None:
    piece = WashedOut("D", length=500.0, shallowest=0.0, deepest=0.0)
    height = piece.heights(STEP * np.arange(10_000, dtype=np.float64), np.random.default_rng(2))[1]
    assert roughness(height[100:-100], STEP, lowest=0.05).road_class == "D"
    # 12 seeds measured 6 to 14 times the density with the washouts
    cut = WashedOut("D", length=500.0).heights(STEP * np.arange(10_000, dtype=np.float64), np.random.default_rng(2))[1]
    assert roughness(cut[100:-100], STEP, lowest=0.05).density > 3.0 * roughness(height[100:-100], STEP, lowest=0.05).density
