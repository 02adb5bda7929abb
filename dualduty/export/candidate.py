"""Write a candidate for the vehicle: the table, and a manifest beside it."""

from __future__ import annotations

import hashlib
import json
import platform
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any, Final

from dualduty import __version__
from dualduty.calibration.difference import Change, differences
from dualduty.calibration.model import Calibration
from dualduty.cautions import CAUTIONS
from dualduty.errors import BadInput
from dualduty.export.limits import LimitCheck, refuse_broken_limits
from dualduty.export.table import read_table, table_text, unlike
from dualduty.files import whole_file

LONGEST: Final = 60  # characters of a name in a file name; four bytes each stay well within the 255 of common file systems


@dataclass(frozen=True)
class Exported:
    """What was written, and what was checked on the way."""

    table: Path
    manifest: Path
    changes: tuple[Change, ...]
    limits: tuple[LimitCheck, ...]


def file_digest(path: Path) -> str:
    """SHA-256 of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def slug(name: str) -> str:
    """A name as part of a file name, on any system."""
    return "".join(char if char.isalnum() else "_" for char in name.lower())[:LONGEST].strip("_") or "candidate"


def export_candidate(candidate: Calibration, baseline: Calibration, folder: Path, tried: Mapping[str, Any] | None = None) -> Exported:
    """Write table and manifest into `folder`; BadInput when a limit does not hold, before anything is written.

    tried : mapping
        How the candidate was tried (sections, logs, seeds, verdict counts), for the manifest.
    """
    limits = refuse_broken_limits(candidate)
    table = folder / f"{slug(candidate.name)}_table.csv"
    manifest = folder / f"{slug(candidate.name)}_manifest.json"
    changes = differences(baseline, candidate)
    with whole_file(table) as table_draft, whole_file(manifest) as manifest_draft:  # both are whole before either takes its place
        table_draft.write_text(table_text(candidate), encoding="utf-8", newline="\n")
        wrong = unlike(read_table(table_draft), candidate)
        if wrong:
            raise BadInput(table, f"reads back differently than written: {wrong[0]}")
        content = _manifest(candidate, baseline, changes, limits) | {
            "table": {"file": table.name, "sha256": file_digest(table_draft)},
            "tried": dict(tried or {"as": "not tried in this run"}),
        }
        manifest_draft.write_text(json.dumps(content, indent=2, ensure_ascii=False) + "\n", encoding="utf-8", newline="\n")
    return Exported(table, manifest, tuple(changes), tuple(limits))


def _manifest(candidate: Calibration, baseline: Calibration, changes: list[Change], limits: list[LimitCheck]) -> dict[str, Any]:
    return {
        "candidate": _named(candidate),
        "baseline": _named(baseline),
        "vehicle_type": {"name": candidate.car.name, "file": candidate.vehicle_file.name, "sha256": file_digest(candidate.vehicle_file)},
        "changed": [change.to_row() for change in changes],
        "limits_checked": [limit.to_row() for limit in limits],
        "made": {
            "at": datetime.now(UTC).isoformat(timespec="seconds"), "dualduty": __version__, "python": platform.python_version(),
            "numpy": version("numpy"), "numba": version("numba"),
        },
        "cautions": list(CAUTIONS),
    }  # fmt: skip


def _named(calibration: Calibration) -> dict[str, Any]:
    files = [{"file": file.name, "sha256": file_digest(file)} for file in calibration.files]
    return {"name": calibration.name, "digest": calibration.digest, "note": calibration.note, "files": files}
