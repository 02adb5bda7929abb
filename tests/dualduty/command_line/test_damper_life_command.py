"""`damper-life` as a user meets it: one log, a window, two runs side by side, a simulated section, and bad input."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from pathlib import Path

import pytest

from dualduty.trial.damper_life import life_of_log, window_of
from dualduty.trial.damper_life_rows import COLUMNS, life_rows
from dualduty.trial.run_sheet import read_run_sheet
from plant.vehicle import read_vehicle

Command = Callable[..., tuple[int, str, str]]
LOG = "quarry_loop_dash"  # the first seven seconds of it


def rows(path: Path) -> list[dict[str, str]]:
    """Rows of a CSV file."""
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.slow
def test_a_log_beside_a_window_of_itself(work: Path, run: Command) -> None:
    code, out, _ = run("damper-life", LOG, "--from", "2", "--to", "4", "--beside", LOG, "--quiet")
    assert code == 0
    assert "quarry_loop_dash, 2 s to 4 s: 2.0 s" in out
    assert "speed from raw travel at 200 Hz with hindsight" in out
    assert "force from own dyno sheets of marram_2 and its position zones at the logged duty" in out
    assert out.splitlines()[-1] == f"table and picture in results/damper_life_{LOG}"
    target = work / "results" / f"damper_life_{LOG}"
    assert sorted(path.name for path in target.iterdir()) == ["damper_life.csv", "damper_life.png", "written_by_dualduty.txt"]
    found = rows(target / "damper_life.csv")
    assert list(found[0]) == list(COLUMNS)
    assert len(found) == 3 * 8
    for row in found[:16]:
        shares = [float(row[name]) for name in COLUMNS if name.startswith("share_") and name != "share_of_time_pct"]
        assert sum(shares) == pytest.approx(float(row["share_of_time_pct"]), abs=1e-3)
        assert float(row["energy_j"]) > 0.0
    pairs = zip(found[:8], found[8:16], found[16:], strict=True)
    assert all(
        float(b["mean_power_w"]) - float(a["mean_power_w"]) == pytest.approx(float(d["mean_power_w"]), abs=0.01) for a, b, d in pairs
    )


@pytest.mark.slow
def test_a_simulated_section_beside_a_log(work: Path, run: Command) -> None:
    code, out, _ = run("damper-life", LOG, "--drive", "iso_road", "--mode", "dash", "--quiet")
    assert code == 0
    assert "iso_road, dash, simulated: 0.6 s" in out
    assert "\nsimulated; plant " in out
    assert rows(work / "results" / f"damper_life_{LOG}" / "damper_life.csv")[8]["run"] == "iso_road, dash, simulated"


def test_a_section_named_in_the_run_file_is_the_window(work: Path, run: Command) -> None:
    sheet = work / "logs" / f"{LOG}.toml"
    sheet.write_text(sheet.read_text(encoding="utf-8") + '\n[[sections]]\nname = "jump"\nstart_s = 4.0\nend_s = 6.0\n', encoding="utf-8")
    assert window_of(read_run_sheet(sheet), "jump", (0.0, 1.0)) == (4.0, 6.0)
    code, _, err = run("damper-life", LOG, "--section", "jmp")
    assert (code, err) == (2, f"dualduty: run {LOG}: section jmp: is not named in its run file; known: jump\n")


@pytest.mark.usefixtures("work")
@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--from", "5", "--to", "4"), "--to 4 s is not after --from 5 s"),
        (("--section", "a", "--from", "1"), "expected --section, or --from and --to, not both"),
        (("--beside", LOG, "--drive", "iso_road", "--mode", "dash"), "expected --beside or --drive, not both"),
        (("--drive", "iso_road"), "--drive and --mode go together"),
        (("--from", "500"), "holds no shaft travel from 500 s on; expected at least one corner's"),
        (("--beside", "quarry_lop"), "is not in "),
    ],
)
def test_bad_input_is_one_line(run: Command, options: tuple[str, ...], told: str) -> None:
    code, _, err = run("damper-life", LOG, *options)
    assert code == 2
    assert len(err.splitlines()) == 1
    assert told in err
    assert not Path("results").exists()


def test_a_log_without_duties_tells_no_force(work: Path) -> None:
    channel_map = work / "channel_maps" / "marram_logger.toml"
    text = channel_map.read_text(encoding="utf-8")
    cut = text.index("[signals.applied_compression]"), text.index("[signals.seat_specific_force_z]")
    channel_map.write_text(text[: cut[0]] + text[cut[1] :], encoding="utf-8")
    life = life_of_log(read_run_sheet(work / "logs" / f"{LOG}.toml"), read_vehicle(work / "vehicles" / "marram_2.toml"))
    assert life.doubts[-1] == "no duties were logged: force, energy and heat are not known"
    found = life_rows(life)
    assert len(found) == 8
    assert all(math.isnan(float(row["mean_power_w"])) and math.isnan(float(row["energy_j"])) for row in found)
    assert all(float(row["fastest_m_s"]) > 0.5 for row in found)
