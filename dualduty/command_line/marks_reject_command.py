"""Take marks for wrong."""

from __future__ import annotations

from dualduty.command_line.marks_judging import judging

command = judging("reject", "Take the marks of LOG that are named for wrong. They stay in the file, so that nobody proposes them again.")
