"""The marks of a recorded run: where they lie, and how a run that had none comes by a file of them."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from dualduty.errors import BadInput
from dualduty.files import whole_file
from dualduty.trial.folder import WorkFolder
from dualduty.trial.run_sheet import RunSheet, read_run_sheet
from replay.marks.marks import marks_path
from replay.marks.marks_file import MarksFile


@dataclass(frozen=True)
class RunMarks:
    """A run, its run file, and its marks as they were read; `named` is False where the run file says nothing of them yet."""

    sheet: RunSheet
    run_file: Path
    file: MarksFile
    named: bool

    @classmethod
    def of(cls, log: str, folder: Path | None = None) -> RunMarks:
        """Of a run file, or of a run by its name in a working folder."""
        path = Path(log)
        if path.suffix != ".toml":
            path = WorkFolder(folder or Path()).log_files((log,))[0]
        sheet = read_run_sheet(path)
        return cls(sheet, path, MarksFile.read_or_new(sheet.marks or marks_path(sheet.log)), sheet.marks is not None)

    def save(self, file: MarksFile) -> None:
        """Write the marks; the run file is told of them where it has no word of them yet."""
        if self.named:
            file.save()
            return
        text = _with_marks(self.run_file, file.path)
        with whole_file(self.run_file) as draft:
            draft.write_text(text, encoding="utf-8", newline="")
            file.save()


def _with_marks(run_file: Path, marks: Path) -> str:
    """The run file with its key `marks`, after `channel_map`; all else as it stands there."""
    try:
        document = tomlkit.parse(run_file.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        raise BadInput(run_file, f"can't be read: {error.strerror or error}") from None
    except (UnicodeDecodeError, TOMLKitError) as error:
        raise BadInput(run_file, f"is not valid TOML: {error}") from None
    document["marks"] = Path(os.path.relpath(marks, run_file.parent)).as_posix()
    return _key_in_place(tomlkit.dumps(document))


def _key_in_place(text: str) -> str:
    """The new line next to the one that names the channel map, where both are plain lines."""
    lines = text.splitlines(keepends=True)
    new = next(index for index, line in enumerate(lines) if line.startswith("marks ="))
    after = next((index for index, line in enumerate(lines) if line.startswith("channel_map =") and line.endswith("\n")), None)
    if after is None or new <= after:
        return text
    line = lines.pop(new)
    lines.insert(after + 1, line if line.endswith("\n") else f"{line}\n")
    return "".join(lines)
