"""What a vehicle does, told by channels that don't depend on how the inertial unit is mounted: turns, speeding up, heave, yaw."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from replay.health.motion import MOVING, band, correlation, felt, filled, slope, speed
from replay.health.slow_copy import RATE, SlowMotion

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]
WHEELBASE: Final = 2.5  # m; where no vehicle is given: of what the witnesses say only signs and shapes count
TRACK: Final = 1.5  # m
OWN: Final = "yaw rate"  # the witness that is an axis of the unit itself
_FORCES: Final = ("specific_force_x", "specific_force_y", "specific_force_z")
_HARDEST: Final = 8.0  # m/s²; what wheels do beyond it they do in the air, or slipping
STRAIGHT: Final = 0.6  # m/s² of lateral acceleration, mean over a second
LEAST_SAMPLES: Final = 15.0  # independent ones, 25 s of driving: before that no witness contradicts another
LEAST_PULL: Final = 0.15  # m/s², deviation from which turns, speeding up and heave are told
LEAST_YAW: Final = 0.02  # rad/s; a driver who holds the car on a side slope steers against a yaw of 0.014 in clean demo drives
AGREE: Final = 0.3  # correlation beyond which two witnesses agree or contradict each other
UPRIGHT: Final = 0.9  # share of gravity along the mapped z from which the mapped yaw gyro turns about the vertical, one way or the other


@dataclass(frozen=True)
class Witnesses:
    """Motion of the vehicle in the band of `motion.band`, (bin,) arrays; None where there is nothing to tell it by.

    `turn` is lateral acceleration, left positive, `forward` acceleration [m/s²], `heave` the size of the felt force [m/s²],
    `yaw` the yaw rate, left positive [rad/s]; `told_by` names the channels; `contradiction` has the channel that disagrees
    about left and right, "" where none does; `moving` is where the vehicle moves, `straight` where it moves and goes straight on.
    """

    turn: Array | None
    forward: Array | None
    heave: Array | None
    yaw: Array | None
    moving: Gate
    straight: Gate
    told_by: str
    contradiction: str = ""


def witnesses(motion: SlowMotion) -> Witnesses:
    """Ask the channels of a log."""
    forward_speed = speed(motion)
    known = bool(np.isfinite(forward_speed).any())
    moving = np.nan_to_num(forward_speed) > MOVING if known else np.ones(motion.bins, dtype=bool)
    whole = filled(forward_speed)
    yaws = _yaws(motion, whole) if known else {}
    chosen, contradiction = _agreed(yaws, moving)
    yaw = None if chosen is None else yaws[chosen]
    pull = None if yaw is None else np.where(moving, np.clip(yaw * whole, -_HARDEST, _HARDEST), 0.0)
    turn = None if pull is None else band(pull)
    straight = moving if pull is None else moving & (np.abs(uniform_filter1d(pull, round(RATE))) < STRAIGHT)
    forward = band(np.clip(slope(whole), -_HARDEST, _HARDEST)) if known else None
    size = felt(motion)
    heave = band(size) if np.isfinite(size).any() else None
    turn, forward, heave = (_lively(told, LEAST_PULL, moving) for told in (turn, forward, heave))
    yaw = _lively(None if yaw is None else band(yaw), LEAST_YAW, moving)
    return Witnesses(turn, forward, heave, yaw, moving, straight, chosen or "", contradiction)


def _lively(told: Array | None, least: float, moving: Gate) -> Array | None:
    """A witness that saw something; what is smaller may be noise, or the ground that turns the car against its steering."""
    if told is None:
        return None
    where = moving & np.isfinite(told)
    return told if where.any() and float(np.std(told[where])) > least else None


def _yaws(motion: SlowMotion, forward_speed: Array) -> dict[str, Array]:
    """Yaw rate by steering, by wheel speeds, and by the gyro as it is mapped."""
    found = {}
    if motion.has("steer_angle"):
        found["steer angle"] = forward_speed * np.tan(np.clip(filled(motion.one("steer_angle")), -0.7, 0.7)) / WHEELBASE
    wheels = motion.corners("wheel_speed")
    axles = [(left, right) for left, right in ((0, 1), (2, 3)) if np.isfinite(wheels[[left, right]]).any(axis=1).all()]
    right_faster = [wheels[right] - wheels[left] for left, right in axles]
    if right_faster:
        found["wheel speeds"] = filled(np.mean(right_faster, axis=0)) / TRACK
    if motion.has("yaw_rate") and (way := _vertical(motion)):
        found[OWN] = way * filled(motion.one("yaw_rate"))
    return {name: told for name, told in found.items() if np.ptp(told) > 0.0}  # one speed for all wheels says nothing of a turn


def _vertical(motion: SlowMotion) -> float:
    """Which way the mapped yaw gyro turns by what gravity says of its axis: 1 as mapped, -1 upside down, 0 about no vertical axis."""
    means = [float(np.nanmean(axis)) for axis in map(motion.one, _FORCES) if np.isfinite(axis).any()]
    if len(means) < len(_FORCES):
        return 1.0  # gravity says nothing
    share = means[-1] / max(float(np.linalg.norm(means)), 1e-9)
    return float(np.sign(share)) if abs(share) > UPRIGHT else 0.0


def _agreed(yaws: dict[str, Array], moving: Gate) -> tuple[str | None, str]:
    """The witness to believe, and the one that contradicts the two others."""
    order: list[str] = [name for name in ("steer angle", "wheel speeds", OWN) if name in yaws]
    if len(order) < 3:  # noqa: PLR2004 - nobody can be outvoted
        return (order[0] if order else None), ""
    banded = {name: band(yaws[name]) for name in order}
    if min(float(np.std(told[moving])) if moving.any() else 0.0 for told in banded.values()) <= LEAST_YAW:
        return order[0], ""  # straight on: whoever steers against the ground contradicts what it does to the car

    def against(one: str, other: str) -> int:
        r, samples = correlation(banded[one], banded[other], moving)
        return 0 if samples < LEAST_SAMPLES else int(r > AGREE) - int(r < -AGREE)

    steer_wheels, steer_yaw, wheels_yaw = against(*order[:2]), against(order[0], order[2]), against(*order[1:])
    if steer_wheels < 0 and wheels_yaw > 0:
        return order[1], order[0]
    if steer_wheels < 0 and steer_yaw > 0:
        return order[0], order[1]
    return order[0], ""
