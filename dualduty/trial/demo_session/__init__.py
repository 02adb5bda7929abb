"""Marked demo sessions, made from seeds: lanes of a quarter of an hour, the car that drives them, what its logger writes, faults, marks."""
