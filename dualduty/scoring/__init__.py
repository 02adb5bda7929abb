"""Scores of a run, and the comparison of a candidate with its baseline."""
