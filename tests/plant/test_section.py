"""Section files: what they give, and what is said when they are wrong."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput
from plant.course import Course
from plant.envelope import enveloped
from plant.section import LEAD_IN, Section, list_sections, read_section

FOLDER = Path(__file__).resolve().parents[2] / "calibrations" / "sections"
SECTIONS = {path.stem: path for path in list_sections(FOLDER)}

GOOD = """
name = "good"
provenance = "invented"
intent = "A corner over a whoop."
watch = ["roll"]
duration_s = 5
seed = 3

[[ground]]
kind = "whoops"
start_m = 10
pitch_m = 5
height_mm = 300
count = 2

[[ground]]
kind = "random_road"
start_m = 4
road_class = "C"

[drive]
start_speed_km_h = 36

[[drive.corner]]
start_m = 20
radius_m = 25
entry_m = 5
arc_m = 10
exit_m = 5
side = "left"
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "good.toml"
    path.write_text(text, encoding="utf-8")
    return path


def digest(course: Course) -> str:
    drive, ground = course.drive, course.ground
    arrays = (ground.left, ground.right, drive.speed, drive.curvature, drive.brake, drive.throttle)
    return hashlib.sha256(b"".join(array.tobytes() for array in arrays)).hexdigest()


def test_demo_sections_are_all_there() -> None:
    assert set(SECTIONS) >= {"corrugation", "whoops", "kicker_jump", "berm_corner", "rough_corner", "braking_rough", "iso_road"}


@pytest.mark.parametrize("name", SECTIONS)
def test_demo_section_builds_and_starts_level(name: str) -> None:
    section = read_section(SECTIONS[name])
    course = section.build()
    ground, drive = course.ground, course.drive
    assert "invented" in section.provenance
    assert section.name == name == course.name
    assert 4.0 <= course.duration <= 8.0
    assert len({len(a) for a in (ground.left, ground.right, drive.speed, drive.curvature, drive.brake, drive.throttle)}) == 1
    assert all(np.isfinite(a).all() for a in (ground.left, ground.right, drive.speed, drive.curvature))
    lead_in = round((LEAD_IN - section.contact_patch - section.tyre_radius) / ground.step)
    assert not ground.left[:lead_in].any()
    assert not ground.right[:lead_in].any()
    assert ground.step * (len(ground.left) - 1) > section.drive.distance_after(section.duration) + 15.0
    assert ground.left.std() > 0.002  # the smoothest has 2.8 mm; level ground would be a mistake


def test_corner_sections_ask_for_plausible_lateral_acceleration() -> None:
    for name, low, high in (("berm_corner", 0.55, 0.65), ("rough_corner", 0.45, 0.55)):
        drive = read_section(SECTIONS[name]).build().drive
        assert low < np.abs(drive.speed**2 * drive.curvature).max() / 9.80665 < high


def test_lengths_and_speeds_are_si_inside(tmp_path: Path) -> None:
    section = read_section(written(tmp_path, GOOD))
    course = section.build()
    assert section.ground[0].piece.height == pytest.approx(0.3)  # type: ignore[attr-defined]
    assert course.drive.start_speed == pytest.approx(10.0)
    assert course.drive.speed == pytest.approx(10.0)
    assert course.ground.step == 0.05


def test_pieces_add_up(tmp_path: Path) -> None:
    section = read_section(written(tmp_path, GOOD))
    both = section.build().ground.left
    alone = [Section(**{**vars(section), "ground": ground}).build().ground.left for ground in ((section.ground[0],), section.ground)]
    assert np.array_equal(alone[1], both)
    # whoops alone differ from the sum by the random ground only: 0.014 m r.m.s. for class C from 0.05 cycles/m
    assert 0.005 < (both - alone[0]).std() < 0.03


def test_wheel_feels_the_ground_as_its_radius_and_patch_say(tmp_path: Path) -> None:
    plain = read_section(written(tmp_path, GOOD)).build().ground
    for radius, patch in ((0.0, 0.15), (0.36, 0.0), (0.36, 0.15)):
        keys = "".join(f"{key} = {1000 * value:g}\n" for key, value in (("tyre_radius_mm", radius), ("contact_patch_mm", patch)) if value)
        felt = read_section(written(tmp_path, keys + GOOD)).build().ground
        for track, raw in ((felt.left, plain.left), (felt.right, plain.right)):
            assert np.array_equal(track, enveloped(raw, 0.05, radius, patch))
            assert not np.array_equal(track, raw)


def test_same_seed_same_bits_here_and_in_another_process() -> None:
    path = SECTIONS["rough_corner"]
    section = read_section(path)
    code = (
        "import sys, hashlib; from pathlib import Path; from plant.section import read_section;"
        "c = read_section(Path(sys.argv[1])).build(); d, g = c.drive, c.ground;"
        "print(hashlib.sha256(b''.join(a.tobytes() for a in (g.left, g.right, d.speed, d.curvature, d.brake, d.throttle))).hexdigest())"
    )
    there = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True, cwd=FOLDER.parents[1])
    assert digest(section.build()) == digest(section.build(seed=section.seed)) == there.stdout.strip()
    assert digest(section.build(seed=99)) != there.stdout.strip()


