"""The one kind of failure a user sees: a single line that says where, what was expected, and what came."""

from __future__ import annotations

from pathlib import Path
from typing import Any


class BadInput(Exception):  # noqa: N818 - reads as what it is at every raise; "Error" adds nothing
    """Something the user gave can't be used.

    Parameters
    ----------
    where : str or Path
        File and place, e.g. ``strategies/dash.toml: layers[2].leak_hz``, or a command-line option.
    problem : str
        What was expected and what came, e.g. ``= 9 Hz is above 5 Hz``.
    """

    def __init__(self, where: str | Path, problem: str) -> None:
        self.where = str(where)
        self.problem = " ".join(problem.split())
        super().__init__(f"{self.where}: {self.problem}" if self.where else self.problem)

    def __reduce__(self) -> tuple[Any, ...]:
        """Made anew from what it was made of, so that it comes out of another process as it went in."""
        return (type(self), (self.where, self.problem))


class SeveralBadInputs(BadInput):
    """All problems of one file at once, a line each."""

    def __init__(self, problems: list[BadInput]) -> None:
        self.problems = problems
        Exception.__init__(self, "\n".join(str(problem) for problem in problems))
        self.where = problems[0].where if problems else ""
        self.problem = problems[0].problem if problems else ""

    def __reduce__(self) -> tuple[Any, ...]:
        """As of one."""
        return (type(self), (self.problems,))
