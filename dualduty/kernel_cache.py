"""Where compiled kernels are kept, and what they depend on: the digest of a source and of all it imports.

A compiled kernel freezes the functions *and the constants* it uses, from whatever file they come. So each kernel is
kept under the digest of its own file and, transitively, of every file of ours that this file imports.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
import sys
import tempfile
import time
from functools import cache
from pathlib import Path
from typing import Final

PACKAGES: Final = ("dualduty", "strategies", "plant", "replay")
HOUSE: Final = Path(__file__).resolve().parent.parent
_UNUSED_AFTER: Final = 30 * 86400.0  # s; a file is touched at each use, so such a one belongs to a source long gone

_OURS: Final = rb"(?:" + "|".join(PACKAGES).encode() + rb")\b[\w.]*"
_IMPORT: Final = re.compile(
    rb"^[ \t]*(?:from[ \t]+(" + _OURS + rb")[ \t]+import[ \t]+(\([^)]*\)|[^\n#]*)|import[ \t]+(" + _OURS + rb"))", re.MULTILINE
)


def file_digest(source: Path, house: Path = HOUSE) -> str:
    """Digest of one file and of every file of ours that it imports, transitively."""
    used = {source: None}
    waiting = [source]
    while waiting:
        fresh = [path for path in _facts(waiting.pop(), house)[1] if path not in used]
        used.update(dict.fromkeys(fresh))
        waiting += fresh
    return _digest(list(used), house)


def _digest(paths: list[Path], house: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(paths):
        name = path.relative_to(house).as_posix() if path.is_relative_to(house) else path.name
        digest.update(name.encode() + b"\0" + _facts(path, house)[0])
    return digest.hexdigest()[:16]


@cache
def _facts(path: Path, house: Path) -> tuple[bytes, tuple[Path, ...]]:
    """Digest of one text, and the files of ours it imports; read once a process, as the module itself is."""
    text = path.read_bytes()
    return hashlib.sha256(text).digest(), _imported(text, house)


def _imported(text: bytes, house: Path) -> tuple[Path, ...]:
    """Files of ours that a source imports, whether it names the module or something in it."""
    found: dict[Path, None] = {}
    for package, names, module in _IMPORT.findall(text):
        base = house.joinpath(*(package or module).decode().split("."))
        stems = [base, *(base / name for name in re.findall(r"\w+", names.decode(errors="replace")))]
        candidates = [path for stem in stems for path in (stem.with_suffix(".py"), stem / "__init__.py")]
        found.update(dict.fromkeys(path for path in candidates if path.is_file()))
    return tuple(found)


def cache_folder(versions: str) -> Path:
    """Folder of the kernels compiled by these versions; made when missing, in a temporary place when need be."""
    wanted = _chosen_root() / "kernels" / versions
    if not _writable(wanted):
        wanted = _temporary_root() / "kernels" / versions
        wanted.mkdir(parents=True, exist_ok=True)
    return wanted


def forget_unused(folder: Path) -> None:
    """Remove kernels of sources long gone: every edit leaves some behind."""
    for path in folder.glob("*.nb?"):
        try:
            if time.time() - path.stat().st_mtime > _UNUSED_AFTER:
                path.unlink()
        except OSError:  # another process tidies at the same moment
            continue


def _chosen_root() -> Path:
    if chosen := os.environ.get("DUALDUTY_CACHE"):
        return Path(chosen)
    try:
        home = Path.home()
    except RuntimeError:  # a user number without an account, as in many containers
        return _temporary_root()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", home)) / "dualduty" / "Cache"
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "dualduty"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "dualduty"


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def _temporary_root() -> Path:
    """A folder that later runs find again and nobody else can write to: what lies in it is executed."""
    if sys.platform == "win32":
        return Path(tempfile.gettempdir()) / "dualduty"  # already private to the user
    folder = Path(tempfile.gettempdir()) / f"dualduty-{os.getuid()}"
    folder.mkdir(mode=0o700, exist_ok=True)
    status = folder.lstat()
    if stat.S_ISDIR(status.st_mode) and status.st_uid == os.getuid() and not status.st_mode & 0o077:
        return folder
    return Path(tempfile.mkdtemp(prefix="dualduty-"))
