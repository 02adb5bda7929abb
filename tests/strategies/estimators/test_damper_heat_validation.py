"""Oil temperature: a damper heated evenly in closed form, cooling by itself, and the plant's truth."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.lookup import Surface
from tests.strategies.estimators.lane import DT, Driven, estimate, plug_in, run, spread

Array = NDArray[np.float64]
SPEEDS, DUTIES = np.array([0.0, 2.0]), np.array([0.0, 1.0])
LINEAR = Surface(SPEEDS, DUTIES, np.array([[0.0, 0.0], [2000.0, 6000.0]]))  # 1000 N·s/m at duty 0, 3000 at 1


def temperature(ticks: int, shaft: float, speed: float = 0.0, duty: tuple[float, float] = (0.0, 1.0), **values: Any) -> Array:
    """Front-left temperature over time. [°C]"""
    made = plug_in("DamperHeat", compression=LINEAR, rebound=LINEAR, friction=0.0, fade=0.0, **values)
    given = spread(ticks, shaft_speed=[shaft] * 4, applied_compression=[duty[0]] * 4, applied_rebound=[duty[1]] * 4, vehicle_speed=speed)
    return run(made, given)["damper_temperature"][0, :, 0]  # type: ignore[no-any-return]


@pytest.mark.validates(
    "closed form: T - air = P / (h + d v) (1 - exp(-t (h + d v) / C)) for constant power P = c v^2, each side with its own duty"
)
@pytest.mark.parametrize(("shaft", "power"), [(1.0, 1000.0), (-1.0, 3000.0)])
def test_even_heating(shaft: float, power: float) -> None:
    found = temperature(60_000, shaft, speed=10.0, air=20.0, start=20.0)
    seconds, cooling = 60_000 * DT, 9.0 + 8.0
    assert found[-1] - 20.0 == pytest.approx(power / cooling * -np.expm1(-seconds * cooling / 2600.0), rel=1e-4)  # Euler steps of 2 ms


@pytest.mark.validates("Newton's law of cooling: a hot damper in still air falls by exp(-t h / C)")
def test_cooling() -> None:
    assert temperature(60_000, 0.0, start=80.0, air=20.0)[-1] == pytest.approx(20.0 + 60.0 * np.exp(-120.0 * 9.0 / 2600.0), rel=1e-4)


@pytest.mark.validates("plant truth: oil temperature of a lane, which knows valves, zones and crosstalk that the estimate doesn't")
def test_on_the_lane(driven: Driven) -> None:
    told = estimate(driven, ["damper_temperature"])["damper_temperature"]
    for section in driven.names:
        change, true = (driven.cut(array, section)[:, -1] - 40.0 for array in (told, driven.truth["oil_temperature"]))
        assert change == pytest.approx(true, abs=0.35)  # measured 0.27 K at the front on whoops, which warm it by 1.2 K; 0.06 elsewhere
    whoops = driven.cut(told, "whoops")[:, -1] - driven.cut(told, "whoops")[:, 0]
    assert (whoops > 1.0).all()
