"""Sheets of several dampers laid over each other: who leaves the corridor of his axle, on which side, over which shaft speeds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.dyno.common_grid import common_grid, sample, sample_spread
from dualduty.dyno.regions import Region, find_regions
from dualduty.errors import BadInput
from dualduty.signals import CORNER_LABELS, CORNERS, SIDES

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.dyno.sheet import Sheet

Array = NDArray[np.float64]

AXLES: Final = ("front", "rear")
_TELLING: Final = 300.0  # N; below, the reading scatters more than the dampers
_MAJORITY: Final = 3  # sheets of one axle from which the median can outvote one odd damper
_TINY: Final = 1.0  # N; keeps shares finite where a map starts near no force
_CENTRAL: Final = 0.75  # share of the deviations that the scatter is taken from, so that a quarter may be faults
# Root mean square of the central 75 % of a normal distribution to its standard deviation: with q = 1.1503 (its 87.5 %
# point), 1 / sqrt(1 - 2 q pdf(q) / 0.75).
_CENTRAL_TO_SIGMA: Final = 1.6475


@dataclass(frozen=True)
class Rule:
    """How wide the corridor is: the largest of these four.

    `share` of the force and `force` [N] are common practice for dampers of one build; `repeats` times the scatter between
    repeats of one sheet; `dampers` times the scatter between the dampers of the set, estimated so that one odd damper
    doesn't widen it. Measured with 4 over 300 seeds: eight dampers that scatter by 1 %
    (standard deviation) gave no false call, by 2 % one in 8 % of the comparisons of all 16 sides, by 3 % in 10 %; a 12 %
    fault among them was found in 100, 92 and 51 %.
    """

    share: float = 0.05
    force: float = 15.0
    repeats: float = 3.0
    dampers: float = 4.0


@dataclass(frozen=True, eq=False)
class Layer:
    """Sheets of one axle and side over each other.

    forces : (sheet, speed, duty) array
        [N]
    reference : (speed, duty) array
        Middle of the corridor. [N]
    deviation, width : (sheet, speed, duty) arrays
        Share above (+) or below the reference, and half the corridor. [1]
    against : str
        What the reference is; "pair" when nobody can say which of two is right.
    """

    axle: str
    side: str
    sheets: tuple[Sheet, ...]
    speeds: Array
    duties: Array
    forces: Array
    reference: Array
    deviation: Array
    width: Array
    against: str


@dataclass(frozen=True)
class Odd:
    """One damper that leaves its corridor; `other` is the second serial where two merely differ."""

    serial: str
    vehicle: str
    corner: str
    side: str
    region: Region
    against: str
    other: str = ""

    def sentence(self) -> str:
        """What is wrong with it, in one line."""
        size = f"{abs(100 * self.region.size):.0f} %"
        if self.other:
            word = "weaker" if self.region.size < 0.0 else "stronger"
            return (
                f"{self.serial} {corner_label(self.corner)} {self.side} {size} {word} than {self.other} {self.region.where}; "
                "a pair alone can't tell which of the two is odd: give the nominal map or more sheets"
            )
        word = "weak" if self.region.size < 0.0 else "strong"
        return f"{self.serial} {corner_label(self.corner)} {self.side} {size} {word} {self.region.where} (against {self.against})"


@dataclass(frozen=True, eq=False)
class Comparison:
    """What the sheets say together; `scatter` is the share by which dampers of one axle differ, odd ones hardly counted."""

    layers: tuple[Layer, ...]
    odd: tuple[Odd, ...]
    scatter: float
    rule: Rule
    notices: tuple[str, ...] = field(default=())

    def layer(self, axle: str, side: str) -> Layer | None:
        """The layer of an axle and side; None where there is none."""
        return next((layer for layer in self.layers if (layer.axle, layer.side) == (axle, side)), None)


def corner_label(corner: str) -> str:
    """As people say it: rear-right."""
    return CORNER_LABELS[CORNERS.index(corner)] if corner in CORNERS else corner


def axle_of(sheet: Sheet) -> str:
    """Front or rear."""
    return sheet.corner.split("_")[0]


def compare(sheets: Sequence[Sheet], nominal: Car | None = None, rule: Rule | None = None) -> Comparison:
    """Lay sheets over each other and find the odd ones.

    Against the nominal map where one is given; else against the median of the axle where three or more sheets of it are
    there; two sheets can only be told to differ. BadInput where a serial comes twice or nothing can be compared.
    """
    rule = rule or Rule()
    _check_serials(sheets)
    plain = [layer for axle in AXLES for side in SIDES if (layer := _layer(axle, side, _of_axle(sheets, axle), nominal)) is not None]
    if not plain:
        told = ", ".join(f"{sheet.serial} {corner_label(sheet.corner)}" for sheet in sheets) or "no sheet"
        raise BadInput("sheets", f"nothing to compare ({told}); expected two sheets of one axle, or a nominal map (--nominal)")
    scatter = _scatter(plain)
    layers = tuple(_with_width(layer, scatter, rule) for layer in plain)
    odd = tuple(one for layer in layers for one in _odd_ones(layer))
    notices = (*_build_notices(sheets), *_lone_sheets(sheets, nominal), *_common_shift(layers))
    return Comparison(layers, odd, scatter, rule, notices)


def _check_serials(sheets: Sequence[Sheet]) -> None:
    twice = [serial for serial, count in Counter(sheet.serial for sheet in sheets).items() if count > 1]
    if twice:
        files = " and ".join(Path(sheet.file).name for sheet in sheets if sheet.serial == twice[0])
        problem = f"{twice[0]} is on more than one sheet ({files}); expected each damper once (before and after: `sheets change`)"
        raise BadInput("sheets", problem)


def _build_notices(sheets: Sequence[Sheet]) -> list[str]:
    found = []
    for axle in AXLES:
        builds = sorted({str(sheet.build) for sheet in _of_axle(sheets, axle)})
        if len(builds) > 1:
            found.append(f"{axle} dampers are of different builds ({', '.join(builds)}): they are compared all the same")
    return found


def _lone_sheets(sheets: Sequence[Sheet], nominal: Car | None) -> list[str]:
    lone = [axle for axle in AXLES if nominal is None and len(_of_axle(sheets, axle)) == 1]
    single = [sheet.serial for sheet in sheets if np.isnan(sheet.spread[SIDES[0]]).any()]
    found = [f"one {axle} sheet only: nothing to compare it with" for axle in lone]
    return found + ([f"one repeat only, so its scatter isn't known: {', '.join(single)}"] if single else [])


def _of_axle(sheets: Sequence[Sheet], axle: str) -> list[Sheet]:
    return [sheet for sheet in sheets if axle_of(sheet) == axle]


def _layer(axle: str, side: str, sheets: list[Sheet], nominal: Car | None) -> Layer | None:
    """A layer whose corridor has no width yet; None where there is nothing to compare with."""
    if len(sheets) + (nominal is not None) < 2 or not sheets:  # noqa: PLR2004 - a comparison takes two
        return None
    maps = [sheet.maps[side] for sheet in sheets]
    given = nominal.damper_map(side, 2 * AXLES.index(axle)) if nominal is not None else None
    speeds, duties = common_grid(maps) if given is None else common_grid([*maps, given])
    if not speeds.size:
        raise BadInput("sheets", f"{axle} {side}: the tested shaft speeds don't overlap")
    forces = np.stack([sample(each, speeds, duties) for each in maps])
    if given is not None:
        reference, against = sample(given, speeds, duties), f"nominal map of {nominal.name}"  # type: ignore[union-attr]
    else:
        reference, against = np.median(forces, axis=0), f"median of {len(sheets)} {axle} dampers" if len(sheets) >= _MAJORITY else "pair"
    deviation = (forces - reference) / np.maximum(reference, _TINY)
    return Layer(axle, side, tuple(sheets), speeds, duties, forces, reference, deviation, np.full(forces.shape, np.nan), against)


def _scatter(layers: Sequence[Layer]) -> float:
    """Standard deviation between dampers as a share, from the smaller three quarters of the distances to the axle's median.

    Distances to a median that the damper itself belongs to are too small; sqrt(n / (n - 1)) undoes most of that.
    """
    parts = [_distances(layer) for layer in layers if len(layer.sheets) >= _MAJORITY]
    distances = np.sort(np.abs(np.concatenate([np.empty(0), *parts])))
    if not distances.size:
        return 0.0
    central = distances[: int(np.ceil(_CENTRAL * distances.size))]
    return float(_CENTRAL_TO_SIGMA * np.sqrt(np.mean(central**2)))


def _distances(layer: Layer) -> Array:
    """Middle deviation over duties from the axle's median, by damper and speed, where the force is large enough to tell."""
    middle = np.median(layer.deviation - np.median(layer.deviation, axis=0), axis=2)
    told = np.median(layer.reference, axis=1) >= _TELLING
    count = len(layer.sheets)
    return np.asarray(middle[:, told].ravel() * np.sqrt(count / (count - 1)), float)


