"""The command `modes` as a user meets it."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from dualduty.command_line import cli
from dualduty.command_line.modes_run import read_duties
from dualduty.errors import BadInput


def test_table_and_pictures(tmp_path: Path) -> None:
    result = CliRunner().invoke(cli, ["modes", "marram", "--duty", "25/50", "--out", str(tmp_path)], catch_exceptions=False)
    assert result.exit_code == 0
    assert "25/50" in result.output
    assert "front hop, together" in result.output
    assert {file.name for file in tmp_path.iterdir()} == {"modes.png", "transmissibility.png"}


@pytest.mark.parametrize("said", ["130", "25/50/75", "soft", "nan", ""])
def test_duties_that_make_no_sense(said: str) -> None:
    with pytest.raises(BadInput, match="--duty"):
        read_duties(said, (0.0,))


def test_an_unknown_vehicle_offers_a_near_one() -> None:
    with pytest.raises(BadInput, match="did you mean 'marram'"):
        CliRunner().invoke(cli, ["modes", "maram"], catch_exceptions=False)
