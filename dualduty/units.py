"""The units people say, and their factors to the SI units used inside."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from math import pi
from typing import Final

STANDARD_GRAVITY: Final = 9.80665  # m/s², ISO 80000-3:2019, conventional value


@dataclass(frozen=True)
class Unit:
    """One unit: how it is printed, what it measures, and its size in SI units."""

    label: str
    dimension: str
    factor: float


_TABLE: Final = (
    # token in keys and column names, printed label, dimension, size in SI
    ("1", "1", "number", 1.0),
    ("pct", "%", "number", 0.01),
    ("m", "m", "length", 1.0),
    ("mm", "mm", "length", 1e-3),
    ("cm", "cm", "length", 1e-2),
    ("km", "km", "length", 1e3),
    ("s", "s", "time", 1.0),
    ("ms", "ms", "time", 1e-3),
    ("us", "µs", "time", 1e-6),
    ("min", "min", "time", 60.0),
    ("hz", "Hz", "frequency", 1.0),
    ("m_s", "m/s", "speed", 1.0),
    ("mm_s", "mm/s", "speed", 1e-3),
    ("km_h", "km/h", "speed", 1 / 3.6),
    ("m_s2", "m/s²", "acceleration", 1.0),
    ("g", "g", "acceleration", STANDARD_GRAVITY),
    ("rad", "rad", "angle", 1.0),
    ("deg", "deg", "angle", pi / 180),
    ("rad_s", "rad/s", "angular speed", 1.0),
    ("deg_s", "deg/s", "angular speed", pi / 180),
    ("rad_s2", "rad/s²", "angular acceleration", 1.0),
    ("n", "N", "force", 1.0),
    ("kn", "kN", "force", 1e3),
    ("n_m", "N/m", "stiffness", 1.0),
    ("n_mm", "N/mm", "stiffness", 1e3),
    ("kn_m", "kN/m", "stiffness", 1e3),
    ("ns_m", "N·s/m", "damping", 1.0),
    ("nm", "N·m", "torque", 1.0),
    ("nm_rad", "N·m/rad", "angular stiffness", 1.0),
    ("nms_rad", "N·m·s/rad", "angular damping", 1.0),
    ("n_v", "N/(m/s)", "damping", 1.0),
    ("kg", "kg", "mass", 1.0),
    ("kg_m2", "kg·m²", "inertia", 1.0),
    ("pct_s", "%/s", "rate", 0.01),
    ("1_s", "1/s", "rate", 1.0),
    ("s_rad", "s/rad", "duty per angular speed", 1.0),
    ("1_rad", "1/rad", "duty per angle", 1.0),
    ("pct_deg", "%/deg", "duty per angle", 0.01 * 180 / pi),
    ("m_s175", "m/s^1.75", "vibration dose", 1.0),
    ("m3", "m³", "displacement spectral density", 1.0),
    ("cm3", "cm³", "displacement spectral density", 1e-6),
    ("1_m", "1/m", "wavenumber", 1.0),
    ("w", "W", "power", 1.0),
    ("j", "J", "energy", 1.0),
    ("v", "V", "voltage", 1.0),
    ("a", "A", "current", 1.0),
    ("bar", "bar", "pressure", 1e5),
    ("pa", "Pa", "pressure", 1.0),
    ("kw", "kW", "power", 1e3),
    ("kpa", "kPa", "pressure", 1e3),
    ("ma", "mA", "current", 1e-3),
    ("ohm", "ohm", "resistance", 1.0),
    ("degc", "°C", "temperature", 1.0),
    ("1_k", "1/K", "temperature coefficient", 1.0),
    ("pct_k", "%/K", "temperature coefficient", 0.01),
    ("w_k", "W/K", "thermal conductance", 1.0),
    ("j_k", "J/K", "heat capacity", 1.0),
    ("kj_k", "kJ/K", "heat capacity", 1e3),
    ("n_m2", "N/m²", "progression of a rate", 1.0),
    ("n_mm2", "N/mm²", "progression of a rate", 1e6),
    ("n_rad", "N/rad", "force per angle", 1.0),
    ("n_deg", "N/deg", "force per angle", 180 / pi),
    ("1_m2", "1/m²", "bend of a ratio", 1.0),
    ("deg_g", "deg/g", "roll gradient", pi / 180 / STANDARD_GRAVITY),
    ("rad_m_s2", "rad/(m/s²)", "roll gradient", 1.0),
)

UNITS: Final[dict[str, Unit]] = {token: Unit(label, dimension, factor) for token, label, dimension, factor in _TABLE}
_BY_LABEL: Final[dict[str, Unit]] = {unit.label: unit for unit in reversed(UNITS.values())}
_ALIASES: Final[dict[str, str]] = {
    "": "1", "-": "1", "kph": "km/h", "m/s2": "m/s²", "m/s^2": "m/s²", "rad/s2": "rad/s²", "G": "g",
    "percent": "%", "°": "deg", "°/s": "deg/s", "Ns/m": "N·s/m", "N s/m": "N·s/m", "Nm": "N·m",
}  # fmt: skip


def unit(label: str) -> Unit:
    """Find a unit by printed label (``km/h``), key token (``km_h``) or common alias; ValueError names near misses."""
    label = label.strip()
    found = _BY_LABEL.get(_ALIASES.get(label, label)) or UNITS.get(label)
    if found is None:
        near = difflib.get_close_matches(label, [*_BY_LABEL, *UNITS], n=1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise ValueError(f"{label!r} is not a unit known here{hint}")
    return found


def token_of(label: str) -> str:
    """Token that stands for a unit in keys and column names: ``km/h`` -> ``km_h``."""
    wanted = unit(label)
    return next(token for token, entry in UNITS.items() if entry.label == wanted.label)


def tokens_like(label: str) -> list[str]:
    """All tokens that measure the same thing as `label`."""
    dimension = unit(label).dimension
    return [token for token, entry in UNITS.items() if entry.dimension == dimension]


def split_key(key: str, name: str) -> str | None:
    """Unit token at the end of `key` when the rest is `name`; None when the key belongs to another name."""
    if key == name:
        return ""
    if key.startswith(name + "_"):
        return key[len(name) + 1 :]
    return None


def to_si(value: float, label: str) -> float:
    """Convert from a unit people say to SI."""
    return value * unit(label).factor


def from_si(value: float, label: str) -> float:
    """Convert from SI to a unit people say."""
    return value / unit(label).factor
