"""The block library: every loop over time lives here, compiled, and gives the same bits tick by tick or in bulk."""

from __future__ import annotations

from dualduty.blocks.counter import counter
from dualduty.blocks.delay import delay
from dualduty.blocks.derivative import derivative
from dualduty.blocks.fade import fade
from dualduty.blocks.hold import hold
from dualduty.blocks.keep_while import keep_while
from dualduty.blocks.leaky_integral import leaky_integral
from dualduty.blocks.low_pass import low_pass
from dualduty.blocks.peak_hold import peak_hold
from dualduty.blocks.running_rms import running_rms
from dualduty.blocks.scan import machine, scan
from dualduty.blocks.schmitt_trigger import schmitt_trigger
from dualduty.blocks.slew_limit import slew_limit

__all__ = [
    "counter",
    "delay",
    "derivative",
    "fade",
    "hold",
    "keep_while",
    "leaky_integral",
    "low_pass",
    "machine",
    "peak_hold",
    "running_rms",
    "scan",
    "schmitt_trigger",
    "slew_limit",
]
