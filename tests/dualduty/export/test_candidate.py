"""What goes onto the vehicle: a table that reads back, a manifest that says what it is, and nothing when a limit is broken."""

from __future__ import annotations

import csv
import hashlib
import json
import platform
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import dualduty
from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.cautions import CAUTIONS
from dualduty.discovery import PlugIns, discover
from dualduty.errors import BadInput
from dualduty.export import candidate as exporting
from dualduty.export.candidate import Exported, export_candidate, slug
from dualduty.export.limits import check_limits
from dualduty.export.table import COLUMNS, read_table, table_rows, table_text, unlike
from dualduty.shipped import shipped_calibrations

STRATEGIES = shipped_calibrations() / "strategies"
Read = Callable[[str], Calibration]


@pytest.fixture(scope="module")
def plug_ins() -> PlugIns:
    """Everything found."""
    return discover()


@pytest.fixture(scope="module")
def baseline(plug_ins: PlugIns) -> Calibration:
    """The shipped baseline."""
    return read_calibration(STRATEGIES / "marram_baseline.toml", plug_ins)


@pytest.fixture(scope="module")
def candidate(plug_ins: PlugIns) -> Calibration:
    """The shipped candidate of the berm."""
    return read_calibration(STRATEGIES / "berm_support.toml", plug_ins)


@pytest.fixture
def changed(tmp_path: Path, plug_ins: PlugIns) -> Read:
    """`changed(text)`: the shipped baseline with `text` laid over it."""

    def read(text: str) -> Calibration:
        path = tmp_path / "changed.toml"
        path.write_text(f'starts_from = "{(STRATEGIES / "marram_baseline.toml").as_posix()}"\n{text}', encoding="utf-8")
        return read_calibration(path, plug_ins)

    return read


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory, candidate: Calibration, baseline: Calibration) -> Exported:
    """The candidate, exported once."""
    return export_candidate(candidate, baseline, tmp_path_factory.mktemp("export"), {"sections": ["whoops"]})


@pytest.fixture(scope="module")
def manifest(exported: Exported) -> dict[str, Any]:
    """Its manifest."""
    content: dict[str, Any] = json.loads(exported.manifest.read_text(encoding="utf-8"))
    return content


