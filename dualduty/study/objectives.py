"""What counts on which section, and the seeds, as one file says it before anything is tuned."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from dualduty.errors import BadInput
from dualduty.scoring.measure import Measure, discover_measures
from dualduty.toml_file import read_toml
from dualduty.units import UNITS, split_key, tokens_like

_TOP: Final = ("draw_within_pct", "seeds", "reference", "floors", "kind")
_KIND: Final = ("mode", "sections", "weights_pct")
_SEEDS: Final = ("tuning", "proof")
_REFERENCE: Final = ("compression_pct", "rebound_pct")
_WHOLE: Final = 100.0


@dataclass(frozen=True)
class Objective:
    """Weights of measures (they add up to 1) for the sections of one kind, and the drive mode they are driven in."""

    kind: str
    mode: str
    sections: tuple[str, ...]
    weights: Mapping[str, float]


@dataclass(frozen=True)
class Objectives:
    """All objectives of a folder; duties and shares are 0..1, floors in the SI unit of their measure."""

    file: Path
    draw_within: float
    tuning_seeds: tuple[int, ...]
    proof_seeds: tuple[int, ...]
    reference: tuple[float, float]
    floors: Mapping[str, float]
    kinds: tuple[Objective, ...]

    def of(self, section: str) -> Objective:
        """The objective of a section; BadInput where the file has none."""
        for objective in self.kinds:
            if section in objective.sections:
                return objective
        raise BadInput(self.file, f"has no objective for section {section!r}; expected it in the sections of one kind")

    @property
    def measures(self) -> tuple[Measure, ...]:
        """Every measure that any objective weighs."""
        named = {name for objective in self.kinds for name in objective.weights}
        return tuple(measure for name, measure in discover_measures().items() if name in named)


def read_objectives(path: Path) -> Objectives:
    """Read the file; BadInput says key, what was expected and what came."""
    document = read_toml(path)
    _known(document, _TOP, f"{path}")
    seeds, reference = (_table(document, key, keys, path) for key, keys in (("seeds", _SEEDS), ("reference", _REFERENCE)))
    measures = discover_measures()
    kinds = tuple(_kind(name, entry, f"{path}: kind.{name}", measures) for name, entry in _kinds(document, path).items())
    _refuse_double(kinds, path)
    proof, tuning = (_seeds(seeds.get(key), f"{path}: seeds.{key}") for key in ("proof", "tuning"))
    if set(proof) & set(tuning):
        raise BadInput(f"{path}: seeds.proof", f"expected none of the tuning seeds in it, came {min(set(proof) & set(tuning))}")
    duties = [_number(reference.get(key), f"{path}: reference.{key}", _WHOLE) / _WHOLE for key in _REFERENCE]
    return Objectives(
        path, _number(document.get("draw_within_pct"), f"{path}: draw_within_pct", _WHOLE) / _WHOLE, tuning, proof, (duties[0], duties[1]),
        _floors(document.get("floors", {}), f"{path}: floors", measures), kinds,
    )  # fmt: skip


def _kinds(document: dict[str, Any], path: Path) -> dict[str, Any]:
    kinds = document.get("kind")
    if not isinstance(kinds, dict) or not kinds:
        raise BadInput(f"{path}: kind", f"expected at least one table [kind.NAME], came {kinds!r}")
    return kinds


def _kind(name: str, entry: Any, place: str, measures: Mapping[str, Measure]) -> Objective:
    if not isinstance(entry, dict):
        raise BadInput(place, f"expected a table with {', '.join(_KIND)}, came {entry!r}")
    _known(entry, _KIND, place)
    sections, weights = entry.get("sections"), entry.get("weights_pct")
    if not isinstance(sections, list) or not sections or not all(isinstance(one, str) for one in sections):
        raise BadInput(f"{place}.sections", f"expected a list of names, came {sections!r}")
    if not isinstance(entry.get("mode"), str):
        raise BadInput(f"{place}.mode", f"expected the name of a drive mode, came {entry.get('mode')!r}")
    if not isinstance(weights, dict) or not weights:
        raise BadInput(f"{place}.weights_pct", f"expected a table of measures, came {weights!r}")
    for measure in weights:
        _refuse_measure(measure, measures, f"{place}.weights_pct.{measure}")
    shares = {measure: _number(value, f"{place}.weights_pct.{measure}", _WHOLE) / _WHOLE for measure, value in weights.items()}
    if abs(sum(shares.values()) - 1.0) > 1e-6:  # noqa: PLR2004 - rounding of per cents
        raise BadInput(f"{place}.weights_pct", f"expected weights that add up to 100, came {_WHOLE * sum(shares.values()):g}")
    return Objective(name, entry["mode"], tuple(sections), shares)


def _refuse_measure(name: str, measures: Mapping[str, Measure], place: str) -> None:
    if name not in measures:
        near = difflib.get_close_matches(name, measures, n=1)
        raise BadInput(place, "expected a measure" + (f"; did you mean {near[0]!r}?" if near else f"; known: {', '.join(measures)}"))
    if measures[name].direction != "lower" or measures[name].needs == "sensed":
        raise BadInput(place, "expected a measure of which less is better and that is read from the plant's truth")


def _floors(entry: Any, place: str, measures: Mapping[str, Measure]) -> dict[str, float]:
    if not isinstance(entry, dict):
        raise BadInput(place, f"expected a table, came {entry!r}")
    found: dict[str, float] = {}
    for key, value in entry.items():
        named = [(name, token) for name in measures if (token := split_key(key, name)) is not None]
        fits = [(name, token or "1") for name, token in named if (token or "1") in tokens_like(measures[name].unit)]
        if not fits:
            raise BadInput(f"{place}.{key}", "expected the name of a measure and its unit, as peak_stop_force_kn")
        name, token = fits[0]
        found[name] = _number(value, f"{place}.{key}") * UNITS[token].factor
    return found


def _refuse_double(kinds: Collection[Objective], path: Path) -> None:
    seen: dict[str, str] = {}
    for objective in kinds:
        for section in objective.sections:
            if section in seen:
                raise BadInput(
                    f"{path}: kind.{objective.kind}.sections", f"{section!r} is in kind.{seen[section]} as well; expected it once"
                )
            seen[section] = objective.kind


def _table(document: dict[str, Any], key: str, keys: tuple[str, ...], path: Path) -> dict[str, Any]:
    entry = document.get(key)
    if not isinstance(entry, dict):
        raise BadInput(f"{path}: {key}", f"expected a table with {', '.join(keys)}, came {entry!r}")
    _known(entry, keys, f"{path}: {key}")
    return entry


def _known(entry: Mapping[str, Any], keys: tuple[str, ...], place: str) -> None:
    for key in entry:
        if key not in keys:
            near = difflib.get_close_matches(key, keys, n=1)
            raise BadInput(f"{place}: {key}", "unknown" + (f"; did you mean {near[0]!r}?" if near else f"; expected {', '.join(keys)}"))


def _seeds(came: Any, place: str) -> tuple[int, ...]:
    if not isinstance(came, list) or not came or not all(isinstance(one, int) and not isinstance(one, bool) and one >= 0 for one in came):
        raise BadInput(place, f"expected a list of whole numbers from 0, came {came!r}")
    return tuple(came)


def _number(came: Any, place: str, most: float = float("inf")) -> float:
    if isinstance(came, bool) or not isinstance(came, int | float) or not 0.0 < came <= most:
        limit = f" to {most:g}" if most < float("inf") else ""
        raise BadInput(place, f"expected a number above 0{limit}, came {came!r}")
    return float(came)
