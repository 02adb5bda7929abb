"""Calibration files: reading, values spread over modes and corners, binding to plug-ins, and differences."""

from __future__ import annotations
