"""Pictures, words and the page that tell an engineer what a calibration change did."""
