"""Write the file of a new law, detector or estimator: a skeleton that runs, under the name it is to have."""

from __future__ import annotations

import keyword
import re
from collections.abc import Collection
from importlib.resources import files
from pathlib import Path
from typing import Final

from dualduty.errors import BadInput
from dualduty.files import write_text

KINDS: Final = ("law", "detector", "estimator")
_WORD: Final = re.compile(r"[A-Za-z][A-Za-z0-9]*")
_OF_THE_FORM: Final = ("Any", "dt")  # what a skeleton imports, and what `now` has besides signals
_TAKEN_ENDINGS: Final = ("_strength", "_valid", "_fault")


def names_of(said: str) -> tuple[str, str]:
    """Class name and file name of a plug-in that somebody calls RoughHold, rough_hold or "rough hold"."""
    words = [word for part in re.split(r"[\s_-]+", said.strip()) for word in re.sub(r"(?<=[a-z0-9])(?=[A-Z])", " ", part).split()]
    cls, file = "".join(word[:1].upper() + word[1:] for word in words), "_".join(word.lower() for word in words)
    wrong = not words or not all(_WORD.fullmatch(word) for word in words[:1]) or not file.isidentifier() or not file.isascii()
    if wrong or keyword.iskeyword(file) or keyword.iskeyword(cls) or file.endswith(_TAKEN_ENDINGS):
        raise BadInput(f"name {said!r}", "expected words of letters and digits, as RoughHold or rough_hold, and no word of Python's")
    return cls, file


def usual_folder(kind: str, here: Path) -> Path:
    """Where a plug-in of a kind belongs: strategies/KINDs of a working folder, else where one stands."""
    return here / "strategies" / f"{kind}s" if (here / "sections").is_dir() or (here / "strategies" / f"{kind}s").is_dir() else here


def write_plug_in(kind: str, said: str, folder: Path, taken: Collection[str] = ()) -> Path:
    """Write the skeleton of `kind` into `folder`; BadInput where its name or its file is there already.

    taken : names of classes, signals, quantities and states that there are.
    """
    cls, file = names_of(said)
    for name in (cls, file) if kind != "law" else (cls,):
        if name in taken or name in _OF_THE_FORM:
            raise BadInput(f"name {said!r}", f"{name} is there already; expected a name of its own")
    path = folder / f"{file}.py"
    if path.exists():
        raise BadInput(path, "exists already and is left as it is; expected another name, or another folder with --into")
    text = (files("dualduty.skeletons") / f"new_{kind}.py").read_text(encoding="utf-8")
    write_text(path, text.replace(f"New{kind.capitalize()}", cls).replace(f"new_{kind}", file))
    return path
