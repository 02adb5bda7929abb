"""What every kind of ground offers, and the kinds found in `plant/terrain`."""

from __future__ import annotations

import functools
import importlib
import pkgutil
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

import plant.terrain

Array = NDArray[np.float64]


class Piece(Protocol):
    """A piece of ground."""

    def heights(self, along: Array, random: np.random.Generator) -> tuple[Array, Array]:
        """Heights of the left and the right wheel track, both (n,) arrays. [m]

        along : (n,) array
            Distance from the start of the piece on a uniform grid; negative before it, where the heights are 0. [m]
        random : Generator
            The only source of chance; kinds without chance leave it alone.
        """


@functools.cache
def kinds() -> dict[str, type[Piece]]:
    """Every kind of ground by file name: the class in `terrain/random_road.py` is `RandomRoad`."""
    found = {}
    for module in pkgutil.iter_modules(plant.terrain.__path__):
        name = "".join(word.title() for word in module.name.split("_"))
        found[module.name] = getattr(importlib.import_module(f"plant.terrain.{module.name}"), name)
    return found
