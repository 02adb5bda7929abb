# One target a task. Without make, the same checks as plain commands, from the folder of this file:
#
#   .venv/bin/python -m ruff check
#   .venv/bin/python -m ruff format --check
#   .venv/bin/python -m mypy
#   .venv/bin/python -m pytest
#
# (on Windows .venv\Scripts\python in place of .venv/bin/python)

PYTHON ?= .venv/bin/python

.PHONY: check lint format-check types tests slow bench format constraints

check: lint format-check types tests

lint:
	$(PYTHON) -m ruff check

format-check:
	$(PYTHON) -m ruff format --check

types:
	$(PYTHON) -m mypy

tests:
	$(PYTHON) -m pytest

# What a plain run leaves out: everything marked slow.
slow:
	$(PYTHON) -m pytest -m slow

# Speed against the budget of each part; prints a table, asserts nothing: a shared machine may be twice as slow.
bench:
	$(PYTHON) -m pytest tests/bench -m "slow or not slow" -s

format:
	$(PYTHON) -m ruff check --fix
	$(PYTHON) -m ruff format

# Newer pins: needs uv (pip install uv). Plain pins for every Python and system, without addresses.
constraints:
	uv pip compile --upgrade --universal --python-version 3.11 --all-extras --no-header --no-annotate -q -o constraints.txt pyproject.toml
