"""The force map that a request asks for: the base with every wish worked in, blended out and kept in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.damper_map import DamperMap
from dualduty.dyno.base_maps import BaseMap
from dualduty.dyno.common_grid import sample
from dualduty.dyno.regions import say_speed
from dualduty.dyno.request import Request, Span, Wish
from dualduty.errors import BadInput

Array = NDArray[np.float64]

_TOLD_FORCE: Final = 1.0  # N; smaller corrections are rounding
_SAME: Final = 0.03  # a machine hits its set speed within about 2 %, common practice: such a point still belongs to the range
_REACHED: Final = 1e-9
_TINY: Final = 1.0  # N; keeps shares finite where a map starts near no force


@dataclass(frozen=True, eq=False)
class Target:
    """One asked map beside its base, and the wishes that shaped it (none: it shall stay as it is)."""

    base: BaseMap
    map: DamperMap
    wishes: tuple[Wish, ...]
    notices: tuple[str, ...]


def weight(span: Span, values: Array) -> Array:
    """Share of a wish that holds at given shaft speeds or duties: 0 outside, 1 wholly inside, straight between."""
    rise = np.ones(values.shape) if np.isnan(span.below) else np.clip((values - span.below) / (span.low - span.below), 0.0, 1.0)
    if not np.isfinite(span.above):
        return rise
    return np.minimum(rise, np.clip((span.above - values) / (span.above - span.high), 0.0, 1.0))


def wish_weight(wish: Wish, speeds: Array, duties: Array) -> Array:
    """Share of a wish over shaft speed [m/s] and duty [1], (speed, duty)."""
    return weight(wish.speed, speeds)[:, None] * weight(wish.duty, duties)[None, :]


def in_full(wish: Wish, speeds: Array, duties: Array) -> NDArray[np.bool_]:
    """Where a wish names what it wants: in its range of speeds and duties, not where it is merely held on. (speed, duty)."""
    parts = [
        (values >= span.low * (1 - _SAME)) & (values <= span.high * (1 + _SAME))
        for span, values in ((wish.speed, speeds), (wish.duty, duties))
    ]
    return parts[0][:, None] & parts[1][None, :]


def targets(request: Request, bases: Sequence[BaseMap]) -> list[Target]:
    """The asked map of every base map, those without a wish included; BadInput where a wish can't be had in order."""
    return [_target(request, base, [wish for wish in request.wishes if _concerns(wish, base)]) for base in bases]


def _concerns(wish: Wish, base: BaseMap) -> bool:
    """Whether a wish is about this map; one corner of an axle's nominal map alone can't be asked for."""
    if wish.side != base.side or not set(wish.corners) & set(base.corners):
        return False
    if set(base.corners) <= set(wish.corners):
        return True
    raise BadInput(
        f"wish[{wish.number}]: corners",
        f"{base.origin} holds for both {base.label.split()[0]} corners; name sheets as base to ask for one corner",
    )


def _target(request: Request, base: BaseMap, wishes: list[Wish]) -> Target:
    if not wishes:
        return Target(base, base.map, (), ())
    _check_reach(request, base, wishes)
    speeds, duties = _grid(base.map, wishes)
    plain = sample(base.map, speeds, duties)
    wanted = plain + sum(_difference(wish, base, speeds, duties) for wish in wishes)
    full = np.any([in_full(wish, speeds, duties) for wish in wishes], axis=0)
    kept = _in_order(wanted, full)
    notices = _moved((request.file, base), wishes, (speeds, duties), wanted, kept)
    source = f"{request.file}: asked {base.label}"
    return Target(base, DamperMap(speeds, duties, kept, source), tuple(wishes), (*notices, *_overlaps(base, wishes, speeds, duties)))


def _check_reach(request: Request, base: BaseMap, wishes: list[Wish]) -> None:
    top = float(base.map.speeds[-1])
    for wish in wishes:
        if wish.speed.high > top * (1 + _SAME):
            place = f"{request.file}: wish[{wish.number}]"
            raise BadInput(
                place, f"{wish.speed.high:g} m/s is beyond the last tested shaft speed of {base.label}, {top:g} m/s ({base.origin})"
            )