def sha256(path: Path) -> str:
    """Digest of a file, worked out here."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


# the table


def test_the_table_reads_back_and_is_that_of_no_other_calibration(
    exported: Exported, candidate: Calibration, baseline: Calibration
) -> None:
    rows = read_table(exported.table)
    assert unlike(rows, candidate) == []
    assert unlike(rows, baseline)[:1] == ["layers.corner support.RollHold inner_rebound dash rear_left: expected 27 %, got 37 %"]


@pytest.mark.parametrize("row", range(0, 400, 37))
def test_every_tampered_value_is_noticed(exported: Exported, candidate: Calibration, row: int) -> None:
    rows = [dict(each) for each in read_table(exported.table)]
    rows[row]["value"] += "1"
    assert len(unlike(rows, candidate)) == 1


@pytest.mark.parametrize("column", ["place", "parameter", "drive_mode", "corner", "axis_1_point", "unit"])
def test_a_value_moved_elsewhere_is_noticed(exported: Exported, candidate: Calibration, column: str) -> None:
    rows = [dict(each) for each in read_table(exported.table)]
    moved = next(each for each in rows if each["axis_1_point"] and each["unit"] == "%")
    moved[column] = {"unit": "deg"}.get(column, "12345")
    assert unlike(rows, candidate)


def test_a_missing_and_an_extra_row_are_noticed(exported: Exported, candidate: Calibration) -> None:
    rows = read_table(exported.table)
    assert [line.split(":")[0] for line in unlike(rows[:-1], candidate)] == ["missing"]
    assert [line.split(":")[0] for line in unlike([*rows, rows[-1] | {"place": "elsewhere"}], candidate)] == ["not in the calibration"]


def test_every_number_has_its_unit_and_limits(exported: Exported) -> None:
    numbers = [row for row in read_table(exported.table) if row["drive_mode"]]
    assert len(numbers) > 300
    assert all(row["unit"] and row["lowest_allowed"] and row["highest_allowed"] and row["corner"] for row in numbers)
    assert all(float(row["lowest_allowed"]) <= float(row["value"]) <= float(row["highest_allowed"]) for row in numbers)


def test_curves_have_their_breakpoints_in_the_unit_people_say(exported: Exported) -> None:
    place = ("layers.base.ModeCurves", "compression", "dash", "rear_left")
    rows = [
        row for row in read_table(exported.table) if tuple(row[name] for name in ("place", "parameter", "drive_mode", "corner")) == place
    ]
    said = [tuple(row[name] for name in ("axis_1", "axis_1_unit", "axis_1_point", "value", "unit")) for row in rows]
    assert said == [
        ("vehicle_speed", "km/h", speed, duty, "%") for speed, duty in zip(("0", "20", "50", "90"), ("1", "1", "4", "8"), strict=True)
    ]


def test_the_order_of_layers_and_their_words_are_in_it(exported: Exported) -> None:
    said = {(row["place"], row["parameter"]): row["value"] for row in read_table(exported.table) if not row["drive_mode"]}
    assert said["layers.base", "order"] == "1"
    assert said["layers.flight preset", "when"] == "airborne_likely airborne"
    assert said["layers.flight preset", "act"] == "set"
    assert "Airborne" in said["suppliers", "order"]


def test_any_csv_reader_can_take_it(exported: Exported) -> None:
    lines = exported.table.read_bytes().decode("utf-8").split("\n")
    assert lines[0] == "# candidate: berm support"
    assert all(f"# {caution}" in lines for caution in CAUTIONS)
    rows = list(csv.reader(line for line in lines if line and not line.startswith("#")))
    assert tuple(rows[0]) == COLUMNS
    assert {len(row) for row in rows} == {len(COLUMNS)}


@pytest.mark.parametrize(
    ("content", "said"),
    [(b"", "expected the columns place, .*, got none"), (b"a,b\n1,2\n", "got a, b"), (b"\xff\xfe\x00", "expected UTF-8 text")],
)
def test_what_is_no_table_is_refused(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(content)
    with pytest.raises(BadInput, match=said):
        read_table(path)
    with pytest.raises(BadInput, match="can't be read"):
        read_table(tmp_path / "none.csv")


# names


@pytest.mark.parametrize(
    ("name", "expected"),
    [("Berm Support", "berm_support"), ("a/b\\c:d*?", "a_b_c_d"), ("../../etc", "etc"), ("", "candidate"), ("...", "candidate"),
     ("größer", "größer"), ("x" * 400, "x" * 60)],
)  # fmt: skip
def test_a_name_becomes_a_file_name_on_any_system(name: str, expected: str) -> None:
    assert slug(name) == expected


@pytest.mark.parametrize("name", ['a/b: "c", d\\u2028e', "größer | 100 %", "../up", "x" * 400, "# no comment"])
def test_odd_names_of_candidate_and_layer_read_back(tmp_path: Path, baseline: Calibration, changed: Read, name: str) -> None:
    said = json.dumps(name.encode().decode("unicode_escape") if "\\u" in name else name, ensure_ascii=True)
    odd = changed(f'name = {said}\n[[layers]]\nname = {said}\nlaw = "FixedDuty"\nact = "cap"\n')
    written = export_candidate(odd, baseline, tmp_path / "out")
    assert written.table.parent == tmp_path / "out"
    assert unlike(read_table(written.table), odd) == []


# limits


BROKEN = [
    ("[supervisor]\nfallback_rebound_pct = 5", r"fallback not softer than 10 %.*softest 5%"),
    ("[supervisor]\nlowest_compression_pct = 50", "fallback duties within the command window"),
    ('[[layers]]\nname = "base"\nact = "raise"', "the lowest layer always sets a duty"),
    ('[[layers]]\nname = "base"\nwhen = ["cornering"]', "the lowest layer always sets a duty"),
    ('[[layers]]\nname = "base"\nenabled.haul = 0', "the lowest layer always sets a duty"),
]


@pytest.mark.parametrize(("text", "said"), BROKEN)
def test_a_broken_limit_and_nothing_is_written(tmp_path: Path, baseline: Calibration, changed: Read, text: str, said: str) -> None:
    with pytest.raises(BadInput, match=f"not exported; limit broken: {said}"):
        export_candidate(changed(text), baseline, tmp_path / "out")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("fault", ["value", "breakpoint"])
def test_what_no_file_can_say_is_held_against_its_declaration_too(changed: Read, fault: str) -> None:
    wrong = changed("")
    value = wrong.layers[0].law_settings["ModeCurves"]["compression"]
    array, limit = (value.values, 0) if fault == "value" else (value.points[0], 1)
    array.setflags(write=True)
    array[1] = 1.2 if fault == "value" else array[0]
    assert [check.holds for check in check_limits(wrong)] == [number != limit for number in range(6)]


# the manifest


def test_its_digests_are_those_of_the_files(exported: Exported, manifest: dict[str, Any], candidate: Calibration) -> None:
    assert manifest["table"] == {"file": exported.table.name, "sha256": sha256(exported.table)}
    assert manifest["vehicle_type"]["sha256"] == sha256(candidate.vehicle_file)
    shipped = {path.name: sha256(path) for path in STRATEGIES.glob("*.toml")}
    told = {one["file"]: one["sha256"] for one in manifest["candidate"]["files"]}
    assert told == {name: shipped[name] for name in ("marram_baseline.toml", "berm_support.toml")}
    assert manifest["candidate"]["digest"] == candidate.digest != manifest["baseline"]["digest"]


def test_it_says_what_changed_what_was_checked_and_how_it_was_tried(manifest: dict[str, Any]) -> None:
    assert [(row["parameter"], row["before"], row["after"], row["unit"]) for row in manifest["changed"]] == [
        ("outer_compression", 60.0, 70.0, "%"),
        ("inner_rebound", 27.0, 37.0, "%"),
    ]
    assert [row["holds"] for row in manifest["limits_checked"]] == [True] * 6
    assert manifest["tried"] == {"sections": ["whoops"]}
    assert manifest["cautions"] == list(CAUTIONS)


def test_it_says_what_made_it(manifest: dict[str, Any]) -> None:
    made = manifest["made"]
    assert (made["dualduty"], made["python"], made["numpy"]) == (dualduty.__version__, platform.python_version(), np.__version__)
    assert made["at"].endswith("+00:00")


def test_what_was_not_tried_says_so(tmp_path: Path, candidate: Calibration, baseline: Calibration) -> None:
    written = export_candidate(candidate, baseline, tmp_path)
    assert json.loads(written.manifest.read_text(encoding="utf-8"))["tried"] == {"as": "not tried in this run"}


# whole or not at all


@pytest.mark.parametrize("place", ["table_text", "unlike", "_manifest"])
def test_a_failure_in_the_middle_leaves_the_old_files(
    tmp_path: Path, candidate: Calibration, baseline: Calibration, monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    export_candidate(candidate, baseline, tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    def fail(*_: object) -> None:
        raise RuntimeError(place)

    monkeypatch.setattr(exporting, place, fail)
    with pytest.raises(RuntimeError, match=place):
        export_candidate(candidate, baseline, tmp_path, {"another": "trial"})
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_a_table_that_reads_back_differently_is_not_handed_out(
    tmp_path: Path, candidate: Calibration, baseline: Calibration, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = table_text(candidate)
    monkeypatch.setattr(exporting, "table_text", lambda _: whole.replace(",45,", ",46,"))
    with pytest.raises(BadInput, match=r"berm_support_table\.csv: reads back differently than written: .*expected 45 .*, got 46 "):
        export_candidate(candidate, baseline, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_rows_are_one_to_a_key(candidate: Calibration) -> None:
    rows = [tuple(row[name] for name in COLUMNS[:10]) for row in table_rows(candidate)]
    assert len(set(rows)) == len(rows)
