"""Markdown that a study makes: tables, numbers in words, and the stretch of a document that is its own."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from math import isnan
from pathlib import Path

import numpy as np

from dualduty.errors import BadInput
from dualduty.files import write_text


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table; the first column is words, the others are numbers."""
    rule = ["---", *["---:"] * (len(head) - 1)]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in (head, rule, *rows)) if rows else "None."


def milliseconds(value: float) -> str:
    """A signed time in words: +12 ms."""
    return "-" if isnan(value) else f"{1e3 * value:+.0f}"


def spread(values: Sequence[float], last: str = "latest") -> list[str]:
    """Median, 90th percentile, and the latest (or the one furthest from zero) of signed times. [s]"""
    if not values:
        return ["-", "-", "-"]
    extreme = max(values) if last == "latest" else max(values, key=abs)
    return [milliseconds(float(value)) for value in (np.median(values), np.percentile(values, 90), extreme)]


def plain(name: str) -> str:
    """A name of a state, section or measure as people read it."""
    return name.replace("_", " ")


def check_made(path: Path, fresh: str) -> None:
    """Say before hours of work that a document lacks a marker which `fresh`, its first form, has."""
    if path.is_file():
        text = path.read_text(encoding="utf-8")
        for key in re.findall(r"<!-- made: (.+?) -->", fresh):
            _put(text, key, "", path)


def write_made(path: Path, made: Mapping[str, str], fresh: str) -> None:
    """Put what was made between its markers, `<!-- made: KEY -->` and `<!-- end -->`, of a document; the rest of it stays.

    A document that isn't there yet begins as `fresh`.
    """
    text = path.read_text(encoding="utf-8") if path.is_file() else fresh
    for key, words in made.items():
        text = _put(text, key, words, path)
    write_text(path, text)


def _put(text: str, key: str, words: str, path: Path) -> str:
    start, end = f"<!-- made: {key} -->", "<!-- end -->"
    before, found, rest = text.partition(start)
    if not found or end not in rest:
        raise BadInput(path, f"expected a stretch from {start} to {end} to write into, found none")
    return f"{before}{start}\n\n{words}\n\n{end}{rest.partition(end)[2]}"
