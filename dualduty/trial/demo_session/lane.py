"""Sections joined into one long lane that is driven without a pause, and where each of them lies on it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.true_ground import Stretch, stretches_of
from plant.course import Course, Drive, Ground
from plant.section import Section

Array = NDArray[np.float64]
Strip = dict[str, Array]  # what a course says of each point of its grid, by name

STEP: Final = 0.05  # m, grid of the whole lane
_WISHES: Final = ("speed", "curvature", "brake", "throttle", "steer", "hold", "coast")
_LET_GO: Final = ("curvature", "steer", "brake", "throttle")  # what fades out where a section is cut off
_FADE: Final = 8.0  # m
_RUN_IN: Final = 10.0  # m of level ground before the first section
_LEVELLING: Final = (12.0, 40.0)  # m at least, and m per m of height that a section ends above or below where it began
_CHANGE: Final = 1.5  # m/s² between the speed of one section and that of the next: neither `braking` nor `accelerating` by force
_SETTLING: Final = (6.0, 1.2)  # m at least, and s at the next section's speed
_SPARE: Final = (1.1, 20.0)  # the lane is longer than the wanted speed needs: 10 % and 20 s


@dataclass(frozen=True)
class Leg:
    """A section on a lane: its name with its repeat number, from where to where, and its ground with a rhythm. [m]"""

    name: str
    start: float
    end: float
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True)
class Lane:
    """A course with the legs it is joined from."""

    course: Course
    legs: tuple[Leg, ...]

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        """Ground with a rhythm, of all legs."""
        return tuple(stretch for leg in self.legs for stretch in leg.stretches)


def order(names: Sequence[str], opening: Sequence[str], random: np.random.Generator, often: Sequence[str] = ()) -> Iterator[str]:
    """Names without end: the opening, what of all names it left out, then ever again all of them, and thrice more those of `often`."""
    yield from opening
    yield from random.permutation([name for name in names if name not in opening]).tolist()
    while True:
        yield from random.permutation([*names, *often, *often, *often]).tolist()


def join_lane(name: str, sections: Mapping[str, Section], drawn: Iterable[str], duration: float, random: np.random.Generator) -> Lane:
    """A lane long enough for `duration` [s], of sections in the order drawn; what is random in a repeat is drawn anew."""
    strips: list[Strip] = []
    legs: list[Leg] = []
    repeats: Counter[str] = Counter()
    distance = time = 0.0
    for kind in drawn:
        repeats[kind] += 1
        section = replace(sections[kind], step=STEP)
        own = _strip(section.build(int(random.integers(1, 2**31))))
        between = _between(strips[-1] if strips else None, float(own["speed"][0]))
        start = distance + _length(between)
        shifted = tuple(Stretch(one.kind, start + one.start, start + one.end) for one in stretches_of(section))
        legs.append(Leg(f"{kind}-{repeats[kind]}", start, start + _length(own), shifted))
        strips += [between, own]
        distance = legs[-1].end
        time += _seconds(between) + _seconds(own)
        if time > _SPARE[0] * duration + _SPARE[1]:
            break
    return Lane(_course(name, strips, duration), tuple(legs))


def _strip(course: Course) -> Strip:
    strip = {"left": course.ground.left, "right": course.ground.right, **{name: getattr(course.drive, name) for name in _WISHES}}
    ahead = STEP * np.arange(len(strip["left"]))[::-1]
    fading = np.minimum(ahead / _FADE, 1.0)
    return {name: values * fading if name in _LET_GO else values for name, values in strip.items()}


def _between(before: Strip | None, speed: float) -> Strip:
    """Level ground on which the car gets to the next section's speed and settles; what height was gained or lost is given back."""
    if before is None:
        return _level(np.full(round(_RUN_IN / STEP), speed))
    offset = max(abs(float(before[side][-1])) for side in ("left", "right"))
    levelling = np.full(round(max(_LEVELLING[0], _LEVELLING[1] * offset) / STEP), float(before["speed"][-1]))
    changing = np.linspace(before["speed"][-1] ** 2, speed**2, round(abs(before["speed"][-1] ** 2 - speed**2) / (2 * _CHANGE * STEP)) + 1)
    settling = np.full(round(max(_SETTLING[0], _SETTLING[1] * speed) / STEP), speed)
    strip = _level(np.concatenate([levelling, np.sqrt(changing), settling]))
    share = np.clip(np.arange(1, len(strip["speed"]) + 1) / len(levelling), 0.0, 1.0)
    left_over = 1.0 - share**3 * (10.0 - share * (15.0 - 6.0 * share))  # neither a step nor a kink at both ends
    return strip | {side: float(before[side][-1]) * left_over for side in ("left", "right")}


def _level(speed: Array) -> Strip:
    return {name: np.zeros(len(speed)) for name in ("left", "right", *_WISHES)} | {"speed": speed}


def _length(strip: Strip) -> float:
    return STEP * len(strip["speed"])


def _seconds(strip: Strip) -> float:
    return float(np.sum(STEP / strip["speed"]))


def _course(name: str, strips: Sequence[Strip], duration: float) -> Course:
    joined = {key: np.concatenate([strip[key] for strip in strips]) for key in strips[0]}
    drive = Drive(start_speed=float(joined["speed"][0]), **{key: joined[key] for key in _WISHES})
    return Course(name, Ground(STEP, joined["left"], joined["right"]), drive, duration)
