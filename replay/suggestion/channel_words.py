"""What the name of a column says: the words of the trade in it, a corner, an axis, a unit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from dualduty.units import UNITS
from replay.channels.recorded_unit import RecordedUnit, recorded_unit

# Spellings by what they mean: common practice of the trade, English and a little German. A word may mean several things.
_SPELLINGS: Final = {
    "travel": "travel trav susp suspension shock shocks shk damper dmpr dmp pot poti potentiometer lvdt stroke weg federweg",
    "position": "pos position disp displacement",
    "acceleration": "acc accel acceleration accelerometer accelerations accl gforce beschleunigung ax ay az",
    "gravities": "g gx gy gz",
    "rate": "gyro gyr gyroscope rate rates rot angular omega angvel vel velocity wx wy wz gx gy gz",
    "roll": "roll wank",
    "pitch": "pitch nick",
    "yaw": "yaw gier",
    "wheel": "wheel whl wheels abs rad",
    "wheel speed": "wss ws wspd whlspd wheelspeed",
    "speed": "speed spd vel velocity v geschw geschwindigkeit drehzahl",
    "steer": "steer steering strg str swa sas lenkwinkel",
    "steering wheel": "swa sas handwheel lenkwinkel",
    "angle": "angle ang winkel",
    "brake": "brake brk brakes brems bremse",
    "throttle": "throttle thr thrtl tps accelerator gas fahrpedal",
    "pedal": "pedal ped app",
    "duty": "duty duties pwm valve valves solenoid sol",
    "command": "cmd command commanded demand dem req request requested setpoint target tgt desired",
    "compression": "comp cmp compr compression bump bmp druck",
    "rebound": "reb rbd rbnd rebound zug",
    "trim": "trim",
    "time": "time timestamp stamp clock elapsed t zeit",
    "mode": "mode drivemode drvmode modus",
    "marker": "marker mark button btn taste taster",
    "state": "state flag detected active",
    "airborne": "airborne",
    "landing": "landing",
    "cornering": "cornering",
    "braking": "braking",
    "seat": "seat",
    "hub": "hub upright unsprung axle knuckle",
    "pressure": "press pressure prs",
    "elsewhere": "temp temperature current curr voltage volts supply load bias error err counter quality mag magnetometer "
    "latitude longitude altitude heading sats engine motor gear fuel oil coolant tyre tire strain",
    "front": "front frt fnt vorn vorne",
    "rear": "rear back hinten",
    "left": "left lft links",
    "right": "right rgt rechts",
    "no matter": "veh vehicle car body chassis imu ins cg cog sprung gps raw filt filtered sensor sens log can applied act actual meas "
    "measured fb feedback state the of in front driver drive force specific level signal sig value val position pct percent angle linear "
    "side total master shaft",
}  # fmt: skip
_CORNERS: Final = {"fl": 0, "lf": 0, "vl": 0, "fr": 1, "rf": 1, "vr": 1, "rl": 2, "lr": 2, "hl": 2, "rr": 3, "hr": 3}
_AXES: Final = {
    "x": "x", "y": "y", "z": "z", "long": "x", "longitudinal": "x", "lon": "x", "lat": "y", "lateral": "y", "vert": "z", "vertical": "z",
    "laengs": "x", "längs": "x", "quer": "y", "hoch": "z",
    **{f"{what}{axis}": axis for what in ("a", "g", "w") for axis in "xyz"},
}  # fmt: skip
_MEANINGS: Final[dict[str, frozenset[str]]] = {
    word: frozenset(meaning for meaning, spelled in _SPELLINGS.items() if word in spelled.split())
    for word in {word for spelled in _SPELLINGS.values() for word in spelled.split()}
}
_SHORT: Final = 3  # letters; a one-letter word stands alone, or is an axis at the end of a longer one
_WORDS: Final = frozenset({*_MEANINGS, *_CORNERS, *_AXES})


@dataclass(frozen=True)
class Said:
    """What a name says: meanings of its words, a corner, an axis, a unit, and the words that are not known here."""

    meanings: frozenset[str]
    corner: int | None
    axis: str
    unit: RecordedUnit | None
    strange: tuple[str, ...]


@lru_cache(maxsize=4096)
def said_by(name: str) -> Said:
    """Read the name of a column."""
    bare, unit = _without_unit(name)
    words = _words(bare)
    meanings = frozenset(meaning for word in words for meaning in _MEANINGS.get(word, ()))
    strange = tuple(word for word in words if word not in _WORDS and len(word) > 1 and not word.isdigit())
    return Said(meanings, _corner(words, meanings), next((_AXES[word] for word in words if word in _AXES), ""), unit, strange)


def _without_unit(name: str) -> tuple[str, RecordedUnit | None]:
    """The name without its unit, in brackets or as a last word: `speed [km/h]`, `speed_km_h`."""
    bracket = re.search(r"\s*[\[(<{]([^\[\](){}<>]*)[\])>}]\s*$", name)
    if bracket:
        return name[: bracket.start()], _unit(bracket.group(1))
    parts = re.split(r"[_\s./-]+", name)
    for count in (3, 2, 1):
        token = "_".join(parts[-count:]).lower()
        if len(parts) > count and not token.isdigit() and (token in UNITS or token in _UNIT_WORDS):
            return "_".join(parts[:-count]), _unit(UNITS[token].label if token in UNITS else token)
    return name, None


_UNIT_WORDS: Final = ("kph", "kmh", "mph", "rpm", "dps", "degps", "psi", "inch", "in", "percent", "volt", "mps", "mg", "turn")


def _unit(label: str) -> RecordedUnit | None:
    try:
        return recorded_unit({"degps": "deg/s", "mps": "m/s"}.get(label, label)) if label.strip() else None
    except ValueError:
        return None


def _words(name: str) -> list[str]:
    found: list[str] = []
    for run in re.findall(r"[^\W\d_]+|\d+", name):
        whole = _split(run.lower())
        pieces = re.findall(r"[A-Z]+(?=[A-Z][a-z])|[A-Z]?[a-z]+|[A-Z]+|[^\W\d_A-Za-z]+|\d+", run)
        found += whole if whole is not None else [word for piece in pieces for word in _split(piece.lower()) or [piece.lower()]]
    return found


def _split(run: str) -> list[str] | None:
    """A run of letters as words known here, the fewest; None where something is left over."""
    if run in _WORDS:
        return [run]
    best: list[list[str] | None] = [[]]
    for end in range(1, len(run) + 1):
        ways = [[*before, run[start:end]] for start, before in enumerate(best) if before is not None and _may_stand(run, start, end)]
        best.append(min(ways, key=len, default=None))
    return best[-1]


def _may_stand(run: str, start: int, end: int) -> bool:
    word = run[start:end]
    if word not in _WORDS:
        return False
    return len(word) > 1 or (word in "xyz" and end == len(run) and end > _SHORT - 1)


def _corner(words: list[str], meanings: frozenset[str]) -> int | None:
    for word in words:
        if word in _CORNERS:
            return _CORNERS[word]
    letters = re.search(r"(?<![a-z])([fr]) ([lr])(?![a-z])", " ".join(words))
    if letters:
        return _CORNERS["".join(letters.groups())]
    front, rear, left, right = (place in meanings for place in ("front", "rear", "left", "right"))
    if front == rear or left == right:
        return None
    return 2 * rear + right
