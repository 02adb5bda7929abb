"""A section: a stretch of test, ground plus driving, read from a small text file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.parameters import param
from dualduty.toml_file import read_toml
from plant.course import Course, Ground
from plant.demand import check_grip
from plant.driver import BrakeZone, CoastZone, Corner, Recipe, SpeedPoint, ThrottleZone
from plant.envelope import enveloped
from plant.grounds import Piece, kinds
from plant.manoeuvres import LaneChange, Slalom, StepSteer
from plant.section_file import Place, check_keys, fill, flag_at, nearest, table_at, tables_at, text_at

Array = NDArray[np.float64]

LEAD_IN: Final = 4.0  # m of level ground, more than a wheelbase, so that the vehicle starts at rest in balance
_MARGIN: Final = (1.2, 15.0)  # the course is longer than the wanted speed needs: 20 % and 15 m
_TEXTS: Final = ("name", "provenance", "intent")
_TABLES: Final = ("watch", "ground", "drive", "everyday")
_ZONES: Final[dict[str, type[Any]]] = {
    "speed": SpeedPoint, "corner": Corner, "brake": BrakeZone, "throttle": ThrottleZone, "coast": CoastZone,
    "slalom": Slalom, "lane_change": LaneChange, "step_steer": StepSteer,
}  # fmt: skip


@dataclass(frozen=True)
class Placed:
    """A piece of ground and where it starts."""

    start: float
    kind: str
    piece: Piece


@dataclass(frozen=True)
class _Start:
    start: float = param(LEAD_IN, "m", LEAD_IN, 1e5, "start of the piece; the ground before it is level")
    required = ("start",)


@dataclass(frozen=True)
class Section:
    """What one section file says.

    `everyday` marks what is driven when nothing else is asked for. `watch` lists what an engineer looks at; `tyre_radius` and
    `contact_patch` are how a tyre envelops short obstacles, see `plant.envelope`; 0 for a wheel that follows the ground with a point.
    """

    name: str
    provenance: str
    intent: str
    watch: tuple[str, ...]
    ground: tuple[Placed, ...]
    drive: Recipe
    everyday: bool = False
    duration: float = param(6.0, "s", 0.5, 600.0, "how long the section lasts")
    seed: int = param(1, "1", 0, 2**31, "seed of everything random in it")
    step: float = param(0.05, "m", 0.02, 0.05, "grid step of ground and drive", said="mm")
    contact_patch: float = param(0.0, "m", 0.0, 0.5, "length under a tyre over which the ground's height is averaged", said="mm")
    tyre_radius: float = param(0.0, "m", 0.0, 1.0, "radius of the circle that is rolled over the ground before it is averaged", said="mm")
    required = ("duration", "seed")

    def build(self, seed: int | None = None) -> Course:
        """The course on its grid, with the file's seed or another one."""
        length = _MARGIN[0] * self.drive.distance_after(self.duration) + _MARGIN[1]
        distance: Array = self.step * np.arange(int(np.ceil(length / self.step)) + 1, dtype=np.float64)
        left, right = self._heights(distance, self.seed if seed is None else seed)
        return Course(self.name, Ground(self.step, left, right), self.drive.drive(distance), self.duration)

    def _heights(self, distance: Array, seed: int) -> tuple[Array, Array]:
        left, right = np.zeros(len(distance)), np.zeros(len(distance))
        for index, placed in enumerate(self.ground):
            try:
                own_left, own_right = placed.piece.heights(distance - placed.start, np.random.default_rng([seed, index]))
            except ValueError as error:
                raise ValueError(f"ground[{index}]: {error}") from None
            left, right = left + own_left, right + own_right
        felt = [enveloped(track, self.step, self.tyre_radius, self.contact_patch) for track in (left, right)]
        return felt[0], felt[1]


def list_sections(folder: Path) -> list[Path]:
    """The section files of a folder, by name."""
    if not folder.is_dir():
        raise BadInput(folder, "expected a folder of section files, found none")
    return sorted(folder.glob("*.toml"))


def read_section(path: Path) -> Section:
    """Read one section file; BadInput says file, key, what was expected and what came."""
    place = Place(str(path))
    table = read_toml(path)
    settings = {key: value for key, value in table.items() if key not in (*_TEXTS, *_TABLES)}
    check_keys(Section, settings, place, (*_TEXTS, *_TABLES))  # first, since a misspelt key also looks like a missing one
    texts = {key: text_at(table, key, place) for key in _TEXTS}
    if texts["name"] != path.stem:
        raise place.at("name").bad(f"expected {path.stem!r} as the file is called, came {texts['name']!r}")
    made = {
        **texts,
        "watch": _watch(table.get("watch"), place.at("watch")),
        "ground": _ground(table.get("ground", []), place.at("ground")),
        "drive": _drive(table_at(table.get("drive"), place.at("drive")), place.at("drive")),
        "everyday": flag_at(table, "everyday", place),
    }
    section = fill(Section, settings, place, made)
    _check_fit(section, place)
    return section


def _watch(came: object, place: Place) -> tuple[str, ...]:
    if not isinstance(came, list) or not came or not all(isinstance(line, str) and line.strip() for line in came):
        raise place.bad(f"expected a list of texts, came {came!r}")
    return tuple(came)


def _ground(came: object, place: Place) -> tuple[Placed, ...]:
    return tuple(_placed(table, at) for table, at in tables_at(came, place))


def _placed(table: Mapping[str, object], place: Place) -> Placed:
    kind = table.get("kind")
    if not isinstance(kind, str) or kind not in kinds():
        raise place.at("kind").bad(f"{kind!r} is no kind of ground{nearest(str(kind), list(kinds()))}")
    starts = {key: value for key, value in table.items() if key.startswith("start")}
    rest = {key: value for key, value in table.items() if key != "kind" and key not in starts}
    piece = fill(kinds()[kind], rest, place, also=("kind", "start_m"))
    return Placed(fill(_Start, starts, place).start, kind, piece)


def _drive(table: dict[str, object], place: Place) -> Recipe:
    zones: dict[str, tuple[object, ...]] = {}
    for key, kind in _ZONES.items():
        zones[key] = tuple(fill(kind, entry, at) for entry, at in tables_at(table.get(key, []), place.at(key)))
    return fill(Recipe, {key: value for key, value in table.items() if key not in zones}, place, zones)


def _check_fit(section: Section, place: Place) -> None:
    """Everything must begin within the distance driven, and the ground must be buildable."""
    reach = section.drive.distance_after(section.duration)
    for index, placed in enumerate(section.ground):
        if placed.start > reach:
            here = place.at("ground").item(index)
            raise here.bad(f"starts at {placed.start:g} m; the drive ends at {reach:.0f} m after {section.duration:g} s")
    try:
        check_grip(section.build())
    except ValueError as error:
        raise place.bad(str(error)) from None
