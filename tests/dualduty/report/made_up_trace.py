"""A made-up run with everything the pictures show: two cases, states, layers, flags, ended padding; no physics behind it."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from dualduty.trace import FLAG_FAULT, FLAG_LIMIT, FLAG_SLEW, FLAG_TRIM, Case, Header, Trace, TraceChunk

LAYERS = ("base duty over speed", "body hold", "cornering: outer side firm", "airborne", "landing override")
STATES = ("braking", "cornering", "cornering_outer", "cornering_inner", "airborne_likely", "airborne", "wheel_off", "landing", "whoops")
CAR = SimpleNamespace(stroke=np.array([0.30, 0.30, 0.33, 0.33]), bump_contact=np.array([0.24, 0.24, 0.27, 0.27]))


def header(cases: int = 2, dt: float = 0.004, truth_dt: float = 0.002, **more: Any) -> Header:
    """A header for `cases` candidates on one invented section."""
    names = ["as driven", *(f"softer rebound {index}" for index in range(1, cases))]
    made = tuple(Case("step-down at the north face", name, "dash") for name in names)
    base: dict[str, Any] = {"source": "simulated", "dt": dt, "cases": made, "truth_dt": truth_dt, "layers": LAYERS, "states": STATES}
    return Header(**{**base, "modes": ("patrol", "dash", "haul"), "digests": {"strategy": "3f9a", "vehicle": "77c1"}, **more})


def trace(seconds: float = 12.0, cases: int = 2, chunk: int = 997, **more: Any) -> Trace:
    """A run cut into odd chunks; computed anew at each pass, so a long one costs no memory."""
    made = header(cases, **more)
    ticks = round(seconds / made.dt)

    def chunks() -> Any:
        for start in range(0, ticks, chunk):
            yield one_chunk(made, start, min(chunk, ticks - start), ticks)

    return Trace(made, chunks)


def one_chunk(made: Header, start: int, ticks: int, total: int) -> TraceChunk:
    """Ticks `start` to `start + ticks` of the made-up run; cases differ by a shift that grows with their number."""
    count = len(made.cases)
    t = (start + np.arange(ticks)[:, None]) * made.dt + np.zeros(count)
    fine = round(made.dt / made.truth_dt) if made.truth_dt else 0
    t_fine = (start + np.arange(ticks * fine)[:, None] / max(fine, 1)) * made.dt + np.zeros(count)
    states = _states(t)
    duty = _duties(t, states)
    layer = _layers(states)
    noise = np.random.default_rng(start).normal(0.0, 1.0, (4, ticks, count))
    running = np.ones((1, ticks, count))
    running[0, start + np.arange(ticks) >= total - 50, 0] = 0.0  # the first case is padded
    return TraceChunk(
        start=start, signals=_signals(t, noise), valid={"shaft_travel": np.ones((4, ticks, count))},
        quantities={"vehicle_speed": _speed(t)[None], "suspension_roll": _roll(t)[None]}, states=states,
        strengths={name: 0.8 * value for name, value in states.items()}, asked=duty, duty=duty,
        layer={"compression": layer, "rebound": layer // 2},
        flags=_flags(t), mode=np.full((1, ticks, count), 1, dtype=np.int16), running=running, truth=_truth(t_fine) if fine else {},
    )  # fmt: skip


def _phase(t: Any) -> Any:
    return np.mod(t, 12.0)


def _speed(t: Any) -> Any:
    return 12.0 + 5.0 * np.sin(0.5 * t)


def _roll(t: Any) -> Any:
    case = np.arange(t.shape[1])
    return np.where((_phase(t) > 2) & (_phase(t) < 5), 0.07 - 0.015 * case, 0.0) * np.sin(np.pi * (_phase(t) - 2) / 3)


def _travel(t: Any) -> Any:
    phase, case = _phase(t), np.arange(t.shape[1])
    flight = (phase > 7.0) & (phase < 7.6)
    landing = np.exp(-((phase - 7.8) ** 2) / 0.012) * (0.19 - 0.02 * case)
    rough = 0.02 * np.sin(2 * np.pi * 3.1 * t) * (phase > 8.5) + 0.008 * np.sin(2 * np.pi * 1.3 * t)
    rows = [0.11 + rough * gain + landing * gain + side * 0.5 * _roll(t) for gain, side in ((1.0, -1), (0.9, 1), (1.1, -1), (1.0, 1))]
    return np.stack([np.where(flight, 0.004, row) for row in rows])


def _vertical(t: Any) -> Any:
    phase = _phase(t)
    return 9.8 * (3.1 * np.exp(-((phase - 7.75) ** 2) / 0.004) - 1.0 * ((phase > 7.0) & (phase < 7.6)) + 0.2 * np.sin(40 * t))


def _truth(t: Any) -> dict[str, Any]:
    pitch = 0.05 * np.sin(1.3 * t)
    vertical = _vertical(t)[None]
    return {
        "speed": _speed(t)[None],
        "true_travel": _travel(t),
        "roll": _roll(t)[None],
        "pitch": pitch[None],
        "seat_acceleration_z": vertical,
    }


def _signals(t: Any, noise: Any) -> dict[str, Any]:
    travel = _travel(t) + 0.001 * noise
    travel[3, (_phase(t) > 10.0) & (_phase(t) < 10.3)] = np.nan  # a channel drops out
    return {
        "shaft_travel": travel, "wheel_speed": np.repeat(_speed(t)[None], 4, axis=0), "roll_rate": 0.3 * _roll(t)[None],
        "pitch_rate": 0.1 * np.sin(1.3 * t)[None], "specific_force_z": _vertical(t)[None] + 9.8,
    }  # fmt: skip


def _states(t: Any) -> dict[str, Any]:
    phase, case = _phase(t), np.arange(t.shape[1])
    corner = (phase > 2.1 + 0.1 * case) & (phase < 4.9)
    air, land = (phase > 7.05) & (phase < 7.6), (phase > 7.6) & (phase < 8.3)
    off = np.zeros((4, *t.shape))
    off[:] = air
    side = np.zeros((4, *t.shape))
    side[[1, 3]] = corner
    inner = np.zeros((4, *t.shape))
    inner[[0, 2]] = corner
    one = {"braking": (phase > 6.0) & (phase < 6.8), "cornering": corner, "airborne_likely": (phase > 7.0) & (phase < 7.6), "airborne": air,
           "landing": land, "whoops": phase > 9.5}  # fmt: skip
    found = {name: value[None].astype(float) for name, value in one.items()}
    found |= {"cornering_outer": side, "cornering_inner": inner, "wheel_off": off}
    return {name: found[name] for name in STATES}


def _layers(states: dict[str, Any]) -> Any:
    layer = np.zeros((4, *states["braking"].shape[1:]), dtype=np.int16)
    layer[:] = np.where(states["braking"] > 0, 1, layer)
    layer[states["cornering_outer"] > 0] = 2
    layer[:] = np.where(states["airborne"] > 0, 3, layer)
    layer[:] = np.where(states["landing"] > 0, 4, layer)
    return layer


def _duties(t: Any, states: dict[str, Any]) -> dict[str, Any]:
    base = 0.25 + 0.004 * _speed(t) + 0.05 * np.sin(2 * np.pi * 1.1 * t) - 0.06 * np.arange(t.shape[1])
    compression = np.stack([base] * 4) + 0.35 * states["cornering_outer"] + 0.4 * states["landing"]
    rebound = np.stack([base + 0.08] * 4) + 0.25 * states["cornering_inner"] + 0.15 * states["airborne"]
    return {"compression": np.clip(compression, 0.0, 1.0), "rebound": np.clip(rebound, 0.0, 1.0)}


def _flags(t: Any) -> dict[str, Any]:
    phase = _phase(t)
    flags = np.zeros((4, *t.shape), dtype=np.uint8)
    flags[:, (phase > 7.6) & (phase < 7.75)] |= FLAG_SLEW
    flags[:, (phase > 7.7) & (phase < 7.9)] |= FLAG_LIMIT
    flags[:, (phase > 2.5) & (phase < 4.0)] |= FLAG_TRIM
    flags[3, (phase > 10.0) & (phase < 10.3)] |= FLAG_FAULT
    return {"compression": flags, "rebound": flags & np.uint8(FLAG_SLEW | FLAG_FAULT)}
