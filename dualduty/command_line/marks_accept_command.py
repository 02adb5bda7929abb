"""Take marks for true."""

from __future__ import annotations

from dualduty.command_line.marks_judging import judging

command = judging("accept", "Take the marks of LOG that are named for true. Their origin stays.")
