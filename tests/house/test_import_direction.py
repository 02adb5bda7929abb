"""Who may import whom: the shared words none of the three, the three never each other, the harness all."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
THREE = ("strategies", "plant", "replay")
# The harness: parts of `dualduty` that put the three together. Everything else in `dualduty` is a shared word.
HARNESS = (
    "dualduty.scoring", "dualduty.export", "dualduty.report", "dualduty.command_line", "dualduty.trial", "dualduty.fit",
    "dualduty.study", "dualduty.attribution", "dualduty.__main__",
)  # fmt: skip


def within(module: str, parts: tuple[str, ...]) -> str:
    """The one of `parts` that a module belongs to; empty when none."""
    return next((part for part in parts if module == part or module.startswith(part + ".")), "")


def imported(source: str) -> list[str]:
    """Every module a source names in an import, in whatever scope, or in `import_module("...")`."""
    names: list[str] = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names += [f"{'.' * node.level}{node.module or ''}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Call) and ast.unparse(node.func).split(".")[-1] in {"import_module", "__import__"}:
            names += [a.value for a in node.args if isinstance(a, ast.Constant) and isinstance(a.value, str)]
    return names


def forbidden(module: str, name: str) -> str:
    """Why `module` may not import `name`; empty when it may."""
    if name.startswith("."):
        return "imports are absolute, so that they can be read and checked"
    if within(module, HARNESS):
        return ""
    own = within(module, THREE)
    other = within(name, THREE)
    if other and other != own:
        return f"{own or 'a shared word'} may not import {other}"
    if harness := within(name, HARNESS):
        return f"{own or 'a shared word'} may not import the harness ({harness})"
    return ""


def violations(root: Path) -> list[str]:
    """Every forbidden import below `root`, one line each."""
    found = []
    for package in ("dualduty", *THREE):
        for path in sorted((root / package).rglob("*.py")):
            module = ".".join(path.relative_to(root).with_suffix("").parts).removesuffix(".__init__")
            reasons = {name: forbidden(module, name) for name in imported(path.read_text(encoding="utf-8"))}
            found += [f"{module} imports {name}: {reason}" for name, reason in reasons.items() if reason]
    return found


def test_imports_go_one_way() -> None:
    assert violations(ROOT) == []


@pytest.mark.parametrize(
    ("place", "line"),
    [
        ("strategies/laws/peek.py", "from plant.car import wheel_load"),
        ("strategies/laws/peek.py", "def run():\n    import replay.log"),
        ("plant/loop.py", "from strategies import controller"),
        ("replay/open_loop.py", "import importlib\nimportlib.import_module('strategies.controller')"),
        ("replay/open_loop.py", "from dualduty.scoring import comfort"),
        ("dualduty/signals.py", "import plant"),
        ("dualduty/blocks/hold.py", "from dualduty import report"),
        ("plant/loop.py", "from ..strategies import controller"),
    ],
)
def test_planted_violation_is_caught(tmp_path: Path, place: str, line: str) -> None:
    path = tmp_path / place
    path.parent.mkdir(parents=True)
    path.write_text(line, encoding="utf-8")
    assert len(violations(tmp_path)) == 1


@pytest.mark.parametrize(
    ("place", "line"),
    [
        ("dualduty/scoring/comfort.py", "import plant.loop, replay.log"),
        ("dualduty/command_line.py", "from strategies import controller"),
        ("plant/terrain/berm.py", "from plant.shapes import ramp\nfrom dualduty.signals import Array"),
        ("strategies/laws/plantation.py", "import plantation, dualduty.reporter"),
    ],
)
def test_allowed_import_passes(tmp_path: Path, place: str, line: str) -> None:
    path = tmp_path / place
    path.parent.mkdir(parents=True)
    path.write_text(line, encoding="utf-8")
    assert violations(tmp_path) == []
