"""Recordings by file format, one per file."""
