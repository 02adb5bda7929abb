"""What the vehicle did: log formats, channel maps, log health, marks, open loop and the check of the detectors."""
