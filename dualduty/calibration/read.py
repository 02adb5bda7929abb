"""Read a calibration file (TOML), with all its problems at once."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from dualduty.calibration.disorder import disorder
from dualduty.calibration.fill import Filler
from dualduty.calibration.model import MOST_OF_A_LAYER, Calibration, LayerPlan
from dualduty.calibration.origin import unnamed_modes
from dualduty.calibration.settings import Settings, defaults
from dualduty.calibration.supply import supply_chain
from dualduty.car import Car, read_car
from dualduty.discovery import Found, PlugIns
from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.parameters import declarations
from dualduty.roles import is_role, known_roles
from dualduty.toml_file import read_toml

ACTS: Final = ("set", "add", "raise", "cap")
JOINS: Final = ("max", "sum")
_TOP: Final = ("name", "note", "vehicle", "modes", "starts_from", "suppliers", "intake", "supervisor", "estimators", "detectors", "layers")
_LAYER: Final = ("name", "law", "laws", "act", "join", "when", "unless", "corners", "after")


@dataclass
class _Draft:
    """A calibration while its files are laid over each other."""

    layers: dict[str, LayerPlan]
    settings: dict[str, Settings]
    chosen: dict[str, str]


def read_calibration(path: Path, plug_ins: PlugIns) -> Calibration:
    """Read `path` and the files it starts from; BadInput or SeveralBadInputs with file and key."""
    documents = _documents(path, ())
    root_file, root = documents[0]
    modes = _modes(root_file, root)
    for file, document in documents:
        if document.get("modes", list(modes)) != list(modes):
            raise BadInput(f"{file}: modes", f"expected those of {root_file.name}, {', '.join(modes)}, got {document['modes']!r}")
    car, vehicle_file = _car(documents)
    draft = _Draft({}, _all_settings(plug_ins, len(modes), car), {})
    problems: list[BadInput] = []
    for file, document in documents:
        filler = Filler(str(file), modes)
        _lay_over(draft, document, filler, plug_ins, car)
        problems += filler.problems
    if not problems:
        problems = disorder(draft.settings, draft.layers.values(), plug_ins, modes, str(path))
    if problems:
        raise problems[0] if len(problems) == 1 else SeveralBadInputs(problems)
    heat = draft.settings["supervisor"].get("heat_protection")
    also = ("damper_temperature",) if heat is not None and (heat.values > 0.0).any() else ()
    suppliers = supply_chain(tuple(draft.layers.values()), also, plug_ins, draft.chosen, str(path))
    kept = {f"{_group(plug_ins.by_name[name])}.{name}": draft.settings[name] for name in suppliers}
    newest = documents[-1][1]
    made = Calibration(
        name=str(newest.get("name", path.stem)),
        file=path,
        car=car,
        vehicle_file=vehicle_file,
        modes=modes,
        note=str(newest.get("note", "")),
        layers=tuple(draft.layers.values()),
        suppliers=suppliers,
        files=tuple(file for file, _ in documents),
        settings={**kept, "intake": draft.settings["intake"], "supervisor": draft.settings["supervisor"]},
    )
    return replace(made, notices=tuple(line for *_, value in made.values() for line in unnamed_modes(value, modes, made.files)))


def _documents(path: Path, below: tuple[Path, ...]) -> list[tuple[Path, dict[str, Any]]]:
    if path.resolve() in below:
        raise BadInput(path, "starts_from leads back to this file")
    document = read_toml(path)
    unknown = [key for key in document if key not in _TOP]
    if unknown:
        near = difflib.get_close_matches(unknown[0], _TOP, n=1)
        hint = f"; did you mean {near[0]!r}?" if near else f"; expected one of {', '.join(_TOP)}"
        raise BadInput(f"{path}: {unknown[0]}", f"unknown key{hint}")
    parent = document.get("starts_from")
    if parent is None:
        return [(path, document)]
    if not isinstance(parent, str) or not (path.parent / parent).is_file():
        raise BadInput(f"{path}: starts_from", f"expected the path of another calibration, found no file {parent!r}")
    return [*_documents(path.parent / parent, (*below, path.resolve())), (path, document)]


def _modes(file: Path, document: dict[str, Any]) -> tuple[str, ...]:
    modes = document.get("modes")
    if not isinstance(modes, list) or not modes or not all(isinstance(mode, str) for mode in modes) or len(set(modes)) != len(modes):
        raise BadInput(f"{file}: modes", f"expected a list of drive-mode names, each once, got {modes!r}")
    return tuple(modes)


def _car(documents: list[tuple[Path, dict[str, Any]]]) -> tuple[Car, Path]:
    for file, document in reversed(documents):
        if "vehicle" in document:
            if not isinstance(document["vehicle"], str):
                raise BadInput(f"{file}: vehicle", f"expected a path to a vehicle file, got {document['vehicle']!r}")
            vehicle = file.parent / document["vehicle"]
            if not vehicle.is_file():
                raise BadInput(f"{file}: vehicle", f"expected a vehicle file, found no file {document['vehicle']!r}")
            return read_car(vehicle), vehicle
    raise BadInput(f"{documents[0][0]}: vehicle", "expected the path of a vehicle file, the key is missing")


def _all_settings(plug_ins: PlugIns, modes: int, car: Car) -> dict[str, Settings]:
    suppliers = {name: defaults(found.parameters, modes, car) for name, found in plug_ins.by_name.items() if found.kind != "law"}
    fixtures = {name: defaults(declarations(cls), modes, car) for name, cls in plug_ins.fixtures.items() if name != "layer"}
    return {**suppliers, **fixtures}


def _group(found: Found) -> str:
    return f"{found.kind}s"


def _lay_over(draft: _Draft, document: dict[str, Any], filler: Filler, plug_ins: PlugIns, car: Car) -> None:
    for name in ("intake", "supervisor"):
        draft.settings[name] = filler.fill(draft.settings[name], _table(document, name, filler), name)
    for kind in ("estimator", "detector"):
        for name, table in _table(document, f"{kind}s", filler).items():
            _supplier(draft, (kind, name), table, filler, plug_ins)
    _choose(draft, _table(document, "suppliers", filler), filler, plug_ins)
    layers = document.get("layers", [])
    if not isinstance(layers, list):
        filler.problem("layers", "expected a list of layers, each under [[layers]]")
        return
    names = [table["name"] if isinstance(table, dict) and isinstance(table.get("name"), str) else None for table in layers]
    for index, table in enumerate(layers):
        if names[index] is not None and names[index] in names[:index]:
            filler.problem(f'layers[{index}] "{names[index]}"', "a layer of this name stands above in this file; expected each name once")
        else:
            _layer(draft, table, f"layers[{index}]", filler, plug_ins, car)


def _choose(draft: _Draft, choices: dict[str, Any], filler: Filler, plug_ins: PlugIns) -> None:
    """Note which of several plug-ins is to give a quantity or a state."""
    for name, choice in choices.items():
        givers = [found.name for found in plug_ins.suppliers(name)]
        if choice in givers:
            draft.chosen[name] = choice
        else:
            filler.problem(f"suppliers.{name}", f"expected what gives {name!r}: {' or '.join(givers) or 'nothing does'}, got {choice!r}")


def _table(document: dict[str, Any], key: str, filler: Filler) -> dict[str, Any]:
    table = document.get(key, {})
    if isinstance(table, dict):
        return table
    filler.problem(key, f"expected a table, got {table!r}")
    return {}


def _supplier(draft: _Draft, named: tuple[str, str], table: Any, filler: Filler, plug_ins: PlugIns) -> None:
    kind, name = named
    place = f"{kind}s.{name}"
    try:
        plug_ins.get(name, f"{filler.file}: {place}", (kind,))
    except BadInput as problem:
        filler.problems.append(problem)
        return
    if isinstance(table, dict):
        draft.settings[name] = filler.fill(draft.settings[name], table, place)
    else:
        filler.problem(place, f"expected a table of parameters, got {table!r}")


def _layer(draft: _Draft, table: Any, place: str, filler: Filler, plug_ins: PlugIns, car: Car) -> None:
    if not isinstance(table, dict) or not isinstance(table.get("name"), str):
        filler.problem(place, "expected a layer with a name")
        return
    name = table["name"]
    place = f'{place} "{name}"'
    before = draft.layers.get(name)
    if before is None:
        before = _new_layer(table, place, filler, plug_ins, car)
        if before is None:
            return
    plan = _words(before, table, place, filler)
    for law in plan.laws:
        if plan.act != "add" and getattr(plug_ins.by_name[law].cls, "trims", False):
            filler.problem(f"{place}.act", f'{law} asks for a difference; expected act = "add", got {plan.act!r}')
    law_tables = {key: value for key, value in table.items() if key in plan.laws}
    rest = {key: value for key, value in table.items() if key not in _LAYER and key not in law_tables}
    for key in [key for key, value in rest.items() if isinstance(value, dict) and key[:1].isupper()]:
        filler.problem(f"{place}.{key}", f"expected a table of a law of this layer, {' or '.join(plan.laws)}")
        del rest[key]
    settings = filler.fill(plan.settings, rest, place)
    laws = {law: _law_settings(plan, law, law_tables, place, filler) for law in plan.laws}
    draft.layers[name] = replace(plan, settings=settings, law_settings=laws)
    if "after" in table:
        _move_after(draft, name, table["after"], place, filler)


def _law_settings(plan: LayerPlan, law: str, tables: dict[str, Any], place: str, filler: Filler) -> Settings:
    table = tables.get(law, {})
    if not isinstance(table, dict):
        filler.problem(f"{place}.{law}", f"expected a table of parameters, got {table!r}")
        return plan.law_settings[law]
    return filler.fill(plan.law_settings[law], table, f"{place}.{law}")


def _new_layer(table: dict[str, Any], place: str, filler: Filler, plug_ins: PlugIns, car: Car) -> LayerPlan | None:
    named = table.get("laws", table.get("law"))
    laws = tuple(named) if isinstance(named, list) else (named,)
    if not laws or not all(isinstance(law, str) for law in laws):
        filler.problem(place, f'expected law = "Name" or laws = ["Name", ...], got {named!r}')
        return None
    try:
        found = [plug_ins.get(law, f"{filler.file}: {place}.law", ("law",)) for law in laws]
    except BadInput as problem:
        filler.problems.append(problem)
        return None
    if len(laws) > MOST_OF_A_LAYER:
        filler.problem(f"{place}.laws", f"expected at most {MOST_OF_A_LAYER} laws, got {len(laws)}")
        return None
    if len(set(laws)) < len(laws):
        filler.problem(f"{place}.laws", f"expected each law once, got {', '.join(laws)}")
        return None
    if len(laws) > 1 and any(law.returns != "Force" for law in found):
        filler.problem(f"{place}.laws", "several laws in one layer must all ask for force; put duty laws in layers of their own")
        return None
    modes = len(filler.modes)
    law_settings = {law.name: defaults(law.parameters, modes, car) for law in found}
    settings = defaults(declarations(plug_ins.fixtures["layer"]), modes, car)
    return LayerPlan(table["name"], laws, "set", "max", (), (), settings, law_settings)


def _words(plan: LayerPlan, table: dict[str, Any], place: str, filler: Filler) -> LayerPlan:
    """The layer's plan with its act, join and states as the table says."""
    act = _one_of(table, "act", plan.act, ACTS, place, filler)
    join = _one_of(table, "join", plan.join, JOINS, place, filler)
    said = {key: table.get(key, list(getattr(plan, key))) for key in ("when", "unless", "corners")}
    for key, names in said.items():
        if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
            filler.problem(f"{place}.{key}", f"expected a list of {'roles' if key == 'corners' else 'state names'}, got {names!r}")
            said[key] = []
        elif len(names) > MOST_OF_A_LAYER:
            filler.problem(f"{place}.{key}", f"expected at most {MOST_OF_A_LAYER}, got {len(names)}")
    for role in [role for role in said["corners"] if not is_role(role)]:
        filler.problem(f"{place}.corners", f"expected roles among {known_roles()}, got {role!r}")
        said["corners"] = []
    for key, laws in (("law", [table.get("law")]), ("laws", table.get("laws"))):
        if key in table and laws != list(plan.laws):
            filler.problem(
                f"{place}.{key}", f"a layer keeps its law; expected {', '.join(plan.laws)}, got {table[key]!r}; add a layer of another name"
            )
    return replace(plan, act=act, join=join, when=tuple(said["when"]), unless=tuple(said["unless"]), corners=tuple(said["corners"]))


def _one_of(table: dict[str, Any], key: str, default: str, known: tuple[str, ...], place: str, filler: Filler) -> str:
    value = table.get(key, default)
    if value in known:
        return str(value)
    filler.problem(f"{place}.{key}", f"expected one of {', '.join(known)}, got {value!r}")
    return default


def _move_after(draft: _Draft, name: str, after: Any, place: str, filler: Filler) -> None:
    if not isinstance(after, str) or after not in draft.layers or after == name:
        filler.problem(f"{place}.after", f"expected the name of another layer, got {after!r}")
        return
    moved = draft.layers.pop(name)
    order: dict[str, LayerPlan] = {}
    for key, plan in draft.layers.items():
        order[key] = plan
        if key == after:
            order[name] = moved
    draft.layers = order
