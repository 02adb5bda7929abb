"""What differs between two calibrations, in the words and units people use."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration, LayerPlan
from dualduty.calibration.settings import Value
from dualduty.signals import ROLES
from dualduty.units import from_si, unit

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Change:
    """One changed value.

    `place` and `parameter` name it; `at` is the breakpoint of a curve ("at 40 km/h"); `mode` and `corners` say where it
    holds; `before` and `after` are in `unit`. A structural change has text in `before` and `after` and no unit.
    """

    place: str
    parameter: str
    at: str
    mode: str
    corners: str
    before: float | str
    after: float | str
    unit: str

    def to_row(self) -> dict[str, Any]:
        """As a plain dict."""
        return asdict(self)

    def __str__(self) -> str:
        where = ", ".join(part for part in (self.mode, self.corners, self.at) if part)
        values = [f"{value:.6g}" if isinstance(value, float) else value for value in (self.before, self.after)]
        return f"{self.place}.{self.parameter} ({where}): {values[0]} -> {values[1]} {self.unit}".replace(" ()", "").rstrip()


def differences(baseline: Calibration, candidate: Calibration) -> list[Change]:
    """Everything in which `candidate` differs from `baseline`, structure first."""
    return [*_structure(baseline, candidate), *_values(baseline, candidate)]


def _structure(baseline: Calibration, candidate: Calibration) -> Iterator[Change]:
    before = {layer.name: layer for layer in baseline.layers}
    after = {layer.name: layer for layer in candidate.layers}
    for name in [*before, *(name for name in after if name not in before)]:
        if name not in after:
            yield _text(f"layers.{name}", "layer", "present", "removed")
        elif name not in before:
            yield _text(f"layers.{name}", "layer", "absent", f"added ({', '.join(after[name].laws)}, {after[name].act})")
        else:
            yield from _words(before[name], after[name])
    kept = [name for name in before if name in after]
    if kept != [name for name in after if name in before]:
        yield _text("layers", "order", _joined(tuple(kept)), _joined(tuple(name for name in after if name in before)))
    if baseline.suppliers != candidate.suppliers:
        yield _text("suppliers", "order", _joined(baseline.suppliers), _joined(candidate.suppliers))


def _words(before: LayerPlan, after: LayerPlan) -> Iterator[Change]:
    """What a layer says about itself and now says otherwise."""
    for word in ("laws", "act", "join", "when", "unless", "corners"):
        old, new = getattr(before, word), getattr(after, word)
        if old != new:
            yield _text(f"layers.{after.name}", word, _joined(old), _joined(new))


def _text(place: str, parameter: str, before: str, after: str) -> Change:
    return Change(place, parameter, "", "", "", before, after, "")


def _joined(value: Any) -> str:
    return (", ".join(value) or "none") if isinstance(value, tuple) else str(value)


def _values(baseline: Calibration, candidate: Calibration) -> Iterator[Change]:
    before = {(place, name): value for place, name, value in baseline.values()}
    for place, name, value in candidate.values():
        old = before.get((place, name))
        if old is None or value.same_as(old):
            continue
        if _same_points(old, value):
            yield from _cells(place, old, value, candidate.modes)
        else:
            yield _text(place, name, _breakpoints(old), _breakpoints(value))
            yield from _cells(place, _resampled(old, value), value, candidate.modes)


def _same_points(old: Value, new: Value) -> bool:
    return all(np.array_equal(a, b) for a, b in zip(old.points, new.points, strict=True))


def _breakpoints(value: Value) -> str:
    parts = []
    for axis, points in zip(value.declaration.axes, value.points, strict=True):
        said = ", ".join(f"{from_si(p, axis.said):.6g}" for p in points)
        parts.append(f"{axis.name} [{said}] {unit(axis.said).label}")
    return "breakpoints " + " x ".join(parts)


def _resampled(old: Value, new: Value) -> Value:
    """The old curve read off at the new breakpoints, so that both can be compared point by point."""
    if len(old.points) != 1:
        return Value(old.declaration, new.points, np.full_like(new.values, np.nan))
    columns = old.values.reshape(len(old.points[0]), -1)
    read = np.stack([np.interp(new.points[0], old.points[0], column) for column in columns.T], axis=-1)
    return Value(old.declaration, new.points, read.reshape(new.values.shape))


def _cells(place: str, old: Value, new: Value, modes: tuple[str, ...]) -> Iterator[Change]:
    declaration = new.declaration
    said = unit(declaration.said)
    for point in np.ndindex(new.values.shape[:-2]):
        for mode, label in enumerate(modes):
            before, after = old.values[(*point, mode)], new.values[(*point, mode)]
            for corners, index in _groups(before, after):
                yield Change(
                    place, declaration.name, _at(new, point), label, corners if declaration.by_corner else "",
                    _clean(before[index] / said.factor), _clean(after[index] / said.factor), said.label,
                )  # fmt: skip


def _clean(value: float) -> float:
    """Drop the last digits that only unit conversion put there."""
    return float(f"{value:.12g}")


def _at(value: Value, point: tuple[int, ...]) -> str:
    parts = [
        f"{axis.name.replace('_', ' ')} {from_si(points[index], axis.said):.6g} {unit(axis.said).label}"
        for axis, points, index in zip(value.declaration.axes, value.points, point, strict=True)
    ]
    return ", ".join(parts)


def _groups(before: Array, after: Array) -> Iterator[tuple[str, int]]:
    """Corners that changed, gathered to axles or the whole vehicle where both values agree."""
    changed = [corner for corner in range(4) if before[corner] != after[corner]]
    for name, corners in (("all", (0, 1, 2, 3)), *ROLES.items()):
        inside = all(corner in changed for corner in corners)
        if inside and all(before[c] == before[corners[0]] and after[c] == after[corners[0]] for c in corners):
            yield name.replace("_", "-"), corners[0]
            changed = [corner for corner in changed if corner not in corners]
