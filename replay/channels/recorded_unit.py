"""Units as loggers spell them, our own table first and a unit library for all else: dimension, gain and shift to SI."""

from __future__ import annotations

import contextlib
import difflib
import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from dualduty.units import UNITS, unit

_LONGEST: Final = 40  # characters
_FLAT: Final = {"²": "^2", "³": "^3", "⁻¹": "^-1", "·": "*", "⋅": "*", "μ": "µ", "˚": "°", "º": "°", "″": '"'}
# How loggers spell what is called otherwise here, or what the library would take for something else; case tells nothing in these.
_SPELLED: Final = {
    "deg/s": "deg/s", "rad/s": "rad/s", "deg": "deg", "°/sec": "deg/s", "deg/sec": "deg/s",
    "dps": "deg/s", "degs/s": "deg/s", "degree/s": "deg/s", "degrees/s": "deg/s",
    "deg/s/s": "deg/s^2", "°/s^2": "deg/s^2", "degrees": "deg", "degree": "deg", "rads": "rad",
    "rev": "turn", "revs": "turn", "rpm": "rpm", "r/min": "rpm",
    "rev/min": "rpm", "kph": "km/h", "kmh": "km/h", "kmph": "km/h", "km/hr": "km/h", "km/h": "km/h", "mph": "mph", "mi/h": "mph",
    "m/sec": "m/s", "mm/sec": "mm/s", "m/s/s": "m/s^2", "m/s2": "m/s^2", "mm/s2": "mm/s^2", "m/sec^2": "m/s^2", "ft/s2": "ft/s^2",
    "in.": "inch", '"': "inch", "inches": "inch", "in/s": "inch/s", "in/sec": "inch/s", "ips": "inch/s", "ft/sec": "ft/s", "fps": "ft/s",
    "g": "g", "g's": "g", "gs": "g", "gn": "g", "gee": "g", "mg": "mg_0", "milli-g": "mg_0", "sec": "s", "msec": "ms", "usec": "us",
    "seconds": "s", "°c": "degC", "degc": "degC", "deg c": "degC", "celsius": "degC", "°f": "degF", "degf": "degF", "deg f": "degF",
    "fahrenheit": "degF", "percent": "%", "pct": "%", "counts": "1", "bool": "1", "raw": "1", "none": "1", "n/a": "1", "bar": "bar",
    "psi": "psi", "kpa": "kPa", "volt": "V", "volts": "V", "amps": "A", "nm": "N·m", "ns/m": "N·s/m", "n/mm": "N/mm", "lbs": "lbf",
    "ft-lb": "foot_pound", "ft-lbs": "foot_pound", "ft*lb": "foot_pound", "hz": "Hz", "sample": "1", "counts/rev": "1",
}  # fmt: skip
# Dimensions by what the library calls the unit; angle is told apart by the radians in it. First come, first told.
_DIMENSIONS: Final = (
    ("number", "1"), ("length", "m"), ("time", "s"), ("frequency", "1/s"), ("speed", "m/s"), ("acceleration", "m/s^2"), ("angle", "rad"),
    ("angular speed", "rad/s"), ("angular acceleration", "rad/s^2"), ("force", "N"), ("pressure", "Pa"), ("mass", "kg"),
    ("temperature", "K"), ("voltage", "V"), ("current", "A"), ("torque", "N*m"), ("energy", "J"), ("power", "W"), ("stiffness", "N/m"),
    ("damping", "N*s/m"), ("resistance", "ohm"),
)  # fmt: skip
_SHIFTED: Final = 273.15  # K; 0 °C, by definition (BIPM, The International System of Units, 9th edition, 2.3.1): inside we say °C


@dataclass(frozen=True)
class RecordedUnit:
    """`value [SI] = gain * recorded + shift`; `dimensions` are all that the unit can stand for, the first is the one told."""

    label: str
    dimensions: tuple[str, ...]
    gain: float
    shift: float = 0.0

    @property
    def dimension(self) -> str:
        """What it measures, in words."""
        return self.dimensions[0]


@lru_cache(maxsize=256)
def recorded_unit(label: str) -> RecordedUnit:
    """A unit by its spelling in a map or a log; ValueError with near misses for one that isn't known."""
    for said in (label, _plain(label)):
        with contextlib.suppress(ValueError):
            known = unit(said)
            return RecordedUnit(label, (known.dimension,), known.factor)
    return _from_library(label, _plain(label))


def is_unit(label: str) -> bool:
    """True for a label that is known."""
    try:
        recorded_unit(label)
    except ValueError:
        return False
    return True


def _plain(label: str) -> str:
    text = " ".join(label.split())
    text = text[1:-1].strip() if text[:1] + text[-1:] in ("[]", "()") and len(text) > 1 else text
    for fancy, plain in _FLAT.items():
        text = text.replace(fancy, plain)
    found = _SPELLED.get(text.casefold(), text)
    return {"m/s^2": "m/s²"}.get(found, found)


def _from_library(label: str, said: str) -> RecordedUnit:
    registry = _registry()
    try:
        if not _well_formed(said):
            raise ValueError(said)  # noqa: TRY301 - told below with all others
        parsed = registry.parse_units(said)
        factor, root = registry.get_root_units(parsed)
        shift = float(registry.Quantity(0.0, parsed).to("kelvin").magnitude) - _SHIFTED if _is_temperature(parsed) else 0.0
        gain = float(factor) * float(registry.Quantity(1.0, root).to_base_units().magnitude)
        dimensions = _dimensions(root)
    except Exception:  # noqa: BLE001 - the library raises whatever its reader of expressions comes across
        raise ValueError(f"{label!r} is not a unit known here{_near(said)}") from None
    if not math.isfinite(gain) or gain == 0.0:
        raise ValueError(f"{label!r} is not a unit known here{_near(said)}")
    return RecordedUnit(label, dimensions, gain, shift)


def _well_formed(said: str) -> bool:
    """Words with small whole exponents: nothing to be worked out at length, no number in front."""
    word = r"(1|[^\W\d]\w*|%)((\^|\*\*)-?\d)?"
    return len(said) <= _LONGEST and re.fullmatch(rf"°?{word}(\s*[*/ ]\s*°?{word})*", said) is not None


def _is_temperature(parsed: Any) -> bool:
    return str(parsed.dimensionality) == "[temperature]"


def _dimensions(root: Any) -> tuple[str, ...]:
    alike = [name for name, label in _DIMENSIONS if _signature(_registry().get_root_units(label)[1]) == _signature(root)]
    return tuple(alike) or (str(root.dimensionality),)


def _signature(root: Any) -> tuple[Any, ...]:
    powers = dict(root._units)  # noqa: SLF001 - the library gives the parts of a unit no other way
    return tuple(sorted((name, float(power)) for name, power in powers.items() if power and name not in ("count", "bit")))


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


def _near(said: str) -> str:
    known = dict.fromkeys([*_SPELLED, *(entry.label for entry in UNITS.values()), *UNITS, "inch", "foot", "mile", "degF", "turn", "knot"])
    near = difflib.get_close_matches(said.casefold(), known, n=2)
    return f"; did you mean {' or '.join(repr(name) for name in near)}?" if near else ""