BAD = [
    ("seed = 3", "sed = 3", "sed: unknown key; did you mean 'seed'?"),
    ("intent =", "intnet =", "intnet: unknown key; did you mean 'intent'?"),
    ("start_m = 10", "strat_m = 10", "ground[0].strat_m: unknown key; did you mean 'start_m'?"),
    ("height_mm = 300", "heigth_mm = 300", "ground[0].heigth_mm: unknown key; did you mean 'height_mm'?"),
    ("height_mm = 300", "height = 300", "ground[0].height: the key must name its unit; expected 'height_mm'"),
    ("height_mm = 300", "height_km_h = 300", "ground[0].height_km_h: km/h is no unit of length; expected one of height_m, height_mm"),
    ("height_mm = 300", "height_mm = 300\nheight_m = 1", "ground[0].height_m: height is given twice"),
    ("height_mm = 300", "height_mm = 3000", "ground[0].height_mm: 3000 mm is above 1500 mm"),
    ("height_mm = 300", "height_mm = 1", "ground[0].height_mm: 1 mm is below 20 mm"),
    ("height_mm = 300", "height_mm = nan", "ground[0].height_mm: expected a number"),
    ("height_mm = 300", "height_mm = '300'", "ground[0].height_mm: expected a number (height from trough to crest), came '300'"),
    ("height_mm = 300", "", "ground[0].height_mm: expected height from trough to crest, came nothing"),
    ("count = 2", "count = 2.5", "ground[0].count: expected a whole number"),
    ("count = 2", "count = true", "ground[0].count: expected a number"),
    ("start_m = 10", "start_m = 1", "ground[0].start_m: 1 m is below 4 m"),
    ("start_m = 10", "start_m = 400", "ground[0]: starts at 400 m; the drive ends at 50 m after 5 s"),
    ('kind = "whoops"', 'kind = "whops"', "ground[0].kind: 'whops' is no kind of ground; did you mean 'whoops'?"),
    ('kind = "whoops"', "", "ground[0].kind: None is no kind of ground"),
    ('road_class = "C"', 'road_class = "K"', "ground[1].road_class: expected one of"),
    ('road_class = "C"', "", "ground[1]: expected either road_class or density_cm3"),
    ('road_class = "C"', 'road_class = "C"\nhighest_1_m = 20', "ground[1]: highest 20 1/m needs a grid step up to 25 mm, came 50 mm"),
    ('side = "left"', 'side = "links"', "drive.corner[0].side: expected one of left, right, came 'links'"),
    ("radius_m = 25", "radius_m = 1", "drive.corner[0].radius_m: 1 m is below 4 m"),
    ("[[drive.corner]]", "[drive.corner]", "drive.corner: expected a list of tables ([[drive.corner]])"),
    ("[[drive.corner]]", "[[drive.korner]]", "drive.korner: unknown key; did you mean 'corner'?"),
    ("start_speed_km_h = 36", "start_speed_m = 36", "drive.start_speed_m: m is no unit of speed; expected one of start_speed_m_s"),
    ("radius_m = 25", "radius_m = 10", "drive asks for 1.0"),
    ("seed = 3", "seed = 3\neveryday = 1", "everyday: expected true or false, came 1"),
    (
        "[[drive.corner]]",
        "[[drive.slalom]]\nstart_m = 15\nspacing_m = 8\namplitude_m = 0.2\ncount = 2\nside = 'left'\n\n[[drive.corner]]",
        "drive: the Corner starts at 20 m; expected 39",
    ),
    (
        "[[drive.corner]]",
        "[[drive.step_steer]]\nstart_m = 5\nlength_m = 10\nangle_deg = 40\nside = 'left'\n\n[[drive.corner]]",
        "drive.step_steer[0].angle_deg: 40 deg is above 28.6479 deg",
    ),
    ("duration_s = 5", "", "duration_s: expected how long the section lasts, came nothing"),
    ('name = "good"', 'name = "other"', "name: expected 'good' as the file is called, came 'other'"),
    ('watch = ["roll"]', "watch = []", "watch: expected a list of texts, came []"),
    ("duration_s = 5", "duration_s = = 5", "not valid TOML"),
]


@pytest.mark.parametrize(("was", "becomes", "said"), BAD)
def test_bad_file_is_one_line_with_file_key_expected_and_came(tmp_path: Path, was: str, becomes: str, said: str) -> None:
    assert was in GOOD
    path = written(tmp_path, GOOD.replace(was, becomes, 1))
    with pytest.raises(BadInput) as caught:
        read_section(path)
    text = str(caught.value)
    assert text.startswith(str(path))
    assert said in text
    assert "\n" not in text


def test_missing_file_and_folder(tmp_path: Path) -> None:
    written(tmp_path, GOOD)
    with pytest.raises(BadInput, match=r"did you mean 'good.toml'\?"):
        read_section(tmp_path / "god.toml")
    with pytest.raises(BadInput, match="expected a folder of section files"):
        list_sections(tmp_path / "none")
    (tmp_path / "odd.toml").write_bytes(b"name = '\xff'")
    with pytest.raises(BadInput, match="expected UTF-8 text"):
        read_section(tmp_path / "odd.toml")


def test_only_a_marked_section_is_an_everyday_one(tmp_path: Path) -> None:
    assert not read_section(written(tmp_path, GOOD)).everyday
    assert read_section(written(tmp_path, GOOD.replace("seed = 3", "seed = 3\neveryday = true"))).everyday
