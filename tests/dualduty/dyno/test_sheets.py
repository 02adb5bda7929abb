"""Dynamometer sheets: what is read, what is refused with file and row, and the maps that come out."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from dualduty.damper_map import read_damper_map
from dualduty.dyno.demo_sheets import sheet_text, write_demo_sheets
from dualduty.dyno.map_file import write_sheet_map
from dualduty.dyno.reading import read_sheet, read_sheets
from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.shipped import shipped_calibrations
from dualduty.signals import SIDES
from tests.dualduty.dyno.made_up_loops import loops_text

SHIPPED = shipped_calibrations() / "dyno"
RIGHT = (SHIPPED / "marram_2" / "MD-2203.csv").read_text(encoding="utf-8")
TOP = 14  # lines up to and with the header
Edit = Callable[[list[str]], None]


def told_of(folder: Path, edit: Edit, text: str = RIGHT) -> str:
    """What is said of an edited sheet: every problem, a line each."""
    path = edited(folder, edit, text)
    with pytest.raises(BadInput) as caught:
        read_sheet(path)
    return str(caught.value)


def edited(folder: Path, edit: Edit, text: str = RIGHT) -> Path:
    lines = text.splitlines()
    edit(lines)
    path = folder / "sheet.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def unchanged(lines: list[str]) -> None:
    """No edit."""


def on_cells(change: Callable[[list[str]], object], where: Callable[[list[str]], bool] = bool) -> Edit:
    """An edit of the cells of those rows that `where` picks."""

    def edit(lines: list[str]) -> None:
        for number in range(TOP, len(lines)):
            cells = lines[number].split(",")
            if where(cells):
                change(cells)
                lines[number] = ",".join(cells)

    return edit


def without(where: Callable[[list[str]], bool]) -> Edit:
    """An edit that drops rows."""

    def edit(lines: list[str]) -> None:
        lines[TOP:] = [line for line in lines[TOP:] if not where(line.split(","))]

    return edit


def replaced(old: str, new: str) -> Edit:
    """An edit of the first line that holds `old`."""

    def edit(lines: list[str]) -> None:
        at = next(number for number, line in enumerate(lines) if old in line)
        lines[at] = lines[at].replace(old, new)

    return edit


def scaled(column: int, factor: float) -> Callable[[list[str]], object]:
    return lambda cells: cells.__setitem__(column, f"{float(cells[column]) * factor:.6g}")


def at_point(compression: str, rebound: str, speed: float) -> Callable[[list[str]], bool]:
    """Rows of one point."""
    return lambda cells: cells[:2] == [compression, rebound] and abs(float(cells[2]) / speed - 1.0) < 0.02


def crawls(cells: list[str]) -> bool:
    return abs(float(cells[2])) < 0.02


def in_grid(cells: list[str]) -> bool:
    """Rows at which the other side's duty is above 0, in a sheet that counts compression positive."""
    return cells[1 if float(cells[2]) > 0.0 else 0] != "0"


# --- what is shipped


def test_shipped_sheets_are_what_the_command_makes(tmp_path: Path) -> None:
    for path in write_demo_sheets(tmp_path):
        shipped = SHIPPED / path.relative_to(tmp_path)
        assert shipped.read_bytes() == path.read_bytes()
        assert path.stat().st_size < 25_000
        assert "invented" in path.read_text(encoding="utf-8").splitlines()[0]


def test_the_reversed_sheet_is_refused_with_file_and_row() -> None:
    with pytest.raises(BadInput) as caught:
        read_sheets(SHIPPED / "marram_1")
    said = str(caught.value)
    assert len(said.splitlines()) == 1
    number = int(re.match(r".*MD-2101\.csv: line (\d+): speed and force are reversed", said)[1])  # type: ignore[index]
    row = (SHIPPED / "marram_1" / "MD-2101.csv").read_text(encoding="utf-8").splitlines()[number - 1].split(",")
    assert row[:2] == ["0", "100"]
    assert float(row[2]) > 0.0  # rebound duty acts at positive speed: this is rebound, counted positive


