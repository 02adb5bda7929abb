"""The start-up check: right Python, nothing missing, and no foreign `replay/` or scratch `plant.py` in front of ours.

It looks for packages without importing them, so that it costs next to nothing before `--help`.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Final

PYTHON: Final = (3, 11)
SIBLINGS: Final = ("strategies", "plant", "replay")
NEEDED: Final = ("numpy", "scipy", "control", "pandas", "matplotlib", "numba", "pydantic", "tomlkit", "click", "rich", "jinja2", "pint")


def problems() -> list[str]:
    """What keeps dualduty from working here, one line each; empty when all is well."""
    return [*_old_python(sys.version_info[:2]), *_missing(NEEDED), *(line for name in SIBLINGS for line in _shadowed(name))]


def _old_python(version: tuple[int, int]) -> list[str]:
    if version >= PYTHON:
        return []
    return [f"Python {PYTHON[0]}.{PYTHON[1]} or newer is needed; this is {version[0]}.{version[1]} ({sys.executable})"]


def _missing(names: tuple[str, ...]) -> list[str]:
    absent = [name for name in names if _find(name) is None]
    if not absent:
        return []
    return [f"missing packages: {', '.join(absent)}; install them with: {sys.executable} -m pip install {' '.join(absent)}"]


def _shadowed(name: str) -> list[str]:
    """Say when `import name` would find something else than the package beside ours."""
    expected = Path(__file__).resolve().parent.parent / name
    found = _find(name)
    if found is None:
        return [f"package {name!r} is missing: expected {expected}; install dualduty again"]
    if found == expected:
        return []
    cure = f"rename it, or start from another folder (Python looks in {found.parent} first)"
    return [f"{found} stands in front of dualduty's own {name!r}: expected {expected}; {cure}"]


def _find(name: str) -> Path | None:
    """Folder or file that `import name` would use; None when there is none."""
    try:
        spec = importlib.util.find_spec(name)
    except ValueError:  # something put a bare module of this name into sys.modules
        module_file = getattr(sys.modules[name], "__file__", None)
        return Path(module_file).resolve() if module_file else Path(name)
    if spec is None:
        return None
    if spec.submodule_search_locations:
        return Path(next(iter(spec.submodule_search_locations))).resolve()
    return Path(spec.origin or name).resolve()
