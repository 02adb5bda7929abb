"""Profile files: what they give, and what is said when they are wrong."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput
from plant.profile_file import read_profile

GOOD = "# invented\ndistance_m,left_mm,right_mm\n0,0,0\n0.1,5,-5\n\n0.25,10,-20\n"


def written(folder: Path, text: str) -> Path:
    path = folder / "lane.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_profile_is_si_inside(tmp_path: Path) -> None:
    profile = read_profile(written(tmp_path, GOOD))
    np.testing.assert_allclose(profile.distance, [0, 0.1, 0.25])
    np.testing.assert_allclose(profile.left, [0, 0.005, 0.010])
    np.testing.assert_allclose(profile.right, [0, -0.005, -0.020])


def test_columns_in_any_order_and_other_units_of_length(tmp_path: Path) -> None:
    profile = read_profile(written(tmp_path, "\ufeffright_cm, distance_km ,left_m\n1,0,2\n1,0.001,2\n"))
    assert (profile.distance[1], profile.left[0], profile.right[0]) == pytest.approx((1.0, 2.0, 0.01))


BAD = [
    ("0.1,5,-5", "0.1,5", "row 4: expected 3 numbers, came 2: 0.1, 5"),
    ("0.1,5,-5", "0.1,x,-5", "row 4: expected a number, came 'x'"),
    ("0.1,5,-5", "0.1,,-5", "row 4: expected a number, came ''"),
    ("0.1,5,-5", "0.1,nan,-5", "row 4: expected a number, came 'nan'"),
    ("0.25,10", "0.1,10", "row 6: expected a distance above the one before, by up to 2 m; came 0.1 m after 0.1 m"),
    ("0.25,10", "0.05,10", "row 6: expected a distance above the one before, by up to 2 m; came 0.05 m after 0.1 m"),
    ("0.25,10", "250,10", "row 6: expected a distance above the one before, by up to 2 m; came 250 m after 0.1 m"),
    (
        "left_mm",
        "left",
        "row 2: expected the columns distance_m, left_mm and right_mm, or other units of length; came distance_m, left, right_mm",
    ),
    ("left_mm", "left_kg", "came distance_m, left_kg, right_mm"),
    ("right_mm", "right_mm,right_m", "came distance_m, left_mm, right_mm, right_m"),
    ("right_mm", "right_mm,speed_km_h", "came distance_m, left_mm, right_mm, speed_km_h"),
    (GOOD, "", "lane.csv: expected the columns distance_m, left_mm and right_mm, or other units of length; came nothing"),
    ("0.1,5,-5\n\n0.25,10,-20\n", "", "expected at least 2 rows of numbers, came 1"),
]


@pytest.mark.parametrize(("was", "becomes", "said"), BAD)
def test_bad_file_is_one_line_with_file_row_expected_and_came(tmp_path: Path, was: str, becomes: str, said: str) -> None:
    assert was in GOOD
    path = written(tmp_path, GOOD.replace(was, becomes, 1))
    with pytest.raises(BadInput) as caught:
        read_profile(path)
    text = str(caught.value)
    assert text.startswith(str(path))
    assert said in text
    assert "\n" not in text


def test_files_that_can_not_be_read(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="found no such file"):
        read_profile(tmp_path / "none.csv")
    with pytest.raises(BadInput, match="can't be read"):
        read_profile(tmp_path)
    path = tmp_path / "odd.csv"
    path.write_bytes(b"distance_m,left_mm,right_mm\n0,\xff,0\n")
    with pytest.raises(BadInput, match="expected UTF-8 text"):
        read_profile(path)
    path.write_text('distance_m,left_mm,right_mm\n0,"' + 200_000 * "1", encoding="utf-8")
    with pytest.raises(BadInput, match="expected rows of a CSV file"):
        read_profile(path)