def _grid(base: DamperMap, wishes: list[Wish]) -> tuple[Array, Array]:
    """Tested points of the base, and the points at which a blend bends where none was tested."""
    speeds = [knot for wish in wishes for knot in (*wish.speed.knots(), *wish.speeds)]
    duties = [knot for wish in wishes for knot in wish.duty.knots()]
    return _with_knots(base.speeds, speeds), _with_knots(base.duties, duties)


def _with_knots(points: Array, knots: list[float]) -> Array:
    inside = [knot for knot in knots if points[0] < knot < points[-1] and np.abs(points / knot - 1.0).min() > _SAME]
    return np.unique(np.r_[points, np.round(inside, 6)])


def _difference(wish: Wish, base: BaseMap, speeds: Array, duties: Array) -> Array:
    """What a wish adds to the base, (speed, duty). [N]"""
    plain = sample(base.map, speeds, duties)
    share = wish_weight(wish, speeds, duties)
    if wish.share is not None:
        return share * wish.share * plain
    if wish.force is not None:
        return np.where(speeds[:, None] > 0.0, share * wish.force, 0.0)
    ends = np.clip(speeds, wish.speeds[0], wish.speeds[-1])  # beyond its points a wanted force keeps its ratio to the base
    wanted = np.interp(ends, wish.speeds, wish.forces)[:, None]
    return share * plain * (wanted / np.maximum(sample(base.map, ends, duties), _TINY) - 1.0)


def _in_order(wanted: Array, full: NDArray[np.bool_]) -> Array:
    """Force that rises or stays level with speed and duty: lifted or lowered, whichever leaves the wishes more in peace."""
    wanted = np.maximum(wanted, 0.0)
    lifted = np.maximum.accumulate(np.maximum.accumulate(wanted, axis=0), axis=1)
    lowered = np.minimum.accumulate(np.minimum.accumulate(wanted[::-1, ::-1], axis=0), axis=1)[::-1, ::-1]
    return min(
        (lifted, lowered), key=lambda each: (float(np.abs(each - wanted)[full].max(initial=0.0)), float(np.abs(each - wanted).max()))
    )


def _moved(place: tuple[Path, BaseMap], wishes: list[Wish], grid: tuple[Array, Array], wanted: Array, kept: Array) -> list[str]:
    """Say where the order of forces changed what was asked; too much inside a wish can't be had."""
    file, base = place
    moved = np.abs(kept - wanted)
    for wish in wishes:
        inside = moved * in_full(wish, *grid)
        row, column = np.unravel_index(int(inside.argmax()), inside.shape)
        if inside[row, column] > max(wish.tolerance * wanted[row, column], _TOLD_FORCE):
            asked, held = f"{wanted[row, column]:.0f} N {_at(grid, row, column)}", f"{kept[row, column]:.0f} N"
            problem = f"{asked} would make the force fall with rising speed or duty; in order it is {held}"
            raise BadInput(f"{file}: wish[{wish.number}]", f"{base.label}: {problem}. Ask for less, or blend over a wider range")
    row, column = np.unravel_index(int(moved.argmax()), moved.shape)
    if moved[row, column] <= _TOLD_FORCE:
        return []
    most = f"{kept[row, column] - wanted[row, column]:+.0f} N beside the wishes ({_at(grid, row, column)})"
    return [f"{base.label}: kept in order, so up to {most}"]


def _at(grid: tuple[Array, Array], row: np.intp, column: np.intp) -> str:
    return f"at {say_speed(grid[0][row])} m/s, {100 * grid[1][column]:g} % duty"


def _overlaps(base: BaseMap, wishes: list[Wish], speeds: Array, duties: Array) -> list[str]:
    return [
        f"{base.label}: wishes {first.number} and {second.number} overlap; their changes add up"
        for place, first in enumerate(wishes)
        for second in wishes[place + 1 :]
        if (wish_weight(first, speeds, duties) * wish_weight(second, speeds, duties) > _REACHED).any()
    ]
