"""What would run on the vehicle: intake, estimators, detectors, laws in layers, supervisor."""
