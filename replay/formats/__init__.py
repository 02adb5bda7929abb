"""Readers of recordings, one per kind of file; which one reads a file is decided by its content."""
