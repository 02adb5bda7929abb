"""The page is whole, reaches for nothing outside, and shows every name as it stands."""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path

import pytest

from dualduty.cautions import CAUTIONS
from dualduty.report.detector_picture import draw_detections
from dualduty.report.figure_file import png_bytes
from dualduty.report.page import page_text, write_page
from dualduty.report.page_content import DetectorCheck, ExportedTable, Gate, LogPart, PageContent, ParameterChange, Picture
from dualduty.report.score_grid import Order
from tests.dualduty.report import made_up_rows as made_up

HOSTILE = "</style></td><script src=\"http://x/y.js\">alert('1')</script><img src=x onerror=alert(1)>{{ 7*7 }}"
VOID = {"meta", "img", "input", "br", "hr", "link"}


class Reader(HTMLParser):
    """Checks that every tag is closed by its own, and keeps what the tests ask for."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.links: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep a tag, and what it points at."""
        self.tags.append((tag, dict(attrs)))
        self.links += [value or "" for name, value in attrs if name in ("src", "href", "srcset", "action", "data")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """The last one opened is the one to close."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Keep what is to be read."""
        self.words.append(data)

    @property
    def said(self) -> str:
        """All that is to be read, in one line."""
        return " ".join(" ".join(self.words).split())


@pytest.fixture(scope="module")
def picture() -> Picture:
    return Picture("a picture", png_bytes(draw_detections(made_up.DETECTIONS)), "marks and detections", "a caption", "a group")


@pytest.fixture(scope="module")
def full(picture: Picture) -> PageContent:
    return PageContent(
        title="Softer rebound", baseline="as driven", candidate="softer", stamp="simulated; plant not compared with a vehicle",
        gates=(Gate("no hit on metal", False, "2 on whoops"), Gate("duty limits", True, "kept"), Gate("repeat", None, "one seed")),
        changes=(ParameterChange("layers[2].gain", 0.6, 0.45, "1", "dash", "duty at full speed"),),
        scores=made_up.card(),
        pictures=(picture, picture),
        logs=[
            LogPart(
                "run_07.csv", "dash of May", (("length", "412 s"),), made_up.card()[:9],
                detectors=DetectorCheck(made_up.DETECTIONS, picture),
            )
        ],
        exported=(ExportedTable("table.csv", (("digest", "9f3a"),), ("row 3 clamped",)),),
        provenance=(("strategy", "sha256:3f9a"), ("seeds", "1, 2")),
    )  # fmt: skip


def test_a_full_page_parses_and_says_everything(full: PageContent) -> None:
    said = Reader(page_text(full)).said
    for wanted in (
        "simulated; plant not compared with a vehicle", "layers[2].gain", "0.45", "✗ crossed", "✓ kept", "? can't tell", "dash of May",
        "Scores of a log belong to the calibration that drove it", "sha256:3f9a", "row 3 clamped", "378 cells compared",
        "measure number 17", *CAUTIONS,
    ):  # fmt: skip
        assert wanted in said


def test_nothing_is_asked_of_any_network(full: PageContent) -> None:
    text = page_text(full)
    reader = Reader(text)
    assert reader.links
    assert all(link.startswith(("#", "data:image/png;base64,")) for link in reader.links)
    assert not {"script", "link", "iframe", "object", "base"} & {tag for tag, _ in reader.tags}
    assert "@import" not in text
    assert "url(" not in text
    assert "default-src 'none'" in text


def test_every_inner_link_leads_somewhere(full: PageContent) -> None:
    reader = Reader(page_text(full))
    places = {attributes.get("id") for _, attributes in reader.tags}
    assert {link[1:] for link in reader.links if link.startswith("#")} <= places
    assert {attributes["for"] for tag, attributes in reader.tags if tag == "label"} <= places


def test_hostile_names_are_words_not_mark_up(picture: Picture) -> None:
    row = made_up.row(section=HOSTILE, mode=HOSTILE, measure=HOSTILE, unit=HOSTILE, verdict=HOSTILE, band=HOSTILE, corner=HOSTILE)
    worse = made_up.row(section=HOSTILE, mode=HOSTILE, measure=HOSTILE)
    bad = Picture(HOSTILE, picture.png, HOSTILE, HOSTILE, HOSTILE)
    gate = Gate(HOSTILE, False, HOSTILE)
    check = DetectorCheck([{"state": HOSTILE, "kind": "missed", "start": 0.0, "end": 1.0}], bad, (HOSTILE,))
    content = PageContent(
        HOSTILE, HOSTILE, HOSTILE, HOSTILE, (), (gate,), (ParameterChange(HOSTILE, HOSTILE, HOSTILE, HOSTILE, HOSTILE, HOSTILE),),
        (row, worse), Order(), (bad,), (LogPart(HOSTILE, HOSTILE, ((HOSTILE, HOSTILE),), (row,), (bad,), gate, check),),
        (ExportedTable(HOSTILE, ((HOSTILE, HOSTILE),), (HOSTILE,)),), ((HOSTILE, HOSTILE),), (HOSTILE,), HOSTILE,
    )  # fmt: skip
    reader = Reader(page_text(content))
    assert "script" not in {tag for tag, _ in reader.tags}
    assert all("onerror" not in attributes for _, attributes in reader.tags)
    assert "{{ 7*7 }}" in reader.said
    assert all(link.startswith(("#", "data:")) for link in reader.links)


def test_the_choice_by_mode_is_complete_without_a_script(full: PageContent) -> None:
    text = page_text(full)
    for index in range(len(made_up.MODES)):
        assert f"#only-mode-{index}:checked ~ .scroll tbody tr:not(.mode-{index})" in text
        assert f"#only-mode-{index}:checked ~ .boards .board:not(.mode-{index}) {{ display: none; }}" in text
    modes = [attributes.get("class") or "" for tag, attributes in Reader(text).tags if tag == "tr"]
    assert sum("mode-1" in name.split() for name in modes) == 7 * 18
    assert "#only-worse:checked ~ .scroll tbody tr:not(.worse) { display: none; }" in text
    assert "#only-changed:checked ~ .scroll tbody tr:not(.changed) { display: none; }" in text
    hiding = [rule for rule in text.split("}") if "display: none" in rule and "label" in rule]
    assert hiding == []


def test_scores_come_worst_first(full: PageContent) -> None:
    kinds = [
        (attributes.get("class") or "").split()[0]
        for tag, attributes in Reader(page_text(full)).tags
        if tag == "tr" and attributes.get("class")
    ]
    first = kinds[: 7 * 18 * 3]
    order = ["worse", "untold", "moved", "better", "same", "apart", "identical"]
    assert [order.index(kind) for kind in first] == sorted(order.index(kind) for kind in first)


def test_an_empty_page_says_what_is_missing() -> None:
    said = Reader(page_text(PageContent("Nothing", "a", "b", "not compared"))).said
    for wanted in ("Nothing was compared.", "No parameter differs", "No gates were set", "Nothing is known about its inputs"):
        assert wanted in said


def test_latencies_are_summed_up_per_state(full: PageContent) -> None:
    said = Reader(page_text(full)).said
    assert "airborne 3 2 1 0 50 ms 60 ms" in said
    assert "landing left 0 0 0 1 \N{EN DASH} \N{EN DASH}" in said


def test_same_content_same_bytes_and_nothing_left_behind(full: PageContent, tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    write_page(path, full)
    once = path.read_bytes()
    write_page(path, full)
    assert path.read_bytes() == once
    assert once.startswith(b"<!DOCTYPE html>")
    assert list(tmp_path.iterdir()) == [path]
