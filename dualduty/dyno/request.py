"""A request to the damper group: what shall change on which dampers, written as TOML with units in the keys.

[base]                      # what the wishes start from: one of
sheets = "marram_2"         #   a folder of dyno sheets, or a list of files
vehicle = "vehicle.toml"    #   or the nominal maps of a vehicle

[[wish]]
corners = ["rear"]          # front, rear, left, right, front_left, ...
side = "compression"
change_pct = 15             # or change_n = 300, or speeds_m_s = [...] with forces_n = [...]
from_m_s = 1.5              # wholly between these shaft speeds
to_m_s = 3.0
unchanged_below_m_s = 0.5   # nothing up to here, blended between; left out: blended down to standstill
unchanged_above_m_s = 4.0   # nothing from here on; left out: held to the end of the map
from_duty_pct = 100         # the same over duty; left out: all duties
unchanged_below_duty_pct = 50
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.signals import ROLES, SIDES
from dualduty.toml_file import read_toml

_TOP: Final = ("name", "provenance", "note", "to", "base", "wish", "tolerance_pct", "unasked_pct")
_BASES: Final = ("sheets", "vehicle")
_FORMS: Final = ("change_pct", "change_n", "forces_n")
_WISH: Final = (
    "corners", "side", *_FORMS, "speeds_m_s", "from_m_s", "to_m_s", "unchanged_below_m_s", "unchanged_above_m_s",
    "from_duty_pct", "to_duty_pct", "unchanged_below_duty_pct", "unchanged_above_duty_pct", "tolerance_pct", "why",
)  # fmt: skip
_TOLERANCE_PCT: Final = 5.0  # common practice for a valving change
_MOST_PCT: Final = 300.0


@dataclass(frozen=True)
class Span:
    """Over one axis: nothing up to `below`, wholly from `low` to `high`, nothing from `above` on, straight between.

    `below` NaN means there is no lower end, `above` infinite that it is held on to the end.
    """

    below: float
    low: float
    high: float
    above: float

    def knots(self) -> tuple[float, ...]:
        """Where the blend bends."""
        return tuple(knot for knot in (self.below, self.low, self.high, self.above) if math.isfinite(knot))


@dataclass(frozen=True)
class Wish:
    """One thing asked for; exactly one of `share`, `force` and `forces` is set.

    `share` is a change as a share [1], `force` a change in newtons [N], `forces` the wanted forces [N] at `speeds` [m/s].
    """

    number: int
    corners: tuple[int, ...]
    roles: tuple[str, ...]
    side: str
    speed: Span
    duty: Span
    tolerance: float
    share: float | None = None
    force: float | None = None
    speeds: tuple[float, ...] = ()
    forces: tuple[float, ...] = ()
    why: str = ""

    @property
    def asked(self) -> str:
        """The wish in words."""
        return f"{self._who} {self._size}, {self._where}"

    @property
    def short(self) -> str:
        """The wish in a few words."""
        size = f"to {self.forces[0]:g} .. {self.forces[-1]:g} N" if self.forces else self._size
        return f"{self._who} {size} at {self.speed.low:g} to {self.speed.high:g} m/s"

    @property
    def _who(self) -> str:
        return f"{' and '.join(role.replace('_', '-') for role in self.roles)} {self.side}"

    @property
    def _size(self) -> str:
        if self.share is not None:
            return f"{100 * self.share:+g} %"
        if self.force is not None:
            return f"{self.force:+g} N"
        return "to " + ", ".join(f"{force:g} N at {speed:g} m/s" for speed, force in zip(self.speeds, self.forces, strict=True))

    @property
    def _where(self) -> str:
        parts = [f"{self.speed.low:g} to {self.speed.high:g} m/s"] if self.share is not None or self.force is not None else []
        if self.speed.below > 0.0:
            parts.append(f"nothing below {self.speed.below:g} m/s")
        parts.append(f"nothing above {self.speed.above:g} m/s" if math.isfinite(self.speed.above) else "held on above")
        parts.append(_duties(self.duty))
        return ", ".join(parts)


@dataclass(frozen=True)
class Request:
    """A request sheet as read; paths are resolved against its folder. `unasked` is how far the rest may move. [1]"""

    file: Path
    name: str
    provenance: str
    note: str
    to: str
    sheets: tuple[Path, ...]
    vehicle: Path | None
    wishes: tuple[Wish, ...]
    unasked: float


def _duties(duty: Span) -> str:
    if duty.low <= 0.0 and duty.high >= 1.0:
        return "all duties"
    said = f"at {100 * duty.low:g} % duty" if duty.low == duty.high else f"at {100 * duty.low:g} to {100 * duty.high:g} % duty"
    if math.isfinite(duty.below):
        said += f", nothing below {100 * duty.below:g} %"
    return said + (f", nothing above {100 * duty.above:g} %" if math.isfinite(duty.above) else "")


def read_request(path: Path) -> Request:
    """Read a request sheet; every problem is told with its key."""
    document = read_toml(path)
    problems: list[BadInput] = []
    _check_keys(document, _TOP, str(path), problems)
    texts = {key: _text(document, key, path, problems) for key in ("name", "provenance", "note", "to")}
    sheets, vehicle = _base(document.get("base"), path, problems)
    usual = _number(document, "tolerance_pct", str(path), problems, _TOLERANCE_PCT) / 100.0
    unasked = _number(document, "unasked_pct", str(path), problems, _TOLERANCE_PCT) / 100.0
    wishes = _wishes(document.get("wish"), path, usual, problems)
    if problems:
        raise problems[0] if len(problems) == 1 else SeveralBadInputs(problems)
    return Request(
        path, texts["name"] or path.stem, texts["provenance"], texts["note"], texts["to"], sheets, vehicle, tuple(wishes), unasked
    )


def _check_keys(table: Mapping[str, Any], known: tuple[str, ...], place: str, problems: list[BadInput]) -> None:
    for key in table:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            problems.append(
                BadInput(
                    f"{place}: {key}", "unknown key" + (f"; did you mean {near[0]!r}?" if near else f"; expected one of {', '.join(known)}")
                )
            )


def _text(document: Mapping[str, Any], key: str, path: Path, problems: list[BadInput]) -> str:
    value = document.get(key, "")
    if isinstance(value, str):
        return value
    problems.append(BadInput(f"{path}: {key}", f"expected a text, came {value!r}"))
    return ""


def _base(table: Any, path: Path, problems: list[BadInput]) -> tuple[tuple[Path, ...], Path | None]:
    if not isinstance(table, dict) or len([key for key in _BASES if key in table]) != 1:
        problems.append(BadInput(f"{path}: base", f"expected a table [base] with either sheets or vehicle, came {table!r}"))
        return (), None
    _check_keys(table, _BASES, f"{path}: base", problems)
    given = table.get("sheets", table.get("vehicle"))
    names = given if isinstance(given, list) and "sheets" in table else [given]
    bad = [name for name in names if not isinstance(name, str) or not (path.parent / name).exists()]
    if bad or not names:
        problems.append(
            BadInput(f"{path}: base.{next(iter(table))}", f"expected a file or folder that exists, found none at {(bad or [''])[0]!r}")
        )
        return (), None
    paths = tuple(path.parent / str(name) for name in names)
    return (paths, None) if "sheets" in table else ((), paths[0])


def read_wishes(tables: Any, path: Path, problems: list[BadInput]) -> list[Wish]:
    """The [[wish]] tables of another file that speaks of dampers as a request does."""
    return _wishes(tables, path, _TOLERANCE_PCT / 100.0, problems)


def _wishes(tables: Any, path: Path, usual: float, problems: list[BadInput]) -> list[Wish]:
    if not isinstance(tables, list) or not tables or not all(isinstance(table, dict) for table in tables):
        problems.append(BadInput(f"{path}: wish", "expected at least one [[wish]]"))
        return []
    found = []
    for number, table in enumerate(tables, 1):
        before = len(problems)
        made = _wish(number, table, f"{path}: wish[{number}]", usual, problems)
        if made is not None and len(problems) == before:
            found.append(made)
    return found


def _wish(number: int, table: dict[str, Any], place: str, usual: float, problems: list[BadInput]) -> Wish | None:
    _check_keys(table, _WISH, place, problems)
    roles = _roles(table.get("corners"), place, problems)
    if table.get("side") not in SIDES:
        problems.append(BadInput(f"{place}: side", f"expected compression or rebound, came {table.get('side')!r}"))
    forms = [form for form in _FORMS if form in table]
    if len(forms) != 1:
        problems.append(BadInput(place, f"expected exactly one of {', '.join(_FORMS)}, came {', '.join(forms) or 'none'}"))
        return None
    amount = _amount(table, forms[0], place, problems)
    speed = _span(table, "m_s", place, problems, amount.get("speeds", ()))
    duty = _span(table, "duty_pct", place, problems, ())
    tolerance = _number(table, "tolerance_pct", place, problems, 100.0 * usual) / 100.0
    corners = tuple(sorted({corner for role in roles for corner in ROLES[role]}))
    return Wish(number, corners, roles, str(table.get("side")), speed, duty, tolerance, why=str(table.get("why", "")), **amount)


def _roles(said: Any, place: str, problems: list[BadInput]) -> tuple[str, ...]:
    roles = [said] if isinstance(said, str) else said
    if isinstance(roles, list) and roles and all(isinstance(role, str) and role in ROLES for role in roles):
        return tuple(roles)
    problems.append(BadInput(f"{place}: corners", f"expected some of {', '.join(ROLES)}, came {said!r}"))
    return ()


def _amount(table: dict[str, Any], form: str, place: str, problems: list[BadInput]) -> dict[str, Any]:
    if form == "change_pct":
        share = _number(table, form, place, problems, 0.0, lowest=-100.0, highest=_MOST_PCT) / 100.0
        return {"share": share}
    if form == "change_n":
        return {"force": _number(table, form, place, problems, 0.0, lowest=-math.inf, highest=math.inf)}
    speeds, forces = (_numbers(table.get(key), f"{place}: {key}", problems) for key in ("speeds_m_s", "forces_n"))
    if len(speeds) != len(forces) or not speeds or list(speeds) != sorted(set(speeds)):
        problems.append(BadInput(f"{place}: forces_n", "expected as many forces as speeds_m_s, and speeds that rise"))
    return {"speeds": speeds, "forces": forces}


def _span(table: dict[str, Any], unit: str, place: str, problems: list[BadInput], points: tuple[float, ...]) -> Span:
    """The four ends of a wish over shaft speed or duty; given points are the range themselves."""
    is_speed, factor = unit == "m_s", 1.0 if unit == "m_s" else 0.01
    required = is_speed and not points
    for key in (f"from_{unit}", f"to_{unit}"):
        if required and key not in table:
            problems.append(BadInput(f"{place}: {key}", "is missing (where the change is wanted in full)"))
        if points and key in table:
            problems.append(BadInput(f"{place}: {key}", "expected no range beside speeds_m_s: its ends are the range"))
    low = _number(table, f"from_{unit}", place, problems, points[0] if points else 0.0) * factor
    high = _number(table, f"to_{unit}", place, problems, points[-1] if points else 100.0) * factor
    from_start = low <= 0.0
    below = _number(table, f"unchanged_below_{unit}", place, problems, math.nan if from_start else 0.0) * factor
    above = _number(table, f"unchanged_above_{unit}", place, problems, math.inf) * factor
    ordered = [value for value in (below, low, high, above) if not math.isnan(value)]
    if any(first > second for first, second in pairwise(ordered)) or below == low or above == high:
        problems.append(
            BadInput(
                f"{place}: from_{unit}", "expected unchanged_below < from <= to < unchanged_above, so that the change can blend in and out"
            )
        )
    return Span(below, low, high, above)


def _numbers(said: Any, place: str, problems: list[BadInput]) -> tuple[float, ...]:
    if isinstance(said, list) and all(_is_number(value) and value >= 0.0 for value in said):
        return tuple(float(value) for value in said)
    problems.append(BadInput(place, f"expected a list of numbers of 0 or more, came {said!r}"))
    return ()


def _number(  # noqa: PLR0913 - limits are seldom said
    table: Mapping[str, Any], key: str, place: str, problems: list[BadInput], default: float, *,
    lowest: float = 0.0, highest: float = math.inf,
) -> float:  # fmt: skip
    if key not in table:
        return default
    highest = 100.0 if "duty_pct" in key else highest
    value = table[key]
    if _is_number(value) and lowest <= value <= highest:
        return float(value)
    limits = (
        ""
        if not math.isfinite(lowest)
        else f" from {lowest:g} on"
        if not math.isfinite(highest)
        else f" between {lowest:g} and {highest:g}"
    )
    problems.append(BadInput(f"{place}: {key}", f"expected a number{limits}, came {value!r}"))
    return default if math.isfinite(default) else 0.0


def _is_number(value: Any) -> bool:
    return not isinstance(value, bool) and isinstance(value, int | float) and math.isfinite(value)