def test_the_corrected_sheet_and_all_others_are_read() -> None:
    paths = [*(SHIPPED / "marram_1" / f"MD-210{n}.csv" for n in (2, 3, 4)), SHIPPED / "marram_1" / "corrected", SHIPPED / "marram_2"]
    sheets = read_sheets(paths)
    assert [sheet.serial for sheet in sheets] == ["MD-2102", "MD-2103", "MD-2104", "MD-2101", "MD-2201", "MD-2202", "MD-2203", "MD-2204"]
    assert {sheet.corner_index for sheet in sheets} == {0, 1, 2, 3}
    # measured: demo noise dips nowhere, every cell has its three repeats, the grid is there; only round numbers are in these sheets
    assert [notice for sheet in sheets for notice in sheet.notices] == []


def test_facts_are_kept(tmp_path: Path) -> None:
    sheet = read_sheet(edited(tmp_path, lambda lines: lines.insert(0, "# bench: cell 2, left machine")))
    facts = sheet.facts
    assert (facts.oil_temperature, facts.gas_pressure, facts.stroke, facts.repeats) == (40.0, 14e5, 0.28, 3)
    assert (facts.sign, facts.waveform) == ("compression_positive", "sine, read at mid-stroke")
    assert facts.other == {"bench": "cell 2, left machine"}
    assert sheet.top_speed == pytest.approx(4.5, rel=0.01)  # the machine reaches its speed within 0.3 %


# --- units and signs


def test_other_units_give_the_same_sheet(tmp_path: Path) -> None:
    def edit(lines: list[str]) -> None:
        replaced("shaft_speed_m_s,force_n", "shaft_speed_mm_s,force_kn")(lines)
        replaced("gas_pressure_bar: 14", "gas_pressure_kpa: 1400")(lines)
        on_cells(lambda cells: (scaled(2, 1e3)(cells), scaled(3, 1e-3)(cells)))(lines)

    one, other = read_sheet(edited(tmp_path, unchanged)), read_sheet(edited(tmp_path, edit))
    assert other.facts.gas_pressure == one.facts.gas_pressure
    for side in SIDES:
        np.testing.assert_allclose(other.maps[side].forces, one.maps[side].forces, rtol=1e-9)


def test_rebound_positive_is_the_same_sheet(tmp_path: Path) -> None:
    def edit(lines: list[str]) -> None:
        replaced("sign: compression_positive", "sign: rebound_positive")(lines)
        on_cells(lambda cells: (scaled(2, -1.0)(cells), scaled(3, -1.0)(cells)))(lines)

    one, other = read_sheet(edited(tmp_path, unchanged)), read_sheet(edited(tmp_path, edit))
    assert other.gas_force == pytest.approx(one.gas_force, rel=1e-12)
    for side in SIDES:
        np.testing.assert_allclose(other.maps[side].forces, one.maps[side].forces, rtol=1e-12)


@pytest.mark.parametrize(
    ("columns", "said"), [((2, 3), "speed and force are reversed"), ((3,), "force is reversed"), ((2,), "speed is reversed")]
)
@pytest.mark.parametrize("grid", [True, False])
def test_every_reversal_is_named(tmp_path: Path, columns: tuple[int, ...], said: str, grid: bool) -> None:
    def edit(lines: list[str]) -> None:
        if not grid:
            without(in_grid)(lines)
        on_cells(lambda cells: [scaled(column, -1.0)(cells) for column in columns])(lines)

    told = told_of(tmp_path, edit)
    assert len(told.splitlines()) == 1
    assert re.search(rf"sheet\.csv: line \d+: {said} against the declared sign compression_positive", told)


def test_single_reversed_rows_are_named(tmp_path: Path) -> None:
    told = told_of(tmp_path, on_cells(scaled(3, -1.0), at_point("100", "0", 1.0)))
    assert len(told.splitlines()) == 3  # three repeats
    assert all("expected a force against the motion, came -" in line for line in told.splitlines())


def test_gas_that_pulls_is_refused(tmp_path: Path) -> None:
    told = told_of(tmp_path, on_cells(lambda cells: cells.__setitem__(3, f"{float(cells[3]) - 700.0:g}")))
    assert "gas force comes out as -" in told


