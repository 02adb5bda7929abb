"""The roughness index against the published definition, and against the road classes."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from plant.iri import BASE_LENGTH, quarter_car, roughness_index, slope_gain, state_transition, suspension_slope
from plant.terrain.random_road import RandomRoad

Array = NDArray[np.float64]

# Sayers, Gillespie & Queiroz, World Bank Technical Paper 45/46, 1986, as carried by three public copies that agree
# (among them the constants of R package rroad): ST by rows, then PR, at steps of 0.25, 0.2 and 0.1 m
PUBLISHED = {
    0.25: (
        (0.9966071, 1.091514e-2, -2.083274e-3, 3.190145e-4), (-0.5563044, 0.9438768, -0.8324718, 5.064701e-2),
        (2.153176e-2, 2.126763e-3, 0.7508714, 8.221888e-3), (3.335013, 0.3376467, -39.12762, 0.4347564),
        (5.476107e-3, 1.388776, 0.2275968, 35.79262),
    ),
    0.2: (
        (0.9977588, 0.008780606, -0.0006436089, 0.0002127641), (-0.4660258, 0.9535856, -0.4602074, 0.04352945),
        (0.01448438, 0.001418428, 0.8332105, 0.007105564), (2.908761, 0.2901964, -33.84164, 0.5574984),
        (0.002885245, 0.9262331, 0.1523053, 30.93289),
    ),
    0.1: (
        (0.9994014, 0.004442351, 0.0002188854, 5.72179e-05), (-0.2570548, 0.975036, 0.007966216, 0.02458427),
        (0.003960378, 0.0003814527, 0.9548048, 0.004055587), (1.687312, 0.1638951, -19.34264, 0.7948701),
        (0.0003793992, 0.2490886, 0.04123478, 17.65532),
    ),
}  # fmt: skip


@pytest.mark.parametrize(
    ("step", "st_rtol", "pr_rtol"),
    # measured 3.8e-7, 5.2e-7, 9.2e-7 and 1.8e-5, 1.2e-4, 7.3e-4: the 1986 numbers are single precision, and their
    # PR1 = 1 - ST11 - ST13 lost digits by cancellation
    [(0.25, 4e-7, 2e-5), (0.2, 6e-7, 1.3e-4), (0.1, 1e-6, 7.5e-4)],
)
@pytest.mark.validates("Sayers et al. 1986, World Bank Technical Paper 45/46, tables of ST and PR")
def test_state_transition_is_the_published_one(step: float, st_rtol: float, pr_rtol: float) -> None:
    *rows, pr = PUBLISHED[step]
    st_own, pr_own = state_transition(step)
    np.testing.assert_allclose(st_own, rows, rtol=st_rtol)
    np.testing.assert_allclose(pr_own, pr, rtol=pr_rtol)


@pytest.mark.parametrize("step", [0.02, 0.05, 0.25, 0.5])
@pytest.mark.validates("closed form: on a plane of constant slope every part of the car has that slope, so x = (1, 0, 1, 0) maps to itself")
def test_constant_slope_is_kept(step: float) -> None:
    st, pr = state_transition(step)
    # atol: rows 2 and 4 cancel terms of up to 47; measured 1.4e-14
    np.testing.assert_allclose(st[:, 0] + st[:, 2] + pr, [1.0, 0.0, 1.0, 0.0], atol=1e-13)


@pytest.mark.validates("Sroubek, Sorel & Zak 2021, code of the International Roughness Index, eigenvalue constants")
def test_quarter_car_has_the_published_eigenvalues() -> None:
    own = np.sort_complex(np.linalg.eigvals(quarter_car()[0]))
    body, wheel = 2.590073786677789, 20.40992621332219
    published = np.sort_complex([-body + 7.323397385729718j, -body - 7.323397385729718j,
                                 -wheel + 64.42262610541198j, -wheel - 64.42262610541198j])  # fmt: skip
    # rtol: the constants carry 15 digits, an eigenvalue solver of size 4 gives 14
    np.testing.assert_allclose(own, published, rtol=1e-12)


@pytest.mark.parametrize(
    ("wavelength", "gain", "averaged"),
    [(0.5, 0.058630587, 0.037325391), (0.8, 0.16234248, 0.13749239), (1, 0.27308621, 0.24586397), (1.25, 0.47859708, 0.44772243),
     (1.5, 0.78323331, 0.74793272), (2, 1.5335396, 1.4944272), (2.2923693541834615, 1.6764827, 1.6438758), (2.4, 1.6640035, 1.6344619),
     (2.5, 1.6365139, 1.6097269), (3, 1.453225, 1.4366814), (4, 1.2435838, 1.2356085), (5, 1.1696659, 1.1648618),
     (6.198896599597573, 1.1485918, 1.1455212), (7.5, 1.1648777, 1.1627499), (10, 1.2596847, 1.25839), (12.5, 1.4046293, 1.4037053),
     (15, 1.5273108, 1.526613), (15.777033983382216, 1.5375998, 1.5369648), (20, 1.2340343, 1.2337172), (25, 0.72808271, 0.72796296),
     (28.904, 0.50004481, 0.49998328), (30, 0.45481156, 0.45475961), (40, 0.22629623, 0.22628169), (50, 0.13659407, 0.13658845),
     (100, 0.031596532, 0.031596208)],
)  # fmt: skip
@pytest.mark.validates(
    "frequency response of the 1986 quarter car (Sayers et al.), a separate computation given to 8 digits; not a published table"
)
def test_gain_of_sine_profiles(wavelength: float, gain: float, averaged: float) -> None:
    at = np.array([wavelength])
    # rtol: half a unit in the eighth digit
    np.testing.assert_allclose(slope_gain(at), gain, rtol=5e-8)
    np.testing.assert_allclose(slope_gain(at, BASE_LENGTH), averaged, rtol=5e-8)


@pytest.mark.parametrize(
    ("low", "high", "at", "gain", "base_length", "sign"),
    [
        (1.5, 4.0, 2.2924, 1.676483, 0.0, 1.0),
        (10.0, 25.0, 15.7770, 1.537600, 0.0, 1.0),
        (4.0, 10.0, 6.1989, 1.148592, 0.0, -1.0),
        (1.5, 4.0, 2.304, 1.644, BASE_LENGTH, 1.0),
    ],
)
@pytest.mark.validates("peaks and trough of the gain, a separate computation; textbooks say peaks near 2.4 and 15 m (from memory)")
def test_where_the_gain_peaks(low: float, high: float, at: float, gain: float, base_length: float, sign: float) -> None:
    found = minimize_scalar(lambda one: -sign * slope_gain(np.array([one]), base_length)[0], bounds=(low, high), method="bounded")
    # rtol: the printed digits; near a peak a search is sharp to the square root of its tolerance
    np.testing.assert_allclose(-sign * found.fun, gain, rtol=5e-4 if base_length else 5e-7)
    np.testing.assert_allclose(found.x, at, rtol=3e-4 if base_length else 5e-5)


@pytest.mark.parametrize(("wavelength", "base_length"), [(1.2709, 0.0), (28.904, 0.0), (1.3007, BASE_LENGTH)])
@pytest.mark.validates("half-gain wavelengths, a separate computation; textbooks say 1.25 and 30 m (from memory)")
def test_where_the_gain_is_a_half(wavelength: float, base_length: float) -> None:
    # rtol: the last printed digit of 1.2709 m is worth 7e-5 of a gain that rises steeply there
    np.testing.assert_allclose(slope_gain(np.array([wavelength]), base_length), 0.5, rtol=2e-4)


@pytest.mark.parametrize(
    ("wavelength", "base_length", "index", "rtol"),
    [
        # rtol: measured 1e-6, 7.6e-4 (15 m: the average ends within a wave of the sampled |sine|) and 2e-6
        (5.0, 0.0, 0.93558, 1e-5),
        (15.0, 0.0, 0.40757, 1e-3),
        (2.5, 0.0, 2.61543, 1e-5),
        # with the moving average: 4/wavelength · its gain in the table above; a grid of 0.05 m measures 3e-7 and 4.8e-4 off
        (5.0, BASE_LENGTH, 4 / 5.0 * 1.1648618, 1e-5),
        (2.5, BASE_LENGTH, 4 / 2.5 * 1.6097269, 1e-3),
    ],
)
@pytest.mark.validates(
    "a separate recursion by the 1986 definition (Sayers et al.) at a step of 0.05 m, sine of 1 mm amplitude, to 5 digits"
)
def test_sine_profile_gives_its_index(wavelength: float, base_length: float, index: float, rtol: float) -> None:
    step = 0.05
    distance = step * np.arange(round(1200 / step), dtype=np.float64)
    travel = 1e3 * np.abs(suspension_slope(1e-3 * np.sin(2 * np.pi * distance / wavelength), step, base_length))
    settled = travel[round(300 / step) : round(900 / step)]  # a whole number of waves, after the start has died out
    np.testing.assert_allclose(settled.mean(), index, rtol=rtol)


@pytest.mark.validates("closed form: a plane moves nothing but is started in balance")
def test_plane_has_no_roughness() -> None:
    # rounding of heights of up to 5 m over steps of 0.05 m; measured 2e-16
    assert roughness_index(0.05 * 0.05 * np.arange(2000, dtype=np.float64), 0.05) < 1e-14


@pytest.mark.validates("IRI of a Gaussian road, 0.554724·sqrt(Gd(n0)/1e-6 m³) mm/m: r.m.s. of the quarter car's transfer times sqrt(2/pi)")
def test_index_of_a_gaussian_road() -> None:
    step = 0.05
    road = RandomRoad("C", lowest=0.005, highest=9.9, fade=1.0, length=10_000.0)
    along = step * np.arange(round(road.length / step), dtype=np.float64)
    index = [1e3 * roughness_index(road.heights(along, np.random.default_rng(seed))[0], step, 0.0) for seed in range(4)]
    # rtol: 12 roads of 10 km measured 8.890 +- 0.059, so a mean of four scatters by 0.33 %; three times that
    np.testing.assert_allclose(np.mean(index), 0.554724 * np.sqrt(256.0), rtol=0.01)


@pytest.mark.validates("closed form: the same integral by numerical quadrature over the slope gain")
def test_constant_of_the_gaussian_road() -> None:
    wavenumber = np.geomspace(1e-4, 1e3, 20_001)
    power = slope_gain(1 / wavenumber) ** 2 * (2 * np.pi * 0.1) ** 2 * 1e-6
    constant = 1e3 * np.sqrt(2 / np.pi * np.trapezoid(power, wavenumber))
    # rtol: the constant is given to 6 digits; quadrature measured 5e-7
    np.testing.assert_allclose(constant, 0.554724, rtol=3e-6)
