"""The numbers of a vehicle that only the plant knows, by part: body, springs, dampers, valves, tyres, driveline, driver.

All in SI; (4,) arrays by corner, of which axle quantities use one of each pair. Defaults without a named source are
common practice for a light off-road vehicle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.parameters import param

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class Body:
    """Masses in space and the links: what the wheels hang on.

    `extended_drop` is how far the hub lies below the level of the centre of gravity at full extension. Anti-dive, anti-lift
    and anti-squat are shares of what would hold the axle level, by the usual definition (Gillespie, "Fundamentals of Vehicle
    Dynamics", ch. 7): brakes at the wheels, driving torque from the body.
    """

    yaw_inertia: float = param(1000.0, "kg·m²", 10.0, 50000.0, "yaw inertia of the whole vehicle")
    cg_height: float = param(0.6, "m", 0.0, 2.0, "height of the sprung mass's centre of gravity at ride height")
    cg_left: float = param(0.0, "m", -0.5, 0.5, "sprung mass's centre of gravity left of the middle", said="mm")
    extended_drop: Array = param(0.45, "m", 0.0, 2.0, "hub below the centre of gravity's level at full extension", by_corner=True)
    roll_centre: Array = param(0.15, "m", -0.5, 2.0, "roll-centre height of the axle", by_corner=True)
    anti_dive: float = param(0.0, "1", -1.0, 2.0, "front anti-dive on the brakes", said="%")
    anti_lift: float = param(0.0, "1", -1.0, 2.0, "rear anti-lift on the brakes", said="%")
    anti_squat: float = param(0.0, "1", -1.0, 2.0, "rear anti-squat on throttle", said="%")
    anti_rise: float = param(0.0, "1", -1.0, 2.0, "front anti-rise on throttle", said="%")
    seat_ahead: float = param(0.0, "m", -3.0, 3.0, "seat ahead of the centre of gravity")
    seat_left: float = param(0.0, "m", -1.5, 1.5, "seat left of the middle")
    motion_ratio_rise: Array = param(0.0, "1/m", -3.0, 3.0, "growth of the motion ratio per wheel travel", by_corner=True)
    motion_ratio_bend: Array = param(0.0, "1/m²", -20.0, 20.0, "growth of that growth per wheel travel", by_corner=True)


@dataclass(frozen=True, eq=False, kw_only=True)
class Springs:
    """Coil springs, bars, stops and gas, all at the shaft but the bars.

    A spring presses from `spring_contact` on: above 0 it goes slack before the shaft is fully extended, below 0 it is
    preloaded. A second spring, or a keeper that stops moving, adds `second_rate` from `second_contact` on.
    """

    spring_rate: Array = param(30e3, "N/m", 100.0, 1e6, "coil spring rate at the shaft", said="N/mm", by_corner=True)
    spring_contact: Array = param(0.0, "m", -1.0, 0.4, "shaft travel from which the spring presses", said="mm", by_corner=True)
    spring_progression: Array = param(0.0, "N/m²", -1e6, 5e6, "growth of the spring rate with travel", said="N/mm²", by_corner=True)
    second_rate: Array = param(0.0, "N/m", -1e6, 1e6, "rate added beyond the crossover of a dual-rate spring", said="N/mm", by_corner=True)
    second_contact: Array = param(1.0, "m", 0.0, 1.0, "shaft travel of the crossover of a dual-rate spring", said="mm", by_corner=True)
    bar_rate: Array = param(0.0, "N/m", 0.0, 1e5, "anti-roll bar: force at each wheel per travel difference", by_corner=True)
    bump_rate: Array = param(45e3, "N/m", 0.0, 1e7, "bump stop rate at first touch, at the shaft", said="N/mm", by_corner=True)
    bump_doubling: Array = param(0.022, "m", 1e-3, 1.0, "crush at which a bump stop is twice its first rate", said="mm", by_corner=True)
    bump_loss: Array = param(0.0, "1", 0.0, 0.9, "bump stop: more force going in, less coming out", said="%", by_corner=True)
    metal_rate: Array = param(5e6, "N/m", 0.0, 1e8, "rate of metal on metal beyond the stroke", said="N/mm", by_corner=True)
    droop_rate: Array = param(6e5, "N/m", 0.0, 1e7, "droop stop rate at the shaft", said="N/mm", by_corner=True)
    droop_loss: Array = param(0.0, "1", 0.0, 0.9, "droop stop: more force going in, less coming out", said="%", by_corner=True)
    gas_force: Array = param(0.0, "N", 0.0, 5000.0, "gas force that extends the shaft, at full extension", by_corner=True)
    gas_rate: Array = param(0.0, "N/m", 0.0, 1e5, "growth of the gas force with shaft travel", by_corner=True)


@dataclass(frozen=True, eq=False, kw_only=True)
class Dampers:
    """What a damper does beyond its map: friction, scatter, yielding, heat, and one valve felt by the other side."""

    friction: Array = param(0.0, "N", 0.0, 2000.0, "friction at the shaft", by_corner=True)
    friction_speed: float = param(0.03, "m/s", 1e-3, 1.0, "shaft speed at which friction has reached 71 %")
    compression_scale: Array = param(1.0, "1", 0.0, 5.0, "this damper's compression force over its map", by_corner=True)
    rebound_scale: Array = param(1.0, "1", 0.0, 5.0, "this damper's rebound force over its map", by_corner=True)
    compression_crosstalk: Array = param(0.0, "1", -0.5, 0.5, "change of compression force at full rebound duty", said="%", by_corner=True)
    rebound_crosstalk: Array = param(0.0, "1", -0.5, 0.5, "change of rebound force at full compression duty", said="%", by_corner=True)
    series_rate: Array = param(0.0, "N/m", 0.0, 1e8, "spring of oil, hose and mounts in series with a damper; 0: rigid", said="N/mm",
                               by_corner=True)  # fmt: skip
    oil_fade: Array = param(0.0, "1/K", 0.0, 0.02, "loss of damper force with the oil's temperature", said="%/K", by_corner=True)
    oil_reference: Array = param(40.0, "°C", -40.0, 150.0, "oil temperature at which the maps were measured", by_corner=True)
    oil_start: Array = param(40.0, "°C", -40.0, 200.0, "oil temperature at the start", by_corner=True)
    oil_capacity: Array = param(2600.0, "J/K", 10.0, 1e5, "heat a damper's oil and metal take up", by_corner=True)
    oil_cooling: Array = param(9.0, "W/K", 0.0, 1e3, "heat a damper gives to still air", by_corner=True)
    oil_draught: Array = param(0.8, "W/K", 0.0, 100.0, "more of it per m/s of driving speed", by_corner=True)
    air_temperature: float = param(20.0, "°C", -40.0, 60.0, "air temperature")


@dataclass(frozen=True, eq=False, kw_only=True)
class Valves:
    """From commanded duty to the duty whose force a damper gives: power, coil, delay, lag, and what the spool sticks at.

    Maps are keyed by the duty that gave a current at `supply_reference` and a coil at 20 °C. `current_held` says how far
    the driver stage holds the current (1) or only a share of the supply (0). Without power a valve goes to `unpowered_*`.
    """

    valve_rise: float = param(0.009, "s", 1e-6, 0.5, "time constant of a rising duty", said="ms")
    valve_fall: float = param(0.014, "s", 1e-6, 0.5, "time constant of a falling duty", said="ms")
    valve_delay: float = param(0.0, "s", 0.0, 0.1, "dead time before a valve answers a command", said="ms")
    valve_resolution: float = param(0.0, "1", 0.0, 0.1, "smallest step of duty a driver stage can give; 0: any", said="%")
    valve_deadband: float = param(0.0, "1", 0.0, 0.5, "duty below which a valve gives what it gives at 0", said="%")
    valve_hysteresis: float = param(0.0, "1", 0.0, 0.3, "width between rising and falling duty of the same force", said="%")
    unpowered_compression: Array = param(0.0, "1", 0.0, 1.0, "duty a compression valve stands for without power", said="%", by_corner=True)
    unpowered_rebound: Array = param(0.0, "1", 0.0, 1.0, "duty a rebound valve stands for without power", said="%", by_corner=True)
    supply: float = param(13.5, "V", 0.0, 60.0, "supply voltage")
    supply_reference: float = param(13.5, "V", 1.0, 60.0, "supply voltage at which the maps were measured")
    current_held: float = param(1.0, "1", 0.0, 1.0, "share of held current in the driver stage; 0: share of the supply")
    full_current: float = param(1.6, "A", 0.01, 20.0, "coil current at full duty")
    coil_resistance: float = param(5.0, "ohm", 0.1, 100.0, "coil resistance at 20 °C")
    coil_growth: float = param(3.93e-3, "1/K", 0.0, 0.01, "growth of the coil's resistance (copper)", said="%/K")
    coil_capacity: float = param(70.0, "J/K", 1.0, 1e4, "heat a coil takes up")
    coil_cooling: float = param(0.25, "W/K", 0.0, 100.0, "heat a coil gives to the damper")


@dataclass(frozen=True, eq=False, kw_only=True)
class Tyres:
    """Vertical spring, rim, and grip shared between the two slips."""

    tyre_pressure: Array = param(1.4e5, "Pa", 1e4, 1e6, "tyre pressure at which the tyre's numbers hold", said="bar", by_corner=True)
    tyre_rate: Array = param(125e3, "N/m", 1e3, 1e7, "vertical tyre stiffness", said="N/mm", by_corner=True)
    tyre_damping: Array = param(0.0, "N·s/m", 0.0, 1e4, "vertical tyre damping", by_corner=True)
    rim_contact: Array = param(1.0, "m", 0.01, 1.0, "tyre deflection at which the rim touches", said="mm", by_corner=True)
    rim_rate: Array = param(1e6, "N/m", 0.0, 1e8, "stiffness added from there on", said="N/mm", by_corner=True)
    grip: float = param(0.85, "1", 0.0, 2.0, "friction of the tyre at its static load")
    grip_fade: float = param(0.1, "1", 0.0, 0.5, "loss of friction per static load more")
    slip_scale: float = param(0.105, "rad", 0.01, 0.5, "slip angle that uses 71 % of the grip", said="deg")
    drive_slip_scale: float = param(0.1, "1", 0.01, 0.5, "slip along the wheel that uses 71 % of the grip", said="%")
    slip_growth: float = param(0.0, "1", -0.5, 1.0, "growth of both slip scales per static load more")
    relaxation: float = param(0.35, "m", 0.02, 3.0, "relaxation length of the tyre's horizontal forces")
    rolling_resistance: float = param(0.02, "1", 0.0, 0.5, "rolling resistance over wheel load")
    spin_mass: Array = param(
        18.0, "kg", 1.0, 500.0, "inertia of a wheel and what turns with it, over the tyre radius squared", by_corner=True
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class Driveline:
    """Driving and braking force at the ground if the tyres could carry it."""

    drive_force: float = param(4200.0, "N", 0.0, 1e5, "driving force at full throttle")
    drive_power: float = param(60e3, "W", 0.0, 1e6, "power at full throttle", said="kW")
    top_wheel_speed: float = param(38.0, "m/s", 1.0, 100.0, "wheel speed at which the engine's limiter holds", said="km/h")
    brake_force: float = param(8200.0, "N", 0.0, 1e5, "braking force at full brake")
    drive_front: float = param(0.35, "1", 0.0, 1.0, "front axle's share of the driving force", said="%")
    brake_front: float = param(0.55, "1", 0.0, 1.0, "front axle's share of the braking force", said="%")


@dataclass(frozen=True, eq=False, kw_only=True)
class Hands:
    """The driver's habits."""

    speed_gain: float = param(1.8, "1/s", 0.0, 20.0, "driver: wanted acceleration per speed error")
    pedal_rate: float = param(6.0, "1/s", 0.1, 100.0, "driver: fastest pedal movement, full strokes per second")
    yaw_gain: float = param(0.15, "s", 0.0, 2.0, "driver: steer per yaw-rate error")
    steer_feed: float = param(0.0, "rad/(m/s²)", -0.1, 0.1, "driver: extra steer per wanted lateral acceleration")
    steer_limit: float = param(0.6, "rad", 0.01, 1.2, "largest road-wheel steer angle", said="deg")
    steer_rate: float = param(1.2, "rad/s", 0.05, 20.0, "fastest road-wheel steering", said="deg/s")
    preview: float = param(0.15, "s", 0.0, 2.0, "driver: how far ahead the path is read")
