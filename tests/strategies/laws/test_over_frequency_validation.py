"""On-off skyhook, acceleration-driven, their mix and power-driven, sine by sine: who is best where."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pytest

from tests.strategies.laws.plain_laws import acceleration_driven, passive, power_driven, skyhook_and_acceleration, skyhook_on_off
from tests.strategies.laws.quarter_car import SET_A, Array, Bench, sines

HERTZ: Final = np.array([0.6, 1.0, 1.2, 1.4, 1.6, 2.0, 2.6, 3.6, 5.0, 7.0, 10.0, 15.0, 20.0])
SAVARESI: Final = "Savaresi and Spelta, ASME J. DSMC 129 (2007) 382-392, abstract; valve of 50 Hz, single sines, corner A"
BODY: Final = 1.0  # Hz, next to the body's resonance, 1.1 Hz


def gain(law: Any) -> Array:
    """Body acceleration over ground height, r.m.s. over r.m.s., by frequency. [1/s²]"""
    drive = Bench(SET_A).drive(law, sines(HERTZ, 12.0))
    return np.asarray(drive.rms("acceleration", 5.0) / (0.001 / np.sqrt(2.0)))


@pytest.fixture(scope="module")
def gains() -> dict[str, Array]:
    """Gains by law."""
    laws = {
        "soft": passive(np.full(len(HERTZ), SET_A.soft), SET_A),
        "middle": passive(np.full(len(HERTZ), 1500.0), SET_A),
        "skyhook": skyhook_on_off(),
        "acceleration": acceleration_driven(),
        "mix": skyhook_and_acceleration(),
        "power": power_driven(),
    }
    return {name: gain(law) for name, law in laws.items()}


def at(hertz: float) -> int:
    """Where a frequency stands."""
    return int(np.flatnonzero(hertz == HERTZ)[0])


@pytest.mark.validates(SAVARESI)
def test_skyhook_takes_away_the_body_resonance(gains: dict[str, Array]) -> None:
    # measured 0.226 of soft, which hasn't quite settled after 7 s; 0.562 of a middle setting; acceleration-driven 1.92 times it
    assert gains["skyhook"][at(BODY)] < 0.26 * gains["soft"][at(BODY)]
    assert gains["skyhook"][at(BODY)] < 0.6 * gains["middle"][at(BODY)]
    assert gains["acceleration"][at(BODY)] > 1.7 * gains["skyhook"][at(BODY)]


@pytest.mark.validates(SAVARESI)
def test_acceleration_driven_is_the_better_one_beyond_it(gains: dict[str, Array]) -> None:
    beyond = HERTZ >= 1.6
    assert (gains["acceleration"] < gains["skyhook"])[beyond].all()
    assert (gains["acceleration"] > gains["skyhook"])[HERTZ <= 1.2].all()


@pytest.mark.validates(SAVARESI + "; the claim holds against a middle fixed setting only")
def test_beyond_the_resonance_skyhook_is_like_a_middle_fixed_setting_and_much_worse_than_soft(gains: dict[str, Array]) -> None:
    beyond = (HERTZ >= 6.0) & (HERTZ <= 16.0)
    assert 0.8 < np.mean(gains["skyhook"] / gains["middle"], where=beyond) < 1.4  # measured 1.24; against soft 2.8 to 4
    assert (gains["skyhook"] > 2.0 * gains["soft"])[beyond].all()


@pytest.mark.validates(SAVARESI)
def test_the_mix_follows_the_lower_of_the_two(gains: dict[str, Array]) -> None:
    ratio = gains["mix"] / np.minimum(gains["skyhook"], gains["acceleration"])
    assert np.median(ratio) < 1.06  # measured 1.036
    assert ratio.max() < 1.2  # measured 1.15


@pytest.mark.validates("Morselli and Zanasi, Mechatronics 18 (2008) 364-369 (from memory); corner A, valve of 50 Hz")
def test_power_driven_is_acceleration_driven_without_its_switch(gains: dict[str, Array]) -> None:
    between = (HERTZ >= 1.0) & (HERTZ <= 7.0)
    apart = gains["power"] / gains["acceleration"] - 1.0
    assert np.abs(apart[between]).max() < 0.06  # measured 0.040
