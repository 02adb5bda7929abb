"""Entry of the command line: the start-up check first, then the commands."""

from __future__ import annotations

import sys

from dualduty import startup


def main() -> None:
    """Run the command line; a broken installation is told in plain lines instead."""
    found = startup.problems()
    if found:
        sys.exit("\n".join(f"dualduty: {problem}" for problem in found))
    from dualduty import command_line

    command_line.main()


if __name__ == "__main__":
    main()
