"""Marks: intervals in which someone knows a state to be true; their file, their changes, what people agree on."""
