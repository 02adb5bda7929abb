"""What every file of the house keeps to: docstrings, sizes, no machine's paths, tests without packages."""

from __future__ import annotations

import ast
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("dualduty", "strategies", "plant", "replay")
MODULE_LINES = 300
FUNCTION_LINES = 40
NESTING = 3
# Path of a module larger than the budget -> why it is one idea all the same.
LARGER_ON_PURPOSE: dict[str, str] = {}

# A path of one machine: a home, a scratch or a work folder, or a drive letter.
_FOLDERS = "home|Users|root|tmp|work|mnt|var/folders"
MACHINE_PATH = re.compile(rf"(?<![\w.<>$}}~/-])(?:/(?:{_FOLDERS})/|[A-Z]:\\\\?\w)")

Function = ast.FunctionDef | ast.AsyncFunctionDef


def sources() -> list[Path]:
    return [path for package in PACKAGES for path in sorted((ROOT / package).rglob("*.py"))]


def functions(path: Path) -> Iterator[Function]:
    return (node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, Function))


def code_lines(function: Function) -> int:
    """Lines of the body without its docstring."""
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def depth(node: ast.AST) -> int:
    """How deep blocks are nested; an `elif` stays on the level of its `if`."""
    deepest = 0
    for child in ast.iter_child_nodes(node):
        if isinstance(child, Function | ast.ClassDef):
            continue
        is_elif = isinstance(node, ast.If) and isinstance(child, ast.If) and node.orelse == [child]
        opens = isinstance(child, ast.If | ast.For | ast.While | ast.With | ast.Try | ast.Match) and not is_elif
        deepest = max(deepest, depth(child) + opens)
    return deepest


def test_there_is_something_to_check() -> None:
    assert len(sources()) > 50


def test_every_module_says_what_it_is() -> None:
    assert [str(p.relative_to(ROOT)) for p in sources() if not ast.get_docstring(ast.parse(p.read_text(encoding="utf-8")))] == []


def test_every_package_folder_has_an_init() -> None:
    folders = {path.parent for path in sources()}
    assert [str(folder.relative_to(ROOT)) for folder in sorted(folders) if not (folder / "__init__.py").exists()] == []


def test_no_package_among_the_tests() -> None:
    assert list((ROOT / "tests").rglob("__init__.py")) == []


def test_modules_stay_one_idea() -> None:
    sizes = {path.relative_to(ROOT).as_posix(): len(path.read_text(encoding="utf-8").splitlines()) for path in sources()}
    assert {name: size for name, size in sizes.items() if size > MODULE_LINES and name not in LARGER_ON_PURPOSE} == {}
    assert [name for name in LARGER_ON_PURPOSE if sizes.get(name, 0) <= MODULE_LINES] == []  # no exemption outlives its need


def test_functions_stay_a_screen() -> None:
    found = {f"{path.relative_to(ROOT)}: {f.name}": code_lines(f) for path in sources() for f in functions(path)}
    assert {name: lines for name, lines in found.items() if lines > FUNCTION_LINES} == {}


def is_compiled(function: Function) -> bool:
    """Whether a function is a kernel: it walks corners, ticks and cases, three loops before it decides anything."""
    names = {ast.unparse(decorator).split("(")[0].split(".")[-1] for decorator in function.decorator_list}
    return bool(names & {"kernel", "inline", "machine", "scan_kernel"}) or function.name == "scan"


def test_nesting_stays_shallow() -> None:
    found = {f"{path.relative_to(ROOT)}: {f.name}": depth(f) - 2 * is_compiled(f) for path in sources() for f in functions(path)}
    assert {name: levels for name, levels in found.items() if levels > NESTING} == {}


@pytest.mark.parametrize(
    ("text", "levels"),
    [
        ("def f():\n    return 1", 0),
        ("def f():\n    if a: pass\n    elif b: pass\n    elif c: pass", 1),
        ("def f():\n    for a in b:\n        if a:\n            while a: pass", 3),
        ("def f():\n    if a: pass\n    else:\n        for b in c:\n            with b: pass", 3),
    ],
)
def test_depth_counts_blocks(text: str, levels: int) -> None:
    assert depth(ast.parse(text).body[0]) == levels


def test_no_path_of_one_machine() -> None:
    names = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.splitlines()
    contents = {name: (ROOT / name).read_bytes() for name in names if (ROOT / name).is_file()}
    lines = {name: content.decode("utf-8", "replace").split("\n") for name, content in contents.items() if b"\0" not in content}
    assert [f"{name}: {line.strip()}" for name, text in lines.items() for line in text if MACHINE_PATH.search(line)] == []


@pytest.mark.parametrize(
    ("text", "is_one"),
    [
        ("open('/" + "home/me/a.csv')", True),  # pieced together, so that the test above doesn't find it here
        ("C:" + "\\data\\a.csv", True),
        ("$HOME/.cache", False),
        ("runs/home/a", False),
        ("~/tmp/a", False),
    ],
)
def test_machine_path_is_recognised(text: str, is_one: bool) -> None:
    assert bool(MACHINE_PATH.search(text)) is is_one
