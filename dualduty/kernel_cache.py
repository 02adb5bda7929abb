"""Where compiled kernels are kept: one folder per state of every source that can change a compiled number.

A compiled kernel freezes the functions *and the constants* it uses, so the digest covers each file that mentions
kernels and, transitively, every file of ours that such a file imports.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import stat
import sys
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Final

PACKAGES: Final = ("dualduty", "strategies", "plant", "replay")
HOUSE: Final = Path(__file__).resolve().parent.parent
_UNUSED_AFTER: Final = 30 * 86400.0  # s; a folder is touched at each use, so this one belongs to sources long gone

_IMPORT: Final = re.compile(
    rb"^[ \t]*(?:from[ \t]+((?:" + "|".join(PACKAGES).encode() + rb")[\w.]*)[ \t]+import[ \t]+(\([^)]*\)|[^\n#]*)"
    rb"|import[ \t]+((?:" + "|".join(PACKAGES).encode() + rb")[\w.]*))",
    re.MULTILINE,
)


def sources_digest(versions: Iterable[str], house: Path = HOUSE) -> str:
    """Digest of every source that can change a compiled number, and of the versions that compile it."""
    texts = {path: path.read_bytes() for package in PACKAGES for path in sorted((house / package).rglob("*.py"))}
    return _digest([path for path, text in texts.items() if b"kernel" in text], texts, versions, house)


def file_digest(source: Path, house: Path = HOUSE) -> str:
    """Digest of one file and of every file of ours that it imports, transitively."""
    return _digest([source], {}, (), house)


def _digest(first: list[Path], texts: dict[Path, bytes], versions: Iterable[str], house: Path) -> str:
    used = dict.fromkeys(first)
    waiting = list(first)
    while waiting:
        path = waiting.pop()
        texts.setdefault(path, path.read_bytes())
        fresh = [found for found in _imported(texts[path], house) if found not in used]
        used.update(dict.fromkeys(fresh))
        waiting += fresh
    digest = hashlib.sha256("\0".join(versions).encode())
    for path in sorted(used):
        name = path.relative_to(house).as_posix() if path.is_relative_to(house) else path.name
        digest.update(name.encode() + b"\0" + hashlib.sha256(texts[path]).digest())
    return digest.hexdigest()[:16]


def _imported(text: bytes, house: Path) -> list[Path]:
    """Files of ours that a source imports, whether it names the module or something in it."""
    found: dict[Path, None] = {}
    for package, names, module in _IMPORT.findall(text):
        base = house.joinpath(*(package or module).decode().split("."))
        stems = [base, *(base / name for name in re.findall(r"\w+", names.decode(errors="replace")))]
        candidates = [path for stem in stems for path in (stem.with_suffix(".py"), stem / "__init__.py")]
        found.update(dict.fromkeys(path for path in candidates if path.is_file()))
    return list(found)


def cache_folder(digest: str) -> Path:
    """Folder of compiled kernels for exactly these sources; made when missing, in a temporary place when need be."""
    wanted = _chosen_root() / "kernels" / digest
    if not _writable(wanted):
        wanted = _temporary_root() / "kernels" / digest
        wanted.mkdir(parents=True, exist_ok=True)
    _forget_unused(wanted)
    return wanted


def is_empty(folder: Path) -> bool:
    """Whether nothing was compiled into this folder yet."""
    return not any(folder.rglob("*.nbc"))


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


def _forget_unused(current: Path) -> None:
    """Remove the folders of sources long gone: every edit of a kernel leaves one behind."""
    try:
        os.utime(current)
        for folder in current.parent.iterdir():
            if time.time() - folder.stat().st_mtime > _UNUSED_AFTER:
                shutil.rmtree(folder, ignore_errors=True)
    except OSError:  # another process tidies at the same moment
        return
