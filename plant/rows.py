"""Where each number of a case lies in the plant's rows: state, held inputs, and what a step reports."""

from __future__ import annotations

from typing import Any, Final

Number = Any  # a float in compiled code: elements of arrays and records have no static type

# State of one case: positions first, then the speeds that are their rates.
HEAVE: Final = 0  # m, height of the centre of gravity
ROLL: Final = 1
PITCH: Final = 2  # rad, right side down and nose down
HUB: Final = 3  # four wheel centre heights, m
MOVING: Final = 7  # offset from a position to its speed
HEAVE_SPEED: Final = HEAVE + MOVING
ROLL_RATE: Final = ROLL + MOVING
PITCH_RATE: Final = PITCH + MOVING
HUB_SPEED: Final = HUB + MOVING
DISTANCE: Final = 14  # m, of the front axle along the course
SPEED: Final = 15
SIDE_SPEED: Final = 16  # m/s, of the centre of gravity, ahead and left
YAW_RATE: Final = 17
WHEEL: Final = 18  # circumferential speed of four wheels, m/s
SLIP_ALONG: Final = 22  # relaxed slips of four tyres, 1
SLIP_ACROSS: Final = 26
SERIES_FORCE: Final = 30  # what the springs in series with the dampers carry, N
STATE_SIZE: Final = 34

# Held during one plant step. Valves: four compression, then four rebound.
REACHED: Final = 0  # duty whose force a valve gives
STEER: Final = 8
THROTTLE: Final = 9
BRAKE: Final = 10
MAGNET: Final = 11  # duty that the coil current stands for, after its lag
COIL: Final = 19  # coil temperature, °C
OIL: Final = 27  # oil temperature of four dampers, °C
HELD_SIZE: Final = 31

# What an evaluation of the motion reports, four corners each, then the body's accelerations ahead and left.
LOAD: Final = 0
STOP: Final = 4
TRAVEL: Final = 8
SHAFT_SPEED: Final = 12
DAMPER: Final = 16
GROUND: Final = 20
SLOPE: Final = 24
STRUT: Final = 28  # force between body and wheel, at the wheel
ALONG: Final = 32  # driving or braking force of each tyre
SIDE: Final = 36  # side force of each tyre
LOSS: Final = 40  # power a damper turns into heat, W
BEYOND: Final = 44  # 1 where a damper's map is extrapolated
AHEAD: Final = 48  # m/s²
LEFT: Final = 49
LIFTED: Final = 50  # force along each wheel that the links lift the body with on a slope, N
AXLE: Final = 54  # per axle, along its bank: side force N, sideways specific force m/s², side force through the links N
REPORT_SIZE: Final = 60

# The rows of one case, one after the other: state, its rate, held inputs, report; then commands on their way to the valves.
RATE_AT: Final = STATE_SIZE
HELD_AT: Final = RATE_AT + STATE_SIZE
REPORT_AT: Final = HELD_AT + HELD_SIZE
ROWS: Final = REPORT_AT + REPORT_SIZE

# Rows of the tracks over distance.
GROUND_LEFT: Final = 0
GROUND_RIGHT: Final = 1
WANTED_SPEED: Final = 2
CURVATURE: Final = 3
EXTRA_BRAKE: Final = 4
THROTTLE_FLOOR: Final = 5
EXTRA_STEER: Final = 6
STEER_HELD: Final = 7
SPEED_FREE: Final = 8
TRACKS: Final = 9
