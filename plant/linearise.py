"""The vehicle's small motions about a steady state as a linear state space, by differences of the plant's own equations.

Friction and force maps have no single slope through standstill. Without an `amplitude` the slopes are those at the smallest
speeds, where friction is firmest. With one, every damper and its friction count with the rate whose first harmonic a sine of
that shaft speed finds, (1/(pi A)) times the integral of F(A cos t) cos t over a turn (describing function; Gelb & Vander
Velde, "Multiple-Input Describing Functions", 1968, from memory): compression and rebound in one mean. The force left over
when the two differ, which pulls a vehicle down or up, is no small motion and not in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import control
import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.signals import CORNERS
from dualduty.units import STANDARD_GRAVITY
from plant.operating_point import Nudge, OperatingPoint, evaluated
from plant.rows import (
    AHEAD,
    DISTANCE,
    HEAVE_SPEED,
    HUB_SPEED,
    LEFT,
    LOAD,
    PITCH,
    PITCH_RATE,
    ROLL,
    ROLL_RATE,
    SERIES_FORCE,
    SHAFT_SPEED,
    STATE_SIZE,
    TRAVEL,
)  # fmt: skip

Array = NDArray[np.float64]

STATE_NAMES: Final = (
    "heave", "roll", "pitch", *(f"hub_height_{corner}" for corner in CORNERS),
    "heave_speed", "roll_rate", "pitch_rate", *(f"hub_speed_{corner}" for corner in CORNERS),
    "distance", "speed", "side_speed", "yaw_rate",
    *(f"{name}_{corner}" for name in ("wheel_speed", "slip_along", "slip_across", "series_force") for corner in CORNERS),
)  # fmt: skip
OUTPUTS: Final = (
    "body_acceleration_z", "seat_acceleration_z", "specific_force_x", "specific_force_y", "specific_force_z",
    *(f"{name}_{corner}" for name in ("shaft_travel", "shaft_speed", "wheel_load") for corner in CORNERS),
)  # fmt: skip
INPUTS: Final = (
    *(f"{name}_{corner}" for name in ("ground_height", "ground_speed") for corner in CORNERS),
    "steer", "throttle", "brake", "body_force_z", "body_moment_roll", "body_moment_pitch",
)  # fmt: skip

# Large against rounding (1e-13 of the forces), small against what bends: 0.03 m/s of friction, 1e-2 of slip, mm of stops.
_STEPS: Final = np.repeat([1e-6, 1e-6, 1e-5, 1e-5, 1e-5, 1e-4, 1e-5, 1e-6, 1e-2], [3, 4, 3, 4, 1, 3, 4, 8, 4])
_INPUT_STEP: Final = 1e-6  # m, rad, 1
_TURN: Final = 64  # points over half a turn: a kinked map's first harmonic to 1e-3 of itself
_SLOWEST: Final = 0.1  # m/s, below which the ground's slope moves no tyre


@dataclass(frozen=True, eq=False)
class Linear:
    """A linearised vehicle.

    system
        State space with the names of `STATE_NAMES` (without distance, and without the series force of rigid dampers),
        `INPUTS` and `OUTPUTS`; all SI, departures from the operating point.
    rows : list of int
        Rows of `plant.rows` that its states are.
    """

    point: OperatingPoint
    system: control.StateSpace
    rows: list[int]

    def row(self, name: str) -> int:
        """Place of an output."""
        return OUTPUTS.index(name)


def linearise(point: OperatingPoint, amplitude: float | None = None) -> Linear:
    """State space about an operating point; `amplitude` of the shaft speeds for the equivalent rate of dampers [m/s], see the module."""
    rows = [row for row in range(STATE_SIZE) if row != DISTANCE and not _rigid(point, row)]
    slopes, seen = _differences(point, [_state_nudge(row) for row in range(STATE_SIZE)], _STEPS)
    if amplitude is not None:
        _count_dampers_as_at(point, amplitude, slopes, seen)
    driven, seen_driven = _input_slopes(point)
    names = [STATE_NAMES[row] for row in rows]
    system = control.ss(
        slopes[np.ix_(rows, rows)], driven[rows], seen[:, rows], seen_driven, states=names, inputs=list(INPUTS), outputs=list(OUTPUTS)
    )
    return Linear(point, system, rows)


def _rigid(point: OperatingPoint, row: int) -> bool:
    return row >= SERIES_FORCE and bool(np.broadcast_to(point.vehicle.series_rate, 4)[row - SERIES_FORCE] <= 0.0)


def _state_nudge(row: int) -> dict[str, Any]:
    unit = np.zeros(STATE_SIZE)
    unit[row] = 1.0
    return {"state": unit}


def _scaled(nudge: dict[str, Any], size: float) -> Nudge:
    return Nudge(**{name: size * value for name, value in nudge.items()})


def _differences(point: OperatingPoint, nudges: list[dict[str, Any]], steps: Array) -> tuple[Array, Array]:
    """Central differences of rates, (STATE_SIZE, nudge), and outputs, (output, nudge)."""
    both = [_scaled(nudge, sign * size) for sign in (1.0, -1.0) for nudge, size in zip(nudges, steps, strict=True)]
    rates, outputs = _seen(point, both)
    count = len(nudges)
    return (rates[:count] - rates[count:]).T / (2.0 * steps), (outputs[:count] - outputs[count:]).T / (2.0 * steps)


def _seen(point: OperatingPoint, nudges: list[Nudge]) -> tuple[Array, Array]:
    """Rates (n, STATE_SIZE) and outputs (n, output) at nudges."""
    states, rates, reports = evaluated(point, nudges)
    up = rates[:, HEAVE_SPEED] + STANDARD_GRAVITY
    ahead, left, roll, pitch = reports[:, AHEAD], reports[:, LEFT], states[:, ROLL], states[:, PITCH]
    vehicle = point.vehicle
    seat = rates[:, HEAVE_SPEED] + vehicle.seat_left * rates[:, ROLL_RATE] - vehicle.seat_ahead * rates[:, PITCH_RATE]
    body = [rates[:, HEAVE_SPEED], seat, ahead - pitch * up, left + roll * up, up + pitch * ahead - roll * left]
    corners = [reports[:, row + corner] for row in (TRAVEL, SHAFT_SPEED, LOAD) for corner in range(4)]
    return rates, np.stack([*body, *corners], axis=1)


def _input_slopes(point: OperatingPoint) -> tuple[Array, Array]:
    """Slopes of rates and outputs over `INPUTS`."""
    each = np.eye(4)
    moving = abs(point.speed) > _SLOWEST
    nudges: list[dict[str, Any]] = [{"ground": unit} for unit in each]
    nudges += [{"slope": unit / point.speed if moving else 0.0 * unit} for unit in each]
    nudges += [{"steer": 1.0}, {"throttle": 1.0}, {"brake": 1.0}]
    rates, outputs = _differences(point, nudges, np.full(len(nudges), _INPUT_STEP))
    if not moving:  # as on a shaker rig: only the tyre's damping feels how fast the ground moves
        rates[HUB_SPEED + np.arange(4), np.arange(4, 8)] = point.vehicle.tyre_damping / point.vehicle.car.unsprung_mass
        outputs[OUTPUTS.index("wheel_load_front_left") + np.arange(4), np.arange(4, 8)] = point.vehicle.tyre_damping
    pushed, seen = _pushes(point)
    return np.concatenate([rates, pushed], axis=1), np.concatenate([outputs, seen], axis=1)


def _pushes(point: OperatingPoint) -> tuple[Array, Array]:
    """What a force up and moments on the body do, by Newton's law."""
    car, vehicle = point.vehicle.car, point.vehicle
    rates, outputs = np.zeros((STATE_SIZE, 3)), np.zeros((len(OUTPUTS), 3))
    per = 1.0 / np.array([car.sprung_mass, car.roll_inertia, car.pitch_inertia])
    rates[[HEAVE_SPEED, ROLL_RATE, PITCH_RATE], [0, 1, 2]] = per
    outputs[0, 0] = per[0]
    outputs[1] = per * np.array([1.0, vehicle.seat_left, -vehicle.seat_ahead])
    outputs[2:5, 0] = per[0] * np.array([-point.state[PITCH], point.state[ROLL], 1.0])
    return rates, outputs


