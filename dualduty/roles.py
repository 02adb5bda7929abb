"""Corners by role: outer-front, inner-rear, leading axle; as one talks about a corner, a slope or a direction of travel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from dualduty.signals import ROLES

READS: Final = {"outer": "cornering_outer", "inner": "cornering_inner", "leading": "vehicle_speed", "trailing": "vehicle_speed"}


@dataclass(frozen=True)
class Role:
    """Which corners can have a role, what it depends on while driving, and what is read for that.

    `depends` is empty for a place on the car (`rear`, `front_left`), else `outer`, `inner`, `leading` or `trailing`.
    """

    depends: str
    corners: tuple[int, int, int, int]

    @property
    def reads(self) -> str:
        """The state or quantity that decides where it holds; empty for a place on the car."""
        return READS.get(self.depends, "")


def role_of(said: str) -> Role:
    """The role that a text such as `outer_front`, `inner`, `leading` or `rear_left` names; ValueError for any other."""
    depends, _, place = said.partition("_")
    if depends not in READS:
        depends, place = "", said
    if place not in ROLES and not (depends and not place):
        raise ValueError(said)
    here = ROLES[place] if place else (0, 1, 2, 3)
    return Role(depends, tuple(int(corner in here) for corner in range(4)))  # type: ignore[arg-type]


def is_role(said: str) -> bool:
    """Whether a text names a role."""
    try:
        role_of(said)
    except ValueError:
        return False
    return True


def known_roles() -> str:
    """All roles in words, for a message."""
    return f"{', '.join(READS)} (alone, or with a place: outer_front), {', '.join(ROLES)}"
