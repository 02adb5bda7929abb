"""Turned and shifted inertial units against an independent rotation library and against rigid bodies with closed forms."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.spatial.transform import Rotation

from replay.channels.channel_map_file import read_channel_map
from replay.channels.mounting import AS_BUILT, Mounting
from tests.replay.made_up_logs import MAP

Array = NDArray[np.float64]
GRAVITY = 9.80665
TURNS = [(0, 0, 90), (10, 0, 0), (0, -20, 0), (90, 0, 0), (3.5, -12.0, 147.0), (180, 0, -90), (-7, 80, 33)]
SIX = """
[signals.specific_force_x]
column = "ax"
unit = "g"
[signals.specific_force_y]
column = "ay"
unit = "g"
[signals.roll_rate]
column = "wx"
unit = "deg/s"
[signals.pitch_rate]
column = "wy"
unit = "deg/s"
"""


def mounting_of(folder: Path, lines: str) -> Mounting:
    path = folder / "map.toml"
    path.write_text(MAP.replace("sign = -1\n", "") + SIX + "[inertial_unit]\n" + lines, encoding="utf-8")
    found = read_channel_map(path).mounting
    assert found is not None
    return found


@pytest.mark.validates("scipy.spatial.transform.Rotation, intrinsic z-y-x; ISO 8855:2011: yaw, then pitch, then roll")
@pytest.mark.parametrize(
    ("roll", "pitch", "yaw"), [(0, 0, 90), (10, 0, 0), (0, -20, 0), (90, 0, 0), (3.5, -12.0, 147.0), (180, 0, -90), (-7, 80, 33)]
)
def test_angles_turn_as_the_library_turns(tmp_path: Path, roll: float, pitch: float, yaw: float) -> None:
    mounting = mounting_of(tmp_path, f"turned_deg = {{ roll = {roll}, pitch = {pitch}, yaw = {yaw} }}\n")
    random = np.random.default_rng(1)
    forces, rates = random.normal(size=(2, 3, 50))
    library = Rotation.from_euler("ZYX", [yaw, pitch, roll], degrees=True)
    felt, turned = mounting.start().turn(np.arange(50, dtype=np.float64) * 0.005, forces, rates)
    # atol: products of sines and cosines in another order, 4e-16 measured
    np.testing.assert_allclose(felt, library.apply(forces.T).T, atol=4e-15)
    np.testing.assert_allclose(turned, library.apply(rates.T).T, atol=4e-15)


@pytest.mark.validates("the same attitude by angles and by axes; a unit yawed 90 deg has its x to the left, its y to the rear")
@pytest.mark.parametrize(
    ("angles", "axes"),
    [
        ("yaw = 90", 'forward = "-y"\nleft = "x"\nup = "z"'),
        ("yaw = 180", 'forward = "-x"\nleft = "-y"\nup = "z"'),
        ("roll = 180", 'forward = "x"\nleft = "-y"\nup = "-z"'),
        ("pitch = 90", 'forward = "z"\nleft = "y"\nup = "-x"'),
        ("roll = 90", 'forward = "x"\nleft = "-z"\nup = "y"'),
    ],
)
def test_angles_and_axes_say_the_same(tmp_path: Path, angles: str, axes: str) -> None:
    by_axes = mounting_of(tmp_path, axes + "\n")
    assert mounting_of(tmp_path, f"turned_deg = {{ {angles} }}\n").axes == by_axes.axes
    assert by_axes.axes != AS_BUILT


@pytest.mark.validates("closed form: a rigid body spun up about a fixed axis; a point at r feels w' x r + w x (w x r) more than it")
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_body_spun_up_about_a_fixed_point_feels_nothing_there(axis: int) -> None:
    spin_up, dt = 3.0, 0.002
    time = np.arange(1500, dtype=np.float64) * dt
    about = np.eye(3)[axis]
    place = np.array([0.45, -0.25, 0.35])
    omega = spin_up * time
    around = np.cross(about, place)
    felt = spin_up * around[:, None] + omega**2 * np.cross(about, around)[:, None]
    found, _ = Mounting(position=tuple(place)).start().turn(time, felt, about[:, None] * omega)
    settled = time > 0.05  # nine times the lag of 5.3 ms
    # a ramp of the rate settles exactly: exp(-9) of 3 rad/s² times half a metre is 2e-4, measured 1.2e-4 at 50 ms
    assert np.abs(found[:, settled]).max() < 3e-4
    assert np.abs(felt[:, settled]).max() > 5.0


@pytest.mark.validates("closed form: steady turning, omega x (omega x r) only; exact at every sample")
def test_steady_turning_about_any_axis_is_exact() -> None:
    omega, place = np.array([0.7, -1.1, 2.0]), np.array([0.3, 0.5, -0.2])
    felt = np.cross(omega, np.cross(omega, place))[:, None].repeat(100, axis=1)
    found, _ = (
        Mounting(position=tuple(place)).start().turn(np.arange(100, dtype=np.float64) * 0.005, felt, omega[:, None].repeat(100, axis=1))
    )
    # atol: a handful of products of numbers near 1, 4e-16 measured
    np.testing.assert_allclose(found, 0.0, atol=4e-15)


@pytest.mark.validates("pendulum, theta'' = -(g/l) sin(theta), integrated with scipy; its pivot feels gravity only")
def test_a_pendulum_brought_to_its_pivot_feels_gravity_alone() -> None:
    """Mounted on the rod, 0.8 m below a pivot: what is felt there, brought to the pivot, is the attitude and nothing else."""
    length, dt = 0.8, 0.002
    time = np.arange(3000, dtype=np.float64) * dt

    def motion(_: float, state: Array) -> list[float]:
        return [state[1], -GRAVITY / length * np.sin(state[0])]

    theta, rate = solve_ivp(motion, (0.0, time[-1]), [0.9, 0.0], t_eval=time, rtol=1e-10, atol=1e-12).y
    accelerating = -GRAVITY / length * np.sin(theta)
    # swings about y; theta is pitch, nose down: gravity in the body is g (-sin, 0, cos), and the unit hangs at (0, 0, -l)
    upright = np.stack([-GRAVITY * np.sin(theta), np.zeros_like(theta), GRAVITY * np.cos(theta)])
    omega = np.stack([np.zeros_like(rate), rate, np.zeros_like(rate)])
    place = np.array([0.0, 0.0, -length])
    more = np.cross(np.stack([np.zeros_like(rate), accelerating, np.zeros_like(rate)]).T, place) + np.cross(
        omega.T, np.cross(omega.T, place)
    )
    felt = upright + more.T
    # closed form: along the path a free pendulum feels nothing, whatever its swing
    np.testing.assert_allclose(felt[0], 0.0, atol=1e-9)
    found, _ = Mounting(position=tuple(place)).start().turn(time, felt, omega)
    late = time > 0.1
    # at the lowest point theta''' is (g/l) sqrt(2 (g/l) (1 - cos 0.9)) = 37 rad/s³; times the lag of 5.3 ms and 0.8 m that is
    # 0.158 m/s², measured 0.160
    assert np.abs(found - upright)[:, late].max() < 0.17
    assert np.abs(found[2] - upright[2])[late].max() < 1e-9  # no angular acceleration in the radial part
    assert np.abs(felt - upright).max() > 5.0  # what the wrong place would have told


@pytest.mark.validates("first-order lag: gain 1/sqrt(1 + (f/f0)²), phase atan(f/f0), of the rate of change at 30 Hz and 5 Hz")
def test_the_rate_of_change_lags_as_a_first_order_filter_does() -> None:
    hz, corner, dt = 5.0, 30.0, 0.0005
    time = np.arange(4000, dtype=np.float64) * dt
    rates = np.zeros((3, len(time)))
    rates[2] = np.sin(2 * np.pi * hz * time)
    found, _ = Mounting(position=(0.0, 1.0, 0.0), derivative_hz=corner).start().turn(time, np.zeros((3, len(time))), rates)
    # one metre to the left: x feels the rate of change, y the square of the rate
    wave = np.exp(-2j * np.pi * hz * time[2000:])
    measured = 2 * np.mean(found[0, 2000:] * wave) / (2 * np.pi * hz)
    ideal = 1 / (1 + 1j * hz / corner)
    # a difference over a tick lags by half a tick more: pi hz dt = 0.8 % of a radian
    assert abs(measured / (2 * np.mean(np.cos(2 * np.pi * hz * time[2000:]) * wave)) - ideal) < 0.012