# --- faults of the file, each planted into a right sheet


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (replaced("# serial: MD-2203", "# seriel: MD-2203"), "`# serial: ...` at the top, found none; line 2 says 'seriel'"),
        (replaced("# gas_pressure_bar: 14", "# gas_pressure: 14"), "line 9: gas_pressure: the key must name a unit"),
        (replaced("# gas_pressure_bar: 14", "# gas_pressure_bar: 14,5"), "line 9: gas_pressure_bar: expected a number with a decimal"),
        (replaced("# stroke_mm: 280", "# stroke_m: 280"), "line 12: stroke_m: expected 0.01 to 1.5, came 280"),
        (replaced("# corner: rear_left", "# corner: RL"), "line 5: corner: expected front_left or front_right"),
        (replaced("# warm_up", "# warming"), "expected a line `# warm_up: ...`"),
        (replaced("compression_positive", "positive"), "line 7: sign: expected compression_positive or rebound_positive, came 'positive'"),
        (replaced("# repeats: 3", "# repeats: 3\n# repeats: 3"), "line 14: repeats stands on line 13 already"),
        (replaced("shaft_speed_m_s", "shaft_speed"), "line 14: column 'shaft_speed' must name its unit: expected shaft_speed_m_s or"),
        (replaced("shaft_speed_m_s", "shaft_speed_n"), "line 14: column 'shaft_speed_n' must name its unit"),
        (replaced("force_n", "farce_n"), "line 14: unknown column 'farce_n'; did you mean 'force_n'?"),
        (replaced(",repeat", ",force_kn"), "line 14: force occurs in 2 columns"),
        (lambda lines: lines.__setitem__(40, lines[40].replace(".", ",", 1)), "line 41: expected 7 numbers, came 8; are there"),
        (lambda lines: lines.__setitem__(40, '0,0,"0,0499",413,1,140,38'), "line 41: decimal comma in '0,0499'; expected a decimal point"),
        (lambda lines: lines.__setitem__(slice(TOP - 1, None), [line.replace(",", ";") for line in lines[TOP - 1 :]]), "came semicolons"),
        (lambda lines: lines.__setitem__(40, "0,0,nan,413,1,140,38"), "line 41: expected a number for shaft_speed, came 'nan'"),
        (lambda lines: lines.__setitem__(40, "0,0,0.05,413,1,140"), "line 41: expected 7 numbers, came 6"),
        (lambda lines: lines.__setitem__(40, "0,0,0.05,1_000,1,140,38"), "line 41: expected a number for force, came '1_000'"),
        (lambda lines: lines.__setitem__(40, "0,0,50,413,1,140,38"), "line 41: shaft_speed is 50 m/s; expected 20 m/s or less"),
        (lambda lines: lines.__setitem__(40, "0,0,0.05,1e308,1,140,38"), "line 41: force is 1e+308 N; expected 200000 N or less"),
        (lambda lines: lines.__setitem__(40, "120,0,0.05,413,1,140,38"), "line 41: compression_duty is 120 %; expected whole per cent"),
        (lambda lines: lines.__setitem__(40, "0,0,0.05,413,1,640,38"), "line 41: travel is 640 mm; expected 0 to the stroke, 280 mm"),
        (lambda lines: lines.__setitem__(40, "0,0,0.05,413,1.5,140,38"), "line 41: repeat is 1.5"),
        (lambda lines: lines.__setitem__(40, "0,0,0.05,413,1,140,95"), "line 41: expected oil temperatures within 30 K"),
        (lambda lines: lines.__delitem__(slice(TOP, None)), "expected rows of numbers below the header, found none"),
        (lambda lines: lines.clear(), "sheet.csv"),
    ],
)  # fmt: skip
def test_planted_fault_of_the_file(tmp_path: Path, edit: Edit, said: str) -> None:
    assert said in told_of(tmp_path, edit)


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (without(lambda cells: cells[0] == "100"), "expected compression rows at duty 100%, the other side at 0 %; came 0%, 25%, 50%, 75%"),
        (without(lambda cells: cells[1] == "0"), "expected compression rows at duty 0% and 100%"),
        (without(at_point("50", "0", 1.5)), "expected a row at 1.5 m/s compression, duty 50%, the other side at 0 %; came none"),
        (without(lambda cells: float(cells[2]) > 0.15), "expected 3 or more compression test speeds above a crawl, came 0.05, 0.1 m/s"),
        (without(lambda cells: cells[0] == "0" and cells[1] == "0"), "expected rows with both duties at 0 %, in both directions"),
        (on_cells(scaled(3, 0.8), at_point("50", "0", 1.5)), "expected force to rise with speed"),
        (on_cells(scaled(3, 0.5), at_point("75", "0", 1.5)), "expected force to rise with duty"),
        (on_cells(scaled(3, 1.15), lambda cells: at_point("0", "50", -1.5)(cells) and cells[4] == "2"), "in repeat 2"),
    ],
)
def test_planted_fault_of_the_test(tmp_path: Path, edit: Edit, said: str) -> None:
    assert said in told_of(tmp_path, edit)


