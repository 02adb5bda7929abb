"""Which column of a recording is which signal, and how it becomes SI."""
