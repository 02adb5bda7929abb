"""Health of a recorded log: what is wrong with it, where, how sure, and what that does to a result; one kind of finding per file."""