def test_all_problems_at_once(tmp_path: Path) -> None:
    def edit(lines: list[str]) -> None:
        without(at_point("50", "0", 1.5))(lines)
        without(at_point("0", "25", -1.5))(lines)
        del lines[1]  # serial
        del lines[-1]

    path = edited(tmp_path, edit)
    with pytest.raises(SeveralBadInputs) as caught:
        read_sheets([path, tmp_path / "none.csv"])
    assert len(caught.value.problems) == 4
    assert [str(problem).startswith(str(path)) for problem in caught.value.problems] == [True, True, True, False]


def test_many_alike_are_counted(tmp_path: Path) -> None:
    told = told_of(tmp_path, on_cells(lambda cells: cells.__setitem__(3, "x"))).splitlines()
    assert len(told) == 6
    assert told[-1].endswith("more bad rows from here on")


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b"\n\n", b"# serial: 1\n"])
def test_no_sheet_at_all_is_one_line(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "sheet.csv"
    path.write_bytes(content)
    with pytest.raises(BadInput):
        read_sheet(path)


def test_a_folder_without_sheets_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="found none"):
        read_sheets(tmp_path)


# --- what is told and read all the same


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (without(in_grid), "crosstalk of compression is taken as 0; expected a grid of both duties"),
        (without(crawls), "friction and gas force are extrapolated from 0.0"),
        (without(lambda cells: cells[4] != "1"), "expected 3 repeats as declared, came fewer in 50 of 50 cells, 1 at"),
        (on_cells(lambda cells: cells.__setitem__(6, "55"), lambda cells: cells[4] == "3"), "oil at 55 degC; expected 40 degC as declared"),
        (on_cells(lambda cells: cells.__setitem__(5, "140")), "gas force is taken as the same over travel"),
        (on_cells(scaled(3, 0.5), lambda cells: cells[0] == "100" and cells[1] == "100" and float(cells[2]) > 0), "one crosstalk number"),
    ],
)
def test_notice(tmp_path: Path, edit: Edit, said: str) -> None:
    sheet = read_sheet(edited(tmp_path, edit))
    assert any(said in notice for notice in sheet.notices), sheet.notices


def test_without_a_grid_crosstalk_is_0(tmp_path: Path) -> None:
    sheet = read_sheet(edited(tmp_path, without(in_grid)))
    assert sheet.crosstalk["compression"] == 0.0
    assert np.isnan(sheet.crosstalk_residual["compression"])


def test_a_dip_within_the_noise_is_levelled_and_told(tmp_path: Path) -> None:
    def level(cells: list[str]) -> None:
        cells[3] = f"{300.0 + 0.985 * (float(at_low[cells[4]]) - 300.0):.0f}"

    rows = [line.split(",") for line in RIGHT.splitlines()[TOP:]]
    at_low = {cells[4]: cells[3] for cells in rows if at_point("0", "0", 3.2)(cells)}
    sheet = read_sheet(edited(tmp_path, on_cells(level, at_point("0", "0", 4.5))))
    assert any("compression forces dip within the noise and were levelled" in notice for notice in sheet.notices)
    assert (np.diff(sheet.maps["compression"].forces, axis=0) >= 0.0).all()


def test_noisy_repeats_excuse_no_deep_dip(tmp_path: Path) -> None:
    def edit(lines: list[str]) -> None:
        for repeat, factor in (("1", 0.955), ("3", 1.045)):
            on_cells(scaled(3, factor), lambda cells, repeat=repeat: cells[4] == repeat and abs(float(cells[2])) > 0.6)(lines)  # type: ignore[misc]
        on_cells(scaled(3, 0.712), at_point("0", "0", 4.5))(lines)  # 6 to 7 % below the force at 3.2 m/s

    assert "expected force to rise with speed" in told_of(tmp_path, edit)


