"""From signals and states to a duty or a force on each side of each damper; one law per file."""