def _with_width(layer: Layer, scatter: float, rule: Rule) -> Layer:
    spread = np.stack([sample_spread(sheet, layer.side, layer.speeds, layer.duties) for sheet in layer.sheets])
    share = rule.share
    if layer.against == "pair":  # a difference scatters with both
        share *= np.sqrt(2.0)
        spread = np.broadcast_to(np.sqrt((spread**2).sum(axis=0)), spread.shape)
    width = np.maximum(share, np.maximum(rule.force, rule.repeats * spread) / np.maximum(layer.reference, _TINY))
    return Layer(
        layer.axle, layer.side, layer.sheets, layer.speeds, layer.duties, layer.forces, layer.reference, layer.deviation,
        np.maximum(width, rule.dampers * scatter), layer.against,
    )  # fmt: skip


def _odd_ones(layer: Layer) -> list[Odd]:
    if layer.against == "pair":
        return _differences(layer)
    return [
        Odd(sheet.serial, sheet.vehicle, sheet.corner, layer.side, region, layer.against)
        for sheet, deviation, width in zip(layer.sheets, layer.deviation, layer.width, strict=True)
        for region in find_regions(layer.speeds, layer.duties, deviation, width)
    ]


def _differences(layer: Layer) -> list[Odd]:
    first, second = layer.sheets
    between = (layer.forces[1] - layer.forces[0]) / np.maximum(layer.forces[0], _TINY)
    regions = find_regions(layer.speeds, layer.duties, between, layer.width[0])
    return [Odd(second.serial, second.vehicle, second.corner, layer.side, region, "pair", first.serial) for region in regions]


def _common_shift(layers: Sequence[Layer]) -> list[str]:
    """Say when all dampers of an axle leave the nominal map together: then rather the map or the batch is off."""
    found = []
    for layer in layers:
        if not layer.against.startswith("nominal") or len(layer.sheets) < 2:  # noqa: PLR2004 - together takes two
            continue
        low, high = layer.deviation.min(axis=0), layer.deviation.max(axis=0)
        common = np.maximum(low, 0.0) + np.minimum(high, 0.0)  # what even the nearest of them is off, where all are off one way
        regions = find_regions(layer.speeds, layer.duties, common, np.median(layer.width, axis=0))
        head, tail = f"all {layer.axle} dampers together: {layer.side}", f"look at the {layer.against} first"
        found += [f"{head} {one.signed} or more {one.where}; {tail}" for one in regions]
    return found
