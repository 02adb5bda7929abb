"""Read what a calibration file says about one plug-in onto its settings.

A key is the parameter's name with its unit (`on_g`, `hold_ms`; a bare name where there is no unit). A value is a
number, or a table that narrows it by drive mode and by corner or axle: `{ dash = { front = 65 } }` leaves the rest as
it was. A curve is a table with its axis (`vehicle_speed_km_h = [...]`) and its values under their unit (`pct = [...]`).
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.origin import Origin, origins_after
from dualduty.calibration.settings import Settings, Value
from dualduty.errors import BadInput
from dualduty.parameters import Axis, Declaration
from dualduty.signals import ROLES
from dualduty.units import UNITS, split_key, token_of, tokens_like, unit

Array = NDArray[np.float64]


_TYPO: Final = 0.85  # likeness of two keys above which one is a slip of the other and not a unit nobody knows


@dataclass
class Filler:
    """Applies tables of one file to settings and collects every problem with its place."""

    file: str
    modes: tuple[str, ...]
    problems: list[BadInput] = field(default_factory=list)

    def fill(self, settings: Settings, table: dict[str, Any], place: str) -> Settings:
        """`settings` with what `table` says laid over them."""
        result = dict(settings)
        keys: dict[str, str] = {}
        for key, said in table.items():
            here = f"{place}.{key}"
            name, token = self._split(key, settings, here)
            if name is None:
                continue
            if name in keys:
                self.problem(here, f"{name} is given twice, also as {keys[name]!r}")
                continue
            keys[name] = key
            value = settings[name]
            if value.declaration.axes:
                result[name] = self._table(value, said, here)
            else:
                scale = self._scale(value.declaration, token, name, here)
                if scale is not None:
                    spread = self._spread(value, value.values, said, (scale, token), here)
                    result[name] = replace(value, values=spread, origins=self._origins(value, said, here))
        return result

    def problem(self, place: str, text: str) -> None:
        """Note one thing that can't be used."""
        self.problems.append(BadInput(f"{self.file}: {place}", text))

    def _split(self, key: str, settings: Settings, here: str) -> tuple[str | None, str]:
        matches = [(name, token) for name in settings if (token := split_key(key, name)) is not None]
        exact = [(name, token) for name, token in matches if token == "" or token in UNITS]
        if exact:
            return max(exact, key=lambda pair: len(pair[0]))
        keys = [written(value.declaration) for value in settings.values()]
        near = difflib.get_close_matches(key, keys, n=1, cutoff=_TYPO)
        if matches and not near:
            name, token = max(matches, key=lambda pair: len(pair[0]))
            wanted = " or ".join(tokens_like(settings[name].declaration.unit))
            self.problem(here, f"unit {token!r} is not known; expected {name}_ with {wanted}")
            return None, ""
        near = near or difflib.get_close_matches(key, keys, n=1, cutoff=0.5)
        self.problem(
            here, f"unknown key; did you mean {near[0]!r}?" if near else f"unknown key; expected one of {', '.join(keys) or 'none'}"
        )
        return None, ""

    def _scale(self, declaration: Declaration, token: str, name: str, here: str) -> float | None:
        wanted = unit(declaration.unit)
        if token == "" and wanted.dimension == "number" and declaration.said == "1":
            return 1.0
        likes = tokens_like(declaration.unit)
        if token in likes:
            return UNITS[token].factor
        if token == "":
            self.problem(here, f"the key names the unit: expected {' or '.join(f'{name}_{like}' for like in likes if like != '1')}")
        else:
            self.problem(
                here, f"{UNITS[token].label} is a unit of {UNITS[token].dimension}; expected {wanted.dimension}: {' or '.join(likes)}"
            )
        return None

    def _origins(self, value: Value, said: Any, here: str) -> tuple[Origin, ...]:
        return origins_after(value.origins, said, self.modes, (self.file, here))

    def _spread(self, value: Value, onto: Array, said: Any, scale: tuple[float, str], here: str) -> Array:
        """Copy of `onto` (*points, mode, 4) with a nested value written into the modes and corners it names."""
        out = onto.copy()
        self._write(value, out, said, scale, (list(range(len(self.modes))), list(range(4))), here)
        return out

    def _write(self, value: Value, out: Array, said: Any, scale: tuple[float, str], block: tuple[list[int], list[int]], here: str) -> None:
        if isinstance(said, dict):
            if clash := self._clash(said):
                self.problem(here, clash)
                return
            for key, inner in sorted(said.items(), key=lambda item: len(ROLES.get(item[0], "....")), reverse=True):
                narrowed = self._narrow(value.declaration, key, block, f"{here}.{key}")
                if narrowed is not None:
                    self._write(value, out, inner, scale, narrowed, f"{here}.{key}")
            return
        numbers = self._numbers(value, out, said, scale, here)
        if numbers is not None:
            out[..., np.ix_(*block)[0], np.ix_(*block)[1]] = numbers[..., None, None]

    def _clash(self, said: dict[str, Any]) -> str:
        """Why the keys of one table can't stand side by side; empty where they can."""
        roles = [key for key in said if key in ROLES]
        if roles and any(key in self.modes for key in said):
            return f"drive modes and corners side by side ({', '.join(said)}): which one wins? Put the corners inside each mode"
        for first, second in combinations(roles, 2):
            both, smaller = set(ROLES[first]) & set(ROLES[second]), min(len(ROLES[first]), len(ROLES[second]))
            if both and len(both) < smaller:
                return f"{first} and {second} overlap at one corner: which one wins? Name the corners"
        return ""

    def _narrow(
        self, declaration: Declaration, key: str, block: tuple[list[int], list[int]], here: str
    ) -> tuple[list[int], list[int]] | None:
        modes, corners = block
        if key in self.modes:
            index = self.modes.index(key)
            if index in modes:
                return [index], corners
        elif key in ROLES:
            inside = [corner for corner in ROLES[key] if corner in corners]
            if inside and declaration.by_corner:
                return modes, inside
            if not declaration.by_corner:
                self.problem(here, f"{declaration.name} holds for the whole vehicle and can't differ by corner")
                return None
        known = [*self.modes, *ROLES] if declaration.by_corner else list(self.modes)
        near = difflib.get_close_matches(key, known, n=1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        self.problem(here, f"expected a drive mode ({', '.join(self.modes)}) or a corner or axle ({', '.join(ROLES)}), got {key!r}{hint}")
        return None

    def _numbers(self, value: Value, out: Array, said: Any, scale: tuple[float, str], here: str) -> Array | None:
        wanted = out.shape[:-2]
        is_switch = not scale[1] and (value.declaration.low, value.declaration.high) == (0.0, 1.0)
        array = as_numbers(float(said) if isinstance(said, bool) and is_switch else said)
        if array is None or array.shape != wanted:
            expected = "a number" if not wanted else f"{' x '.join(str(n) for n in wanted)} numbers, one per breakpoint"
            self.problem(here, f"expected {expected}, got {said!r}")
            return None
        numbers = array * scale[0]
        bad = np.argwhere(np.atleast_1d(value.declaration.outside(numbers)))
        if len(bad):
            self._out_of_range(value.declaration, np.atleast_1d(array)[tuple(bad[0])], scale, here)
            return None
        return numbers

    def _out_of_range(self, declaration: Declaration, got: float, scale: tuple[float, str], here: str) -> None:
        label = UNITS[scale[1]].label if scale[1] else declaration.said
        low, high = declaration.low / scale[0], declaration.high / scale[0]
        bound = f"below {low:.6g}" if got * scale[0] < declaration.low else f"above {high:.6g}"
        self.problem(here, f"= {got:.6g} {label} is {bound} {label}" if np.isfinite(got) else f"= {got} is not a number")

    def _table(self, value: Value, said: Any, here: str) -> Value:
        if not isinstance(said, dict):
            self.problem(
                here, f"expected a table with {_axis_keys(value.declaration)} and {token_of(value.declaration.said)}, got {said!r}"
            )
            return value
        rest = dict(said)
        points = tuple(self._axis(axis, old, rest, here) for axis, old in zip(value.declaration.axes, value.points, strict=True))
        moved = any(not np.array_equal(new, old) for new, old in zip(points, value.points, strict=True))
        shape = (*(len(p) for p in points), *value.values.shape[-2:])
        onto, origins = np.full(shape, np.nan) if moved else value.values, value.origins
        if not rest and moved:
            self.problem(here, "the breakpoints changed: expected values for every drive mode with them")
        for key, values in rest.items():
            unit_key = key if key in tokens_like(value.declaration.unit) else None
            if unit_key is None:
                self.problem(
                    f"{here}.{key}",
                    f"expected {_axis_keys(value.declaration)} or values under {' or '.join(tokens_like(value.declaration.unit))}",
                )
            else:
                onto = self._spread(value, onto, values, (UNITS[unit_key].factor, unit_key), f"{here}.{key}")
                origins = self._origins(replace(value, origins=origins), values, f"{here}.{key}")
        if np.isnan(onto).any() and rest and not self.problems:
            self.problem(here, "the breakpoints changed: expected values for every drive mode and corner with them")
        return replace(value, points=points, values=onto, origins=origins)

    def _axis(self, axis: Axis, old: Array, rest: dict[str, Any], here: str) -> Array:
        keys = [key for key in rest if split_key(key, axis.name) is not None]
        if not keys:
            return old
        key = keys[0]
        token = split_key(key, axis.name) or ""
        said = rest.pop(key)
        if token not in tokens_like(axis.unit):
            self.problem(f"{here}.{key}", f"expected {axis.name}_ with {' or '.join(tokens_like(axis.unit))}")
            return old
        points = as_numbers(said)
        if points is None or points.ndim != 1 or len(points) < 1 or not (np.diff(points) > 0).all() or not np.isfinite(points).all():
            self.problem(f"{here}.{key}", f"expected a list of rising numbers, got {said!r}")
            return old
        return points * UNITS[token].factor


def as_numbers(said: Any) -> Array | None:
    """`said` as a float array when it is numbers all through; None otherwise."""
    if isinstance(said, bool | str) or (isinstance(said, list) and not _all_numbers(said)):
        return None
    try:
        return np.asarray(said, float)
    except (TypeError, ValueError, OverflowError):
        return None


def _all_numbers(said: list[Any]) -> bool:
    return all(_all_numbers(x) if isinstance(x, list) else isinstance(x, int | float) and not isinstance(x, bool) for x in said)


def written(declaration: Declaration) -> str:
    """The key under which a parameter is usually written: name and said unit."""
    if declaration.axes or declaration.said == "1":
        return declaration.name
    return f"{declaration.name}_{token_of(declaration.said)}"


def _axis_keys(declaration: Declaration) -> str:
    return ", ".join(f"{axis.name}_{token_of(axis.said)}" for axis in declaration.axes)
