"""A sheet of loops made up for the tests, with every number known."""

from __future__ import annotations

import numpy as np

GAS, RATE, FRICTION, LAG = 240.0, 500.0, 36.0, 0.002  # N, N/m, N, s
PEAKS, AMPLITUDE, CROSSTALK = (0.1, 0.5, 1.5), 0.05, 0.05  # m/s, m, of compression
TOP = [
    "# provenance: made up for a test", "# serial: T-1", "# build: A", "# vehicle: marram", "# corner: rear_left", "# date: 2026-01-05",
    "# sign: compression_positive", "# oil_temperature_degc: 40", "# gas_pressure_bar: 14", "# warm_up: 20 strokes", "# waveform: sine",
    "# stroke_mm: 280", "# repeats: 2",
]  # fmt: skip


def rate_of(side: float, duty: float) -> float:
    """Damping of the made-up damper: linear in speed, so that the truth is a closed form. [N/(m/s)]"""
    return (900.0 if side > 0.0 else 1400.0) * (1.0 + 3.0 * duty)


def loop_rows(peak: float, amplitude: float, duties: tuple[float, float], repeat: int, made: tuple[float, float]) -> list[str]:
    """Two cycles of a sine about mid-stroke; the damper follows speed with a lag."""
    noise, lag = made
    omega = peak / amplitude
    time = np.arange(0.0, 2.0 * 2.0 * np.pi / omega, 2.0 * np.pi / omega / 160.0)
    rng = np.random.default_rng([repeat, int(1e3 * peak), int(100 * duties[0]), int(100 * duties[1])])
    travel = 0.14 + amplitude * np.sin(omega * time + 0.3)
    speed, late = (amplitude * omega * np.cos(omega * (time - late_by) + 0.3) for late_by in (0.0, lag))
    rates = np.where(late > 0.0, rate_of(1.0, duties[0]) * (1.0 + CROSSTALK * duties[1]), rate_of(-1.0, duties[1]))
    force = GAS + RATE * travel + FRICTION * np.sign(speed) + rates * late + rng.normal(0.0, noise, time.size)
    travel = travel + rng.normal(0.0, 1e-5 * (noise > 0.0), time.size)
    said = f"{duties[0] * 100:g},{duties[1] * 100:g},{repeat}"
    return [f"{1e3 * t:.4f},{1e3 * x:.5f},{f:.3f},{said}" for t, x, f in zip(time, travel, force, strict=True)]


def loops_text(noise: float = 0.0, lag: float = LAG) -> str:
    """A sheet of loops as text: a crawl, and three speeds at three duties a side with one grid pair."""
    lines = [*TOP, "time_ms,travel_mm,force_n,compression_duty_pct,rebound_duty_pct,repeat"]
    for repeat in (1, 2):
        lines += loop_rows(0.006, 0.08, (0.0, 0.0), repeat, (noise, lag))
        for duties in ((0.0, 0.0), (0.5, 0.0), (1.0, 0.0), (0.0, 0.5), (0.0, 1.0), (1.0, 1.0)):
            for peak in PEAKS:
                lines += loop_rows(peak, AMPLITUDE, duties, repeat, (noise, lag))
    return "\n".join(lines) + "\n"
