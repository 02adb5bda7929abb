"""Scoring of detectors against marks: rules, outcomes, figures and how sure they are, and yesterday's beside today's."""
