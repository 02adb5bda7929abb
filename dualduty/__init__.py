"""dualduty: try damper calibrations offline, two duties per damper."""

from __future__ import annotations

__version__ = "0.1.0"
