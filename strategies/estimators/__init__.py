"""From sensor signals to what laws need: shaft speed, corner speed, wheel speed, rates of the body; one estimator per file."""
