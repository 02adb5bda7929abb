"""What goes onto the vehicle: one table, and a manifest that says what it is and where it came from."""

from __future__ import annotations
