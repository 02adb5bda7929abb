"""The main job: try a candidate against a baseline on simulated sections and recorded logs."""

from __future__ import annotations
