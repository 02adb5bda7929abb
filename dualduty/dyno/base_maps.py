"""What a request starts from: nominal maps by axle, or the maps of single dampers by corner."""

from __future__ import annotations

from dataclasses import dataclass

from dualduty.damper_map import DamperMap
from dualduty.dyno.request import Request
from dualduty.errors import BadInput
from dualduty.signals import CORNER_LABELS, CORNERS, SIDES


@dataclass(frozen=True, eq=False)
class BaseMap:
    """One map that a wish can change, for `corners`; `name` as in front_compression or rear_left_rebound."""

    name: str
    label: str
    side: str
    corners: tuple[int, ...]
    map: DamperMap
    origin: str


def read_base(request: Request) -> list[BaseMap]:
    """The maps of a request's base; BadInput where a wish's corner has none, or a corner has two."""
    found = _of_vehicle(request) if request.vehicle is not None else _of_sheets(request)
    for wish in request.wishes:
        missing = [corner for corner in wish.corners if not any(corner in base.corners and base.side == wish.side for base in found)]
        if missing:
            raise BadInput(f"{request.file}: wish[{wish.number}]: corners", f"the base has no sheet for {CORNER_LABELS[missing[0]]}")
    return found


def _of_vehicle(request: Request) -> list[BaseMap]:
    from dualduty.car import read_car

    assert request.vehicle is not None  # noqa: S101 - asked by the caller
    car = read_car(request.vehicle)
    axles = (("front", (0, 1)), ("rear", (2, 3)))
    return [
        BaseMap(f"{axle}_{side}", f"{axle} {side}", side, corners, car.damper_map(side, corners[0]), f"nominal map of {car.name}")
        for axle, corners in axles
        for side in SIDES
    ]


def _of_sheets(request: Request) -> list[BaseMap]:
    from dualduty.dyno.reading import read_sheets

    sheets = [sheet for path in request.sheets for sheet in read_sheets(path)]
    for sheet in sheets:
        same = [other.serial for other in sheets if other.corner == sheet.corner]
        if len(same) > 1:
            raise BadInput(f"{request.file}: base.sheets", f"expected one damper a corner, came {' and '.join(same)} at {sheet.corner}")
    return [
        BaseMap(f"{sheet.corner}_{side}", f"{CORNER_LABELS[corner]} {side}", side, (corner,), sheet.maps[side], f"sheet of {sheet.serial}")
        for sheet in sorted(sheets, key=lambda sheet: CORNERS.index(sheet.corner))
        for side in SIDES
        for corner in (CORNERS.index(sheet.corner),)
    ]