def test_top_speed_is_what_every_duty_reached(tmp_path: Path) -> None:
    sheet = read_sheet(edited(tmp_path, on_cells(scaled(2, 0.985), at_point("100", "0", 4.5))))
    assert sheet.maps["compression"].speeds[-1] == pytest.approx(4.5 * 0.985, rel=0.003)  # the machine's 0.3 % over three repeats


# --- maps


@pytest.mark.parametrize("side", SIDES)
def test_force_to_duty_and_back(side: str) -> None:
    table = read_sheet(SHIPPED / "marram_2" / "MD-2204.csv").damper_map(side)
    speed, duty = np.linspace(0.01, 4.4, 50)[None, :, None], np.linspace(0.0, 1.0, 21)[None, None, :]
    force = table.force(speed, duty)
    back, _ = table.duty(np.broadcast_to(speed, force.shape).copy(), force)
    # atol: rounding of forces, 1e-12 of themselves, over a slope of at least 0.2 of themselves per unit duty; measured 3e-15
    np.testing.assert_allclose(back, np.broadcast_to(duty, back.shape), atol=1e-11)
    np.testing.assert_allclose(table.force(np.broadcast_to(speed, back.shape).copy(), back), force, rtol=1e-12)
    assert table.beyond(np.array([4.4, 4.6])).tolist() == [0.0, 1.0]


@pytest.mark.parametrize("side", SIDES)
def test_map_file_reads_back(tmp_path: Path, side: str) -> None:
    sheet = read_sheet(SHIPPED / "marram_2" / "MD-2204.csv")
    path = tmp_path / "rear_right.csv"
    write_sheet_map(path, sheet, side)
    back, table = read_damper_map(path), sheet.damper_map(side)
    np.testing.assert_allclose(back.forces, table.forces, atol=0.05 + 1e-9)  # written to 0.1 N
    np.testing.assert_allclose(back.speeds, table.speeds, rtol=1e-6)
    assert "MD-2204" in path.read_text(encoding="utf-8").splitlines()[0]
    assert [other.name for other in tmp_path.iterdir()] == ["rear_right.csv"]


def test_same_seed_same_sheet() -> None:
    assert sheet_text(0, 2, 5) == sheet_text(0, 2, 5)
    assert sheet_text(0, 2, 5) != sheet_text(0, 2, 6)


# --- loops


def time_goes_on(lines: list[str]) -> None:
    """A second, faster loop straight after the first, at the same duties and without a new start of time."""
    rows = [line.split(",") for line in lines[TOP : TOP + 320]]
    step = float(rows[1][0])
    for number, cells in enumerate(rows[::3], 320):
        lines.insert(TOP + number, ",".join([f"{number * step:.4f}", *cells[1:]]))


def test_sheet_of_loops_is_read(tmp_path: Path) -> None:
    sheet = read_sheet(edited(tmp_path, unchanged, loops_text()))
    assert sheet.maps["compression"].forces.shape == (4, 3)
    assert sheet.loop_width["rebound"].shape == (4, 3)
    assert [notice for notice in sheet.notices if "2 repeats; expected 3 or more" in notice] == sheet.notices[:2]
    assert len(sheet.notices) == 2  # a lag of 2 ms makes loops of a tenth of the force


def test_a_wide_loop_is_told(tmp_path: Path) -> None:
    sheet = read_sheet(edited(tmp_path, unchanged, loops_text(lag=0.01)))
    wide = [notice for notice in sheet.notices if "wide loop: rising and falling force differ by -" in notice]
    assert len(wide) == 2  # a side each
    assert ": line " in wide[0]


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (on_cells(scaled(2, -1.0)), "force is reversed against the declared sign compression_positive"),
        (lambda lines: lines.__delitem__(slice(200, 300)), "expected even time steps"),
        (lambda lines: lines.__delitem__(slice(TOP + 60, TOP + 320)), "expected a full cycle or more in this loop"),
        (lambda lines: lines.__delitem__(slice(TOP + 10, TOP + 320)), "expected a loop of 24 samples or more, came 10"),
        (replaced("travel_mm,", ""), "expected the columns travel_mm"),
        (time_goes_on, "came half cycles of"),
    ],
)
def test_planted_fault_of_a_loop(tmp_path: Path, edit: Edit, said: str) -> None:
    path = edited(tmp_path, edit, loops_text())
    with pytest.raises(BadInput) as caught:
        read_sheet(path)
    assert said in str(caught.value)