def _count_dampers_as_at(point: OperatingPoint, amplitude: float, slopes: Array, seen: Array) -> None:
    """Give dampers and friction, in both matrices, the rate of a sine of shaft speed: what a hub's speed changes beyond the tangent."""
    if amplitude <= 0.0:
        raise BadInput("amplitude", f"{amplitude:g} m/s; expected more than 0")
    if np.any(point.vehicle.series_rate > 0.0):
        raise BadInput("amplitude", "expected dampers without a spring in series: with one, shaft and oil move at different speeds")
    car = point.vehicle.car
    units = [_state_nudge(HUB_SPEED + corner) for corner in range(4)]
    report = evaluated(point, [_scaled(unit, 1.0) for unit in units])[2]
    ratios = np.abs(
        np.diagonal(report[:, SHAFT_SPEED : SHAFT_SPEED + 4]) - evaluated(point, [Nudge()])[2][0, SHAFT_SPEED : SHAFT_SPEED + 4]
    )
    for corner, unit in enumerate(units):
        moves = np.zeros(STATE_SIZE)  # speed of the wheel against the body, over the states
        moves[[HEAVE_SPEED, ROLL_RATE, PITCH_RATE, HUB_SPEED + corner]] = -1.0, -point.vehicle.side[corner], car.arm[corner], 1.0
        rate, output = _first_harmonic(point, unit, amplitude / float(ratios[corner]))
        extra_rate, extra_output = rate - slopes[:, HUB_SPEED + corner], output - seen[:, HUB_SPEED + corner]
        slopes += np.outer(extra_rate, moves)
        seen += np.outer(extra_output, moves)


