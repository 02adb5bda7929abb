"""Dynamometer sheets of single dampers: read, checked, compared with each other, and turned into damper maps."""
