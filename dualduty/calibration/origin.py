"""Where a value of a calibration comes from, and what is noticed of a value that names some drive modes and not the others."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from dualduty.units import unit

if TYPE_CHECKING:
    from dualduty.calibration.settings import Value


@dataclass(frozen=True)
class Origin:
    """Which file and key gave a drive mode its value, and whether the mode was named there; no file: nothing said it."""

    file: str = ""
    key: str = ""
    named: bool = False


def modes_reached(said: Any, modes: Sequence[str]) -> dict[str, bool]:
    """Drive modes that a value reaches as it is written in a file, each with whether it is named."""
    if not isinstance(said, dict):
        return dict.fromkeys(modes, False)
    reached: dict[str, bool] = {}
    for key, inner in said.items():
        for mode, named in ({key: True} if key in modes else modes_reached(inner, modes)).items():
            reached[mode] = reached.get(mode, False) or named
    return reached


def origins_after(before: Sequence[Origin], said: Any, modes: Sequence[str], place: tuple[str, str]) -> tuple[Origin, ...]:
    """Origins by drive mode once `said`, in the file and under the key of `place`, is laid over them."""
    reached = modes_reached(said, modes)
    known = before or [Origin()] * len(modes)
    return tuple(Origin(*place, reached[mode]) if mode in reached else origin for mode, origin in zip(modes, known, strict=True))


def unnamed_modes(value: Value, modes: Sequence[str], files: Sequence[Path]) -> Iterator[str]:
    """A line for every group of drive modes that a value given by drive mode leaves out, and what stands for them instead."""
    named = [origin for origin in value.origins if origin.named]
    if not named:
        return
    newest = max(named, key=lambda origin: [str(file) for file in files].index(origin.file))
    given = _listed([mode for mode, origin in zip(modes, value.origins, strict=True) if origin.named])
    groups: dict[str, list[str]] = {}
    for index, origin in enumerate(value.origins):
        if not origin.named:
            groups.setdefault(f"{_amount(value, index)}, {_source(value, origin)}", []).append(modes[index])
    for instead, left_out in groups.items():
        verb = "has" if len(left_out) == 1 else "have"
        yield f"{newest.file}: {newest.key}: given for {given} only; {_listed(left_out)} {verb} {instead}"


def _source(value: Value, origin: Origin) -> str:
    if origin.file:
        return f"which {Path(origin.file).name} gives without naming a drive mode"
    return "the vehicle's number" if value.declaration.from_car else "the declared default"


def _amount(value: Value, mode: int) -> str:
    said = unit(value.declaration.said)
    numbers = np.unique(value.values[..., mode, :] / said.factor)
    text = f"{numbers[0]:.6g}" if numbers.size == 1 else f"{numbers[0]:.6g} to {numbers[-1]:.6g}"
    return text if said.label == "1" else f"{text} {said.label}"


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