def _first_harmonic(point: OperatingPoint, nudge: dict[str, Any], size: float) -> tuple[Array, Array]:
    """Gains of rates and outputs for a sine of a nudge's size, by its first harmonic."""
    turn = np.cos((np.arange(_TURN) + 0.5) * np.pi / _TURN)
    rates, outputs = _seen(point, [_scaled(nudge, float(size * share)) for share in turn])
    weights = 2.0 * turn / (_TURN * size)
    return weights @ rates, weights @ outputs


def ground_response(linear: Linear, hertz: Array, wheels: Any = 1.0, *, delayed: bool = True) -> Array:
    """Outputs over the height of a ground that runs under all wheels, complex (output, hertz).

    Parameters
    ----------
    hertz : (n,) array
        Frequencies at which wheels meet the ground. [Hz]
    wheels : float or (4,) array
        Share of the height under each wheel: (1, -1, 1, -1) for what rolls a vehicle. [1]
    delayed : bool
        The rear wheels meet it a wheelbase later; False: all at once, as on a rig.
    """
    s = 2j * np.pi * np.asarray(hertz, float)
    shares = np.broadcast_to(np.asarray(wheels, complex), (len(s), 4)).copy()
    if delayed and linear.point.speed > 0.0:
        shares[:, 2:] *= np.exp(-s * linear.point.vehicle.car.wheelbase / linear.point.speed)[:, None]
    response = np.asarray(linear.system(s, squeeze=False))  # (output, input, hertz)
    both = response[:, :4] + s * response[:, 4:8]
    found: Array = np.einsum("oih,hi->oh", both, shares)
    return found
