"""The valve: from a commanded duty to the duty whose force the damper gives."""

from __future__ import annotations

from math import isnan
from typing import Any

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from plant.rows import COIL, MAGNET, OIL, REACHED, Number

Array = NDArray[float64]


@inline
def resistance(case: Any, coil: float) -> Number:
    """Resistance of a coil at a temperature [°C]. [ohm]"""
    return case.coil_resistance * (1.0 + case.coil_growth * (coil - 20.0))


@inline
def wanted_magnet(case: Any, valve: int, command: float, coil: float) -> Number:
    """Duty that the coil current will stand for: the driver stage's step, and what supply and coil allow. [1]

    A current moves the spool away from where its spring holds it without one, `unpowered`: full current as far as that can
    be. NaN is a command without power. A held current is cut by supply / resistance; a share of the supply gives less the
    hotter the coil. Beyond none and full the map says no more.
    """
    rest = case.unpowered[valve]
    if isnan(command):
        return rest
    duty = command
    if case.valve_resolution > 0.0:
        duty = case.valve_resolution * int(duty / case.valve_resolution + 0.5)
    share = abs(duty - rest) / max(rest, 1.0 - rest)
    ohms = resistance(case, coil)
    room = min(case.supply / (ohms * case.full_current * max(share, 1e-9)), 1.0)
    sagged = case.supply / case.supply_reference * case.coil_resistance / ohms
    kept = case.current_held * room + (1.0 - case.current_held) * sagged
    return min(max(rest + kept * (duty - rest), 0.0), 1.0)


@inline
def followed(case: Any, now: float, wanted: float) -> Number:
    """What follows with a first-order lag, half a plant step later; exact, as it can't cross what is wanted. [1]"""
    left = case.rise_left if wanted > now else case.fall_left
    return wanted + (now - wanted) * left


@inline
def spool(case: Any, reached: float, magnet: float) -> Number:
    """Duty that the spool gives for a magnet: it starts beyond the deadband and sticks within the hysteresis. [1]

    A play of the hysteresis' width, stretched so that full still is full and none is none.
    """
    dead, play = case.valve_deadband, case.valve_hysteresis
    wanted = max(magnet - dead, 0.0) / (1.0 - dead) if dead > 0.0 else magnet
    if play <= 0.0:
        return wanted
    middle = 0.5 * play + (1.0 - play) * reached
    middle = min(max(middle, wanted - 0.5 * play), wanted + 0.5 * play)
    return min(max((middle - 0.5 * play) / (1.0 - play), 0.0), 1.0)


@inline
def take_commands(case: Any, held: Array, command: Array, wanted: Array) -> None:
    """What the eight coils are to reach during a controller tick, from the latched commands; NaN is a valve without power."""
    for valve in range(8):
        wanted[valve] = wanted_magnet(case, valve, command[valve], held[COIL + valve])


@inline
def latch(duty: Array, place: int, index: int, command: Array) -> None:
    """Take the eight duties of a tick and case out of (8, tick, case)."""
    for valve in range(8):
        command[valve] = duty[valve, place, index]


@inline
def reach_duties(case: Any, held: Array, wanted: Array, pending: Array, step: int, reached: Array) -> None:
    """Duties that the eight valves give in the middle and at the end of a plant step, in 2 x 8; `pending` is on its way to them."""
    slots = case.delay_steps + 1
    enters, leaves = step % slots, (step + 1) % slots
    for valve in range(8):
        pending[8 * enters + valve] = wanted[valve]
        arrived = pending[8 * leaves + valve]
        half = followed(case, held[MAGNET + valve], arrived)
        held[MAGNET + valve] = followed(case, half, arrived)
        reached[valve] = spool(case, held[REACHED + valve], half)
        reached[8 + valve] = spool(case, reached[valve], held[MAGNET + valve])


@inline
def give_duties(reached: Array, start: int, held: Array) -> None:
    """Let the valves give what they reach in the middle (`start` 0) or at the end (8) of a plant step."""
    for valve in range(8):
        held[REACHED + valve] = reached[start + valve]


@inline
def coil_current(case: Any, held: Array, command: Array, valve: int) -> Number:
    """Current of a coil; none without power. [A]"""
    if isnan(command[valve]):
        return 0.0
    rest = case.unpowered[valve]
    return abs(held[MAGNET + valve] - rest) / max(rest, 1.0 - rest) * case.full_current


@inline
def heat_coils(case: Any, held: Array, command: Array, seconds: float) -> None:
    """Warm the eight coils by their current for a while; they give their heat to the oil they sit in."""
    for valve in range(8):
        coil = held[COIL + valve]
        current = coil_current(case, held, command, valve)
        given = case.coil_cooling * (coil - held[OIL + valve % 4])
        held[COIL + valve] += seconds * (current * current * resistance(case, coil) - given) / case.coil_capacity
        held[OIL + valve % 4] += seconds * given / case.oil_capacity[valve % 4]
