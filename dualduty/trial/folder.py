"""A working folder: where vehicles, strategies, sections, channel maps and logs of one job lie."""

from __future__ import annotations

import difflib
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from dualduty.errors import BadInput
from dualduty.files import whole_folder
from dualduty.shipped import shipped_calibrations
from dualduty.toml_file import read_toml

PARTS: Final = ("vehicles", "dyno", "strategies", "sections", "lanes", "channel_maps", "sensors", "logs")
FILES: Final = ("README.md", "gates.toml", "detector_gates.toml", "objectives.toml")


@dataclass(frozen=True)
class WorkFolder:
    """The parts of a working folder, by path."""

    root: Path

    @property
    def strategies(self) -> Path:
        """Calibration files."""
        return self.root / "strategies"

    @property
    def sections(self) -> Path:
        """Section files."""
        return self.root / "sections"

    @property
    def logs(self) -> Path:
        """Recorded logs with their marks."""
        return self.root / "logs"

    def section_files(self, names: tuple[str, ...]) -> list[Path]:
        """Files of the sections named (or given by path), or of all; BadInput with near names otherwise."""
        paths = [Path(name) for name in names if Path(name).suffix == ".toml"]
        missing = [path for path in paths if not path.is_file()]
        if missing:
            raise BadInput(missing[0], "expected a section file, found no file")
        named = tuple(name for name in names if Path(name).suffix != ".toml")
        return [*paths, *(_named(self.sections, named, "*.toml", "section") if named or not paths else ())]

    def everyday_sections(self) -> list[Path]:
        """Files of the sections marked `everyday = true`, or of all where none is."""
        every = self.section_files(())
        return [path for path in every if read_toml(path).get("everyday") is True] or every

    def section(self, said: str) -> Path:
        """A section by path, or by name within the folder's sections."""
        path = Path(said)
        if path.exists() or path.suffix or path.parent != Path():
            return path
        return self.section_files((said,))[0]

    def log_files(self, names: tuple[str, ...]) -> list[Path]:
        """Run files of the named logs, or of all."""
        return _named(self.logs, names, "*.toml", "log") if self.logs.is_dir() or names else []

    def calibration(self, said: str) -> Path:
        """A calibration by path, or by name within the folder's strategies."""
        return _by_path_or_name(said, self.strategies, "a calibration file")

    def vehicle(self, said: str) -> Path:
        """A vehicle type or one vehicle by path, or by name within the folder's vehicles."""
        return _by_path_or_name(said, self.root / "vehicles", "a vehicle file")

    def overlay(self, said: str) -> Path:
        """A hardware overlay by path, or by name within the folder's vehicles/overlays."""
        return _by_path_or_name(said, self.root / "vehicles" / "overlays", "a hardware overlay")


def _by_path_or_name(said: str, folder: Path, what: str) -> Path:
    path = Path(said)
    if path.is_file():
        return path
    inside = folder / (said if said.endswith(".toml") else f"{said}.toml")
    if inside.is_file():
        return inside
    known = sorted(p.stem for p in folder.glob("*.toml")) if folder.is_dir() else []
    near = difflib.get_close_matches(path.stem, known, n=1)
    hint = f"; did you mean {near[0]!r}?" if near else (f"; known: {', '.join(known)}" if known else "")
    raise BadInput(said, f"expected {what} or the name of one in {folder}{hint}")


def work_folder_of(calibration: Path, chosen: Path | None) -> WorkFolder:
    """The working folder a calibration lies in, or the one chosen."""
    root = chosen if chosen is not None else calibration.resolve().parent.parent
    if not (root / "sections").is_dir():
        raise BadInput(root, "expected a working folder with a folder sections/ in it; make one with: dualduty new-folder NAME")
    return WorkFolder(root)


def here_or_shipped(chosen: Path | None) -> WorkFolder:
    """The folder chosen, else the one where one stands, else the shipped demo."""
    if chosen is not None:
        return WorkFolder(chosen)
    return WorkFolder(Path() if Path("sections").is_dir() else shipped_calibrations())


def make_work_folder(path: Path) -> WorkFolder:
    """Copy the shipped demo data into a new folder; an existing folder is left alone."""
    if path.exists():
        raise BadInput(path, "exists already; expected the name of a new folder")
    with whole_folder(path) as draft:
        copy_demo_data(draft)
    return WorkFolder(path)


def copy_demo_data(folder: Path) -> None:
    """Copy the shipped demo data into an existing folder, a draft of a working folder."""
    for part in PARTS:
        source = shipped_calibrations() / part
        if source.is_dir():
            shutil.copytree(source, folder / part, ignore=shutil.ignore_patterns("__pycache__"))
    for name in FILES:
        shutil.copy(shipped_calibrations() / name, folder / name)


def _named(folder: Path, names: tuple[str, ...], pattern: str, kind: str) -> list[Path]:
    files = {path.stem: path for path in sorted(folder.glob(pattern))} if folder.is_dir() else {}
    if not files and not names:
        raise BadInput(folder, f"expected {kind} files ({pattern}), found none")
    for name in names:
        if name not in files:
            near = difflib.get_close_matches(name, files, n=1)
            hint = f"; did you mean {near[0]!r}?" if near else f"; known: {', '.join(files) or 'none'}"
            raise BadInput(f"{kind} {name}", f"is not in {folder}{hint}")
    return [files[name] for name in names] if names else list(files.values())
