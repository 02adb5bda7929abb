"""Channel maps with something wrong anywhere: a map, or lines that name file and key; never anything else."""

from __future__ import annotations

import tempfile
import tomllib
from pathlib import Path
from typing import Any

import hypothesis
import pytest
import tomlkit
from hypothesis import strategies

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.shipped import shipped_calibrations
from replay.channels.channel_map_file import read_channel_map

TEXT = (shipped_calibrations() / "channel_maps" / "workshop_logger.toml").read_text(encoding="utf-8")
ODD = strategies.one_of(
    strategies.none(), strategies.booleans(), strategies.integers(), strategies.floats(), strategies.text(max_size=8),
    strategies.lists(strategies.floats(width=16), max_size=3),
    strategies.lists(strategies.lists(strategies.integers(-3, 3), max_size=3), max_size=3),
    strategies.dictionaries(strategies.text("abc", max_size=3), strategies.integers(), max_size=2),
)  # fmt: skip


def places(table: Any, above: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    """Every key of a document, tables too."""
    found = []
    for key, value in table.items():
        found.append((*above, key))
        if isinstance(value, dict):
            found += places(value, (*above, key))
    return found


PLACES = places(tomllib.loads(TEXT))


def read(text: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "map.toml"
        path.write_text(text, encoding="utf-8", errors="surrogatepass")
        try:
            read_channel_map(path)
        except BadInput as problem:
            lines = problem.problems if isinstance(problem, SeveralBadInputs) else [problem]
            assert lines
            for line in lines:
                assert "map.toml" in line.where
                assert "\n" not in str(line)


def with_value(place: tuple[str, ...], value: Any) -> str:
    """The example with another value in one place, or without that place."""
    document: Any = tomllib.loads(TEXT)
    table = document
    for key in place[:-1]:
        table = table[key]
    if value is None:
        del table[place[-1]]
    else:
        table[place[-1]] = value
    return tomlkit.dumps(document)


@hypothesis.settings(max_examples=30)
@hypothesis.given(strategies.sampled_from(PLACES), ODD)
def test_any_value_in_any_place(place: tuple[str, ...], value: Any) -> None:
    read(with_value(place, value))


@pytest.mark.slow
@hypothesis.settings(max_examples=1000)
@hypothesis.given(strategies.sampled_from(PLACES), ODD)
def test_many_values_in_all_places(place: tuple[str, ...], value: Any) -> None:
    read(with_value(place, value))


@hypothesis.settings(max_examples=60)
@hypothesis.given(strategies.integers(0, len(TEXT)), strategies.integers(0, 40), strategies.text("[]{}=\"'#,.\n x0", max_size=4))
def test_any_cut_in_the_text(start: int, length: int, instead: str) -> None:
    read(TEXT[:start] + instead + TEXT[start + length :])
